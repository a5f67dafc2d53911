"""The library: everything under `docs_src/`, read whole and checked against itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, fields, is_dataclass, replace
from pathlib import Path

from jinja2 import TemplateSyntaxError

from generator.problems import Mark, Problems, one_of
from generator.read.expressions import (
    Expression,
    asked_kinds,
    check_template,
    included_snippets,
    read_expression,
)
from generator.read.fields import NAME, Field, Record, read_record
from generator.read.kinds import Kind, read_kind
from generator.read.labels import LabelStock, read_label_stock
from generator.read.layers import Layers, layers_of, name_of
from generator.read.symptoms import Symptom, read_symptom
from generator.read.tasks import (
    LINK,
    STEP_LINE,
    StateRef,
    Task,
    check_text,
    known_names,
    read_state_refs,
    read_task,
)
from generator.read.tree import Items, Table, Text, parse_tree, read_source

SIGNAL_WORDS = ("danger", "warning", "caution", "notice")
"""From the gravest to the mildest; ANSI Z535.4 clause 4.14 as quoted by safetylabel.com."""

MOST_STICKER_CHARACTERS = 48

_CAUTION_FIELDS = (
    Field(name="word", type="choice", help="Signal word", required=True, choices=SIGNAL_WORDS),
    Field(name="sign", type="text", help="ISO 7010 code of the sign's meaning"),
    Field(name="hazard", type="text", help="What the hazard is", required=True),
    Field(name="consequence", type="text", help="What it can do", required=True),
    Field(name="avoidance", type="text", help="How to avoid it", required=True),
    Field(name="sticker", type="text", help="The same for a hatch, short", required=True),
    Field(name="source", type="text", help="Where it is from", required=True),
)
_WAY_FIELDS = (
    Field(name="title", type="text", help="In words, as a choice", required=True),
    Field(name="when", type="text", help="A condition over `unit` and `has`"),
    Field(
        name="goal", type="pairs", help="States to reach beside the routine's own", required=True
    ),
    Field(name="prefer", type="names", help="Tasks to choose where several would do"),
    Field(name="months", type="wholes", min=1, max=12, help="Months in which it is shown first"),
)
_ROUTINE_FIELDS = (
    Field(name="title", type="text", help="What it achieves", required=True),
    Field(name="purpose", type="text", help="One sentence", required=True),
    Field(name="when", type="text", help="A condition over `unit` and `has`"),
    Field(name="order", type="whole", min=1, max=99, help="Place in lists", required=True),
    Field(name="starts", type="names", help="Situations that it starts from", required=True),
    Field(name="goal", type="pairs", help="States to reach"),
    Field(name="wishes", type="pairs", help="States to reach where the unit can"),
    Field(name="any", type="map", help="Alternatives: one is reached too", fields=_WAY_FIELDS),
    Field(name="ends_with", type="names", help="Tasks to do at its end, those that the unit has"),
    Field(name="prefer", type="names", help="Tasks to choose where several would do"),
    Field(name="early", type="names", help="Areas to see to as soon as they can be"),
    Field(name="late", type="names", help="Areas to see to when nothing else is left"),
    Field(name="called", type="texts", help="Words that a customer uses"),
)
_SITUATION_FIELDS = (
    Field(name="title", type="text", help="In words, after 'You are'", required=True),
    Field(name="states", type="pairs", help="States that are so", required=True),
)
_INTERLOCK_FIELDS = (
    Field(name="title", type="text", help="What must never be", required=True),
    Field(name="never", type="pairs", help="States that must not be so together", required=True),
    Field(name="when", type="text", help="A condition over `unit`, `vehicle` and `has`"),
    Field(name="reason", type="text", help="Why", required=True),
    Field(name="caution", type="name", help="The caution that tells of it", required=True),
    Field(name="source", type="text", help="Where it is from", required=True),
)


@dataclass(frozen=True, slots=True)
class Caution:
    """A safety message of four parts: signal word, hazard, consequence, avoidance."""

    name: str
    word: str
    sign: str
    hazard: str
    consequence: str
    avoidance: str
    sticker: str
    source: str
    at: Mark

    @property
    def gravity(self) -> int:
        """Return 0 for the gravest signal word, and up."""
        return SIGNAL_WORDS.index(self.word) if self.word in SIGNAL_WORDS else len(SIGNAL_WORDS)


@dataclass(frozen=True, slots=True)
class Way:
    """One of several alternatives of a routine, such as on gas or on mains. The reader chooses."""

    name: str
    title: str
    when: Expression | None
    goal: tuple[StateRef, ...]
    """What is reached beside the routine's own goal."""
    prefer: tuple[str, ...]
    months: tuple[int, ...]
    """In which months it is shown first, 1 for January; none for a way without a season."""
    at: Mark
    """Where `prefer` stands, else where it begins."""


