"""Battery: how many nights it lasts without mains, and how long it takes to charge."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from generator.figures.figure import (
    Ask,
    Choice,
    Figure,
    FigureInputError,
    Given,
    Input,
    Origin,
    Quantity,
    Row,
    Source,
    Sure,
    checked,
    look,
    look_at,
)

NOMINAL_V = 12.0
RATING_H = 20.0
"""A leisure battery's ampere-hours are stated for a discharge over this many hours."""

USABLE_PCT = {"flooded-lead-acid": 50.0, "gel": 50.0, "AGM": 50.0, "LiFePO4": 80.0}
"""By chemistry: the share of the rated charge to use. Common practice; a reader may change it."""

CAPACITY_AH = Quantity("capacity_ah", "capacity of one battery at its 20-hour rate", 1, 2_000)
COUNT = Quantity("count", "batteries", 1, 10, whole=True)
CHEMISTRY = Choice("chemistry", "kind of battery", tuple(USABLE_PCT))
USABLE_PCT_INPUT = Quantity("usable_pct", "share of the charge to use", 5, 100)
HEAVY_A = Quantity("heavy_a", "steady current of one heavy load", 0.1, 500)
PEUKERT_K = Quantity("peukert_k", "Peukert exponent of the battery", 1, 2)
POWER_WP = Quantity("power_wp", "rated peak power of the solar panels", 1, 5_000)
SUN_PSH = Quantity("sun_psh", "sun on the panel", 0, 12)
SOLAR_PCT = Quantity("solar_pct", "share of the panel's power that is stored", 10, 100)
CHARGE_V = Quantity("charge_v", "charging voltage", 10, 16)
OUTPUT_A = Quantity("output_a", "current of the charger", 0.5, 200)
FEED_A = Quantity("feed_a", "current of the feed from the vehicle's engine", 0.5, 200)
DRIVE_H = Quantity("drive_h", "hours of driving", 0, 24)
LOAD_A = Quantity("load_a", "current of a load", 0, 500)
LOAD_W = Quantity("load_w", "power of a load", 0, 5_000)
LOAD_H_DAY = Quantity("load_h_day", "hours that a load is on", 0, 24)

PEUKERT = Source(
    "Peukert's law in its hour-rate form, as a battery seller's article states it", Sure.PUBLISHED
)
SOLAR = Source("about 70 % of a panel's power is stored", Sure.MEMORY)
DEPTH = Source("half of a lead-acid battery, 80 % of a LiFePO4 one", Sure.PRACTICE)


@dataclass(frozen=True, slots=True)
class DcLoad:
    """A 12 V load: its current, or its power, and its hours a day."""

    name: str
    label: str
    draw_a: float | None = None
    draw_w: float | None = None
    h_day: float | None = None
    origin: Origin = Origin.UNIT
    hours_origin: Origin = Origin.READER

    @property
    def amps(self) -> float | None:
        """Return its current at 12 V."""
        if self.draw_a is not None:
            return checked(LOAD_A, self.draw_a, key=f"{self.name}.draw_a")
        if self.draw_w is not None:
            return checked(LOAD_W, self.draw_w, key=f"{self.name}.draw_w") / NOMINAL_V
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryInput(Given):
    """The batteries of a unit, what draws on them, and what charges them."""

    capacity_ah: float | None
    chemistry: str | None
    loads: tuple[DcLoad, ...]
    count: float = 1
    usable_pct: float | None = None
    """If absent, what is usual for the chemistry, and said to be so."""
    heavy_a: float | None = None
    peukert_k: float | None = None
    power_wp: float | None = None
    sun_psh: tuple[float, ...] = ()
    """Full-sun hours a day: one value, or twelve from January."""
    solar_pct: float | None = None
    charge_v: float | None = None
    output_a: float | None = None
    feed_a: float | None = None
    drive_h: float | None = None


@dataclass(frozen=True, slots=True)
class Battery:
    """Charge, loads, nights and hours; None where an input is missing."""

    usable_ah: float | None
    use_ah_day: float | None
    nights: float | None
    """Without any charging. A most; infinite if nothing is on."""
    heavy_h: float | None
    """How long the usable charge feeds the heavy load. A most."""
    solar_ah_day: tuple[float, ...]
    nights_with_sun: tuple[float, ...]
    """For each value of sun; infinite where the sun brings as much as is used."""
    charge_h: float | None
    """To put the usable charge back from the charger. A least."""
    feed_ah: float | None
    """From the driving. A most."""
    figures: tuple[Figure, ...]


