"""Sticker sheets as vector PDF."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import typst

from generator.compose.context import gravest_caution
from generator.compose.markdown import Signs, choose_sign
from generator.compose.mini import alike, draw_mini, tell_mini
from generator.compose.wording import Wording
from generator.fit.guide import BoundTask, Guide
from generator.problems import Problem, ProblemsFound
from generator.read.labels import LabelStock
from generator.read.library import Caution, Library
from generator.read.units import Spot
from generator.render.qr import DOT_MM, LEAST_DOTS, Symbol, fitting_dots, make_symbol

_MARGIN_MM = 2.0
"""Kept clear inside a label's edge, for the tolerance of sheet feeders."""

_STRIP_MM = 8.8
"""Room for the caution's strip, of two lines, below the symbol of a small label."""

_WORDS_MM = 40.0
"""Least width of the words beside a symbol; on a narrower label the caution goes below both."""


@dataclass(frozen=True, slots=True)
class Sticker:
    """One printed label."""

    code: str
    address: str
    title: str
    caution: Caution | None
    plan: str = ""
    """Where its place is, as a small drawing (SVG), where it could be taken for another."""
    plan_told: str = ""
    """What that drawing shows, in words."""
    also: tuple[tuple[str, str], ...] = ()
    """The title in the guide's other languages: the language, and the words."""


def plan_stickers(guide: Guide, library: Library) -> tuple[Sticker, ...]:
    """Return the stickers of a unit: the guide itself first, then its places in walk order."""
    say = Wording(library.wording)
    stickers = [Sticker(guide.code, sticker_address(guide, guide.code), say("sticker_home"), None)]
    stuck = [spot for spot in guide.places if spot.name in guide.place_codes]
    for spot in stuck:
        code = guide.place_codes[spot.name]
        others = alike(spot, stuck)
        stickers.append(
            Sticker(
                code,
                sticker_address(guide, code),
                spot.title,
                gravest_caution(guide, library, spot),
                plan=draw_mini(guide.unit, spot, others) if others else "",
                plan_told=tell_mini(spot, others, say) if others else "",
                also=_other_titles(guide, spot),
            )
        )
    return tuple(stickers)


def _other_titles(guide: Guide, spot: Spot) -> tuple[tuple[str, str], ...]:
    """Return a place's title in the guide's further languages, where it differs."""
    titles = {
        language: guide.unit.translated[language].places.get(spot.name, {}).get("title", "")
        for language in guide.unit.languages[1:]
        if language in guide.unit.translated
    }
    return tuple((name, title) for name, title in titles.items() if title not in ("", spot.title))


def plan_task_stickers(
    guide: Guide, library: Library, codes: Mapping[str, str]
) -> tuple[Sticker, ...]:
    """Return a sticker for each task that has a code of its own (`codes`: slug → code)."""
    by_slug: dict[str, BoundTask] = {task.slug: task for task in guide.tasks}
    return tuple(
        Sticker(
            code,
            sticker_address(guide, code),
            by_slug[slug].title,
            next(iter(by_slug[slug].cautions), None),
        )
        for slug, code in codes.items()
        if slug in by_slug
    )


def sticker_address(guide: Guide, code: str) -> str:
    """Return the address in a sticker's symbol, upper case throughout.

    It ends in a slash: without it a plain web server would answer with a redirection, which on a
    slow connection costs the reader one more round trip.
    """
    return f"{guide.dealer.address.rstrip('/')}/{code.replace('-', '/')}/".upper()


@dataclass(frozen=True, slots=True)
class Sheets:
    """What all stickers of a dealer are printed with."""

    dealer: str
    signs: Signs
    wording: Mapping[str, str]
    template: Path


def render_stickers(
    stickers: Sequence[Sticker], stock: LabelStock, sheets: Sheets, **options: Any
) -> bytes:
    """Return the sheets as PDF/UA-1, one label a sticker, in the order given.

    The options are those of `sheet_data`.

    Raises:
        ProblemsFound: a symbol does not fit on this stock at a size that can be read.
    """
    return compile_typst(sheets.template, sheet_data(stickers, stock, sheets, **options))


