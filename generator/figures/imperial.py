"""Imperial units of measure, said beside the metric ones where the trade uses both."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

# Exact by definition: the inch is 0.0254 m, the pound 0.45359237 kg, the foot 0.3048 m, and a
# kilogram's standard weight 9.80665 N.
KPA_PER_PSI = 0.45359237 * 9.80665 / 0.0254**2 / 1_000
NM_PER_LBF_FT = 0.45359237 * 9.80665 * 0.3048
KM_PER_MILE = 1.609344


def bar_to_psi(bar: float) -> float:
    """Return a pressure in pounds-force a square inch, from bar."""
    return bar * 100 / KPA_PER_PSI


def psi_to_bar(psi: float) -> float:
    """Return a pressure in bar, from pounds-force a square inch."""
    return psi * KPA_PER_PSI / 100


def bar_to_kpa(bar: float) -> float:
    """Return a pressure in kilopascals, from bar."""
    return bar * 100


def nm_to_lbf_ft(newton_metres: float) -> float:
    """Return a torque in pound-force feet, from newton metres."""
    return newton_metres / NM_PER_LBF_FT


def km_to_miles(kilometres: float) -> float:
    """Return miles from kilometres, or miles an hour from kilometres an hour."""
    return kilometres / KM_PER_MILE


@dataclass(frozen=True, slots=True)
class Imperial:
    """How one metric unit is said beside: by what, with which symbol, to how many decimals."""

    convert: Callable[[float], float]
    symbol: str
    digits: int


BESIDE = {
    "bar": Imperial(bar_to_psi, "psi", 0),
    "nm": Imperial(nm_to_lbf_ft, "lbf ft", 0),
    "km_h": Imperial(km_to_miles, "mph", 0),
    "km": Imperial(km_to_miles, "miles", 0),
}
"""By the suffix of a key. Only where a reader in the trade meets both."""