@dataclass(frozen=True, slots=True)
class Routine:
    """A goal that takes several tasks. Its order is computed for each unit."""

    name: str
    title: str
    purpose: str
    when: Expression | None
    order: int
    starts: tuple[str, ...]
    goal: tuple[StateRef, ...]
    wishes: tuple[StateRef, ...]
    """Like the goal, but each left out where this unit cannot reach it with the rest."""
    any: tuple[Way, ...]
    """Alternatives, of which one is reached too; the first that the unit can, unless chosen."""
    ends_with: tuple[str, ...]
    prefer: tuple[str, ...]
    early: tuple[str, ...]
    late: tuple[str, ...]
    called: tuple[str, ...]
    at: Mark
    marks: Mapping[str, Mark]
    """Where its keys stand."""


@dataclass(frozen=True, slots=True)
class Situation:
    """States from which a routine may start."""

    name: str
    title: str
    states: tuple[StateRef, ...]


@dataclass(frozen=True, slots=True)
class Interlock:
    """States that must never be so together."""

    name: str
    title: str
    never: tuple[StateRef, ...]
    when: Expression | None
    reason: str
    caution: str
    source: str
    at: Mark


@dataclass(frozen=True, slots=True)
class Library:
    """All reusable content, by name."""

    areas: Mapping[str, str]
    kinds: Mapping[str, Kind]
    cautions: Mapping[str, Caution]
    tasks: Mapping[str, Task]
    symptoms: Mapping[str, Symptom]
    routines: Mapping[str, Routine]
    situations: Mapping[str, Situation]
    interlocks: Mapping[str, Interlock]
    snippets: Mapping[str, str]
    snippet_files: Mapping[str, str]
    """Where each snippet stands, as its author knows it."""
    labels: Mapping[str, LabelStock]
    wording: Mapping[str, str]
    synonyms: Mapping[str, tuple[str, ...]]
    """What people say, by the guide's own word or phrase."""
    texts: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """The files, below the workspace, of all texts that each task has in it."""


