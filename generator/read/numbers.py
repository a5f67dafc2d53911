"""The pages of numbers, by the names under which tasks and kinds of equipment lead to them."""

from __future__ import annotations

from collections.abc import Iterable

from generator.problems import Mark, Problems, one_of

NUMBERS = (
    "pitch",
    "gas",
    "hot-water",
    "battery",
    "water",
    "masses",
    "tyres",
    "weather",
    "dates",
)
"""In the order in which a guide lists them."""


def check_numbers(names: Iterable[str], at: Mark, problems: Problems) -> None:
    """Note every name that names no page of numbers."""
    for name in names:
        if name not in NUMBERS:
            problems.add(at, "numbers", f"no page of numbers '{name}'", one_of(NUMBERS, name))
