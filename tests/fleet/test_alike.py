"""A unit that is equipped like another gets the very guide that it would get alone."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace
from datetime import date

import pytest

from generator.fit.codes import mint_codes, with_entries
from generator.fit.fit import fit_unit, unit_symbols, wanted_codes
from generator.flow import Finished, Memory, finish_guide
from generator.problems import Mark, Problems
from generator.read.register import Register
from generator.read.sources import Sources
from generator.read.units import Unit
from generator.render.papers import booklet_of, handover_of, stickers_of

NONE = Register((), {})
"""No code at all."""


def with_codes(sources: Sources, unit: Unit, seed: int) -> Register:
    """Return register lines in which a unit has its codes."""
    guide = fit_unit(sources.library, unit, sources.stock.dealer, NONE)
    wanted, draw = {unit.name: wanted_codes(guide)}, random.Random(seed)
    symbols = unit_symbols(sources.stock.dealer)
    new = mint_codes(NONE, wanted, "2026-01-01", draw.randrange, None, symbols)
    return with_entries(NONE, new)


def made(sources: Sources, unit: Unit, seed: int, memory: Memory) -> Finished:
    """Return a unit's guide without a mistake."""
    problems = Problems()
    done = finish_guide(sources, unit, with_codes(sources, unit, seed), problems, memory)
    assert not problems.found
    return done


@pytest.mark.parametrize("name", ["lt-2107", "mh-4001", "pv-5001", "hr-6001"])
def test_alike(demo: Sources, name: str) -> None:
    """In all its languages; titles, codes and days are its own."""
    first = demo.stock.units[name]
    other = replace(
        first,
        name="zz-1",
        title="A title of its own",
        delivered=date(2027, 2, 3),
        private=frozenset(("SECRET",)),
        translated={
            lang: replace(words, title="Ein eigener Name")
            for lang, words in first.translated.items()
        },
    )
    memory = Memory()
    before = made(demo, first, 1, memory)
    alike, alone = made(demo, other, 2, memory), made(demo, other, 2, Memory())
    assert alike.guide.tasks is before.guide.tasks, "nothing was taken over"
    assert alike.composed.pages == alone.composed.pages
    assert alike.composed.documents == alone.composed.documents
    assert alike.composed.frame == alone.composed.frame
    assert alike.guide == alone.guide
    assert alike.proof.routines == alone.proof.routines
    told = repr([page.values for page in alike.composed.pages]) + repr(alike.composed.frame)
    assert first.title not in told
    assert set(before.guide.place_codes.values()).isdisjoint(alike.guide.place_codes.values())


def with_days(sources: Sources, unit: Unit, year: int) -> Unit:
    """Return a unit that states every day that it can, and a serial number for all equipment."""
    kinds = sources.library.kinds
    days = (date(year, month, 3 + month) for month in itertools.cycle(range(1, 13)))

    def of(kind: str) -> dict[str, date]:
        return {f.name: next(days) for f in kinds[kind].attributes if f.type == "date"}

    return replace(
        unit,
        vehicle={**unit.vehicle, **of("vehicle")},
        fitted=tuple(
            replace(
                one,
                values={**one.values, **of(one.kind)},
                serial=f"{year}{number:04}",
                at=Mark(f"units/{year}.yml", number),
            )
            for number, one in enumerate(unit.fitted)
        ),
    )


def told(done: Finished, sources: Sources) -> dict[str, object]:
    """Return all that is made of a guide."""
    composed = done.composed
    return {
        "guide": done.guide,
        "routines": done.proof.routines,
        "providers": done.proof.providers,
        "pages": composed.pages,
        "frame": composed.frame,
        "documents": composed.documents,
        "booklet": booklet_of(sources, done).data,
        "handover": handover_of(sources, done).data,
        "stickers": stickers_of(sources, done),
    }


