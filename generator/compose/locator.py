"""Locator drawings: the vehicle from above and from the side, to scale, a place marked on it.

One drawing unit is a centimetre. The front is at the left; the nearside (left, facing forward) is
then at the lower edge of the view from above. The view from the offside has its front at the right.
Colours come from the page's style, so that the drawings follow its colour scheme.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup, escape

from generator.compose.wording import Wording
from generator.read.units import Body, Spot, Unit

_GAP = 26
"""Space between the two views."""
_EDGE = 16
"""Space around the drawing, so that a mark on the outline is whole."""
_MARK = 15
_DISC = 17
_THUMB_PX = 45
"""A little over the least size of a target (WCAG 2.2, 2.5.5: 44)."""
_NARROWEST_PX = 284
"""How wide a drawing is on the narrowest screen of WCAG 2.2, 1.4.10, 320 pixels, less margins."""
_SHORT_DRAWBAR_M = 0.6
_LABEL = 20
"""Room below the view from above for the word that tells which end is the front."""


def draw_locator(unit: Unit, spot: Spot, wording: Wording) -> Markup:
    """Return the drawing of one place, as SVG with a text alternative."""
    body = unit.body
    frame = _Frame.of(body)
    x, y = frame.plan_point(spot, body)
    side = "offside" if spot.wall == "offside" else "nearside"
    side_x = frame.side_x(spot, body, mirrored=side == "offside")
    up = spot.up_m or body.height_m / 2
    side_y = frame.ground - 100 * min(up, body.height_m)
    inside = " in" if spot.wall == "inside" else ""
    picture = (
        f'<g class="v">{_plan(unit.sort, unit.body, frame)}</g>'
        f'<circle class="m{inside}" cx="{x:.0f}" cy="{y:.0f}" r="{_MARK}"/>'
        f'<g class="v">{_side(unit.sort, unit.body, frame, mirrored=side == "offside")}</g>'
        f'<circle class="m{inside}" cx="{side_x:.0f}" cy="{side_y:.0f}" r="{_MARK}"/>'
    )
    return Markup(  # noqa: S704 - all that is not ours in it has been escaped
        f'<svg class="locator" viewBox="0 0 {frame.width:.0f} {frame.height:.0f}" '
        f'width="{frame.width:.0f}" height="{frame.height:.0f}" role="img" '
        f'aria-label="{escape(describe_place(spot, wording))}">{picture}</svg>'
    )


def describe_place(spot: Spot, wording: Wording) -> str:
    """Return where a place is, in words."""
    key = "locator_alt_end" if spot.wall in ("front", "rear") else "locator_alt"
    return wording(
        key, place=spot.title, wall=wording(f"locator_{spot.wall}_wall"), along=f"{spot.along_m:g}"
    )


def draw_map(
    unit: Unit,
    spots: Sequence[Spot],
    links: Mapping[str, str],
    wording: Wording,
    *,
    upright: bool = False,
) -> Markup:
    """Return the view from above with every place numbered in order, each a link.

    `upright` has the front at the top, as a phone is held, and discs for thumbs: where the drawing
    is shown `_NARROWEST_PX` wide, each measures `_THUMB_PX` across.
    """
    body = unit.body
    if upright:
        # Nothing is fitted along a drawbar, and a phone's screen is only so long.
        body = replace(body, drawbar_m=min(body.drawbar_m, _SHORT_DRAWBAR_M))
    frame = _Frame.of(body)
    across = frame.plan_bottom + _EDGE
    disc, rim = float(_DISC), 0.0
    if upright:
        # Discs on the walls stand out by their radius r: (2 r + 2 + breadth) is the whole width.
        disc = _THUMB_PX / 2 * (frame.breadth + 2) / (_NARROWEST_PX - _THUMB_PX)
        rim = disc + 1 - _EDGE
    points = [frame.plan_point(spot, body) for spot in spots]
    limits = (disc - rim, frame.width + rim - disc, disc - rim, across + rim - disc)
    points = _spread(points, 2.05 * disc if upright else 2.25 * disc, limits)
    if upright:
        points = [(across - y, x) for x, y in points]
    marks = "".join(
        f'<a href="{escape(links[spot.name])}" aria-label="{number}: {escape(spot.title)}">'
        f'<circle class="n{" in" if spot.wall == "inside" else ""}" cx="{x:.0f}" cy="{y:.0f}" '
        f'r="{disc:.4g}"/><text x="{x:.0f}" y="{y + 0.36 * disc:.0f}">{number}</text></a>'
        for number, (spot, (x, y)) in enumerate(zip(spots, points, strict=True), 1)
    )
    front = escape(wording("locator_front"))
    if upright:
        box = (-rim, -rim - _LABEL, across + 2 * rim, frame.width + 2 * rim + _LABEL)
        turned = f' transform="matrix(0 1 -1 0 {across:.0f} 0)"'
        word = f'x="{-rim + 2:.0f}" y="{-rim:.0f}">\u25b2 {front}'
    else:
        box = (0, 0, frame.width, across + _LABEL)
        turned = ""
        word = f'x="{_EDGE}" y="{across + _LABEL - 6:.0f}">\u25c0 {front}'
    return Markup(  # noqa: S704 - all that is not ours in it has been escaped
        f'<svg class="map" viewBox="{" ".join(f"{side:.0f}" for side in box)}" '
        f'width="{box[2]:.0f}" height="{box[3]:.0f}" role="group" '
        f'aria-label="{escape(wording("map_alt"))}">'
        f'<g class="v"{turned}>{_plan(unit.sort, body, frame)}</g>'
        f'<text class="f" {word}</text>{marks}</svg>'
    )


@dataclass(frozen=True, slots=True)
class View:
    """The vehicle from one side, and where on the drawing a point of it lies, in centimetres.

    Along the vehicle it is `left` and the distance from the front, counted from the right edge
    where the view is mirrored; the other way it is `base` less the distance from there.
    """

    name: str
    """`plan`, `nearside` or `offside`."""
    svg: Markup
    """What stands within the `<svg>` element."""
    width: int
    height: int
    left: int
    base: int
    span: int
    """How long the vehicle's body is on it."""
    rise: int
    """How wide the body is on it, or how high above the ground."""
    mirrored: bool = False


