"""Battery: nights, Peukert, sun, charging."""

# ruff: noqa: D103 - a test here is named by the sentence that it proves
from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.figures.battery import (
    USABLE_PCT,
    Battery,
    BatteryInput,
    DcLoad,
    battery,
    charge_over_days,
    peukert_hours,
    solar_ah,
)
from generator.figures.figure import FigureInputError, Origin

DAY = DcLoad("day", "All of a day", draw_a=25, h_day=1)


def bank(*loads: DcLoad, **more: object) -> Battery:
    values: dict[str, object] = {
        "capacity_ah": 100.0, "chemistry": "AGM", "loads": loads or (DAY,), **more,
    }  # fmt: skip
    return battery(BatteryInput(**values))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("chemistry", "nights"),
    [("AGM", 2.0), ("gel", 2.0), ("flooded-lead-acid", 2.0), ("LiFePO4", 3.2)],
)
def test_nights(chemistry: str, nights: float) -> None:
    # Checked against: 100 Ah times the usable share, divided by 25 Ah a day (reference.md E).
    assert bank(chemistry=chemistry).nights == pytest.approx(nights)


@pytest.mark.parametrize(
    ("amps", "exponent", "hours"),
    [
        (10, 1.05, 9.6594),
        (10, 1.1, 9.3303),
        (10, 1.2, 8.7055),
        (10, 1.3, 8.1225),
        (20, 1.05, 4.6652),
        (20, 1.1, 4.3528),
        (20, 1.2, 3.7893),
        (20, 1.3, 3.2988),
    ],
)
def test_peukert_in_its_hour_rate_form(amps: float, exponent: float, hours: float) -> None:
    # Checked against: Peukert, hour-rate form, 100 Ah at 20 h (reference.md E, check 1).
    assert peukert_hours(100, amps, exponent) == pytest.approx(hours, abs=0.001)


@pytest.mark.parametrize("exponent", [1, 1.05, 1.1, 1.2, 1.3, 1.5])
def test_at_its_rated_current_a_battery_gives_its_rated_hours(exponent: float) -> None:
    # Checked against: the meaning of a 20-hour rating (reference.md E, check 1), exact.
    assert peukert_hours(100, 5, exponent) == 20.0


def test_it_is_not_the_one_ampere_form() -> None:
    # Checked against: electrotechnik.net, which puts a 20-hour capacity into the 1 A form and
    # gets 14.5 h; easycalculation.com gets 5.08863 h (reference.md E, check 2).
    assert peukert_hours(100, 5, 1.2) != pytest.approx(14.5, abs=0.5)
    assert 100 / math.pow(5, 1.2) == pytest.approx(14.5, abs=0.05)
    assert 250 / math.pow(20, 1.3) == pytest.approx(5.08863, abs=1e-5)
    assert peukert_hours(250, 20, 1.3) != pytest.approx(5.08863, abs=0.5)


def test_below_the_rated_current_it_never_promises_more_than_is_rated() -> None:
    # Checked against: the uncapped law would give 54.8 h at 2 A and 1.1 (reference.md E).
    assert 20 * math.pow(100 / (2 * 20), 1.1) == pytest.approx(54.798, abs=0.001)
    assert peukert_hours(100, 2, 1.1) == 50.0


@given(st.floats(10, 500), st.floats(0.1, 200), st.floats(0.1, 200), st.floats(1, 2))
def test_peukert_falls_with_current_and_never_beats_the_rating(
    capacity: float, first: float, second: float, exponent: float
) -> None:
    low, high = sorted((first, second))
    assert peukert_hours(capacity, high, exponent) <= peukert_hours(capacity, low, exponent) + 1e-9
    assert 0 < peukert_hours(capacity, low, exponent) * low <= capacity * (1 + 1e-9)


def test_a_heavy_load_gets_the_usable_share() -> None:
    result = bank(heavy_a=10, peukert_k=1.2)
    assert result.heavy_h == pytest.approx(8.7055 / 2, abs=0.001)
    assert bank(chemistry="LiFePO4", heavy_a=10).heavy_h == pytest.approx(8.0)
    assert bank(heavy_a=10).heavy_h is None
    assert [a.key for a in bank(heavy_a=10).figures[1].asked] == ["peukert_k"]


@pytest.mark.parametrize(("sun", "charge"), [(1, 5.47), (4, 21.88), (5, 27.34)])
def test_sun(sun: float, charge: float) -> None:
    # Checked against: 100 W times sun hours times 0.7, divided by 12.8 V (reference.md E).
    assert solar_ah(100, sun, 70, 12.8) == pytest.approx(charge, abs=0.005)


def test_nights_with_sun_by_month() -> None:
    months = (1, 1.5, 2.5, 3.5, 4.5, 5, 5, 4.5, 3.5, 2, 1, 0.8)
    result = bank(power_wp=100, sun_psh=months, solar_pct=70, charge_v=12.8)
    assert len(result.nights_with_sun) == 12
    assert result.nights_with_sun[0] == pytest.approx(50 / (25 - 5.46875))
    assert math.isinf(result.nights_with_sun[5])
    even = bank(
        DcLoad("x", "X", draw_a=25, h_day=1), power_wp=100, sun_psh=(5,), solar_pct=60, charge_v=12
    )
    assert even.solar_ah_day == (25,)
    assert even.nights_with_sun == (math.inf,)
    assert even.figures[0].rows[-1].label == "Without mains, with sun"
    rows = {row.label: str(row) for row in result.figures[0].rows}
    assert rows["Without mains, with sun in month 6"] == "does not run down"


