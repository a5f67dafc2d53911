"""Gas: consumption, hours, days and cold."""

# ruff: noqa: D103 - a test here is named by the sentence that it proves
from __future__ import annotations

import math

import chemicals
import pytest
from chemicals.combustion import combustion_data
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from generator.figures import gas as room
from generator.figures.figure import FigureInputError, Origin
from generator.figures.gas import (
    CALORIFIC_MJ_KG,
    FLAMMABLE_PCT,
    LIQUID_KG_L_AT_15_C,
    VAPOUR_PRESSURE_BAR,
    WATER_KG_KG,
    GasAppliance,
    GasInput,
    burning_hours,
    consumption_g_h,
    gas,
    gas_kg,
    gauge_bar,
    heat_input_kw,
    lowest_feed_c,
    vapour_pressure_bar,
)

FLUIDS = {"propane": "Propane", "n-butane": "n-Butane", "isobutane": "IsoButane"}
CAS = {"propane": "74-98-6", "n-butane": "106-97-8", "isobutane": "75-28-5"}
HEATER = GasAppliance("heater", "Heater", gas_g_h=200, summer_h_day=0.5, winter_h_day=6)
FRIDGE = GasAppliance("fridge", "Fridge", gas_g_h=11, summer_h_day=24, winter_h_day=24)


def test_two_kilowatts_of_propane() -> None:
    # Checked against: NIST WebBook, propane -2,219.2 kJ/mol gross, less 4 mol of water at
    # 44.004 kJ/mol for net (reference.md B, check 1).
    assert consumption_g_h(2, "propane", "net") == pytest.approx(155.38, rel=0.001)
    assert consumption_g_h(3, "propane", "net") == pytest.approx(233.07, rel=0.001)
    assert consumption_g_h(6, "propane", "net") == pytest.approx(466.14, rel=0.001)
    assert consumption_g_h(1, "butane", "net") == pytest.approx(78.75, rel=0.001)
    assert consumption_g_h(1, "propane", "gross") == pytest.approx(71.53, rel=0.001)
    assert consumption_g_h(1, "butane", "gross") == pytest.approx(72.72, rel=0.001)


def test_hours_of_a_cylinder() -> None:
    # Checked against: the same heat of combustion; 6 kg at 2 kW, 11 kg at 3 kW (reference.md B).
    assert burning_hours(6, consumption_g_h(2, "propane", "net")) == pytest.approx(38.61, rel=0.001)
    assert burning_hours(11, consumption_g_h(3, "propane", "net")) == pytest.approx(
        47.20, rel=0.001
    )
    energy_kwh = 4.5 * CALORIFIC_MJ_KG["butane", "net"] / 3.6
    assert energy_kwh == pytest.approx(57.15, rel=0.001)


@pytest.mark.parametrize(
    ("name", "hhv", "lhv"), [("propane", 50.350, 46.360), ("butane", 49.500, 45.720)]
)
def test_calorific_values_of_a_textbook(name: str, hhv: float, lhv: float) -> None:
    # Checked against: Moran and Shapiro, Fundamentals of Engineering Thermodynamics, Table A-25.
    assert CALORIFIC_MJ_KG[name, "gross"] == pytest.approx(hhv, rel=0.001)
    assert CALORIFIC_MJ_KG[name, "net"] == pytest.approx(lhv, rel=0.001)


@pytest.mark.parametrize(("name", "cas"), [("propane", "74-98-6"), ("butane", "106-97-8")])
def test_calorific_values_of_a_library(name: str, cas: str) -> None:
    # Checked against: chemicals 1.5.2, heats of formation at 25 °C.
    formula = {"C": 3, "H": 8} if name == "propane" else {"C": 4, "H": 10}
    data = combustion_data(formula, Hf=chemicals.Hfg(cas), MW=chemicals.MW(cas))
    grams = data.MW
    assert CALORIFIC_MJ_KG[name, "gross"] == pytest.approx(-data.HHV / grams / 1e3, rel=0.001)
    assert CALORIFIC_MJ_KG[name, "net"] == pytest.approx(-data.LHV / grams / 1e3, rel=0.001)


