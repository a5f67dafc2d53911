"""Values of a fitting as a reader would say them, in the language of the page."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import date

from generator.compose.wording import Wording
from generator.read.expressions import StatedDay, day_of
from generator.read.translated import Shown

_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip
_POINT = re.compile(r"(?<=\d)\.(?=\d)")


@dataclass(frozen=True, slots=True)
class Tongue:
    """How a language says dates, numbers, and yes and no."""

    yes: str = "yes"
    no: str = "no"
    last: str = "and"
    """Before the last of several."""
    day: str = "{day} {month} {year}"
    months: tuple[str, ...] = _MONTHS
    decimal: str = "."
    told: set[date] = field(default_factory=set, compare=False)
    """The unit's own days that were said: they may differ between units that are equipped alike."""

    @classmethod
    def of(cls, say: Wording) -> Tongue:
        """Return what a wording says of its language."""
        return cls(
            yes=say("yes"),
            no=say("no"),
            last=say("and"),
            day=say("date", day="{day}", month="{month}", year="{year}"),
            months=tuple(month.strip() for month in say("months").split(",")),
            decimal=say("decimal"),
        )

    def own_date(self, day: date) -> str:
        """Return a date of the unit as people say it, and remember that it was said."""
        self.told.add(day)
        return self.date(day)

    def date(self, day: date) -> str:
        """Return a date as people say it."""
        return self.day.format(day=day.day, month=self.months[day.month - 1], year=day.year)

    def number(self, text: str) -> str:
        """Return a number that is written with a point as people write it."""
        return text if self.decimal == "." else _POINT.sub(self.decimal, text)


PLAIN = Tongue()


def spoken(value: object, tongue: Tongue = PLAIN) -> str:
    """Return a fitting's value as a reader would say it, without its unit of measure."""
    if isinstance(value, bool):
        return tongue.yes if value else tongue.no
    if isinstance(value, date):
        return tongue.own_date(value)
    if isinstance(value, StatedDay):
        return tongue.own_date(day_of(value))
    if isinstance(value, tuple):
        words = [spoken(item, tongue) for item in value]
        return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {tongue.last} {words[-1]}"
    if isinstance(value, Shown):
        return value.shown
    return tongue.number(str(value)) if isinstance(value, int | float) else str(value)
