"""What all our papers share: drawings made ready for print, and values as a template takes them.

Content reaches a template as JSON data and is set as text there; it is never markup.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import unescape

from generator.compose.context import Context
from generator.compose.locator import draw_locator, draw_map
from generator.compose.printed import PrintedCaution
from generator.read.units import Spot

_TITLE = re.compile(r"<title>(?P<words>.*?)</title>", re.DOTALL)

_MARK = re.compile(r'<circle class="m[^>]*>')

_INK = "#17211f"
_STYLE = (
    "svg{fill:none;stroke:#4a5753;stroke-width:3;stroke-linejoin:round;stroke-linecap:round}"
    ".v .b{fill:#ffffff}.v .w{fill:#dfe7e3}.v .d{stroke-width:9}.v .g{stroke:#c6c1b2}"
    ".m{fill:#b3471f;stroke:#b3471f;stroke-width:22}"
    ".n{fill:#0b4f54;stroke:#ffffff;stroke-width:3}"
    "text{fill:#ffffff;stroke:none;font-family:'Source Sans Pro';font-weight:700;"
    "font-size:18px;text-anchor:middle}"
    ".n.in{fill:#ffffff;stroke:#0b4f54;stroke-width:4}.in + text{fill:#0b4f54}"
    "text.f{fill:#4a5753;text-anchor:start}"
)
"""The page's style sheet for locator drawings, in its light colours; the mark is larger, as the
drawing is smaller on paper."""

_PICTURE_STYLE = ".hi{color:#b3471f;stroke:#b3471f}.fill{fill:#e6ece9}"

_INKS = {"danger": "#ffffff", "warning": "#000000", "caution": "#000000", "notice": "#ffffff"}
"""What a signal word's sign and letters are printed in, on the colour of the word."""


@dataclass(frozen=True, slots=True)
class Look:
    """The page and the size of its text. Lengths in millimetres, type in points."""

    page_w_mm: float
    page_h_mm: float
    inner_mm: float
    outer_mm: float
    top_mm: float
    bottom_mm: float
    size_pt: float


@dataclass(frozen=True, slots=True)
class PaperDrawing:
    """An SVG with its text alternative."""

    svg: str
    alt: str


def sign_drawings(ctx: Context, cautions: Iterable[PrintedCaution]) -> dict[str, PaperDrawing]:
    """Return the signs of these cautions by `<sign>-<word>`, in the ink of their signal word."""
    return {
        f"{caution.sign}-{caution.word}": PaperDrawing(
            _styled(ctx.drawings.signs[caution.sign], "", _INKS[caution.word]),
            ctx.say(caution.word),
        )
        for caution in cautions
    }


def picture_drawings(ctx: Context, names: Iterable[str]) -> dict[str, PaperDrawing]:
    """Return explanatory drawings by name; what a drawing shows is its own title."""
    drawn = {}
    for name in names:
        svg = ctx.drawings.pictures[name]
        title = _TITLE.search(svg)
        alt = " ".join(title["words"].split()) if title else name.replace("-", " ")
        drawn[name] = PaperDrawing(_styled(_TITLE.sub("", svg), _PICTURE_STYLE, _INK), alt)
    return drawn


def place_drawings(ctx: Context) -> dict[str, PaperDrawing]:
    """Return the locator drawing of every place by name.

    `(map)` is the map of all places, `(vehicle)` the vehicle without a mark.
    """
    unit, places = ctx.guide.unit, ctx.guide.places
    drawn = {}
    for spot in places:
        svg = str(draw_locator(unit, spot, ctx.say))
        drawn[spot.name] = PaperDrawing(_styled(svg, _STYLE, _INK), _label(svg))
    if places:
        svg = _MARK.sub("", str(draw_locator(unit, places[0], ctx.say)))
        drawn["(vehicle)"] = PaperDrawing(_styled(svg, _STYLE, _INK), unit.title)
    drawn["(map)"] = tour_drawing(ctx, places)
    return drawn


def tour_drawing(ctx: Context, spots: Sequence[Spot]) -> PaperDrawing:
    """Return the vehicle from above with these places numbered in their order."""
    svg = str(draw_map(ctx.guide.unit, spots, {spot.name: "#" for spot in spots}, ctx.say))
    return PaperDrawing(_styled(svg, _STYLE, _INK), ctx.say("map_alt"))


def phrases(ctx: Context, names: Iterable[str], **gaps: str) -> dict[str, str]:
    """Return phrases of the wording by key, for a template.

    The numbers that only the template knows stay gaps for it to fill.
    """
    kept = {name: f"{{{name}}}" for name in ("page", "count", "minutes")}
    return {name: ctx.say(name, **{**kept, **gaps}) for name in names}


def _styled(svg: str, style: str, ink: str) -> str:
    """Return a drawing that stands alone: its style within it, its own colour decided."""
    svg = svg.strip().replace("currentColor", ink)
    if "xmlns=" not in svg:
        svg = svg.replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"', 1)
    head, close, rest = svg.partition(">")
    return f"{head}{close}<style>{style}</style>{rest}" if style else svg


def _label(svg: str) -> str:
    found = re.search(r'aria-label="([^"]*)"', svg)
    return unescape(found[1]) if found else ""
