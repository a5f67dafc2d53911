"""Two independent ways to show that a state can never be, for tests: an SMT solver, and pairs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import z3

from generator.fit.guide import Need
from generator.prove.model import Action, Model

Forbidden = Sequence[tuple[Need, ...]]
Fact = tuple[str, str]


class Induction:
    """Proof by induction over single actions, with z3 (an SMT solver).

    Assumed of the state before: each variable has one value, nothing forbidden is so, and a value
    that no action leaves and no situation has is not there. What follows from these and from the
    action's needs is shown for every state that there is, not for those of a search.
    """

    def __init__(self, model: Model, forbidden: Forbidden) -> None:
        """Assume all this of the state before."""
        self.model, self.forbidden = model, forbidden
        self.fact = {fact: z3.Bool("=".join(fact)) for fact in facts_of(model)}
        self.solver = z3.Solver()
        for key, variable in model.variables.items():
            values = [(self.fact[key, value], 1) for value in variable.state.values]
            self.solver.add(z3.PbEq(values, 1))
        left = {fact for action in model.actions for fact in action.sets.items()}
        left |= {fact for state in model.situations.values() for fact in state.items()}
        self.left = left
        """The values that an action leaves or a situation has."""
        self.solver.add(*(z3.Not(b) for fact, b in self.fact.items() if fact not in left))
        self.solver.add(*(z3.Not(self._all(needs, {})) for needs in forbidden))

    def broken_by(self, action: Action) -> list[int]:
        """Return which of the forbidden can be so during or after an action, by their number."""
        return [
            number
            for number, needs in enumerate(self.forbidden)
            if any(
                self._possible(action, needs, change)
                for change in (action.sets, action.during, {**action.sets, **action.during})
                if change.keys() & {need.key for need in needs}
            )
        ]

    def _possible(self, action: Action, needs: Sequence[Need], change: Mapping[str, str]) -> bool:
        self.solver.push()
        self.solver.add(self._all(action.needs, {}), self._all(needs, change))
        result = self.solver.check()
        self.solver.pop()
        assert result in (z3.sat, z3.unsat)
        return bool(result == z3.sat)

    def _all(self, needs: Iterable[Need], change: Mapping[str, str]) -> z3.BoolRef:
        return z3.And([self._one(need, change) for need in needs])

    def _one(self, need: Need, change: Mapping[str, str]) -> z3.BoolRef:
        if need.key in change:
            return z3.BoolVal(change[need.key] in need.values)
        return z3.Or([self.fact[need.key, value] for value in need.values])


class Pairs:
    """Which pairs of facts may ever be so together, never too few of them.

    The fixed point for pairs of P. Haslum and H. Geffner, "Admissible Heuristics for Optimal
    Planning" (2000). A state that holds a pair which is not among them can never be.
    """

    def __init__(self, model: Model) -> None:
        """Work out the pairs."""
        self.model = model
        self.bit = {fact: 1 << number for number, fact in enumerate(facts_of(model))}
        self.of_key: dict[str, int] = {}
        for (key, _), bit in self.bit.items():
            self.of_key[key] = self.of_key.get(key, 0) | bit
        self.with_ = dict.fromkeys(self.bit, 0)
        for state in model.situations.values():
            mask = sum(self.bit[fact] for fact in state.items())
            for fact in state.items():
                self.with_[fact] |= mask
        while any([self._apply(action) for action in model.actions]):  # noqa: C419 - apply all
            pass

    def can_be(self, needs: Sequence[Need], around: Action | None = None) -> bool:
        """Return whether the needs may be met at rest or, of an action, while it is done."""
        if around is None:
            return self._together(needs)
        return any(
            self._together((*(n for n in needs if n.key not in change), *before))
            for change, before in (
                (around.during, around.needs),
                ({**around.sets, **around.during}, around.needs),
            )
            if all(change.get(n.key, n.values[0]) in n.values for n in needs)
        )

    def _mask(self, need: Need) -> int:
        """Return the facts that may be so together with the need."""
        mask = 0
        for value in need.values:
            mask |= self.with_[need.key, value]
        return mask

    def _together(self, needs: Sequence[Need]) -> bool:
        masks = [self._mask(need) for need in needs]
        own = [sum(self.bit[need.key, value] for value in need.values) for need in needs]
        return all(mask & bits for mask in masks for bits in own)

    def _apply(self, action: Action) -> bool:
        """Note the pairs that an action may bring about; return whether any was new."""
        if not self._together(action.needs):
            return False
        beside = -1
        for need in action.needs:
            beside &= self._mask(need)
        for need in action.needs:
            others = self.of_key[need.key]
            beside &= ~others | sum(self.bit[need.key, value] for value in need.values)
        for key in action.sets:
            beside &= ~self.of_key[key]
        added = sum(self.bit[fact] for fact in action.sets.items())
        beside &= sum(bit for fact, bit in self.bit.items() if self.with_[fact])
        new = False
        for fact, bit in self.bit.items():
            more = beside | added if bit & added else added if bit & beside else 0
            if more & ~self.with_[fact]:
                self.with_[fact] |= more
                new = True
        return new


def facts_of(model: Model) -> list[Fact]:
    """Return every value of every variable."""
    return [(key, value) for key, v in model.variables.items() for value in v.state.values]
