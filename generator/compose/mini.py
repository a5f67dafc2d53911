"""The small drawing on a sticker whose place could be taken for another: which one this is.

It shows the wall as the reader sees it who stands before it: this place filled, those that it
could be taken for as rings. One drawing unit is a centimetre; black on white, for print.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import dist

from generator.compose.wording import Wording
from generator.read.units import Spot, Unit

NEAR_M = 1.5
"""Nearer than this, two hatches of a wall are seen in one look. Common practice, no source."""

_EDGE = 14
_HERE, _OTHER = 30, 18
_APART = 58
"""Between the middles of the mark and of a ring, so that neither hides the other."""
_GREY = "#b4b4b4"

_ENDS = ("front", "rear")
_SIDES = ("nearside", "offside")


def alike(spot: Spot, spots: Sequence[Spot]) -> tuple[Spot, ...]:
    """Return the places that one could be taken for.

    Those are near it on the same wall outside, or are called by nearly the same words.
    """
    return tuple(
        other
        for other in spots
        if other.name != spot.name and (_near(spot, other) or _called_alike(spot, other))
    )


def _near(one: Spot, other: Spot) -> bool:
    if one.wall != other.wall or one.wall == "inside":
        return False
    across = one.across_m - other.across_m if one.wall in ("floor", "roof") else 0.0
    up = one.up_m - other.up_m if one.wall in (*_ENDS, *_SIDES) else 0.0
    return (one.along_m - other.along_m) ** 2 + across**2 + up**2 < NEAR_M**2


def _called_alike(one: Spot, other: Spot) -> bool:
    """Return whether titles have all words in common but one of each, and two at least."""
    words, others = set(one.title.lower().split()), set(other.title.lower().split())
    common = words & others
    return len(common) >= 2 and max(len(words), len(others)) - len(common) <= 1


def draw_mini(unit: Unit, spot: Spot, others: Sequence[Spot]) -> str:
    """Return the drawing as SVG: the wall that the place is on, or the vehicle from above.

    Of the others only those are drawn that this view shows.
    """
    wall = spot.wall
    body = unit.body
    length, breadth, tall = (100 * m for m in (body.length_m, body.width_m, body.height_m))
    if wall in _ENDS:
        width, height, shape = breadth, tall, _end(breadth, tall)
        # Whoever stands in front of the vehicle has its nearside at the right.
        seen = [
            _seen(s, width, tall, mirrored=wall == "front")
            for s in (spot, *others)
            if s.wall == wall
        ]
    elif wall in _SIDES:
        width, height = length, tall
        mirrored = wall == "offside"
        shape = _side(unit, mirrored=mirrored)
        seen = [_seen(s, width, tall, mirrored=mirrored) for s in (spot, *others) if s.wall == wall]
    else:
        width, height, shape = length, breadth, _above(unit)
        seen = [
            (100 * s.along_m, breadth - 100 * s.across_m)
            for s in (spot, *others)
            if s.wall not in (*_ENDS, *_SIDES)
        ]
    (x, y), *rest = [(min(max(x, 0), width), min(max(y, 0), height)) for x, y in seen]
    rings = "".join(
        f'<circle cx="{ox:.0f}" cy="{oy:.0f}" r="{_OTHER}" fill="#fff"/>'
        for ox, oy in (_pushed((x, y), other) for other in rest)
    )
    pad = _EDGE + _HERE
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{-pad} {-pad} {width + 2 * pad:.0f} '
        f'{height + 2 * pad:.0f}"><g fill="none" stroke="#000" stroke-width="7">{shape}</g>'
        f'<g stroke="#000" stroke-width="10">{rings}</g>'
        f'<circle cx="{x:.0f}" cy="{y:.0f}" r="{_HERE}" fill="#000" stroke="#fff" '
        'stroke-width="8"/></svg>'
    )


def tell_mini(spot: Spot, others: Sequence[Spot], wording: Wording) -> str:
    """Return what the drawing shows, in words."""
    wall = wording(f"locator_{spot.wall}_wall")
    names = ", ".join(other.title for other in others)
    return wording("sticker_which", place=spot.title, wall=wall, others=names)


def _pushed(mark: tuple[float, float], ring: tuple[float, float]) -> tuple[float, float]:
    """Return where a ring is drawn: where it is, or just clear of the mark."""
    far = dist(mark, ring)
    if far >= _APART:
        return ring
    dx, dy = ((ring[0] - mark[0]) / far, (ring[1] - mark[1]) / far) if far else (1.0, 0.0)
    return mark[0] + dx * _APART, mark[1] + dy * _APART


def _seen(spot: Spot, width: float, tall: float, *, mirrored: bool) -> tuple[float, float]:
    x = 100 * spot.along_m
    return (width - x if mirrored else x), tall - 100 * spot.up_m


def _end(breadth: float, tall: float) -> str:
    wheels = "".join(
        f'<rect x="{x:.0f}" y="{tall - 42:.0f}" width="26" height="42" fill="{_GREY}" '
        'stroke="none"/>'
        for x in (16, breadth - 42)
    )
    return f'{wheels}<rect x="0" y="0" width="{breadth:.0f}" height="{tall - 34:.0f}" rx="26"/>'


def _side(unit: Unit, *, mirrored: bool) -> str:
    body = unit.body
    length, tall = 100 * body.length_m, 100 * body.height_m
    wheels = [100 * body.axle_along_m] + ([] if unit.sort == "caravan" else [93.0])
    nose = 34 if unit.sort == "caravan" else 120
    shape = "".join(
        f'<circle cx="{x:.0f}" cy="{tall - 32:.0f}" r="30" fill="{_GREY}" stroke="none"/>'
        for x in wheels
    ) + (f'<path d="M{nose} 0H{length - 20:.0f}q20 0 20 20V{tall - 34:.0f}H0V{tall - 130:.0f}z"/>')
    if body.entrance == ("offside" if mirrored else "nearside"):
        x = 100 * body.entrance_along_m - 32
        shape += f'<path d="M{x:.0f} {tall - 34:.0f}V40h64V{tall - 34:.0f}"/>'
    return f'<g transform="matrix(-1 0 0 1 {length:.0f} 0)">{shape}</g>' if mirrored else shape


def _above(unit: Unit) -> str:
    """Return the outline from above, with an arrow at its front."""
    length, breadth = 100 * unit.body.length_m, 100 * unit.body.width_m
    middle = breadth / 2
    return (
        f'<rect x="0" y="0" width="{length:.0f}" height="{breadth:.0f}" rx="24"/>'
        f'<path d="M26 {middle:.0f}l44 -34v68z" fill="#000"/>'
    )
