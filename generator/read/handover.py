"""What the handover pack says, from `docs_src/handover/`: checks, what to show, the first trip."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path

from generator.problems import Mark, Problems, one_of
from generator.read.expressions import Expression, read_expression
from generator.read.fields import NAME, Field, Record, read_record
from generator.read.kinds import ALWAYS_KNOWN, Kind
from generator.read.layers import layers_of
from generator.read.tree import Table, parse_tree, read_source

SIGNERS = ("technician", "gas-engineer", "electrician", "owner")
"""Who may do and sign a check, in the order in which their lists are printed."""

_CHECK_FIELDS = (
    Field(name="check", type="text", help="What is done", required=True),
    Field(name="who", type="choice", choices=SIGNERS, help="Who may sign it", required=True),
    Field(name="note", type="text", help="What is written down"),
    Field(name="measure", type="text", help="Its unit of measure"),
    Field(name="recorded", type="text", help="The attribute that is printed beside it"),
    Field(name="when", type="text", help="A condition over `it`"),
)
_SHOW_FIELDS = (
    Field(name="do", type="names", help="Tasks that the customer does"),
    Field(name="show", type="names", help="Tasks that are shown"),
    Field(
        name="minutes_shown", type="whole", min=1, max=60, help="Minutes to show one", required=True
    ),
    Field(
        name="records",
        type="tables",
        help="What is written down on the day",
        fields=(
            Field(name="note", type="text", help="What", required=True),
            Field(name="measure", type="text", help="Its unit of measure"),
            Field(name="kind", type="name", help="The equipment that it is about"),
            Field(name="recorded", type="text", help="The attribute that is printed beside it"),
            Field(name="when", type="text", help="A condition over `unit` and `has`"),
        ),
    ),
    Field(
        name="papers",
        type="tables",
        help="What changes hands",
        fields=(
            Field(name="text", type="text", help="What", required=True),
            Field(name="when", type="text", help="A condition over `unit` and `has`"),
        ),
    ),
)
_BOX_FIELDS = (
    Field(name="title", type="text", help="What it is about", required=True),
    Field(
        name="lines",
        type="tables",
        help="Its lines",
        required=True,
        fields=(
            Field(name="text", type="text", help="One short sentence or two", required=True),
            Field(name="task", type="name", help="Where to read more"),
            Field(name="when", type="text", help="A condition over `unit` and `has`"),
        ),
    ),
)
_UNIT_NAMES = {"unit": frozenset({"sort"}), "has": frozenset[str]()}


@dataclass(frozen=True, slots=True)
class PrepareCheck:
    """A check on equipment of one kind, and what is written down of it."""

    check: str
    who: str
    note: str
    measure: str
    recorded: str
    when: Expression | None
    at: Mark


@dataclass(frozen=True, slots=True)
class RecordLine:
    """A value that is written down at the handover; `kind` is empty for the vehicle's own."""

    note: str
    measure: str
    kind: str
    recorded: str
    when: Expression | None
    at: Mark


@dataclass(frozen=True, slots=True)
class CardLine:
    """A line of the first-trip card, or (without a task) something that changes hands."""

    text: str
    task: str
    when: Expression | None
    at: Mark


@dataclass(frozen=True, slots=True)
class CardBox:
    """A box of the first-trip card."""

    name: str
    title: str
    lines: tuple[CardLine, ...]


@dataclass(frozen=True, slots=True)
class Handover:
    """All that the handover pack says beside the guide itself."""

    prepare: Mapping[str, tuple[PrepareCheck, ...]]
    """By kind."""
    do: tuple[str, ...]
    show: tuple[str, ...]
    minutes_shown: int
    records: tuple[RecordLine, ...]
    papers: tuple[CardLine, ...]
    card: tuple[CardBox, ...]


def read_handover(
    root: Path, kinds: Mapping[str, Kind], tasks: Collection[str], problems: Problems
) -> Handover:
    """Return what stands under `root/docs_src/handover`; a file that is not there says nothing."""
    show = Record(Mark("docs_src/handover/show.yml"), {})
    table = _table(root, "show.yml", problems)
    if table is not None:
        show = read_record(table, _SHOW_FIELDS, problems)
    for key in ("do", "show"):
        for name in show.texts(key):
            _want_task(name, show.mark(key), key, tasks, problems)
    for name in sorted(set(show.texts("do")) & set(show.texts("show"))):
        problems.add(show.mark("show"), "show", f"'{name}' is also done", "one of the two")
    return Handover(
        prepare=_read_prepare(root, kinds, problems),
        do=show.texts("do"),
        show=show.texts("show"),
        minutes_shown=int(show.number("minutes_shown")),
        records=tuple(
            _read_record_line(line, f"records[{index}]", kinds, problems)
            for index, line in enumerate(show.tables("records"))
        ),
        papers=tuple(
            _read_line(line, f"papers[{index}]", problems)
            for index, line in enumerate(show.tables("papers"))
        ),
        card=_read_card(root, tasks, problems),
    )


