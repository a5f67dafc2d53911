"""Units that are equipped alike: what was found of one is so for the others."""

from __future__ import annotations

from collections import deque
from collections.abc import Hashable, Iterable, Iterator
from typing import Generic, TypeVar

from generator.read.units import Unit

T = TypeVar("T")

MOST_GUIDES = 100
"""How many guides, without their pages, are kept in memory for units that are equipped alike."""


class Alike(Generic[T]):
    """Remembers what was found of units, for others that are equipped alike."""

    def __init__(self, most: int | None = None) -> None:
        """Take how much is remembered at most; the oldest is forgotten."""
        self._most = most
        self._found: dict[Hashable, deque[tuple[tuple[Unit, ...], T]]] = {}
        self._order: deque[Hashable] = deque()

    def find(self, *units: Unit) -> T | None:
        """Return what was last found of units that are alike, one by one, if there is."""
        return next(self.every(*units), None)

    def every(self, *units: Unit) -> Iterator[T]:
        """Yield all that was found of units that are alike, one by one, the newest first."""
        near = self._found.get(_outlines(units))
        equipped = tuple(unit.as_equipped() for unit in units) if near else ()
        return (found for known, found in near or () if known == equipped)

    def keep(self, found: T, *units: Unit) -> None:
        """Remember what was found of units."""
        outlines = _outlines(units)
        known = tuple(unit.as_equipped() for unit in units)
        self._found.setdefault(outlines, deque()).appendleft((known, found))
        self._order.append(outlines)
        if self._most is not None and len(self._order) > self._most:
            oldest = self._order.popleft()
            self._found[oldest].pop()
            if not self._found[oldest]:
                del self._found[oldest]


def _outlines(units: Iterable[Unit]) -> Hashable:
    """Return what is quickly compared, and equal for units that are equipped alike."""
    return tuple(
        (unit.sort, tuple(unit.places), tuple(fitting.name for fitting in unit.fitted))
        for unit in units
    )


def in_rows(units: Iterable[Unit]) -> list[list[Unit]]:
    """Return units by the model that they are based on: many of one model are alike."""
    rows: dict[tuple[str, ...], list[Unit]] = {}
    for unit in units:
        rows.setdefault(unit.files[1:2], []).append(unit)
    return list(rows.values())
