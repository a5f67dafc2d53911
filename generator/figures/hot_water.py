"""Hot water: how long it takes to heat, how long a shower lasts, and how fast it scalds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from generator.figures.figure import (
    Ask,
    Figure,
    FigureInputError,
    Given,
    Quantity,
    Row,
    Source,
    Sure,
    between,
    look,
)
from generator.figures.gas import GAS, NIST, heat_input_kw

NOMINAL_V = 230.0

WATER: tuple[tuple[float, float, float], ...] = (
    (0, 999.843, 0.061), (5, 999.967, 21.120), (10, 999.702, 42.119), (15, 999.103, 63.077),
    (20, 998.207, 84.007), (25, 997.048, 104.920), (30, 995.649, 125.823), (35, 994.033, 146.720),
    (40, 992.216, 167.616), (45, 990.213, 188.515), (50, 988.035, 209.418), (55, 985.693, 230.329),
    (60, 983.196, 251.249), (65, 980.551, 272.179), (70, 977.765, 293.123), (75, 974.843, 314.081),
    (80, 971.790, 335.055), (85, 968.611, 356.049), (90, 965.310, 377.063),
)  # fmt: skip
"""Liquid water at 0.101325 MPa: degrees Celsius, density in kg/m³, enthalpy in kJ/kg."""

SCALD_S: tuple[tuple[float, float], ...] = ((49, 300), (54, 30), (55, 17), (60, 3), (66, 1.5))
"""Water in degrees Celsius, and the shortest published time in seconds to burn an adult."""

CAPACITY_L = Quantity("capacity_l", "water that the heater holds", 0.5, 200)
FILL_C = Quantity("fill_c", "temperature of the water that is filled in", 0, 40)
HOT_C = Quantity("hot_c", "temperature that is chosen", 30, 90)
MAINS_W = Quantity("mains_w", "power of each mains stage", 50, 10_000)
SUPPLY_V = Quantity("supply_v", "voltage at the inlet", 180, 260)
GAS_G_H = Quantity("gas_g_h", "gas consumption at full output", 1, 3_000)
MIX_C = Quantity("mix_c", "temperature of the shower", 25, 45)
FLOW_L_MIN = Quantity("flow_l_min", "flow of the shower", 0.5, 30)

IAPWS = Source("iapws 1.5.5: IAPWS-95 water at 0.101325 MPa", Sure.COMPUTED)
SCALD_SOURCE = Source(
    "scald times of several published tables, which disagree: the shortest of each temperature",
    Sure.SECOND_HAND,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class HotWaterInput(Given):
    """A water heater, the water that is filled in, and the shower that is wanted."""

    capacity_l: float | None
    fill_c: float | None = None
    hot_c: float | None = None
    mains_w: tuple[float, ...] = ()
    supply_v: float | None = None
    """Measured; if absent, nominal."""
    gas_g_h: float | None = None
    gas: str | None = None
    mix_c: float | None = None
    flow_l_min: float | None = None


@dataclass(frozen=True, slots=True)
class HotWater:
    """Times to heat, the shower, and the scald time."""

    energy_kwh: float | None
    minutes: Mapping[str, float]
    """To heat, by source: `mains 850 W`, `gas`, `mains 850 W and gas`. A least: no losses."""
    expansion_l: float | None
    """What the water grows by while it heats."""
    mixed_l: float | None
    shower_min: float | None
    """From the store alone. A most."""
    scald_s: float | None
    figures: tuple[Figure, ...]


def hot_water(given: HotWaterInput) -> HotWater:
    """Return the times to heat a store, and what a shower gets from it."""
    _check_order(given)
    energy, minutes, expansion, heating = _heating(given)
    mixed, shower, showering = _showering(given)
    scald, scalding = _scalding(given)
    return HotWater(
        energy, minutes, expansion, mixed, shower, scald, (heating, showering, scalding)
    )


def density_kg_l(celsius: float) -> float:
    """Return the density of water, kg/l."""
    return between([(c, rho) for c, rho, _ in WATER], celsius) / 1_000


def enthalpy_kj_kg(celsius: float) -> float:
    """Return the heat content of water, kJ/kg above the freezing point."""
    return between([(c, h) for c, _, h in WATER], celsius)


def heat_kj(capacity_l: float, fill_c: float, hot_c: float) -> float:
    """Return the heat to bring a full store from one temperature to another."""
    mass = capacity_l * density_kg_l(fill_c)
    return mass * (enthalpy_kj_kg(hot_c) - enthalpy_kj_kg(fill_c))


def mixed_litres(capacity_l: float, fill_c: float, hot_c: float, mix_c: float) -> float:
    """Return the water at the mixed temperature that a hot store gives with cold water.

    All of the store is taken to leave at its full temperature, which no store does.
    """
    mass = capacity_l * density_kg_l(hot_c)
    hot, mix, cold = (enthalpy_kj_kg(c) for c in (hot_c, mix_c, fill_c))
    return mass * (hot - cold) / (mix - cold) / density_kg_l(mix_c)


def scald_seconds(hot_c: float) -> float | None:
    """Return the shortest published time in which water this hot burns; None below the table.

    Between two rows the hotter one's time is taken, above the last row the last one's.
    """
    if hot_c < SCALD_S[0][0]:
        return None
    return next((s for c, s in SCALD_S if c >= hot_c), SCALD_S[-1][1])


def burner_w(given: HotWaterInput) -> float | None:
    """Return the net heat of the gas burner at full output, watts; None where there is none."""
    if given.gas_g_h is None or given.gas is None:
        return None
    # The richer gas stands for a mixture, so that the time stays a least one.
    fuel = "propane" if given.gas == "mixture" else given.gas
    return heat_input_kw(given.gas_g_h, fuel, "net") * 1_000


def _check_order(given: HotWaterInput) -> None:
    look(given, (CAPACITY_L, FILL_C, HOT_C, MAINS_W, SUPPLY_V, GAS_G_H, MIX_C, FLOW_L_MIN))
    fill, mix, hot = given.fill_c, given.mix_c, given.hot_c
    if fill is not None and hot is not None and fill >= hot:
        raise FigureInputError("fill_c", f"is {fill:g}", f"colder than the store at {hot:g} °C")
    if mix is not None and hot is not None and mix > hot:
        raise FigureInputError("mix_c", f"is {mix:g}", f"at most the store's {hot:g} °C")
    if mix is not None and fill is not None and mix <= fill:
        raise FigureInputError("mix_c", f"is {mix:g}", f"warmer than the fill at {fill:g} °C")
    look(given, (GAS,))


def _powers_w(given: HotWaterInput) -> dict[str, float]:
    """Return the power of each way to heat. All of the gas's net heat is taken to reach it."""
    share = ((given.supply_v or NOMINAL_V) / NOMINAL_V) ** 2
    powers = {f"mains {watts:g} W": watts * share for watts in given.mains_w}
    burner = burner_w(given)
    if burner is not None:
        both = {f"{name} and gas": watts + burner for name, watts in powers.items()}
        powers = {**powers, "gas": burner, **both}
    return powers


