"""Tasks: front matter by fields, and all that can be said of the text without a unit."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from generator.problems import Mark, Problems, one_of
from generator.read.expressions import (
    Expression,
    check_template,
    read_expression,
)
from generator.read.fields import NAME, Field, Record, read_record
from generator.read.kinds import Kind, State
from generator.read.numbers import check_numbers
from generator.read.tree import Table, parse_tree

MOST_STEP_WORDS = 20
"""ASD-STE100 allows 20 words in a procedural sentence (restated by tcworld, August 2016)."""

SECTIONS = ("Result", "Trouble", "Afterwards")
"""In the order of OASIS DITA's task: result, troubleshooting, what to do after."""

STEP_LINES = ("Caution", "Then", "If not", "Note", "Picture")
STEP = re.compile(r"(?P<indent> *)(?P<number>\d+)\. +(?P<command>.*)")
STEP_LINE = re.compile(r" +(?P<label>[A-Z][a-z]*(?: [a-z]+)?): *(?P<text>.*)")
LINK = re.compile(r"\]\((?P<sort>task|symptom|routine|kind|caution):(?P<name>[^)]*)\)")
MOST_STEPS = 60
"""A longer procedure is several tasks; the limit also bounds the time a hostile text can take."""

TASK_FIELDS = (
    Field(name="title", type="text", help="What the reader does", required=True),
    Field(name="purpose", type="text", help="What the reader gets", required=True),
    Field(name="subject", type="name", help="The kind it is about, or vehicle", required=True),
    Field(name="when", type="text", help="A condition"),
    Field(name="with", type="pairs", help="Other equipment by a name of yours"),
    Field(name="place", type="text", help="Whose place, or which part's, the reader stands at"),
    Field(name="needs", type="pairs", help="States before the first step"),
    Field(name="sets", type="pairs", help="States after the last step"),
    Field(name="during", type="pairs", help="States that are so only while the steps are done"),
    Field(name="cautions", type="names", help="Further cautions"),
    Field(name="minutes", type="whole", min=1, max=600, help="Minutes it takes", required=True),
    Field(name="tools", type="texts", help="Things to have at hand"),
    Field(name="called", type="texts", help="Words that a customer uses"),
    Field(name="symptoms", type="names", help="Symptoms to look at when it did not work"),
    Field(name="numbers", type="names", help="Pages of numbers that help to do it"),
    Field(name="emergency", type="whole", min=1, max=99, help="Rank on the emergency list"),
    Field(name="licensed", type="text", help="Who may do this work"),
    Field(name="source", type="text", help="Where the facts are from", required=True),
    Field(name="doubt", type="text", help="What is not sure; listed for review"),
)


@dataclass(frozen=True, slots=True)
class StateRef:
    """A state that content speaks of, before it is bound to a unit.

    `owner` is `subject`, a name from `with`, a kind, or empty for the vehicle's own states.
    """

    owner: str
    state: str
    values: tuple[str, ...]
    at: Mark
    when: Expression | None = None
    """Only where this is true of the unit, if it is there."""

    @property
    def written(self) -> str:
        """Return it as the author wrote it."""
        return f"{self.owner}.{self.state}" if self.owner else self.state


@dataclass(frozen=True, slots=True)
class Role:
    """Equipment that a task names besides its subject."""

    name: str
    kind: str
    optional: bool


@dataclass(frozen=True, slots=True)
class Task:
    """A reusable procedure, as written."""

    name: str
    area: str
    title: str
    purpose: str
    subject: str
    when: Expression | None
    roles: tuple[Role, ...]
    place: str
    needs: tuple[StateRef, ...]
    sets: tuple[StateRef, ...]
    during: tuple[StateRef, ...]
    cautions: tuple[str, ...]
    minutes: int
    tools: tuple[str, ...]
    called: tuple[str, ...]
    symptoms: tuple[str, ...]
    emergency: int
    """Rank on the emergency list, from 1; 0 for a task that is not on it."""
    licensed: str
    source: str
    doubt: str
    body: str
    body_at: Mark
    at: Mark
    numbers: tuple[str, ...] = ()
    place_when: Expression | None = None
    """Where this is not so, the place is the subject's own."""


