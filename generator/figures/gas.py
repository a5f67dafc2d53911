"""Gas: what the appliances burn, how long a cylinder lasts, and when it is too cold to feed.

Cylinder gas is a mixture. Pure fluids stand for it as bounds. Net and gross heat are never mixed:
each function names the basis that it works in.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

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
    between,
    checked,
    look,
    look_at,
    one_choice,
)

Basis = Literal["net", "gross"]
BASES = ("net", "gross")
GASES = ("propane", "butane", "mixture")
"""`mixture` is filling-station gas: somewhere between the other two."""

CALORIFIC_MJ_KG: Mapping[tuple[str, str], float] = {
    ("propane", "net"): 46.335,
    ("propane", "gross"): 50.327,
    ("butane", "net"): 45.722,
    ("butane", "gross"): 49.508,
    # A mixture burns at least as heavily as the gas with the lower value.
    ("mixture", "net"): 45.722,
    ("mixture", "gross"): 49.508,
}
"""Heat of combustion at 25 °C from the gas, in MJ/kg; net leaves the water as vapour."""

LIQUID_KG_L_AT_15_C = {"propane": 0.5075, "butane": 0.5843, "mixture": 0.5075}
"""Saturated liquid at 15 °C, kg/l; for a mixture the lesser."""

TANK_FILL = 0.8
"""What is refilled is filled to 80 % of its water capacity at most."""

ATMOSPHERE_BAR = 1.01325

VAPOUR_PRESSURE_BAR: Mapping[str, tuple[tuple[float, float], ...]] = {
    "propane": (
        (-50, 0.7057), (-40, 1.1112), (-30, 1.6783), (-20, 2.4452), (-10, 3.4528), (0, 4.7446),
        (10, 6.3660), (20, 8.3646), (30, 10.7900), (40, 13.6942), (50, 17.1330),
    ),
    "n-butane": (
        (-50, 0.0947), (-40, 0.1679), (-30, 0.2821), (-20, 0.4521), (-10, 0.6955), (0, 1.0323),
        (10, 1.4845), (20, 2.0765), (30, 2.8341), (40, 3.7849), (50, 4.9575),
    ),
    "isobutane": (
        (-50, 0.1680), (-40, 0.2870), (-30, 0.4662), (-20, 0.7248), (-10, 1.0845), (0, 1.5696),
        (10, 2.2061), (20, 3.0222), (30, 4.0472), (40, 5.3121), (50, 6.8490),
    ),
}  # fmt: skip
"""By pure fluid: degrees Celsius and absolute saturation pressure in bar (CoolProp 8.0.0)."""

BOUNDS = {
    "propane": ("propane",),
    "butane": ("n-butane", "isobutane"),
    "mixture": ("n-butane", "propane"),
}
"""By what the cylinder holds: the pure fluids that bound it, the one that feeds worst first."""

FLAMMABLE_PCT: Mapping[str, Mapping[str, tuple[float, float]]] = {
    "IEC 60079-20-1": {
        "propane": (1.7, 10.9), "n-butane": (1.4, 9.3), "isobutane": (1.3, 9.8),
    },
    "NFPA 497": {
        "propane": (2.1, 9.5), "n-butane": (1.9, 8.5), "isobutane": (1.8, 8.4),
    },
}  # fmt: skip
"""Lower and upper limit in air, percent by volume. The two differ: always name which."""

WATER_KG_KG = 4 * 18.0153 / 44.0956
"""Water vapour from burning propane, kg for each kg: C3H8 makes four molecules of water."""

SHOWN_C = (-20, -10, 0, 10, 20, 30, 40)
SEASONS = ("summer", "winter")
HOURS_A_DAY = 24

GAS = Choice("gas", "what the cylinder holds", GASES)
SIZE_KG = Quantity("size_kg", "gas in a full cylinder", 0.1, 100)
CAPACITY_L = Quantity("capacity_l", "water capacity of the tank or cylinder to be refilled", 5, 300)
COUNT = Quantity("count", "of them carried", 1, 10, whole=True)
OUTLET_MBAR = Quantity("outlet_mbar", "working pressure of the regulator", 20, 200)
GAS_G_H = Quantity("gas_g_h", "gas consumption at full output", 1, 3_000)
BASIS = Choice("basis", "heat stated as", BASES)
POWER_KW = Quantity("power_kw", "heat input at full output", 0.01, 40)
HOURS_H_DAY = Quantity("hours_h_day", "hours a day at full output", 0, 24)
LIQUID_C = Quantity("liquid_c", "temperature of the liquid gas", -50, 50)
MASS_KG = Quantity("mass_kg", "gas", 0.01, 1_000)

NIST = Source(
    "NIST WebBook: heat of combustion of propane 2,219.2 and n-butane 2,877.5 kJ/mol, gas, 25 °C",
    Sure.PUBLISHED,
)
COOLPROP = Source("CoolProp 8.0.0: saturation of the pure fluids", Sure.COMPUTED)
TANK_SOURCE = Source("what is refilled is filled to 80 % at most", Sure.PRACTICE)


@dataclass(frozen=True, slots=True)
class GasAppliance:
    """A gas appliance: what it burns at full output, and how long it does so a day."""

    name: str
    label: str
    gas_g_h: float | None = None
    power_kw: float | None = None
    basis: Basis | None = None
    """Of `power_kw`. A plate may state either, so it is asked for and not assumed."""
    summer_h_day: float | None = None
    winter_h_day: float | None = None
    origin: Origin = Origin.UNIT
    hours_origin: Origin = Origin.READER

    def hours(self, season: str) -> float | None:
        """Return the hours a day at full output in a season."""
        return self.summer_h_day if season == "summer" else self.winter_h_day


@dataclass(frozen=True, slots=True, kw_only=True)
class GasInput(Given):
    """The cylinders or the tank of a unit, its regulator, and its appliances."""

    gas: str | None
    appliances: tuple[GasAppliance, ...]
    label: str = ""
    """What the unit calls its store of gas."""
    size_kg: float | None = None
    capacity_l: float | None = None
    """Of a fixed tank, or of a cylinder that is refilled, in place of `size_kg`."""
    count: float = 1
    outlet_mbar: float | None = None


@dataclass(frozen=True, slots=True)
class Gas:
    """How long the gas lasts and how cold it may be."""

    mass_kg: float | None
    """In one full cylinder, or in the tank."""
    g_h: Mapping[str, float]
    """By appliance, at full output."""
    hours: Mapping[str, float]
    """By appliance: how long one cylinder feeds it alone at full output."""
    g_day: Mapping[str, float]
    """By season, where every appliance's hours are known."""
    one_days: Mapping[str, float]
    """By season, for one full cylinder or tank; infinite if nothing burns."""
    days: Mapping[str, float]
    """By season, for all that are carried."""
    lowest_feed_c: Mapping[str, float]
    """By pure fluid that bounds this gas."""
    figures: tuple[Figure, ...]


