"""A guide: all that is true for one unit. Frozen values that every later stage looks up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from generator.fit.notices import Reached
from generator.read.kinds import State
from generator.read.library import Caution, Routine
from generator.read.register import Entry
from generator.read.symptoms import Check, Symptom
from generator.read.tasks import Task
from generator.read.units import Dealer, Fitting, Spot, Unit

VEHICLE = "vehicle"
"""The name of the fitting that stands for the vehicle as a whole."""


@dataclass(frozen=True, slots=True)
class Variable:
    """A state of one fitting of this unit.

    `key` is `<fitting>.<state>`, or the state alone for the vehicle's own.
    """

    key: str
    fitting: str
    state: State

    @property
    def at_rest(self) -> str:
        """Return the value of a parked, closed-up unit."""
        return self.state.values[0]


@dataclass(frozen=True, slots=True)
class Need:
    """A variable and the values of it that will do."""

    key: str
    values: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BoundTask:
    """A task bound to the fitting that is its subject, in this unit."""

    task: Task
    slug: str
    title: str
    subject: Fitting
    roles: Mapping[str, Fitting]
    place: str
    """Empty for a task that stands at no hatch."""
    needs: tuple[Need, ...]
    sets: Mapping[str, str]
    during: Mapping[str, str]
    cautions: tuple[Caution, ...]
    """The gravest first."""
    staff_only: bool
    """Whether only the dealer's staff may do it on this unit, as on one that is hired out."""

    @property
    def for_reader(self) -> bool:
        """Return whether the reader may do it."""
        return not self.staff_only and not self.task.licensed


@dataclass(frozen=True, slots=True)
class BoundSymptom:
    """A symptom bound to its fitting, with the questions that apply to it."""

    symptom: Symptom
    slug: str
    title: str
    subject: Fitting
    checks: tuple[Check, ...]
    cautions: tuple[Caution, ...]


@dataclass(frozen=True, slots=True)
class Landing:
    """Where a sticker leads that is not the one in force for a place or a task of the guide."""

    entry: Entry
    """How its code stands in the register."""
    state: str
    """`spare`: its target has another sticker too; `retired`; `gone`: the guide lacks its target.
    """
    sort: str
    """What it leads to: a `place`, a `task`, an `area`, or the `unit` as a whole."""
    target: str
    """The place's name, the task's slug, the area's name, or nothing."""

    @property
    def code(self) -> str:
        """Return the code on the sticker."""
        return self.entry.code


@dataclass(frozen=True, slots=True)
class Guide:
    """All that is true for one unit, with every slug and code decided."""

    unit: Unit
    dealer: Dealer
    code: str
    fittings: Mapping[str, Fitting]
    """By name, the vehicle itself included."""
    places: tuple[Spot, ...]
    """Those at which something is fitted, in walk-round order."""
    place_codes: Mapping[str, str]
    task_codes: Mapping[str, str]
    landings: tuple[Landing, ...]
    """Of codes that are not in force for a place or task here; they still lead to a page."""
    variables: Mapping[str, Variable]
    tasks: tuple[BoundTask, ...]
    symptoms: tuple[BoundSymptom, ...]
    routines: tuple[Routine, ...]
    notices: tuple[Reached, ...] = ()
    """Safety notices in force, the newest first."""

    def tasks_at(self, place: str) -> tuple[BoundTask, ...]:
        """Return the tasks that are done at a place."""
        return tuple(task for task in self.tasks if task.place == place)

    def fittings_at(self, place: str) -> tuple[Fitting, ...]:
        """Return what is fitted at a place."""
        return tuple(
            f for f in self.fittings.values() if place in (f.place, *f.parts.values()) and place
        )
