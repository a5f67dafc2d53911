"""Kinds of equipment: attributes, loads, hazards and states, all declared in data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from generator.problems import Mark, Problems, one_of
from generator.read.expressions import Expression, read_expression
from generator.read.fields import ATTRIBUTE_TYPES, NAME, Field, Record, read_record
from generator.read.numbers import check_numbers
from generator.read.tree import Table

SUPPLIES = ("mains", "12v", "gas")

_STATE_FIELDS = (
    Field(name="values", type="texts", help="The values, first the one of a closed-up unit"),
    Field(name="says", type="pairs", help="A sentence for each value", required=True),
    Field(name="when", type="text", help="A condition over `it`"),
    Field(name="by_hand", type="texts", help="Values that need no task page"),
)
_ATTRIBUTE_FIELDS = (
    Field(name="type", type="choice", help="Its type", required=True, choices=ATTRIBUTE_TYPES),
    Field(name="help", type="text", help="What it is", required=True),
    Field(name="required", type="yes-no", help="Every fitting must give it"),
    Field(name="min", type="number", help="Least value"),
    Field(name="max", type="number", help="Greatest value"),
    Field(name="choices", type="texts", help="The choices"),
    Field(name="own", type="yes-no", help="It differs from one vehicle to its twin"),
)
_EXAMPLE_HELP = "Hours at full output, as an example of a day"
_KIND_FIELDS = (
    Field(name="kind", type="name", help="The kind's name, as the file's", required=True),
    Field(name="title", type="text", help="What the owner calls it", required=True),
    Field(name="area", type="name", help="The area that it belongs to", required=True),
    Field(name="about", type="text", help="One sentence: what it does", required=True),
    Field(name="called", type="texts", help="Words that a customer uses for it"),
    Field(
        name="attributes",
        type="any",
        help="What a fitting of this kind states",
    ),
    Field(name="parts", type="pairs", help="Parts that may be at a place of their own"),
    Field(
        name="hazards",
        type="tables",
        help="Cautions that every task on this kind shows",
        fields=(
            Field(name="caution", type="name", help="A caution", required=True),
            Field(name="when", type="text", help="A condition over `it`"),
        ),
    ),
    Field(
        name="loads",
        type="tables",
        help="What it draws",
        fields=(
            Field(name="supply", type="choice", help="From what", required=True, choices=SUPPLIES),
            Field(name="from", type="text", help="The attribute that says how much", required=True),
            Field(name="summer_h", type="number", min=0, max=24, help=_EXAMPLE_HELP),
            Field(name="winter_h", type="number", min=0, max=24, help=_EXAMPLE_HELP),
        ),
    ),
    Field(name="states", type="map", help="Physical conditions", fields=_STATE_FIELDS),
    Field(name="numbers", type="names", help="Pages of numbers that it belongs to"),
)
_TAKEN = ("id", "kind", "place", "title", "parts")
"""Keys that every fitting has, whatever its kind."""

ALWAYS_KNOWN = ("title", "id", "kind")
"""What a condition may ask of any fitting besides its kind's attributes."""


@dataclass(frozen=True, slots=True)
class State:
    """A physical condition of a fitting or of the vehicle."""

    name: str
    values: tuple[str, ...]
    says: Mapping[str, str]
    when: Expression | None
    by_hand: frozenset[str]
    at: Mark


@dataclass(frozen=True, slots=True)
class Hazard:
    """A caution that comes with a kind, perhaps under a condition."""

    caution: str
    when: Expression | None
    at: Mark


