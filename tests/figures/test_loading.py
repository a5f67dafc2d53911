"""Loading: what things do to nose load and axles, and what is said against the limits."""

# ruff: noqa: D103 - a test here is named by the sentence that it proves
from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.figures.figure import FigureInputError
from generator.figures.loading import (
    Check,
    Loading,
    LoadingInput,
    Thing,
    effect,
    force_n,
    loading,
    nose_window_kg,
)

FAR = st.floats(-4, 14)
MASS = st.floats(0, 300)


def caravan(*things: Thing, **more: object) -> Loading:
    """Return the plan of a caravan: body's front at 0, axle at 3.0 m, coupling 1.2 m ahead."""
    values: dict[str, object] = {
        "sort": "caravan", "mtplm_kg": 1500.0, "miro_kg": 1320.0, "axle_m": 3.0, "support_m": 4.2,
        "weighed_kg": 1320.0, "weighed_front_kg": 70.0, "things": things,
        "support_max_kg": 150.0, "tow_max_kg": 100.0, **more,
    }  # fmt: skip
    return loading(LoadingInput(**values))  # type: ignore[arg-type]


def motor(*things: Thing, **more: object) -> Loading:
    values: dict[str, object] = {
        "sort": "campervan", "mtplm_kg": 3500.0, "axle_m": 4.6, "support_m": 3.6,
        "weighed_kg": 2900.0, "weighed_front_kg": 1500.0, "axle_max_kg": 2000.0,
        "support_max_kg": 1600.0, "things": things, **more,
    }  # fmt: skip
    return loading(LoadingInput(**values))  # type: ignore[arg-type]


def verdicts(result: Loading) -> dict[str, str]:
    return {check.key: check.verdict for check in result.checks}


def test_nose_load_by_moments() -> None:
    # Checked against: moment balance, 1,400 kg with its centre 0.30 m forward, coupling 4.20 m
    # forward (reference.md F, check 2).
    nose = effect(1400, 2.7, 3.0, 4.2).support_kg
    assert nose == pytest.approx(100.0, abs=0.001)
    assert 100 * nose / 1400 == pytest.approx(7.143, abs=0.001)


@pytest.mark.parametrize(
    ("mass", "forward", "nose"), [(30, 2.0, 84.286), (30, -1.5, 59.286), (40, 0.2, 71.905)]
)
def test_what_one_thing_does_to_the_nose(mass: float, forward: float, nose: float) -> None:
    # Checked against: moment balance from 70 kg at 4.20 m (reference.md F).
    result = caravan(Thing("thing", mass, 3.0 - forward))
    assert result.support_kg == pytest.approx(nose, abs=0.001)
    assert result.axle_kg == pytest.approx(1320 + mass - nose, abs=0.001)


@given(
    st.lists(st.tuples(MASS, FAR), max_size=8),
    st.floats(0.5, 8),
    st.floats(1, 8),
    st.floats(500, 3000),
    st.floats(0.02, 0.6),
)
def test_a_free_body_in_balance(
    things: list[tuple[float, float]], axle: float, arm: float, empty: float, share: float
) -> None:
    # Checked against: numpy.linalg.solve of the free body: forces in balance, and moments in
    # balance about a point far off (10 m ahead of the body), with the empty vehicle's own centre.
    front = share * empty
    result = loading(
        LoadingInput(
            sort="caravan", axle_m=axle, support_m=arm, weighed_kg=empty,
            weighed_front_kg=front, things=tuple(Thing("x", kg, m) for kg, m in things),
        )
    )  # fmt: skip
    centre = axle - share * arm
    masses = np.array([empty, *(kg for kg, _ in things)])
    at = np.array([centre, *(m for _, m in things)]) + 10
    forces = np.array([[1.0, 1.0], [axle - arm + 10, axle + 10]])
    theirs = np.linalg.solve(forces, np.array([masses.sum(), masses @ at]))
    assert result.support_kg == pytest.approx(theirs[0], rel=1e-6, abs=1e-6)
    assert result.axle_kg == pytest.approx(theirs[1], rel=1e-6, abs=1e-6)
    assert result.total_kg == pytest.approx(masses.sum())


def test_the_window_and_the_lowest_limit() -> None:
    # Checked against: NCC towing guide page 11: 5 to 7 percent of 1,400 kg is 70 to 98 kg, and
    # the lowest of car, tow bar and coupling decides.
    assert nose_window_kg(1400) == pytest.approx((70, 98))
    over = caravan(Thing("awning", 80, 0.5))
    nose = next(one for one in over.checks if one.key == "support")
    assert nose.high == 100
    assert verdicts(over) == {"laden": "within", "support": "over", "usual": "over"}
    assert set(verdicts(caravan(Thing("awning", 10, 1.0))).values()) == {"within"}


def test_a_plate_in_newtons() -> None:
    # Checked against: standard gravity, 100 kg is 980.7 N (reference.md F).
    assert force_n(100) == pytest.approx(980.7, abs=0.05)


def test_a_motor_vehicle_shares_between_its_axles() -> None:
    # Checked against: moment balance: 100 kg halfway between the axles goes half to each.
    result = motor(Thing("water", 100, 2.8))
    assert result.support_kg == pytest.approx(1550)
    assert result.axle_kg == pytest.approx(1450)
    assert [check.key for check in result.checks] == ["laden", "support", "axle"]
    assert result.figures[0].asked == ()
    assert "sway" not in result.figures[0].cautions