def read_task(
    text: str,
    shown: str,
    name: str,
    area: str,
    kinds: Mapping[str, Kind],
    snippets: Mapping[str, str],
    problems: Problems,
) -> Task | None:
    """Return the task of a Markdown file, or None if its front matter cannot be read."""
    split = split_task(text, shown, problems)
    if split is None:
        return None
    table, body, body_at = split
    record = read_record(table, TASK_FIELDS, problems)
    subject = record.text("subject")
    if subject not in kinds:
        if record.has("subject"):
            hint = one_of(kinds, subject)
            problems.add(record.mark("subject"), "subject", f"is '{subject}'", hint)
        return None
    roles = read_roles(record, kinds, problems)
    known = known_names({"subject": subject} | {r.name: r.kind for r in roles}, kinds)
    when = read_expression(record.text("when"), record.mark("when"), "when", known, problems)
    owners = {"subject": subject} | {r.name: r.kind for r in roles}
    place, _, condition = (record.text("place") or "subject").partition(" if ")
    place_when = read_expression(condition, record.mark("place"), "place", known, problems)
    whose, _, part = place.partition(".")
    if whose not in owners:
        problems.add(record.mark("place"), "place", f"is '{place}'", one_of(owners, whose))
    elif part and part not in kinds[owners[whose]].parts:
        parts = kinds[owners[whose]].parts
        problems.add(record.mark("place"), "place", f"is '{place}'", one_of(parts, part))
    if len(record.text("title")) > 60:
        problems.add(
            record.mark("title"),
            "title",
            f"has {len(record.text('title'))} characters",
            "60 at most",
        )
    check_numbers(record.texts("numbers"), record.mark("numbers"), problems)
    if check_template(body, body_at, "(text)", known, snippets, problems):
        check_text(body, body_at, problems)
    return Task(
        name=name,
        area=area,
        title=record.text("title"),
        purpose=record.text("purpose"),
        subject=subject,
        when=when,
        roles=roles,
        place=place,
        place_when=place_when,
        needs=read_state_refs(record, "needs", owners, kinds, problems, known),
        sets=read_state_refs(record, "sets", owners, kinds, problems, known, single=True),
        during=read_state_refs(record, "during", owners, kinds, problems, known, single=True),
        cautions=record.texts("cautions"),
        minutes=int(record.number("minutes")),
        tools=record.texts("tools"),
        called=record.texts("called"),
        symptoms=record.texts("symptoms"),
        emergency=int(record.number("emergency")),
        licensed=record.text("licensed"),
        source=record.text("source"),
        doubt=record.text("doubt"),
        body=body,
        body_at=body_at,
        at=Mark(shown),
        numbers=record.texts("numbers"),
    )


def split_task(text: str, shown: str, problems: Problems) -> tuple[Table, str, Mark] | None:
    """Return a task's front matter, its text and where that begins; None if there is none."""
    lines = text.split("\n")
    if lines[0].strip() != "---" or "---" not in [line.strip() for line in lines[1:]]:
        problems.add(
            Mark(shown), "(file)", "has no front matter", "`---`, `key: value` lines, `---`"
        )
        return None
    end = [line.strip() for line in lines].index("---", 1)
    table = parse_tree("\n".join(lines[1:end]), shown, problems, first_line=2)
    if table is None:
        return None
    return table, "\n".join(lines[end + 1 :]), Mark(shown, end + 2)


def known_names(owners: Mapping[str, str], kinds: Mapping[str, Kind]) -> dict[str, frozenset[str]]:
    """Return the names that a text over these owners (name → kind) may use."""
    known = {owner: kinds[kind].known() for owner, kind in owners.items() if kind in kinds}
    vehicle = frozenset({"sort", "title"})
    if "subject" in known and owners["subject"] == "vehicle":
        known["subject"] |= vehicle
    return known | {"unit": vehicle, "has": frozenset()}


def read_roles(record: Record, kinds: Mapping[str, Kind], problems: Problems) -> tuple[Role, ...]:
    """Return the other equipment that `with` names, noting kinds and names that cannot be."""
    roles = []
    for name, texts in record.pairs("with").items():
        kind = " ".join(texts)
        optional = kind.endswith("?")
        kind = kind.rstrip("?")
        if kind not in kinds:
            problems.add(record.mark("with"), f"with.{name}", f"is '{kind}'", one_of(kinds, kind))
        elif not NAME.fullmatch(name.replace("_", "-")) or name in ("subject", "unit", "has", "it"):
            problems.add(
                record.mark("with"), f"with.{name}", "cannot be used as a name", "another word"
            )
        else:
            roles.append(Role(name, kind, optional))
    return tuple(roles)


