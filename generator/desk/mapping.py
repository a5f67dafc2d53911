"""How the columns of a stock list become descriptions of units: a file that the dealer writes."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from generator.desk.stock_list import tidy
from generator.problems import Mark, Problems, RefusedError
from generator.read.fields import Field, Record, read_record
from generator.read.tree import Table, Text, parse_tree, read_source

_FIELDS = (
    Field(name="columns", type="any", help="Keys of a unit and the headings", required=True),
    Field(name="constants", type="any", help="Keys of a unit and what they are where not said"),
    Field(name="values", type="any", help="Keys of a unit, with words of the list and ours"),
    Field(name="dates", type="texts", help="Forms of its dates, such as day/month/year"),
    Field(name="prefix", type="text", help="What goes before the name of a unit, such as lt-"),
    Field(name="separator", type="text", help="What stands between several values in a cell"),
    Field(name="decimal_comma", type="yes-no", help="Whether 3,5 is a number"),
    Field(name="heading_row", type="whole", min=1, max=100, help="The row of the headings"),
    Field(name="sheet", type="text", help="The sheet of a workbook"),
)
_KEY = r"[a-z0-9]+(?:[-_][a-z0-9]+)*"
_TARGET = re.compile(
    rf"unit|based_on|title|delivered|without|private(\.{_KEY})+|(vehicle|body)\.{_KEY}"
    rf"|fitted\.{_KEY}\.{_KEY}"
)
_TARGETS_TOLD = (
    "unit, based_on, title, delivered, without, private.<key>, vehicle.<key>, body.<key> or "
    "fitted.<id>.<key>"
)
_HEADING = re.compile(r"\{([^{}]+)\}")
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_PARTS = {
    "day": r"(?P<day>[0-9]{1,2})",
    "monthname": r"(?P<monthname>[A-Za-z]{3,9})\.?",
    "month": r"(?P<month>[0-9]{1,2})",
    "year": r"(?P<year>[0-9]{4})",
    "yy": r"(?P<yy>[0-9]{2})",
}


@dataclass(frozen=True, slots=True)
class Given:
    """A text of the mapping file, and where it stands."""

    text: str
    at: Mark

    def headings(self) -> tuple[str, ...]:
        """Return the headings that a constant takes cells from: `{Model}, stock {Number}`."""
        return tuple(_HEADING.findall(self.text))

    def filled(self, cells: Mapping[str, str]) -> str:
        """Return the constant with its cells put in; nothing where one of them is empty."""
        if not all(cells[heading] for heading in self.headings()):
            return ""
        return _HEADING.sub(lambda match: cells[match[1]], self.text)


@dataclass(frozen=True, slots=True)
class ListMapping:
    """What a mapping file says. Keys are dotted paths in a unit's description."""

    columns: Mapping[str, Given]
    """The heading, by key."""
    constants: Mapping[str, Given]
    values: Mapping[str, Mapping[str, str]]
    """Our word by the list's (lower case, tidy), by key."""
    dates: tuple[re.Pattern[str], ...]
    prefix: str
    separator: str
    decimal_comma: bool
    heading_row: int
    sheet: str

    def wanted(self) -> frozenset[str]:
        """Return the headings that it speaks of."""
        constants = (heading for given in self.constants.values() for heading in given.headings())
        return frozenset((*(given.text for given in self.columns.values()), *constants))

    def day(self, text: str) -> str | None:
        """Return a date of the list as we write it; None where it has none of the forms."""
        for form in self.dates:
            found = form.fullmatch(text)
            if found and (day := _day(found.groupdict())):
                return day.isoformat()
        return None


