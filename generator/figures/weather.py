"""Night and weather: dew point, condensation, and the nights on which to drain the water."""

from __future__ import annotations

import math
from dataclasses import dataclass

from generator.figures.figure import Figure, Given, Quantity, Row, Source, Sure, look

# Magnus formula over water, degrees Celsius: within 0.02 K of a full computation in a cabin.
SLOPE, OFFSET = 17.62, 243.12

WATER_KG_M3, ICE_KG_M3 = 999.844, 916.722
"""At 0 °C."""

CABIN_C = Quantity("cabin_c", "air in the cabin", -20, 50)
HUMIDITY_PCT = Quantity("humidity_pct", "relative humidity in the cabin", 1, 100)
SURFACE_C = Quantity("surface_c", "coldest surface inside", -40, 50)
OUTSIDE_C = Quantity("outside_c", "air outside", -40, 50)
NIGHT_C = Quantity("night_c", "lowest temperature of each night to come", -50, 50)
DRAIN_C = Quantity("drain_c", "temperature at which to drain", -5, 10)

MAGNUS = Source("Magnus formula, within 0.02 K of psychrolib 2.5.0", Sure.COMPUTED)
ICE = Source("iapws 1.5.5: density of water and ice at 0 °C", Sure.COMPUTED)


@dataclass(frozen=True, slots=True, kw_only=True)
class WeatherInput(Given):
    """The air inside and outside, and the nights to come."""

    cabin_c: float | None = None
    humidity_pct: float | None = None
    surface_c: float | None = None
    outside_c: float | None = None
    night_c: tuple[float, ...] = ()
    drain_c: float | None = None
    """Of the unit's frost valve, or what the reader wants."""


@dataclass(frozen=True, slots=True)
class Weather:
    """Dew point and frost; None where an input is missing."""

    dew_c: float | None
    condenses: bool | None
    """On the coldest surface, where its temperature is known."""
    may_condense: bool | None
    """On a surface as cold as outside, the worst that can be."""
    frost_nights: tuple[int, ...]
    """Which of the nights to come, from 1."""
    figures: tuple[Figure, ...]


def weather(given: WeatherInput) -> Weather:
    """Return the dew point of a cabin and the nights on which to drain."""
    inputs, asked = look(given, (CABIN_C, HUMIDITY_PCT))
    more, missing = look(given, (SURFACE_C, OUTSIDE_C))
    if not more:
        asked += missing
    dew = condenses = may = None
    rows: list[Row] = []
    if given.cabin_c is not None and given.humidity_pct is not None:
        dew = dew_point_c(given.cabin_c, given.humidity_pct)
        rows.append(Row("Dew point", dew, "dew_c", 1, "about"))
        if given.surface_c is not None:
            condenses = given.surface_c <= dew
            label = "On the coldest surface"
            rows.append(Row(label, "water condenses" if condenses else "stays dry"))
        if given.outside_c is not None:
            may = given.outside_c <= dew
            text = "water may condense" if may else "stays dry"
            rows.append(Row("On a window as cold as outside", text))
    air = Figure(
        name="dew-point",
        title="When windows get wet",
        inputs=inputs + more,
        asked=asked,
        formula="The temperature at which this air, cooled, would be saturated (Magnus). A "
        "surface at or below it gets wet.",
        rows=tuple(rows),
        notes=(
            "Cooking, washing and breathing bring water into the air. Fresh air takes it out.",
            "Never block a vent against damp or cold: it is there for your life.",
        ),
        sources=(MAGNUS,),
        cautions=("blocked-ventilation",),
    )
    nights, frost = _frost(given)
    return Weather(dew, condenses, may, nights, (air, frost))


def dew_point_c(cabin_c: float, humidity_pct: float) -> float:
    """Return the dew point of air, degrees Celsius."""
    lift = math.log(humidity_pct / 100) + SLOPE * cabin_c / (OFFSET + cabin_c)
    # At 100 % rounding may lift it a hair above the air itself, which cannot be.
    return min(OFFSET * lift / (SLOPE - lift), cabin_c)


def freezing_growth_pct() -> float:
    """Return by how much water grows when it freezes, percent of its volume."""
    return 100 * (WATER_KG_M3 / ICE_KG_M3 - 1)


def _frost(given: WeatherInput) -> tuple[tuple[int, ...], Figure]:
    inputs, asked = look(given, (NIGHT_C, DRAIN_C))
    nights: tuple[int, ...] = ()
    rows: list[Row] = []
    if given.drain_c is not None and given.night_c:
        nights = tuple(n for n, c in enumerate(given.night_c, 1) if c <= given.drain_c)
        rows.append(Row("Nights at or below that", float(len(nights)), "frost_nights", 0))
        when = f"before night {nights[0]}" if nights else "not for these nights"
        rows.append(Row("Drain the water", when))
    rows.append(Row("Water that freezes grows by", freezing_growth_pct(), "growth_pct", 0, "about"))
    figure = Figure(
        name="frost-nights",
        title="When to drain for frost",
        inputs=inputs,
        asked=asked,
        formula="The nights whose lowest temperature is at or below the one at which to drain.",
        rows=tuple(rows),
        notes=(
            "A forecast errs. A clear night in a hollow is colder than its forecast.",
            "A heated cabin does not keep a pipe or a tank under the floor from freezing.",
        ),
        sources=(ICE,),
        cautions=("frost",),
    )
    return nights, figure
