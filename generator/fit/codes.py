"""Sticker codes: Crockford base32 with its check symbol, minted at random and never again.

A code is written `7K3Q-2RK`: four symbols for the unit, two for the spot, and the check symbol
over all six. Symbols and the check (value modulo 37): Douglas Crockford, "Base 32".
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from itertools import product

from generator.problems import Mark, Problem, ProblemsFound
from generator.read.register import Entry, Register

SYMBOLS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
CHECKS = SYMBOLS + "*~$=U"
"""The five extra check symbols are never used: they are hard to type and not all may stand in an
address, so a spot whose check would be one of them is passed over."""

UNIT_SYMBOLS = 4
HIDDEN_SYMBOLS = 10
"""Symbols of a unit's code that nobody can guess: 50 bits, more than a web host would answer."""

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
    return len(text) in (UNIT_SYMBOLS, HIDDEN_SYMBOLS) and set(text) <= set(SYMBOLS)


def is_code(text: str) -> bool:
    """Return whether a text is a whole code such as 7K3Q-2RK, its check symbol right."""
    unit, dash, spot = text.partition("-")
    plain = unit + spot
    if dash != "-" or not is_unit_code(unit) or len(spot) != SPOT_SYMBOLS + 1:
        return False
    if not set(plain) <= set(SYMBOLS):
        return False
    return check_symbol(plain[:-1]) == plain[-1]


def plain_code(typed: str) -> str:
    """Return a code as it is printed, from the way somebody typed it.

    Small letters, spaces and a missing dash do no harm, nor do O, I and L for the digits that
    they look like (Crockford, "Base 32", decoding).
    """
    symbols = "".join(typed.upper().split()).replace("-", "")
    symbols = symbols.translate(str.maketrans("OIL", "011"))
    if len(symbols) <= UNIT_SYMBOLS or len(symbols) == HIDDEN_SYMBOLS:
        return symbols
    return f"{symbols[: -SPOT_SYMBOLS - 1]}-{symbols[-SPOT_SYMBOLS - 1 :]}"


_LUCKY_DRAWS = 64
"""Draws before the codes that are still free are listed: a unit with few left would else make
minting take for ever."""


def mint_codes(
    register: Register,
    wanted: Mapping[str, Iterable[tuple[str, str]]],
    day: str,
    choose: Choose,
    about: Mapping[tuple[str, str, str], str] | None = None,
    unit_symbols: int = UNIT_SYMBOLS,
) -> tuple[Entry, ...]:
    """Return register entries for every unit and target that has no code yet.

    `wanted` gives for each unit its targets as (sort, name); `about` what is kept of a target
    (unit, sort, name) beside its name. A new unit's code has `unit_symbols`. A code that was ever
    issued, in whatever state, is never chosen again.

    Raises:
        ProblemsFound: a unit has had all the codes that begin with its own (some 880).
    """
    taken = set(register.latest)
    entries: list[Entry] = []
    at = Mark("units/register.csv")
    for unit, targets in wanted.items():
        lines = register.of_unit(unit)
        unit_code = lines.code_for(unit, "unit", "")
        while unit_code is None:
            candidate = "".join(SYMBOLS[choose(len(SYMBOLS))] for _ in range(unit_symbols))
            if candidate not in taken:
                unit_code = candidate
                taken.add(candidate)
                entries.append(Entry(candidate, unit, "unit", "", "minted", day, "", at))
        for sort, target in dict.fromkeys(targets):
            if lines.code_for(unit, sort, target) is not None:
                continue
            code = _free_code(unit_code, taken, choose)
            if code is None:
                wrong = f"has had all the codes that begin with {unit_code}-; none for '{target}'"
                right = "describe the vehicle under a new name, and print its stickers anew"
                raise ProblemsFound([Problem(Mark(f"units/{unit}.yml"), "unit", wrong, right)])
            taken.add(code)
            why = (about or {}).get((unit, sort, target), "")
            entries.append(Entry(code, unit, sort, target, "minted", day, why, at))
    return tuple(entries)


def _free_code(unit_code: str, taken: Collection[str], choose: Choose) -> str | None:
    """Return a code of a unit that was never issued, by chance, or None where none is left."""
    for _ in range(_LUCKY_DRAWS):
        spot = "".join(SYMBOLS[choose(len(SYMBOLS))] for _ in range(SPOT_SYMBOLS))
        code = _whole_code(unit_code, spot)
        if code and code not in taken:
            return code
    spots = ("".join(symbols) for symbols in product(SYMBOLS, repeat=SPOT_SYMBOLS))
    codes = (_whole_code(unit_code, spot) for spot in spots)
    free = [code for code in codes if code and code not in taken]
    return free[choose(len(free))] if free else None


def _whole_code(unit_code: str, spot: str) -> str:
    """Return a code with its check symbol; nothing where that is one that is never used."""
    check = check_symbol(unit_code + spot)
    return f"{unit_code}-{spot}{check}" if check in SYMBOLS else ""


def with_entries(register: Register, entries: Iterable[Entry]) -> Register:
    """Return the register with further entries at its end."""
    added = tuple(entries)
    latest = dict(register.latest) | {entry.code: entry for entry in added}
    return Register(register.entries + added, latest)
