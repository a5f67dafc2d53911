"""What holds for every page and every safety message of the real library."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from generator.compose.links import task_uri
from generator.compose.page import Page, fill_plain
from generator.fit.fit import common_names, facts_of
from generator.fit.guide import BoundTask
from generator.flow import Finished, finish_guides
from generator.read.library import SIGNAL_WORDS, Caution
from generator.read.sources import Sources

pytestmark = pytest.mark.slow

SECTIONS = ["cautions", "before", "work", "result", "trouble", "after"]
"""The order of DITA's task: prerequisites, (context,) steps, result, troubleshooting, what to do
after (OASIS, DITA 1.3 language specification, `taskbody`)."""

MOST_WORDS = 20
"""Of a procedural sentence (ASD-STE100, as restated by tcworld, August 2016)."""

INJURY = re.compile(
    r"\b(kills?|die[sd]?|death|injur\w+|burns? (you|people|skin)|scalds?|poisons?|suffocat\w*|"
    r"crush\w*|electric shock|explo\w+)\b",
    re.IGNORECASE,
)

DEADLY = re.compile(
    r"carbon monoxide|\bfumes\b|explo|catch(es)? fire|start(s)? fires?\b|\bkills?\b|\bdie\b",
    re.IGNORECASE,
)


@pytest.fixture(scope="module")
def finished(demo: Sources) -> tuple[Finished, ...]:
    """Return the demo fleet's finished guides."""
    return finish_guides(demo, demo.register, sorted(demo.stock.units))


def task_pages(finished: tuple[Finished, ...]) -> Iterator[tuple[str, BoundTask, Page]]:
    """Yield every task page with its task and a name for messages."""
    for done in finished:
        pages = {page.uri: page for page in done.composed.pages}
        for bound in done.guide.tasks:
            yield f"{done.guide.unit.name} {bound.slug}", bound, pages[task_uri(bound)]


def test_order_of_a_task_page(finished: tuple[Finished, ...]) -> None:
    """Every task page of every demo unit has its parts in the order of DITA's task."""
    pages = 0
    wrong = []
    for where, _, page in task_pages(finished):
        pages += 1
        found = re.findall(r'<section class="([a-z-]+)"', page.text)
        known = [name for name in found if name in SECTIONS]
        if known != [name for name in SECTIONS if name in known]:
            wrong.append((where, known))
    assert wrong == []
    assert pages > 300


def test_every_task_has_steps(finished: tuple[Finished, ...]) -> None:
    """Every task page has steps, but for work that is not for owners."""
    lacking = [
        where
        for where, bound, page in task_pages(finished)
        if '<section class="work"' not in page.text and bound.for_reader
    ]
    assert lacking == []


def test_context_stands_before_the_steps(finished: tuple[Finished, ...]) -> None:
    """Nothing but the sections' own text stands between steps and result."""
    wrong = []
    for where, _, page in task_pages(finished):
        _, work, after = page.text.partition('<section class="work"')
        if work:
            between = after.partition("</section>")[2].partition("<section")[0]
            if between.strip():
                wrong.append((where, between.strip()[:60]))
    assert wrong == []


def test_words_of_a_step(finished: tuple[Finished, ...]) -> None:
    """No step of any page has more than twenty words, a value counted as one."""
    long = []
    steps = 0
    for where, _, page in task_pages(finished):
        for line in re.findall(r"^(?:\d+\. +| {4})(.*)\n +\{: \.do \}", page.text, re.MULTILINE):
            steps += 1
            words = re.sub(r"\]\([^)]*\)", "]", line).split()
            counted = [word for word in words if re.search(r"\w", word)]
            if len(counted) > MOST_WORDS:
                long.append((where, line))
    assert long == []
    assert steps > 1500


def test_every_hazard_is_shown(demo: Sources, finished: tuple[Finished, ...]) -> None:
    """Each page shows every hazard of its subject's kind that concerns this unit, and its own."""
    missing = []
    for done in finished:
        unit = done.guide.unit
        names = common_names(unit, done.guide.fittings.values())
        pages = {page.uri: page for page in done.composed.pages}
        for bound in done.guide.tasks:
            scope = {**names, "it": facts_of(bound.subject, unit)}
            wanted = {
                hazard.caution
                for hazard in demo.library.kinds[bound.subject.kind].hazards
                if hazard.when is None or hazard.when.holds(scope)
            } | set(bound.task.cautions)
            page = pages[task_uri(bound)]
            text = fill_plain(page.text, page.values)
            for name in wanted:
                caution = demo.library.cautions[name]
                if caution.hazard not in text or caution.avoidance not in text:
                    missing.append((unit.name, bound.slug, name))
    assert missing == []


