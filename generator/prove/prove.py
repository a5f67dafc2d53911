"""Prove one guide: its needs can be met, its interlocks hold, its routines have plans."""

from __future__ import annotations

import hashlib
import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from generator.fit.fit import common_names, ground_states
from generator.fit.guide import BoundTask, Guide, Need
from generator.problems import Mark, Problem, Problems
from generator.prove.calls import Call, calls_of, find_faults
from generator.prove.interlocks import Path, find_sequence
from generator.prove.model import Action, Model, State, as_action, model_guide
from generator.prove.planner import KnownPlans, Planner, is_met
from generator.prove.walk import order_walk
from generator.read.library import Interlock, Library, Routine, Way
from generator.read.tasks import StateRef


@dataclass(frozen=True, slots=True)
class Plan:
    """The steps of a routine from one situation, in walking order."""

    situation: str
    way: Way | None
    """Which of the routine's alternatives it is, if it has any."""
    steps: tuple[Action, ...]
    goal: tuple[Need, ...]
    """What the steps before the ending lead to."""
    ending: tuple[Action, ...]
    """The tasks that it ends with, each once its needs are met."""

    @property
    def minutes(self) -> int:
        """Return how long a first-timer takes for all of it."""
        return sum(step.task.task.minutes for step in self.steps if step.task)


@dataclass(frozen=True, slots=True)
class PlannedRoutine:
    """A routine of this unit with plans from each of its situations, the preferred way first."""

    routine: Routine
    goal: tuple[Need, ...]
    plans: tuple[Plan, ...]


@dataclass(frozen=True, slots=True)
class Proof:
    """What was found true of a guide."""

    planner: Planner
    routines: tuple[PlannedRoutine, ...]
    providers: Mapping[Need, tuple[BoundTask, ...]]
    """The tasks that bring about each need of the guide; none for what is done by hand."""
    interlocks: int
    """How many interlocks were proven to hold."""
    key: str
    """A digest of what was searched. While no more than texts are edited, the same digest means
    that the proof is the same."""
    problems: tuple[Problem, ...]
    """What fails, as it was noted for the guide."""

    @property
    def model(self) -> Model:
        """Return the model that it was found true of."""
        return self.planner.model


@dataclass(frozen=True, slots=True)
class Findings:
    """What is true of a model, whatever unit it is of: actions by name, in plan order."""

    interlocks: int
    plans: Mapping[tuple[str, str, str], FoundPlan]
    """By routine, situation and the way's name ("" without any); absent where there is no plan."""
    problems: tuple[Problem, ...]
    """What fails, as it is told of the first unit with that model."""


@dataclass(frozen=True, slots=True)
class FoundPlan:
    """A plan by the names of its actions: what may be walked in any order, then what ends it."""

    goal: tuple[Need, ...]
    free: tuple[str, ...]
    ending: tuple[str, ...]


@dataclass(slots=True)
class Memo:
    """What was found out about models, for those to come."""

    findings: dict[str, Findings] = field(default_factory=dict)
    """By a digest of the whole model."""
    plans: KnownPlans = field(default_factory=dict)


"""Findings by the model that they are of, so that identical equipment is proven once a fleet."""


def prove_guide(
    guide: Guide, library: Library, problems: Problems, memo: Memo | None = None
) -> Proof:
    """Return what is proven of a guide, noting every need, interlock and routine that fails.

    What fails is the same for every unit with that model, and is noted for each.
    """
    model = model_guide(guide, library.situations)
    known = Memo() if memo is None else memo
    calls = {
        task.slug: found
        for task in guide.tasks
        if task.for_reader and (found := calls_of(task, guide, library))
    }
    model = replace(model, composite=_made_of_others(guide, calls))
    key = _model_key(guide, library, model, calls)
    planner = Planner(model, known.plans)
    findings = known.findings.get(key)
    if findings is None:
        findings = _examine(guide, library, planner, calls)
        known.findings[key] = findings
    failing = tuple(problem.in_unit(guide.unit.name) for problem in findings.problems)
    problems.found += failing
    routines = tuple(
        PlannedRoutine(
            routine, _goal_of(routine, guide), _walk_plans(routine, guide, model, findings)
        )
        for routine in guide.routines
    )
    return Proof(
        planner, routines, _find_providers(guide, model), findings.interlocks, key, failing
    )


def proof_about(guide: Guide, proof: Proof) -> Proof:
    """Return what was proven of a unit that is equipped alike, about a guide's own tasks.

    What fails is told of this unit.
    """
    tasks = {task.slug: task for task in guide.tasks}

    def own(actions: Iterable[Action]) -> tuple[Action, ...]:
        return tuple(
            replace(action, task=tasks[action.task.slug]) if action.task else action
            for action in actions
        )

    routines = tuple(
        replace(
            planned,
            plans=tuple(
                replace(plan, steps=own(plan.steps), ending=own(plan.ending))
                for plan in planned.plans
            ),
        )
        for planned in proof.routines
    )
    providers = {
        need: tuple(tasks[task.slug] for task in able) for need, able in proof.providers.items()
    }
    failing = tuple(problem.in_unit(guide.unit.name) for problem in proof.problems)
    return replace(proof, routines=routines, providers=providers, problems=failing)


