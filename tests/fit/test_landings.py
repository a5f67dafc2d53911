"""Whatever is edited away, a sticker leads to the nearest page that makes sense."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from generator.compose.links import code_uri
from generator.fit.codes import mint_codes, with_entries
from generator.fit.fit import fit_unit, holdings, wanted_codes
from generator.fit.guide import Guide
from generator.flow import finish_guides
from generator.read.register import Entry, Register
from generator.read.sources import Sources, read_sources

UNIT = "units/sm-1.yml"
MODEL = "units/models/small-2.yml"
REGISTER = "units/register.csv"
GAS = "M9S3-461,sm-1,place,gas-locker,minted,2026-05-01,"

Change = Callable[[str, str, str], None]


def leads_to(workspace: Path) -> dict[str, tuple[str, str, str]]:
    """Return each stray code's state and target in the small unit's guide."""
    sources = read_sources(workspace)
    unit = sources.stock.units["sm-1"]
    guide = fit_unit(sources.library, unit, sources.stock.dealer, sources.register)
    return {
        landing.code: (landing.state, landing.sort, landing.target) for landing in guide.landings
    }


def test_retired(workspace: Path) -> None:
    """A retired code says so, whether its place is still there or not."""
    assert leads_to(workspace) == {"M9S3-3SS": ("retired", "unit", "")}
    with (workspace / REGISTER).open("a") as file:
        file.write("M9S3-461,sm-1,place,gas-locker,retired,2026-06-02,spoiled\n")
    assert leads_to(workspace)["M9S3-461"] == ("retired", "place", "gas-locker")


def test_a_second_sticker_of_a_place(workspace: Path) -> None:
    """Two people's codes for one place, merged: the first is in force, both lead there."""
    with (workspace / REGISTER).open("a") as file:
        file.write("M9S3-C0M,sm-1,place,gas-locker,minted,2026-06-02,\n")
    assert leads_to(workspace)["M9S3-C0M"] == ("spare", "place", "gas-locker")


def test_moved(workspace: Path) -> None:
    """A sticker that was glued on elsewhere leads there, beside the one that is there."""
    with (workspace / REGISTER).open("a") as file:
        file.write("M9S3-461,sm-1,place,bed,moved,2026-06-02,wrong hatch\n")
    assert leads_to(workspace)["M9S3-V3Z"] == ("spare", "place", "bed") or (
        leads_to(workspace)["M9S3-461"] == ("spare", "place", "bed")
    )


def test_a_place_that_went_without_a_trace(workspace: Path, change: Change) -> None:
    """Where nothing is known of what was there, the code leads to the unit's home."""
    change(UNIT, "delivered:", "without: [toilet, toilet-hatch]\ndelivered:")
    assert leads_to(workspace)["M9S3-5VH"] == ("gone", "unit", "")


def test_what_was_there_is_elsewhere_now(workspace: Path, change: Change) -> None:
    """The register knows what a place held: its code leads to where that is now."""
    change(REGISTER, GAS, GAS + "holds cylinder:gas-cylinder")
    change(MODEL, "gas-locker: {title", "front-box: {title")
    change(MODEL, "place: gas-locker", "place: front-box")
    assert leads_to(workspace)["M9S3-461"] == ("gone", "place", "front-box")


def test_what_was_there_is_gone_too(workspace: Path, change: Change) -> None:
    """What was there is gone as well: the code leads to all tasks of its subject."""
    hatch = "M9S3-5VH,sm-1,place,toilet-hatch,minted,2026-05-01,"
    change(REGISTER, hatch, hatch + "holds old-heater:water-heater")
    change(UNIT, "delivered:", "without: [toilet, toilet-hatch]\ndelivered:")
    assert leads_to(workspace)["M9S3-5VH"] == ("gone", "area", "water")


def test_what_the_place_became(workspace: Path, change: Change) -> None:
    """Where another sticker of the same place was moved on, the first follows it, also twice."""
    change(UNIT, "delivered:", "without: [toilet, toilet-hatch]\ndelivered:")
    with (workspace / REGISTER).open("a") as file:
        file.write("M9S3-C0M,sm-1,place,toilet-hatch,minted,2026-06-02,\n")
        file.write("M9S3-C0M,sm-1,place,side-hatch,moved,2026-06-03,renamed\n")
        file.write("M9S3-C0M,sm-1,place,bed,moved,2026-06-04,renamed again\n")
    assert leads_to(workspace)["M9S3-5VH"] == ("gone", "place", "bed")


def test_renamed_in_a_circle_ends(workspace: Path, change: Change) -> None:
    """Places that became each other, and are both gone, end at the unit's home."""
    change(UNIT, "delivered:", "without: [toilet, toilet-hatch]\ndelivered:")
    with (workspace / REGISTER).open("a") as file:
        file.write("M9S3-C0M,sm-1,place,toilet-hatch,minted,2026-06-02,\n")
        file.write("M9S3-C0M,sm-1,place,side-hatch,moved,2026-06-03,renamed\n")
        file.write("M9S3-C0M,sm-1,place,toilet-hatch,moved,2026-06-04,and back\n")
    assert leads_to(workspace)["M9S3-5VH"] == ("gone", "unit", "")