def read_library(root: Path, problems: Problems) -> Library:
    """Return the library under `root/docs_src`, noting all that does not hold together."""
    reader = Reader(layers_of(root), "docs_src", problems)
    areas = reader.read_flat("areas.yml")
    snippets = {
        path.stem: text
        for path in reader.files("snippets", ".md")
        if (text := reader.source(path)) is not None
    }
    kinds = {
        path.stem: read_kind(table, path.stem, areas, problems)
        for path, table in reader.tables("kinds")
    }
    vehicle = reader.table(reader.path("vehicle.yml"))
    kinds["vehicle"] = read_kind(vehicle or _nothing("vehicle.yml"), "vehicle", areas, problems)
    tasks: dict[str, Task] = {}
    for path in reader.files("tasks", ".md", deep=True):
        shown = reader.shown(path)
        area = path.parent.name
        text = reader.source(path)
        if area not in areas:
            problems.add(Mark(shown), "(file)", f"stands in '{area}'", one_of(areas, area))
        if path.stem in tasks:
            problems.add(
                Mark(shown),
                "(file)",
                f"a second task named {path.stem}",
                f"another name; the first is {tasks[path.stem].at.path}",
            )
        elif text is not None:
            task = read_task(text, shown, path.stem, area, kinds, snippets, problems)
            if task is not None:
                tasks[path.stem] = task
    library = Library(
        areas=areas,
        kinds=kinds,
        cautions=_read_cautions(reader, problems),
        tasks=tasks,
        symptoms={
            path.stem: symptom
            for path, table in reader.tables("symptoms")
            if (symptom := read_symptom(table, path.stem, kinds, problems)) is not None
        },
        routines=_read_routines(reader, kinds, problems),
        situations=_read_situations(reader, kinds, problems),
        interlocks=_read_interlocks(reader, kinds, problems),
        snippets=snippets,
        snippet_files={path.stem: reader.shown(path) for path in reader.files("snippets", ".md")},
        labels={
            path.stem: read_label_stock(table, path.stem, problems)
            for path, table in reader.tables("labels")
        },
        wording=reader.read_flat("wording/en.yml"),
        synonyms=_read_synonyms(reader, problems),
    )
    check_references(library, problems)
    return replace(
        library, texts={name: _texts_of(task, library) for name, task in library.tasks.items()}
    )


class Reader:
    """Finds and reads the library's files, in name order, with paths as the author knows them."""

    def __init__(self, layers: Layers, base: str, problems: Problems) -> None:
        """Keep the folder to read from: `docs_src`, or one below it."""
        self.layers = layers
        self.base = base
        self.problems = problems

    def path(self, name: str) -> Path:
        """Return where a file of the folder stands."""
        return self.layers.find(f"{self.base}/{name}")

    def shown(self, path: Path) -> str:
        """Return a path as the author knows it."""
        return self.layers.shown(path)

    def files(self, folder: str, suffix: str, *, deep: bool = False) -> Iterator[Path]:
        """Yield the files of a folder whose names can be names of the library."""
        pattern = f"**/*{suffix}" if deep else f"*{suffix}"
        for path in self.layers.files(f"{self.base}/{folder}", pattern):
            if not NAME.fullmatch(path.stem):
                self.problems.add(
                    Mark(self.shown(path)),
                    "(file)",
                    f"is named '{path.name}'",
                    f"lower case, words joined by -, then {suffix}",
                )
            elif self.layers.is_inside(path, self.base):
                yield path
            else:
                self.problems.add(
                    Mark(self.shown(path)), "(file)", "leads out of the library", "a plain file"
                )

    def source(self, path: Path) -> str | None:
        """Return a file's text."""
        return read_source(path, self.shown(path), self.problems)

    def table(self, path: Path, *, empty_is_fine: bool = False) -> Table | None:
        """Return a file's keys and values."""
        text = self.source(path)
        if text is None:
            return None
        return parse_tree(text, self.shown(path), self.problems, empty_is_fine=empty_is_fine)

    def tables(self, folder: str) -> Iterator[tuple[Path, Table]]:
        """Yield the files of a folder that can be read."""
        for path in self.files(folder, ".yml"):
            table = self.table(path)
            if table is not None:
                yield path, table

    def read_flat(self, name: str) -> dict[str, str]:
        """Return a file of `key: text` lines."""
        table = self.table(self.path(name))
        flat = {}
        for key, value in table or ():
            if isinstance(value, Text) and value.value:
                flat[key.value] = value.value
            else:
                self.problems.add(value.at, key.value, "is not a text", "a text")
        return flat


def _nothing(name: str) -> Table:
    return Table((), Mark(f"docs_src/{name}"))


