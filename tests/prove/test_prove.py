"""Proofs of whole guides: what is told when one fails, and trade facts that must come out."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from generator.compose.body import Body, read_body
from generator.fit.fit import fit_unit
from generator.fit.guide import BoundTask, Guide, Need
from generator.problems import Problems
from generator.prove.model import Action, Model, model_guide
from generator.prove.prove import Proof, prove_guide
from generator.read.sources import Sources, read_sources

Change = Callable[[str, str, str], None]
TASKS = "docs_src/tasks"


def guide_of(sources: Sources, name: str = "sm-1") -> Guide:
    """Return a unit's guide."""
    unit = sources.stock.units[name]
    return fit_unit(sources.library, unit, sources.stock.dealer, sources.register)


def told(root: Path) -> list[str]:
    """Return what proving the small unit of a workspace tells."""
    sources = read_sources(root)
    problems = Problems()
    prove_guide(guide_of(sources), sources.library, problems)
    return [str(problem) for problem in sorted(problems.found)]


def action_of(model: Model, name: str) -> Action:
    """Return an action by its name."""
    return next(action for action in model.actions if action.name == name)


@pytest.fixture(scope="module")
def model(small: Sources) -> Model:
    """Return the small unit's model."""
    return model_guide(guide_of(small), small.library.situations)


# The model -------------------------------------------------------------------------------------


def test_actions(model: Model) -> None:
    """Tasks that change something are actions, and so is what is done by hand."""
    assert [action.name for action in model.actions] == [
        "turn-off-gas",
        "turn-on-gas",
        "drain-water",
        "fill-water",
        "heat-water-gas",
        "heat-water-mains",
        "turn-off-water-heater",
        "empty-cassette",
        "park",
        "set-off",
        "by hand: loose-items stowed",
        "by hand: loose-items in-use",
        "by hand: toilet.bowl-valve shut",
        "by hand: door.door locked",
        "by hand: door.door unlocked",
    ]


def test_nobody_works_behind_a_locked_door(model: Model) -> None:
    """A task inside needs the door unlocked; one outside does not."""
    unlocked = Need("door.door", ("unlocked",))
    assert unlocked in action_of(model, "heat-water-mains").needs
    assert unlocked not in action_of(model, "heat-water-gas").needs


def test_by_hand_only_while_parked(model: Model) -> None:
    """Nobody is in the living space on the road."""
    by_hand = [action for action in model.actions if action.task is None]
    assert {action.needs for action in by_hand} == {(Need("journey", ("parked",)),)}


def test_situations(model: Model) -> None:
    """What a situation does not name is as a closed-up unit is left."""
    assert model.situations["on-the-road"] == {
        "journey": "moving",
        "gas-supply": "off",
        "loose-items": "stowed",
        "fresh-water.level": "drained",
        "heater.water": "drained",
        "heater.burner": "off",
        "heater.element": "off",
        "toilet.bowl-valve": "shut",
        "toilet.cassette": "in",
        "door.door": "locked",
    }


def test_licensed_work_is_no_step(workspace: Path, change: Change) -> None:
    """What only licensed people may do is never a step of a plan."""
    change(f"{TASKS}/gas/turn-on-gas.md", "minutes: 2", "minutes: 2\nlicensed: A gas engineer")
    sources = read_sources(workspace)
    model = model_guide(guide_of(sources), sources.library.situations)
    assert "turn-on-gas" not in {action.name for action in model.actions}


