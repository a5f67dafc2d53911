"""Faults planted one at a time in what a guide's model says, and who is right about each.

A fault is in the `needs` of a task, in its `sets`, or in an interlock. Our search either tells a
sequence that leads into what is forbidden, or passes the fault. A sequence is done step by step by
another program, and z3 is asked whether there is a shorter one. What our search passes must be
shown harmless by a judge that is not ours.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from induction import Induction, Pairs
from random_models import meets, replay
from reachability import can_reach, can_reach_within

from generator.fit.fit import fit_unit
from generator.fit.guide import Guide, Need
from generator.problems import Problems
from generator.prove.interlocks import Path, find_sequence
from generator.prove.model import Action, Model
from generator.prove.prove import Proof, interlocks_of, prove_guide
from generator.read.sources import Sources

SORTS = (
    "a need is dropped",
    "an entry of sets is dropped",
    "an entry of sets has another value",
    "an interlock lacks a condition",
    "an interlock has another value",
    "an interlock has a condition more, and a need that guards it is dropped",
)
"""What may be wrong, in the order in which it is told. An interlock that says less than it did is
never entered where it was not; so a need that kept the unit out of it is dropped at once."""


@dataclass(frozen=True)
class Modelled:
    """A unit's guide, its model and what must never be in it."""

    guide: Guide
    proof: Proof
    model: Model
    forbidden: tuple[tuple[Need, ...], ...]
    names: tuple[str, ...]

    @cached_property
    def induction(self) -> Induction:
        """Return the proof by induction of the model without a fault."""
        return Induction(self.model, self.forbidden)


def model_fleet(sources: Sources, names: Sequence[str] = ()) -> tuple[Modelled, ...]:
    """Return the models of the units that are named, or of all."""
    fleet = []
    for unit in sources.stock.units.values():
        if names and unit.name not in names:
            continue
        guide = fit_unit(sources.library, unit, sources.stock.dealer, sources.register)
        proof = prove_guide(guide, sources.library, Problems())
        grounded = interlocks_of(guide, sources.library)
        fleet.append(
            Modelled(
                guide,
                proof,
                proof.model,
                tuple(needs for _, needs in grounded),
                tuple(rule.name for rule, _ in grounded),
            )
        )
    return tuple(fleet)


@dataclass(frozen=True)
class Mutant:
    """A unit's model with one fault in it."""

    sort: str
    told: str
    unit: Modelled
    model: Model
    forbidden: tuple[tuple[Need, ...], ...]
    """What must never be: all of the unit's interlocks, or the one with the fault."""
    changed: Action | None = None
    """The action with the fault, or None where it is in an interlock."""


@dataclass(frozen=True)
class Verdict:
    """What our search says of a fault, and what the judges say."""

    ours: str
    """"told" or "passed"."""
    judged: str
    """How a judge that is not ours came to agree; "wrong" or "unknown" if it did not."""

    @property
    def agreed(self) -> bool:
        """Return whether a judge that is not ours says the same."""
        return self.judged not in ("wrong", "unknown")


def mutants_of(unit: Modelled, sorts: Sequence[str] = SORTS) -> Iterator[Mutant]:
    """Yield every fault of these sorts that a unit's model can have."""
    return (mutant for mutant in _all_mutants(unit, sorts) if mutant.sort in sorts)


def _all_mutants(unit: Modelled, sorts: Sequence[str]) -> Iterator[Mutant]:
    for action in unit.model.actions:
        for need in action.needs:
            needs = tuple(n for n in action.needs if n != need)
            told = f"{action.name} does not need {need.key}"
            yield _with_action(SORTS[0], told, unit, action, replace(action, needs=needs))
        for key, value in action.sets.items():
            sets = {k: v for k, v in action.sets.items() if k != key}
            told = f"{action.name} does not set {key}"
            yield _with_action(SORTS[1], told, unit, action, replace(action, sets=sets))
            for other in unit.model.variables[key].state.values:
                if other != value:
                    told = f"{action.name} sets {key} {other}"
                    changed = replace(action, sets={**action.sets, key: other})
                    yield _with_action(SORTS[2], told, unit, action, changed)
    for name, forbidden in zip(unit.names, unit.forbidden, strict=True):
        for sort, told, rule in _stricter(unit.model, forbidden):
            yield Mutant(sort, f"{name} {told}", unit, unit.model, (rule,))
        guarded = next(_unguarded(unit, forbidden), None) if SORTS[5] in sorts else None
        if guarded is not None:
            for told, rule in _weaker(unit.model, forbidden):
                yield replace(
                    guarded,
                    sort=SORTS[5],
                    told=f"{name} {told}; {guarded.told}",
                    forbidden=(rule,),
                )


