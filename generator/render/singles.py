"""Single stickers as files, for a label printer and its program."""

from __future__ import annotations

import base64
import io
import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from PIL import Image

from generator.read.labels import LabelStock
from generator.render.stickers import Sheets, Sticker, compile_pages, sheet_data

SHAPES = {"svg": None, "png300": 300, "png600": 600}
"""What a single sticker can be, with the dots an inch of a picture."""

_EMBEDDED = re.compile(
    r'<image transform="translate\((?P<x>[\d.]+) (?P<y>[\d.]+)\)" '
    r'xlink:href="data:image/svg\+xml;base64,(?P<drawing>[^"]*)" '
    r'width="(?P<w>[\d.]+)" height="(?P<h>[\d.]+)"[^>]*/>'
)


def render_singles(
    stickers: Sequence[Sticker], stock: LabelStock, sheets: Sheets, shape: str, **options: Any
) -> dict[str, bytes]:
    """Return each sticker as a file of its own, by name: `<CODE>.svg` or `<CODE>.png`.

    A file is as large as a label of the stock. In a picture each module is a whole number of
    dots, black or white, and the dots an inch are told to the program that prints it.

    Raises:
        ProblemsFound: a symbol does not fit on this stock at a size that can be read.
    """
    dpi = SHAPES[shape]
    data = sheet_data(stickers, single_label(stock), sheets, ruler=False, on_dots=True, **options)
    pages = compile_pages(sheets.template, data, dpi)
    if dpi is None:
        return {f"{s.code}.svg": _flat(page) for s, page in zip(stickers, pages, strict=True)}
    return {f"{s.code}.png": _with_dpi(page, dpi) for s, page in zip(stickers, pages, strict=True)}


def single_label(stock: LabelStock) -> LabelStock:
    """Return a stock whose page is one of these labels."""
    return replace(
        stock,
        page_w_mm=stock.label_w_mm,
        page_h_mm=stock.label_h_mm,
        columns=1,
        rows=1,
        left_mm=0.0,
        top_mm=0.0,
        gap_x_mm=0.0,
        gap_y_mm=0.0,
    )


def _flat(page: bytes) -> bytes:
    """Return an SVG whose drawings are part of it: label programs often show no embedded ones."""

    def inline(match: re.Match[str]) -> str:
        drawing = base64.b64decode(match["drawing"]).decode()
        place = f'x="{match["x"]}" y="{match["y"]}" width="{match["w"]}" height="{match["h"]}"'
        return drawing.replace("<svg ", f"<svg {place} ", 1)

    return _EMBEDDED.sub(inline, page.decode()).encode()


def _with_dpi(page: bytes, dpi: int) -> bytes:
    picture = io.BytesIO()
    with Image.open(io.BytesIO(page)) as opened:
        opened.convert("RGB").save(picture, "PNG", dpi=(dpi, dpi), optimize=True)
    return picture.getvalue()