def gas(given: GasInput) -> Gas:
    """Return consumption, hours, days and the coldest feed of a unit's gas."""
    mass, store_inputs, store_asked = _store(given)
    rates, burn_inputs, burn_asked = _rates(given)
    g_day, day_inputs, day_asked = _days_use(given, rates)
    hours = {n: burning_hours(mass, rate) for n, rate in rates.items()} if mass else {}
    one_days = {
        season: mass * 1_000 / use if use else math.inf for season, use in g_day.items() if mass
    }
    days = {season: one * given.count for season, one in one_days.items()}
    labels = {a.name: a.label for a in given.appliances}
    lowest, cold = _cold(given)
    figures = (
        _consumption(store_inputs + burn_inputs, store_asked + burn_asked, rates, hours, labels),
        _lasting(
            store_inputs + burn_inputs + day_inputs,
            store_asked + burn_asked + day_asked,
            g_day,
            one_days,
            given.count,
        ),
        cold,
    )
    return Gas(mass, rates, hours, g_day, one_days, days, lowest, figures)


def consumption_g_h(power_kw: float, gas: str, basis: Basis) -> float:
    """Return the grams an hour that a heat input burns, both on the same basis."""
    checked(POWER_KW, power_kw)
    one_choice("basis", basis, BASES)
    return power_kw * 3_600 / CALORIFIC_MJ_KG[one_choice("gas", gas, GASES), basis]


def heat_input_kw(g_h: float, gas: str, basis: Basis) -> float:
    """Return the heat input of a consumption, on the basis that is named."""
    checked(GAS_G_H, g_h)
    one_choice("basis", basis, BASES)
    return g_h * CALORIFIC_MJ_KG[one_choice("gas", gas, GASES), basis] / 3_600


def burning_hours(mass_kg: float, g_h: float) -> float:
    """Return how long a mass of gas feeds a steady consumption."""
    return checked(MASS_KG, mass_kg) * 1_000 / checked(GAS_G_H, g_h)


