"""Steps 1 to 4 in a row: from sources to composed guides. What comes after writes files."""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field, replace

from generator.compose.compose import Composed, Earlier, compose_edited, compose_guide
from generator.compose.context import Drawings
from generator.compose.versions import Spoken, join_versions
from generator.compose.wording import Wording
from generator.fit.fit import fit_unit
from generator.fit.guide import Guide
from generator.problems import Problems
from generator.prove.prove import Memo, Proof, proof_about, prove_guide
from generator.read.alike import Alike, in_rows
from generator.read.languages import Language
from generator.read.library import Library
from generator.read.register import Register
from generator.read.sources import Sources
from generator.read.unit_words import dealer_in, unit_in
from generator.read.units import Dealer, Unit

MOST_MADE = 4
"""Guides kept in memory for units that are equipped alike, some 5 MB each. Such units are built in
a row."""


@dataclass(frozen=True, slots=True)
class Finished:
    """A guide with its proof and its pages."""

    guide: Guide
    proof: Proof
    composed: Composed


@dataclass(frozen=True, slots=True)
class _Made:
    """A guide in one language, with what it was made from."""

    library: Library
    dealer: Dealer
    done: Finished
    good: bool
    """Whether there was no mistake in it; else its pages serve nobody."""

    @property
    def composed(self) -> Composed | None:
        """Return its pages, if they serve units that are equipped alike."""
        return self.done.composed if self.good else None


@dataclass(slots=True)
class Memory:
    """What finished guides teach about the next ones."""

    proven: Memo = field(default_factory=Memo)
    made: dict[str, Alike[_Made]] = field(default_factory=dict)
    """The last guides, by language."""

    def like(self, lang: str, library: Library, dealer: Dealer, unit: Unit) -> list[_Made]:
        """Return the guides of units that are equipped alike, the newest first."""
        every = self.made[lang].every(unit) if lang in self.made else ()
        return [one for one in every if one.library is library and one.dealer == dealer]

    def keep(
        self, lang: str, library: Library, dealer: Dealer, done: Finished, *, good: bool
    ) -> None:
        """Remember a guide, and whether it is without a mistake, for units equipped alike."""
        made = self.made.setdefault(lang, Alike(MOST_MADE))
        made.keep(_Made(library, dealer, done, good), done.guide.unit)


def finish_guide(
    sources: Sources, unit: Unit, register: Register, problems: Problems, memory: Memory
) -> Finished:
    """Return the finished guide of a unit in all its languages; what is wrong with it is noted.

    `memory` keeps what was found, for the next unit that is equipped alike.
    """
    drawings = Drawings(sources.assets.signs, sources.assets.pictures)
    library, dealer = sources.library, sources.stock.dealer
    first = _finish(library, drawings, unit, dealer, register, problems, memory)
    others = [
        _in_language(sources, register, unit, sources.languages[language], problems, memory)
        for language in unit.languages[1:]
    ]
    title = Wording(library.wording)("language") if others else ""
    return replace(first, composed=join_versions(first.composed, title, others))


def revise_guide(
    sources: Sources,
    unit: Unit,
    register: Register,
    edited: frozenset[str],
    earlier: Earlier,
    proven: str,
    problems: Problems,
    memory: Memory,
) -> Finished | None:
    """Return a guide of which only the pages are composed that an edit of texts changed.

    None is returned where the edit changes more than pages with the texts of tasks.

    Args:
        sources: The library and the dealer's units, as read.
        unit: The unit, whose guide has one language and depends on nothing else that changed.
        register: Its lines of the register.
        edited: The tasks that hold texts which were edited, by name.
        earlier: What is known of its guide as it was.
        proven: What told its proof from others.
        problems: Where mistakes are noted.
        memory: Keeps what was found, for the next unit that is equipped alike and in which the
            same was edited.
    """
    before = len(problems.found)
    library, dealer = sources.library, sources.stock.dealer
    guide, proof, like = _fit_and_prove(library, unit, dealer, register, problems, memory, "")
    if proof.key != proven:
        return None
    slugs = frozenset(bound.slug for bound in guide.tasks if bound.task.name in edited)
    drawings = Drawings(sources.assets.signs, sources.assets.pictures)
    known = like.composed if like else None
    composed = compose_edited(guide, proof, library, drawings, problems, slugs, earlier, known)
    if composed is None:
        return None
    done = Finished(guide, proof, composed)
    if like is None:
        memory.keep("", library, dealer, done, good=len(problems.found) == before)
    return done


def _in_language(
    sources: Sources,
    register: Register,
    unit: Unit,
    language: Language,
    problems: Problems,
    memory: Memory,
) -> Spoken:
    """Return a unit's guide in a further language: fitted and proven again, with its own words."""
    there = unit_in(language, unit, sources.library.kinds)
    dealer = dealer_in(language, sources.stock.dealer)
    drawings = Drawings(sources.assets.signs, language.pictures)
    # The same model as the first language's, so nothing is searched again.
    done = _finish(language.library, drawings, there, dealer, register, problems, memory, language)
    return Spoken(language, done.composed)


def _finish(
    library: Library,
    drawings: Drawings,
    unit: Unit,
    dealer: Dealer,
    register: Register,
    problems: Problems,
    memory: Memory,
    language: Language | None = None,
) -> Finished:
    """Return a guide in one language; `language` is a further one, which all else is in."""
    before = len(problems.found)
    lang = language.name if language else ""
    guide, proof, like = _fit_and_prove(library, unit, dealer, register, problems, memory, lang)
    known = like.composed if like else None
    composed = compose_guide(guide, proof, library, drawings, problems, language, known)
    done = Finished(guide, proof, composed)
    if like is None:
        memory.keep(lang, library, dealer, done, good=len(problems.found) == before)
    return done


def _fit_and_prove(
    library: Library,
    unit: Unit,
    dealer: Dealer,
    register: Register,
    problems: Problems,
    memory: Memory,
    lang: str,
) -> tuple[Guide, Proof, _Made | None]:
    """Return a guide with its proof, and the guide of a unit that is equipped alike, if known."""
    alike = memory.like(lang, library, dealer, unit)
    guide = fit_unit(library, unit, dealer, register, alike[0].done.guide if alike else None)
    # Notices reach units by their names and serial numbers, and pages say so.
    like = next((one for one in alike if one.done.guide.notices == guide.notices), None)
    if like is None:
        return guide, prove_guide(guide, library, problems, memory.proven), None
    proof = like.done.proof
    if proof.problems or like.done.guide.tasks is not guide.tasks:
        proof = proof_about(guide, proof)
    problems.found += proof.problems
    return guide, proof, like


def finish_each(
    sources: Sources, register: Register, names: Iterable[str], problems: Problems
) -> Iterator[Finished]:
    """Yield the finished guides of the named units, those of one model in a row.

    What is wrong with any of them is noted, so what is made of them counts only when none is.
    """
    memory = Memory()
    rows = in_rows(sources.stock.units[name] for name in names)
    for unit in itertools.chain.from_iterable(rows):
        yield finish_guide(sources, unit, register.of_unit(unit.name), problems, memory)


def finish_guides(
    sources: Sources, register: Register, names: Collection[str]
) -> tuple[Finished, ...]:
    """Return the finished guides of the named units, in their order.

    Raises:
        ProblemsFound: with every mistake of all these guides.
    """
    problems = Problems()
    each = finish_each(sources, register, names, problems)
    finished = {done.guide.unit.name: done for done in each}
    problems.stop_if_any()
    return tuple(finished[name] for name in names)