def named_tables(
    reader: Reader, folder: str, problems: Problems, skip: tuple[str, ...] = ()
) -> Iterator[tuple[str, Mark, Table]]:
    """Yield each `name: {…}` entry of all files of a folder; names are unique over the folder."""
    first: dict[str, Mark] = {}
    for _, table in reader.tables(folder):
        for key, value in table:
            if key.value in skip:
                continue
            if not NAME.fullmatch(key.value):
                problems.add(key.at, key.value, "is no name", "lower case, words joined by -")
            elif key.value in first:
                other = first[key.value]
                problems.add(
                    key.at,
                    key.value,
                    "given twice",
                    f"once; the first is {other.path}:{other.line}",
                )
            elif isinstance(value, Table):
                first[key.value] = key.at
                yield key.value, key.at, value
            else:
                problems.add(value.at, key.value, "is not a table", "`key: value` lines")


def _read_cautions(reader: Reader, problems: Problems) -> dict[str, Caution]:
    cautions = {}
    for name, at, table in named_tables(reader, "cautions", problems):
        record = read_record(table, _CAUTION_FIELDS, problems, within=name)
        if len(record.text("sticker")) > MOST_STICKER_CHARACTERS:
            problems.add(
                record.mark("sticker"),
                f"{name}.sticker",
                f"has {len(record.text('sticker'))} characters",
                f"at most {MOST_STICKER_CHARACTERS}",
            )
        cautions[name] = Caution(
            name=name,
            word=record.text("word"),
            sign=record.text("sign"),
            hazard=record.text("hazard"),
            consequence=record.text("consequence"),
            avoidance=record.text("avoidance"),
            sticker=record.text("sticker"),
            source=record.text("source"),
            at=at,
        )
    return cautions


def _read_synonyms(reader: Reader, problems: Problems) -> dict[str, tuple[str, ...]]:
    """Return what people say, by the guide's own word; an absent file says nothing."""
    path = reader.path("wording/synonyms.yml")
    synonyms = {}
    for key, value in (reader.table(path) if path.exists() else None) or ():
        others = value.items if isinstance(value, Items) else (value,)
        words = [word.value for word in others if isinstance(word, Text) and word.value]
        if len(words) < len(others) or not words:
            problems.add(value.at, key.value, "is no list of words", "[word, another word]")
        synonyms[key.value] = tuple(words)
    return synonyms


_UNIT_NAMES = {"unit": frozenset({"sort", "title"}), "has": frozenset[str]()}


def _read_routines(
    reader: Reader, kinds: Mapping[str, Kind], problems: Problems
) -> dict[str, Routine]:
    routines = {}
    for path, table in reader.tables("routines"):
        record = read_record(table, _ROUTINE_FIELDS, problems)
        routines[path.stem] = Routine(
            name=path.stem,
            title=record.text("title"),
            purpose=record.text("purpose"),
            when=read_expression(
                record.text("when"), record.mark("when"), "when", _UNIT_NAMES, problems
            ),
            order=int(record.number("order")),
            starts=record.texts("starts"),
            goal=read_state_refs(record, "goal", {}, kinds, problems),
            wishes=read_state_refs(record, "wishes", {}, kinds, problems),
            any=_read_ways(record, kinds, problems),
            ends_with=record.texts("ends_with"),
            prefer=record.texts("prefer"),
            early=record.texts("early"),
            late=record.texts("late"),
            called=record.texts("called"),
            at=record.at,
            marks=record.marks,
        )
    return routines


def _read_ways(record: Record, kinds: Mapping[str, Kind], problems: Problems) -> tuple[Way, ...]:
    if record.has("any") and not record.map("any"):
        problems.add(
            record.mark("any"), "any", "has no alternatives", "names, each with title and goal"
        )
    for name, way in record.map("any").items():
        if way.has("goal") and not way.pairs("goal"):
            problems.add(
                way.mark("goal"), f"any.{name}.goal", "has no states", "at least one to reach"
            )
    return tuple(
        Way(
            name=name,
            title=way.text("title"),
            when=read_expression(
                way.text("when"), way.mark("when"), f"any.{name}.when", _UNIT_NAMES, problems
            ),
            goal=read_state_refs(way, "goal", {}, kinds, problems, within=f"any.{name}"),
            prefer=way.texts("prefer"),
            months=tuple(way.values.get("months", ())),
            at=way.mark("prefer"),
        )
        for name, way in record.map("any").items()
    )