# What is told ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("task", "old", "new", "steps", "interlock"),
    [
        (
            "water/heat-water-mains",
            "needs: {subject.water: filled, journey: parked}\n",
            "",
            "from 'on the road, just arrived': (1) Park on the pitch "
            "[docs_src/tasks/towing/park.md] (2) by hand: door.door unlocked "
            "(3) Heat water on mains [docs_src/tasks/water/heat-water-mains.md]",
            "The element is on while the heater is empty",
        ),
        (
            "water/heat-water-gas",
            "  subject.water: filled\n",
            "",
            "from 'on the road, just arrived': (1) Park on the pitch "
            "[docs_src/tasks/towing/park.md] (2) Turn on the gas "
            "[docs_src/tasks/gas/turn-on-gas.md] (3) Heat water on gas "
            "[docs_src/tasks/water/heat-water-gas.md]",
            "The burner is on while the heater is empty",
        ),
        (
            "water/drain-water",
            "  water-heater.element: off\n",
            "",
            "from 'on the pitch, everything in use': (1) Turn off the water heater "
            "[docs_src/tasks/water/turn-off-water-heater.md] (2) Heat water on mains "
            "[docs_src/tasks/water/heat-water-mains.md] (3) Drain the water system "
            "[docs_src/tasks/water/drain-water.md]",
            "The element is on while the heater is empty",
        ),
        (
            "towing/set-off",
            "loose-items: stowed, ",
            "",
            "from 'on the road, just arrived': (1) Park on the pitch "
            "[docs_src/tasks/towing/park.md] (2) by hand: loose-items in-use "
            "(3) Set off [docs_src/tasks/towing/set-off.md]",
            "The caravan moves with things loose",
        ),
        (
            "towing/set-off",
            "gas-supply: off, ",
            "",
            "from 'on the pitch, everything in use': (1) by hand: loose-items stowed "
            "(2) Set off [docs_src/tasks/towing/set-off.md]",
            "The caravan moves with the gas on",
        ),
        (
            "gas/turn-on-gas",
            "needs: {journey: parked}\n",
            "",
            "from 'on the road, just arrived': (1) Turn on the gas "
            "[docs_src/tasks/gas/turn-on-gas.md]",
            "The caravan moves with the gas on",
        ),
    ],
)
def test_need_taken_away(
    workspace: Path,
    change: Change,
    task: str,
    old: str,
    new: str,
    steps: str,
    interlock: str,
) -> None:
    """A need that guards an interlock and lacks is told by a shortest way into it."""
    change(f"{TASKS}/{task}.md", old, new)
    lines = told(workspace)
    assert any(interlock in line for line in lines)
    assert any(steps in line for line in lines)


def test_done_by_hand_can_harm(workspace: Path, change: Change) -> None:
    """What is done by hand is held to the interlocks too: a burning heater's flue is covered."""
    change("units/sm-1.yml", "{id: heater, ", "{id: heater, flue_cover: yes, ")
    assert told(workspace) == [
        "docs_src/situations.yml:1:1: needs: in sm-1, The heater burns behind a covered flue: from "
        "'on the pitch, everything in use': at once; right: a need that prevents it "
        "(interlock covered-flue, docs_src/interlocks/never.yml:13)"
    ]


def test_only_while_it_is_done(workspace: Path, change: Change) -> None:
    """A cassette that is drawn is back at the end, but its valve must be shut meanwhile."""
    change("docs_src/kinds/cassette-toilet.yml", "by_hand: [shut]", "by_hand: [open, shut]")
    change(f"{TASKS}/toilet/empty-cassette.md", "subject.bowl-valve: shut, ", "")
    (line,) = told(workspace)
    assert "The cassette is out while the bowl valve is open" in line
    assert line.startswith("docs_src/tasks/toilet/empty-cassette.md:1:1: needs: ")


def test_interlock_with_a_condition(workspace: Path, change: Change) -> None:
    """A unit whose maker allows the gas to stay on is not held to the rule that it may not."""
    change(f"{TASKS}/towing/set-off.md", "gas-supply: off, ", "")
    assert len(told(workspace)) == 1
    change("units/sm-1.yml", "delivered:", "vehicle: {travels_with_gas: yes}\ndelivered:")
    assert told(workspace) == []


def test_needs_that_exclude_each_other(workspace: Path, change: Change) -> None:
    """A task whose needs can be met one by one, but never together, is told."""
    change(
        f"{TASKS}/safety/smell-of-gas.md",
        "emergency: 1",
        "needs: {journey: moving, loose-items: in-use}\nemergency: 1",
    )
    assert told(workspace) == [
        "docs_src/tasks/safety/smell-of-gas.md:1:1: needs: in sm-1 they can be met one by one, "
        "but never all at once; right: needs that no task has to undo for another"
    ]


# What steps do that send the reader to another task -------------------------------------------

DRAIN = f"{TASKS}/water/drain-water.md"
OFF = "1. [Turn off the water heater](task:turn-off-water-heater).\n1. Open the drain."


def test_a_called_task_brings_its_changes(workspace: Path, change: Change) -> None:
    """Turning off what is off already changes nothing, so nothing has to be said."""
    change(DRAIN, "1. Open the drain.", OFF)
    assert told(workspace) == []


def test_a_called_task_needs_something_unsaid(workspace: Path, change: Change) -> None:
    """A step that heats water on gas needs the gas on; the task must say so in its needs."""
    heat = "1. [Heat water on gas](task:heat-water-gas)."
    change(f"{TASKS}/water/fill-water.md", "2. Open", f"{heat}\n2. Open")
    (line,) = told(workspace)
    assert line.startswith("docs_src/tasks/water/fill-water.md:1:1: ")
    assert "a step does 'heat-water-gas', which needs gas-supply on; right: gas-supply: on" in line