def battery(given: BatteryInput) -> Battery:
    """Return how long the battery lasts and how long it takes to charge."""
    usable, depth_inputs, depth_asked = _usable(given)
    use, load_inputs, load_asked = _use(given)
    nights = _nights(usable, use, 0.0)
    solar, sun_inputs, sun_asked = _solar(given)
    sunny = tuple(night for one in solar if (night := _nights(usable, use, one)) is not None)
    nights_figure = _nights_figure(nights, use, usable, solar, sunny)
    if given.power_wp is not None:
        load_inputs, load_asked = load_inputs + sun_inputs, load_asked + sun_asked
    nights_figure = replace(
        nights_figure,
        inputs=depth_inputs + load_inputs,
        asked=depth_asked + load_asked,
        cautions=_cautions(given),
    )
    heavy, heavy_figure = _heavy(given, depth_inputs, depth_asked)
    charge, feed, charging = _charging(given, usable, depth_inputs, depth_asked)
    figures: tuple[Figure, ...] = (nights_figure, heavy_figure, charging)
    if given.power_wp is not None:
        figures += (_sun_figure(sun_inputs, sun_asked),)
    return Battery(usable, use, nights, heavy, solar, sunny, charge, feed, figures)


def peukert_hours(
    capacity_ah: float, amps: float, exponent: float, rating_h: float = RATING_H
) -> float:
    """Return the hours of a full discharge, never more than the rated charge gives.

    This is the form for a capacity stated for a number of hours, usually 20. The shorter form
    (capacity divided by current to the power of the exponent) wants the capacity at 1 A, and is
    wrong here. Below the rated current the law promises more than is stated, so it is capped.
    """
    law = rating_h * math.pow(capacity_ah / (amps * rating_h), exponent)
    return min(law, capacity_ah / amps)


def solar_ah(power_wp: float, sun_psh: float, solar_pct: float, charge_v: float) -> float:
    """Return the ampere-hours that a panel stores in a day of so many full-sun hours."""
    return power_wp * sun_psh * solar_pct / 100 / charge_v


def charge_over_days(
    usable_ah: float, use_ah_day: float, solar_ah_day: float, days: int
) -> tuple[float, ...]:
    """Return the usable charge left at the start and at the end of each day, for a plot."""
    left = [usable_ah]
    for _ in range(days):
        left.append(min(usable_ah, max(0.0, left[-1] + solar_ah_day - use_ah_day)))
    return tuple(left)


def _cautions(given: BatteryInput) -> tuple[str, ...]:
    acid = given.chemistry != "LiFePO4"
    return ("battery-acid", "battery-short") if acid else ("battery-short",)


def _nights(usable: float | None, use: float | None, solar: float) -> float | None:
    if usable is None or use is None:
        return None
    return usable / (use - solar) if use > solar else math.inf


def _usable(
    given: BatteryInput,
) -> tuple[float | None, tuple[Input, ...], tuple[Ask, ...]]:
    inputs, asked = look(given, (CAPACITY_AH, COUNT, CHEMISTRY))
    share = USABLE_PCT[given.chemistry] if given.chemistry is not None else None
    if given.usable_pct is not None:
        inputs += look(given, (USABLE_PCT_INPUT,))[0]
        share = given.usable_pct
    elif share is not None:
        inputs += (Input("usable_pct", USABLE_PCT_INPUT.label, share, Origin.KIND),)
    if given.capacity_ah is None or share is None:
        return None, inputs, asked
    return given.capacity_ah * given.count * share / 100, inputs, asked


def _use(given: BatteryInput) -> tuple[float | None, tuple[Input, ...], tuple[Ask, ...]]:
    inputs: tuple[Input, ...] = ()
    asked: tuple[Ask, ...] = ()
    total = 0.0
    for load in given.loads:
        amps, hours = load.amps, load.h_day
        time = f"{load.label}, hours a day"
        for wanted, value, origin, key, label in (
            (LOAD_A, amps, load.origin, "draw_a", load.label),
            (LOAD_H_DAY, hours, load.hours_origin, "h_day", time),
        ):
            more, missing = look_at(wanted, value, origin, key=f"{load.name}.{key}", label=label)
            inputs, asked = inputs + more, asked + missing
        if amps is not None and hours is not None:
            total += amps * hours
    if not given.loads:
        asked += (Ask("loads", "what is on, and for how long", "one or more loads"),)
    return (None if asked else total), inputs, asked


def _solar(
    given: BatteryInput,
) -> tuple[tuple[float, ...], tuple[Input, ...], tuple[Ask, ...]]:
    inputs, asked = look(given, (POWER_WP, SUN_PSH, SOLAR_PCT, CHARGE_V))
    if len(given.sun_psh) not in (0, 1, 12):
        raise FigureInputError(
            "sun_psh", f"has {len(given.sun_psh)} values", "one value, or twelve from January"
        )
    if given.power_wp is None or given.solar_pct is None or given.charge_v is None:
        return (), inputs, asked
    solar = tuple(
        solar_ah(given.power_wp, sun, given.solar_pct, given.charge_v) for sun in given.sun_psh
    )
    return solar, inputs, asked