def sheet_data(
    stickers: Sequence[Sticker],
    stock: LabelStock,
    sheets: Sheets,
    *,
    first_label: int = 1,
    cut_lines: bool = False,
    ruler: bool = True,
    on_dots: bool = False,
) -> dict[str, Any]:
    """Return what the template sets, one label a sticker, in the order given.

    `first_label` is the label of a part-used sheet to begin with, from 1. `ruler` prints a
    50 mm ruler in one label position after the last sticker, to check the printer's scale.
    `on_dots` puts the symbol on whole dots of the page, counted from its corner.

    Raises:
        ProblemsFound: a symbol does not fit on this stock at a size that can be read.
    """
    say = Wording(sheets.wording)
    refuse_unreadable(stickers, stock)
    layout, room_mm = _choose_layout(stock)
    labels = []
    for sticker in stickers:
        symbol = make_symbol(sticker.address)
        dots = fitting_dots(symbol, room_mm) or LEAST_DOTS
        labels.append(
            {
                "code": sticker.code,
                "title": sticker.title,
                "also": [{"lang": lang, "title": title} for lang, title in sticker.also],
                "host": typed_address(sticker),
                "symbol": symbol.svg(),
                "size_mm": symbol.size * dots * DOT_MM,
                "alt": f"QR {sticker.address}",
                "plan": sticker.plan and {"svg": sticker.plan, "alt": sticker.plan_told},
                "caution": sticker.caution
                and {
                    "word": say(sticker.caution.word),
                    "sort": sticker.caution.word,
                    "text": sticker.caution.sticker,
                    "sign": _sign_svg(sticker.caution, sheets.signs),
                },
            }
        )
    return {
        "stock": {
            name: getattr(stock, name)
            for name in LabelStock.__dataclass_fields__
            if name not in ("at", "name", "title")
        },
        "labels": labels,
        "layout": layout,
        "margin_mm": _MARGIN_MM,
        "dot_mm": DOT_MM,
        "on_dots": on_dots,
        "first": first_label - 1,
        "cut": cut_lines,
        "ruler": ruler and stock.columns * stock.rows > 1,
        "dealer": sheets.dealer,
        "scan": say("sticker_scan"),
        "open": say("sticker_or"),
        "lang": sheets.wording.get("lang", "en"),
        "heading": f"{sheets.dealer}: {stock.title}",
    }


def refuse_unreadable(stickers: Sequence[Sticker], stock: LabelStock) -> None:
    """Stop where a symbol does not fit on this stock at a size that can be read.

    Raises:
        ProblemsFound: with one line, of the first such sticker: the others differ by their code.
    """
    _, room_mm = _choose_layout(stock)
    of_length: dict[int, str] = {}  # in the alphanumeric mode nothing else decides on the size
    for sticker in stickers:
        of_length.setdefault(len(sticker.address), sticker.address)
    for address in of_length.values():
        symbol = make_symbol(address)
        if fitting_dots(symbol, room_mm) is None:
            raise ProblemsFound([_too_small(symbol, stock, room_mm)])


def room_for_symbol_mm(stock: LabelStock) -> float:
    """Return the room that a label has for its symbol, quiet zone included, in millimetres."""
    return _choose_layout(stock)[1]


def _choose_layout(stock: LabelStock) -> tuple[str, float]:
    """Return how a label is laid out, and the room for its symbol in millimetres."""
    width_mm = stock.label_w_mm - 2 * _MARGIN_MM
    height_mm = stock.label_h_mm - 2 * _MARGIN_MM
    if stock.label_w_mm < 1.35 * stock.label_h_mm:
        return "stacked", min(width_mm, height_mm * 0.54)
    if width_mm - height_mm * 0.75 >= _WORDS_MM:
        return "beside", height_mm * 0.75
    return "compact", min(height_mm - _STRIP_MM, width_mm * 0.5)


def typed_address(sticker: Sticker) -> str:
    """Return the dealer's address to which the code below it is typed."""
    ending = "/" + sticker.code.replace("-", "/") + "/"
    return sticker.address.removesuffix(ending).removeprefix("HTTPS://").lower()


def compile_typst(template: Path, data: object) -> bytes:
    """Return the PDF/UA-1 that a template makes of data. Nothing outside the folder is read."""
    return bytes(_compiled(template, data, format="pdf", pdf_standards=["ua-1"]))


def compile_pages(template: Path, data: object, dpi: int | None) -> list[bytes]:
    """Return each page that a template makes of data: as PNG of so many dots an inch, or as SVG."""
    shape = {"format": "svg"} if dpi is None else {"format": "png", "ppi": dpi}
    pages = _compiled(template, data, **shape)
    return [bytes(page) for page in pages] if isinstance(pages, list) else [bytes(pages)]


def _compiled(template: Path, data: object, **shape: Any) -> Any:
    return typst.compile(
        str(template),
        root=str(template.parent),
        font_paths=[str(font_folder())],
        ignore_system_fonts=True,
        sys_inputs={"data": json.dumps(data, ensure_ascii=False)},
        **shape,
    )


def font_folder() -> Path:
    """Return the folder of the sans serif that all papers are set in (SIL Open Font License)."""
    spec = find_spec("font_source_sans_pro")
    if spec is None or spec.origin is None:
        raise RuntimeError("the package font-source-sans-pro is not installed")
    return Path(spec.origin).parent / "files"


def _sign_svg(caution: Caution, signs: Signs) -> str:
    drawing = choose_sign(caution, signs)
    colour = "#ffffff" if caution.word in ("danger", "notice") else "#000000"
    svg = drawing.strip().replace("currentColor", colour)
    if "xmlns=" not in svg:
        svg = svg.replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"', 1)
    return svg


def _too_small(symbol: Symbol, stock: LabelStock, room_mm: float) -> Problem:
    least = symbol.size * LEAST_DOTS * DOT_MM
    return Problem(
        stock.at,
        "label",
        f"leaves {room_mm:.1f} mm for the symbol of {symbol.text}",
        f"at least {least:.1f} mm: a larger label or a shorter address",
    )
