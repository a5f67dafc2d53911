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
from generator.read.units import Unit


@dataclass(frozen=True, slots=True)
class Finished:
    """A guide with its proof and its pages."""

    guide: Guide
    proof: Proof
    composed: Composed


def finish_guide(
    sources: Sources, unit: Unit, register: Register, problems: Problems, memo: Memo
) -> Finished:
    """Return the finished guide of a unit; what is wrong with it is noted.

    `memo` keeps what was proven, for the next unit that is equipped alike.
    """
    drawings = Drawings(sources.assets.signs, sources.assets.pictures)
    guide = fit_unit(sources.library, unit, sources.stock.dealer, register)
    proof = prove_guide(guide, sources.library, problems, memo)
    return Finished(guide, proof, compose_guide(guide, proof, sources.library, drawings, problems))


def finish_guides(
    sources: Sources, register: Register, names: Iterable[str]
) -> tuple[Finished, ...]:
    """Return the finished guides of the named units.

    Raises:
        ProblemsFound: with every mistake of all these guides.
    """
    problems = Problems()
    memo: Memo = {}
    units = [sources.stock.units[name] for name in names]
    finished = tuple(
        finish_guide(sources, unit, register.of_unit(unit.name), problems, memo) for unit in units
    )
    problems.stop_if_any()
    return finished
