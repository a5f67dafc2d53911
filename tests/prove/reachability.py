"""Two more questions for z3, for tests: can a state be reached at all, and within so many steps?"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import z3

from generator.fit.guide import Need
from generator.prove.model import Action, Model

Variables = Mapping[str, Sequence[z3.BoolRef]]
"""A number in base two for each variable of a model: which of its values it has."""

_SECONDS = 20


def can_reach(model: Model, forbidden: Sequence[Need]) -> bool | None:
    """Return whether a state can be reached, at rest or while something is done; None if unsure.

    Unbounded, over the whole model: z3's engine for reachability (A. Komuravelli, A. Gurfinkel
    and S. Chaki, "SMT-Based Model Checking for Recursive Programs", 2014).
    """
    engine = z3.Fixedpoint()
    engine.set(engine="spacer", timeout=_SECONDS * 1000)
    now = _variables(model, "now")
    reached = z3.Function("reached", *[z3.BoolSort()] * len(_flat(now)), z3.BoolSort())
    bad = z3.Function("bad", z3.BoolSort())
    engine.register_relation(reached, bad)
    engine.declare_var(*_flat(now))
    for state in model.situations.values():
        engine.rule(reached(*_flat(_changed(model, now, state))))
    for action in model.actions:
        before = [reached(*_flat(now)), _all(model, now, action.needs)]
        if action.sets:
            engine.rule(reached(*_flat(_changed(model, now, action.sets))), before)
        for moment in _moments(model, now, action)[1:]:
            engine.rule(bad(), [*before, _all(model, moment, forbidden)])
    engine.rule(bad(), [reached(*_flat(now)), _all(model, now, forbidden)])
    try:
        answer = engine.query(bad())
    except z3.Z3Exception:  # out of time
        return None
    return None if answer == z3.unknown else bool(answer == z3.sat)


def can_reach_within(model: Model, forbidden: Sequence[Need], steps: int) -> bool:
    """Return whether a state can be reached in at most so many steps (bounded model checking)."""
    solver = z3.Solver()
    now = _variables(model, "0")
    solver.add(z3.Or([_is(model, now, state) for state in model.situations.values()]))
    bad = [_all(model, now, forbidden)]
    for step in range(steps):
        then = _variables(model, str(step + 1))
        chosen = []
        for number, action in enumerate(model.actions):
            does = z3.Bool(f"do {step} {number}")
            chosen.append(does)
            moments = _moments(model, now, action)
            solver.add(z3.Implies(does, _all(model, now, action.needs)))
            solver.add(z3.Implies(does, _same(then, moments[0])))
            bad += [z3.And(does, _all(model, moment, forbidden)) for moment in moments[1:]]
        solver.add(z3.PbLe([(does, 1) for does in chosen], 1))
        solver.add(z3.Implies(z3.Not(z3.Or(chosen)), _same(then, now)))
        now = then
        bad.append(_all(model, now, forbidden))
    solver.add(z3.Or(bad))
    answer = solver.check()
    assert answer in (z3.sat, z3.unsat)
    return bool(answer == z3.sat)


def _moments(model: Model, now: Variables, action: Action) -> list[Variables]:
    """Return the states after an action and, where some are so only meanwhile, while it is done."""
    after = _changed(model, now, action.sets)
    if not action.during:
        return [after]
    return [after, *(_changed(model, state, action.during) for state in (now, after))]


def _variables(model: Model, name: str) -> Variables:
    return {
        key: [
            z3.Bool(f"{name} {key} {bit}")
            for bit in range(max(1, (len(v.state.values) - 1).bit_length()))
        ]
        for key, v in model.variables.items()
    }


def _flat(state: Variables) -> list[z3.BoolRef]:
    return [bit for bits in state.values() for bit in bits]


def _changed(model: Model, state: Variables, changes: Mapping[str, str]) -> Variables:
    changed = dict(state)
    for key, value in changes.items():
        number = model.variables[key].state.values.index(value)
        changed[key] = [z3.BoolVal(bool(number >> bit & 1)) for bit in range(len(state[key]))]
    return changed


def _all(model: Model, state: Variables, needs: Iterable[Need]) -> z3.BoolRef:
    return z3.And(
        [z3.Or([_is(model, state, {need.key: value}) for value in need.values]) for need in needs]
    )


def _is(model: Model, state: Variables, values: Mapping[str, str]) -> z3.BoolRef:
    return _same(state, _changed(model, {key: state[key] for key in values}, values))


def _same(state: Variables, other: Variables) -> z3.BoolRef:
    return z3.And(
        [
            a == b
            for key, bits in other.items()
            for a, b in zip(state[key], bits, strict=True)
            if a is not b
        ]
    )
