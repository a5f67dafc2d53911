"""The demo fleet's models, judged by programs that are not ours.

A general planner (pyperplan, reading PDDL) plans each routine; an SMT solver (z3) proves by
induction that no interlock is ever entered. Then needs are taken away one by one: our search must
tell of each that keeps a unit out of an interlock, and the others must be shown to keep it out of
none.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from induction import Induction, Pairs
from mutations import SORTS, Modelled, enters, judge, model_fleet, mutants_of
from pddl import solve
from random_models import meets, models, moments, needs_of, replay
from reachability import can_reach, can_reach_within

from generator.fit.fit import ground_states
from generator.fit.guide import Need
from generator.prove.interlocks import Path, find_sequence
from generator.prove.model import Model
from generator.prove.planner import find_plan
from generator.read.sources import Sources

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def fleet(demo: Sources) -> tuple[Modelled, ...]:
    """Return the demo fleet's models."""
    fleet = model_fleet(demo)
    assert len(fleet) >= 3
    return fleet


# Routines against a general planner ------------------------------------------------------------


def test_routines_against_a_general_planner(fleet: tuple[Modelled, ...]) -> None:
    """Another planner finds a plan for each routine too, and ours is not much longer than its.

    What a routine wishes for and ours leaves out as impossible is impossible for the other too.
    """
    compared, left_out = 0, 0
    for unit in fleet:
        for planned in unit.proof.routines:
            routine = planned.routine
            prefer = (*unit.guide.unit.prefer, *routine.prefer)
            wishes = ground_states(routine.wishes, {}, unit.guide.fittings, unit.guide.variables)
            assert {plan.situation for plan in planned.plans} == {*routine.starts}
            for plan in planned.plans:
                chosen = plan.way.prefer if plan.way and plan.way.prefer else prefer
                where = f"{unit.guide.unit.name}, {routine.name} from {plan.situation}"
                start = unit.model.situations[plan.situation]
                ours = find_plan(unit.model, start, plan.goal, chosen)
                theirs = solve(unit.model, start, plan.goal)
                assert ours is not None, where
                assert theirs is not None, where
                assert meets(replay(start, ours), plan.goal), where
                assert meets(replay(start, theirs), plan.goal), where
                assert len(ours) <= 1.5 * len(theirs) + 2, where
                compared += 1
                for wish in set(wishes) - set(plan.goal):
                    assert solve(unit.model, start, (*plan.goal, wish)) is None, where
                    left_out += 1
    print(f"\n{compared} routines planned by both, {left_out} wishes left out by both")
    assert compared >= 30


def test_no_plan_where_the_general_planner_finds_none(fleet: tuple[Modelled, ...]) -> None:
    """Without the only tasks that bring a goal about, neither planner finds a plan."""
    compared = 0
    for unit in fleet:
        for planned in unit.proof.routines:
            plan = planned.plans[0]
            start = unit.model.situations[plan.situation]
            lacking = [need for need in plan.goal if start[need.key] not in need.values]
            for need in lacking[:1]:
                actions = tuple(
                    a for a in unit.model.actions if a.sets.get(need.key) not in need.values
                )
                crippled = replace(unit.model, actions=actions)
                assert find_plan(crippled, start, plan.goal) is None
                assert solve(crippled, start, plan.goal) is None
                compared += 1
    assert compared >= 10


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.data())
def test_planners_agree_on_random_models(data: st.DataObject) -> None:
    """On random small models, too, a plan exists for one planner exactly where it does for both."""
    model = data.draw(models(situations=1))
    goal = data.draw(needs_of(model))
    (start,) = model.situations.values()
    assert (find_plan(model, start, goal) is None) == (solve(model, start, goal) is None)


# Interlocks against an SMT solver --------------------------------------------------------------


def test_interlocks_hold_by_induction(fleet: tuple[Modelled, ...]) -> None:
    """z3 proves for each demo unit, over all states, that no action leads into an interlock.

    Proven: all situations are free of every interlock, and from any state that is free of them
    each action that its needs allow leads to one that is, also while it is being done.
    """
    proven = 0
    for unit in fleet:
        for needs in unit.forbidden:
            assert not any(meets(state, needs) for state in unit.model.situations.values())
        induction = Induction(unit.model, unit.forbidden)
        broken = {a.name: found for a in unit.model.actions if (found := induction.broken_by(a))}
        assert broken == {}
        proven += len(unit.forbidden)
    print(f"\n{proven} interlocks of {len(fleet)} units proven by induction")
    assert proven >= 90