def test_a_called_task_undoes_what_a_later_one_needs(workspace: Path, change: Change) -> None:
    """Gas that one step turns off is not on for the next; what is said is where it happens."""
    two = (
        "1. [Turn off the gas](task:turn-off-gas).\n"
        "1. If the water is cold, [heat it](task:heat-water-gas).\n1. "
    )
    change(
        f"{TASKS}/living/change-lamp.md",
        "subject: ",
        "needs: {gas-supply: on, water-heater.water: filled, water-heater.burner: off}\nsubject: ",
    )
    change(f"{TASKS}/living/change-lamp.md", "1. ", two)
    (line,) = told(workspace)
    assert "(text): in sm-1, a step does 'heat-water-gas', which needs gas-supply on; " in line
    assert "'turn-off-gas' has changed that before; right: the steps in another order" in line


def test_what_called_tasks_leave_is_said(workspace: Path, change: Change) -> None:
    """What a called task leaves is said in sets, or was surely so before."""
    lamp = f"{TASKS}/living/change-lamp.md"
    change(lamp, "subject: ", "needs: {water-heater.burner: off}\nsubject: ")
    change(lamp, "1. ", "1. [Turn off the gas](task:turn-off-gas).\n1. ")
    (line,) = told(workspace)
    assert line == (
        f"{lamp}:1:1: sets: in sm-1, its steps do 'turn-off-gas', which changes gas-supply unsaid; "
        "right: gas-supply: off"
    )
    change(lamp, "subject: ", "sets: {gas-supply: on}\nsubject: ")
    assert any("changes gas-supply unsaid" in line for line in told(workspace))
    change(lamp, "sets: {gas-supply: on}", "sets: {gas-supply: off}")
    assert told(workspace) == []


def test_a_detour_is_not_a_step(workspace: Path, change: Change) -> None:
    """What stands under "If not" leads off the way and is not followed."""
    way = "1. Look.\n   If not: [Turn off the gas](task:turn-off-gas).\n1. "
    change(f"{TASKS}/living/change-lamp.md", "1. ", way)
    assert told(workspace) == []


def test_a_state_only_where_a_condition_holds(workspace: Path, change: Change) -> None:
    """A value may be followed by a condition: the need falls away where it is not so."""
    task = f"{TASKS}/water/heat-water-mains.md"
    asked = "subject.water: filled"
    change(task, asked, f'{asked} if has("water-heater")')
    assert told(workspace) == []
    change(task, 'if has("water-heater")', 'if has("cassette-toilet") and not has("water-heater")')
    assert any("The element is on while the heater is empty" in line for line in told(workspace))


# Alternatives --------------------------------------------------------------------------------

ANY = """any:
  mains: {title: On mains, goal: {water-heater.element: on}, prefer: [heat-water-mains]}
  gas: {title: On gas, goal: {water-heater.burner: on}, prefer: [heat-water-gas], months: [7]}
  no: {title: Of another unit, when: not has("water-heater"), goal: {water-heater.element: on}}
  same: {title: The same again, goal: {water-heater.element: on}}
"""


def ways_of(sources: Sources) -> dict[str, list[str]]:
    """Return the heating tasks of the plans for arriving, by the way that they go."""
    problems = Problems()
    proof = prove_guide(guide_of(sources), sources.library, problems)
    assert problems.found == []
    plans = next(r for r in proof.routines if r.routine.name == "arrive").plans
    return {
        plan.way.name if plan.way else "": [s.name for s in plan.steps if "heat-" in s.name]
        for plan in plans
    }


def test_alternatives(workspace: Path, change: Change) -> None:
    """Each alternative that concerns a unit has a plan of its own; equal ones have one."""
    change("docs_src/routines/arrive.yml", "goal:\n", ANY + "goal:\n")
    change("docs_src/routines/arrive.yml", "  water-heater.element: on\n", "")
    change("docs_src/routines/arrive.yml", "  water-heater.burner: on\n", "")
    expected = {"mains": ["heat-water-mains"], "gas": ["heat-water-gas"]}
    assert ways_of(read_sources(workspace)) == expected
    assert [*ways_of(read_sources(workspace))] == ["mains", "gas"]
    change("units/sm-1.yml", "delivered:", "prefer: [heat-water-gas]\ndelivered:")
    assert [*ways_of(read_sources(workspace))] == ["gas", "mains"]


