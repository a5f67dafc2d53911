"""Where something of the library is used: the units, pages and papers that hold it.

It is not worked out from what refers to what, but seen: its words are marked, the guides are
composed, and whatever then holds the mark holds those words.
"""

from __future__ import annotations

import itertools
import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from generator.compose import links
from generator.compose.page import Page
from generator.fit.guide import Guide
from generator.flow import Finished, Memory, finish_guide
from generator.problems import Problems, RefusedError, one_of
from generator.prove.prove import interlocks_of
from generator.read.alike import Alike, in_rows
from generator.read.layers import layers_of, model_names
from generator.read.library import Library, task_snippets
from generator.read.sources import Sources
from generator.read.tasks import STEP_LINE
from generator.render.papers import booklet_of, handover_of, stickers_of

SORTS = (
    *("task", "snippet", "kind", "caution", "symptom", "interlock", "routine"),
    *("drawing", "model", "wording"),
)
_HELD, _NAMED = "\ue010", "\ue011"
"""Marks on what a page holds, and on a title by which it only names something. Private characters:
no text of an author has them."""
_UNMARKED = ("lang",)
"""Wording that is no text."""


@dataclass(frozen=True, slots=True)
class Use:
    """Where one unit's guide holds something."""

    unit: str
    pages: tuple[str, ...]
    """Those that hold its words; `task/light-hob.html`. Pages behind stickers repeat them."""
    named: tuple[str, ...]
    """Those that only name it."""
    papers: tuple[str, ...]
    """Of `stickers`, `booklet` and `handover`."""


@dataclass(frozen=True, slots=True)
class Uses:
    """Where one thing of the library is used."""

    sort: str
    name: str
    units: tuple[Use, ...]
    tasks: tuple[str, ...] = ()
    """For a snippet: the tasks that take it in."""
    frame: bool = False
    """For a phrase: whether the frame of every page says it."""


def find_sorts(sources: Sources, name: str) -> tuple[tuple[str, str], ...]:
    """Return what a name is the name of, as (sort, name); `sort/name` says it alone.

    Raises:
        RefusedError: nothing has that name.
    """
    known = _names(sources)
    sort, slash, rest = name.partition("/")
    whole = slash and sort in SORTS
    wanted = {sort: rest} if whole else dict.fromkeys(SORTS, name)
    found = tuple((sort, one) for sort, one in wanted.items() if one in known[sort])
    if not found:
        every = {one for sort in wanted for one in known[sort]}
        raise RefusedError(f"nothing is named '{name}'", one_of(every, name.rpartition("/")[2]))
    return found


def _names(sources: Sources) -> Mapping[str, Iterable[str]]:
    library = sources.library
    return {
        "task": library.tasks,
        "snippet": library.snippets,
        "kind": library.kinds,
        "caution": library.cautions,
        "symptom": library.symptoms,
        "interlock": library.interlocks,
        "routine": library.routines,
        "drawing": sources.assets.pictures,
        "model": model_names(sources.root),
        "wording": [key for key in library.wording if key not in _UNMARKED],
    }


def find_uses(sources: Sources, sort: str, name: str, units: Sequence[str]) -> Uses:
    """Return where something is used in the guides of some units.

    Raises:
        ProblemsFound: a guide has mistakes.
    """
    marked = _mark(sources, sort, name)
    problems = Problems()
    memory = Memory()
    alike: Alike[tuple[Use | None]] = Alike()
    uses: dict[str, Use] = {}
    rows = in_rows(marked.stock.units[unit] for unit in units)
    for unit in itertools.chain.from_iterable(rows):
        found = alike.find(unit)
        if found is None:
            done = finish_guide(marked, unit, marked.register.of_unit(unit.name), problems, memory)
            problems.stop_if_any()
            found = (_use(marked, done, sort, name),)
            alike.keep(found, unit)
        (use,) = found
        if use is not None and (sort != "model" or f"units/models/{name}.yml" in unit.files):
            uses[unit.name] = replace(use, unit=unit.name)
    library = sources.library
    return Uses(
        sort=sort,
        name=name,
        units=tuple(uses[one] for one in units if one in uses),
        tasks=tuple(
            task.name
            for task in library.tasks.values()
            if sort == "snippet" and name in task_snippets(task, library)
        ),
        frame=sort == "wording" and _in_frame(sources.root, name),
    )


def _use(sources: Sources, done: Finished, sort: str, name: str) -> Use | None:
    """Return where a guide holds something; None where it does not.

    A unit that is based on a model holds all of it, so for a model it is asked of no other.
    """
    guide, pages = done.guide, _own_pages(done)
    if sort == "interlock":
        concerned = any(one.name == name for one, _ in interlocks_of(guide, sources.library))
        return Use("", (), (), ()) if concerned else None
    if sort == "model":
        every = (f"all {len(pages)} pages",)
        return Use("", every, (), ("stickers", "booklet", "handover"))
    if sort == "kind":
        uris = set(_pages_of_kind(guide, name))
        about = tuple(_address(page.uri) for page in pages if _plain_uri(page) in uris)
        return Use("", about, (), ("booklet", "handover")) if about else None
    held_on = [page for page in pages if _has(page, _HELD)]
    named_on = [page for page in pages if page not in held_on and _has(page, _NAMED)]
    papers = tuple(_papers(sources, done)) if held_on or named_on else ()
    if not (held_on or named_on or papers):
        return None
    return Use(
        "",
        tuple(_address(page.uri) for page in held_on),
        tuple(_address(page.uri) for page in named_on),
        papers,
    )