def _heating(
    given: HotWaterInput,
) -> tuple[float | None, dict[str, float], float | None, Figure]:
    inputs, asked = look(given, (CAPACITY_L, FILL_C, HOT_C))
    more, _ = look(given, (SUPPLY_V,))
    powers = [q for q in (MAINS_W, GAS_G_H) if getattr(given, q.key) not in (None, ())]
    if powers:
        sources, _ = look(given, powers)
        inputs += sources + more
    else:
        asked += (Ask("mains_w", "power of the mains stages or the burner", MAINS_W.right),)
    if given.gas_g_h is not None:
        fuel, missing = look(given, (GAS,))
        inputs, asked = inputs + fuel, asked + missing
    energy: float | None = None
    expansion: float | None = None
    minutes: dict[str, float] = {}
    rows: list[Row] = []
    if given.capacity_l is not None and given.fill_c is not None and given.hot_c is not None:
        heat = heat_kj(given.capacity_l, given.fill_c, given.hot_c)
        energy = heat / 3_600
        growth = density_kg_l(given.fill_c) / density_kg_l(given.hot_c) - 1
        expansion = max(0.0, given.capacity_l * growth)
        minutes = {name: heat * 1_000 / w / 60 for name, w in _powers_w(given).items()}
        rows = [
            *(Row(f"On {n}", time, "time_min", 0, "at least") for n, time in minutes.items()),
            Row("Heat that goes in", energy, "energy_kwh", 2, "at least"),
            Row("Water grows by", expansion, "expansion_l", 2, "about"),
        ]
    figure = Figure(
        name="heat-up",
        title="When the water is hot",
        inputs=inputs,
        asked=asked,
        formula="The mass of water, times the heat that each kilogram takes between the two "
        "temperatures, divided by the power.",
        rows=tuple(rows),
        notes=(
            "Losses and the metal of the heater are left out: it takes longer than this.",
            "A mains element gives less at a low voltage.",
            "The gas burner is taken at its net heat, all of it into the water.",
        ),
        sources=(IAPWS, NIST) if given.gas_g_h is not None else (IAPWS,),
        cautions=("scald", "dry-heater"),
        defer="The maker's handbook comes first.",
    )
    return energy, minutes, expansion, figure


def _showering(given: HotWaterInput) -> tuple[float | None, float | None, Figure]:
    inputs, asked = look(given, (CAPACITY_L, FILL_C, HOT_C, MIX_C, FLOW_L_MIN))
    mixed: float | None = None
    minutes: float | None = None
    rows: list[Row] = []
    if (
        given.capacity_l is not None
        and given.fill_c is not None
        and given.hot_c is not None
        and given.mix_c is not None
    ):
        mixed = mixed_litres(given.capacity_l, given.fill_c, given.hot_c, given.mix_c)
        rows.append(Row("Mixed water from the store", mixed, "mixed_l", 1, "at most"))
        if given.flow_l_min is not None:
            minutes = mixed / given.flow_l_min
            rows.append(Row("Shower from the store", minutes, "shower_min", 1, "at most"))
    figure = Figure(
        name="shower",
        title="How long a shower lasts",
        inputs=inputs,
        asked=asked,
        formula="The hot store mixed with cold water down to the shower's temperature, divided "
        "by the flow.",
        rows=tuple(rows),
        notes=("Cold water runs into the store meanwhile, so the last of it is not hot.",),
        sources=(IAPWS,),
        cautions=("scald",),
    )
    return mixed, minutes, figure


def _scalding(given: HotWaterInput) -> tuple[float | None, Figure]:
    inputs, asked = look(given, (HOT_C,))
    seconds = scald_seconds(given.hot_c) if given.hot_c is not None else None
    rows: tuple[Row, ...] = ()
    if seconds is not None:
        rows = (Row("Burns an adult's skin in", seconds, "scald_s", 1, ""),)
        if seconds == int(seconds):
            rows = (Row("Burns an adult's skin in", seconds, "scald_s", 0, ""),)
    figure = Figure(
        name="scald",
        title="How fast it scalds",
        inputs=inputs,
        asked=asked,
        formula="The shortest published time for water at least this hot.",
        rows=rows,
        notes=(
            "The skin of children and of old people burns sooner.",
            "Run cold first, then add hot. Test with your elbow.",
        ),
        sources=(SCALD_SOURCE,),
        cautions=("scald",),
    )
    return seconds, figure