def gas_kg(capacity_l: float, gas: str) -> float:
    """Return the gas in a tank, or in a cylinder to be refilled, of so many litres of water.

    It is filled to 80 %, and the gas is taken at 15 °C; of a mixture this is the least.
    """
    return capacity_l * TANK_FILL * LIQUID_KG_L_AT_15_C[one_choice("gas", gas, GASES)]


def vapour_pressure_bar(fluid: str, liquid_c: float) -> float:
    """Return the absolute saturation pressure of a pure fluid.

    The logarithm of the pressure is nearly a straight line over the inverse of the absolute
    temperature, so the table is joined that way.
    """
    checked(LIQUID_C, liquid_c)
    table = VAPOUR_PRESSURE_BAR[one_choice("fluid", fluid, VAPOUR_PRESSURE_BAR)]
    line = [(-1 / (c + 273.15), math.log(bar)) for c, bar in table]
    return math.exp(between(line, -1 / (liquid_c + 273.15)))


def gauge_bar(fluid: str, liquid_c: float) -> float:
    """Return the saturation pressure above the air around, at sea level; may be negative."""
    return vapour_pressure_bar(fluid, liquid_c) - ATMOSPHERE_BAR


def lowest_feed_c(fluid: str, outlet_mbar: float) -> float:
    """Return the temperature of the liquid below which its pressure is under the working pressure.

    A regulator needs somewhat more than it gives, and drawing gas cools the liquid: so "at least".
    """
    checked(OUTLET_MBAR, outlet_mbar)
    table = VAPOUR_PRESSURE_BAR[one_choice("fluid", fluid, VAPOUR_PRESSURE_BAR)]
    line = [(math.log(bar), -1 / (c + 273.15)) for c, bar in table]
    return -1 / between(line, math.log(ATMOSPHERE_BAR + outlet_mbar / 1_000)) - 273.15


def _store(given: GasInput) -> tuple[float | None, tuple[Input, ...], tuple[Ask, ...]]:
    if given.size_kg is not None and given.capacity_l is not None:
        raise FigureInputError("size_kg", "stands beside capacity_l", "a cylinder or a tank")
    wanted = CAPACITY_L if given.capacity_l is not None else SIZE_KG
    inputs, asked = look(given, (GAS, wanted, COUNT))
    if given.size_kg is not None:
        return float(given.size_kg), inputs, asked
    if given.capacity_l is not None and given.gas is not None:
        return gas_kg(given.capacity_l, given.gas), inputs, asked
    return None, inputs, asked


def _rates(given: GasInput) -> tuple[dict[str, float], tuple[Input, ...], tuple[Ask, ...]]:
    rates: dict[str, float] = {}
    inputs: tuple[Input, ...] = ()
    asked: tuple[Ask, ...] = ()
    for one in given.appliances:
        if one.name in rates:
            raise FigureInputError("appliances", f"have '{one.name}' twice", "one name each")
        if one.gas_g_h is None and one.power_kw is not None:
            wanted: tuple[tuple[Quantity | Choice, float | str | None, str], ...] = (
                (POWER_KW, one.power_kw, one.label),
                (BASIS, one.basis, f"{one.label}: heat input stated as"),
            )
        else:
            wanted = ((GAS_G_H, one.gas_g_h, one.label),)
        for quantity, value, label in wanted:
            key = f"{one.name}.{quantity.key}"
            more, missing = look_at(quantity, value, one.origin, key=key, label=label)
            inputs, asked = inputs + more, asked + missing
        if one.gas_g_h is not None:
            rates[one.name] = float(one.gas_g_h)
        elif one.power_kw is not None and one.basis is not None and given.gas is not None:
            rates[one.name] = consumption_g_h(one.power_kw, given.gas, one.basis)
    return rates, inputs, asked


def _days_use(
    given: GasInput, rates: Mapping[str, float]
) -> tuple[dict[str, float], tuple[Input, ...], tuple[Ask, ...]]:
    inputs: tuple[Input, ...] = ()
    asked: tuple[Ask, ...] = ()
    for one in given.appliances:
        for season in SEASONS:
            key, label = f"{one.name}.{season}_h_day", f"{one.label}, {season}, full output"
            more, missing = look_at(
                HOURS_H_DAY, one.hours(season), one.hours_origin, key=key, label=label
            )
            inputs, asked = inputs + more, asked + missing
    g_day: dict[str, float] = {}
    for season in SEASONS:
        pairs = [(rates.get(one.name), one.hours(season)) for one in given.appliances]
        known = [rate * hours for rate, hours in pairs if rate is not None and hours is not None]
        if known and len(known) == len(pairs):
            g_day[season] = sum(known)
    return g_day, inputs, asked