def _read_situations(
    reader: Reader, kinds: Mapping[str, Kind], problems: Problems
) -> dict[str, Situation]:
    names = _UNIT_NAMES | {"vehicle": kinds["vehicle"].known()}
    situations = {}
    table = reader.table(reader.path("situations.yml"))
    for key, value in table or ():
        if not isinstance(value, Table):
            problems.add(value.at, key.value, "is not a table", "`key: value` lines")
            continue
        record = read_record(value, _SITUATION_FIELDS, problems, within=key.value)
        states = read_state_refs(
            record, "states", {}, kinds, problems, names, single=True, within=key.value
        )
        situations[key.value] = Situation(key.value, record.text("title"), states)
    return situations


def _read_interlocks(
    reader: Reader, kinds: Mapping[str, Kind], problems: Problems
) -> dict[str, Interlock]:
    roles = _UNIT_NAMES | {"vehicle": kinds["vehicle"].known()}
    interlocks = {}
    for name, at, table in named_tables(reader, "interlocks", problems):
        record = read_record(table, _INTERLOCK_FIELDS, problems, within=name)
        interlocks[name] = Interlock(
            name=name,
            title=record.text("title"),
            never=read_state_refs(record, "never", {}, kinds, problems, within=name),
            when=read_expression(
                record.text("when"), record.mark("when"), f"{name}.when", roles, problems
            ),
            reason=record.text("reason"),
            caution=record.text("caution"),
            source=record.text("source"),
            at=at,
        )
    return interlocks


def check_references(library: Library, problems: Problems) -> None:
    """Note every name in the content that names nothing."""
    by_sort: dict[str, Mapping[str, object]] = {
        "task": library.tasks,
        "symptom": library.symptoms,
        "routine": library.routines,
        "kind": library.kinds,
        "caution": library.cautions,
        "situation": library.situations,
    }

    def want(sort: str, name: str, at: Mark, key: str) -> None:
        if name not in by_sort[sort]:
            problems.add(at, key, f"no {sort} '{name}'", one_of(by_sort[sort], name))

    for kind in library.kinds.values():
        for hazard in kind.hazards:
            want("caution", hazard.caution, hazard.at, "hazards")
    for task in library.tasks.values():
        for caution in task.cautions:
            want("caution", caution, task.at, "cautions")
        for name in task.symptoms:
            want("symptom", name, task.at, "symptoms")
        _check_links(task.body, task.body_at, want)
        _check_snippets(task, library, problems)
    for name, text in library.snippets.items():
        at = Mark(library.snippet_files[name])
        check_text(text, at, problems)
        _check_links(text, at, want)
    for symptom in library.symptoms.values():
        if symptom.area not in library.areas:
            problems.add(
                symptom.at, "area", f"is '{symptom.area}'", one_of(library.areas, symptom.area)
            )
        for caution in symptom.cautions:
            want("caution", caution, symptom.at, "cautions")
        for name in symptom.expects:
            want("task", name, symptom.at, "expects")
        for check in symptom.checks:
            for answer in (check.yes, check.no):
                for name in answer.tasks if answer else ():
                    want("task", name, check.at, "task")
                for name in answer.symptoms if answer else ():
                    want("symptom", name, check.at, "symptom")
    for routine in library.routines.values():
        for name in routine.starts:
            want("situation", name, routine.marks["starts"], "starts")
        for key, names in (("prefer", routine.prefer), ("ends_with", routine.ends_with)):
            for name in names:
                want("task", name, routine.marks[key], key)
        for way in routine.any:
            for name in way.prefer:
                want("task", name, way.at, f"any.{way.name}.prefer")
        for key, areas in (("early", routine.early), ("late", routine.late)):
            for area in areas:
                if area not in library.areas:
                    at, right = routine.marks[key], one_of(library.areas, area)
                    problems.add(at, key, f"is '{area}'", right)
    for interlock in library.interlocks.values():
        want("caution", interlock.caution, interlock.at, f"{interlock.name}.caution")
    for text, at, key in _conditions(library):
        _check_asked(text, at, key, library.kinds, problems)