def read_mapping(path: Path, shown: str) -> ListMapping:
    """Return what a mapping file says.

    Raises:
        RefusedError: there is no such file.
        ProblemsFound: with every mistake in it.
    """
    if not path.is_file():
        raise RefusedError(f"no file {shown}", "a mapping file, as docs_src/WRITING.md tells")
    problems = Problems()
    text = read_source(path, shown, problems)
    table = parse_tree(text, shown, problems) if text is not None else None
    record = read_record(table, _FIELDS, problems) if table else Record(Mark(shown), {})
    columns = _texts(record, "columns", problems)
    if record.has("columns") and "unit" not in columns:
        problems.add(record.mark("columns"), "columns.unit", "missing", "the heading of the names")
    constants = _texts(record, "constants", problems)
    for key, given in constants.items():
        if key == "unit" or key in columns:
            problems.add(given.at, f"constants.{key}", "is a column too", "one of them")
    mapping = ListMapping(
        columns=columns,
        constants=constants,
        values=_values(record, problems),
        dates=_forms(record, problems),
        prefix=record.text("prefix"),
        separator=record.text("separator") or ";",
        decimal_comma=record.flag("decimal_comma"),
        heading_row=int(record.number("heading_row")) or 1,
        sheet=record.text("sheet"),
    )
    problems.stop_if_any()
    return mapping


def _texts(record: Record, name: str, problems: Problems) -> dict[str, Given]:
    node = record.values.get(name)
    if node is None:
        return {}
    if not isinstance(node, Table):
        problems.add(node.at, name, "is not a table", "`key: heading` lines")
        return {}
    texts = {}
    for key, value in node:
        if not _TARGET.fullmatch(key.value):
            problems.add(key.at, f"{name}.{key.value}", "no key of a unit", _TARGETS_TOLD)
        elif not isinstance(value, Text) or not value.value.strip():
            problems.add(value.at, f"{name}.{key.value}", "is not a text", "a text")
        else:
            texts[key.value] = Given(tidy(value.value), value.at)
    return texts


def _values(record: Record, problems: Problems) -> dict[str, dict[str, str]]:
    node = record.values.get("values")
    values: dict[str, dict[str, str]] = {}
    for key, table in node if isinstance(node, Table) else ():
        if not _TARGET.fullmatch(key.value):
            problems.add(key.at, f"values.{key.value}", "no key of a unit", _TARGETS_TOLD)
        elif not isinstance(table, Table):
            problems.add(table.at, f"values.{key.value}", "is not a table", "{their word: ours}")
        else:
            for word, ours in table:
                if isinstance(ours, Text):
                    theirs = tidy(word.value).casefold()
                    values.setdefault(key.value, {})[theirs] = ours.value.strip()
                else:
                    path = f"values.{key.value}.{word.value}"
                    problems.add(ours.at, path, "is not a text", "a text")
    if node is not None and not isinstance(node, Table):
        problems.add(node.at, "values", "is not a table", "`key: {their word: ours}` lines")
    return values


def _forms(record: Record, problems: Problems) -> tuple[re.Pattern[str], ...]:
    """Return patterns of the forms of dates; the year first, as we write it, is always one."""
    forms = [re.compile(f"{_PARTS['year']}-{_PARTS['month']}-{_PARTS['day']}")]
    for form in record.texts("dates"):
        parts = re.split("(day|monthname|month|year|yy)", form)
        words = parts[1::2]
        known = sorted(words) in (
            sorted((a, b, "day")) for a in ("year", "yy") for b in ("month", "monthname")
        )
        if not known or re.search("[A-Za-z0-9]", "".join(parts[::2])):
            right = "such as day/month/year, day.month.yy or day monthname year"
            problems.add(record.mark("dates"), "dates", f"'{form}' is no form of a date", right)
            continue
        forms.append(re.compile("".join(_PARTS.get(part, re.escape(part)) for part in parts)))
    return tuple(forms)


def _day(parts: Mapping[str, str]) -> date | None:
    month = int(parts.get("month") or 0)
    if name := parts.get("monthname"):
        month = _MONTHS.index(name[:3].lower()) + 1 if name[:3].lower() in _MONTHS else 0
    year = int(parts["year"]) if parts.get("year") else 2000 + int(parts["yy"])
    try:
        return date(year, month, int(parts["day"]))
    except ValueError:
        return None
