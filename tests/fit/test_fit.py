"""Fitting: which tasks a unit gets, what they are bound to, and what they are called."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from generator.fit.fit import fit_unit, variable_key, walk_key, wanted_codes
from generator.fit.guide import BoundTask, Guide, Need
from generator.flow import finish_guides
from generator.problems import Problems
from generator.prove.prove import prove_guide
from generator.read.sources import Sources, read_sources

Change = Callable[[str, str, str], None]
UNIT = "units/sm-1.yml"
MODEL = "units/models/small-2.yml"


def guide_of(sources: Sources, name: str = "sm-1") -> Guide:
    """Return a unit's guide."""
    unit = sources.stock.units[name]
    return fit_unit(sources.library, unit, sources.stock.dealer, sources.register)


def task_of(guide: Guide, slug: str) -> BoundTask:
    """Return one task of a guide."""
    return next(task for task in guide.tasks if task.slug == slug)


@pytest.fixture(scope="module")
def guide(small: Sources) -> Guide:
    """Return the small unit's guide."""
    return guide_of(small)


def test_tasks(guide: Guide) -> None:
    """The unit gets each task that fits, in the order of areas, once for each subject."""
    assert [task.slug for task in guide.tasks] == [
        "turn-off-gas",
        "turn-on-gas",
        "drain-water",
        "fill-water",
        "heat-water-gas",
        "heat-water-mains",
        "turn-off-water-heater",
        "empty-cassette",
        "change-lamp--lamp",
        "change-lamp--lamp-left",
        "park",
        "set-off",
        "smell-of-gas",
    ]


def test_places_of_tasks(guide: Guide) -> None:
    """A task stands at its subject's place, at a part's, at a role's, or nowhere."""
    slugs = ["turn-on-gas", "heat-water-gas", "heat-water-mains", "set-off", "smell-of-gas"]
    assert [task_of(guide, slug).place for slug in slugs] == [
        "gas-locker",
        "heater-flue",
        "seat",
        "entrance",
        "",
    ]


def test_part_without_a_place_of_its_own(workspace: Path, change: Change) -> None:
    """A part that the unit does not place elsewhere is where its fitting is."""
    change(MODEL, ", parts: {flue: heater-flue}", "")
    assert task_of(guide_of(read_sources(workspace)), "heat-water-gas").place == "seat"


def test_conditions_over_the_subject(workspace: Path, change: Change) -> None:
    """A heater that knows no gas brings no task on gas, no state of it and no question about it."""
    change(UNIT, "{id: heater, ", "{id: heater, energy: mains, ")
    guide = guide_of(read_sources(workspace))
    assert "heat-water-gas" not in {task.slug for task in guide.tasks}
    assert "heater.burner" not in guide.variables
    symptom = next(s for s in guide.symptoms if s.slug == "no-hot-water")
    assert [check.ask for check in symptom.checks] == [
        "Does water run from the cold tap?",
        "Is the switch for the mains element lit?",
    ]


def test_states_of_what_is_fitted(guide: Guide) -> None:
    """A unit has the states of its equipment; a state whose condition fails is not there."""
    assert sorted(guide.variables) == [
        "door.door",
        "fresh-water.level",
        "gas-supply",
        "heater.burner",
        "heater.element",
        "heater.water",
        "journey",
        "loose-items",
        "toilet.bowl-valve",
        "toilet.cassette",
    ]


def test_state_with_a_condition(workspace: Path, change: Change) -> None:
    """A flue that has a cover can be covered; one that has none needs no thought."""
    change(UNIT, "{id: heater, ", "{id: heater, flue_cover: yes, ")
    guide = guide_of(read_sources(workspace))
    assert Need("heater.flue", ("uncovered",)) in task_of(guide, "heat-water-gas").needs


def test_states_of_equipment_that_lacks(workspace: Path, change: Change) -> None:
    """Needs on equipment that a unit lacks fall away."""
    change(UNIT, "delivered:", "without: [heater, heater-flue]\ndelivered:")
    change(UNIT, "  - {id: heater, capacity_l: 14, mains_w: [500, 850], serial: 000123}\n", "")
    guide = guide_of(read_sources(workspace))
    assert task_of(guide, "turn-off-gas").needs == ()
    assert task_of(guide, "set-off").needs == (
        Need("gas-supply", ("off",)),
        Need("loose-items", ("stowed",)),
    )


