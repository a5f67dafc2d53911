"""Prove one guide: its needs can be met, its interlocks hold, its routines have plans."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from generator.fit.fit import common_names, ground_states
from generator.fit.guide import BoundTask, Guide, Need
from generator.problems import Mark, Problems
from generator.prove.interlocks import Path, find_sequence
from generator.prove.model import Action, Model, model_guide
from generator.prove.planner import find_plan
from generator.prove.walk import order_walk
from generator.read.library import Interlock, Library, Routine
from generator.read.tasks import StateRef


@dataclass(frozen=True, slots=True)
class Plan:
    """The steps of a routine from one situation, in walking order."""

    situation: str
    steps: tuple[Action, ...]

    @property
    def minutes(self) -> int:
        """Return how long a first-timer takes for all of it."""
        return sum(step.task.task.minutes for step in self.steps if step.task)


@dataclass(frozen=True, slots=True)
class PlannedRoutine:
    """A routine of this unit with a plan from each of its situations."""

    routine: Routine
    goal: tuple[Need, ...]
    plans: tuple[Plan, ...]


@dataclass(frozen=True, slots=True)
class Proof:
    """What was found true of a guide."""

    model: Model
    routines: tuple[PlannedRoutine, ...]
    providers: Mapping[Need, tuple[BoundTask, ...]]
    """The tasks that bring about each need of the guide; none for what is done by hand."""
    interlocks: int
    """How many interlocks were proven to hold."""


def prove_guide(guide: Guide, library: Library, problems: Problems) -> Proof:
    """Return what is proven of a guide, noting every need, interlock and routine that fails."""
    model = model_guide(guide, library.situations)
    providers: dict[Need, tuple[BoundTask, ...]] = {}
    for task in guide.tasks:
        for need in task.needs:
            able = model.providers(need)
            providers[need] = tuple(
                action.task for action in able if action.task and action.task.slug != task.slug
            )
            if not able and not _holds_somewhere(model, need):
                problems.add(
                    task.task.at,
                    f"needs.{need.key}",
                    f"nothing in {guide.unit.name} brings about '{' or '.join(need.values)}'",
                    "a task that sets it, or the value under by_hand of its kind",
                )
    proven = _prove_interlocks(guide, library, model, problems)
    return Proof(model, _plan_routines(guide, library, model, problems), providers, proven)


def _holds_somewhere(model: Model, need: Need) -> bool:
    return any(state[need.key] in need.values for state in model.situations.values())


def _prove_interlocks(guide: Guide, library: Library, model: Model, problems: Problems) -> int:
    proven = 0
    names = common_names(guide.unit, guide.fittings.values())
    for interlock in library.interlocks.values():
        if interlock.when is not None and not interlock.when.holds(names):
            continue
        for forbidden in _ground_interlock(interlock, guide):
            path = find_sequence(model, forbidden)
            if path is None:
                proven += 1
            else:
                _tell_sequence(guide, interlock, path, library, problems)
    return proven


def _ground_interlock(interlock: Interlock, guide: Guide) -> list[tuple[Need, ...]]:
    """Return the interlock for every combination of fittings that it speaks of.

    States of one kind are of one and the same fitting. None where the unit lacks a kind.
    """
    kinds = sorted({ref.owner for ref in interlock.never if ref.owner})
    choices = [[f for f in guide.fittings.values() if f.kind == kind] for kind in kinds]
    grounded = []
    for chosen in itertools.product(*choices):
        owners = dict(zip(kinds, chosen, strict=True))
        needs = _ground_all(interlock.never, owners, guide)
        if needs is not None:
            grounded.append(needs)
    return grounded


def _ground_all(
    refs: Sequence[StateRef], owners: Mapping[str, object], guide: Guide
) -> tuple[Need, ...] | None:
    fittings = {kind: f for kind, f in owners.items() if f in guide.fittings.values()}
    needs = ground_states(refs, fittings, guide.fittings, guide.variables)  # type: ignore[arg-type]
    return needs if len(needs) == len(refs) else None


def _tell_sequence(
    guide: Guide, interlock: Interlock, path: Path, library: Library, problems: Problems
) -> None:
    steps = [
        f"({number}) {action.task.title if action.task else action.name}"
        + (f" [{action.task.task.at.path}]" if action.task else "")
        for number, action in enumerate(path.actions, 1)
    ]
    last = next((a.task for a in reversed(path.actions) if a.task), None)
    start = library.situations[path.situation].title
    told = " ".join(steps) or "at once"
    problems.add(
        last.task.at if last else Mark("docs_src/situations.yml"),
        "needs",
        f"in {guide.unit.name}, {interlock.title.rstrip('.')}: from '{start}': {told}",
        f"a need that prevents it (interlock {interlock.name}, "
        f"{interlock.at.path}:{interlock.at.line})",
    )


def _plan_routines(
    guide: Guide, library: Library, model: Model, problems: Problems
) -> tuple[PlannedRoutine, ...]:
    planned = []
    for routine in guide.routines:
        goal = ground_states(routine.goal, {}, guide.fittings, guide.variables)
        plans = []
        for name in routine.starts:
            plan = find_plan(model, model.situations[name], goal, routine.prefer)
            if plan is None:
                problems.add(
                    routine.at,
                    "goal",
                    f"{guide.unit.name} has no sequence of tasks for it from '{name}'",
                    "tasks whose needs can be met and that set the goal's states",
                )
            else:
                plans.append(Plan(name, order_walk(plan, guide.unit, routine.early, routine.late)))
        planned.append(PlannedRoutine(routine, goal, tuple(plans)))
    return tuple(planned)
