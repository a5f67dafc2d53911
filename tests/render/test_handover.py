"""The handover pack: what is checked, shown, written down and due, and who may sign it."""

from __future__ import annotations

import itertools
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from generator.compose.handover_pack import Pack, plan_pack
from generator.flow import Finished
from generator.prove.tour import MOST_EXACT, shortest_tour
from generator.prove.walk import Point, distance_m, door_of, point_of
from generator.read.sources import Sources
from generator.read.units import Body, Spot
from generator.render.handover import plan_handover
from render.printing import (
    Paper,
    accessibility_faults,
    bare,
    context_of,
    finish,
    unembedded_fonts,
)

BODY = Body(6.0, 2.2, 2.6, "nearside", 3.5, 3.2, 1.2)


@dataclass(frozen=True)
class Printed:
    """A unit's guide, its handover pack, and the pack as printed."""

    done: Finished
    pack: Pack
    paper: Paper


@pytest.fixture(scope="module")
def printed(demo: Sources) -> Printed:
    """Return the preview unit's handover pack."""
    done = finish(demo, demo.stock.dealer.preview)
    context = context_of(demo, done)
    templates = demo.root / "site_assets" / "print"
    paper = Paper(plan_handover(context, demo.handover, "r1", templates).pdf())
    return Printed(done, plan_pack(context, demo.handover), paper)


def spots(count: int, seed: int, spot: Spot) -> list[Spot]:
    """Return places at random, on the walls and inside."""
    chance = random.Random(seed)
    walls = ("front", "rear", "nearside", "offside", "inside", "inside")
    return [
        replace(
            spot,
            name=f"p{n}",
            wall=(wall := chance.choice(walls)),
            along_m=chance.uniform(0, 2.2 if wall in ("front", "rear") else 6),
            across_m=chance.uniform(0, 2.2),
        )
        for n in range(count)
    ]


def tour_m(walk: Sequence[Spot], start: Point, end: Point | None) -> float:
    """Return the length of a walk in metres."""
    points = [start, *(point_of(spot, BODY) for spot in walk), *([end] if end else [])]
    return sum(distance_m(a, b, BODY) for a, b in itertools.pairwise(points))


@pytest.mark.parametrize("seed", range(20))
def test_no_walk_is_shorter(seed: int, printed: Printed) -> None:
    """Of all orders of the places outside, and of those inside, none is shorter."""
    some = spots(8, seed, printed.done.guide.places[0])
    tour = shortest_tour(some, BODY)
    assert sorted(spot.name for spot in tour) == sorted(spot.name for spot in some)
    front, door = (0.0, BODY.width_m / 2, False), door_of(BODY)
    for inside, start, end in ((False, front, door), (True, door, None)):
        walked = [spot for spot in tour if (spot.wall == "inside") == inside]
        shortest = min(tour_m(order, start, end) for order in itertools.permutations(walked))
        assert tour_m(walked, start, end) == pytest.approx(shortest)
    assert [spot.wall == "inside" for spot in tour] == sorted(s.wall == "inside" for s in tour)


def test_many_places_are_walked_once_each(printed: Printed) -> None:
    """With more places than are tried exactly, each is still passed once."""
    some = spots(4 * MOST_EXACT, 1, printed.done.guide.places[0])
    tour = shortest_tour(some, BODY)
    assert sorted(spot.name for spot in tour) == sorted(spot.name for spot in some)


def test_only_the_licensed_sign_their_work(printed: Printed) -> None:
    """Leak tests and wiring tests are on the lists of those who may do them."""
    by_who = {one.who: " ".join(c.check for c in one.checks) for one in printed.pack.lists}
    assert "leaks" in by_who["gas-engineer"]
    assert "residual-current" in by_who["electrician"]
    assert "whole gas system" not in by_who["technician"]
    assert "polarity" not in by_who["technician"]


def test_every_fitting_is_prepared(printed: Printed, demo: Sources) -> None:
    """Every kind of the library has a check, and every fitting of the unit stands on a list."""
    assert set(demo.library.kinds) <= set(demo.handover.prepare)
    listed = {check.fitting for one in printed.pack.lists for check in one.checks}
    assert listed == {fitting.title for fitting in printed.done.guide.fittings.values()}