def draw_views(sort: str, body: Body) -> tuple[View, ...]:
    """Return the vehicle from above and from both sides, each a drawing of its own."""
    frame = _Frame.of(body)
    top = frame.plan_bottom + _GAP - _EDGE  # of the view from the side, on a locator drawing

    def view(name: str, shapes: str, up: float, height: float, base: float) -> View:
        moved = f'<g class="v" transform="translate(0 {-up:.0f})">{shapes}</g>'
        return View(
            name,
            Markup(moved),  # noqa: S704 - our own drawing
            width=round(frame.width),
            height=round(height),
            left=round(frame.left),
            base=round(base),
            span=round(frame.length),
            rise=round(frame.breadth if name == "plan" else 100 * body.height_m),
            mirrored=name == "offside",
        )

    sides = [
        view(
            name,
            _side(sort, body, frame, mirrored=name == "offside"),
            top,
            frame.height - top,
            frame.ground - top,
        )
        for name in ("nearside", "offside")
    ]
    above = frame.plan_bottom
    return (view("plan", _plan(sort, body, frame), 0, above + _EDGE, above), *sides)


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where the two views lie on the drawing."""

    width: float
    height: float
    left: float
    top: float
    length: float
    breadth: float
    ground: float
    drawbar: float

    @classmethod
    def of(cls, body: Body) -> _Frame:
        drawbar, length = 100 * body.drawbar_m, 100 * body.length_m
        breadth, tall = 100 * body.width_m, 100 * body.height_m
        ground = _EDGE + breadth + _GAP + tall
        return cls(
            width=2 * _EDGE + drawbar + length,
            height=ground + _EDGE,
            left=_EDGE + drawbar,
            top=_EDGE,
            length=length,
            breadth=breadth,
            ground=ground,
            drawbar=drawbar,
        )

    @property
    def plan_bottom(self) -> float:
        return self.top + self.breadth

    @property
    def middle(self) -> float:
        return self.top + self.breadth / 2

    def plan_point(self, spot: Spot, body: Body) -> tuple[float, float]:
        along, across = 100 * spot.along_m, 100 * spot.across_m
        if spot.wall in ("front", "rear"):
            across = 100 * spot.along_m
            along = 0 if spot.wall == "front" else self.length
        elif spot.wall == "nearside":
            across = 0
        elif spot.wall == "offside":
            across = self.breadth
        return self.left + along, self.plan_bottom - across

    def side_x(self, spot: Spot, body: Body, *, mirrored: bool) -> float:
        along = {"front": 0.0, "rear": self.length}.get(spot.wall, 100 * spot.along_m)
        x = self.left + along
        return self.width - x if mirrored else x


def _plan(sort: str, body: Body, frame: _Frame) -> str:
    left, top, length, breadth = frame.left, frame.top, frame.length, frame.breadth
    middle, axle = frame.middle, frame.left + 100 * body.axle_along_m
    shapes = [
        f'<rect x="{axle - 33:.0f}" y="{y:.0f}" width="66" height="20" rx="5" class="w"/>'
        for y in (top + 3, frame.plan_bottom - 23)
    ]
    if sort == "caravan":
        tip = left - frame.drawbar
        shapes.append(
            f'<path d="M{left:.0f} {middle - 55:.0f}L{tip + 14:.0f} {middle:.0f}'
            f'L{left:.0f} {middle + 55:.0f}M{tip:.0f} {middle:.0f}h22"/>'
        )
        outline = _rounded(left, top, length, breadth, 26, 20)
    else:
        shapes += [
            f'<rect x="{left + 62:.0f}" y="{y:.0f}" width="62" height="20" rx="5" class="w"/>'
            for y in (top + 3, frame.plan_bottom - 23)
        ]
        outline = _rounded(left, top, length, breadth, 60, 16)
        shapes.append(
            f'<path d="M{left + 105:.0f} {top + 12:.0f}q-34 {breadth / 2 - 12:.0f} 0 '
            f'{breadth - 24:.0f}"/>'
        )
    door = 100 * body.entrance_along_m
    door_y = {"nearside": frame.plan_bottom, "offside": top}.get(body.entrance)
    if door_y is not None:
        shapes.append(f'<path class="d" d="M{left + door - 32:.0f} {door_y:.0f}h64"/>')
    else:
        shapes.append(f'<path class="d" d="M{left + length:.0f} {middle - 32:.0f}v64"/>')
    return f'<path class="b" d="{outline}"/>' + "".join(shapes)


def _rounded(x: float, y: float, w: float, h: float, front: float, rear: float) -> str:
    return (
        f"M{x + front:.0f} {y:.0f}H{x + w - rear:.0f}q{rear:.0f} 0 {rear:.0f} {rear:.0f}"
        f"V{y + h - rear:.0f}q0 {rear:.0f} {-rear:.0f} {rear:.0f}H{x + front:.0f}"
        f"q{-front:.0f} 0 {-front:.0f} {-front:.0f}V{y + front:.0f}q0 {-front:.0f} "
        f"{front:.0f} {-front:.0f}z"
    )


def _side(sort: str, body: Body, frame: _Frame, *, mirrored: bool) -> str:
    tall, ground = 100 * body.height_m, frame.ground
    left, right = frame.left, frame.left + frame.length
    axle = left + 100 * body.axle_along_m
    roof, sill = ground - tall, ground - 38
    wheels = [axle]
    if sort == "caravan":
        tip = left - frame.drawbar
        outline = (
            f"M{left + 34:.0f} {roof:.0f}H{right - 20:.0f}q20 0 20 20V{sill:.0f}H{left:.0f}"
            f"V{ground - 120:.0f}z"
        )
        extra = (
            f'<path d="M{left:.0f} {sill - 6:.0f}H{tip + 8:.0f}m-4 -6a6 6 0 1 0 .1 0'
            f"M{tip + 36:.0f} {sill - 30:.0f}V{ground - 12:.0f}"
            'm-9 4a9 9 0 1 0 18 0a9 9 0 1 0 -18 0"/>'
        )
    else:
        wheels.append(left + 93)
        bonnet = ground - 105
        outline = (
            f"M{left:.0f} {sill:.0f}V{bonnet + 12:.0f}q2 -12 14 -14"
            f"L{left + 62:.0f} {bonnet - 10:.0f}L{left + 128:.0f} {roof + 6:.0f}q8 -6 20 -6"
            f"H{right - 12:.0f}q12 0 12 14V{sill:.0f}z"
        )
        extra = (
            f'<path d="M{left + 84:.0f} {bonnet - 14:.0f}L{left + 134:.0f} {roof + 22:.0f}h34'
            f'V{bonnet - 14:.0f}z"/>'
        )
    tyres = "".join(
        f'<circle cx="{x:.0f}" cy="{ground - 33:.0f}" r="33" class="w"/>' for x in wheels
    )
    door = ""
    if body.entrance == ("offside" if mirrored else "nearside"):
        x = left + 100 * body.entrance_along_m - 32
        door = f'<path class="d" d="M{x:.0f} {sill:.0f}V{roof + 34:.0f}h64V{sill:.0f}"/>'
    shapes = f'<path class="b" d="{outline}"/>{extra}{door}{tyres}'
    line = f'<path class="g" d="M{_EDGE / 2:.0f} {ground:.0f}H{frame.width - _EDGE / 2:.0f}"/>'
    if mirrored:
        shapes = f'<g transform="matrix(-1 0 0 1 {frame.width:.0f} 0)">{shapes}</g>'
    return shapes + line


def _spread(
    points: list[tuple[float, float]], apart: float, limits: tuple[float, float, float, float]
) -> list[tuple[float, float]]:
    """Return the points moved until no two are nearer than `apart`, each as little as can be.

    `limits` are the least and greatest x, and the least and greatest y.
    """
    moved = [list(point) for point in points]
    left, right, top, bottom = limits
    for _ in range(400):
        clash = False
        for i in range(len(moved)):
            for j in range(i):
                dx, dy = moved[i][0] - moved[j][0], moved[i][1] - moved[j][1]
                far = (dx * dx + dy * dy) ** 0.5
                if far < apart:
                    clash = True
                    if far < 0.01:
                        dx, dy, far = 1.0, 0.3 * (i - j), (1 + 0.09 * (i - j) ** 2) ** 0.5
                    push = (apart - far) / 2 + 0.2
                    for k, sign in ((i, 1), (j, -1)):
                        moved[k][0] += sign * push * dx / far
                        moved[k][1] += sign * push * dy / far
        for point in moved:
            point[0] = min(max(point[0], left), right)
            point[1] = min(max(point[1], top), bottom)
        if not clash:
            break
    return [(x, y) for x, y in moved]
