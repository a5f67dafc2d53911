"""Sticker codes: Crockford base32 with its check symbol, minted at random and never again.

A code is written `7K3Q-2RK`: four symbols for the unit, two for the spot, and the check symbol
over all six. Symbols and the check (value modulo 37): Douglas Crockford, "Base 32".
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from generator.problems import Mark
from generator.read.register import Entry, Register

SYMBOLS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
CHECKS = SYMBOLS + "*~$=U"
"""The five extra check symbols are never used: they are hard to type and not all may stand in an
address, so a spot whose check would be one of them is passed over."""

UNIT_SYMBOLS = 4
SPOT_SYMBOLS = 2

Choose = Callable[[int], int]
"""A source of randomness: a whole number from 0 up to, not including, the one given."""


def check_symbol(symbols: str) -> str:
    """Return the check symbol of a code without one (value modulo 37)."""
    value = 0
    for symbol in symbols:
        value = value * 32 + SYMBOLS.index(symbol)
    return CHECKS[value % 37]


def is_unit_code(text: str) -> bool:
    """Return whether a text is a unit's code such as 7K3Q."""
    return len(text) == UNIT_SYMBOLS and set(text) <= set(SYMBOLS)


def is_code(text: str) -> bool:
    """Return whether a text is a whole code such as 7K3Q-2RK, its check symbol right."""
    unit, dash, spot = text.partition("-")
    plain = unit + spot
    if dash != "-" or len(unit) != UNIT_SYMBOLS or len(spot) != SPOT_SYMBOLS + 1:
        return False
    if not set(plain) <= set(SYMBOLS):
        return False
    return check_symbol(plain[:-1]) == plain[-1]


def mint_codes(
    register: Register,
    wanted: Mapping[str, Iterable[tuple[str, str]]],
    day: str,
    choose: Choose,
) -> tuple[Entry, ...]:
    """Return register entries for every unit and target that has no code yet.

    `wanted` gives for each unit its targets as (sort, name). A code that was ever issued, in
    whatever state, is never chosen again.
    """
    taken = set(register.latest)
    entries: list[Entry] = []
    at = Mark("units/register.csv")

    def symbols(count: int) -> str:
        return "".join(SYMBOLS[choose(len(SYMBOLS))] for _ in range(count))

    for unit, targets in wanted.items():
        lines = register.of_unit(unit)
        unit_code = lines.code_for(unit, "unit", "")
        while unit_code is None:
            candidate = symbols(UNIT_SYMBOLS)
            if candidate not in taken:
                unit_code = candidate
                taken.add(candidate)
                entries.append(Entry(candidate, unit, "unit", "", "minted", day, "", at))
        for sort, target in dict.fromkeys(targets):
            if lines.code_for(unit, sort, target) is not None:
                continue
            while True:
                spot = symbols(SPOT_SYMBOLS)
                check = check_symbol(unit_code + spot)
                code = f"{unit_code}-{spot}{check}"
                if check in SYMBOLS and code not in taken:
                    break
            taken.add(code)
            entries.append(Entry(code, unit, sort, target, "minted", day, "", at))
    return tuple(entries)


def with_entries(register: Register, entries: Iterable[Entry]) -> Register:
    """Return the register with further entries at its end."""
    added = tuple(entries)
    latest = dict(register.latest) | {entry.code: entry for entry in added}
    return Register(register.entries + added, latest)
