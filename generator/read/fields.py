"""Fields: what a key may hold, said once, for reading, for error messages and for the JSON Schema.

Kinds of equipment declare their attributes as fields in data, and the fixed formats (a unit, a
task's front matter, a caution) as fields in Python, so both are read and explained alike.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from generator.problems import Mark, Problems, one_of
from generator.read.measures import measure_of
from generator.read.tree import Items, Node, Table, Text

Scalar = str | int | float | bool | date
Value = Scalar | tuple[Scalar, ...]

NAME = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_NUMBER = re.compile(r"-?[0-9]{1,9}(\.[0-9]{1,6})?")
_LONGEST_TEXT = 2_000

SCALAR_TYPES = ("text", "name", "number", "whole", "yes-no", "choice", "date")
LIST_TYPES = {
    "texts": "text",
    "names": "name",
    "numbers": "number",
    "wholes": "whole",
    "choices": "choice",
}
ATTRIBUTE_TYPES = ("text", "number", "whole", "yes-no", "choice", "choices", "numbers", "date")


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """What one key may hold.

    `type` is one of `SCALAR_TYPES`, `LIST_TYPES`, or `table` (keys of its own), `tables` (a list
    of such tables), `map` (named tables), `pairs` (free keys, each a text or a list of texts) and
    `any` (not looked into).
    """

    name: str
    type: str
    help: str
    required: bool = False
    min: float | None = None
    max: float | None = None
    choices: tuple[str, ...] = ()
    fields: tuple[Field, ...] = ()
    own: bool = False
    """Whether it differs from one vehicle to its twin, as what was weighed does."""

    def expects(self) -> str:
        """Return what would be right here, for the end of an error line."""
        one = LIST_TYPES.get(self.type, self.type)
        many = "a list of " if self.type in LIST_TYPES else ""
        measure = measure_of(self.name)
        words = measure.words if measure else "number"
        if one in ("number", "whole"):
            whole = "whole " if one == "whole" else ""
            plain = f"{whole}{words}" + ("s" if many and not measure else "")
            limits = ""
            if self.min is not None and self.max is not None:
                limits = f" from {self.min:g} to {self.max:g}"
            elif self.min is not None:
                limits = f" from {self.min:g} up"
            article = "" if many or measure else "a "
            return f"{many}{article}{plain}{limits}"
        if one == "choice":
            return many + "one of " + ", ".join(self.choices)
        return {
            "text": many + ("texts" if many else "a text"),
            "name": many + ("names" if many else "a name: lower case, words joined by -"),
            "yes-no": "yes or no",
            "date": "a date such as 2026-04-11",
            "table": "keys of its own, indented",
            "map": "names, each with keys of its own",
            "tables": "a list of entries that start with -",
            "pairs": "`name: value` pairs",
        }.get(one, "a value")


@dataclass(frozen=True, slots=True)
class Record:
    """The values of a table that was read by its fields, with their positions.

    The typed getters return an empty value of their type where the key is absent.
    """

    at: Mark
    values: Mapping[str, Any]
    marks: Mapping[str, Mark] = field(default_factory=dict)

    def mark(self, name: str) -> Mark:
        """Return where a key stands, else where the table begins.

        A key of `pairs` is named with the key that holds it: `goal.gas-supply`.
        """
        return self.marks.get(name, self.at)

    def has(self, name: str) -> bool:
        """Return whether the key is given (and was readable)."""
        return name in self.values

    def text(self, name: str) -> str:
        """Return a text, name or choice."""
        return str(self.values.get(name, ""))

    def texts(self, name: str) -> tuple[str, ...]:
        """Return a list of texts, names or choices."""
        return tuple(str(item) for item in self.values.get(name, ()))

    def number(self, name: str) -> float:
        """Return a number."""
        return float(self.values.get(name, 0))

    def flag(self, name: str) -> bool:
        """Return a yes-no."""
        return bool(self.values.get(name, False))

    def day(self, name: str) -> date | None:
        """Return a date."""
        value = self.values.get(name)
        return value if isinstance(value, date) else None

    def table(self, name: str) -> Record:
        """Return a table of its own; empty if absent."""
        value = self.values.get(name)
        return value if isinstance(value, Record) else Record(self.at, {})

    def tables(self, name: str) -> tuple[Record, ...]:
        """Return a list of tables."""
        return tuple(self.values.get(name, ()))

    def map(self, name: str) -> Mapping[str, Record]:
        """Return named tables."""
        value = self.values.get(name, {})
        return value if isinstance(value, dict) else {}

    def pairs(self, name: str) -> Mapping[str, tuple[str, ...]]:
        """Return free keys with their texts."""
        value = self.values.get(name, {})
        return value if isinstance(value, dict) else {}


def read_record(
    table: Table, fields: Iterable[Field], problems: Problems, *, within: str = ""
) -> Record:
    """Return the table's values by their fields, after noting all that does not fit.

    `within` is the key path above this table, for the error lines (`fitted[2]`).
    """
    known = {f.name: f for f in fields}
    values: dict[str, Any] = {}
    marks: dict[str, Mark] = {}
    for key, node in table:
        marks[key.value] = key.at
        path = f"{within}.{key.value}" if within else key.value
        wanted = known.get(key.value)
        if wanted is None:
            problems.add(key.at, path, "unknown key", one_of(known, key.value))
            continue
        if wanted.type == "pairs" and isinstance(node, Table):
            marks |= {f"{key.value}.{inner.value}": inner.at for inner, _ in node}
        value = _read_value(node, wanted, problems, path)
        if value is not None:
            values[key.value] = value
    for wanted in known.values():
        if wanted.required and wanted.name not in marks:
            path = f"{within}.{wanted.name}" if within else wanted.name
            problems.add(table.at, path, "missing", f"{wanted.help} ({wanted.expects()})")
    return Record(table.at, values, marks)


def _read_value(node: Node, wanted: Field, problems: Problems, path: str) -> Any:
    if wanted.type in SCALAR_TYPES:
        return _read_scalar(node, wanted, wanted.type, problems, path)
    if wanted.type in LIST_TYPES:
        one = LIST_TYPES[wanted.type]
        nodes = node.items if isinstance(node, Items) else (node,)
        read = [
            _read_scalar(item, wanted, one, problems, f"{path}[{index}]")
            for index, item in enumerate(nodes)
        ]
        return tuple(item for item in read if item is not None)
    if wanted.type == "any":
        return node
    if wanted.type == "tables":
        if not isinstance(node, Items):
            return _note(node, path, "is not a list", wanted.expects(), problems)
        records = []
        for index, item in enumerate(node.items):
            if isinstance(item, Table):
                records.append(
                    read_record(item, wanted.fields, problems, within=f"{path}[{index}]")
                )
            else:
                _note(item, f"{path}[{index}]", "is not a table", "`key: value` lines", problems)
        return tuple(records)
    if not isinstance(node, Table):
        if isinstance(node, Text) and not node.value:
            return None if wanted.type == "table" else {}
        return _note(node, path, "is not a table", wanted.expects(), problems)
    if wanted.type == "table":
        return read_record(node, wanted.fields, problems, within=path)
    named: dict[str, Any] = {}
    for key, value in node:
        inner = f"{path}.{key.value}"
        if wanted.type == "pairs":
            nodes = value.items if isinstance(value, Items) else (value,)
            texts = [item.value for item in nodes if isinstance(item, Text) and item.value]
            if len(texts) != len(nodes):
                _note(value, inner, "is not a text", "a text or a list of texts", problems)
            named[key.value] = tuple(texts)
        elif not NAME.fullmatch(key.value):
            problems.add(
                key.at, inner, f"is '{key.value}'", "a name: lower case, words joined by -"
            )
        elif isinstance(value, Table):
            named[key.value] = read_record(value, wanted.fields, problems, within=inner)
        else:
            _note(value, inner, "is not a table", "`key: value` lines", problems)
    return named


def _note(node: Node, path: str, wrong: str, right: str, problems: Problems) -> None:
    problems.add(node.at, path, wrong, right)


def _read_scalar(node: Node, wanted: Field, type_: str, problems: Problems, path: str) -> Any:
    if not isinstance(node, Text):
        shape = "a list" if isinstance(node, Items) else "a table"
        return _note(node, path, f"is {shape}", wanted.expects(), problems)
    text = node.value.strip()
    value: Scalar | None = None
    if type_ == "text":
        value = text if 0 < len(text) <= _LONGEST_TEXT else None
    elif type_ == "name":
        value = text if NAME.fullmatch(text) and len(text) <= 60 else None
    elif type_ == "choice":
        if text not in wanted.choices:
            return _note(node, path, f"is '{text}'", one_of(wanted.choices, text), problems)
        value = text
    elif type_ == "yes-no":
        value = {"yes": True, "true": True, "no": False, "false": False}.get(text)
    elif type_ == "date":
        try:
            value = date.fromisoformat(text) if _DATE.fullmatch(text) else None
        except ValueError:
            value = None
    elif _NUMBER.fullmatch(text):
        number = float(text)
        if (wanted.min is None or number >= wanted.min) and (
            wanted.max is None or number <= wanted.max
        ):
            if number.is_integer():
                value = int(number)
            elif type_ == "number":
                value = number
    if value is None:
        shown = text if len(text) <= 40 else text[:37] + "..."
        return _note(
            node, path, f"is '{shown}'" if text else "is empty", wanted.expects(), problems
        )
    return value


def schema_of(fields: Iterable[Field]) -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of a table with these fields."""
    listed = tuple(fields)
    return {
        "type": "object",
        "properties": {f.name: _schema_of_field(f) for f in listed},
        "required": [f.name for f in listed if f.required],
        "additionalProperties": False,
    }


