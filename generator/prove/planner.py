"""Find a sequence of tasks from a state to a goal.

Best-first search guided by the length of a plan in which nothing is ever undone, trying first the
actions with which such a plan begins (J. Hoffmann and B. Nebel, "The FF planning system", 2001).
Where that narrow search fails, all actions are tried, so a plan is found whenever there is one.
"""

from __future__ import annotations

import hashlib
import heapq
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from generator.fit.guide import Need
from generator.prove.model import Action, Model, State

MOST_STATES = 20_000
"""Far above what any demo or generated unit needs; a guard against a search without end."""

KnownPlans = dict[str, tuple[str, ...] | None]
"""Names of the actions of plans, by a digest of all that a plan depends on."""


def find_plan(
    model: Model, start: State, goal: Sequence[Need], prefer: Collection[str] = ()
) -> tuple[Action, ...] | None:
    """Return a plan without needless actions from `start` to `goal`, or None if there is none.

    `prefer` names tasks that are chosen where several would do.
    """
    return Planner(model).find(start, goal, prefer)


def is_met(state: State, goal: Sequence[Need]) -> bool:
    """Return whether a state meets a goal."""
    return all(state[need.key] in need.values for need in goal)


@dataclass(frozen=True, slots=True)
class _Move:
    """An action as bits: each stands for one variable having one value."""

    needs: tuple[int, ...]
    """For each need the bits any of which will do."""
    choices: tuple[tuple[int, ...], ...]
    """The same bit by bit, in the order that the need tells them."""
    sets: tuple[int, ...]
    all_sets: int
    keeps: int
    """The bits of all variables that it does not set."""
    told: str
    """All that a plan may depend on."""


@dataclass(frozen=True, slots=True)
class _Estimate:
    """How far the goal is if nothing is undone, and the moves that such a plan begins with."""

    distance: int
    helpful: tuple[int, ...]


class Planner:
    """Finds plans in one model, `model`, whose facts it numbers once.

    A plan depends on what can matter to its goal and on nothing else of the unit: plans that are
    known from another unit serve where that is the same.
    """

    def __init__(self, model: Model, known: KnownPlans | None = None) -> None:
        """Number the facts of a model; `known` keeps plans for the models to come."""
        self.model = model
        self._known = {} if known is None else known
        self._bits: dict[tuple[str, str], int] = {}
        self._variables: dict[str, int] = {}
        for variable in model.variables.values():
            for value in variable.state.values:
                self._bit(variable.key, value)
        self._moves = tuple(map(self._move, model.actions))
        self._named = {action.name: action for action in model.actions}
        self._setting: dict[int, list[int]] = {}
        for index, (action, move) in enumerate(zip(model.actions, self._moves, strict=True)):
            if action.name not in model.composite:
                for bit in move.sets:
                    self._setting.setdefault(bit, []).append(index)

    def find(
        self, start: State, goal: Sequence[Need], prefer: Collection[str] = ()
    ) -> tuple[Action, ...] | None:
        """Return a plan without needless actions, or None if there is none; see `find_plan`."""
        relevant = self._relevant(goal)
        touched = {need.key for need in goal}
        for index in relevant:
            action = self.model.actions[index]
            touched |= action.sets.keys()
            touched.update(need.key for need in action.needs)
        told = [self._moves[index].told for index in relevant]
        told += [repr(goal), repr(sorted((key, start[key]) for key in touched))]
        told += sorted(prefer)
        key = hashlib.sha256("\0".join(told).encode()).hexdigest()
        if key not in self._known:
            self._known[key] = self._search(relevant, start, goal, prefer)
        names = self._known[key]
        return None if names is None else tuple(self._named[name] for name in names)

    def relevant_actions(self, goal: Iterable[Need]) -> tuple[Action, ...]:
        """Return the actions that can matter to the goal, in the model's order.

        None that is made of others: a plan names each of them by itself.
        """
        return tuple(self.model.actions[index] for index in self._relevant(goal))

    def _bit(self, key: str, value: str) -> int:
        if (key, value) not in self._bits:
            self._bits[key, value] = 1 << len(self._bits)
            self._variables[key] = self._variables.get(key, 0) | self._bits[key, value]
        return self._bits[key, value]

    def _choices(self, needs: Iterable[Need]) -> tuple[tuple[int, ...], ...]:
        facts = (dict.fromkeys(self._bit(need.key, v) for v in need.values) for need in needs)
        return tuple(map(tuple, facts))

    def _move(self, action: Action) -> _Move:
        choices = self._choices(action.needs)
        sets = tuple(self._bit(key, value) for key, value in action.sets.items())
        name = action.task.task.name if action.task else ""
        return _Move(
            needs=tuple(map(sum, choices)),
            choices=choices,
            sets=sets,
            all_sets=sum(sets),
            keeps=~sum(self._variables[key] for key in action.sets),
            told=repr((action.name, name, action.needs, tuple(action.sets.items()))),
        )

    def _relevant(self, goal: Iterable[Need]) -> list[int]:
        wanted = [bit for facts in self._choices(goal) for bit in facts]
        seen: set[int] = set()
        keep: set[int] = set()
        while wanted:
            bit = wanted.pop()
            if bit in seen:
                continue
            seen.add(bit)
            for index in self._setting.get(bit, ()):
                if index not in keep:
                    keep.add(index)
                    wanted += [fact for facts in self._moves[index].choices for fact in facts]
        return sorted(keep)

    def _search(
        self, relevant: Sequence[int], start: State, goal: Sequence[Need], prefer: Collection[str]
    ) -> tuple[str, ...] | None:
        actions = [self.model.actions[index] for index in relevant]
        search = _Search(
            moves=[self._moves[index] for index in relevant],
            ranks=[_rank(action, prefer) for action in actions],
            start=sum(self._bit(key, start[key]) for key in self._variables),
            goal=self._choices(goal),
        )
        found = search.run(narrow=True) or search.run(narrow=False)
        if found is None:
            return None
        plan = _drop_needless(tuple(actions[index] for index in found), start, goal)
        return tuple(action.name for action in plan)


