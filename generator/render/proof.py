"""The scan proof: stickers as they will be printed, read back by a decoder that is not ours.

The decoder (zxing-cpp) and the renderer (pypdfium2) are optional; only this module uses them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from importlib import import_module
from importlib.util import find_spec
from math import dist
from typing import Any

from generator.read.labels import LabelStock
from generator.render.qr import make_symbol
from generator.render.stickers import Sticker

TOOLS = {"zxing-cpp": "zxingcpp", "pypdfium2": "pypdfium2"}
"""Packages that a proof needs, with the module of each."""

DPI = 300
"""Of the label printers that the stickers are made for."""

_POINTS_PER_MM = 72 / 25.4


@dataclass(frozen=True, slots=True)
class ProofLine:
    """What the decoder read of one sticker; `read` is empty where it read none or several."""

    sticker: Sticker
    read: str
    level: str
    version: int
    module_mm: float
    """Measured on the printed label."""

    @property
    def good(self) -> bool:
        """Return whether it leads where it should."""
        return self.read == self.sticker.address


def missing_tools() -> tuple[str, ...]:
    """Return the packages that a proof needs and that are not installed."""
    return tuple(package for package, module in TOOLS.items() if find_spec(module) is None)


def prove_stickers(
    sheets: bytes, stickers: Sequence[Sticker], stock: LabelStock, *, first_label: int = 1
) -> Iterator[ProofLine]:
    """Yield what is read of each sticker on sheets that were rendered from them, in order."""
    pdfium, zxing = import_module("pypdfium2"), import_module("zxingcpp")
    document = pdfium.PdfDocument(sheets)
    try:
        for index, sticker in enumerate(stickers, first_label - 1):
            page, label = divmod(index, stock.columns * stock.rows)
            found = _read_label(document[page], label, stock, zxing)
            good = found[0] if len(found) == 1 else None
            yield ProofLine(
                sticker=sticker,
                read=good.text if good else "",
                level=good.ec_level if good else "",
                version=int(good.extra.get("Version", 0)) if good else 0,
                module_mm=_module_mm(good, sticker) if good else 0.0,
            )
    finally:
        document.close()


def _read_label(page: Any, label: int, stock: LabelStock, zxing: Any) -> list[Any]:
    """Return the symbols in one label of a page, seen in a printer's black and white dots."""
    row, column = divmod(label, stock.columns)
    left_mm = stock.left_mm + column * (stock.label_w_mm + stock.gap_x_mm)
    top_mm = stock.top_mm + row * (stock.label_h_mm + stock.gap_y_mm)
    right_mm = stock.page_w_mm - left_mm - stock.label_w_mm
    bottom_mm = stock.page_h_mm - top_mm - stock.label_h_mm
    cut = tuple(max(mm, 0.0) * _POINTS_PER_MM for mm in (left_mm, bottom_mm, right_mm, top_mm))
    bitmap = page.render(scale=DPI / 72, grayscale=True, crop=cut, no_smoothpath=True)
    rows = memoryview(bitmap.buffer).cast("B")[: bitmap.height * bitmap.stride]
    shape = (bitmap.height, bitmap.stride)
    found = zxing.read_barcodes(rows.cast("B", shape=shape), formats=zxing.BarcodeFormat.QRCode)
    return list(found)


def _module_mm(found: Any, sticker: Sticker) -> float:
    corners = found.position
    ends = [(p.x, p.y) for p in (corners.top_left, corners.top_right)]
    return dist(*ends) / len(make_symbol(sticker.address).rows) / DPI * 25.4