def _table(root: Path, name: str, problems: Problems) -> Table | None:
    layers = layers_of(root)
    path = layers.find(f"docs_src/handover/{name}")
    shown = layers.shown(path)
    if not path.is_file():
        return None
    text = read_source(path, shown, problems)
    return None if text is None else parse_tree(text, shown, problems)


def _read_prepare(
    root: Path, kinds: Mapping[str, Kind], problems: Problems
) -> Mapping[str, tuple[PrepareCheck, ...]]:
    prepare: dict[str, tuple[PrepareCheck, ...]] = {}
    for key, node in _table(root, "prepare.yml", problems) or ():
        kind = kinds.get(key.value)
        if kind is None:
            hint = one_of(kinds, key.value)
            problems.add(key.at, key.value, f"no kind '{key.value}'", hint)
            continue
        wrapped = Table(((key, node),), key.at)
        field = Field(name=key.value, type="tables", help="Its checks", fields=_CHECK_FIELDS)
        checks = read_record(wrapped, (field,), problems).tables(key.value)
        roles = _UNIT_NAMES | {"it": kind.known()}
        prepare[key.value] = tuple(
            PrepareCheck(
                check=check.text("check"),
                who=check.text("who"),
                note=check.text("note"),
                measure=check.text("measure"),
                recorded=_attribute(check, f"{key.value}[{index}]", kind, problems),
                when=read_expression(
                    check.text("when"),
                    check.mark("when"),
                    f"{key.value}[{index}].when",
                    roles,
                    problems,
                ),
                at=check.at,
            )
            for index, check in enumerate(checks)
        )
    return prepare


def _read_record_line(
    line: Record, path: str, kinds: Mapping[str, Kind], problems: Problems
) -> RecordLine:
    name = line.text("kind")
    kind = kinds.get(name)
    if name and kind is None:
        problems.add(line.mark("kind"), f"{path}.kind", f"no kind '{name}'", one_of(kinds, name))
    return RecordLine(
        note=line.text("note"),
        measure=line.text("measure"),
        kind=name,
        recorded=_attribute(line, path, kind, problems) if kind else "",
        when=read_expression(
            line.text("when"), line.mark("when"), f"{path}.when", _UNIT_NAMES, problems
        ),
        at=line.at,
    )


def _read_line(line: Record, path: str, problems: Problems) -> CardLine:
    when = read_expression(
        line.text("when"), line.mark("when"), f"{path}.when", _UNIT_NAMES, problems
    )
    return CardLine(line.text("text"), line.text("task"), when, line.at)


def _read_card(root: Path, tasks: Collection[str], problems: Problems) -> tuple[CardBox, ...]:
    boxes = []
    for key, node in _table(root, "card.yml", problems) or ():
        if not NAME.fullmatch(key.value) or not isinstance(node, Table):
            problems.add(key.at, key.value, "is no box", "a name, then `title` and `lines`")
            continue
        record = read_record(node, _BOX_FIELDS, problems, within=key.value)
        lines = []
        for index, line in enumerate(record.tables("lines")):
            path = f"{key.value}.lines[{index}]"
            if line.has("task"):
                _want_task(line.text("task"), line.mark("task"), f"{path}.task", tasks, problems)
            lines.append(_read_line(line, path, problems))
        boxes.append(CardBox(key.value, record.text("title"), tuple(lines)))
    return tuple(boxes)


def _attribute(record: Record, path: str, kind: Kind, problems: Problems) -> str:
    name = record.text("recorded")
    known = kind.known() - set(ALWAYS_KNOWN)
    if name and name not in known:
        problems.add(
            record.mark("recorded"),
            f"{path}.recorded",
            f"'{kind.name}' has no attribute '{name}'",
            one_of(known, name),
        )
        return ""
    return name


def _want_task(name: str, at: Mark, key: str, tasks: Collection[str], problems: Problems) -> None:
    if name not in tasks:
        problems.add(at, key, f"no task '{name}'", one_of(tasks, name))
