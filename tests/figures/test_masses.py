"""Masses: payload, least payload, loading."""

# ruff: noqa: D103 - a test here is named by the sentence that it proves
from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.figures.figure import FigureInputError, Sure
from generator.figures.masses import (
    Item,
    Masses,
    MassesInput,
    force_n,
    least_payload_kg,
    masses,
    nose_window_kg,
    payload_kg,
    support_load_kg,
)


def caravan(*items: Item, **more: object) -> Masses:
    values: dict[str, object] = {
        "sort": "caravan", "mtplm_kg": 1500.0, "miro_kg": 1320.0, "support_m": 4.2,
        "support_kg": 70.0, "unladen_kg": 1320.0, "items": items,
        "nose_limits_kg": {"coupling": 150.0, "car": 100.0}, **more,
    }  # fmt: skip
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


def test_nose_load_by_moments() -> None:
    # Checked against: moment balance, 1,400 kg with its centre 0.30 m forward, coupling 4.20 m
    # forward (reference.md F, check 2).
    nose = support_load_kg([(1400, 0.30)], 4.20)
    assert nose == pytest.approx(100.0, abs=0.001)
    assert 100 * nose / 1400 == pytest.approx(7.143, abs=0.001)


@pytest.mark.parametrize(
    ("mass", "place", "nose"), [(30, 2.0, 84.286), (30, -1.5, 59.286), (40, 0.2, 71.905)]
)
def test_what_one_thing_does_to_the_nose(mass: float, place: float, nose: float) -> None:
    # Checked against: moment balance from 70 kg at 4.20 m (reference.md F).
    result = caravan(Item("thing", mass, place))
    assert result.support_kg == pytest.approx(nose, abs=0.001)
    assert result.axle_kg == pytest.approx(1320 + mass - nose, abs=0.001)
    assert result.left_kg == pytest.approx(180 - mass)


def test_the_window_and_the_lowest_limit() -> None:
    # Checked against: NCC towing guide page 11: 5 to 7 percent of 1,400 kg is 70 to 98 kg, and
    # the lowest of car, tow bar and coupling decides.
    assert nose_window_kg(1400) == pytest.approx((70, 98))
    assert caravan().nose_limit_kg == 100
    over = caravan(Item("awning", 80, 2.5))
    assert any("over the lowest limit, 100 kg" in one for one in over.warnings)
    assert caravan(Item("awning", 10, 2.0)).warnings == ()


def test_a_plate_in_newtons() -> None:
    # Checked against: standard gravity, 100 kg is 980.7 N (reference.md F).
    assert force_n(100) == pytest.approx(980.7, abs=0.05)


def test_what_must_not_go_on_the_road_is_said() -> None:
    tail = caravan(Item("bicycles", 120, -3.0))
    assert tail.support_kg is not None
    assert tail.support_kg < 0
    assert any("nose lifts" in one for one in tail.warnings)
    heavy = caravan(Item("stones", 200, 0), axle_max_kg=1400.0)
    assert any("Overloaded by 20 kg" in one for one in heavy.warnings)
    assert any("axle is 50 kg over" in one for one in heavy.warnings)
    low = caravan(nose_limits_kg={"car": 50.0})
    assert any("the limit decides" in one for one in low.warnings)


def test_exactly_at_a_limit_is_allowed() -> None:
    full = caravan(Item("all", 180, 0.7), axle_max_kg=1400.0)
    assert (full.left_kg, full.support_kg, full.axle_kg) == pytest.approx((0, 100, 1400))
    assert full.warnings == ()
    assert "0 kg" in str(full.figures[2].rows[1])
    assert caravan(Item("x", 180, 0.7), axle_max_kg=1399.0).warnings == (
        "The axle is 1 kg over its limit.",
    )
    level = caravan(support_kg=0.0)
    assert any("nose lifts" in one for one in level.warnings)
    assert "66 to 92 kg" in caravan(support_kg=50.0).warnings[0]


def test_a_motor_vehicle_shares_between_its_axles() -> None:
    # Checked against: moment balance: 100 kg halfway between the axles goes half to each.
    result = masses(
        MassesInput(
            sort="campervan", mtplm_kg=3500, support_m=3.6, support_kg=1500, unladen_kg=2900,
            axle_max_kg=2000, items=(Item("water", 100, 1.8),),
        )
    )  # fmt: skip
    assert result.support_kg == pytest.approx(1550)
    assert result.axle_kg == pytest.approx(1450)
    assert result.window_kg is None
    assert result.figures[2].asked == ()
    assert "sway" not in result.figures[2].cautions


def test_what_is_missing_is_asked_for() -> None:
    result = masses(MassesInput(sort="caravan"))
    assert [a.key for a in result.figures[0].asked] == ["mtplm_kg", "miro_kg"]
    assert [a.key for a in result.figures[1].asked] == ["persons", "length_m"]
    assert "nose_limits_kg" in [a.key for a in result.figures[2].asked]
    assert result.total_kg is None
    motor = masses(MassesInput(sort="motorhome", mtplm_kg=3500, miro_kg=3000))
    assert motor.payload_kg is None
    assert [a.key for a in motor.figures[0].asked] == ["passengers"]


@given(st.floats(0, 300), st.floats(-6, 6), st.floats(-6, 6))
def test_further_forward_is_never_lighter_on_the_nose(
    mass: float, first: float, second: float
) -> None:
    back, front = sorted((first, second))
    behind, ahead = caravan(Item("x", mass, back)), caravan(Item("x", mass, front))
    assert behind.support_kg is not None
    assert ahead.support_kg is not None
    assert behind.support_kg <= ahead.support_kg + 1e-9
    for one in (behind, ahead):
        assert one.support_kg is not None
        assert one.axle_kg is not None
        assert one.support_kg + one.axle_kg == pytest.approx(1320 + mass)


KEYS = ["mtplm_kg", "miro_kg", "support_m", "unladen_kg", "axle_max_kg", "persons", "length_m"]


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("bad", [0, -1, float("nan"), float("inf"), 1e308, "5"])
def test_inputs_that_cannot_be_are_refused(key: str, bad: object) -> None:
    with pytest.raises(FigureInputError, match=f"^{key}: is "):
        caravan(**{key: bad})


def test_inputs_that_contradict_are_refused() -> None:
    with pytest.raises(FigureInputError, match="miro_kg: is 1500"):
        caravan(miro_kg=1500.0)
    with pytest.raises(FigureInputError, match="support_kg"):
        caravan(support_kg=1320.0)
    with pytest.raises(FigureInputError, match=r"persons: is 2\.5"):
        caravan(persons=2.5, length_m=5.0)
    with pytest.raises(FigureInputError, match=r"items\[0\].item_kg"):
        caravan(Item("x", -1, 0))
    with pytest.raises(FigureInputError, match=r"items\[0\].item_m"):
        caravan(Item("x", 1, float("nan")))
    with pytest.raises(FigureInputError, match=r"nose_limits_kg\.car"):
        caravan(nose_limits_kg={"car": 0.0})
    with pytest.raises(FigureInputError, match="sort: is 'boat'"):
        masses(MassesInput(sort="boat"))
