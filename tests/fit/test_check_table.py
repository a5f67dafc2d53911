"""What a check tells of each unit: whether it is complete, and if not, how much is missing."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from generator.cli import telling

Write = Callable[[str, str], Path]
Run = Callable[..., str]

UNIT = "unit: {name}\nbased_on: small-2\ntitle: {name}\n"
SHELF = (
    "places:\n"
    "  roof: {title: Roof, wall: roof, along_m: 1}\n"
    "  shelf: {title: Shelf, wall: inside, along_m: 1}\n"
    "fitted:\n  - {id: shelf, kind: shelf, place: shelf}\n"
)


@pytest.fixture(autouse=True)
def stock(write: Write) -> None:
    """Have units that are complete, one with a place of no use, and one with more."""
    write(
        "docs_src/kinds/shelf.yml",
        "kind: shelf\ntitle: Shelf\narea: living\nabout: Holds books.\n",
    )
    write("units/sm-2.yml", UNIT.format(name="sm-2") + SHELF)
    write("units/sm-3.yml", UNIT.format(name="sm-3"))


def table(told: str) -> list[list[str]]:
    """Return the rows of the table of units: name and state."""
    lines = told.splitlines()
    first = next(n for n, line in enumerate(lines) if line.startswith("unit  "))
    end = next(n for n, line in enumerate(lines) if " complete, " in line and " units: " in line)
    width = lines[first].index("tasks")
    return [line[:width].split(maxsplit=1) for line in lines[first + 1 : end]]


def test_each_unit_has_its_state(lockerleaf: Run) -> None:
    """The table comes after the remarks; a line counts its rows."""
    told = lockerleaf("check")
    assert [[name, state.strip()] for name, state in table(told)] == [
        ["sm-1", "complete"],
        ["sm-2", "2 missing, 1 warning"],
        ["sm-3", "complete"],
    ]
    assert told.rindex("sm-2: no task is done") < told.index("\nunit  ")
    assert (
        "3 units: 2 complete, 1 with something missing, 0 with warnings; "
        "interlocks and routines are proven\n"
    ) in told


def test_of_many_only_those_with_gaps(
    write: Write, lockerleaf: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A long stock is not listed: only what is not complete, and of that not more than fits."""
    monkeypatch.setattr(telling, "MOST_LISTED", 2)
    assert [row[0] for row in table(lockerleaf("check"))] == ["sm-2"]
    for name in ("sm-4", "sm-5", "sm-6"):
        write(f"units/{name}.yml", UNIT.format(name=name) + SHELF)
    told = lockerleaf("check")
    assert [row[0] for row in table(told)] == ["sm-2", "sm-4", "…"]
    assert "… and 2 more that are not complete\n6 units: 2 complete, 4 with" in told


def test_none_with_gaps_needs_no_table(lockerleaf: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where a long stock is complete, a line says so."""
    monkeypatch.setattr(telling, "MOST_LISTED", 1)
    told = lockerleaf("check", "sm-1", "sm-3")
    assert "unit  " not in told
    assert "2 units: 2 complete, 0 with something missing, 0 with warnings; " in told


def test_other_programs_are_told_the_same(lockerleaf: Run) -> None:
    """JSON has all units, and the same counts."""
    told = json.loads(lockerleaf("check", "--format", "json"))
    assert [(u["unit"], u["state"], u["missing"], u["warnings"]) for u in told["units"]] == [
        ("sm-1", "complete", 0, 0),
        ("sm-2", "missing", 2, 1),
        ("sm-3", "complete", 0, 0),
    ]
    assert {remark["unit"] for remark in told["remarks"]} == {"", "sm-2"}


def test_the_status_tells_the_same(lockerleaf: Run) -> None:
    """Its last column has the same words."""
    (line,) = [one for one in lockerleaf("status").splitlines() if one.startswith("sm-2 ")]
    assert line.endswith("  2 missing, 1 warning")