def _walk_plans(
    routine: Routine, guide: Guide, model: Model, findings: Findings
) -> tuple[Plan, ...]:
    by_name = {action.name: action for action in model.actions}
    by_name |= {
        task.slug: as_action(task, guide) for task in guide.tasks if task.slug not in by_name
    }
    last = tuple(by_name[task.slug] for task in _ending_of(routine, guide))
    plans = []
    for situation, (way, _) in itertools.product(routine.starts, _ways_of(routine, guide)):
        found = findings.plans.get((routine.name, situation, way.name if way else ""))
        if found is not None:
            walked = order_walk(
                [by_name[name] for name in found.free],
                model.situations[situation],
                guide.unit,
                routine.early,
                routine.late,
            )
            steps = (*walked, *(by_name[name] for name in found.ending))
            plans.append(Plan(situation, way, steps, found.goal, last))
    return tuple(plans)


Calls = Mapping[str, Sequence[Call]]
"""By the slug of a task: those of its steps that send the reader to other tasks."""


def _made_of_others(guide: Guide, calls: Calls) -> frozenset[str]:
    """Return the tasks that leave nothing but what the tasks that they call leave."""
    sets = {task.slug: task.sets.items() for task in guide.tasks}
    return frozenset(
        slug
        for slug, steps in calls.items()
        if sets[slug]
        and sets[slug] <= {fact for step in steps for other in step.tasks for fact in sets[other]}
    )


def _model_key(guide: Guide, library: Library, model: Model, calls: Calls) -> str:
    """Return a digest of all that the findings depend on."""
    parts = (
        sorted((v.key, v.state.values) for v in model.variables.values()),
        [
            (a.name, a.needs, sorted(a.sets.items()), sorted(a.during.items()))
            for a in model.actions
        ],
        sorted((name, sorted(state.items())) for name, state in model.situations.items()),
        [
            (
                routine.name,
                _goal_of(routine, guide),
                _wishes_of(routine, guide),
                [(task.slug, task.needs) for task in _ending_of(routine, guide)],
                [
                    (way.name if way else "", goal, _preferred(routine, way, guide))
                    for way, goal in _ways_of(routine, guide)
                ],
            )
            for routine in guide.routines
        ],
        [(interlock.name, forbidden) for interlock, forbidden in interlocks_of(guide, library)],
        [
            (task.slug, [call.tasks for call in calls[task.slug]], task.needs, task.sets)
            for task in guide.tasks
            if task.slug in calls
        ],
    )
    return hashlib.sha256(repr(parts).encode()).hexdigest()


def _goal_of(routine: Routine, guide: Guide) -> tuple[Need, ...]:
    return ground_states(routine.goal, {}, guide.fittings, guide.variables)


def _wishes_of(routine: Routine, guide: Guide) -> tuple[Need, ...]:
    return ground_states(routine.wishes, {}, guide.fittings, guide.variables)


def _ending_of(routine: Routine, guide: Guide) -> list[BoundTask]:
    return [
        task
        for name in routine.ends_with
        for task in guide.tasks
        if task.task.name == name and task.for_reader
    ]


def _preferred(routine: Routine, way: Way | None, guide: Guide) -> tuple[str, ...]:
    """Return the tasks to choose where several would do.

    A way that the reader chooses goes before the unit's own choice, and that before the routine's.
    """
    return way.prefer if way and way.prefer else (*guide.unit.prefer, *routine.prefer)


def _ways_of(routine: Routine, guide: Guide) -> tuple[tuple[Way | None, tuple[Need, ...]], ...]:
    """Return the alternatives that concern this unit, each with its goal, the preferred one first.

    One that asks for no more than another before it, in this unit, is none of its own.
    """
    names = common_names(guide.unit, guide.fittings.values())
    ways: dict[tuple[Need, ...], Way] = {}
    for way in routine.any:
        if way.when is None or way.when.holds(names):
            goal = ground_states(way.goal, {}, guide.fittings, guide.variables)
            ways.setdefault(goal, way)
    if not ways:
        return ((None, ()),)
    wanted = {*guide.unit.prefer}
    chosen = sorted(ways.items(), key=lambda pair: not wanted & {*pair[1].prefer})
    return tuple((way, goal) for goal, way in chosen)


def _find_providers(guide: Guide, model: Model) -> dict[Need, tuple[BoundTask, ...]]:
    return {
        need: tuple(
            action.task
            for action in model.providers(need)
            if action.task and action.task.slug != task.slug
        )
        for task in guide.tasks
        for need in task.needs
    }


