"""Units of measure, as the suffix of a key names them (`capacity_l`, `mains_w`)."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Measure:
    """A unit of measure: the symbol that is printed, and the words of an error message."""

    symbol: str
    words: str


MEASURES = {
    "g_h": Measure("g/h", "grams an hour"),
    "mm2": Measure("mm²", "square millimetres"),
    "mbar": Measure("mbar", "millibars"),
    "bar": Measure("bar", "bar"),
    "kpa": Measure("kPa", "kilopascals"),
    "max_kg": Measure("kg", "kilograms"),
    "kg": Measure("kg", "kilograms"),
    "nm": Measure("N m", "newton metres"),
    "mm": Measure("mm", "millimetres"),
    "ah": Measure("Ah", "ampere-hours"),
    "ma": Measure("mA", "milliamperes"),
    "wp": Measure("W peak", "watts peak"),
    "months": Measure("months", "months"),
    "a": Measure("A", "amperes"),
    "c": Measure("°C", "degrees Celsius"),
    "l": Measure("litres", "litres"),
    "m": Measure("m", "metres"),
    "w": Measure("W", "watts"),
    "v": Measure("V", "volts"),
}
"""By suffix. Longer suffixes stand before the shorter ones that they end with."""


def measure_of(key: str) -> Measure | None:
    """Return the unit of measure that a key's suffix names, if it names one."""
    return next((m for suffix, m in MEASURES.items() if key.endswith("_" + suffix)), None)
