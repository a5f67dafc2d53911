"""The planner against a search through every state of random small models."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from random_models import action, as_needs, every_state, meets, models, needs_of, replay, variable

from generator.prove.model import Model
from generator.prove.planner import find_plan

SETTINGS = settings(
    max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)


def switches(count: int) -> dict[str, object]:
    """Return so many variables that are on or off."""
    return {f"v{n}": variable(f"v{n}", ["off", "on"]) for n in range(count)}


@pytest.mark.slow
@SETTINGS
@given(st.data())
def test_plan_exists_exactly_where_the_goal_can_be_reached(data: st.DataObject) -> None:
    """Where any sequence leads to the goal the planner finds one, and nowhere else."""
    model = data.draw(models(situations=1))
    goal = data.draw(needs_of(model))
    (start,) = model.situations.values()
    reachable = any(meets(state, goal) for _, state in every_state(model, [start]))
    assert (find_plan(model, start, goal) is not None) == reachable


@pytest.mark.slow
@SETTINGS
@given(st.data())
def test_plan_leads_to_the_goal(data: st.DataObject) -> None:
    """Each step of a plan may be begun where it stands, and the last one meets the goal."""
    model = data.draw(models(situations=1))
    goal = data.draw(needs_of(model))
    (start,) = model.situations.values()
    plan = find_plan(model, start, goal)
    if plan is not None:
        assert meets(replay(start, plan), goal)


@pytest.mark.slow
@SETTINGS
@given(st.data())
def test_no_step_is_needless(data: st.DataObject) -> None:
    """No single step can be left out."""
    model = data.draw(models(situations=1))
    goal = data.draw(needs_of(model))
    (start,) = model.situations.values()
    for index in range(len(plan := find_plan(model, start, goal) or ())):
        state = dict(start)
        for step in plan[:index] + plan[index + 1 :]:
            if meets(state, step.needs):
                state |= step.sets
        assert not meets(state, goal)


@pytest.mark.slow
@SETTINGS
@given(st.data())
def test_plan_is_not_much_longer_than_the_shortest(data: st.DataObject) -> None:
    """On models of this size a plan is at most twice as long as it has to be, and one step."""
    model = data.draw(models(situations=1))
    goal = data.draw(needs_of(model))
    (start,) = model.situations.values()
    plan = find_plan(model, start, goal)
    if plan is not None:
        shortest = min(d for d, state in every_state(model, [start]) if meets(state, goal))
        assert len(plan) <= 2 * shortest + 1


def test_nothing_to_do() -> None:
    """Where the goal is met already, the plan is empty."""
    model = Model(switches(1), (action("switch", {}, {"v0": "on"}),), {})
    assert find_plan(model, {"v0": "on"}, as_needs({"v0": ["on"]})) == ()


def test_undone_and_done_again() -> None:
    """A plan may have to undo what already is so, where all that helps would not lead there."""
    actions = (
        action("open", {"v0": ["on"]}, {"v0": "off", "v1": "on"}),
        action("again", {"v1": ["on"]}, {"v0": "on"}),
    )
    model = Model(switches(2), actions, {})
    goal = as_needs({"v0": ["on"], "v1": ["on"]})
    plan = find_plan(model, {"v0": "on", "v1": "off"}, goal)
    assert plan is not None
    assert [step.name for step in plan] == ["open", "again"]


def test_a_long_chain() -> None:
    """Forty tasks that each need the one before are planned in their order."""
    actions = tuple(
        action(f"a{n:02}", {f"v{n - 1}": ["on"]} if n else {}, {f"v{n}": "on"}) for n in range(40)
    )
    model = Model(switches(40), actions[::-1], {})
    start = {f"v{n}": "off" for n in range(40)}
    plan = find_plan(model, start, as_needs({"v39": ["on"]}))
    assert plan is not None
    assert [step.name for step in plan] == [f"a{n:02}" for n in range(40)]


@pytest.mark.parametrize("values", [["on"], ["off", "on"]])
def test_either_value_will_do(values: list[str]) -> None:
    """A goal that several values meet is met by the one that is there."""
    model = Model(switches(1), (action("switch", {}, {"v0": "on"}),), {})
    plan = find_plan(model, {"v0": "off"}, as_needs({"v0": values}))
    assert plan is not None
    assert len(plan) == (0 if "off" in values else 1)
