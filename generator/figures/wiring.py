"""Cables and fuses: what a run of copper loses, and the colours of blade fuses."""

from __future__ import annotations

import re
from dataclasses import dataclass

from generator.figures.figure import (
    Ask,
    Choice,
    Figure,
    FigureInputError,
    Given,
    Input,
    Quantity,
    Row,
    Source,
    Sure,
    look,
)

OHM_KM_AT_20_C = {1.5: 13.3, 2.5: 7.98, 4.0: 4.95, 6.0: 3.30, 10.0: 1.91}
"""By section in mm². Greatest resistance of plain flexible copper (class 5), ohms a kilometre."""

FLEX_MV_A_M = {1.5: 32.0, 2.5: 19.0, 4.0: 12.0}
"""By section in mm². Drop of a flexible lead at 60 °C, both conductors, millivolts for each
ampere and metre of lead. A lead of a 90 °C sort that runs hot drops up to 9 % more."""

FLEX_A = {1.5: 16.0, 2.5: 25.0}
"""By section in mm². What a flexible lead carries when it lies uncoiled, amperes."""

BLADE_COLOURS = {
    2.0: "grey",
    3.0: "violet",
    4.0: "pink",
    5.0: "tan",
    7.5: "brown",
    10.0: "red",
    15.0: "blue",
    20.0: "yellow",
    25.0: "clear or white",
    30.0: "green",
    40.0: "orange",
}
"""By rating in amperes. Blades of the largest size have colours of their own."""

IEC_60228 = Source(
    "IEC 60228 class 5, plain copper at 20 °C, as printed by two cable makers", Sure.PUBLISHED
)
TABLE_4F3B = Source("BS 7671 Table 4F3B, as printed by two cable suppliers", Sure.PUBLISHED)
DIN_72581 = Source("DIN 72581 colours, as printed by two fuse guides", Sure.PUBLISHED)

NOMINAL_V = 12.0

RUN_A = Quantity("run_a", "current in the run", 0.01, 200)
RUN_M = Quantity("run_m", "length of the run, one way", 0.1, 50)
DESIGN = Choice("design", "shape of fuse", ("blade", "glass"))
FUSES_RIGHT = "fuses such as `1: 10 A water pump; 2: 5 A lights`"
RUN_MM2 = Quantity("run_mm2", "copper section of the run", 1.5, 10)

_FUSE = re.compile(r"(?P<number>\w{1,8}): ?(?P<amps>[0-9]{1,3}(\.[0-9])?) ?A (?P<feeds>\S.*)")


@dataclass(frozen=True, slots=True, kw_only=True)
class WiringInput(Given):
    """A 12 V run and the fuse box, as the unit states them."""

    run_a: float | None = None
    run_m: float | None = None
    run_mm2: float | None = None
    fuses: str | None = None
    """As in a unit file: `1: 10 A water pump; 2: 5 A lights`."""
    design: str | None = None
    """`blade` or `glass`."""


@dataclass(frozen=True, slots=True)
class Fuse:
    """One fuse of the box. A colour is empty where its rating has no standard one."""

    number: str
    amps: float
    feeds: str
    colour: str


@dataclass(frozen=True, slots=True)
class Wiring:
    """What the run loses in volts (None if not asked), and the fuses."""

    drop_v: float | None
    fuses: tuple[Fuse, ...]
    figures: tuple[Figure, ...]


def wiring(given: WiringInput) -> Wiring:
    """Return the drop of a 12 V run, and the fuse table with its colours."""
    drop, drop_figure = _run(given)
    fuses, fuse_figure = _fuse_box(given)
    return Wiring(drop, fuses, (drop_figure, fuse_figure))


def section(key: str, mm2: float, sections: dict[float, float]) -> float:
    """Return a table's value for a copper section, in mm², or say which sections it knows."""
    value = sections.get(float(mm2))
    if value is None:
        known = ", ".join(f"{s:g}" for s in sections)
        raise FigureInputError(key, f"is {mm2!r:.40}", f"one of {known} square millimetres")
    return value


def run_drop_v(mm2: float, amps: float, metres: float, *, key: str = "run_mm2") -> float:
    """Return the volts lost there and back in plain flexible copper at 20 °C.

    Copper that is warm loses more: about 0.4 % for each degree.
    """
    return 2 * section(key, mm2, OHM_KM_AT_20_C) / 1_000 * amps * metres


def lead_drop_v(mm2: float, amps: float, metres: float) -> float:
    """Return the volts lost in a mains lead at full working temperature (60 °C)."""
    return section("lead_mm2", mm2, FLEX_MV_A_M) * amps * metres / 1_000


def read_fuses(text: str, design: str) -> tuple[Fuse, ...]:
    """Return the fuses that a unit's text lists, blades with their colours."""
    right = FUSES_RIGHT
    fuses: list[Fuse] = []
    for part in text.split(";"):
        match = _FUSE.fullmatch(" ".join(part.split()))
        if not match or not 0 < float(match["amps"]) <= 300:
            raise FigureInputError("fuses", f"has {part.strip()!r:.40}", right)
        amps = float(match["amps"])
        colour = BLADE_COLOURS.get(amps, "") if design == "blade" else ""
        if any(fuse.number == match["number"] for fuse in fuses):
            raise FigureInputError("fuses", f"has fuse {match['number']} twice", right)
        fuses.append(Fuse(match["number"], amps, match["feeds"], colour))
    return tuple(fuses)


def _run(given: WiringInput) -> tuple[float | None, Figure]:
    inputs, asked = look(given, (RUN_A, RUN_M, RUN_MM2))
    drop: float | None = None
    rows: tuple[Row, ...] = ()
    if given.run_a is not None and given.run_m is not None and given.run_mm2 is not None:
        drop = run_drop_v(given.run_mm2, given.run_a, given.run_m)
        rows = (
            Row("Lost in the run", drop, "drop_v", 2, "at least"),
            Row("Share of 12 V", 100 * drop / NOMINAL_V, "drop_pct", 1, "at least"),
        )
    figure = Figure(
        name="run-drop",
        title="What a long 12 V run loses",
        inputs=inputs,
        asked=asked,
        formula="Twice the length, times the resistance of the copper for each metre, times the "
        "current.",
        rows=rows,
        notes=("Warm copper, joints and fuse holders lose more.",),
        sources=(IEC_60228,),
        cautions=("battery-short",),
        defer="Ask a qualified electrician before anything is added to the wiring.",
    )
    return drop, figure


def _fuse_box(given: WiringInput) -> tuple[tuple[Fuse, ...], Figure]:
    inputs, asked = look(given, (DESIGN,))
    if given.fuses is None:
        asked = (Ask("fuses", "fuses of the box", FUSES_RIGHT), *asked)
    else:
        inputs = (Input("fuses", "fuses of the box", given.fuses, given.origin("fuses")), *inputs)
    fuses: tuple[Fuse, ...] = ()
    if given.fuses is not None and given.design is not None:
        fuses = read_fuses(given.fuses, given.design)
    figure = Figure(
        name="fuses",
        title="Fuses of this unit",
        inputs=inputs,
        asked=asked,
        formula="The rating that the unit states, and the colour that a blade of it has.",
        rows=tuple(
            Row(f"{fuse.number}: {fuse.feeds}", f"{fuse.amps:g} A {fuse.colour}".strip())
            for fuse in fuses
        ),
        notes=("Read the number on the fuse as well. The number decides, not the colour.",),
        sources=(DIN_72581,) if given.design == "blade" else (),
        cautions=("wrong-fuse", "battery-short"),
        defer="If a new fuse blows too, ask a qualified electrician.",
    )
    return fuses, figure