def test_net_and_gross_cannot_be_mistaken_for_each_other() -> None:
    # Checked against: NIST WebBook: net and gross of propane lie 8.6 % apart (reference.md B, 4).
    for one, apart in (("propane", 8.6), ("butane", 8.3)):
        ratio = consumption_g_h(5, one, "net") / consumption_g_h(5, one, "gross")
        assert 100 * (ratio - 1) == pytest.approx(apart, abs=0.1)
    plate = GasAppliance("hob", "Hob", power_kw=5, summer_h_day=1, winter_h_day=1)
    result = gas(GasInput(gas="propane", size_kg=6, appliances=(plate,)))
    assert result.g_h == {}
    assert [ask.key for ask in result.figures[0].asked] == ["hob.basis"]
    assert result.figures[0].asked[0].right == "net or gross"
    with pytest.raises(FigureInputError, match="basis"):
        consumption_g_h(5, "propane", "lower")  # type: ignore[arg-type]


@pytest.mark.parametrize("fluid", FLUIDS)
@pytest.mark.parametrize("celsius", [-43.7, -15, -5, 4, 15, 25, 37, *range(-50, 51, 10)])
def test_vapour_pressure(fluid: str, celsius: float) -> None:
    # Checked against: CoolProp 8.0.0, saturation of the pure fluid, within 0.5 %.
    theirs = PropsSI("P", "T", celsius + 273.15, "Q", 0, FLUIDS[fluid]) / 1e5
    assert vapour_pressure_bar(fluid, celsius) == pytest.approx(theirs, rel=0.005)


def test_vapour_pressure_in_print() -> None:
    # Checked against: CoolProp 8.0.0 as tabulated in reference.md B (check 2).
    assert vapour_pressure_bar("propane", -20) == pytest.approx(2.4452, rel=0.005)
    assert vapour_pressure_bar("n-butane", -10) == pytest.approx(0.6955, rel=0.005)
    assert gauge_bar("n-butane", 0) == pytest.approx(0.019, abs=0.001)
    assert gauge_bar("n-butane", -10) < 0


@pytest.mark.parametrize("fluid", FLUIDS)
@pytest.mark.parametrize("mbar", [28, 30, 37, 50])
def test_the_coldest_feed(fluid: str, mbar: float) -> None:
    # Checked against: CoolProp 8.0.0, saturation temperature at one atmosphere and the working
    # pressure.
    theirs = PropsSI("T", "P", 101_325 + mbar * 100, "Q", 0, FLUIDS[fluid]) - 273.15
    assert lowest_feed_c(fluid, mbar) == pytest.approx(theirs, abs=0.15)
    assert gauge_bar(fluid, lowest_feed_c(fluid, mbar)) * 1_000 == pytest.approx(mbar, abs=0.01)


def test_butane_does_not_feed_in_frost_and_propane_does() -> None:
    butane = gas(GasInput(gas="butane", size_kg=7, outlet_mbar=30, appliances=()))
    assert butane.lowest_feed_c["n-butane"] == pytest.approx(0.3, abs=0.2)
    said = {row.label: str(row) for row in butane.figures[2].rows}
    assert said["Pure n-butane at -10 °C"].endswith("will not supply")
    assert said["Pure n-butane at 0 °C"].endswith("will not supply")
    assert said["Pure n-butane at 10 °C"] == "0.47 bar above air"
    propane = gas(GasInput(gas="propane", size_kg=6, outlet_mbar=30, appliances=()))
    assert propane.lowest_feed_c["propane"] < -40
    assert not any("will not" in str(row) for row in propane.figures[2].rows)


@pytest.mark.parametrize(("name", "fluid"), [("propane", "Propane"), ("butane", "n-Butane")])
def test_liquid_density(name: str, fluid: str) -> None:
    # Checked against: CoolProp 8.0.0, saturated liquid at 15 °C.
    theirs = PropsSI("D", "T", 288.15, "Q", 0, fluid) / 1_000
    assert LIQUID_KG_L_AT_15_C[name] == pytest.approx(theirs, rel=0.001)


@pytest.mark.parametrize("litres", [5, 11, 14, 40, 60])
def test_the_gas_in_what_is_refilled(litres: float) -> None:
    # Checked against: CoolProp 8.0.0, saturated liquid at 15 °C, times 80 % of the water capacity:
    # between all propane and all n-butane.
    least, most = (
        0.8 * litres / 1_000 * PropsSI("D", "T", 288.15, "Q", 0, fluid)
        for fluid in ("Propane", "n-Butane")
    )
    assert gas_kg(litres, "propane") == pytest.approx(least, rel=0.001)
    assert gas_kg(litres, "butane") == pytest.approx(most, rel=0.001)
    assert gas_kg(litres, "mixture") == gas_kg(litres, "propane")
    tank = gas(GasInput(gas="mixture", capacity_l=litres, count=2, appliances=(FRIDGE,)))
    assert tank.mass_kg == pytest.approx(least, rel=0.001)
    assert tank.days["summer"] == pytest.approx(2 * least * 1_000 / 264, rel=0.001)


