"""Make or update many units from a stock list. What is planned is read and found good first."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from generator.desk.editing import Draft, Plain, UneditableError, parse_path
from generator.desk.mapping import ListMapping
from generator.desk.stock_list import Cell, StockList
from generator.desk.writing import Write
from generator.problems import Mark, Problem, Problems, ProblemsFound, one_of
from generator.read.fields import LIST_TYPES, NAME
from generator.read.kinds import Kind
from generator.read.layers import model_names
from generator.read.sources import read_sources
from generator.read.tree import parse_tree, read_source
from generator.read.units import unit_names

_ORDER = ("based_on", "title", "private", "delivered", "body", "vehicle", "fitted", "without")
"""In which order a new description says things."""


@dataclass(frozen=True, slots=True)
class Change:
    """A value that the list changes in a unit."""

    key: str
    before: str
    """Empty where the unit did not say it."""
    after: str


@dataclass(frozen=True, slots=True)
class UnitChange:
    """What the list changes in one unit; `new` units have no file yet."""

    unit: str
    new: bool
    changes: tuple[Change, ...]


@dataclass(frozen=True, slots=True)
class ImportPlan:
    """What an import will do."""

    units: tuple[UnitChange, ...]
    writes: tuple[Write, ...]
    same: int
    """How many units of the list are as it says."""
    unlisted: tuple[str, ...]
    """Units that the list does not have."""


@dataclass(frozen=True, slots=True)
class _Source:
    """Where a value is from: a cell of the list, or a line of the mapping file."""

    at: Mark
    name: str


@dataclass(slots=True)
class _Planned:
    """One unit of the list, in the making."""

    name: str
    row: _Source
    draft: Draft
    before: bytes | None
    marked: bool = False
    """Whether its file begins with a byte order mark."""
    baseless: bool = False
    """Whether its model is not known, so that nothing else of it can be read."""
    changes: list[Change] = field(default_factory=list)
    sources: dict[str, _Source] = field(default_factory=dict)


def plan_import(
    root: Path, found: StockList, mapping: ListMapping, problems: Problems
) -> ImportPlan:
    """Return what a stock list changes in the units of a workspace.

    A value of a column goes over what a unit says; a constant only where it says nothing. Empty
    cells change nothing, and `without` is only added to.

    Args:
        root: The workspace.
        found: The list.
        mapping: How its columns are to be taken.
        problems: What was noted while the list was read.

    Raises:
        ProblemsFound: with every mistake, by row and column.
    """
    kinds = read_sources(root, only=()).library.kinds
    columns = _columns(found, mapping, problems)
    reader = _RowReader(root, found, mapping, columns, kinds, problems)
    planned = [one for row in found.rows if (one := reader.read(row)) is not None]
    changed = [one for one in planned if one.changes or one.before is None]
    problems.found += _problems_of(root, [one for one in changed if not one.baseless])
    problems.stop_if_any()
    names = {one.name for one in planned}
    return ImportPlan(
        units=tuple(UnitChange(o.name, o.before is None, tuple(o.changes)) for o in changed),
        writes=tuple(
            Write(root / "units" / f"{one.name}.yml", one.before, _encoded(one)) for one in changed
        ),
        same=len(planned) - len(changed),
        unlisted=tuple(sorted(unit_names(root) - names)),
    )


def _encoded(one: _Planned) -> bytes:
    return one.draft.text.encode("utf-8-sig" if one.marked else "utf-8")


def _columns(found: StockList, mapping: ListMapping, problems: Problems) -> dict[str, int]:
    """Return the index of each heading that the mapping speaks of."""
    wanted = [(f"columns.{key}", given.text, given.at) for key, given in mapping.columns.items()]
    for key, given in mapping.constants.items():
        wanted += [(f"constants.{key}", heading, given.at) for heading in given.headings()]
    columns = {}
    before = len(problems.found)
    for key, heading, at in wanted:
        index = found.column(heading)
        if index is None:
            headings = [cell.text for cell in found.headings if cell.text]
            problems.add(
                at, key, f"no column '{heading}' in {found.shown}", one_of(headings, heading)
            )
            continue
        twins = [c for c in found.headings if c.text.casefold() == heading.casefold()]
        for twin in twins[1:]:
            wrong = f"a second column '{twin.text}'"
            problems.add(found.at(twin), twin.name, wrong, "one column of that name")
        columns[heading] = index
    if len(problems.found) > before:
        problems.stop_if_any()
    return columns


class _RowReader:
    """Turns rows of the list into drafts of units."""

    def __init__(
        self,
        root: Path,
        found: StockList,
        mapping: ListMapping,
        columns: Mapping[str, int],
        kinds: Mapping[str, Kind],
        problems: Problems,
    ) -> None:
        self.root = root
        self.found = found
        self.mapping = mapping
        self.columns = columns
        self.problems = problems
        self.types = {f.name: f.type for kind in kinds.values() for f in kind.attributes}
        self.models = model_names(root)
        self.first: dict[str, Cell] = {}

    def read(self, row: Sequence[Cell]) -> _Planned | None:
        """Return what a row makes of its unit; None after noting why it cannot be."""
        name = self._name(row)
        if name is None:
            return None
        cell = row[self.columns[self.mapping.columns["unit"].text]]
        planned = self._begin(name, _Source(self.found.at(cell), self._told(cell)))
        if planned is None:
            return None
        given = dict(self._cells(row))
        named = {key.split(".")[1] for key in self.mapping.columns if key.startswith("fitted.")}
        said = {key.split(".")[1] for key in given if key.startswith("fitted.")}
        for key, constant in self.mapping.constants.items():
            cells = {h: row[self.columns[h]].text for h in constant.headings()}
            text = constant.filled(cells)
            # What is constant about a fitting is so where the list says that the unit has it.
            absent = key.startswith("fitted.") and key.split(".")[1] in named - said
            if text and not absent and planned.draft.get(parse_path(key)) is None:
                given[key] = (text, _Source(constant.at, f"constants.{key}"))
        if planned.before is None and "based_on" not in given:
            self._missing_model(row, planned)
            return None
        planned.baseless = "based_on" in given and given["based_on"][0] not in self.models
        for key in sorted(given, key=lambda key: _ORDER.index(key.split(".")[0])):
            self._put(planned, key, *given[key])
        return planned

    def _told(self, cell: Cell) -> str:
        return f"{cell.name} {self.found.headings[cell.column - 1].text}"

    def _note(self, cell: Cell, wrong: str, right: str) -> None:
        self.problems.add(self.found.at(cell), self._told(cell), wrong, right)

    def _name(self, row: Sequence[Cell]) -> str | None:
        cell = row[self.columns[self.mapping.columns["unit"].text]]
        text = self.mapping.values.get("unit", {}).get(cell.text.casefold(), cell.text)
        name = re.sub("[^0-9a-z]+", "-", f"{self.mapping.prefix}{text}".lower()).strip("-")
        if not text:
            self._note(cell, "is empty in a row that is not", "the name of a unit")
        elif not re.search("[0-9A-Za-z]", text):
            self._note(cell, f"is '{text}'", "a name of a unit: letters and figures")
        elif not NAME.fullmatch(name) or len(name) > 60 or name == "dealer" or name in self.models:
            wrong = f"makes the name '{name}'" + (" of a model" if name in self.models else "")
            self._note(cell, wrong, "a name of a unit: letters and figures")
        elif name in self.first:
            right = f"one row a unit; the first is row {self.first[name].row}"
            self._note(cell, f"a second row of {name}", right)
        else:
            self.first[name] = cell
            return name
        return None

    def _begin(self, name: str, row: _Source) -> _Planned | None:
        path, shown = self.root / "units" / f"{name}.yml", f"units/{name}.yml"
        if not path.exists():
            return _Planned(name, row, Draft(f"unit: {name}\n"), None)
        before = len(self.problems.found)
        text = read_source(path, shown, self.problems)
        if text is not None:
            parse_tree(text, shown, self.problems)
        if len(self.problems.found) > before:
            return None
        raw = path.read_bytes()
        draft = Draft(raw.decode("utf-8-sig"))
        return _Planned(name, row, draft, raw, marked=raw.startswith(b"\xef\xbb\xbf"))

    def _missing_model(self, row: Sequence[Cell], planned: _Planned) -> None:
        given = self.mapping.columns.get("based_on")
        right = f"the model of a new unit: {one_of(self.models)}"
        if given is not None:
            self._note(row[self.columns[given.text]], "is empty", right)
        else:
            self.problems.add(planned.row.at, planned.row.name, "says no model", right)

    def _cells(self, row: Sequence[Cell]) -> Iterator[tuple[str, tuple[str, _Source]]]:
        """Yield what the columns say of a row, in our words; empty cells say nothing."""
        for key, given in self.mapping.columns.items():
            cell = row[self.columns[given.text]]
            text = self.mapping.values.get(key, {}).get(cell.text.casefold(), cell.text)
            if key == "unit" or not text:
                continue
            type_ = self._type_of(key)
            if key == "based_on" and text not in self.models:
                self._note(cell, f"no model '{text}'", f"{one_of(self.models, text)}")
            elif type_ == "date":
                day = self.mapping.day(text)
                if day is None:
                    right = "a date such as 2026-04-11, or one of the mapping's forms (dates)"
                    self._note(cell, f"is '{text:.40}'", right)
                    continue
                text = day
            elif self.mapping.decimal_comma and type_ in ("number", "numbers"):
                text = re.sub(r"(?<=[0-9]),(?=[0-9])", ".", text)
            yield key, (text, _Source(self.found.at(cell), self._told(cell)))

    def _type_of(self, key: str) -> str:
        if key == "delivered":
            return "date"
        last = key.split(".")[-1]
        if key.startswith("body."):
            return "number"
        return self.types.get(last, "text") if key.startswith(("vehicle.", "fitted.")) else "text"

    def _put(self, planned: _Planned, key: str, text: str, source: _Source) -> None:
        path, draft = parse_path(key), planned.draft
        several = key == "without" or self._type_of(key) in LIST_TYPES
        parts = [part.strip() for part in text.split(self.mapping.separator) if part.strip()]
        before = draft.get(path)
        try:
            if key == "without":
                changed = draft.add_items(path, parts)
            elif several and (len(parts) > 1 or isinstance(before, list)):
                changed = draft.set(path, parts)
            else:
                changed = draft.set(path, text)
        except UneditableError as error:
            right = f"take it out of units/{planned.name}.yml, or write it there by hand"
            self.problems.add(source.at, source.name, str(error), right)
            return
        planned.sources[key] = source
        if changed:
            planned.changes.append(Change(key, _shown(before), _shown(draft.get(path))))


def _shown(value: Plain | None) -> str:
    if isinstance(value, list):
        return f"[{', '.join(_shown(item) for item in value)}]"
    return "" if value is None else str(value)


def _problems_of(root: Path, planned: Sequence[_Planned]) -> list[Problem]:
    """Read what the units would be; return what is wrong with them, where the list says it."""
    drafts = {one.name: one.draft.text.replace("\r\n", "\n") for one in planned}
    by_path = {f"units/{one.name}.yml": one for one in planned}
    try:
        read_sources(root, only=drafts, drafts=drafts)
    except ProblemsFound as error:
        return [
            _at_its_source(problem, by_path[problem.at.path])
            if problem.at.path in by_path
            else problem
            for problem in error.problems
        ]
    return []


def _at_its_source(problem: Problem, one: _Planned) -> Problem:
    """Return a problem of a description as one of the cell that it is from."""
    last = re.sub(r"\[[0-9]+\]$", "", problem.key).split(".")[-1]
    for key, source in one.sources.items():
        path = parse_path(key)
        lines = {line for line, _ in one.draft.marks(path)}
        exact = (problem.at.line, problem.at.column) in one.draft.marks(path)
        if exact or (path[-1] == last and problem.at.line in lines):
            return Problem(
                source.at, source.name, f"{one.name}: {key} {problem.wrong}", problem.right
            )
    wrong = f"{one.name}: {problem.key} {problem.wrong}"
    return Problem(one.row.at, one.row.name, wrong, problem.right)
