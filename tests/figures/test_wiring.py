"""Cables and fuses."""

# ruff: noqa: D103 - a test here is named by the sentence that it proves
from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.figures.figure import FigureInputError
from generator.figures.wiring import (
    BLADE_COLOURS,
    FLEX_A,
    FLEX_MV_A_M,
    OHM_KM_AT_20_C,
    Fuse,
    WiringInput,
    lead_drop_v,
    read_fuses,
    run_drop_v,
    wiring,
)

BOX = "1: 10 A water pump; 2: 7.5 A lights; 3: 20 A heater"


@pytest.mark.parametrize(
    ("mm2", "volts", "percent"),
    [
        (1.5, 1.330, 11.08),
        (2.5, 0.798, 6.65),
        (4, 0.495, 4.13),
        (6, 0.330, 2.75),
        (10, 0.191, 1.59),
    ],
)
def test_a_12_v_run(mm2: float, volts: float, percent: float) -> None:
    # Checked against: IEC 60228 class 5 at 20 °C, 10 A over 5 m one way (reference.md E).
    result = wiring(WiringInput(run_a=10, run_m=5, run_mm2=mm2))
    assert result.drop_v == pytest.approx(volts, abs=0.0005)
    assert result.figures[0].rows[1].value == pytest.approx(percent, abs=0.01)
    assert result.figures[0].rows[0].bound == "at least"


@pytest.mark.parametrize(
    ("mm2", "ohm"), [(1.5, 13.3), (2.5, 7.98), (4, 4.95), (6, 3.3), (10, 1.91)]
)
def test_resistance_of_copper(mm2: float, ohm: float) -> None:
    # Checked against: IEC 60228 class 5 as printed by two cable makers (reference.md D).
    assert OHM_KM_AT_20_C[mm2] == ohm


def test_cold_copper_and_the_table_for_warm_copper_agree() -> None:
    # Checked against: copper at 60 °C has (234.5 + 60) / (234.5 + 20) of its resistance at 20 °C;
    # BS 7671 Table 4F3B rounds up from there.
    for mm2, tabulated in FLEX_MV_A_M.items():
        warm = 2 * OHM_KM_AT_20_C[mm2] * (234.5 + 60) / (234.5 + 20)
        assert warm <= tabulated <= warm * 1.06
        assert run_drop_v(mm2, 10, 25) < lead_drop_v(mm2, 10, 25)


@pytest.mark.parametrize(
    ("amps", "colour"),
    [
        (2, "grey"), (3, "violet"), (4, "pink"), (5, "tan"), (7.5, "brown"), (10, "red"),
        (15, "blue"), (20, "yellow"), (25, "clear or white"), (30, "green"),
    ],
)  # fmt: skip
def test_blade_colours(amps: float, colour: str) -> None:
    # Checked against: DIN 72581 table of fuselayouts.com; onallcylinders.com agrees from 2 to
    # 30 A (reference.md E, check 3).
    assert BLADE_COLOURS[amps] == colour
    (fuse,) = read_fuses(f"1: {amps} A pump", "blade")
    assert (fuse.amps, fuse.colour) == (amps, colour)


def test_what_a_lead_carries() -> None:
    # Checked against: BS 7671 Table 4F3A as printed by rm-electrical.com: 16 and 25 A.
    assert FLEX_A == {1.5: 16, 2.5: 25}


def test_the_table_of_a_box() -> None:
    result = wiring(WiringInput(fuses=BOX, design="blade"))
    assert result.fuses[1] == Fuse("2", 7.5, "lights", "brown")
    rows = [(row.label, str(row)) for row in result.figures[1].rows]
    assert rows[0] == ("1: water pump", "10 A red")
    assert result.figures[1].asked == ()


def test_glass_fuses_and_odd_ratings_have_no_colour() -> None:
    glass = wiring(WiringInput(fuses=BOX, design="glass"))
    assert {fuse.colour for fuse in glass.fuses} == {""}
    assert glass.figures[1].sources == ()
    assert read_fuses("1: 12 A pump", "blade")[0].colour == ""


def test_what_is_missing_is_asked_for() -> None:
    result = wiring(WiringInput(run_a=10))
    assert [a.key for a in result.figures[0].asked] == ["run_m", "run_mm2"]
    assert [a.key for a in result.figures[1].asked] == ["fuses", "design"]
    assert result.drop_v is None


@pytest.mark.parametrize(
    "bad",
    ["", "10 A pump", "1: pump", "1: 0 A pump", "1: 10 A", "1: 10 A a; 1: 5 A b", "1: -5 A x"],
)
def test_fuses_that_make_no_sense_are_refused(bad: str) -> None:
    with pytest.raises(FigureInputError, match=r"^fuses: "):
        read_fuses(bad, "blade")


@pytest.mark.parametrize("key", ["run_a", "run_m", "run_mm2"])
@pytest.mark.parametrize("bad", [0, -1, float("nan"), float("inf"), 1e308, "5"])
def test_inputs_that_cannot_be_are_refused(key: str, bad: object) -> None:
    values: dict[str, object] = {"run_a": 10.0, "run_m": 5.0, "run_mm2": 2.5, key: bad}
    with pytest.raises(FigureInputError, match=f"^{key}: is "):
        wiring(WiringInput(**values))  # type: ignore[arg-type]


def test_an_unknown_section_or_shape_is_refused() -> None:
    with pytest.raises(FigureInputError, match=r"one of 1.5, 2.5, 4, 6, 10 square millimetres"):
        wiring(WiringInput(run_a=10, run_m=5, run_mm2=3))
    with pytest.raises(FigureInputError, match="design: is 'square'"):
        wiring(WiringInput(fuses=BOX, design="square"))


@given(st.floats(0, 100), st.floats(0, 50), st.floats(0, 50))
def test_a_longer_or_thinner_run_never_loses_less(amps: float, first: float, second: float) -> None:
    low, high = sorted((first, second))
    drops = [run_drop_v(mm2, amps, high) for mm2 in OHM_KM_AT_20_C]
    assert drops == sorted(drops, reverse=True)
    assert 0 <= run_drop_v(2.5, amps, low) <= run_drop_v(2.5, amps, high)