def _schema_of_field(wanted: Field) -> dict[str, Any]:
    schema: dict[str, Any]
    if wanted.type in LIST_TYPES:
        one = _schema_of_scalar(wanted, LIST_TYPES[wanted.type])
        schema = {"anyOf": [one, {"type": "array", "items": one}]}
    elif wanted.type == "tables":
        schema = {"type": "array", "items": schema_of(wanted.fields)}
    elif wanted.type == "table":
        schema = schema_of(wanted.fields)
    elif wanted.type == "map":
        schema = {
            "type": "object",
            "propertyNames": {"pattern": f"^{NAME.pattern}$"},
            "additionalProperties": schema_of(wanted.fields),
        }
    elif wanted.type == "pairs":
        schema = {"type": "object"}
    elif wanted.type == "any":
        schema = {}
    else:
        schema = _schema_of_scalar(wanted, wanted.type)
    return {"description": wanted.help, **schema}


def _schema_of_scalar(wanted: Field, type_: str) -> dict[str, Any]:
    if type_ in ("number", "whole"):
        limits: dict[str, Any] = {"type": "number" if type_ == "number" else "integer"}
        if wanted.min is not None:
            limits["minimum"] = wanted.min
        if wanted.max is not None:
            limits["maximum"] = wanted.max
        return limits
    if type_ == "choice":
        return {"enum": list(wanted.choices)}
    if type_ == "yes-no":
        return {"enum": ["yes", "no", True, False]}
    if type_ == "date":
        return {"type": "string", "format": "date"}
    if type_ == "name":
        return {"type": "string", "pattern": f"^{NAME.pattern}$"}
    return {"type": ["string", "number", "boolean"]}