@dataclass(frozen=True, slots=True)
class Load:
    """What a fitting draws from a supply, and the attribute that says how much."""

    supply: str
    attribute: str
    summer_h: float | None = None
    winter_h: float | None = None
    """Hours a day at full output, as an example that a reader changes."""


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of equipment."""

    name: str
    title: str
    area: str
    about: str
    called: tuple[str, ...]
    attributes: tuple[Field, ...]
    parts: Mapping[str, str]
    hazards: tuple[Hazard, ...]
    loads: tuple[Load, ...]
    states: Mapping[str, State]
    at: Mark
    numbers: tuple[str, ...] = ()
    """Pages of numbers, beside those that its loads lead to."""
    labels: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    """By attribute: what a reader sees for each choice, where that is not the choice itself."""

    def known(self) -> frozenset[str]:
        """Return the names that a condition may ask of a fitting of this kind."""
        return frozenset(f.name for f in self.attributes) | frozenset(ALWAYS_KNOWN)


def read_kind(table: Table, name: str, areas: Mapping[str, str], problems: Problems) -> Kind:
    """Return the kind that a file declares, noting what does not fit."""
    record = read_record(table, _KIND_FIELDS, problems)
    if record.has("kind") and record.text("kind") != name:
        problems.add(
            record.mark("kind"), "kind", f"is '{record.text('kind')}'", f"'{name}', as the file"
        )
    if record.has("area") and record.text("area") not in areas:
        problems.add(
            record.mark("area"),
            "area",
            f"is '{record.text('area')}'",
            one_of(areas, record.text("area")),
        )
    attributes = _read_attributes(record, problems)
    names = {f.name for f in attributes}
    roles = {
        "it": frozenset(names) | frozenset(ALWAYS_KNOWN) | {"sort"},
        "has": frozenset[str](),
        "unit": frozenset({"sort"}),
    }
    for index, load in enumerate(record.tables("loads")):
        if load.has("from") and load.text("from") not in names:
            problems.add(
                load.mark("from"),
                f"loads[{index}].from",
                f"is '{load.text('from')}'",
                one_of(names, load.text("from")),
            )
    check_numbers(record.texts("numbers"), record.mark("numbers"), problems)
    return Kind(
        name=name,
        title=record.text("title"),
        area=record.text("area"),
        about=record.text("about"),
        called=record.texts("called"),
        attributes=attributes,
        parts={part: " ".join(texts) for part, texts in record.pairs("parts").items()},
        hazards=tuple(
            Hazard(
                hazard.text("caution"),
                read_expression(hazard.text("when"), hazard.mark("when"), "when", roles, problems),
                hazard.mark("caution"),
            )
            for hazard in record.tables("hazards")
            if hazard.has("caution")
        ),
        loads=tuple(
            Load(
                load.text("supply"),
                load.text("from"),
                load.number("summer_h") if load.has("summer_h") else None,
                load.number("winter_h") if load.has("winter_h") else None,
            )
            for load in record.tables("loads")
        ),
        states={
            state_name: _read_state(state_name, state, roles, problems)
            for state_name, state in record.map("states").items()
        },
        at=record.at,
        numbers=record.texts("numbers"),
    )


def _read_attributes(record: Record, problems: Problems) -> tuple[Field, ...]:
    node = record.values.get("attributes")
    if not isinstance(node, Table):
        return ()
    attributes = []
    for key, value in node:
        path = f"attributes.{key.value}"
        if not NAME.fullmatch(key.value.replace("_", "-")) or key.value in _TAKEN:
            problems.add(
                key.at, path, f"is '{key.value}'", "a word of its own: lower case, joined by _"
            )
        if not isinstance(value, Table):
            problems.add(value.at, path, "is not a table", "{type: …, help: …}")
            continue
        read = read_record(value, _ATTRIBUTE_FIELDS, problems, within=path)
        type_ = read.text("type")
        if type_ in ("choice", "choices") and not read.texts("choices"):
            problems.add(value.at, path, "has no choices", "choices: [one, another]")
        attributes.append(
            Field(
                name=key.value,
                type=type_ or "text",
                help=read.text("help"),
                required=read.flag("required"),
                min=read.number("min") if read.has("min") else None,
                max=read.number("max") if read.has("max") else None,
                choices=read.texts("choices"),
                own=read.flag("own"),
            )
        )
    return tuple(attributes)


def _read_state(
    name: str, record: Record, roles: Mapping[str, frozenset[str]], problems: Problems
) -> State:
    values = record.texts("values")
    path = f"states.{name}"
    if len(values) < 2 or len(set(values)) < len(values):
        problems.add(record.at, f"{path}.values", "too few or repeated", "two or more values")
    says = {value: " ".join(texts) for value, texts in record.pairs("says").items()}
    for value in [v for v in values if v not in says] + [v for v in says if v not in values]:
        problems.add(
            record.mark("says"), f"{path}.says", f"does not match '{value}'", "one per value"
        )
    for value in record.texts("by_hand"):
        if value not in values:
            problems.add(
                record.mark("by_hand"), f"{path}.by_hand", f"is '{value}'", one_of(values, value)
            )
    return State(
        name=name,
        values=values,
        says=says,
        when=read_expression(
            record.text("when"), record.mark("when"), f"{path}.when", roles, problems
        ),
        by_hand=frozenset(record.texts("by_hand")),
        at=record.at,
    )
