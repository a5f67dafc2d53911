"""Values of a fitting as a reader would say them."""

from __future__ import annotations

from datetime import date


def spoken_date(day: date) -> str:
    """Return a date as people say it."""
    return f"{day.day} {day:%B %Y}"


def spoken(value: object) -> str:
    """Return a fitting's value as a reader would say it, without its unit of measure."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, date):
        return spoken_date(value)
    if isinstance(value, tuple):
        words = [spoken(item) for item in value]
        return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
    return str(value)
