"""Due dates of a unit, and the calendar file (RFC 5545) that a phone can import.

Nothing personal goes in: an event has a label, a day and the unit's public code.
"""

from __future__ import annotations

import calendar
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from generator.figures.figure import (
    Ask,
    Figure,
    FigureInputError,
    Given,
    Input,
    Origin,
    Row,
    Source,
    Sure,
)
from generator.read.fields import NAME

PRODUCT = "-//Lockerleaf//Owner guide//EN"
MOST_MONTHS = 240
REMIND_DAYS = 14

RFC_5545 = Source("RFC 5545", Sure.PUBLISHED)

_CODE = re.compile(r"[0-9A-Z]{2,20}")
_HOST = re.compile(r"[a-z0-9]([a-z0-9.-]{0,250}[a-z0-9])?")
_LINE_OCTETS = 75


@dataclass(frozen=True, slots=True)
class OwnDate:
    """Something that falls due: on a day that is marked, or so many months after one."""

    name: str
    """Stable: the calendar file's event keeps its identity by it (`cylinder-hose`)."""
    label: str
    due: date | None = None
    since: date | None = None
    months: int | None = None
    note: str = ""
    origin: Origin = Origin.UNIT


@dataclass(frozen=True, slots=True)
class Due:
    """Something that falls due on a day."""

    name: str
    label: str
    day: date
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DatesInput(Given):
    """A unit's own dates, and what its calendar's events are known by."""

    code: str
    """The unit's permanent public code."""
    host: str
    """Of the guide's address."""
    revised: date
    """Of the guide: newer events replace older ones."""
    own: tuple[OwnDate, ...]


@dataclass(frozen=True, slots=True)
class Dates:
    """What falls due, soonest first, and the calendar file's text."""

    due: tuple[Due, ...]
    calendar: str
    figures: tuple[Figure, ...]


def dates(given: DatesInput) -> Dates:
    """Return a unit's due dates and the calendar file for them."""
    due: list[Due] = []
    inputs: list[Input] = []
    asked: list[Ask] = []
    seen: set[str] = set()
    for one in given.own:
        if not NAME.fullmatch(one.name) or one.name in seen:
            raise FigureInputError("name", f"is {one.name!r:.40}", "a name of its own")
        seen.add(one.name)
        day = due_day(one)
        if day is None:
            asked.append(Ask(one.name, one.label, "a day, or a day and months after it"))
            continue
        due.append(Due(one.name, one.label, day, one.note))
        start = one.since if one.due is None and one.since else day
        inputs.append(Input(one.name, one.label, start.isoformat(), one.origin))
    ordered = tuple(sorted(due, key=lambda d: (d.day, d.name)))
    text = calendar_text(ordered, given.code, given.host, given.revised)
    return Dates(ordered, text, (_figure(ordered, tuple(inputs), tuple(asked)),))


def due_day(own: OwnDate) -> date | None:
    """Return the day that is marked, or else counted; None if neither is known."""
    if own.due is not None:
        return own.due
    if own.since is None or own.months is None:
        return None
    return months_after(own.since, own.months, own.name)


def months_after(day: date, months: int, key: str = "months") -> date:
    """Return the same day so many months later, or the last day of a shorter month."""
    if isinstance(months, bool) or not isinstance(months, int) or not 1 <= months <= MOST_MONTHS:
        raise FigureInputError(key, f"has {months!r:.40} months", f"1 to {MOST_MONTHS}, whole")
    years, month = divmod(day.month - 1 + months, 12)
    year, month = day.year + years, month + 1
    if year > date.max.year:
        raise FigureInputError(key, f"is due in the year {year}", "a day to come")
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))


def calendar_text(due: Iterable[Due], code: str, host: str, revised: date) -> str:
    """Return a calendar file: lines end in CR LF and are folded at 75 octets.

    An event is known by unit, name and host for ever, so a second import moves it and adds none.
    """
    if not _CODE.fullmatch(code):
        raise FigureInputError("code", f"is {code!r:.40}", "the unit's public code")
    if not _HOST.fullmatch(host):
        raise FigureInputError("host", f"is {host!r:.40}", "a host name in lower case")
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{PRODUCT}", "CALSCALE:GREGORIAN"]
    for one in due:
        lines += [
            "BEGIN:VEVENT",
            f"UID:{one.name}.{code}@{host}",
            f"DTSTAMP:{revised:%Y%m%d}T000000Z",
            f"DTSTART;VALUE=DATE:{_day(one.day)}",
            f"SUMMARY:{_escaped(one.label)}",
            *([f"DESCRIPTION:{_escaped(one.note)}"] if one.note else []),
            "TRANSP:TRANSPARENT",
            "BEGIN:VALARM",
            "ACTION:DISPLAY",
            f"DESCRIPTION:{_escaped(one.label)}",
            f"TRIGGER:-P{REMIND_DAYS}D",
            "END:VALARM",
            "END:VEVENT",
        ]
    lines.append("END:VCALENDAR")
    return "".join(_folded(line) + "\r\n" for line in lines)


def _day(day: date) -> str:
    return f"{day.year:04d}{day.month:02d}{day.day:02d}"


def _escaped(text: str) -> str:
    """Return a text as RFC 5545 wants it, without control characters and half characters."""
    plain = text.encode("utf-8", "ignore").decode("utf-8")
    plain = "\n".join(plain.splitlines()).replace("\t", " ")
    plain = "".join(c for c in plain if c == "\n" or (ord(c) >= 32 and not 127 <= ord(c) < 160))
    for mark in ("\\", ";", ","):
        plain = plain.replace(mark, "\\" + mark)
    return plain.replace("\n", "\\n")


def _folded(line: str) -> str:
    """Return a line broken where it would pass 75 octets, never within a character."""
    parts: list[str] = []
    part, octets = "", 0
    for one in line:
        size = len(one.encode("utf-8"))
        if octets + size > _LINE_OCTETS:
            parts.append(part)
            part, octets = "", 1  # the space that begins a continued line
        part, octets = part + one, octets + size
    return "\r\n ".join([*parts, part])


def _figure(due: tuple[Due, ...], inputs: tuple[Input, ...], asked: tuple[Ask, ...]) -> Figure:
    return Figure(
        name="due-dates",
        title="What falls due when",
        inputs=inputs,
        asked=asked,
        formula="The day that is marked, or a day of this unit and the months after it.",
        rows=tuple(Row(one.label, one.day.isoformat()) for one in due),
        notes=tuple(f"{one.label}: {one.note}" for one in due if one.note),
        sources=(RFC_5545,),
        defer="A date marked on the part itself comes first.",
    )
