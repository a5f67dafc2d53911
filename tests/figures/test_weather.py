"""Dew point and frost."""

# ruff: noqa: D103 - a test here is named by the sentence that it proves
from __future__ import annotations

import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS95
from iapws._iapws import _Ice

from generator.figures.figure import FigureInputError
from generator.figures.weather import WeatherInput, dew_point_c, freezing_growth_pct, weather

psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.mark.parametrize("celsius", [5, 10, 15, 20, 25, 30])
@pytest.mark.parametrize("humidity", [40, 50, 60, 70, 80, 90])
def test_dew_point(celsius: float, humidity: float) -> None:
    # Checked against: psychrolib 2.5.0, within 0.03 K (above freezing, where both are over water).
    theirs = psychrolib.GetTDewPointFromRelHum(celsius, humidity / 100)
    if theirs > 0.5:
        assert dew_point_c(celsius, humidity) == pytest.approx(theirs, abs=0.03)


def test_the_dew_point_in_print() -> None:
    # Checked against: psychrolib 2.5.0: 20 °C and 60 % give 12.0 °C (reference.md G, check 1).
    assert dew_point_c(20, 60) == pytest.approx(12.0, abs=0.03)
    assert dew_point_c(25, 50) == pytest.approx(13.864, abs=0.03)


def test_freezing_growth() -> None:
    # Checked against: iapws 1.5.5, water IAPWS-95 and ice Ih at 0 °C (reference.md C, check 2).
    theirs = 100 * (IAPWS95(T=273.152519, P=0.101325).rho / _Ice(273.152519, 0.101325)["rho"] - 1)
    assert freezing_growth_pct() == pytest.approx(theirs, abs=0.01)
    assert freezing_growth_pct() == pytest.approx(9.07, abs=0.1)


def test_condensation() -> None:
    wet = weather(WeatherInput(cabin_c=20, humidity_pct=60, surface_c=11.5, outside_c=2))
    assert (wet.condenses, wet.may_condense) == (True, True)
    dry = weather(WeatherInput(cabin_c=20, humidity_pct=60, surface_c=12.5, outside_c=13))
    assert (dry.condenses, dry.may_condense) == (False, False)
    assert str(wet.figures[0].rows[0]) == "about 12.0 °C"
    assert "blocked-ventilation" in wet.figures[0].cautions


def test_a_surface_exactly_at_the_dew_point_gets_wet() -> None:
    dew = dew_point_c(20, 60)
    edge = weather(WeatherInput(cabin_c=20, humidity_pct=60, surface_c=dew, outside_c=dew))
    assert (edge.condenses, edge.may_condense) == (True, True)


def test_frost_nights() -> None:
    result = weather(WeatherInput(night_c=(6, 3, 4, -2), drain_c=3))
    assert result.frost_nights == (2, 4)
    rows = [str(row) for row in result.figures[1].rows]
    assert rows == ["2 nights", "before night 2", "about 9 %"]
    mild = weather(WeatherInput(night_c=(6, 5), drain_c=3))
    assert mild.frost_nights == ()
    assert str(mild.figures[1].rows[1]) == "not for these nights"


def test_what_is_missing_is_asked_for() -> None:
    result = weather(WeatherInput())
    assert [a.key for a in result.figures[0].asked] == [
        "cabin_c", "humidity_pct", "surface_c", "outside_c",
    ]  # fmt: skip
    assert [a.key for a in result.figures[1].asked] == ["night_c", "drain_c"]
    one = weather(WeatherInput(cabin_c=20, humidity_pct=60, outside_c=2))
    assert one.figures[0].asked == ()
    assert one.condenses is None


@given(st.floats(-20, 50), st.floats(1, 100), st.floats(1, 100))
def test_damper_air_never_has_a_lower_dew_point(
    celsius: float, first: float, second: float
) -> None:
    low, high = sorted((first, second))
    assert dew_point_c(celsius, low) <= dew_point_c(celsius, high) + 1e-9
    assert dew_point_c(celsius, high) <= celsius


@given(st.lists(st.floats(-50, 50), min_size=1, max_size=14), st.floats(-5, 10), st.floats(-5, 10))
def test_a_warmer_threshold_never_drains_less(
    nights: list[float], first: float, second: float
) -> None:
    low, high = sorted((first, second))
    few = weather(WeatherInput(night_c=tuple(nights), drain_c=low)).frost_nights
    many = weather(WeatherInput(night_c=tuple(nights), drain_c=high)).frost_nights
    assert set(few) <= set(many)


@pytest.mark.parametrize("key", ["cabin_c", "humidity_pct", "surface_c", "outside_c", "drain_c"])
@pytest.mark.parametrize("bad", [-300, float("nan"), float("inf"), 1e308, "5"])
def test_inputs_that_cannot_be_are_refused(key: str, bad: object) -> None:
    with pytest.raises(FigureInputError, match=f"^{key}: is "):
        weather(WeatherInput(**{key: bad}))  # type: ignore[arg-type]


def test_dry_air_and_absurd_nights_are_refused() -> None:
    with pytest.raises(FigureInputError, match=r"^humidity_pct: is 0"):
        weather(WeatherInput(cabin_c=20, humidity_pct=0))
    with pytest.raises(FigureInputError, match=r"^night_c\[1\]: is 99"):
        weather(WeatherInput(night_c=(1, 99), drain_c=3))