def test_every_interlock_can_fail(fleet: tuple[Modelled, ...]) -> None:
    """With all needs taken away each interlock is entered, and our search tells how.

    All but those that name a value which nothing in the unit brings about, such as a compressor
    fridge that burns gas.
    """
    failed = 0
    for unit in fleet:
        left = {fact for state in unit.model.situations.values() for fact in state.items()}
        for action in unit.model.actions:
            left |= {*action.sets.items(), *action.during.items()}
        bare = replace(unit.model, actions=tuple(replace(a, needs=()) for a in unit.model.actions))
        missed = []
        for name, needs in zip(unit.names, unit.forbidden, strict=True):
            path = find_sequence(bare, needs)
            if all(any((n.key, value) in left for value in n.values) for n in needs):
                failed += 1
                if path is None or not enters(bare, path, needs):
                    missed.append(name)
            else:
                assert path is None
        assert (unit.guide.unit.name, missed) == (unit.guide.unit.name, [])
    print(f"\n{failed} interlocks entered once nothing guards them")
    assert failed >= 90


def test_needs_taken_away_one_by_one(fleet: tuple[Modelled, ...]) -> None:
    """A need that keeps a unit out of an interlock is missed by our search when it is gone.

    Where our search finds a way in, the way is done step by step. Where it finds none, a judge that
    is not ours shows that there is none.
    """
    score: Counter[str] = Counter()
    not_agreed = []
    for unit in fleet:
        for mutant in mutants_of(unit, ("a need is dropped",)):
            verdict = judge(mutant)
            score[verdict.ours] += 1
            if not verdict.agreed:
                not_agreed.append((unit.guide.unit.name, mutant.told, verdict))
    print(f"\n{score.total()} needs taken away: {dict(score)}")
    assert not_agreed == []
    assert score["told"] >= 100


@pytest.mark.parametrize(
    ("sort", "every", "least"),
    [(SORTS[1], 4, 1), (SORTS[2], 4, 1), (SORTS[3], 3, 5), (SORTS[4], 3, 5), (SORTS[5], 25, 10)],
)
def test_other_faults(fleet: tuple[Modelled, ...], sort: str, every: int, least: int) -> None:
    """In one unit, some of each sort of fault; `tests/bench/mutations.py` plants all of them."""
    (unit,) = (unit for unit in fleet if unit.guide.unit.name == "pv-5001")
    verdicts = {m.told: judge(m) for m in list(mutants_of(unit, (sort,)))[::every]}
    assert [told for told, verdict in verdicts.items() if not verdict.agreed] == []
    assert sum(verdict.ours == "told" for verdict in verdicts.values()) >= least


def test_judges_tell_a_search_that_is_blind(fleet: tuple[Modelled, ...]) -> None:
    """A search that passes what it should tell, or tells a detour, is told to be wrong."""
    (unit,) = (unit for unit in fleet if unit.guide.unit.name == "pv-5001")
    caught = 0
    for mutant in mutants_of(unit, ("a need is dropped",)):
        if judge(mutant).ours == "told":
            blind = judge(mutant, search=lambda _model, _needs: None)
            assert blind.ours == "passed"
            assert not blind.agreed, mutant.told
            assert not judge(mutant, search=one_step_more).agreed, mutant.told
            caught += 1
    assert caught >= 10


def one_step_more(model: Model, forbidden: Sequence[Need]) -> Path | None:
    """Return a sequence that does an action twice, or one that is not needed."""
    path = find_sequence(model, forbidden)
    if path is None:
        return None
    start = model.situations[path.situation]
    idle = next(a for a in model.actions if a.applies(start) and a.after(start) == start)
    return Path(path.situation, (idle, *path.actions))


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.data())
def test_the_judges_are_sound(data: st.DataObject) -> None:
    """On random small models, neither judge calls impossible what a search through all reaches."""
    model = data.draw(models())
    forbidden = data.draw(needs_of(model))
    reached = any(meets(state, forbidden) for _, state in moments(model))
    pairs = Pairs(model)
    meanwhile = [action for action in model.actions if action.during]
    by_pairs = pairs.can_be(forbidden) or any(pairs.can_be(forbidden, a) for a in meanwhile)
    induction = Induction(model, [forbidden])
    at_first = any(meets(state, forbidden) for state in model.situations.values())
    by_induction = at_first or any(induction.broken_by(action) for action in model.actions)
    assert (by_pairs or not reached, by_induction or not reached) == (True, True)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.data())
def test_the_solver_reaches_what_a_search_through_all_reaches(data: st.DataObject) -> None:
    """On random small models z3 reaches what can be reached, in as few steps, and nothing else."""
    model = data.draw(models())
    forbidden = data.draw(needs_of(model))
    depths = [depth for depth, state in moments(model) if meets(state, forbidden)]
    assert can_reach(model, forbidden) == bool(depths)
    if depths:
        least = min(depths)
        assert can_reach_within(model, forbidden, least)
        assert not least or not can_reach_within(model, forbidden, least - 1)
