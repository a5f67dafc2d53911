"""What `lockerleaf check` remarks beyond mistakes: gaps between library and units."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from generator.fit.codes import is_code, is_unit_code
from generator.fit.guide import VEHICLE, Guide
from generator.problems import Mark, Problem, ProblemsFound
from generator.read.library import Library, task_snippets
from generator.read.notices import Notice
from generator.read.register import Entry, Register
from generator.read.sources import Sources
from generator.read.tasks import STEP_LINE


@dataclass(frozen=True, slots=True)
class Remark:
    """Something to look at. A serious one makes the check fail."""

    at: Mark
    text: str
    serious: bool
    unit: str = ""
    """Whose guide it is about; none where it is about the library, a notice or the dealer."""


@dataclass(frozen=True, slots=True)
class Gaps:
    """How complete a unit is: how many remarks on it are serious, and how many are not."""

    missing: int
    warnings: int


def gaps_of(remarks: Iterable[Remark]) -> Mapping[str, Gaps]:
    """Return the gaps of each unit that has any."""
    serious: Counter[str] = Counter()
    lesser: Counter[str] = Counter()
    for remark in remarks:
        if remark.unit:
            (serious if remark.serious else lesser)[remark.unit] += 1
    return {unit: Gaps(serious[unit], lesser[unit]) for unit in sorted({*serious, *lesser})}


def remark_units(guides: Iterable[Guide]) -> tuple[Remark, ...]:
    """Return what the guides lack: equipment that no task explains, places that nothing uses."""
    remarks = []
    for guide in guides:
        name = guide.unit.name
        explained = {
            fitting.name for task in guide.tasks for fitting in (task.subject, *task.roles.values())
        }
        for fitting in guide.fittings.values():
            if fitting.name not in explained and fitting.kind != VEHICLE:
                text = f"{name}: no task explains {fitting.name} ({fitting.kind})"
                remarks.append(Remark(fitting.at, text, True, name))
        used = {place.name for place in guide.places}
        for spot in guide.unit.places.values():
            if spot.name not in used:
                text = f"{name}: nothing is fitted at {spot.name}"
                remarks.append(Remark(spot.at, text, True, name))
            elif not guide.tasks_at(spot.name):
                text = f"{name}: no task is done at {spot.name}, so it gets no sticker"
                remarks.append(Remark(spot.at, text, False, name))
    return tuple(remarks)


def tell_reached(guide: Guide) -> Iterator[tuple[str, str]]:
    """Yield each safety notice that reaches a unit, with the unit's stickers that lead to it."""
    for one in guide.notices:
        codes = ", ".join(_codes_about(guide, one.fittings))
        yield one.notice.name, f"{guide.unit.name} ({codes or 'all stickers'})"


def remark_notices(
    reached: Iterable[tuple[str, str]], notices: Iterable[Notice]
) -> tuple[Remark, ...]:
    """Return which units each safety notice reaches, from what was told of each."""
    by_name: dict[str, list[str]] = {}
    for name, unit in reached:
        by_name.setdefault(name, []).append(unit)
    remarks = []
    for notice in notices:
        told = "; ".join(by_name.get(notice.name, ())) or "no unit here"
        cleared = f"; cleared in {', '.join(sorted(notice.cleared))}" if notice.cleared else ""
        text = f"notice of {notice.issued}: reaches {told}{cleared}"
        remarks.append(Remark(notice.at, text, False))
    return tuple(remarks)


def _codes_about(guide: Guide, fittings: Iterable[str]) -> list[str]:
    """Return the codes of the stickers at this equipment."""
    places: dict[str, None] = {}
    for name in fittings:
        fitting = guide.fittings[name]
        places |= dict.fromkeys((fitting.place, *fitting.parts.values()))
    return [guide.place_codes[place] for place in places if place in guide.place_codes]


def remark_codes(guides: Iterable[Guide], register: Register) -> tuple[Remark, ...]:
    """Return the stickers whose place or task was edited away, with where they lead now."""
    remarks = []
    for guide in guides:
        for landing in guide.landings:
            if landing.state != "gone":
                continue
            entry, spots = landing.entry, guide.unit.places
            likely = (
                landing.target
                if landing.sort in ("place", "task")
                else next(_newer_places(guide, entry, register), "PLACE")
            )
            edit = (
                f"{entry.sort} '{entry.target}' was removed or renamed"
                if entry.sort == "task" or entry.target not in spots
                else f"nothing is fitted at '{entry.target}' any more"
            )
            leads = {
                "place": f"place '{landing.target}'",
                "task": f"task '{landing.target}'",
                "area": f"the tasks of '{landing.target}'",
                "unit": "the guide's first page",
            }[landing.sort]
            text = (
                f"{guide.unit.name}: sticker {entry.code} leads to {leads}, for {edit}; right: "
                f"lockerleaf move {entry.code} --to {likely} --why …, or retire it"
            )
            remarks.append(Remark(entry.at, text, False, guide.unit.name))
    return tuple(remarks)