def _examine(guide: Guide, library: Library, planner: Planner, calls: Calls) -> Findings:
    """Return the findings of a model."""
    model, problems = planner.model, Problems()
    _prove_needs(guide, planner, problems)
    _prove_calls(guide, model, calls, problems)
    proven = 0
    for interlock, forbidden in interlocks_of(guide, library):
        path = find_sequence(model, forbidden)
        if path is None:
            proven += 1
        else:
            _tell_sequence(guide, interlock, path, library, problems)
    plans = {}
    for routine in guide.routines:
        for name in routine.starts:
            state = model.situations[name]
            for way, goal in _ways_of(routine, guide):
                plan = _plan_routine(routine, way, goal, guide, planner, state)
                if plan is not None:
                    plans[routine.name, name, way.name if way else ""] = plan
            if not any(key[:2] == (routine.name, name) for key in plans):
                problems.add(
                    routine.at,
                    "goal",
                    f"{guide.unit.name} has no sequence of tasks for it from '{name}'",
                    "tasks whose needs can be met and that set the goal's states",
                    guide.unit.name,
                )
    return Findings(proven, plans, tuple(problems.found))


def _plan_routine(
    routine: Routine,
    way: Way | None,
    also: tuple[Need, ...],
    guide: Guide,
    planner: Planner,
    state: State,
) -> FoundPlan | None:
    """Return what leads to the goal, and what then ends the routine; None if there is no way.

    The needs of the last task belong to the goal, so that all that leads up to it can be walked
    in one round.
    """
    prefer = _preferred(routine, way, guide)
    ending = [as_action(task, guide) for task in _ending_of(routine, guide)]
    chosen = {need.key for need in also}
    goal = (*(need for need in _goal_of(routine, guide) if need.key not in chosen), *also)
    if ending:
        given = {need.key for need in goal}
        goal += tuple(need for need in ending[-1].needs if need.key not in given)
    for wish in _wishes_of(routine, guide):
        if planner.find(state, (*goal, wish), prefer) is not None:
            goal = (*goal, wish)
    free = planner.find(state, goal, prefer)
    if free is None:
        return None
    for action in free:
        state = action.after(state)
    steps: list[str] = []
    for last in ending:
        more = planner.find(state, last.needs, prefer)
        if more is None:
            return None
        for action in (*more, last):
            state = action.after(state)
            steps.append(action.name)
    return FoundPlan(goal, tuple(action.name for action in free), tuple(steps))


def _prove_needs(guide: Guide, planner: Planner, problems: Problems) -> None:
    """Note every task whose needs cannot all be met at once, from any situation."""
    for task in guide.tasks:
        lacking = [need for need in task.needs if not _can_be(planner.model, need)]
        for need in lacking:
            problems.add(
                task.task.at,
                f"needs.{need.key}",
                f"nothing in {guide.unit.name} brings about '{' or '.join(need.values)}'",
                "a task that sets it, or the value under by_hand of its kind",
                guide.unit.name,
            )
        if task.needs and not lacking and not _can_be_together(planner, task.needs):
            problems.add(
                task.task.at,
                "needs",
                f"in {guide.unit.name} they can be met one by one, but never all at once",
                "needs that no task has to undo for another",
                guide.unit.name,
            )


def _prove_calls(guide: Guide, model: Model, calls: Calls, problems: Problems) -> None:
    """Note every task whose steps do another that they may not, or that it says too little of."""
    told = set()
    for task in guide.tasks:
        for fault in find_faults(task, calls.get(task.slug, ()), guide, model):
            if (task.task.name, fault) not in told:  # once for all fittings that it is about
                told.add((task.task.name, fault))
                wrong = f"in {guide.unit.name}, {fault.wrong}"
                problems.add(task.task.at, fault.key, wrong, fault.right, guide.unit.name)


def _can_be(model: Model, need: Need) -> bool:
    return bool(model.providers(need)) or any(
        state[need.key] in need.values for state in model.situations.values()
    )


def _can_be_together(planner: Planner, needs: Sequence[Need]) -> bool:
    states = planner.model.situations.values()
    return any(is_met(state, needs) for state in states) or any(
        planner.find(state, needs) is not None for state in states
    )


def interlocks_of(guide: Guide, library: Library) -> list[tuple[Interlock, tuple[Need, ...]]]:
    """Return every interlock that concerns this unit, for every fitting that it speaks of."""
    names = common_names(guide.unit, guide.fittings.values())
    return [
        (interlock, forbidden)
        for interlock in library.interlocks.values()
        if interlock.when is None or interlock.when.holds(names)
        for forbidden in _ground_interlock(interlock, guide)
    ]


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
        guide.unit.name,
    )
