"""The register: every code ever issued, as committed in `units/register.csv`.

One line an event, oldest first, only ever added to, so that two people's additions merge by
keeping both. A code's last line says how it stands.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from generator.problems import Mark, Problems, one_of
from generator.read.tree import read_source

COLUMNS = ("code", "unit", "sort", "target", "event", "day", "why")
SORTS = ("unit", "place", "task")
EVENTS = ("minted", "printed", "moved", "retired")

LARGEST_REGISTER_BYTES = 100_000_000
"""It only ever grows: a fleet of hundreds of units passes what a hand-written file may hold."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One event in the life of a code."""

    code: str
    unit: str
    sort: str
    target: str
    event: str
    day: str
    why: str
    at: Mark


@dataclass(frozen=True, slots=True)
class Register:
    """All events, and how each code stands now."""

    entries: tuple[Entry, ...]
    latest: Mapping[str, Entry]
    _by_unit: dict[str, list[Entry]] | None = field(default=None, compare=False, repr=False)
    """Made when it is first asked for."""

    def code_for(self, unit: str, sort: str, target: str) -> str | None:
        """Return the code in force for a target, if one was ever minted for it."""
        return next(
            (
                entry.code
                for entry in self.latest.values()
                if (entry.unit, entry.sort, entry.target) == (unit, sort, target)
                and entry.event != "retired"
            ),
            None,
        )

    def of_unit(self, unit: str) -> Register:
        """Return the register with the entries of one unit only."""
        if self._by_unit is None:
            by_unit: dict[str, list[Entry]] = {}
            for entry in self.entries:
                by_unit.setdefault(entry.unit, []).append(entry)
            object.__setattr__(self, "_by_unit", by_unit)
        entries = tuple((self._by_unit or {}).get(unit, ()))
        return Register(entries, {entry.code: entry for entry in entries})


def read_register(root: Path, problems: Problems) -> Register:
    """Return the register; an absent file is an empty one. Damage is noted line by line."""
    path = root / "units" / "register.csv"
    shown = "units/register.csv"
    if not path.exists():
        return Register((), {})
    text = read_source(path, shown, problems, largest_bytes=LARGEST_REGISTER_BYTES)
    if text is None:
        return Register((), {})
    rows: list[tuple[int, list[str]]] = []
    reader = csv.reader(io.StringIO(text))
    try:
        number = 1
        for row in reader:
            rows.append((number, row))
            number = reader.line_num + 1
    except csv.Error as error:
        at = Mark(shown, reader.line_num)
        problems.add(at, "(line)", f"cannot be read ({error})", "restore it from git")
        return Register((), {})
    if not rows or tuple(rows[0][1]) != COLUMNS:
        problems.add(Mark(shown), "(file)", "has no heading line", ",".join(COLUMNS))
        return Register((), {})
    if not text.endswith("\n"):
        problems.add(
            Mark(shown, rows[-1][0]),
            "(file)",
            "ends in the middle of a line",
            "restore it from git",
        )
    entries: list[Entry] = []
    latest: dict[str, Entry] = {}
    for number, row in rows[1:]:
        at = Mark(shown, number)
        if len(row) != len(COLUMNS):
            problems.add(
                at, "(line)", f"has {len(row)} columns", f"{len(COLUMNS)}: {','.join(COLUMNS)}"
            )
            continue
        code, unit, sort, target, event, day, why = row
        entry = Entry(code, unit, sort, target, event, day, why, at)
        if entry.event not in EVENTS:
            problems.add(at, "event", f"is '{entry.event}'", one_of(EVENTS, entry.event))
            continue
        if entry.sort not in SORTS:
            problems.add(at, "sort", f"is '{entry.sort}'", one_of(SORTS, entry.sort))
            continue
        before = latest.get(entry.code)
        if before is not None and entry.event == "minted":
            problems.add(
                at,
                "code",
                f"'{entry.code}' is minted twice",
                f"once; the first is on line {before.at.line}",
            )
            continue
        if before is None and entry.event != "minted":
            problems.add(at, "code", f"'{entry.code}' was never minted", "restore it from git")
            continue
        if before is not None and before.unit != entry.unit:
            problems.add(at, "unit", f"'{entry.code}' belongs to {before.unit}", f"'{before.unit}'")
            continue
        entries.append(entry)
        latest[entry.code] = entry
    return Register(tuple(entries), latest)