_CONDITION = re.compile(r"(?:^|\s+)if(?:\s+(?P<source>.*)|$)", re.DOTALL)
"""What may stand behind the value of a state."""


def read_state_refs(
    record: Record,
    key: str,
    owners: Mapping[str, str],
    kinds: Mapping[str, Kind],
    problems: Problems,
    known: Mapping[str, frozenset[str]] | None = None,
    *,
    single: bool = False,
    within: str = "",
) -> tuple[StateRef, ...]:
    """Return the states that `key` of a record names, noting those that no kind declares.

    `owners` maps the names that may own a state to their kinds; any kind may own one too.
    With `known`, a value may be followed by a condition over these names: `on if has("shower")`.
    With `single`, each state has exactly one value. `within` is the key path above the record.
    """
    refs = []
    for written, values in record.pairs(key).items():
        at = record.mark(f"{key}.{written}")
        path = ".".join(filter(None, (within, key, written)))
        owner, _, state_name = written.rpartition(".")
        kind = kinds.get(owners.get(owner, owner) if owner else "vehicle")
        if kind is None:
            hint = one_of([*owners, *kinds], owner)
            problems.add(at, path, f"'{owner}' is no kind and no name here", hint)
            continue
        state: State | None = kind.states.get(state_name)
        if state is None:
            hint = one_of(kind.states, state_name)
            problems.add(at, path, f"'{kind.name}' has no state '{state_name}'", hint)
            continue
        when = None
        found = _CONDITION.search(values[0]) if len(values) == 1 and known is not None else None
        if found and known is not None:
            values = (values[0][: found.start()],)
            if not values[0] or not found["source"]:
                problems.add(at, path, "has no value or no condition", "<value> if <condition>")
                continue
            when = read_expression(found["source"], at, path, known, problems)
        for value in values:
            if _CONDITION.search(value):
                what = "a list of values" if known is not None else "a value here"
                problems.add(at, path, f"is '{value}'", f"{what} without a condition")
            elif value not in state.values:
                problems.add(at, path, f"is '{value}'", one_of(state.values, value))
        if not values:
            problems.add(at, path, "has no value", one_of(state.values, ""))
        elif single and len(values) > 1:
            problems.add(at, path, "has several values", "one: what is so afterwards")
        refs.append(StateRef(owner, state_name, values, at, when))
    return tuple(refs)


def check_text(body: str, at: Mark, problems: Problems) -> None:
    """Note what the format of a body does not allow. Links and cautions are checked later."""
    seen: list[str] = []
    steps = 0
    for number, line in enumerate(body.split("\n")):
        mark = Mark(at.path, at.line + number, 1)
        if line.startswith("#"):
            heading = line.lstrip("#").strip()
            if line != f"## {heading}" or heading not in SECTIONS:
                problems.add(
                    mark,
                    "(text)",
                    f"heading '{line.strip()}'",
                    "one of " + ", ".join(f"`## {section}`" for section in SECTIONS),
                )
            elif seen and SECTIONS.index(heading) < SECTIONS.index(seen[-1]):
                problems.add(mark, "(text)", f"'{heading}' after '{seen[-1]}'", ", ".join(SECTIONS))
            else:
                seen.append(heading)
            continue
        step = STEP.match(line)
        if step and not seen:
            steps += 1
            words = count_words(step["command"])
            if words > MOST_STEP_WORDS:
                problems.add(
                    mark,
                    f"step {step['number']}",
                    f"has {words} words",
                    f"at most {MOST_STEP_WORDS}: one action a step",
                )
            continue
        labelled = STEP_LINE.match(line)
        if labelled and not seen and labelled["label"] not in STEP_LINES:
            problems.add(
                mark,
                "(text)",
                f"line '{labelled['label']}:'",
                one_of(STEP_LINES, labelled["label"]),
            )
    if steps > MOST_STEPS:
        problems.add(at, "(text)", f"has {steps} steps", f"at most {MOST_STEPS}: split the task")


def count_words(text: str) -> int:
    """Return the words of a line as a reader counts them: a value is one, an address none."""
    text = re.sub(r"\{\{.*?\}\}", "value", text)
    text = LINK.sub("]", text)
    return len([word for word in text.split() if re.search(r"\w", word)])
