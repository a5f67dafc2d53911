"""The model of one unit: its variables, and the actions that its tasks and its owner can take."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from generator.fit.fit import common_names, ground_states
from generator.fit.guide import BoundTask, Guide, Need, Variable
from generator.read.library import Situation

State = Mapping[str, str]
"""A value for every variable of a unit, by key."""


@dataclass(frozen=True, slots=True)
class Action:
    """A task of the guide, or (`task` is None) something that is done by hand or happens."""

    name: str
    task: BoundTask | None
    needs: tuple[Need, ...]
    sets: Mapping[str, str]
    during: Mapping[str, str]
    """What is so only while it is being done."""

    def applies(self, state: State) -> bool:
        """Return whether all that must be so before it is so."""
        return all(state[need.key] in need.values for need in self.needs)

    def after(self, state: State) -> State:
        """Return the state that it leaves."""
        return {**state, **self.sets}


@dataclass(frozen=True, slots=True)
class Model:
    """Variables and actions of one unit, and the situations in which its owner may be."""

    variables: Mapping[str, Variable]
    actions: tuple[Action, ...]
    situations: Mapping[str, State]
    composite: frozenset[str] = frozenset()
    """Names of actions that are made of others. A plan has those others instead."""

    def providers(self, need: Need) -> tuple[Action, ...]:
        """Return the actions that bring a need about, tasks before what is done by hand."""
        able = [a for a in self.actions if a.sets.get(need.key) in need.values]
        return tuple(sorted(able, key=lambda action: action.task is None))


def model_guide(guide: Guide, situations: Mapping[str, Situation]) -> Model:
    """Return the model of a guide. Tasks that change nothing are no actions.

    Nobody can work inside behind a locked door, so what is done inside needs it unlocked. Nobody
    is in the living space on the road, so what is done by hand is done while parked.
    """
    parked = (Need("journey", ("parked",)),) if "journey" in guide.variables else ()
    actions = [
        as_action(task, guide)
        for task in guide.tasks
        if (task.sets or task.during) and task.for_reader
    ]
    actions += [
        Action(f"by hand: {variable.key} {value}", None, parked, {variable.key: value}, {})
        for variable in guide.variables.values()
        for value in variable.state.values
        if value in variable.state.by_hand
    ]
    names = common_names(guide.unit, guide.fittings.values())
    rest = {key: variable.at_rest for key, variable in guide.variables.items()}
    grounded = {
        name: {
            need.key: need.values[0]
            for need in ground_states(
                [ref for ref in situation.states if ref.when is None or ref.when.holds(names)],
                {},
                guide.fittings,
                guide.variables,
            )
        }
        for name, situation in situations.items()
    }
    return Model(
        variables=guide.variables,
        actions=tuple(actions),
        situations={name: {**rest, **states} for name, states in grounded.items()},
    )


def as_action(task: BoundTask, guide: Guide) -> Action:
    """Return a task as a step of a plan, its needs completed by the unlocked door if inside."""
    inside = any(place.name == task.place and place.wall == "inside" for place in guide.places)
    doors = tuple(
        Need(variable.key, ("unlocked",))
        for variable in guide.variables.values()
        if inside and guide.fittings[variable.fitting].kind == "entrance-door"
    )
    return Action(task.slug, task, task.needs + doors, task.sets, task.during)