def _conditions(library: Library) -> Iterator[tuple[str, Mark, str]]:
    """Yield every condition and every text with conditions in it, where it stands and its key."""
    for task in library.tasks.values():
        yield task.body, task.body_at, "(text)"
    for name, text in library.snippets.items():
        yield text, Mark(library.snippet_files[name]), "(text)"
    waiting: list[object] = [library]
    while waiting:
        value = waiting.pop()
        if isinstance(value, Expression):
            yield value.template, value.at, "when"
        elif is_dataclass(value):
            waiting += [getattr(value, field.name) for field in fields(value)]
        elif isinstance(value, Mapping):
            waiting += value.values()
        elif isinstance(value, tuple):
            waiting += value


def _check_asked(
    text: str, at: Mark, key: str, kinds: Mapping[str, Kind], problems: Problems
) -> None:
    """Note a kind, or an attribute of it, that `has(…)` asks for in vain: it would never hold."""
    for asked in asked_kinds(text):
        mark = Mark(at.path, at.line + asked.line - 1, 1) if key == "(text)" else at
        kind = kinds.get(asked.name)
        if kind is None:
            wrong = f"no kind '{asked.name}'" if asked.name else "has(…) must tell a kind by name"
            problems.add(mark, key, wrong, one_of(kinds, asked.name))
            continue
        known = {field.name: field for field in kind.attributes}
        for name, value in asked.facts.items():
            if name not in known:
                wrong = f"'{kind.name}' has no attribute '{name}'"
                problems.add(mark, key, wrong, one_of(known, name))
            elif known[name].type == "date":
                wrong = f"{kind.name}.{name} is a day, which can be told, and not compared"
                problems.add(mark, key, wrong, "a text that asks whether it is there")
            elif known[name].choices and value not in known[name].choices:
                wrong = f"{kind.name}.{name} is never '{value}'"
                problems.add(mark, key, wrong, one_of(known[name].choices, str(value)))


def _check_links(text: str, at: Mark, want: Callable[[str, str, Mark, str], None]) -> None:
    for number, line in enumerate(text.split("\n")):
        mark = Mark(at.path, at.line + number, 1)
        for link in LINK.finditer(line):
            want(link["sort"], link["name"], mark, "(link)")
        labelled = STEP_LINE.match(line)
        if labelled and labelled["label"] == "Caution":
            want("caution", labelled["text"].strip(), mark, "Caution")


def _check_snippets(task: Task, library: Library, problems: Problems) -> None:
    """Note what the snippets of a task ask that its equipment does not have."""
    owners = {"subject": task.subject} | {role.name: role.kind for role in task.roles}
    known = known_names(owners, library.kinds)
    for name in task_snippets(task, library):
        at = Mark(library.snippet_files[name])
        check_template(library.snippets[name], at, "(text)", known, library.snippets, problems)


def task_snippets(task: Task, library: Library) -> tuple[str, ...]:
    """Return the names of all snippets that a task takes in, directly or through another."""
    found: list[str] = []
    waiting = [task.body]
    while waiting:
        for name in _included(waiting.pop()):
            if name in library.snippets and name not in found:
                found.append(name)
                waiting.append(library.snippets[name])
    return tuple(found)


def _texts_of(task: Task, library: Library) -> tuple[str, ...]:
    """Return the files, below the workspace, of all texts that a task has in it: its own first."""
    snippets = (f"docs_src/snippets/{name}.md" for name in task_snippets(task, library))
    return (name_of(task.at.path), *snippets)


def _included(text: str) -> tuple[str, ...]:
    try:
        return included_snippets(text)
    except TemplateSyntaxError:  # told where the text itself is checked
        return ()
