"""Tyres."""

# ruff: noqa: D103 - a test here is named by the sentence that it proves
from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.figures.figure import FigureInputError, Sure
from generator.figures.tyres import (
    LOAD_INDEX_KG,
    LOAD_INDEX_SECOND_HAND_KG,
    SPEED_FROM_MEMORY_KM_H,
    SPEED_KM_H,
    TyresInput,
    read_date_code,
    read_service,
    tyres,
    years_after,
)

# Checked against: load index table of barretire.com, 75 to 110; boosttown.com agrees
# (reference.md F, check 3).
BARRETIRE = """
75 387, 76 400, 77 412, 78 425, 79 437, 80 450, 81 462, 82 475, 83 487, 84 500, 85 515, 86 530,
87 545, 88 560, 89 580, 90 600, 91 615, 92 630, 93 650, 94 670, 95 690, 96 710, 97 730, 98 750,
99 775, 100 800, 101 825, 102 850, 103 875, 104 900, 105 925, 106 950, 107 975, 108 1000,
109 1030, 110 1060
"""
# Checked against: load index table of boosttown.com, 111 to 119.
BOOSTTOWN = (
    "111 1090, 112 1120, 113 1150, 114 1180, 115 1215, 116 1250, 117 1285, 118 1320, 119 1360"
)


def table(text: str) -> dict[int, int]:
    return {int(k): int(v) for k, v in (pair.split() for pair in text.split(","))}


def test_every_row_of_the_load_index_table() -> None:
    assert len(table(BARRETIRE)) == 36
    assert {**table(BARRETIRE), **table(BOOSTTOWN)} == LOAD_INDEX_KG


def test_the_rows_that_no_page_was_found_for_are_marked_and_go_on_rising() -> None:
    result = tyres(TyresInput(tyre="225/75 R 16 C 121/120"))
    assert result.each_kg == 1450
    assert result.figures[0].sources[0].sure == Sure.SECOND_HAND
    assert list(LOAD_INDEX_SECOND_HAND_KG) == list(range(120, 127))
    # A weak check of our own: 20 more of the index carries about 1.78 times as much.
    for index, kilograms in (LOAD_INDEX_KG | LOAD_INDEX_SECOND_HAND_KG).items():
        if index >= 95:
            assert kilograms == pytest.approx(LOAD_INDEX_KG[index - 20] * 1.782, rel=0.02)


def test_speed_symbols() -> None:
    # Checked against: barretire.com for Q to Y; tyrepowergateshead.com.au for N, P and R; the EU
    # tyre register (EPREL) prints N 140, R 170, S 180 and T 190 km/h.
    assert SPEED_KM_H == {
        "N": 140, "P": 150, "Q": 160, "R": 170, "S": 180, "T": 190, "U": 200, "H": 210,
        "V": 240, "W": 270, "Y": 300,
    }  # fmt: skip


@pytest.mark.parametrize("symbol", SPEED_FROM_MEMORY_KM_H)
def test_a_symbol_from_memory_is_marked_as_such(symbol: str) -> None:
    figure = tyres(TyresInput(tyre=f"185 R 14 C 102/100{symbol}")).figures[0]
    assert any("not checked" in note for note in figure.notes)
    assert figure.sources[1].sure == Sure.MEMORY


@pytest.mark.parametrize(
    ("tyre", "index", "symbol"),
    [
        ("185/65 R14 93N", 93, "N"),
        ("185 R 14 C 102/100", 102, ""),
        ("215/65 R 16 C 109/107", 109, ""),
        ("225/75R16CP 118R", 118, "R"),
        ("195/70R15C 104/102R", 104, "R"),
        ("175/65R14 86T XL", 86, "T"),
        ("165r13 82 n", 82, "N"),
    ],
)
def test_a_sidewall(tyre: str, index: int, symbol: str) -> None:
    assert read_service(tyre) == (index, symbol)


@pytest.mark.parametrize(
    "tyre", ["", "185/65 R14", "185 R 14 C", "185R14C", "big", "R14 60T", "93NN"]
)
def test_a_sidewall_without_a_load_index_is_refused(tyre: str) -> None:
    with pytest.raises(FigureInputError, match=r"^tyre: is "):
        read_service(tyre)