class _Search:
    """One search. A state is a whole number here, for all the time is spent on states."""

    def __init__(
        self,
        moves: Sequence[_Move],
        ranks: Sequence[int],
        start: int,
        goal: tuple[tuple[int, ...], ...],
    ) -> None:
        """Take the moves; of several that bring the same about that of the least rank is taken."""
        self._moves = moves
        self._ranks = ranks
        self._start = start
        self._goal_choices = goal
        self._goal = tuple(map(sum, goal))
        order = sorted((ranks[index], len(move.needs), index) for index, move in enumerate(moves))
        self._by_rank = [index for *_, index in order]

    def run(self, *, narrow: bool) -> tuple[int, ...] | None:
        """Return moves that lead from the start to the goal, or None if none were found."""
        first = self._estimate(self._start)
        if first is None:
            return None
        count = 0
        queue: list[tuple[int, int, int, int, tuple[int, ...], _Estimate]] = [
            (first.distance, 0, count, self._start, (), first)
        ]
        seen = {self._start}
        while queue and len(seen) < MOST_STATES:
            _, _, _, state, plan, estimate = heapq.heappop(queue)
            if all(map(state.__and__, self._goal)):
                return plan
            for index in estimate.helpful if narrow else range(len(self._moves)):
                move = self._moves[index]
                if not all(map(state.__and__, move.needs)):
                    continue
                after = state & move.keeps | move.all_sets
                if after in seen:
                    continue
                seen.add(after)
                further = self._estimate(after)
                if further is None:
                    continue
                count += 1
                longer = (*plan, index)
                entry = (further.distance, len(longer), count, after, longer, further)
                heapq.heappush(queue, entry)
        return None

    def _estimate(self, state: int) -> _Estimate | None:
        """Return how far the goal is, or None if it cannot be reached even if nothing is undone."""
        moves, ranks, reached, depth = self._moves, self._ranks, state, 0
        layer_of: dict[int, int] = {}
        supporter: dict[int, int] = {}
        waiting = self._by_rank
        while not all(map(reached.__and__, self._goal)):
            depth += 1
            met = reached.__and__
            ready: list[int] = []
            later: list[int] = []
            for index in waiting:
                (ready if all(map(met, moves[index].needs)) else later).append(index)
            if not ready:
                return None
            waiting = later
            for index in ready:
                if moves[index].all_sets & ~reached:
                    for fact in moves[index].sets:
                        if not fact & reached:
                            layer_of[fact], supporter[fact] = depth, index
                            reached |= fact
        chosen: dict[int, None] = {}
        wanted = list(self._goal_choices)
        while wanted:
            facts = wanted.pop()
            if state & sum(facts):
                continue
            _, _, found = min(
                (ranks[supporter[fact]], layer_of[fact], place)
                for place, fact in enumerate(facts)
                if fact in layer_of
            )
            index = supporter[facts[found]]
            if index not in chosen:
                chosen[index] = None
                wanted += moves[index].choices
        helpful = tuple(i for i in chosen if all(map(state.__and__, moves[i].needs)))
        return _Estimate(len(chosen), helpful)


def _rank(action: Action, prefer: Collection[str]) -> int:
    if action.task is None:
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