def test_alternative_that_cannot_be(workspace: Path, change: Change) -> None:
    """An alternative without a plan is left out; without any, the routine is told."""
    change("docs_src/routines/arrive.yml", "goal:\n", ANY + "goal:\n")
    change("docs_src/routines/arrive.yml", "  water-heater.element: on\n", "")
    change("docs_src/routines/arrive.yml", "  water-heater.burner: on\n", "")
    change(f"{TASKS}/water/heat-water-gas.md", "sets: {subject.burner: on}\n", "")
    assert ways_of(read_sources(workspace)) == {"mains": ["heat-water-mains"]}
    change(f"{TASKS}/water/heat-water-mains.md", "sets: {subject.element: on}\n", "")
    assert any("has no sequence of tasks for it" in line for line in told(workspace))


def test_providers(small: Sources) -> None:
    """Each need knows the tasks that bring it about."""
    proof = prove_guide(guide_of(small), small.library, Problems())
    ways = {need.key: [task.slug for task in tasks] for need, tasks in proof.providers.items()}
    assert (ways["gas-supply"], ways["heater.water"], ways["loose-items"]) == (
        ["turn-off-gas"],
        ["fill-water"],
        [],
    )


def test_preferred_tasks(small: Sources) -> None:
    """A routine's plan has each of its steps once, those for its goal and no other."""
    proof = prove_guide(guide_of(small), small.library, Problems())
    (plan,) = next(r for r in proof.routines if r.routine.name == "arrive").plans
    assert sorted(step.name for step in plan.steps) == [
        "by hand: door.door unlocked",
        "fill-water",
        "heat-water-gas",
        "heat-water-mains",
        "park",
        "turn-on-gas",
    ]
    assert plan.minutes == 5 + 15 + 3 + 2 + 2


# The demo fleet --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def proofs(demo: Sources) -> dict[str, tuple[Guide, Proof]]:
    """Return the demo units' guides and proofs, which must be clean."""
    problems = Problems()
    found = {}
    for name in demo.stock.units:
        guide = guide_of(demo, name)
        found[name] = (guide, prove_guide(guide, demo.library, problems))
    assert [str(problem) for problem in problems.found] == []
    return found


def needs_of(guide: Guide, task: str) -> dict[str, tuple[str, ...]]:
    """Return what a task of a guide needs, by state."""
    bound = next(bound for bound in guide.tasks if bound.task.name == task)
    return {need.key.rpartition(".")[2]: need.values for need in bound.needs}


def with_task(proofs: dict[str, tuple[Guide, Proof]], *tasks: str) -> list[tuple[Guide, str]]:
    """Return every guide that has one of these tasks, with it; at least one must."""
    found = [
        (guide, task)
        for guide, _ in proofs.values()
        for task in tasks
        if task in {bound.task.name for bound in guide.tasks}
    ]
    assert found
    return found


@pytest.mark.slow
def test_every_routine_has_every_plan(proofs: dict[str, tuple[Guide, Proof]]) -> None:
    """Each routine of each demo unit is planned from each of its situations."""
    for guide, proof in proofs.values():
        planned = {r.routine.name: {plan.situation for plan in r.plans} for r in proof.routines}
        assert planned == {routine.name: {*routine.starts} for routine in guide.routines}
        assert proof.interlocks >= 15  # the van without gas has 17


@pytest.mark.slow
@pytest.mark.parametrize(
    ("task", "need", "interlock"),
    [
        ("heat-water-mains", "water", "dry-heater-element"),
        ("heat-water-gas", "water", "dry-heater-burner"),
        ("heat-water-gas", "flue", "covered-water-heater-flue"),
        ("drain-water-heater", "element", "dry-heater-element"),
        ("run-combined-heater-mains", "water", "dry-combined-element"),
        ("cover-radiant-heating-flue", "burner", "covered-radiant-heating-flue"),
        ("run-fridge-gas", "vent-covers", "covered-fridge-vents"),
        ("empty-cassette", "bowl-valve", "cassette-drawn-open"),
        ("change-cylinder", "gas-supply", "cylinder-changed-gas-on"),
        ("change-cylinder", "ignition-sources", "cylinder-changed-ignition-near"),
        ("refuel", "gas-supply", "refuelling-gas-on"),
        ("set-off", "gas-supply", "gas-on-road"),
        ("set-off", "lead", "lead-in-on-road"),
        ("set-off", "step", "step-out-on-road"),
        ("set-off", "fixings", "fixings-unchecked-on-road"),
        ("remove-submersible-pump", "power", "dry-submersible-pump"),
        ("empty-fresh-tank", "power", "dry-pump"),
        ("raise-elevating-roof", "journey", "elevating-roof-up-on-road"),
    ],
)
def test_planted_fault(demo: Sources, task: str, need: str, interlock: str) -> None:
    """A need that is forgotten in the library is told with the task's file and the interlock."""
    written = demo.library.tasks[task]
    kept = tuple(ref for ref in written.needs if ref.state != need)
    assert len(kept) < len(written.needs)
    tasks = {**demo.library.tasks, task: replace(written, needs=kept)}
    library = replace(demo.library, tasks=tasks)
    problems = Problems()
    for unit in demo.stock.units.values():
        guide = fit_unit(library, unit, demo.stock.dealer, demo.register)
        if task in {bound.task.name for bound in guide.tasks}:
            prove_guide(guide, library, problems)
    lines = [str(problem) for problem in problems.found]
    file = f"docs_src/tasks/{written.area}/{task}.md"
    assert [line for line in lines if f"(interlock {interlock}," in line and file in line]