def _unguarded(unit: Modelled, forbidden: tuple[Need, ...]) -> Iterator[Mutant]:
    """Yield the unit with a need dropped that keeps it out of what is forbidden."""
    for action in unit.model.actions:
        for need in action.needs:
            needs = tuple(n for n in action.needs if n != need)
            told = f"{action.name} does not need {need.key}"
            mutant = _with_action("", told, unit, action, replace(action, needs=needs))
            if find_sequence(mutant.model, forbidden) is not None:
                yield mutant


def _stricter(
    model: Model, forbidden: tuple[Need, ...]
) -> Iterator[tuple[str, str, tuple[Need, ...]]]:
    for need in forbidden:
        others = tuple(n for n in forbidden if n != need)
        if others:
            yield SORTS[3], f"without {need.key}", others
        for value in model.variables[need.key].state.values:
            if value not in need.values:
                changed = (*others, Need(need.key, (value,)))
                yield SORTS[4], f"with {need.key} {value}", changed


def _weaker(model: Model, forbidden: tuple[Need, ...]) -> Iterator[tuple[str, tuple[Need, ...]]]:
    named = {need.key for need in forbidden}
    for key, variable in model.variables.items():
        if key not in named:
            for value in variable.state.values:
                yield f"and {key} {value}", (*forbidden, Need(key, (value,)))


def _with_action(sort: str, told: str, unit: Modelled, action: Action, changed: Action) -> Mutant:
    actions = tuple(changed if a is action else a for a in unit.model.actions)
    model = replace(unit.model, actions=actions)
    return Mutant(sort, told, unit, model, unit.forbidden, changed)


_SOON = 6
"""Steps within which to look for a way in before asking whether there is any at all."""

Search = Callable[[Model, Sequence[Need]], Path | None]


def judge(mutant: Mutant, search: Search = find_sequence) -> Verdict:
    """Return what our search says of a fault, and whether others agree."""
    for forbidden in mutant.forbidden:
        path = search(mutant.model, forbidden)
        if path is not None:
            return Verdict("told", _judge_path(mutant, path, forbidden))
    return Verdict("passed", _judge_passed(mutant))


def _judge_path(mutant: Mutant, path: Path, forbidden: Sequence[Need]) -> str:
    if not enters(mutant.model, path, forbidden):
        return "wrong"
    shorter = path.actions and can_reach_within(mutant.model, forbidden, len(path.actions) - 1)
    return "wrong" if shorter else "done step by step, none is shorter"


def _judge_passed(mutant: Mutant) -> str:
    suspect = _not_inductive(mutant)
    if not suspect:
        return "harmless by induction"
    pairs = Pairs(mutant.model)
    meanwhile = [action for action in mutant.model.actions if action.during]
    suspect = [
        needs
        for needs in suspect
        if pairs.can_be(needs) or any(pairs.can_be(needs, action) for action in meanwhile)
    ]
    if not suspect:
        return "harmless by pairs"
    if any(can_reach_within(mutant.model, needs, _SOON) for needs in suspect):
        return "wrong"
    answers = {can_reach(mutant.model, needs) for needs in suspect}
    if True in answers:
        return "wrong"
    return "unknown" if None in answers else "harmless by reachability"


def _not_inductive(mutant: Mutant) -> list[tuple[Need, ...]]:
    """Return what is forbidden and does not follow from the model's single steps.

    If none of these can ever be, nothing forbidden can: the first that were entered would be one.
    """
    changed, induction, unit = mutant.changed, mutant.unit.induction, mutant.unit
    at_first = [
        needs
        for needs in mutant.forbidden
        if any(meets(state, needs) for state in mutant.model.situations.values())
    ]
    # The proof of the model without a fault holds on for the actions that are as they were,
    # unless the fault leaves a value that nothing left before.
    suspects = [changed] if changed else []
    if mutant.forbidden != unit.forbidden or not set(changed.sets.items()) <= induction.left:
        known = () if changed else unit.forbidden
        induction = Induction(mutant.model, (*mutant.forbidden, *known))
        suspects = list(mutant.model.actions)
    broken = {number for action in suspects for number in induction.broken_by(action)}
    return at_first + [induction.forbidden[number] for number in sorted(broken)]


def enters(model: Model, path: Path, forbidden: Sequence[Need]) -> bool:
    """Return whether a sequence, done as told, leads into what is forbidden."""
    start: Mapping[str, str] = model.situations[path.situation]
    before, after = replay(start, path.actions[:-1]), replay(start, path.actions)
    during = path.actions[-1].during if path.actions else {}
    return any(
        meets(state, forbidden) for state in (after, {**before, **during}, {**after, **during})
    )
