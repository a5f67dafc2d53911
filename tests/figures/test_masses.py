"""Masses: payload, least payload."""

# ruff: noqa: D103 - a test here is named by the sentence that it proves
from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.figures.figure import FigureInputError, Sure
from generator.figures.masses import (
    Masses,
    MassesInput,
    least_payload_kg,
    masses,
    payload_kg,
)


def caravan(**more: object) -> Masses:
    values: dict[str, object] = {"sort": "caravan", "mtplm_kg": 1500.0, "miro_kg": 1320.0, **more}
    return masses(MassesInput(**values))  # type: ignore[arg-type]


def test_payload() -> None:
    # Checked against: Towsafe glossary, payload is MTPLM less MIRO: 1500 - 1320 (reference.md F).
    assert caravan().payload_kg == 180
    # Checked against: 75 kg for each passenger of a motor caravan: 3500 - 3050 - 3 times 75.
    assert payload_kg(3500, 3050, 3) == 225
    motor = masses(MassesInput(sort="motorhome", mtplm_kg=3500, miro_kg=3050, passengers=3))
    assert motor.payload_kg == 225


@pytest.mark.parametrize(
    ("sort", "persons", "length", "least"),
    [
        ("caravan", 4, 5.0, 120),
        ("caravan", 4, 5.85, 128.5),
        ("caravan", 2, 4.2, 92),
        ("caravan", 6, 6.3, 153),
        ("motorhome", 4, 7.0, 110),
        ("campervan", 2, 5.99, 79.9),
    ],
)
def test_the_least_payload(sort: str, persons: float, length: float, least: float) -> None:
    # Checked against: EN 1645-2 and EN 1646-2 as restated, with the 4-berth example of 120 kg
    # (reference.md F, check 1; second-hand).
    assert least_payload_kg(sort, persons, length) == pytest.approx(least, abs=1e-9)
    result = masses(MassesInput(sort=sort, persons=persons, length_m=length))
    assert result.least_payload_kg == pytest.approx(least, abs=1e-9)
    assert result.figures[1].sources[0].sure == Sure.SECOND_HAND


def test_what_is_missing_is_asked_for() -> None:
    result = masses(MassesInput(sort="caravan"))
    assert [a.key for a in result.figures[0].asked] == ["mtplm_kg", "miro_kg"]
    assert [a.key for a in result.figures[1].asked] == ["persons", "length_m"]
    motor = masses(MassesInput(sort="motorhome", mtplm_kg=3500, miro_kg=3000))
    assert motor.payload_kg is None
    assert [a.key for a in motor.figures[0].asked] == ["passengers"]


@given(st.floats(100, 3000), st.floats(0, 4000), st.integers(0, 8), st.integers(0, 8))
def test_more_passengers_never_leave_more_payload(
    miro: float, room: float, few: int, many: int
) -> None:
    few, many = sorted((few, many))
    plate = min(miro + room, 7_500)
    assert payload_kg(plate, miro, many) <= payload_kg(plate, miro, few) <= plate - miro


KEYS = ["mtplm_kg", "miro_kg", "persons", "length_m"]


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("bad", [0, -1, float("nan"), float("inf"), 1e308, "5"])
def test_inputs_that_cannot_be_are_refused(key: str, bad: object) -> None:
    with pytest.raises(FigureInputError, match=f"^{key}: is "):
        caravan(**{key: bad})


def test_inputs_that_contradict_are_refused() -> None:
    with pytest.raises(FigureInputError, match="miro_kg: is 1500"):
        caravan(miro_kg=1500.0)
    with pytest.raises(FigureInputError, match=r"persons: is 2\.5"):
        caravan(persons=2.5, length_m=5.0)
    with pytest.raises(FigureInputError, match="sort: is 'boat'"):
        masses(MassesInput(sort="boat"))