def test_gravest_first(finished: tuple[Finished, ...]) -> None:
    """A page's cautions come with their signal words, the gravest first; notices stand above."""
    wrong = []
    for where, _, page in task_pages(finished):
        text = re.sub(r'<section class="notice".*?</section>', "", page.text, flags=re.DOTALL)
        words = re.findall(r'<div class="mind ([a-z]+)"', text)
        if words != sorted(words, key=SIGNAL_WORDS.index):
            wrong.append((where, words))
        for word in words:
            assert f"**{word.capitalize()}**" in page.text
    assert wrong == []


def test_gas_and_exhaust_are_grave(demo: Sources) -> None:
    """Gas that burns, fire and exhaust are dangers or warnings: they can kill (Z535.4, 4.14)."""
    deadly = [
        caution
        for caution in demo.library.cautions.values()
        if DEADLY.search(f"{caution.hazard} {caution.consequence}")
    ]
    assert len(deadly) >= 15
    assert [_line(caution) for caution in deadly if caution.word not in ("danger", "warning")] == []


def test_work_on_gas_warns(finished: tuple[Finished, ...]) -> None:
    """Every task of the area gas, and every one that lights or feeds a flame, shows a grave one."""
    mild = []
    for where, bound, _ in task_pages(finished):
        lights = any(
            key.endswith((".flame", ".burner", ".burners")) and value in ("on", "lit")
            for key, value in bound.sets.items()
        )
        touches = bound.task.area == "gas" or lights or bound.sets.get("gas-supply") == "on"
        words = {caution.word for caution in bound.cautions}
        if touches and not words & {"danger", "warning"}:
            mild.append(where)
    assert mild == []


def test_notice_is_never_for_injury(demo: Sources) -> None:
    """A notice tells of damage to things alone (ANSI Z535.4, 4.14: not related to injury)."""
    notices = [c for c in demo.library.cautions.values() if c.word == "notice"]
    assert notices
    assert [_line(c) for c in notices if INJURY.search(f"{c.hazard} {c.consequence}")] == []


def test_cautions_are_whole(demo: Sources) -> None:
    """Each caution says hazard, consequence and avoidance in sentences, and where it is from."""
    broken = [
        _line(caution)
        for caution in demo.library.cautions.values()
        if caution.word not in SIGNAL_WORDS
        or not all(
            text.endswith((".", "!"))
            for text in (caution.hazard, caution.consequence, caution.avoidance)
        )
        or not 0 < len(caution.sticker) <= 48
        or not caution.source
    ]
    assert broken == []


def test_states_are_told(demo: Sources) -> None:
    """Each value of each state has a sentence of its own that a reader can check by looking."""
    states = 0
    for kind in demo.library.kinds.values():
        for state in kind.states.values():
            states += 1
            says = [state.says[value] for value in state.values]
            assert len(set(says)) == len(says), f"{kind.name}.{state.name}"
            assert all(text.endswith(".") for text in says), f"{kind.name}.{state.name}"
    assert states > 50


def test_every_fact_has_a_source(demo: Sources) -> None:
    """Every task, symptom, caution and interlock says where it is from."""
    library = demo.library
    entries = [
        *library.tasks.values(),
        *library.symptoms.values(),
        *library.cautions.values(),
        *library.interlocks.values(),
    ]
    assert [entry.name for entry in entries if len(entry.source) < 10] == []


def test_guide_is_for_this_unit_and_no_other(finished: tuple[Finished, ...]) -> None:
    """No fitted equipment is without a task, and no task is without its equipment."""
    for done in finished:
        guide = done.guide
        explained = {f.name for t in guide.tasks for f in (t.subject, *t.roles.values())}
        assert set(guide.fittings) - explained - {"vehicle"} == set()
        assert explained <= set(guide.fittings)


def _line(caution: Caution) -> str:
    return f"{caution.at.path}:{caution.at.line}: {caution.name} ({caution.word})"