@pytest.mark.parametrize("fluid", FLUIDS)
@pytest.mark.parametrize(
    ("standard", "method"),
    [("IEC 60079-20-1", "IEC 60079-20-1 (2010)"), ("NFPA 497", "NFPA 497 (2008)")],
)
def test_flammability_limits_by_named_standard(fluid: str, standard: str, method: str) -> None:
    # Checked against: chemicals 1.5.2, its tables of IEC 60079-20-1:2010 and NFPA 497:2008.
    lower, upper = FLAMMABLE_PCT[standard][fluid]
    assert lower / 100 == pytest.approx(chemicals.LFL(CASRN=CAS[fluid], method=method))
    assert upper / 100 == pytest.approx(chemicals.UFL(CASRN=CAS[fluid], method=method))


def test_the_lower_limits_in_print() -> None:
    # Checked against: IEC 60079-20-1:2010 as tabulated in reference.md B (check 3).
    assert FLAMMABLE_PCT["IEC 60079-20-1"]["propane"][0] == 1.7
    assert FLAMMABLE_PCT["IEC 60079-20-1"]["n-butane"][0] == 1.4


def test_water_from_burning_propane() -> None:
    # Checked against: chemicals 1.5.2, molar masses; 1.634 kg for each kg (reference.md B).
    moles = combustion_data({"C": 3, "H": 8}, Hf=-104390.0, MW=44.0956).stoichiometry["H2O"]
    theirs = moles * chemicals.MW("7732-18-5") / chemicals.MW("74-98-6")
    assert pytest.approx(theirs, rel=1e-4) == WATER_KG_KG
    assert pytest.approx(1.634, abs=0.001) == WATER_KG_KG


def test_days_for_a_day_of_use() -> None:
    result = gas(GasInput(gas="propane", size_kg=6, count=2, appliances=(HEATER, FRIDGE)))
    assert result.g_day == {"summer": 100 + 264, "winter": 1200 + 264}
    assert result.days["winter"] == pytest.approx(12_000 / 1_464)
    assert result.one_days["winter"] == pytest.approx(6_000 / 1_464)
    said = [(row.label, str(row)) for row in result.figures[1].rows if "winter" in row.label]
    assert said == [
        ("A winter day burns", "1,464 g/day"),
        ("One full lasts, winter", "about 4.1 days"),
        ("One full lasts, winter", "about 98 h"),
        ("All the gas carried lasts, winter", "about 8.2 days"),
    ]
    assert result.hours["heater"] == pytest.approx(30)
    figure = result.figures[1]
    assert "about 8.2 days" in [str(row) for row in figure.rows]
    origins = {i.key: i.origin for i in figure.inputs}
    assert origins["heater.gas_g_h"] == Origin.UNIT
    assert origins["heater.winter_h_day"] == Origin.READER


def test_hours_that_are_missing_are_asked_for_and_nothing_is_guessed() -> None:
    one = GasAppliance("hob", "Hob", gas_g_h=480, summer_h_day=1)
    result = gas(GasInput(gas="propane", size_kg=6, appliances=(one, FRIDGE)))
    assert "winter" not in result.g_day
    assert result.g_day["summer"] == 480 + 264
    assert [ask.key for ask in result.figures[1].asked] == ["hob.winter_h_day"]


def test_a_missing_gas_or_size_is_asked_for() -> None:
    result = gas(GasInput(gas=None, appliances=(HEATER,)))
    assert {ask.key for ask in result.figures[0].asked} == {"gas", "size_kg"}
    assert result.mass_kg is None
    assert result.days == {}
    assert [ask.key for ask in result.figures[2].asked] == ["outlet_mbar"]


def test_a_tank_is_counted_at_80_percent_and_the_lighter_gas() -> None:
    result = gas(GasInput(gas="mixture", capacity_l=40, appliances=(HEATER,), outlet_mbar=30))
    assert result.mass_kg == pytest.approx(40 * 0.8 * 0.5075)
    assert set(result.lowest_feed_c) == {"n-butane", "propane"}


