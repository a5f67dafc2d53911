"""The register: every code ever issued, as committed in `units/register.csv`.

One line an event, oldest first, only ever added to, so that two people's additions merge by
keeping both. A code's last line says how it stands.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
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
    _codes: Mapping[tuple[str, str, str], str] = field(init=False, repr=False, compare=False)
    _by_unit: Mapping[str, tuple[Entry, ...]] = field(init=False, repr=False, compare=False)
    _by_code: Mapping[str, tuple[Entry, ...]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Index the codes by what they lead to: a register holds a fleet's for fifteen years."""
        codes: dict[tuple[str, str, str], str] = {}
        for code, entry in self.latest.items():
            if entry.event != "retired":
                codes.setdefault((entry.unit, entry.sort, entry.target), code)
        by_unit: dict[str, list[Entry]] = {}
        by_code: dict[str, list[Entry]] = {}
        for entry in self.entries:
            by_unit.setdefault(entry.unit, []).append(entry)
            by_code.setdefault(entry.code, []).append(entry)
        object.__setattr__(self, "_codes", codes)
        object.__setattr__(self, "_by_unit", {unit: tuple(all_) for unit, all_ in by_unit.items()})
        object.__setattr__(self, "_by_code", {code: tuple(all_) for code, all_ in by_code.items()})

    def code_for(self, unit: str, sort: str, target: str) -> str | None:
        """Return the code in force for a target, if one was ever minted for it.

        Of several, as after two people's mints were merged, the one that was minted first.
        """
        return self._codes.get((unit, sort, target))

    def of_unit(self, unit: str) -> Register:
        """Return the register with the entries of one unit only."""
        entries = self._by_unit.get(unit, ())
        return Register(entries, {entry.code: entry for entry in entries})

    def history(self, code: str) -> tuple[Entry, ...]:
        """Return all events of a code, oldest first."""
        return self._by_code.get(code, ())

    def units(self) -> Iterable[str]:
        """Return the names of all units that ever had a code."""
        return self._by_unit.keys()


_MARKER = re.compile(r"(?:<{7}|={7}|>{7}|\|{7})(?: |$)")
"""What git writes into a file that it could not merge."""


def read_register(root: Path, problems: Problems) -> Register:
    """Return the register; an absent file is an empty one. Damage is noted line by line."""
    path = root / "units" / "register.csv"
    shown = "units/register.csv"
    if not path.exists():
        return Register((), {})
    text = read_source(path, shown, problems, largest_bytes=LARGEST_REGISTER_BYTES)
    if text is None:
        return Register((), {})
    for number, line in enumerate(text.split("\n"), 1):
        if _MARKER.match(line):
            problems.add(
                Mark(shown, number),
                "(file)",
                f"holds a merge that was left undone ('{line[:7]}')",
                "keep the lines of both sides, and take out the marker lines",
            )
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
        rows.pop()
    entries: list[Entry] = []
    latest: dict[str, Entry] = {}
    homes: dict[str, Entry] = {}
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
        if entry.sort == "unit" and entry.event in ("moved", "retired"):
            problems.add(
                at, "event", f"'{entry.code}' is a unit's own code", "minted or printed, for ever"
            )
            continue
        home = homes.setdefault(entry.unit, entry) if entry.sort == "unit" else entry
        if home.code != entry.code:
            problems.add(
                at,
                "code",
                f"'{entry.code}' is a second code of {entry.unit}, beside '{home.code}' of line "
                f"{home.at.line}",
                "one of them: take out all lines of the one that is on no printed sticker",
            )
            continue
        entries.append(entry)
        latest[entry.code] = entry
    return Register(tuple(entries), latest)