def _nights_figure(
    nights: float | None,
    use: float | None,
    usable: float | None,
    solar: tuple[float, ...],
    sunny: tuple[float, ...],
) -> Figure:
    rows: list[Row] = []
    if usable is not None:
        rows.append(Row("Charge to use", usable, "usable_ah", 0, "at most"))
    if use is not None:
        rows.append(Row("A day uses", use, "use_ah_day", 1, "about"))
    if nights is not None:
        rows.append(_nights_row("Without mains or sun", nights))
    months = len(solar) > 1
    for number, one in enumerate(solar):
        when = f" in month {number + 1}" if months else ""
        rows.append(Row(f"The sun brings{when}", one, "solar_ah_day", 1, "about"))
        if sunny:
            rows.append(_nights_row(f"Without mains, with sun{when}", sunny[number]))
    return Figure(
        name="nights",
        title="How many nights without hook-up",
        inputs=(),
        asked=(),
        formula="The charge to use, divided by what a day uses less what the sun brings. A load's "
        "day is its current times its hours.",
        rows=tuple(rows),
        notes=(
            "An old or a cold battery holds less. Some charge is lost on the way.",
            "The voltage of a LiFePO4 battery tells next to nothing about its charge.",
        ),
        sources=(DEPTH,),
    )


def _sun_figure(inputs: tuple[Input, ...], asked: tuple[Ask, ...]) -> Figure:
    return Figure(
        name="sun",
        title="What the sun brings",
        inputs=inputs,
        asked=asked,
        formula="The panel's peak power times the hours of full sun, times the share that is "
        "stored, divided by the charging voltage.",
        rows=(),
        sources=(SOLAR,),
    )


def _nights_row(label: str, nights: float) -> Row:
    if math.isinf(nights):
        return Row(label, "does not run down")
    return Row(label, nights, "time_nights", 1, "at most")


def _heavy(
    given: BatteryInput, inputs: tuple[Input, ...], asked: tuple[Ask, ...]
) -> tuple[float | None, Figure]:
    lead = given.chemistry != "LiFePO4"
    more, missing = look(given, (HEAVY_A, PEUKERT_K) if lead else (HEAVY_A,))
    hours: float | None = None
    rows: tuple[Row, ...] = ()
    exponent = given.peukert_k if lead else 1.0
    share = next((i.value for i in inputs if i.key == "usable_pct"), None)
    if (
        given.capacity_ah is not None
        and given.heavy_a is not None
        and exponent is not None
        and isinstance(share, int | float)
    ):
        whole = peukert_hours(given.capacity_ah * given.count, given.heavy_a, exponent)
        hours = whole * share / 100
        rows = (Row("The load runs for", hours, "time_h", 1, "at most"),)
    figure = Figure(
        name="heavy-load",
        title="How long one heavy load runs",
        inputs=inputs + more,
        asked=asked + missing,
        formula="Twenty hours, times the capacity divided by twenty hours of this current, to the "
        "power of the Peukert exponent; never more than the rated charge. Of that, the share to "
        "use.",
        rows=rows,
        notes=("The exponent stands in the battery's data sheet. It rises with age.",)
        if lead
        else ("A LiFePO4 battery gives nearly its rated charge at any current it allows.",),
        sources=(PEUKERT, DEPTH) if lead else (DEPTH,),
        cautions=_cautions(given),
    )
    return hours, figure


def _charging(
    given: BatteryInput,
    usable: float | None,
    inputs: tuple[Input, ...],
    asked: tuple[Ask, ...],
) -> tuple[float | None, float | None, Figure]:
    more, missing = look(given, (OUTPUT_A,))
    inputs, asked = inputs + more, asked + missing
    charge = feed = None
    rows: list[Row] = []
    if usable is not None and given.output_a is not None:
        charge = usable / given.output_a
        rows.append(Row("From the mains charger", charge, "time_h", 1, "at least"))
    more, missing = look(given, (FEED_A, DRIVE_H))
    inputs, asked = inputs + more, asked + missing
    if given.feed_a is not None and given.drive_h is not None:
        feed = given.feed_a * given.drive_h
        rows.append(Row("From the engine, on this drive", feed, "feed_ah", 0, "at most"))
    figure = Figure(
        name="charging",
        title="How long charging takes",
        inputs=inputs,
        asked=asked,
        formula="The charge that was used divided by the charging current. From the engine: "
        "current times hours of driving.",
        rows=tuple(rows),
        notes=(
            "The last fifth of a lead-acid battery charges slowly, whatever the charger gives.",
            "Loads that are on meanwhile take their part of the current.",
            "A thin lead from the tow car carries much less than the engine could give.",
        ),
        cautions=_cautions(given),
    )
    return charge, feed, figure
