"""What a pitch can run."""

# ruff: noqa: D103 - a test here is named by the sentence that it proves
from __future__ import annotations

import re
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from generator.figures.figure import FigureInputError
from generator.figures.pitch import (
    HIGH_V,
    LOW_V,
    NOMINAL_V,
    USUAL_RATINGS_A,
    MainsLoad,
    Pitch,
    PitchInput,
    Running,
    largest_sets,
    load_amps,
    pitch,
)

WATER = MainsLoad("water-heater", "Water heater", (850,))
HEATER = MainsLoad("heater", "Space heater", (500, 1000, 2000))
FRIDGE = MainsLoad("fridge", "Fridge", (125,))
CHARGER = MainsLoad("charger", "Charger", (300,), resistive=False)
KETTLE = MainsLoad("kettle", "Kettle", (1000,), own=True)


def at(rating_a: float | None, *loads: MainsLoad, **more: float) -> Pitch:
    return pitch(PitchInput(rating_a=rating_a, loads=loads, **more))  # type: ignore[arg-type]


def on(one: Running) -> dict[str, float]:
    return dict(one.on)


def test_six_amperes_run_850_and_500_watts_but_not_850_and_1000() -> None:
    # Checked against: 230 V nominal times amperes, 6 A = 1,380 W (reference.md D, check 2).
    result = at(6, WATER, HEATER)
    assert [i.key for i in result.figures[2].inputs] == ["rating_a"]
    assert result.limit_a == 6
    assert on(result.sets[0]) == {"water-heater": 850, "heater": 500}
    assert result.sets[0].amps == pytest.approx(1350 / 230)
    assert result.sets[0].watts == 1350
    rows = [(row.label, str(row)) for row in result.figures[0].rows]
    assert rows[2] == ("Water heater 850 W, Space heater 500 W", "1,350 W, 5.9 A")
    assert {"water-heater": 850, "heater": 1000} not in [on(one) for one in result.sets]
    assert {"heater": 1000} in [on(one) for one in result.sets]


@pytest.mark.parametrize(("amps", "watts"), [(5, 1150), (6, 1380), (10, 2300), (16, 3680)])
def test_the_power_of_each_usual_pitch(amps: float, watts: float) -> None:
    # Checked against: 230 V nominal times amperes (reference.md D, pitch power).
    assert amps in USUAL_RATINGS_A
    exact = MainsLoad("exact", "Exact", (watts,))
    over = MainsLoad("over", "Over", (watts + 1,))
    assert [on(one) for one in at(amps, exact).sets] == [{"exact": watts}]
    assert [on(one) for one in at(amps, over).sets] == [{}]
    said = [str(row) for row in at(amps, exact).figures[0].rows[:2]]
    assert said == [f"at most {amps:.1f} A", f"at most {watts:,} W"]


def test_three_of_these_just_fill_six_amperes() -> None:
    loads = [MainsLoad(n, n, (w,)) for n, w in (("a", 850), ("b", 500), ("c", 30))]
    assert [on(one) for one in at(6, *loads).sets] == [{"a": 850, "b": 500, "c": 30}]


@pytest.mark.parametrize(
    ("amps", "holds", "trips"), [(6, 6.78, 8.70), (10, 11.3, 14.5), (16, 18.08, 23.2)]
)
def test_what_a_breaker_really_does(amps: float, holds: float, trips: float) -> None:
    # Checked against: IEC 60898-1 as printed by a breaker maker, 1.13 and 1.45 of the rating
    # (reference.md D, check 3).
    result = at(amps, WATER)
    assert result.holds_a == pytest.approx(holds, abs=1e-9)
    assert result.trips_a == pytest.approx(trips, abs=1e-9)