@pytest.mark.parametrize(
    ("slug", "leads"),
    [
        ("heat-water-gas--boiler", ("gone", "task", "heat-water-gas")),
        ("change-lamp--lamp-gone", ("gone", "area", "living")),
        ("never-was", ("gone", "unit", "")),
    ],
)
def test_tasks(workspace: Path, slug: str, leads: tuple[str, str, str]) -> None:
    """A task's code finds the same task of another fitting, else the tasks of its subject."""
    with (workspace / REGISTER).open("a") as file:
        file.write(f"M9S3-C0M,sm-1,task,{slug},minted,2026-06-02,\n")
    assert leads_to(workspace)["M9S3-C0M"] == leads


def code_every_place(demo: Sources, name: str) -> tuple[Guide, Register]:
    """Return a unit's guide with a code for each place and task, and that register."""
    unit, dealer = demo.stock.units[name], demo.stock.dealer
    bare = fit_unit(demo.library, unit, dealer, Register((), {}))
    wanted = [*wanted_codes(bare), *(("task", task.slug) for task in bare.tasks)]
    choose = random.Random(name).randrange
    new = mint_codes(Register((), {}), {name: wanted}, "2026-01-01", choose, holdings(bare))
    register = with_entries(Register((), {}), new)
    return fit_unit(demo.library, unit, dealer, register), register


@pytest.mark.parametrize("name", ["lt-2107", "cv-3004"])
def test_every_code_has_its_page_whatever_is_taken_out(demo: Sources, name: str) -> None:
    """Fittings are taken out or moved, places renamed, at random: each code has one page.

    It leads to what the guide has, and never to a place that lost it.
    """
    guide, register = code_every_place(demo, name)
    chance = random.Random(7)
    states = set()
    for _ in range(6):
        unit = guide.unit
        names = list(unit.places)
        renamed = {old: f"{old}-new" for old in chance.sample(names, 3)}
        places = {
            renamed.get(key, key): replace(spot, name=renamed.get(key, key))
            for key, spot in unit.places.items()
        }
        fitted = tuple(
            replace(
                fitting,
                place=renamed.get(fitting.place, fitting.place),
                parts={part: renamed.get(at, at) for part, at in fitting.parts.items()},
            )
            for fitting in chance.sample(unit.fitted, len(unit.fitted) - 4)
        )
        edited = replace(unit, places=places, fitted=fitted)
        after = fit_unit(demo.library, edited, guide.dealer, register)
        spots, slugs = {spot.name for spot in after.places}, {task.slug for task in after.tasks}
        shown = [*after.place_codes.values(), *after.task_codes.values()]
        shown += [landing.code for landing in after.landings]
        assert sorted(shown) == sorted(
            code for code, entry in register.latest.items() if entry.sort != "unit"
        )
        for landing in after.landings:
            states.add((landing.entry.sort, landing.sort))
            assert (
                landing.target
                in {
                    "place": spots,
                    "task": slugs,
                    "area": set(demo.library.areas),
                    "unit": {""},
                }[landing.sort]
            )
            if landing.entry.target in renamed and renamed[landing.entry.target] in spots:
                assert (landing.sort, landing.target) != ("unit", "")
    assert {("place", "place"), ("place", "area"), ("task", "area")} <= states


def test_pages(workspace: Path) -> None:
    """Each stray code has its page, with what it says in plain words."""
    with (workspace / REGISTER).open("a") as file:
        file.write("M9S3-461,sm-1,place,gas-locker,retired,2026-06-02,a private reason\n")
        file.write("M9S3-C0M,sm-1,place,away,minted,2026-06-02,holds x:water-heater\n")
        file.write("M9S3-AB9,sm-1,place,away,minted,2026-06-02,\n")
        file.write("M9S3-D01,sm-1,place,nowhere,minted,2026-06-02,holds heater:water-heater\n")
    sources = read_sources(workspace)
    (done,) = finish_guides(sources, sources.register, ["sm-1"])
    pages = {page.uri: page for page in done.composed.pages}
    assert len(pages) == len(done.composed.pages)
    retired = pages[code_uri("M9S3-461")]
    assert retired.title == "This sticker is no longer in use"
    assert "(../place/gas-locker.md)" in retired.text
    assert "(../index.md)" in retired.text
    area = pages[code_uri("M9S3-C0M")]
    assert area.title == sources.library.areas["water"]
    assert "(../task/fill-water.md)" in area.text
    assert sources.library.wording["gone_unit"] in pages[code_uri("M9S3-AB9")].text
    assert sources.library.wording["gone_place"] in pages[code_uri("M9S3-D01")].text
    assert not any("private reason" in repr(page) for page in done.composed.pages)


def test_holdings_are_kept_with_the_code(demo: Sources) -> None:
    """A minted place's line says what is there, by name and kind."""
    _, register = code_every_place(demo, "lt-2107")
    kept: dict[str, Entry] = {entry.target: entry for entry in register.entries}
    assert "holds " in kept["gas-locker"].why
    assert ":gas-cylinder" in kept["gas-locker"].why