def test_tasks_are_shown_where_they_are_done(printed: Printed, demo: Sources) -> None:
    """Each task to do or show is at the stop of its own place, once, and no other is there."""
    names = {*demo.handover.do, *demo.handover.show}
    spots_by_name = {spot.name: spot.title for spot in printed.done.guide.places}
    wanted = sorted(
        (spots_by_name.get(task.place, ""), bare(task.title))
        for task in printed.done.guide.tasks
        if task.task.name in names
    )
    shown = sorted(
        (stop.title if stop.number else "", bare(task.title))
        for stop in printed.pack.stops
        for task in (*stop.do, *stop.show)
    )
    assert shown == wanted


def test_recorded_values_are_the_units_own(printed: Printed) -> None:
    """The wheel torque is printed as the unit has it, beside room for today's."""
    torque = next(f for f in printed.done.guide.fittings.values() if f.kind == "road-wheels")
    recorded = {record.note: record.recorded for record in printed.pack.records}
    assert recorded["Wheel fixings tightened today to"] == f"{torque.values['torque_nm']} N m"
    assert recorded["Keys handed over, number"] == ""


def test_due_dates_are_the_units_own(printed: Printed) -> None:
    """Dates that the unit states are there, soonest first; those not known yet come last."""
    days = [due.day for due in printed.pack.due]
    assert "1 March 2031" in days
    known = [day for day in days if day]
    assert days == known + [""] * (len(days) - len(known))
    alarm = next(due for due in printed.pack.due if due.what.startswith("Smoke alarm"))
    assert alarm.day == ""


@pytest.mark.slow
def test_it_is_accessible_and_whole(printed: Printed) -> None:
    """Tagged as PDF/UA-1 asks, sound to qpdf, every font within, A4."""
    assert accessibility_faults(printed.paper.pdf) == []
    assert unembedded_fonts(printed.paper.pdf) == []
    count = len(printed.paper.reader.pages)
    assert {printed.paper.size_mm(n) for n in range(count)} == {(210, 297)}


@pytest.mark.slow
def test_all_of_the_pack_is_printed(printed: Printed, demo: Sources) -> None:
    """Every check, stop, task, record, paper and due date is printed, and room to sign."""
    pack, text = printed.paper, printed.paper.text
    wanted = [c.check for one in printed.pack.lists for c in one.checks]
    wanted += [stop.title for stop in printed.pack.stops]
    wanted += [t.title for stop in printed.pack.stops for t in (*stop.do, *stop.show)]
    wanted += [record.note for record in printed.pack.records]
    wanted += [*printed.pack.papers]
    wanted += [f"{due.what}{due.day}" for due in printed.pack.due if due.day]
    wanted += ["Not shown, and why", "Signature", "Registration number", "Customer"]
    assert [words for words in wanted if bare(words) not in text] == []
    assert pack.bookmarks()[0][0] == "Preparation list"


@pytest.mark.slow
@pytest.mark.parametrize("unit", ["cv-3004", "lt-2107", "lt-2118"])
def test_first_trip_card_is_one_side(demo: Sources, unit: str) -> None:
    """The card is one page, with every step of arriving and both telephone numbers."""
    done = finish(demo, unit)
    templates = demo.root / "site_assets" / "print"
    context = context_of(demo, done)
    paper = Paper(plan_handover(context, demo.handover, "r1", templates).pdf())
    pages = dict(paper.bookmarks())
    assert pages["Due dates"] == pages["Your first trip"] + 1
    card = bare(paper.pages[pages["Your first trip"]])
    trip = plan_pack(context, demo.handover).first_trip
    assert trip is not None
    assert all(bare(step.task.title) in card for step in trip.plans[0].steps if step.task)
    assert bare(done.guide.dealer.telephone) in card
    assert done.guide.dealer.emergency in card
    assert done.guide.code.casefold() in card


@pytest.mark.slow
def test_private_texts_stay_private(printed: Printed, demo: Sources) -> None:
    """No private value of the unit is in the pack."""
    private = demo.stock.units[printed.done.guide.unit.name].private
    for text in (text for text in private if len(text) > 3):
        assert bare(text) not in printed.paper.text
        assert text.encode() not in printed.paper.pdf


