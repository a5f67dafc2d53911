"""Plots of numbers as SVG with a text alternative. Colours come from the page's style.

A drawing is 360 units wide, as wide as a phone's column, so that its text stays legible there.
Lines differ by their dashes and bars by their letters, so that nothing hangs on colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

WIDTH = 360
COLOURS = 6
"""How many fills the style has; further parts begin again, and are told apart by letter."""

_BAR = 34
_LIMIT_BAR = 24
_HEIGHT = 250
_LEFT, _RIGHT, _TOP, _BOTTOM = 40, 92, 12, 42
_LABEL = 17
"""Least distance between two labels, so that they do not touch."""


@dataclass(frozen=True, slots=True)
class Part:
    """One part of a stacked bar: its letter and its size in the bar's own measure."""

    letter: str
    size: float
    colour: int


@dataclass(frozen=True, slots=True)
class Line:
    """A line of a chart with the label at its end."""

    label: str
    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Axis:
    """An axis: where it begins and ends, its marks, and what it measures."""

    low: float
    high: float
    marks: tuple[float, ...]
    label: str

    def at(self, value: float) -> float:
        """Return where a value lies, from 0 to 1."""
        return (value - self.low) / (self.high - self.low)


def stacked_bar(parts: Sequence[Part], whole: float, said: str) -> Markup:
    """Return a bar of parts against a whole; what is left of it stays empty."""
    x, drawn = 0.0, ""
    for part in parts:
        width = WIDTH * part.size / whole
        drawn += (
            f'<rect class="s{part.colour % COLOURS}" x="{x:.1f}" y="1" width="{width:.1f}" '
            f'height="{_BAR - 2}"/>'
            f'<text x="{x + width / 2:.1f}" y="23">{escape(part.letter)}</text>'
        )
        x += width
    return Markup(  # noqa: S704 - all that is not ours in it has been escaped
        f'<svg class="plot stack" viewBox="0 0 {WIDTH} {_BAR}" width="{WIDTH}" height="{_BAR}" '
        f'role="img" aria-label="{escape(said)}"><rect class="e" x="1" y="1" '
        f'width="{WIDTH - 2}" height="{_BAR - 2}"/>{drawn}</svg>'
    )


def limit_bar(value: float, low: float | None, high: float, *, bad: bool) -> Markup:
    """Return a bar of a load with marks at its limits. What it says stands in words beside it."""
    whole = 1.2 * max(high, value)

    def x(at: float) -> float:
        return WIDTH * max(0.0, at) / whole

    marks = "".join(
        f'<path class="lv" d="M{x(limit):.1f} 0V{_LIMIT_BAR}"/>'
        for limit in (low, high)
        if limit is not None
    )
    return Markup(  # noqa: S704 - all of it is ours
        f'<svg class="plot limit" viewBox="0 0 {WIDTH} {_LIMIT_BAR}" width="{WIDTH}" '
        f'height="{_LIMIT_BAR}" aria-hidden="true"><rect class="e" x="1" y="4" '
        f'width="{WIDTH - 2}" height="{_LIMIT_BAR - 8}"/><rect class="{"bad" if bad else "s0"}" '
        f'x="1" y="4" width="{x(value):.1f}" height="{_LIMIT_BAR - 8}"/>{marks}</svg>'
    )


def line_chart(
    lines: Sequence[Line], across: Axis, up: Axis, said: str, level: Line | None = None
) -> Markup:
    """Return a chart of a few lines, each labelled at its end; `level` is a line to compare."""

    def place(point: tuple[float, float]) -> tuple[float, float]:
        return (
            _LEFT + across.at(point[0]) * (WIDTH - _LEFT - _RIGHT),
            _HEIGHT - _BOTTOM - up.at(point[1]) * (_HEIGHT - _TOP - _BOTTOM),
        )

    drawn = _axes(across, up)
    shown = [*lines, *([level] if level else [])]
    ends = _apart([place(line.points[-1])[1] for line in shown])
    for number, (line, end) in enumerate(zip(shown, ends, strict=True)):
        path = "L".join(f"{x:.1f} {y:.1f}" for x, y in map(place, line.points))
        kind = "lv" if line is level else f"l{number % 3}"
        drawn += (
            f'<path class="{kind}" d="M{path}"/>'
            f'<text x="{WIDTH - _RIGHT + 6}" y="{end + 5:.1f}">{escape(line.label)}</text>'
        )
    return Markup(  # noqa: S704 - all that is not ours in it has been escaped
        f'<svg class="plot" viewBox="0 0 {WIDTH} {_HEIGHT}" width="{WIDTH}" height="{_HEIGHT}" '
        f'role="img" aria-label="{escape(said)}">{drawn}</svg>'
    )


def _axes(across: Axis, up: Axis) -> str:
    right, bottom = WIDTH - _RIGHT, _HEIGHT - _BOTTOM
    drawn = ""
    for mark in up.marks:
        y = bottom - up.at(mark) * (bottom - _TOP)
        drawn += (
            f'<path class="ax" d="M{_LEFT} {y:.1f}H{right}"/>'
            f'<text class="q" x="{_LEFT - 6}" y="{y + 5:.1f}">{_number(mark)}</text>'
        )
    for mark in across.marks:
        x = _LEFT + across.at(mark) * (right - _LEFT)
        drawn += (
            f'<path class="ax" d="M{x:.1f} {bottom}v5"/>'
            f'<text class="k" x="{x:.1f}" y="{bottom + 19}">{_number(mark)}</text>'
        )
    return (
        drawn
        + f'<text class="k" x="{(_LEFT + right) / 2:.0f}" y="{_HEIGHT - 4}">'
        + f"{escape(across.label)}</text>"
        + f'<text x="{right + 6}" y="{_TOP + 5}" class="u">{escape(up.label)}</text>'
    )


def _number(value: float) -> str:
    return f"{value:g}".replace("-", "\u2212")


def _apart(heights: Sequence[float]) -> list[float]:
    """Return heights moved apart until no two labels touch, downwards first, then up again."""
    moved = list(heights)
    order = sorted(range(len(moved)), key=lambda n: moved[n])
    top = float(_TOP + 2 * _LABEL)
    for n in order:
        moved[n] = max(moved[n], top)
        top = moved[n] + _LABEL
    least = float(_HEIGHT - _BOTTOM)
    for n in reversed(order):
        moved[n] = min(moved[n], least)
        least = moved[n] - _LABEL
    return moved
