"""Water: days, pump time, waste, disinfectant."""

# ruff: noqa: D103 - a test here is named by the sentence that it proves
from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.figures.figure import FigureInputError, Sure
from generator.figures.water import BS_8558_MG_L, Water, WaterInput, disinfectant_ml, water


def store(**more: object) -> Water:
    values: dict[str, object] = {"fresh_l": 40.0, **more}
    return water(WaterInput(**values))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("litres", "strength", "millilitres"), [(40, 5, 40.0), (40, 10, 20.0), (45, 12.5, 18.0)]
)
def test_the_dose(litres: float, strength: float, millilitres: float) -> None:
    # Checked against: 50 mg/l for 1 h, BS 8558 as restated; worked in reference.md C, check 4.
    assert BS_8558_MG_L == 50
    result = store(treated_l=litres, strength_pct=strength, dose_mg_l=BS_8558_MG_L)
    assert result.dose_ml == millilitres
    assert str(result.figures[2].rows[0]) == f"{millilitres:.1f} ml"


def test_the_dose_by_the_mass_of_chlorine() -> None:
    # Checked against: first principles: percent is grams in 100 ml, so 5 % holds 50 mg in 1 ml.
    chlorine_mg = 40 * 50
    assert disinfectant_ml(40, 50, 5) == chlorine_mg / 50


def test_a_dose_is_never_assumed_and_its_source_is_said_to_be_second_hand() -> None:
    result = store(treated_l=40, strength_pct=5)
    assert result.dose_ml is None
    assert [a.key for a in result.figures[2].asked] == ["dose_mg_l"]
    assert result.figures[2].sources[0].sure == Sure.SECOND_HAND
    assert "cleaning-chemicals" in result.figures[2].cautions
    assert "first" in result.figures[2].defer


def test_days_and_waste() -> None:
    # Checked against: plain division, 40 l at 25 l a day.
    result = store(use_l_day=25, kept_l_day=5, waste_l=30)
    assert result.days == pytest.approx(1.6)
    assert result.waste_l_day == 20
    assert result.waste_days == pytest.approx(1.5)
    assert [str(row) for row in result.figures[0].rows] == [
        "about 1.6 days",
        "about 20 litres/day",
        "about 1.5 days",
    ]


def test_no_waste_never_fills() -> None:
    result = store(use_l_day=5, kept_l_day=5, waste_l=30)
    assert result.waste_days is not None
    assert math.isinf(result.waste_days)
    assert "never" in str(result.figures[0].rows[-1])


def test_pump_time() -> None:
    # Checked against: plain division, 16 l at 8 l a minute.
    result = store(system_l=16, pump_l_min=8)
    assert result.fill_min == 2
    assert str(result.figures[1].rows[0]) == "at least 2.0 min"


def test_what_is_missing_is_asked_for() -> None:
    result = store()
    assert [a.key for a in result.figures[0].asked] == ["waste_l", "use_l_day", "kept_l_day"]
    assert [a.key for a in result.figures[1].asked] == ["system_l", "pump_l_min"]
    assert result.days is None


@given(st.floats(0.1, 1000), st.floats(0.1, 100), st.floats(0.01, 20), st.floats(0.01, 20))
def test_a_stronger_product_never_needs_more(
    litres: float, dose: float, first: float, second: float
) -> None:
    low, high = sorted((first, second))
    assert 0 < disinfectant_ml(litres, dose, high) <= disinfectant_ml(litres, dose, low)


KEYS = ["fresh_l", "waste_l", "use_l_day", "system_l", "pump_l_min", "treated_l", "strength_pct",
        "dose_mg_l"]  # fmt: skip


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("bad", [0, -1, float("nan"), float("inf"), 1e308, "5"])
def test_inputs_that_cannot_be_are_refused(key: str, bad: object) -> None:
    with pytest.raises(FigureInputError, match=f"^{key}: is "):
        store(**{key: bad})


def test_inputs_that_contradict_are_refused() -> None:
    with pytest.raises(FigureInputError, match="at most the 10 litres used"):
        store(use_l_day=10, kept_l_day=11)
    with pytest.raises(FigureInputError, match=r"^strength_pct: is 0.01, which makes"):
        store(treated_l=1000, strength_pct=0.01, dose_mg_l=100)