@pytest.mark.slow
def test_reprint_is_byte_identical(printed: Printed, demo: Sources) -> None:
    """The same guide gives the same bytes."""
    templates = demo.root / "site_assets" / "print"
    context = context_of(demo, printed.done)
    assert plan_handover(context, demo.handover, "r1", templates).pdf() == printed.paper.pdf


@pytest.mark.slow
def test_build_prints_papers_and_publishes_none(built: Path) -> None:
    """A build leaves booklet and pack in print/, and no PDF and nothing of the pack in public/."""
    for name in ("booklet.pdf", "handover.pdf", "stickers.pdf"):
        assert (built / "print" / "lt-2107" / name).stat().st_size > 10_000
    published = [path for path in (built / "public").rglob("*") if path.is_file()]
    assert [path for path in published if path.suffix == ".pdf"] == []
    secret = "Test the whole gas system for leaks"
    texts = [path for path in published if path.suffix in (".html", ".json", ".js")]
    assert texts
    assert [path for path in texts if secret in path.read_text("utf-8")] == []


def test_a_workspace_without_these_files_still_prints(
    workspace: Path, lockerleaf: Callable[..., str]
) -> None:
    """Who has written nothing under docs_src/handover gets the rest of the pack."""
    assert not (workspace / "docs_src" / "handover").exists()
    assert lockerleaf("handover", "sm-1") == "print/sm-1/handover.pdf\n"


@pytest.mark.parametrize(
    ("file", "text", "told"),
    [
        (
            "prepare.yml",
            "gas-botle:\n  - {check: Look at it., who: technician}\n",
            "docs_src/handover/prepare.yml:1:1: gas-botle: no kind 'gas-botle'; right: "
            "one of cassette-toilet, entrance-door, fresh-water, gas-cylinder, reading-lamp, "
            "vehicle, water-heater",
        ),
        (
            "prepare.yml",
            "gas-cylinder:\n  - {check: Look at it., who: apprentice}\n",
            "docs_src/handover/prepare.yml:2:31: gas-cylinder[0].who: is 'apprentice'; right: "
            "one of electrician, gas-engineer, owner, technician",
        ),
        (
            "prepare.yml",
            "gas-cylinder:\n  - {check: Look at it., who: technician, recorded: size_k}\n",
            "docs_src/handover/prepare.yml:2:43: gas-cylinder[0].recorded: 'gas-cylinder' has no "
            "attribute 'size_k'; right: did you mean size_kg?",
        ),
        (
            "show.yml",
            "minutes_shown: 3\ndo: [turn-on-gaz]\n",
            "docs_src/handover/show.yml:2:1: do: no task 'turn-on-gaz'; right: "
            "did you mean turn-on-gas?",
        ),
        (
            "show.yml",
            "minutes_shown: 3\ndo: [turn-on-gas]\nshow: [turn-on-gas]\n",
            "docs_src/handover/show.yml:3:1: show: 'turn-on-gas' is also done; right: "
            "one of the two",
        ),
        (
            "card.yml",
            "gas:\n  title: Gas\n  lines:\n    - {text: Shut it., task: shut-gas}\n",
            "docs_src/handover/card.yml:4:24: gas.lines[0].task: no task 'shut-gas'; right: one of",
        ),
        (
            "card.yml",
            'gas:\n  title: Gas\n  lines:\n    - {text: Shut it., when: hass("x")}\n',
            "docs_src/handover/card.yml:4:24: gas.lines[0].when: unknown name 'hass'; right: "
            "did you mean has?",
        ),
    ],
)
def test_slips_are_told_where_they_are(
    write: Callable[[str, str], Path],
    lockerleaf: Callable[..., str],
    file: str,
    text: str,
    told: str,
) -> None:
    """A slip in a file of the pack is told by file, line, column and key."""
    write(f"docs_src/handover/{file}", text)
    (line, *rest) = lockerleaf("check").splitlines()
    assert told in line
    assert rest == ["1 problem; nothing written"]
