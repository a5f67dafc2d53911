"""What can happen to a code after it was minted, each as one line for the register."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from generator.fit.codes import plain_code
from generator.fit.guide import Guide
from generator.problems import Mark, Problem, ProblemsFound, one_of
from generator.read.register import Entry, Register

LONGEST_WHY = 200


def code_in_use(register: Register, typed: str) -> Entry:
    """Return how a code stands that may still be moved or retired, as somebody typed it.

    Raises:
        ProblemsFound: it was never issued, is a unit's own, or is retired already.
    """
    code = plain_code(typed)
    entry = register.latest.get(code)
    if entry is None:
        right = one_of(register.latest, code) if register.latest else "a code of a sticker"
        raise _refused("code", f"'{typed}' was never issued", right)
    if entry.sort == "unit":
        wrong = f"'{code}' is the own code of {entry.unit}, with which all its others begin"
        raise _refused("code", wrong, "a code of a place or task, such as 7K3Q-2RK")
    if entry.event == "retired":
        wrong = f"'{code}' was retired on {entry.day}"
        raise _refused("code", wrong, "a code that is in use", entry.at)
    return entry


def retire_code(register: Register, typed: str, why: str, day: str) -> Entry:
    """Return the line that takes a sticker out of use; its page then says so for ever.

    Raises:
        ProblemsFound: the code is not in use, or no reason is given.
    """
    entry = code_in_use(register, typed)
    return replace(entry, event="retired", day=day, why=_reason(why))


def move_code(
    register: Register, guides: Mapping[str, Guide], typed: str, to: str, why: str, day: str
) -> Entry:
    """Return the line that tells where a sticker was glued on anew, in the same unit.

    `to` is a place of the unit, or else the slug of one of its tasks.

    Raises:
        ProblemsFound: the code is not in use, leads there already, or there is no such place.
    """
    entry = code_in_use(register, typed)
    guide = guides.get(entry.unit)
    if guide is None:
        wrong = f"'{entry.code}' belongs to {entry.unit}, which is no longer described"
        raise _refused("code", wrong, "a code of a unit that you have", entry.at)
    places = [place.name for place in guide.places if guide.tasks_at(place.name)]
    slugs = [task.slug for task in guide.tasks]
    if to in places:
        sort = "place"
    elif to in slugs:
        sort = "task"
    else:
        raise _refused("--to", f"{entry.unit} has no place or task '{to}'", one_of(places, to))
    if (entry.sort, entry.target) == (sort, to):
        wrong = f"'{entry.code}' leads to '{to}' already"
        raise _refused("--to", wrong, "another place or task", entry.at)
    return replace(entry, sort=sort, target=to, event="moved", day=day, why=_reason(why))


def _reason(why: str) -> str:
    reason = " ".join(why.split())
    if not reason or len(reason) > LONGEST_WHY:
        wrong = "is empty" if not reason else f"has {len(reason)} characters"
        raise _refused("--why", wrong, f"the reason, in at most {LONGEST_WHY} characters")
    return reason


def _refused(key: str, wrong: str, right: str, at: Mark | None = None) -> ProblemsFound:
    return ProblemsFound([Problem(at or Mark("units/register.csv"), key, wrong, right)])