@pytest.mark.parametrize(
    ("volts", "watts", "amps"),
    [(LOW_V, 1620, 7.826), (NOMINAL_V, 2000, 8.696), (HIGH_V, 2420, 9.565)],
)
def test_a_resistance_at_another_voltage(volts: float, watts: float, amps: float) -> None:
    # Checked against: Ohm's law, the worked 2,000 W element of reference.md D.
    heater = MainsLoad("heater", "Heater", (2000,))
    figure = next(f for f in at(16, heater).figures if f.name == "low-voltage")
    texts = {row.label: str(row) for row in figure.rows}
    said = texts.get(f"Heater, rated 2000 W, at {volts:g} V", "2,000 W, 8.70 A")
    told = re.findall(r"[0-9.]+", said.replace(",", "", 1))
    assert float(told[0]) == watts
    assert float(told[1]) == pytest.approx(amps, abs=0.006)
    assert load_amps(heater, 2000, volts) == pytest.approx(8.696, abs=0.001)


def test_a_charger_takes_more_from_a_low_voltage() -> None:
    assert load_amps(CHARGER, 300, 207) == pytest.approx(300 / 207)
    loads = (MainsLoad("element", "Element", (1080,)), CHARGER)
    assert len(at(6, *loads).sets) == 1
    assert len(at(6, *loads, supply_v=207).sets) == 2


@pytest.mark.parametrize(
    ("mm2", "amps", "drop", "percent"),
    [
        (2.5, 16, 7.60, 3.304),
        (2.5, 10, 4.75, 2.065),
        (2.5, 6, 2.85, 1.239),
        (1.5, 16, 12.80, 5.565),
        (1.5, 6, 4.80, 2.087),
    ],
)
def test_the_drop_of_a_25_m_lead(mm2: float, amps: float, drop: float, percent: float) -> None:
    # Checked against: BS 7671 Table 4F3B, 19 and 32 mV/A/m (reference.md D, check 1).
    result = at(amps, WATER, lead_m=25, lead_mm2=mm2)
    assert result.drop_v == pytest.approx(drop, abs=0.01)
    figure = result.figures[-1]
    assert figure.rows[1].value == pytest.approx(percent, abs=0.001)
    assert ("carries at most" in " ".join(figure.notes)) is False


def test_a_heavier_lead_than_the_table_knows_is_bounded_by_its_cold_copper() -> None:
    # Checked against: IEC 60228 class 5, 3.30 ohm/km for 6 mm², there and back.
    result = at(16, WATER, lead_m=25, lead_mm2=6)
    assert result.drop_v == pytest.approx(2 * 3.30e-3 * 25 * 16)
    assert result.figures[-1].rows[0].bound == "at least"


def test_a_thin_lead_is_told_what_it_carries() -> None:
    result = at(32, WATER, lead_m=10, lead_mm2=1.5)
    assert "This lead carries at most 16 A: do not load it fully." in result.figures[-1].notes


def test_the_inlet_limits_a_stronger_pitch() -> None:
    assert at(32, WATER, inlet_a=16).limit_a == 16
    assert at(6, WATER, inlet_a=16).limit_a == 6


def test_what_must_be_off_for_the_kettle() -> None:
    (kettle,) = at(6, WATER, FRIDGE, CHARGER, KETTLE).beside
    assert kettle.fits
    assert kettle.must_be_off == ("water-heater",)
    assert [on(one) for one in kettle.sets] == [
        {"charger": 300, "kettle": 1000},
        {"fridge": 125, "kettle": 1000},
    ]


def test_a_kettle_that_is_too_much_is_said_to_be() -> None:
    big = MainsLoad("kettle", "Kettle", (2200,), own=True)
    result = at(6, FRIDGE, big)
    assert not result.beside[0].fits
    assert result.beside[0].sets == ()
    rows = result.figures[1].rows
    assert "takes more than this pitch gives" in str(rows[0])


def test_the_heater_stage_beside_the_rest() -> None:
    loads = (HEATER, WATER, FRIDGE, CHARGER, KETTLE)
    stages = {a: at(a, *loads).stage_beside_rest["heater"] for a in (5, 6, 10, 16)}
    # The rest is 850 + 125 + 300 = 1,275 W; 1,150, 1,380, 2,300 and 3,680 W are to be had.
    assert stages == {5: 0, 6: 0, 10: 1000, 16: 2000}
    two = MainsLoad("two", "Two", (530, 1000))
    assert at(6, two, WATER).stage_beside_rest == {"two": 530}
    texts = [(row.label, str(row)) for row in at(6, two, WATER).figures[1].rows]
    assert texts == [("Two, all else that is fitted on its lowest stage", "up to 530 W")]


