"""The vehicle identification number: its shape, and its check digit as a warning only.

A number is private. Neither a result nor an error message repeats it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from generator.figures.figure import FigureInputError

# 49 CFR 565, tables of values and weights; the check digit is the ninth symbol and weighs 0.
_VALUES = {
    **{digit: int(digit) for digit in "0123456789"},
    **dict(zip("ABCDEFGH", range(1, 9), strict=True)),
    **dict(zip("JKLMN", range(1, 6), strict=True)),
    "P": 7,
    "R": 9,
    **dict(zip("STUVWXYZ", range(2, 10), strict=True)),
}
_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)


@dataclass(frozen=True, slots=True)
class VinCheck:
    """Whether the check digit agrees; European numbers need not carry one."""

    total: int
    expected: str
    agrees: bool
    warning: str
    """Empty if it agrees."""


def check_vin(vin: str) -> VinCheck:
    """Return what a number's check digit says, or raise if it has not the shape of one."""
    text = vin.strip().upper() if isinstance(vin, str) else ""
    if not re.fullmatch(r"[0-9A-HJ-NPR-Z]{17}", text):
        raise FigureInputError(
            "vin", "has not the shape of one", "17 letters and figures, without I, O and Q"
        )
    total = sum(_VALUES[one] * weight for one, weight in zip(text, _WEIGHTS, strict=True))
    expected = "X" if total % 11 == 10 else str(total % 11)
    agrees = text[8] == expected
    warning = (
        ""
        if agrees
        else ("the check digit does not agree: right for many European numbers, but read it again")
    )
    return VinCheck(total, expected, agrees, warning)