def test_needs_sets_and_what_is_so_meanwhile(guide: Guide) -> None:
    """States are bound to this unit's fittings."""
    task = task_of(guide, "empty-cassette")
    assert (task.needs, task.sets, task.during) == (
        (Need("toilet.bowl-valve", ("shut",)), Need("journey", ("parked",))),
        {"toilet.cassette": "in"},
        {"toilet.cassette": "out"},
    )


def test_a_kind_means_each_of_its_fittings(workspace: Path, change: Change) -> None:
    """`kind.state` speaks of every fitting of that kind."""
    change(
        UNIT,
        "fitted:\n",
        "fitted:\n  - {id: boiler, kind: water-heater, place: bed, energy: gas, capacity_l: 5, "
        "flue_cover: no}\n",
    )
    guide = guide_of(read_sources(workspace))
    needs = {need.key: need.values for need in task_of(guide, "turn-off-gas").needs}
    assert needs == {"heater.burner": ("off",), "boiler.burner": ("off",)}
    assert task_of(guide, "drain-water").sets == {
        "fresh-water.level": "drained",
        "heater.water": "drained",
        "boiler.water": "drained",
    }


def test_two_needs_on_one_state(
    workspace: Path, write: Callable[[str, str], Path], change: Change
) -> None:
    """A need that is said twice, of the kind and of the subject, holds in both senses."""
    change(
        "docs_src/tasks/water/heat-water-mains.md",
        "{subject.water: filled, journey: parked}",
        "{subject.element: off, water-heater.element: [off, on], journey: parked}",
    )
    needs = task_of(guide_of(read_sources(workspace)), "heat-water-mains").needs
    assert Need("heater.element", ("off",)) in needs


def test_several_of_a_kind(guide: Guide) -> None:
    """Two lamps make two pages of one task, each about its own lamp."""
    lamps = [task for task in guide.tasks if task.task.name == "change-lamp"]
    assert [(lamp.slug, lamp.subject.title, lamp.subject.values["bulb_w"]) for lamp in lamps] == [
        ("change-lamp--lamp", "Reading lamp", 5),
        ("change-lamp--lamp-left", "Left lamp", 3.5),
    ]


def test_one_of_a_kind_has_a_plain_name(workspace: Path, change: Change) -> None:
    """One lamp alone keeps the task's own name."""
    change(UNIT, "delivered:", "without: [lamp]\ndelivered:")
    guide = guide_of(read_sources(workspace))
    assert [task.slug for task in guide.tasks if task.task.name == "change-lamp"] == ["change-lamp"]


def test_optional_role(workspace: Path, change: Change) -> None:
    """A task whose optional equipment lacks is there without it."""
    change(UNIT, "delivered:", "without: [heater, heater-flue]\ndelivered:")
    change(UNIT, "  - {id: heater, capacity_l: 14, mains_w: [500, 850], serial: 000123}\n", "")
    assert dict(task_of(guide_of(read_sources(workspace)), "fill-water").roles) == {}


def test_role_that_lacks(workspace: Path, change: Change) -> None:
    """A task whose equipment lacks is not in the guide."""
    change(UNIT, "delivered:", "without: [door]\ndelivered:")
    assert "set-off" not in {task.slug for task in guide_of(read_sources(workspace)).tasks}


def test_nearest_of_several_is_meant(workspace: Path, change: Change) -> None:
    """Of several fittings for a role, the one at the subject's own place is bound."""
    change(
        UNIT,
        "fitted:\n",
        "fitted:\n  - {id: boiler, kind: water-heater, place: water-inlet, energy: gas, "
        "capacity_l: 5, flue_cover: no}\n",
    )
    task = task_of(guide_of(read_sources(workspace)), "fill-water")
    assert task.roles["boiler"].name == "boiler"


def test_cautions(guide: Guide) -> None:
    """A task shows its kind's hazards and its own cautions, the gravest first."""
    shown = [(caution.word, caution.name) for caution in task_of(guide, "heat-water-gas").cautions]
    assert shown == [
        ("danger", "carbon-monoxide"),
        ("warning", "scald"),
        ("notice", "dry-heater"),
    ]