def brute(loads: tuple[MainsLoad, ...], limit: float) -> set[frozenset[tuple[str, float]]]:
    """Every largest set, by trying all and comparing each with each."""
    options = [(0.0, *sorted(load.stages_w)) for load in loads]
    fitting = [c for c in product(*options) if sum(c) / NOMINAL_V <= limit + 1e-9]
    return {
        frozenset((load.name, w) for load, w in zip(loads, choice, strict=True) if w)
        for choice in fitting
        if not any(
            other != choice and all(o >= c for o, c in zip(other, choice, strict=True))
            for other in fitting
        )
    }


STAGES = st.lists(st.integers(20, 3000), min_size=1, max_size=3, unique=True).map(tuple)


@settings(max_examples=150, deadline=None)
@given(st.lists(STAGES, min_size=1, max_size=5), st.sampled_from([1, 5, 6, 10, 16]))
def test_the_largest_sets_are_those_that_trying_all_finds(
    stages: list[tuple[int, ...]], limit: float
) -> None:
    loads = tuple(MainsLoad(f"load-{n}", f"Load {n}", one) for n, one in enumerate(stages))
    found = largest_sets(loads, limit)
    assert {frozenset(one.on.items()) for one in found} == brute(loads, limit)
    assert len({frozenset(one.on.items()) for one in found}) == len(found)
    assert [one.watts for one in found] == sorted((one.watts for one in found), reverse=True)


@given(st.lists(STAGES, min_size=1, max_size=5))
def test_a_stronger_pitch_never_runs_less(stages: list[tuple[int, ...]]) -> None:
    loads = tuple(MainsLoad(f"load-{n}", f"Load {n}", one) for n, one in enumerate(stages))
    best = [max(one.watts for one in largest_sets(loads, a)) for a in (1, 5, 6, 10, 16, 63)]
    assert best == sorted(best)
    assert min(best) >= 0


def test_a_missing_rating_is_asked_for() -> None:
    result = at(None, WATER)
    assert result.sets == ()
    assert [ask.key for ask in result.figures[0].asked] == ["rating_a"]


def test_no_loads_are_asked_for() -> None:
    assert [ask.key for ask in at(6).figures[0].asked] == ["loads"]


@pytest.mark.parametrize("rating", [0, -6, float("nan"), float("inf"), 1e308, "6"])
def test_a_rating_that_cannot_be_is_refused(rating: float) -> None:
    with pytest.raises(FigureInputError, match=r"^rating_a: is .*right: amperes from 1 to 63$"):
        at(rating, WATER)


@pytest.mark.parametrize("watts", [0, -1, float("nan"), 1e9])
def test_a_load_that_cannot_be_is_refused(watts: float) -> None:
    with pytest.raises(FigureInputError, match="stages_w"):
        at(6, MainsLoad("x", "X", (watts,)))


def test_loads_that_make_no_sense_are_refused() -> None:
    for loads in ((WATER, WATER), (MainsLoad("x", "X", ()),), (MainsLoad("x", "X", (5, 5)),)):
        with pytest.raises(FigureInputError):
            at(6, *loads)
    many = [MainsLoad(f"x{n}", "X", (100 + n,)) for n in range(15)]
    with pytest.raises(FigureInputError, match="at most 14"):
        at(6, *many)


def test_more_sets_than_anybody_reads_are_refused() -> None:
    many = [MainsLoad(f"x{n}", "X", (200 + n, 300 + n)) for n in range(14)]
    with pytest.raises(FigureInputError, match="fewer loads"):
        at(10, *many)


def test_a_lead_of_unknown_section_is_refused() -> None:
    with pytest.raises(FigureInputError, match=r"lead_mm2: is 2\.0; right: one of 1\.5, 2\.5"):
        at(6, WATER, lead_m=25, lead_mm2=2.0)