@pytest.mark.slow
def test_valve_shut_before_the_cassette_is_drawn(proofs: dict[str, tuple[Guide, Proof]]) -> None:
    """A cassette's waste valve is shut before it is drawn (common practice, no source)."""
    for guide, _ in proofs.values():
        drawing = [task for task in guide.tasks if "out" in _during(task, "cassette")]
        fitted = {fitting.kind for fitting in guide.fittings.values()}
        assert bool(drawing) == ("cassette-toilet" in fitted)
        for task in drawing:
            assert ("shut",) in [n.values for n in task.needs if n.key.endswith(".bowl-valve")]


def _during(task: BoundTask, state: str) -> list[str]:
    return [value for key, value in task.during.items() if key.endswith(f".{state}")]


@pytest.mark.slow
def test_water_at_every_hot_tap_before_heating(proofs: dict[str, tuple[Guide, Proof]]) -> None:
    """A water heater is switched on only when water runs (common practice, no source)."""
    tasks = ("heat-water-mains", "heat-water-gas", "run-combined-heater-mains")
    for guide, task in with_task(proofs, *tasks):
        assert needs_of(guide, task)["water"] == ("filled",)


@pytest.mark.slow
def test_says_that_water_runs_at_the_hot_taps(demo: Sources) -> None:
    """A filled heater is told by water at every hot tap (common practice, no source)."""
    for kind in ("water-heater", "combined-heater"):
        says = demo.library.kinds[kind].states["water"].says["filled"]
        assert "Water runs from every hot tap" in says


@pytest.mark.slow
def test_flue_uncovered_before_any_flame(proofs: dict[str, tuple[Guide, Proof]]) -> None:
    """A flue's cover is off before any flame behind it (common practice, no source)."""
    checked = 0
    for guide, _ in proofs.values():
        for task in guide.tasks:
            for key, value in task.sets.items():
                flue = f"{key.rpartition('.')[0]}.flue"
                flame = value in ("lit", "on") and key.endswith((".flame", ".burner"))
                if flame and flue in guide.variables:
                    assert Need(flue, ("uncovered",)) in task.needs
                    checked += 1
    assert checked > 0


@pytest.mark.slow
def test_lead_at_the_vehicle_first(demo: Sources) -> None:
    """The lead goes in at the vehicle before the post, and comes off the other way round.

    Common practice, no source.
    """
    for task, vehicle_first in (("connect-mains-lead", True), ("disconnect-mains-lead", False)):
        commands = [step.command.lower() for step in body_of(demo, task).steps]
        plugs = [c for c in commands if any(w in c for w in ("plug", "push the", "pull the"))]
        vehicle = next(i for i, c in enumerate(plugs) if "inlet" in c or "vehicle" in c)
        post = next(i for i, c in enumerate(plugs) if "post" in c or "pitch" in c)
        assert (vehicle < post) == vehicle_first


@pytest.mark.slow
def test_pilot_is_held_and_looked_at_again(demo: Sources) -> None:
    """A pilot is held for some 5 to 10 seconds and looked at later (common practice, no source)."""
    body = body_of(demo, "light-space-heater-pilot")
    text = " ".join(step.command for step in body.steps)
    held = [word for word in ("five", "ten", "5", "10") if f"{word} " in text and "seconds" in text]
    assert held
    assert "minutes" in body.afterwards + body.result + text


def body_of(sources: Sources, task: str) -> Body:
    """Return a task's text in its parts, as written."""
    written = sources.library.tasks[task]
    kept = "\n".join(line for line in written.body.split("\n") if not line.startswith("{%"))
    return read_body(kept, written.body_at, "any unit", Problems())
