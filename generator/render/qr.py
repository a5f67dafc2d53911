"""QR symbols: the matrix of an address, and its drawing as one path.

ISO/IEC 18004:2015. An address in upper case needs no more than the alphanumeric mode, which is
why a sticker's address is upper case throughout.
"""

from __future__ import annotations

from dataclasses import dataclass

import qrcode
import qrcode.constants
import qrcode.util

ALPHANUMERIC = frozenset("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:")
"""ISO/IEC 18004:2015, table 5."""

QUIET_MODULES = 4
"""ISO/IEC 18004:2015, 6.3.8: four modules on every side. Without it no symbol on a dark ground
was decoded in our trials."""

MASK = 2
"""Pinned, so that a reprint is the same symbol as the first print."""

DOT_MM = 25.4 / 300
"""One dot of a 300 dpi label printer; modules are whole dots, so that no edge is smeared."""

LEAST_DOTS = 9
"""0.762 mm a module: 25 mm over all at version 2 was read from 250 mm in 99 of 100 simulated
photographs. Smaller symbols are refused."""

MOST_DOTS = 16


@dataclass(frozen=True, slots=True)
class Symbol:
    """A QR symbol without its quiet zone."""

    text: str
    version: int
    rows: tuple[tuple[bool, ...], ...]

    @property
    def size(self) -> int:
        """Return the modules on one side, quiet zone included."""
        return len(self.rows) + 2 * QUIET_MODULES

    def svg(self) -> str:
        """Return the symbol with its quiet zone as SVG, one unit a module, on a white ground.

        Runs of dark modules in a row are one rectangle: seams between single squares would show
        as hairlines in print.
        """
        path = []
        for y, row in enumerate(self.rows):
            x = 0
            while x < len(row):
                end = x
                while end < len(row) and row[end]:
                    end += 1
                if end > x:
                    left, top = x + QUIET_MODULES, y + QUIET_MODULES
                    path.append(f"M{left} {top}h{end - x}v1h-{end - x}z")
                x = end + 1
        size = self.size
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size} {size}">'
            f'<path fill="#fff" d="M0 0h{size}v{size}h-{size}z"/>'
            f'<path fill="#000" d="{"".join(path)}"/></svg>'
        )


def make_symbol(text: str) -> Symbol:
    """Return the smallest symbol at error correction level Q for an upper-case address.

    Raises:
        ValueError: the text has characters outside the alphanumeric mode.
    """
    if not set(text) <= ALPHANUMERIC:
        raise ValueError(f"not in the alphanumeric mode: {text}")
    code = qrcode.QRCode(
        error_correction=qrcode.constants.ERROR_CORRECT_Q, border=0, mask_pattern=MASK
    )
    code.add_data(qrcode.util.QRData(text, mode=qrcode.util.MODE_ALPHA_NUM))
    code.make(fit=True)
    rows = tuple(tuple(bool(module) for module in row) for row in code.get_matrix())
    return Symbol(text, code.version, rows)


def fitting_dots(symbol: Symbol, room_mm: float) -> int | None:
    """Return the printer dots of a module for the largest symbol within `room_mm`, or None.

    None where even the least readable size does not fit.
    """
    dots = min(int(room_mm / symbol.size / DOT_MM + 1e-9), MOST_DOTS)
    return dots if dots >= LEAST_DOTS else None