def test_hazard_with_a_condition(workspace: Path, change: Change) -> None:
    """A heater that burns nothing has no exhaust to warn of."""
    change(UNIT, "{id: heater, ", "{id: heater, energy: mains, ")
    task = task_of(guide_of(read_sources(workspace)), "heat-water-mains")
    assert [caution.name for caution in task.cautions] == ["scald", "dry-heater"]


def test_walk_round(guide: Guide) -> None:
    """Places come front, nearside, rear, offside from the rear on, then inside."""
    assert [place.name for place in guide.places] == [
        "gas-locker",
        "heater-flue",
        "entrance",
        "toilet-hatch",
        "water-inlet",
        "seat",
        "bed",
    ]
    assert list(guide.places) == sorted(guide.places, key=walk_key(guide.unit))


def test_codes(guide: Guide) -> None:
    """Places and tasks have the codes that the register gives them; others are strays."""
    assert (
        guide.code,
        guide.place_codes["entrance"],
        dict(guide.task_codes),
        [landing.code for landing in guide.landings],
    ) == (
        "M9S3",
        "M9S3-D2T",
        {"change-lamp--lamp-left": "M9S3-7EZ"},
        ["M9S3-3SS"],
    )


def test_wanted_codes(guide: Guide) -> None:
    """Every place at which a task is done gets a sticker."""
    assert wanted_codes(guide) == tuple(("place", place.name) for place in guide.places)


def test_no_sticker_where_nothing_is_done(workspace: Path, change: Change) -> None:
    """A place that only holds something gets none."""
    change(MODEL, ", parts: {flue: heater-flue}", ", parts: {flue: heater-flue}, title: Boiler")
    change(MODEL, "  - {id: door, kind: entrance-door, place: entrance}\n", "")
    change(
        MODEL,
        "fitted:\n",
        "fitted:\n  - {id: door, kind: entrance-door, place: bed}\n"
        "  - {id: back-door, kind: entrance-door, place: entrance}\n",
    )
    guide = guide_of(read_sources(workspace))
    assert "entrance" in {place.name for place in guide.places}
    assert ("place", "entrance") not in wanted_codes(guide)


def test_keys_of_the_vehicle(guide: Guide) -> None:
    """The vehicle's own states go by their name alone."""
    assert [variable_key("vehicle", "journey"), variable_key("door", "door")] == [
        "journey",
        "door.door",
    ]


def test_routine_with_a_condition(workspace: Path, change: Change) -> None:
    """A routine whose condition fails is not in the guide."""
    change("docs_src/routines/arrive.yml", "order: 1", "order: 1\nwhen: unit.sort == 'campervan'")
    guide = guide_of(read_sources(workspace))
    assert [routine.name for routine in guide.routines] == ["leave"]


def test_values_reach_only_their_own_unit(
    workspace: Path, write: Callable[[str, str], Path]
) -> None:
    """Two units on one model do not share what only one of them says."""
    write("units/sm-2.yml", "unit: sm-2\nbased_on: small-2\ntitle: Two\n")
    sources = read_sources(workspace)
    capacities = {
        name: guide_of(sources, name).fittings["heater"].values["capacity_l"]
        for name in sources.stock.units
    }
    assert capacities == {"sm-1": 14, "sm-2": 10}


def test_small_unit_proves(small: Sources, guide: Guide) -> None:
    """The small unit, which all these tests bend, is in order as it stands."""
    problems = Problems()
    proof = prove_guide(guide, small.library, problems)
    assert (problems.found, proof.interlocks, len(proof.routines)) == ([], 5, 2)


def test_staff_only_tasks_have_no_steps_and_no_part_in_plans(demo: Sources) -> None:
    """On a hired unit, what only staff may do is named, but neither explained nor planned."""
    unit = demo.stock.units["hr-6001"]
    done = finish_guides(demo, demo.register, [unit.name])[0]
    kept = {task.slug for task in done.guide.tasks if task.staff_only}
    assert kept == set(unit.staff_only)
    pages = {page.uri: page for page in done.composed.pages}
    for slug in kept:
        text = pages[f"task/{slug}.md"].text
        assert demo.library.wording["staff_only"] in text
        assert '<section class="work"' not in text
    planned = {s.name for r in done.proof.routines for p in r.plans for s in p.steps}
    assert not kept & planned