def test_an_axle_needs_its_tyres_together_to_carry_its_plate() -> None:
    # Checked against: twice the load index against the axle plate (reference.md F, check 3).
    exact = tyres(TyresInput(tyre="185/65 R14 93N", axle_max_kg=1300))
    assert (exact.each_kg, exact.axle_kg, exact.enough) == (650, 1300, True)
    assert not any("do not drive" in note for note in exact.figures[0].notes)
    short = tyres(TyresInput(tyre="185/65 R14 93N", axle_max_kg=1301))
    assert short.enough is False
    assert any("do not drive" in note for note in short.figures[0].notes)
    assert tyres(TyresInput(tyre="185/65 R14 93N", axle_max_kg=2600, tyres=4)).enough


def test_the_date_code() -> None:
    # Checked against: NCC, 1807 is week 18 of 2007; Python's ISO calendar gives its Monday.
    assert read_date_code("1807") == date(2007, 4, 30)
    assert read_date_code("1807").isocalendar()[:2] == (2007, 18)
    assert read_date_code("5320") == date(2020, 12, 28)


@pytest.mark.parametrize("code", ["", "0007", "5407", "5321", "180", "18O7", "18075", "-107"])
def test_a_date_code_that_cannot_be_is_refused(code: str) -> None:
    with pytest.raises(FigureInputError, match=r"^date_code: "):
        read_date_code(code)


def test_age() -> None:
    # Checked against: fls-cara-tech.co.uk and caravangossip.co.uk: ideally 5 years, never over 7.
    result = tyres(TyresInput(date_code="1820", on=date(2026, 4, 27)))
    assert result.made == date(2020, 4, 27)
    assert result.age_years == pytest.approx(6, abs=0.01)
    assert result.replace_ideally == date(2025, 4, 27)
    assert result.replace_by == date(2027, 4, 27)
    with pytest.raises(FigureInputError, match="a week gone by"):
        tyres(TyresInput(date_code="1830", on=date(2026, 4, 27)))


def test_years_after_a_leap_day() -> None:
    assert years_after(date(2024, 2, 29), 5) == date(2029, 2, 28)
    assert years_after(date(2024, 2, 29), 4) == date(2028, 2, 29)


@given(st.integers(1, 52), st.integers(0, 99))
def test_every_date_code_reads_back(week: int, year: int) -> None:
    made = read_date_code(f"{week:02d}{year:02d}")
    assert made.isocalendar()[:3] == (2000 + year, week, 1)
    assert made < years_after(made, 5) < years_after(made, 7) < made + timedelta(days=7 * 366)


def test_wheels() -> None:
    result = tyres(
        TyresInput(pressure_bar=3.8, torque_nm=88, retorque_km=48.28, gauge_psi=55)
    ).figures[2]
    assert [str(row) for row in result.rows] == [
        "3.8 bar (55 psi)",
        "380 kPa",
        "3.8 bar (55 psi)",
        "88 N m (65 lbf ft)",
        "at most 49 km (30 miles)",
    ]


def test_torque_and_distance_are_asked_for_and_never_guessed() -> None:
    result = tyres(TyresInput())
    assert [a.key for a in result.figures[0].asked] == ["tyre", "axle_max_kg"]
    assert [a.key for a in result.figures[1].asked] == ["date_code"]
    assert [a.key for a in result.figures[2].asked] == ["pressure_bar", "torque_nm", "retorque_km"]
    assert result.figures[2].rows == ()


@pytest.mark.parametrize(
    "key", ["axle_max_kg", "tyres", "pressure_bar", "torque_nm", "retorque_km"]
)
@pytest.mark.parametrize("bad", [0, -1, float("nan"), float("inf"), 1e308, "5", 3])
def test_inputs_that_cannot_be_are_refused(key: str, bad: object) -> None:
    if bad == 3 and key in ("pressure_bar", "retorque_km"):
        return
    with pytest.raises(FigureInputError, match=f"^{key}: is "):
        tyres(TyresInput(**{key: bad}))  # type: ignore[arg-type]