def test_without_a_panel_nothing_about_sun_is_asked_for() -> None:
    assert bank().figures[0].asked == ()
    asked = [a.key for a in bank(power_wp=100).figures[0].asked]
    assert asked == ["sun_psh", "solar_pct", "charge_v"]


def test_loads_by_current_and_by_power() -> None:
    result = bank(
        DcLoad("pump", "Pump", draw_a=4, h_day=0.25), DcLoad("fridge", "Fridge", draw_w=45, h_day=8)
    )
    assert result.use_ah_day == pytest.approx(4 * 0.25 + 45 / 12 * 8)


def test_two_batteries_hold_twice() -> None:
    assert bank(count=2).usable_ah == 100.0
    assert bank(count=2, heavy_a=10, peukert_k=1.2).heavy_h == pytest.approx(10)


def test_the_usual_depth_is_said_to_be_usual_and_can_be_changed() -> None:
    usual = {i.key: i for i in bank().figures[0].inputs}["usable_pct"]
    assert (usual.value, usual.origin) == (50.0, Origin.KIND)
    own = {i.key: i for i in bank(usable_pct=70.0).figures[0].inputs}["usable_pct"]
    assert (own.value, own.origin) == (70.0, Origin.READER)
    assert bank(usable_pct=70.0).usable_ah == pytest.approx(70)
    assert any("no source" in str(s) for s in bank().figures[0].sources)


def test_charging_is_a_least_time_and_driving_a_most() -> None:
    result = bank(output_a=20, feed_a=8, drive_h=3)
    assert result.charge_h == pytest.approx(2.5)
    assert result.feed_ah == pytest.approx(24)
    assert [str(row) for row in result.figures[2].rows] == ["at least 2.5 h", "at most 24 Ah"]


def test_acid_is_warned_of_only_where_there_is_some() -> None:
    assert "battery-acid" in bank().figures[0].cautions
    assert "battery-acid" not in bank(chemistry="LiFePO4").figures[0].cautions


def test_what_is_missing_is_asked_for() -> None:
    result = battery(BatteryInput(capacity_ah=None, chemistry=None, loads=()))
    assert [a.key for a in result.figures[0].asked] == ["capacity_ah", "chemistry", "loads"]
    assert result.nights is None
    half = bank(DAY, DcLoad("tv", "Television", h_day=2), DcLoad("pump", "Pump", draw_a=4))
    assert [a.key for a in half.figures[0].asked] == ["tv.draw_a", "pump.h_day"]
    assert half.use_ah_day is None
    assert [a.key for a in bank(feed_a=8).figures[2].asked] == ["output_a", "drive_h"]


@given(st.floats(0, 100), st.floats(0, 100), st.floats(0, 100), st.integers(0, 10))
def test_the_plot_stays_between_empty_and_full(
    usable: float, use: float, sun: float, days: int
) -> None:
    left = charge_over_days(usable, use, sun, days)
    assert len(left) == days + 1
    assert all(0 <= one <= usable for one in left)
    falling = sorted(left, reverse=True)
    assert list(left) == (falling if use >= sun else [usable] * (days + 1))


@given(
    st.floats(1, 1000), st.floats(0.1, 50), st.floats(0.1, 24), st.sampled_from(list(USABLE_PCT))
)
def test_more_battery_never_lasts_less(
    capacity: float, amps: float, hours: float, chemistry: str
) -> None:
    load = DcLoad("load", "Load", draw_a=amps, h_day=hours)
    first = bank(load, capacity_ah=capacity, chemistry=chemistry).nights
    second = bank(load, capacity_ah=capacity + 1, chemistry=chemistry).nights
    assert first is not None
    assert second is not None
    assert 0 < first <= second


@pytest.mark.parametrize(
    "key",
    ["capacity_ah", "count", "usable_pct", "heavy_a", "peukert_k", "power_wp", "charge_v",
     "output_a", "feed_a"],
)  # fmt: skip
@pytest.mark.parametrize("bad", [0, -1, float("nan"), float("inf"), 1e308, "5"])
def test_inputs_that_cannot_be_are_refused(key: str, bad: object) -> None:
    more = {"drive_h": 1.0} if key == "feed_a" else {}
    with pytest.raises(FigureInputError, match=f"^{key}: is "):
        bank(**{key: bad, **more})


def test_other_inputs_that_cannot_be_are_refused() -> None:
    with pytest.raises(FigureInputError, match="chemistry: is 'lemon'"):
        bank(chemistry="lemon")
    with pytest.raises(FigureInputError, match="twelve from January"):
        bank(sun_psh=(1, 2))
    with pytest.raises(FigureInputError, match=r"sun_psh\[0\]"):
        bank(sun_psh=(25, *[1] * 11))
    for load in (
        DcLoad("x", "X", draw_a=-1, h_day=1),
        DcLoad("x", "X", draw_w=float("nan"), h_day=1),
        DcLoad("x", "X", draw_a=1, h_day=24.1),
    ):
        with pytest.raises(FigureInputError, match=r"^x\."):
            bank(load)