@pytest.mark.parametrize("name", ["lt-2107", "mh-4001", "pv-5001", "hr-6001"])
def test_days_and_serial_numbers(demo: Sources, name: str) -> None:
    """Units that differ by these are alike; each tells its own, on pages and papers."""
    clip = replace(
        demo.stock.dealer.notices[0], about="", when=None, models=(), units=(), cleared={}
    )
    kind = demo.stock.units[name].fitted[0].kind
    serial = replace(clip, name="by-serial", about=kind, serials=("20310000", "20319999"))
    dealer = replace(demo.stock.dealer, notices=(clip, serial))
    sources = replace(demo, stock=replace(demo.stock, dealer=dealer))
    first = with_days(sources, sources.stock.units[name], 2029)
    other = replace(with_days(sources, first, 2031), name="zz-1", files=("x", *first.files[1:]))
    assert first.as_equipped() == other.as_equipped()
    for one, another in ((first, other), (other, first)):
        memory = Memory()
        before = made(sources, one, 1, memory)
        alike, alone = made(sources, another, 2, memory), made(sources, another, 2, Memory())
        left, right = told(alike, sources), told(alone, sources)
        for what in left:
            assert left[what] == right[what], what
        if before.guide.notices == alike.guide.notices:
            assert alike.composed.equipment is before.composed.equipment
    third = replace(with_days(sources, first, 2032), name="zz-2")
    memory = Memory()
    before, alike = made(sources, first, 1, memory), made(sources, third, 2, memory)
    assert alike.composed.equipment is before.composed.equipment, "nothing was taken over"
    said = repr(told(alike, sources))
    assert "2032" in said
    assert "2029" not in said.replace("20290", "")
    assert len(alike.composed.equipment.dated) < 20
    reached = replace(with_days(sources, first, 2031), name="zz-3")
    parted = made(sources, reached, 3, memory).composed.equipment
    assert parted is not before.composed.equipment
    for one, equipment in ((first, before.composed.equipment), (reached, parted)):
        assert made(sources, one, 4, memory).composed.equipment is equipment, "forgotten"
    shared = repr(before.composed.equipment.pages)
    assert not any(f" {year}" in shared for year in (2029, 2032))


def test_only_alike(demo: Sources) -> None:
    """A value, a place or a preference that differs makes another guide."""
    first = demo.stock.units["lt-2107"]
    kit = first.fitted[0]
    spot = next(iter(first.places.values()))
    memory = Memory()
    before = made(demo, first, 1, memory)
    for other in (
        replace(first, fitted=(replace(kit, title="Renamed"), *first.fitted[1:])),
        replace(first, places={**first.places, spot.name: replace(spot, title="Renamed")}),
        replace(first, body=replace(first.body, length_m=first.body.length_m + 0.1)),
        replace(first, prefer=("run-fridge-gas",)),
        replace(first, staff_only=("light-hob",)),
    ):
        alike = made(demo, other, 1, memory)
        assert alike.guide.tasks is not before.guide.tasks
        assert alike.composed.pages == made(demo, other, 1, Memory()).composed.pages


def test_a_notice_is_not_shared(demo: Sources) -> None:
    """A safety notice that reaches one of two units that are alike stands in its guide alone."""
    notices = demo.stock.dealer.notices
    name = next(n for n, u in demo.stock.units.items() if made(demo, u, 1, Memory()).guide.notices)
    reached = demo.stock.units[name]
    memory = Memory()
    assert made(demo, reached, 1, memory).guide.notices
    cleared = tuple(replace(one, cleared={"zz-1": date(2027, 1, 1)}) for one in notices)
    dealer = replace(demo.stock.dealer, notices=cleared)
    sources = replace(demo, stock=replace(demo.stock, dealer=dealer))
    memory = Memory()
    there = made(sources, reached, 1, memory)
    other = made(sources, replace(reached, name="zz-1"), 1, memory)
    assert there.guide.notices
    assert not other.guide.notices
    assert (
        other.composed.pages
        == made(sources, replace(reached, name="zz-1"), 1, Memory()).composed.pages
    )


def test_mistakes_are_told_of_each(demo: Sources) -> None:
    """What is wrong with the guides of two units that are alike is told of both."""
    unit = demo.stock.units["lt-2107"]
    task = demo.library.tasks["light-hob"]
    broken = replace(task, body=f"1. Look at {{{{ subject.no_such_value }}}}.\n{task.body}")
    library = replace(demo.library, tasks={**demo.library.tasks, "light-hob": broken})
    sources, memory, problems = replace(demo, library=library), Memory(), Problems()
    for name in ("lt-2107", "zz-1"):
        one = replace(unit, name=name)
        finish_guide(sources, one, with_codes(sources, one, 1), problems, memory)
    told = "\n".join(map(str, problems.found))
    assert "lt-2107" in told
    assert "zz-1" in told
