"""Steps 1 to 4 in a row: from sources to composed guides. What comes after writes files."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from generator.compose.compose import Composed, compose_guide
from generator.compose.context import Drawings
from generator.compose.versions import Spoken, join_versions
from generator.compose.wording import Wording
from generator.fit.fit import fit_unit
from generator.fit.guide import Guide
from generator.problems import Problems
from generator.prove.prove import Memo, Proof, prove_guide
from generator.read.languages import Language
from generator.read.register import Register
from generator.read.sources import Sources
from generator.read.unit_words import dealer_in, unit_in
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
    """Return the finished guide of a unit in all its languages; what is wrong with it is noted.

    `memo` keeps what was proven, for the next unit that is equipped alike.
    """
    drawings = Drawings(sources.assets.signs, sources.assets.pictures)
    guide = fit_unit(sources.library, unit, sources.stock.dealer, register)
    proof = prove_guide(guide, sources.library, problems, memo)
    first = compose_guide(guide, proof, sources.library, drawings, problems)
    others = [
        _in_language(sources, register, unit, sources.languages[language], problems, memo)
        for language in unit.languages[1:]
    ]
    title = Wording(sources.library.wording)("language") if others else ""
    return Finished(guide, proof, join_versions(first, title, others))


def _in_language(
    sources: Sources,
    register: Register,
    unit: Unit,
    language: Language,
    problems: Problems,
    memo: Memo,
) -> Spoken:
    """Return a unit's guide in a further language: fitted and proven again, with its own words."""
    there = unit_in(language, unit, sources.library.kinds)
    dealer = dealer_in(language, sources.stock.dealer)
    guide = fit_unit(language.library, there, dealer, register)
    # The same model as the first language's, so nothing is searched again.
    proof = prove_guide(guide, language.library, problems, memo)
    drawings = Drawings(sources.assets.signs, language.pictures)
    composed = compose_guide(guide, proof, language.library, drawings, problems, language)
    return Spoken(language, composed)


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
