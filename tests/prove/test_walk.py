"""Walks: distances round a vehicle, and orders that keep a plan a plan."""

from __future__ import annotations

import itertools
import random
from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_models import action, meets, models, needs_of, replay

from generator.fit.fit import fit_unit
from generator.problems import Mark, Problems
from generator.prove.model import Action
from generator.prove.planner import find_plan
from generator.prove.prove import prove_guide
from generator.prove.walk import GOING_IN_M, distance_m, order_walk, point_of
from generator.read.sources import Sources
from generator.read.units import Body, Spot

BODY = Body(4, 2, 2.5, "nearside", 2.5, 2.2, 0)
"""Four metres long and two wide, with its door two and a half metres along the nearside."""


def spot(wall: str, along_m: float, across_m: float = 1) -> Spot:
    """Return a place."""
    return Spot("here", "Here", wall, along_m, across_m, 1, "", "", "", Mark("a.yml"))


@pytest.mark.parametrize(
    ("place", "point"),
    [
        (spot("nearside", 1), (1, 0, False)),
        (spot("offside", 1), (1, 2, False)),
        (spot("front", 0.5), (0, 0.5, False)),
        (spot("rear", 0.5), (4, 0.5, False)),
        (spot("inside", 3, 0.4), (3, 0.4, True)),
        (spot("floor", 3, 0.4), (3, 0.4, False)),
    ],
)
def test_where_a_reader_stands(place: Spot, point: tuple[float, float, bool]) -> None:
    """A place on a wall is at that wall."""
    assert point_of(place, BODY) == point


@pytest.mark.parametrize(
    ("one", "other", "metres"),
    [
        # Worked out on paper: the outline is 12 m round.
        (spot("nearside", 1), spot("nearside", 3.5), 2.5),
        (spot("front", 1), spot("nearside", 1), 1 + 1),
        (spot("front", 1), spot("offside", 1), 1 + 1),
        (spot("nearside", 0.5), spot("offside", 0.5), 0.5 + 2 + 0.5),
        (spot("nearside", 3.5), spot("offside", 3.5), 0.5 + 2 + 0.5),
        (spot("nearside", 2), spot("offside", 2), 2 + 2 + 2),
        (spot("inside", 1, 0.5), spot("inside", 3, 1.5), 2 + 1),
        (spot("inside", 2.5, 1), spot("nearside", 2.5), GOING_IN_M + 1),
        (spot("inside", 2.5, 1), spot("nearside", 0.5), GOING_IN_M + 1 + 2),
    ],
)
def test_distances(one: Spot, other: Spot, metres: float) -> None:
    """A way on foot goes round the vehicle, never through its walls, and is as long both ways."""
    a, b = point_of(one, BODY), point_of(other, BODY)
    assert [distance_m(a, b, BODY), distance_m(b, a, BODY)] == pytest.approx([metres, metres])


def test_same_place() -> None:
    """There is no way from a place to itself."""
    point = point_of(spot("offside", 1), BODY)
    assert distance_m(point, point, BODY) == 0


def test_order_of_the_small_unit(small: Sources) -> None:
    """Leaving the pitch: what is done inside comes together, and setting off comes last."""
    unit = small.stock.units["sm-1"]
    guide = fit_unit(small.library, unit, small.stock.dealer, small.register)
    proof = prove_guide(guide, small.library, Problems())
    leave = next(planned for planned in proof.routines if planned.routine.name == "leave")
    plan = next(plan for plan in leave.plans if plan.situation == "on-pitch")
    assert [step.name for step in plan.steps] == [
        "by hand: loose-items stowed",
        "turn-off-water-heater",
        "turn-off-gas",
        "drain-water",
        "set-off",
    ]


@pytest.mark.slow
def test_every_walk_of_the_demo_is_a_plan(demo: Sources) -> None:
    """Each routine of each demo unit, in walking order, may be done as told and meets its goal."""
    walks = 0
    for unit in demo.stock.units.values():
        guide = fit_unit(demo.library, unit, demo.stock.dealer, demo.register)
        problems = Problems()
        proof = prove_guide(guide, demo.library, problems)
        assert problems.found == []
        for planned in proof.routines:
            assert {plan.situation for plan in planned.plans} == {*planned.routine.starts}
            for plan in planned.plans:
                walks += 1
                start = proof.model.situations[plan.situation]
                assert meets(replay(start, plan.steps), planned.goal)
    assert walks > 20


@pytest.mark.slow
@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.data())
def test_any_walk_is_a_plan(data: st.DataObject) -> None:
    """Whatever the plan and its places, its walk may be done as told and meets its goal."""
    model = data.draw(models(situations=1))
    goal = data.draw(needs_of(model))
    (start,) = model.situations.values()
    unit = unit_of({f"p{n}": n for n in range(4)})
    placed = [at_place(act, f"p{data.draw(st.integers(0, 3))}") for act in model.actions]
    plan = find_plan(replace(model, actions=tuple(placed)), start, goal)
    if plan is not None:
        early = data.draw(st.sampled_from([(), ("p1",), ("p3",)]))
        walked = order_walk(plan, start, unit, early)
        assert sorted(act.name for act in walked) == sorted(act.name for act in plan)
        assert meets(replay(start, walked), goal)


@pytest.mark.parametrize("seed", range(8))
def test_no_way_twice(seed: int) -> None:
    """Five tasks that touch nothing of each other take hardly more than the shortest way."""
    chance = random.Random(seed)
    unit = unit_of({f"p{n}": chance.uniform(0, 12) for n in range(5)})
    tasks = [at_place(action(f"a{n}", {}, {f"v{n}": "on"}), f"p{n}") for n in range(5)]
    start = {f"v{n}": "off" for n in range(5)}
    best = min(way_m(order, unit) for order in itertools.permutations(tasks))
    assert best <= way_m(order_walk(tasks, start, unit), unit) <= 1.02 * best


def test_early_and_late() -> None:
    """Areas that come early or late do so, however long the way."""
    unit = unit_of({"near": 0, "far": 4, "behind": 6})
    tasks = [at_place(action(name, {}, {name: "on"}), name) for name in ("near", "far", "behind")]
    start = dict.fromkeys(("near", "far", "behind"), "off")
    walked = order_walk(tasks, start, unit, early=["behind"], late=["near"])
    assert [step.name for step in walked] == ["behind", "far", "near"]


def unit_of(places: Mapping[str, float]) -> Any:
    """Return a unit with places so many metres round its outline from its nearside front."""

    def place(along: float) -> Spot:
        if along < 4:
            return spot("nearside", along)
        if along < 6:
            return spot("rear", along - 4)
        return spot("offside", max(0.0, 10 - along))

    return SimpleNamespace(body=BODY, places={name: place(at) for name, at in places.items()})


def at_place(act: Action, place: str) -> Action:
    """Return an action as a task of one minute at a place; its area is called as the place."""
    task = SimpleNamespace(place=place, task=SimpleNamespace(area=place, name=act.name))
    return replace(act, task=task)  # type: ignore[arg-type]


def way_m(steps: Sequence[Action], unit: Any) -> float:
    """Return the way from step to step on foot, from the front of the vehicle on."""
    here, total = (0.0, unit.body.width_m / 2, False), 0.0
    for step in steps:
        there = point_of(unit.places[step.task.place], unit.body)
        total += distance_m(here, there, unit.body)
        here = there
    return total
