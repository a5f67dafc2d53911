"""Hatches that look alike, and the small drawing that tells them apart."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import combinations
from math import dist
from xml.etree import ElementTree

import pytest

from generator.compose.mini import NEAR_M, alike, draw_mini
from generator.read.sources import Sources
from generator.read.units import Spot, Unit


@pytest.fixture
def unit(demo: Sources) -> Unit:
    """Return a caravan."""
    return demo.stock.units["lt-2107"]


def spot(unit: Unit, title: str, wall: str, along_m: float, up_m: float = 1.0) -> Spot:
    """Return a place of a unit."""
    any_spot = next(iter(unit.places.values()))
    name = title.lower().replace(" ", "-")
    return replace(
        any_spot, name=name, title=title, wall=wall, along_m=along_m, across_m=1, up_m=up_m
    )


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        (("Water inlet", "nearside", 1.0), ("Flue", "nearside", 2.4), True),
        (("Water inlet", "nearside", 1.0), ("Flue", "nearside", 2.6), False),
        (("Water inlet", "nearside", 1.0), ("Flue", "offside", 1.0), False),
        (("Gas locker", "rear", 1.0, 0.2), ("Ladder", "rear", 1.0, 1.8), False),
        (("Bed", "inside", 1.0), ("Table", "inside", 1.0), False),
        (("Nearside seat locker", "inside", 1.0), ("Offside seat locker", "inside", 1.0), True),
        (("Mains inlet", "offside", 0.5), ("Mains water inlet", "nearside", 4.0), True),
        (("Rear cupboard", "inside", 5.0), ("Rear steadies", "floor", 5.0), False),
    ],
)
def test_alike(
    unit: Unit, one: tuple[str, str, float], other: tuple[str, str, float], expected: bool
) -> None:
    """Near on the same wall outside, or called by nearly the same words."""
    a, b = spot(unit, *one), spot(unit, *other)
    assert (alike(a, [a, b]), alike(b, [a, b])) == (((b,), (a,)) if expected else ((), ()))


def marks(svg: str) -> tuple[tuple[float, float], list[tuple[float, float]], tuple[float, float]]:
    """Return the filled mark, the rings, and the width and height of a drawing without its edge."""
    root = ElementTree.fromstring(svg)
    left, top, width, height = (float(n) for n in root.attrib["viewBox"].split())
    found = {
        fill: [
            (float(circle.attrib["cx"]), float(circle.attrib["cy"]))
            for circle in root.iter("{http://www.w3.org/2000/svg}circle")
            if circle.attrib["fill"] == fill
        ]
        for fill in ("#000", "#fff")
    }
    ((x, y),) = found["#000"]
    return (x, y), found["#fff"], (width + 2 * left, height + 2 * top)


@pytest.mark.parametrize(
    ("wall", "front_is"), [("nearside", "left"), ("offside", "right"), ("floor", "left")]
)
def test_front_is_where_the_reader_sees_it(unit: Unit, wall: str, front_is: str) -> None:
    """Who looks at the offside has the front at the right; at the nearside, at the left."""
    ahead, behind = spot(unit, "A", wall, 1.0), spot(unit, "B", wall, 2.2)
    (x, _), ((other, _),), (width, _) = marks(draw_mini(unit, ahead, [behind]))
    assert (x < other) == (front_is == "left")
    assert width == pytest.approx(100 * unit.body.length_m, abs=1)


@pytest.mark.parametrize(("wall", "nearside_is"), [("front", "right"), ("rear", "left")])
def test_ends_are_seen_from_outside(unit: Unit, wall: str, nearside_is: str) -> None:
    """Who stands before the front has the nearside at the right; behind the rear, at the left."""
    near = spot(unit, "A", wall, 0.3)
    (x, _), _, (width, _) = marks(draw_mini(unit, near, []))
    assert (x < width / 2) == (nearside_is == "left")


def test_higher_is_higher(unit: Unit) -> None:
    """Of two hatches above each other, the higher is drawn higher, and neither hides the other."""
    low, high = spot(unit, "A", "rear", 1.0, 0.5), spot(unit, "B", "rear", 1.0, 0.6)
    mark, (ring,), _ = marks(draw_mini(unit, low, [high]))
    assert ring[1] < mark[1]
    assert dist(mark, ring) >= 48


def test_demo_stickers_that_could_be_confused_have_a_drawing(demo: Sources) -> None:
    """In every demo unit, of two near hatches of a wall each drawing marks its own place."""
    seen = 0
    for unit in demo.stock.units.values():
        outside = [s for s in unit.places.values() if s.wall in ("nearside", "offside")]
        for one, other in combinations(outside, 2):
            if one.wall != other.wall or abs(one.along_m - other.along_m) >= NEAR_M / 2:
                continue
            if abs(one.up_m - other.up_m) >= NEAR_M / 2:
                continue
            seen += 1
            drawings = [draw_mini(unit, spot, alike(spot, outside)) for spot in (one, other)]
            assert drawings[0] != drawings[1]
            assert not any(re.search("nan|None", drawing) for drawing in drawings)
    assert seen > 10