def test_a_mixture_burns_at_least_as_heavily_as_either_gas() -> None:
    for basis in ("net", "gross"):
        rates = [consumption_g_h(4, one, basis) for one in ("propane", "butane", "mixture")]
        assert rates[2] == max(rates)


def test_one_cylinder_is_the_least() -> None:
    result = gas(GasInput(gas="propane", size_kg=6, appliances=(HEATER,)))
    assert result.days["winter"] == pytest.approx(6_000 / 1_200)


def test_the_temperatures_that_are_shown() -> None:
    result = gas(GasInput(gas="propane", size_kg=6, outlet_mbar=30, appliances=()))
    shown = [row.label for row in result.figures[2].rows[1:]]
    assert shown == [f"Pure propane at {c} °C" for c in (-20, -10, 0, 10, 20, 30, 40)]


def test_nothing_burning_lasts_for_ever() -> None:
    idle = GasAppliance("hob", "Hob", gas_g_h=480, summer_h_day=0, winter_h_day=0)
    result = gas(GasInput(gas="propane", size_kg=6, appliances=(idle,)))
    assert math.isinf(result.days["summer"])
    assert any("nothing burns" in str(row) for row in result.figures[1].rows)


@given(st.floats(0.1, 20), st.floats(0.1, 20), st.sampled_from(["propane", "butane"]))
def test_more_power_never_burns_less(first: float, second: float, name: str) -> None:
    low, high = sorted((first, second))
    assert 0 < consumption_g_h(low, name, "net") <= consumption_g_h(high, name, "net")
    back = heat_input_kw(consumption_g_h(high, name, "gross"), name, "gross")
    assert back == pytest.approx(high)


@given(st.floats(-50, 50), st.floats(-50, 50), st.sampled_from(sorted(FLUIDS)))
def test_pressure_rises_with_temperature_and_is_never_negative(
    first: float, second: float, fluid: str
) -> None:
    low, high = sorted((first, second))
    assert 0 < vapour_pressure_bar(fluid, low) <= vapour_pressure_bar(fluid, high) + 1e-12


def test_the_tables_rise() -> None:
    for table in VAPOUR_PRESSURE_BAR.values():
        assert [c for c, _ in table] == sorted({c for c, _ in table})
        assert [bar for _, bar in table] == sorted({bar for _, bar in table})


BAD = [0, -1, float("nan"), float("inf"), 1e308, "5"]


@pytest.mark.parametrize("bad", BAD)
def test_inputs_that_cannot_be_are_refused(bad: float) -> None:
    good = {"gas": "propane", "size_kg": 6.0, "appliances": (HEATER,)}
    with pytest.raises(FigureInputError, match=r"^size_kg: "):
        gas(GasInput(**{**good, "size_kg": bad}))  # type: ignore[arg-type]
    with pytest.raises(FigureInputError, match=r"^count: "):
        gas(GasInput(**good, count=bad))  # type: ignore[arg-type]
    with pytest.raises(FigureInputError, match=r"^outlet_mbar: "):
        gas(GasInput(**good, outlet_mbar=bad))  # type: ignore[arg-type]
    with pytest.raises(FigureInputError, match=r"^hob\.gas_g_h: "):
        gas(GasInput(**{**good, "appliances": (GasAppliance("hob", "Hob", gas_g_h=bad),)}))  # type: ignore[arg-type]
    with pytest.raises(FigureInputError):
        consumption_g_h(bad, "propane", "net")


def test_other_inputs_that_cannot_be_are_refused() -> None:
    for given_gas, more in (
        ("petrol", {}),
        ("propane", {"count": 1.5}),
        ("propane", {"capacity_l": 40.0}),
    ):
        with pytest.raises(FigureInputError):
            gas(GasInput(gas=given_gas, size_kg=6, appliances=(HEATER,), **more))
    long_day = GasAppliance("hob", "Hob", gas_g_h=100, summer_h_day=25)
    for appliances in ((long_day,), (HEATER, HEATER)):
        with pytest.raises(FigureInputError):
            gas(GasInput(gas="propane", size_kg=6, appliances=appliances))
    with pytest.raises(FigureInputError):
        vapour_pressure_bar("propane", 60)
    with pytest.raises(FigureInputError):
        vapour_pressure_bar("petrol", 0)


def test_the_plate_decides_when_it_states_grams() -> None:
    assert (
        room.NIST
        not in gas(GasInput(gas="propane", size_kg=6, appliances=(HEATER,))).figures[0].sources
    )
