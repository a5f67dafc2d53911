"""Where the stickers lead that are no longer the ones in force for a place or a task.

A sticker is glued on for fifteen years: whatever is renamed, moved or taken out of the unit's
description, its code leads to the nearest page that makes sense.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise

from generator.fit.guide import BoundTask, Landing
from generator.read.library import Library
from generator.read.register import Entry, Register
from generator.read.units import Fitting, Spot, Unit

_HOLDS = "holds "
"""How a minted place's line in the register begins to say what is there, `fitting:kind` each."""


def tell_holding(fittings: Iterable[Fitting]) -> str:
    """Return what the register keeps of a place beside its name, for when the place is gone."""
    return _HOLDS + " ".join(f"{fitting.name}:{fitting.kind}" for fitting in fittings)


def find_landings(
    library: Library,
    unit: Unit,
    places: Sequence[Spot],
    tasks: Sequence[BoundTask],
    register: Register,
    kept: Iterable[str],
) -> tuple[Landing, ...]:
    """Return where each code of a unit leads that is not among `kept`, the ones in force."""
    known = set(kept)
    stray = [
        entry
        for entry in register.of_unit(unit.name).latest.values()
        if entry.sort != "unit" and entry.code not in known
    ]
    if not stray:
        return ()
    nearest = _Nearest(library, unit, places, tasks, _renamed(register, unit.name))
    landings = []
    for entry in stray:
        exact = nearest.exact(entry.sort, entry.target)
        if entry.event == "retired":
            sort, target = exact or ("unit", "")
            landings.append(Landing(entry, "retired", sort, target))
        elif exact:
            landings.append(Landing(entry, "spare", *exact))
        else:
            minted = register.history(entry.code)[0]
            landings.append(Landing(entry, "gone", *nearest.to(entry, minted)))
    return tuple(landings)


def _renamed(register: Register, unit: str) -> dict[tuple[str, str], tuple[str, str]]:
    """Return what each target became, as (sort, name), where stickers of it were moved on."""
    became = {}
    for entry in register.of_unit(unit).latest.values():
        events = register.history(entry.code)
        for before, after in pairwise(events):
            old, new = (before.sort, before.target), (after.sort, after.target)
            if after.event == "moved" and old != new:
                became[old] = new
    return became


class _Nearest:
    """Finds the nearest page of a guide to what it no longer has."""

    def __init__(
        self,
        library: Library,
        unit: Unit,
        places: Sequence[Spot],
        tasks: Sequence[BoundTask],
        became: Mapping[tuple[str, str], tuple[str, str]],
    ) -> None:
        self.library = library
        self.places = {place.name for place in places}
        self.tasks = tasks
        self.slugs = {task.slug for task in tasks}
        self.areas = {task.task.area for task in tasks}
        self.fitted = {fitting.name: fitting for fitting in unit.fitted}
        self.became = became

    def exact(self, sort: str, target: str) -> tuple[str, str] | None:
        """Return the target itself where it is in the guide."""
        found = target in (self.places if sort == "place" else self.slugs)
        return (sort, target) if found else None

    def to(self, entry: Entry, minted: Entry) -> tuple[str, str]:
        """Return the nearest page as (sort, name)."""
        target, seen = (entry.sort, entry.target), set()
        while target in self.became and target not in seen:
            seen.add(target)
            target = self.became[target]
            if found := self.exact(*target):
                return found
        if entry.sort == "task":
            return self._for_task(entry.target)
        return self._for_place(minted.why if minted.target == entry.target else "")

    def _for_task(self, slug: str) -> tuple[str, str]:
        name, _, fitting = slug.partition("--")
        same = [task for task in self.tasks if task.task.name == name]
        mine = [task for task in same if task.subject.name == fitting] or same
        if len(mine) == 1:
            return "task", mine[0].slug
        task = self.library.tasks.get(name)
        return self._area(task.area if task else "")

    def _for_place(self, holding: str) -> tuple[str, str]:
        held = [
            word.partition(":")
            for word in holding.removeprefix(_HOLDS).split()
            if holding.startswith(_HOLDS)
        ]
        now = [self.fitted[name] for name, _, _ in held if name in self.fitted]
        moved_to = {fitting.place for fitting in now}
        if len(moved_to) == 1 and moved_to <= self.places:
            return "place", moved_to.pop()
        kinds = [self.library.kinds[kind] for _, _, kind in held if kind in self.library.kinds]
        areas = Counter(kind.area for kind in kinds if kind.area in self.areas)
        return self._area(areas.most_common(1)[0][0] if areas else "")

    def _area(self, area: str) -> tuple[str, str]:
        return ("area", area) if area in self.areas else ("unit", "")
