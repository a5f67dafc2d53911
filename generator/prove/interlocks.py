"""Prove that no sequence of tasks, each begun only when its needs are met, enters an interlock.

The search is exhaustive over a projection: only the interlock's own variables are followed, and
every need on another variable counts as met. What is unreachable there is unreachable. A path
that is found there is tried on the whole model; where it fails, the variable that it failed on is
followed too, and the search begins again. It ends with a proof or with a shortest real sequence.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from generator.fit.guide import Need
from generator.prove.model import Action, Model, State


@dataclass(frozen=True, slots=True)
class Path:
    """Actions that lead from a situation to a state."""

    situation: str
    actions: tuple[Action, ...]


def find_sequence(model: Model, forbidden: Sequence[Need]) -> Path | None:
    """Return a shortest sequence from any situation to a state that is forbidden, or None."""
    followed = {need.key for need in forbidden}
    while True:
        path = _search_projection(model, forbidden, followed)
        if path is None:
            return None
        missing = _first_unmet(model.situations[path.situation], path.actions)
        if missing is None:
            return path
        followed.add(missing)


def _first_unmet(start: State, actions: Sequence[Action]) -> str | None:
    """Return the variable of the first need that is not met when the actions are really done."""
    state = start
    for action in actions:
        for need in action.needs:
            if state[need.key] not in need.values:
                return need.key
        state = action.after(state)
    return None


def _search_projection(model: Model, forbidden: Sequence[Need], followed: set[str]) -> Path | None:
    """Return a shortest path over the followed variables alone, or None.

    What is so only while a task is being done is looked at with the states before and after it.
    """
    keys = tuple(sorted(followed))
    index = {key: position for position, key in enumerate(keys)}
    moves = [
        move for action in model.actions if (move := _project(action, index)).sets or move.during
    ]
    goal = tuple((index[need.key], frozenset(need.values)) for need in forbidden)
    came_from: dict[_Values, tuple[_Values, Action] | str] = {}
    queue: deque[_Values] = deque()
    for name, state in model.situations.items():
        first = tuple(state[key] for key in keys)
        if first not in came_from:
            came_from[first] = name
            queue.append(first)
            if _meets(first, goal):
                return Path(name, ())
    while queue:
        values = queue.popleft()
        for move in moves:
            if not _meets(values, move.needs):
                continue
            after = _changed(values, move.sets)
            moments = [after]
            if move.during:
                moments += [_changed(values, move.during), _changed(after, move.during)]
            if any(_meets(moment, goal) for moment in moments):
                path = _retrace(values, came_from)
                return Path(path.situation, (*path.actions, move.action))
            if after not in came_from:
                came_from[after] = (values, move.action)
                queue.append(after)
    return None


_Values = tuple[str, ...]
_Test = tuple[tuple[int, frozenset[str]], ...]


@dataclass(frozen=True, slots=True)
class _Move:
    """An action as far as it touches the followed variables, by their position."""

    action: Action
    needs: _Test
    sets: Mapping[int, str]
    during: Mapping[int, str]


def _project(action: Action, index: Mapping[str, int]) -> _Move:
    return _Move(
        action,
        tuple(
            (index[need.key], frozenset(need.values)) for need in action.needs if need.key in index
        ),
        {index[key]: value for key, value in action.sets.items() if key in index},
        {index[key]: value for key, value in action.during.items() if key in index},
    )


def _meets(values: _Values, test: _Test) -> bool:
    return all(values[position] in allowed for position, allowed in test)


def _changed(values: _Values, changes: Mapping[int, str]) -> _Values:
    if not changes:
        return values
    changed = list(values)
    for position, value in changes.items():
        changed[position] = value
    return tuple(changed)


def _retrace(values: _Values, came_from: Mapping[_Values, tuple[_Values, Action] | str]) -> Path:
    actions: list[Action] = []
    origin = came_from[values]
    while not isinstance(origin, str):
        values, action = origin
        actions.append(action)
        origin = came_from[values]
    return Path(origin, tuple(reversed(actions)))
