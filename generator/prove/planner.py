"""Find a sequence of tasks from a state to a goal.

Best-first search guided by the length of a plan in which nothing is ever undone, trying first the
actions with which such a plan begins (J. Hoffmann and B. Nebel, "The FF planning system", 2001).
Where that narrow search fails, all actions are tried, so a plan is found whenever there is one.
"""

from __future__ import annotations

import heapq
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from generator.fit.guide import Need
from generator.prove.model import Action, Model, State

MOST_STATES = 20_000
"""Far above what any demo or generated unit needs; a guard against a search without end."""

Fact = tuple[str, str]


@dataclass(frozen=True, slots=True)
class _Estimate:
    """How far the goal is if nothing is undone, and the actions that such a plan begins with."""

    distance: int
    helpful: tuple[Action, ...]


def find_plan(
    model: Model, start: State, goal: Sequence[Need], prefer: Collection[str] = ()
) -> tuple[Action, ...] | None:
    """Return a plan without needless actions from `start` to `goal`, or None if there is none.

    `prefer` names tasks that are chosen where several would do.
    """
    actions = relevant_actions(model, goal)
    found = _search(actions, start, goal, prefer, narrow=True) or _search(
        actions, start, goal, prefer, narrow=False
    )
    return None if found is None else _drop_needless(found, start, goal)


def is_met(state: State, goal: Sequence[Need]) -> bool:
    """Return whether a state meets a goal."""
    return all(state[need.key] in need.values for need in goal)


def relevant_actions(model: Model, goal: Iterable[Need]) -> tuple[Action, ...]:
    """Return the actions that can matter to the goal, in the model's order.

    None that is made of others: a plan names each of them by itself.
    """
    setting: dict[tuple[str, str], list[Action]] = {}
    for action in model.actions:
        if action.name in model.composite:
            continue
        for pair in action.sets.items():
            setting.setdefault(pair, []).append(action)
    wanted = list(goal)
    keep: set[str] = set()
    seen: set[Need] = set()
    while wanted:
        need = wanted.pop()
        if need in seen:
            continue
        seen.add(need)
        for value in need.values:
            for action in setting.get((need.key, value), ()):
                if action.name not in keep:
                    keep.add(action.name)
                    wanted.extend(action.needs)
    return tuple(action for action in model.actions if action.name in keep)


def _search(
    actions: Sequence[Action],
    start: State,
    goal: Sequence[Need],
    prefer: Collection[str],
    *,
    narrow: bool,
) -> tuple[Action, ...] | None:
    first = _estimate(actions, start, goal, prefer)
    if first is None:
        return None
    count = 0
    queue: list[tuple[int, int, int, State, tuple[Action, ...], _Estimate]] = [
        (first.distance, 0, count, start, (), first)
    ]
    seen = {frozenset(start.items())}
    while queue and len(seen) < MOST_STATES:
        _, _, _, state, plan, estimate = heapq.heappop(queue)
        if is_met(state, goal):
            return plan
        for action in estimate.helpful if narrow else actions:
            if not action.applies(state):
                continue
            after = action.after(state)
            known = frozenset(after.items())
            if known in seen:
                continue
            seen.add(known)
            further = _estimate(actions, after, goal, prefer)
            if further is None:
                continue
            count += 1
            longer = (*plan, action)
            heapq.heappush(queue, (further.distance, len(longer), count, after, longer, further))
    return None


def _estimate(
    actions: Sequence[Action], state: State, goal: Sequence[Need], prefer: Collection[str]
) -> _Estimate | None:
    """Return how far the goal is, or None if it cannot be reached even if nothing is undone."""
    layer_of: dict[Fact, int] = dict.fromkeys(state.items(), 0)
    supporter: dict[Fact, Action] = {}
    waiting = list(actions)
    layer = 0

    def met(need: Need) -> bool:
        return any((need.key, value) in layer_of for value in need.values)

    while not all(met(need) for need in goal):
        layer += 1
        ready: list[Action] = []
        later: list[Action] = []
        for action in waiting:
            (ready if all(met(need) for need in action.needs) else later).append(action)
        if not ready:
            return None
        waiting = later
        new: dict[Fact, Action] = {}
        for action in sorted(ready, key=lambda a: (_rank(a, prefer), len(a.needs))):
            for fact in action.sets.items():
                if fact not in layer_of:
                    new.setdefault(fact, action)
        layer_of.update(dict.fromkeys(new, layer))
        supporter.update(new)
    chosen: dict[str, Action] = {}
    wanted = list(goal)
    while wanted:
        need = wanted.pop()
        facts = [(need.key, v) for v in need.values if (need.key, v) in layer_of]
        fact = min(
            facts,
            key=lambda f: (layer_of[f] > 0, _rank(supporter.get(f), prefer), layer_of[f]),
        )
        found = supporter.get(fact)
        if found is not None and found.name not in chosen:
            chosen[found.name] = found
            wanted.extend(found.needs)
    helpful = tuple(action for action in chosen.values() if action.applies(state))
    return _Estimate(len(chosen), helpful)


def _rank(action: Action | None, prefer: Collection[str]) -> int:
    if action is None or action.task is None:
        return 2
    return 0 if action.task.task.name in prefer else 1


def _drop_needless(
    plan: tuple[Action, ...], start: State, goal: Sequence[Need]
) -> tuple[Action, ...]:
    """Return the plan without actions that can go, alone or with those that only they enabled."""
    index = 0
    while index < len(plan):
        kept = list(plan[:index])
        state = start
        for action in kept:
            state = action.after(state)
        for action in plan[index + 1 :]:
            if action.applies(state):
                kept.append(action)
                state = action.after(state)
        if is_met(state, goal):
            plan = tuple(kept)
        else:
            index += 1
    return plan