def test_a_thing_above_a_support_rests_on_it_whole() -> None:
    assert effect(50, 3.0, 3.0, 4.2).axle_kg == 50
    assert effect(50, -1.2, 3.0, 4.2).support_kg == pytest.approx(50)


def test_what_must_not_go_on_the_road_is_said() -> None:
    assert verdicts(caravan(Thing("bicycles", 120, 6.0)))["support"] == "lifts"
    heavy = caravan(Thing("stones", 200, 3.0), axle_max_kg=1400.0)
    assert verdicts(heavy)["laden"] == verdicts(heavy)["axle"] == "over"
    light = caravan(Thing("box", 40, 5.0), noseload_min_kg=60.0)
    assert verdicts(light)["support"] == verdicts(light)["usual"] == "under"
    assert verdicts(motor(Thing("tow ball", 900, 11.5)))["support"] == "lifts"
    assert verdicts(motor(Thing("winch", 1_200, -4)))["axle"] == "lifts"


def test_exactly_at_a_limit_is_allowed() -> None:
    full = caravan(Thing("all", 180, 2.3), axle_max_kg=1400.0)
    assert (full.total_kg, full.support_kg, full.axle_kg) == pytest.approx((1500, 100, 1400))
    assert set(verdicts(full).values()) == {"within"}
    assert verdicts(caravan(Thing("x", 180, 2.3), axle_max_kg=1399.0))["axle"] == "over"
    assert Check("support", 40, 40, 100).verdict == "within"
    assert Check("support", 0, None, 100).verdict == "lifts"


def test_what_is_missing_is_asked_for() -> None:
    result = loading(LoadingInput(sort="caravan", things=(Thing("box", 10, 1),)))
    asked = [ask.key for ask in result.figures[0].asked]
    assert asked == [
        "weighed_kg", "weighed_front_kg", "axle_m", "support_m", "mtplm_kg", "axle_max_kg",
        "support_max_kg", "tow_max_kg",
    ]  # fmt: skip
    assert (result.things_kg, result.total_kg, result.effects, result.checks) == (10, None, (), ())
    # Without a weighing the plate's mass in running order still tells the laden mass.
    plate = caravan(Thing("box", 10, 1), weighed_kg=None)
    assert plate.total_kg == 1330
    assert plate.support_kg is None
    assert verdicts(plate) == {"laden": "within"}
    # Without distances a thing cannot be told: nor can the nose load with it.
    far = caravan(Thing("box", 10, 1), axle_m=None)
    assert (far.effects, far.support_kg) == ((), None)
    assert caravan(axle_m=None).support_kg == 70


@given(MASS, FAR, FAR)
def test_further_forward_is_never_lighter_on_the_nose(
    mass: float, first: float, second: float
) -> None:
    ahead, behind = sorted((first, second))
    fore, aft = caravan(Thing("x", mass, ahead)), caravan(Thing("x", mass, behind))
    assert fore.support_kg is not None
    assert aft.support_kg is not None
    assert aft.support_kg <= fore.support_kg + 1e-9


@given(st.lists(st.tuples(MASS, FAR), min_size=1, max_size=6), MASS)
def test_more_is_never_lighter_and_nothing_gets_lost(
    things: list[tuple[float, float]], more: float
) -> None:
    one = caravan(*(Thing("x", kg, m) for kg, m in things))
    two = caravan(*(Thing("x", kg, m) for kg, m in [*things, (more, 2.0)]))
    assert one.total_kg is not None
    assert two.total_kg is not None
    assert one.total_kg <= two.total_kg
    assert sum(e.support_kg + e.axle_kg for e in one.effects) == pytest.approx(one.things_kg)


@pytest.mark.parametrize(
    "key", ["mtplm_kg", "axle_m", "support_m", "weighed_kg", "axle_max_kg", "tow_max_kg"]
)
@pytest.mark.parametrize("bad", [0, -1, float("nan"), float("inf"), 1e308, "5"])
def test_inputs_that_cannot_be_are_refused(key: str, bad: object) -> None:
    with pytest.raises(FigureInputError, match=f"^{key}: is "):
        caravan(**{key: bad})


def test_inputs_that_contradict_are_refused() -> None:
    with pytest.raises(FigureInputError, match="weighed_front_kg: is 1320"):
        caravan(weighed_front_kg=1320.0)
    with pytest.raises(FigureInputError, match="noseload_min_kg: is 150"):
        caravan(noseload_min_kg=150.0)
    with pytest.raises(FigureInputError, match=r"things\[0\].item_kg: is -1"):
        caravan(Thing("x", -1, 0))
    with pytest.raises(FigureInputError, match=r"things\[0\].from_front_m: is nan"):
        caravan(Thing("x", 1, float("nan")))
    with pytest.raises(FigureInputError, match="things: are 41; right: at most 40"):
        caravan(*(Thing("x", 1, 1) for _ in range(41)))
    with pytest.raises(FigureInputError, match="sort: is 'boat'"):
        caravan(sort="boat")
