"""The search for forbidden states against a search through every state of random models."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from random_models import action, as_needs, meets, models, moments, needs_of, replay, variable

from generator.prove.interlocks import find_sequence
from generator.prove.model import Model

SETTINGS = settings(
    max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize=True
)


@pytest.mark.slow
@SETTINGS
@given(st.data())
def test_found_exactly_where_it_can_be_reached(data: st.DataObject) -> None:
    """A sequence is found where there is one, and where none is found there is none."""
    model = data.draw(models())
    forbidden = data.draw(needs_of(model))
    reachable = any(meets(state, forbidden) for _, state in moments(model))
    assert (find_sequence(model, forbidden) is not None) == reachable


@pytest.mark.slow
@SETTINGS
@given(st.data())
def test_sequence_is_real_and_shortest(data: st.DataObject) -> None:
    """The sequence can be done as told, ends in what is forbidden, and no shorter one does."""
    model = data.draw(models())
    forbidden = data.draw(needs_of(model))
    path = find_sequence(model, forbidden)
    if path is None:
        return
    start = model.situations[path.situation]
    last = replay(start, path.actions)
    before = replay(start, path.actions[:-1])
    meanwhile = path.actions[-1].during if path.actions else {}
    assert any(
        meets(state, forbidden) for state in (last, {**before, **meanwhile}, {**last, **meanwhile})
    )
    assert len(path.actions) == min(d for d, state in moments(model) if meets(state, forbidden))


def test_projection_is_refined() -> None:
    """A need on a variable that the interlock does not name can be what prevents it."""
    variables = {key: variable(key, ["off", "on"]) for key in ("gas", "flame", "valve")}
    light = action("light", {"valve": ["on"]}, {"flame": "on"})
    model = Model(variables, (light,), {"start": dict.fromkeys(variables, "off")})
    forbidden = as_needs({"flame": ["on"]})
    assert find_sequence(model, forbidden) is None
    turn = action("turn", {}, {"valve": "on"})
    path = find_sequence(Model(variables, (light, turn), model.situations), forbidden)
    assert path is not None
    assert [step.name for step in path.actions] == ["turn", "light"]


def test_shorter_way_through_a_state() -> None:
    """A state that is forbidden is found before a longer way to what is so only meanwhile."""
    variables = {key: variable(key, ["off", "on"]) for key in ("gas", "valve")}
    actions = (
        action("first", {}, {"valve": "on"}),
        action("second", {"valve": ["on"]}, {}, {"gas": "on"}),
        action("at once", {}, {"gas": "on"}),
    )
    model = Model(variables, actions, {"start": dict.fromkeys(variables, "off")})
    path = find_sequence(model, as_needs({"gas": ["on"]}))
    assert path is not None
    assert [step.name for step in path.actions] == ["at once"]


def test_at_once() -> None:
    """A situation that is forbidden itself is found without any action."""
    model = Model({"gas": variable("gas", ["off", "on"])}, (), {"start": {"gas": "on"}})
    path = find_sequence(model, as_needs({"gas": ["on"]}))
    assert path is not None
    assert (path.situation, path.actions) == ("start", ())


def test_only_while_it_is_done() -> None:
    """What is so only while a task is being done is looked at before and after its changes."""
    variables = {key: variable(key, ["off", "on"]) for key in ("joint", "gas")}
    change = action("change", {}, {"gas": "on"}, {"joint": "on"})
    model = Model(variables, (change,), {"start": dict.fromkeys(variables, "off")})
    assert find_sequence(model, as_needs({"joint": ["on"], "gas": ["off"]})) is not None
    assert find_sequence(model, as_needs({"joint": ["on"], "gas": ["on"]})) is not None
    safe = action("change", {}, {}, {"joint": "on"})
    model = Model(variables, (safe,), {"start": dict.fromkeys(variables, "off")})
    assert find_sequence(model, as_needs({"joint": ["on"], "gas": ["on"]})) is None