def _own_pages(done: Finished) -> list[Page]:
    """Return the pages of a guide without those that only repeat or list others."""
    guide = done.guide
    behind = {links.code_uri(code) for code in guide.place_codes.values()}
    behind |= {links.code_uri(code) for code in guide.task_codes.values()}
    return [page for page in done.composed.pages if _plain_uri(page) not in {links.SEARCH, *behind}]


def _plain_uri(page: Page) -> str:
    return page.uri.removeprefix(page.under)


def _address(uri: str) -> str:
    return f"{uri.removesuffix('.md')}.html"


def _has(page: Page, mark: str) -> bool:
    return any(_holds(text, mark) for text in (page.title, page.text, *page.values.values()))


def _holds(text: str, mark: str) -> bool:
    return mark in text or f"\\u{ord(mark):04x}" in text


def _pages_of_kind(guide: Guide, kind: str) -> Iterator[str]:
    """Yield the pages that are about equipment of a kind, or speak of it."""
    for fitting in guide.fittings.values():
        if fitting.kind == kind:
            yield links.kit_uri(fitting.name)
    for task in guide.tasks:
        if any(fitting.kind == kind for fitting in (task.subject, *task.roles.values())):
            yield links.task_uri(task)
    for symptom in guide.symptoms:
        if symptom.subject.kind == kind:
            yield links.symptom_uri(symptom)


def _papers(sources: Sources, done: Finished) -> Iterator[str]:
    """Yield the papers that hold a mark, of whichever sort."""
    if any(_holds(repr(sticker.caution), _HELD) for sticker in stickers_of(sources, done)):
        yield "stickers"
    papers = {"booklet": booklet_of(sources, done), "handover": handover_of(sources, done)}
    for name, paper in papers.items():
        told = json.dumps(paper.data, ensure_ascii=False)
        if _HELD in told or _NAMED in told:
            yield name


def _in_frame(root: Path, name: str) -> bool:
    """Return whether the frame of every page says a phrase."""
    themes = layers_of(root).files("site_assets/theme", "**/*.html")
    return any(re.search(rf"""say\(["']{name}["']""", path.read_text("utf-8")) for path in themes)


def _mark(sources: Sources, sort: str, name: str) -> Sources:
    """Return the sources with marks on the words of one thing, in every language."""
    languages = {
        key: replace(
            language,
            library=_mark_in(language.library, sort, name),
            pictures=_mark_drawing(language.pictures, sort, name),
        )
        for key, language in sources.languages.items()
    }
    return replace(
        sources,
        library=_mark_in(sources.library, sort, name),
        assets=replace(sources.assets, pictures=_mark_drawing(sources.assets.pictures, sort, name)),
        languages=languages,
    )


def _mark_in(library: Library, sort: str, name: str) -> Library:
    if sort == "task":
        task = library.tasks[name]
        new = replace(task, title=task.title + _NAMED, body=_mark_body(task.body))
        return replace(library, tasks={**library.tasks, name: new})
    if sort == "snippet":
        text = _mark_body(library.snippets[name])
        return replace(library, snippets={**library.snippets, name: text})
    if sort == "caution":
        caution = library.cautions[name]
        told = replace(caution, hazard=caution.hazard + _HELD, sticker=caution.sticker + _HELD)
        return replace(library, cautions={**library.cautions, name: told})
    if sort == "symptom":
        symptom = library.symptoms[name]
        seen = replace(symptom, title=symptom.title + _NAMED, ends=symptom.ends + _HELD)
        return replace(library, symptoms={**library.symptoms, name: seen})
    if sort == "routine":
        routine = library.routines[name]
        done = replace(routine, title=routine.title + _NAMED, purpose=routine.purpose + _HELD)
        return replace(library, routines={**library.routines, name: done})
    if sort == "wording":
        phrase = library.wording[name] + _HELD
        return replace(library, wording={**library.wording, name: phrase})
    return library


def _mark_drawing(pictures: Mapping[str, str], sort: str, name: str) -> Mapping[str, str]:
    if sort != "drawing":
        return pictures
    return {**pictures, name: pictures[name].replace("</svg>", f"<!--{_HELD}--></svg>")}


def _mark_body(body: str) -> str:
    """Return a text with a mark at the end of each line of words."""

    def marked(line: str) -> str:
        label = STEP_LINE.match(line)
        names = label is not None and label["label"] in ("Caution", "Picture")
        words = line.strip() and not line.strip().startswith(("{%", "#")) and not names
        return line + _HELD if words else line

    return "\n".join(marked(line) for line in body.split("\n"))
