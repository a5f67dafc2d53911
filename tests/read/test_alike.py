"""What was found of a unit is found again for units that are equipped alike, and for no others."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

from generator.read.alike import Alike, in_rows
from generator.read.sources import Sources, read_sources


def test_found_again(small: Sources) -> None:
    """What only one unit has does not matter; any value of its equipment does."""
    unit = small.stock.units["sm-1"]
    other = replace(unit, name="sm-9", title="Another", delivered=date(2026, 1, 2), files=("x",))
    first = unit.fitted[0]
    renamed = replace(unit, fitted=(replace(first, title="Renamed"), *unit.fitted[1:]))
    alike: Alike[str] = Alike()
    assert alike.find(unit) is None
    alike.keep("one", unit)
    alike.keep("two", renamed)
    assert (alike.find(other), alike.find(renamed)) == ("one", "two")
    assert alike.find(replace(unit, prefer=("x",))) is None
    alike.keep("pair", unit, renamed)
    assert alike.find(other, renamed) == "pair"
    assert alike.find(renamed, other) is None
    alike.keep("newer", other)
    assert alike.find(unit) == "newer"


def test_no_more_than_asked(small: Sources) -> None:
    """The oldest is forgotten first."""
    unit = small.stock.units["sm-1"]
    units = [replace(unit, prefer=(str(number),)) for number in range(3)]
    fewer = replace(unit, fitted=unit.fitted[1:])
    alike: Alike[int] = Alike(2)
    for number, one in enumerate((*units, fewer)):
        alike.keep(number, one)
    assert [alike.find(one) for one in (*units, fewer)] == [None, None, 2, 3]


def test_rows(small: Sources) -> None:
    """Units of one model stand together, models in the order in which they came."""
    unit = small.stock.units["sm-1"]
    models = ("b", "a", "b", "a", "c")
    units = [
        replace(unit, name=str(number), files=("x", model)) for number, model in enumerate(models)
    ]
    rows = in_rows(units)
    assert [[one.name for one in row] for row in rows] == [["0", "2"], ["1", "3"], ["4"]]


def test_equal_is_kept_once(workspace: Path, write: Callable[[str, str], Path]) -> None:
    """Units of a model hold the same values, and one's own are its own."""
    for number in (2, 3):
        write(f"units/sm-{number}.yml", f"unit: sm-{number}\nbased_on: small-2\ntitle: Small 2\n")
    write(
        "units/sm-4.yml",
        "unit: sm-4\nbased_on: small-2\ntitle: Small 2\nvehicle: {travels_with_gas: yes}\n"
        "fitted: [{id: toilet, title: Another}]\n",
    )
    units = read_sources(workspace).stock.units
    two, three, own = units["sm-2"], units["sm-3"], units["sm-4"]
    assert two.fitted is three.fitted
    assert two.places is three.places is own.places
    assert own.vehicle["travels_with_gas"] != two.vehicle.get("travels_with_gas")
    titles = {fitting.name: fitting.title for fitting in own.fitted}
    assert titles["toilet"] == "Another"
    assert "Another" not in {fitting.title for fitting in two.fitted}
    same = [a is b for a, b in zip(two.fitted, own.fitted, strict=True)]
    assert same.count(False) == 1