def _consumption(
    inputs: tuple[Input, ...],
    asked: tuple[Ask, ...],
    rates: Mapping[str, float],
    hours: Mapping[str, float],
    labels: Mapping[str, str],
) -> Figure:
    rows = [Row(f"{labels[n]}, full output", rate, "gas_g_h", 0) for n, rate in rates.items()]
    rows += [
        Row(f"{labels[n]} alone, one full cylinder or tank", time, "time_h", 0, "about")
        for n, time in hours.items()
    ]
    return Figure(
        name="gas-consumption",
        title="What each appliance burns",
        inputs=inputs,
        asked=asked,
        formula="Grams an hour from the plate; or kilowatts times 3,600, divided by the heat of a "
        "kilogram on the same basis, net or gross. Hours: grams of gas divided by grams an hour.",
        rows=tuple(rows),
        notes=(
            "An appliance with a thermostat burns less than this over a day.",
            "A cold cylinder leaves some of its gas unused.",
        ),
        sources=(NIST,) if any(i.key.endswith("power_kw") for i in inputs) else (),
        cautions=("gas-leak", "carbon-monoxide", "carbon-monoxide-cooking-outside"),
        defer="Leave all work on the gas system to a registered gas engineer.",
    )


def _lasting(
    inputs: tuple[Input, ...],
    asked: tuple[Ask, ...],
    g_day: Mapping[str, float],
    one_days: Mapping[str, float],
    count: float,
) -> Figure:
    rows = [Row(f"A {season} day burns", use, "use_g_day", 0) for season, use in g_day.items()]
    for season, time in one_days.items():
        one, every = f"One full lasts, {season}", f"All the gas carried lasts, {season}"
        if math.isinf(time):
            rows.append(Row(one, "as long as you like: nothing burns"))
            continue
        rows.append(Row(one, time, "time_days", 1, "about"))
        rows.append(Row(one, time * HOURS_A_DAY, "time_h", 0, "about"))
        if count > 1:
            rows.append(Row(every, time * count, "time_days", 1, "about"))
    tank = any(i.key == "capacity_l" for i in inputs)
    return Figure(
        name="gas-days",
        title="How long the gas lasts",
        inputs=inputs,
        asked=asked,
        formula="Hours a day at full output times grams an hour, added up; the gas carried "
        "divided by that.",
        rows=tuple(rows),
        notes=("Carry a second cylinder or plan a refill before this runs out.",),
        sources=(COOLPROP, TANK_SOURCE) if tank else (),
        cautions=("cylinder-heavy", "gas-leak"),
    )


def _cold(given: GasInput) -> tuple[dict[str, float], Figure]:
    inputs, asked = look(given, (OUTLET_MBAR,))
    rows: list[Row] = []
    lowest: dict[str, float] = {}
    for fluid in BOUNDS[given.gas] if given.gas is not None else ():
        if given.outlet_mbar is not None:
            lowest[fluid] = lowest_feed_c(fluid, given.outlet_mbar)
            rows.append(
                Row(f"Pure {fluid} must be warmer than", lowest[fluid], "feed_c", 1, "at least")
            )
        for c in SHOWN_C:
            bar = gauge_bar(fluid, c)
            enough = given.outlet_mbar is None or bar * 1_000 >= given.outlet_mbar
            rows.append(
                Row(
                    f"Pure {fluid} at {c} °C",
                    f"{bar:.2f} bar above air" if enough else f"{bar:.2f} bar: will not supply",
                )
            )
    figure = Figure(
        name="gas-cold",
        title="Gas and cold",
        inputs=inputs,
        asked=asked,
        formula="The pressure above the liquid at its temperature, less the pressure of the air, "
        "against the working pressure of the regulator.",
        rows=tuple(rows),
        notes=(
            "Cylinder gas is a mixture: the pure gases are bounds, not your cylinder.",
            "Drawing gas cools the liquid below the air around it.",
            "Never warm a cylinder with a flame, hot water or a heater.",
        ),
        sources=(COOLPROP,),
        cautions=("gas-leak", "liquid-gas-cold"),
        defer="Ask the gas supplier which gas suits the season.",
    )
    return lowest, figure