def _newer_places(guide: Guide, gone: Entry, register: Register) -> Iterator[str]:
    """Yield places that got their code after one that is gone: what it may be called now."""
    for place, code in guide.place_codes.items():
        first = register.history(code)
        if not first or first[0].day > gone.day:
            yield place


def remark_departed(sources: Sources) -> tuple[Remark, ...]:
    """Return the units that are described no more, with how many of their stickers are out."""
    remarks = []
    for name in sorted(set(sources.register.units()) - sources.stock.names):
        codes = list(sources.register.of_unit(name).latest.values())
        many = "1 code leads" if len(codes) == 1 else f"{len(codes)} codes lead"
        text = (
            f"{name}: units/{name}.yml was removed or renamed; {many} to the page that says that "
            "this vehicle has left you"
        )
        remarks.append(Remark(codes[0].at, text, False))
    return tuple(remarks)


def remark_library(library: Library) -> tuple[Remark, ...]:
    """Return what in the library can never be seen: impossible tasks, unused snippets, cautions."""
    remarks = []
    for task in library.tasks.values():
        kinds = {role.kind for role in task.roles if not role.optional} | {task.subject}
        for kind in sorted(kinds - set(library.kinds)):
            remarks.append(Remark(task.at, f"can never match: no kind '{kind}'", True))
        if task.when is not None and _contradicts(task.when.source, library, task.subject):
            text = f"can never match: no {task.subject} can meet '{task.when.source}'"
            remarks.append(Remark(task.at, text, True))
    used = {name for task in library.tasks.values() for name in task_snippets(task, library)}
    for name in sorted(set(library.snippets) - used):
        at = Mark(library.snippet_files[name])
        remarks.append(Remark(at, f"snippet '{name}' is never used", True))
    shown = {hazard.caution for kind in library.kinds.values() for hazard in kind.hazards}
    for task in library.tasks.values():
        shown.update(task.cautions)
        shown.update(_step_cautions(task.body))
    for symptom in library.symptoms.values():
        shown.update(symptom.cautions)
    for text in library.snippets.values():
        shown.update(_step_cautions(text))
    for caution in library.cautions.values():
        if caution.name not in shown:
            remarks.append(Remark(caution.at, f"caution '{caution.name}' is never used", True))
    return tuple(remarks)


def _step_cautions(text: str) -> set[str]:
    found = (STEP_LINE.match(line) for line in text.split("\n"))
    return {match["text"].strip() for match in found if match and match["label"] == "Caution"}


def _contradicts(condition: str, library: Library, kind: str) -> bool:
    """Return whether a condition compares an attribute with a choice that it cannot have."""
    attributes = {field.name: field for field in library.kinds[kind].attributes}
    for name, value in re.findall(r"subject\.(\w+) == [\"']([^\"']+)[\"']", condition):
        field = attributes.get(name)
        if field and field.choices and value not in field.choices:
            return " or " not in condition
    for value, name in re.findall(r"[\"']([^\"']+)[\"'] in subject\.(\w+)", condition):
        field = attributes.get(name)
        if field and field.choices and value not in field.choices:
            return " or " not in condition
    return False


def refuse_broken_codes(sources: Sources, register: Register) -> None:
    """Stop where a code is malformed: its landing page could not be built."""
    problems = []
    for code, entry in register.latest.items():
        unit_code = register.code_for(entry.unit, "unit", "")
        if not (is_unit_code(code) if entry.sort == "unit" else is_code(code)):
            wrong = f"'{code}' is no code that was ever minted"
        elif entry.sort != "unit" and unit_code and not code.startswith(f"{unit_code}-"):
            wrong = f"'{code}' does not begin with {entry.unit}'s code {unit_code}"
        else:
            continue
        problems.append(Problem(entry.at, "code", wrong, "restore the register from git"))
    if problems:
        raise ProblemsFound(problems)
