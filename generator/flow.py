"""Steps 1 to 4 in a row: from sources to composed guides. What comes after writes files."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from generator.compose.compose import Composed, compose_guide
from generator.compose.context import Drawings
from generator.fit.fit import fit_unit
from generator.fit.guide import Guide
from generator.problems import Problems
from generator.prove.prove import Memo, Proof, prove_guide
from generator.read.register import Register
from generator.read.sources import Sources


@dataclass(frozen=True, slots=True)
class Finished:
    """A guide with its proof and its pages."""

    guide: Guide
    proof: Proof
    composed: Composed


def finish_guides(
    sources: Sources, register: Register, names: Iterable[str]
) -> tuple[Finished, ...]:
    """Return the finished guides of the named units.

    Raises:
        ProblemsFound: with every mistake of all these guides.
    """
    problems = Problems()
    drawings = Drawings(sources.assets.signs, sources.assets.pictures)
    finished = []
    memo: Memo = {}
    for name in names:
        unit = sources.stock.units[name]
        guide = fit_unit(sources.library, unit, sources.stock.dealer, register)
        proof = prove_guide(guide, sources.library, problems, memo)
        composed = compose_guide(guide, proof, sources.library, drawings, problems)
        finished.append(Finished(guide, proof, composed))
    problems.stop_if_any()
    return tuple(finished)
