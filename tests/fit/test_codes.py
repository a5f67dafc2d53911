"""Sticker codes: Crockford base32 with its check symbol, minted once and never again."""

from __future__ import annotations

import itertools
import random

import pytest

from generator.fit.codes import (
    CHECKS,
    HIDDEN_SYMBOLS,
    SYMBOLS,
    check_symbol,
    is_code,
    is_unit_code,
    mint_codes,
    plain_code,
    with_entries,
)
from generator.problems import Mark, ProblemsFound
from generator.read.register import Entry, Register

EMPTY = Register((), {})
DAY = "2026-05-01"
BED = ("place", "bed")


def value_of(symbols: str) -> int:
    """Return the number that symbols stand for, by Python's own base 32 after translation."""
    return int(symbols.translate(str.maketrans(SYMBOLS, "0123456789abcdefghijklmnopqrstuv")), 32)


def encoded(number: int) -> str:
    """Return the symbols of a number."""
    digits = ""
    while number:
        number, digit = divmod(number, 32)
        digits = SYMBOLS[digit] + digits
    return digits


def test_symbols() -> None:
    """The alphabet leaves out I, L, O and U (Douglas Crockford, "Base 32")."""
    assert (len(SYMBOLS), set("ILOU") & set(SYMBOLS), CHECKS[32:]) == (32, set(), "*~$=U")


@pytest.mark.parametrize(
    ("symbols", "check"),
    [
        # Published example of the format: 1234 is 16J, its check symbol D.
        ("16J", "D"),
        # From the project's print measurements: 7K3QF gives check E.
        ("7K3QF", "E"),
        # 0 to 36 are their own check symbols (value modulo 37).
        ("0", "0"),
        ("Z", "Z"),
        ("10", "*"),
        ("14", "U"),
        ("15", "0"),
    ],
)
def test_check_symbol(symbols: str, check: str) -> None:
    """The check symbol is the value modulo 37."""
    assert check_symbol(symbols) == check


def test_published_number() -> None:
    """1234 is written 16J, the example of the format's own description."""
    assert (encoded(1234), value_of("16J")) == ("16J", 1234)


def sample(count: int) -> list[str]:
    """Return codes as they are minted."""
    entries = mint_codes(
        EMPTY,
        {f"unit-{n}": [("place", "a"), ("place", "b")] for n in range(count)},
        DAY,
        random.Random(5).randrange,
    )
    return [entry.code for entry in entries if entry.sort == "place"]


def test_every_single_error_is_caught() -> None:
    """A code with any one symbol typed wrongly is no code."""
    missed = [
        (code, position, symbol)
        for code in sample(20)
        for position, right in enumerate(code)
        for symbol in SYMBOLS
        if right not in ("-", symbol) and is_code(code[:position] + symbol + code[position + 1 :])
    ]
    assert missed == []


def test_every_adjacent_swap_is_caught() -> None:
    """A code with two neighbours swapped, also across the dash, is no code."""
    tried, missed = 0, []
    for code in sample(200):
        plain = code.replace("-", "")
        for position in range(6):
            swapped = list(plain)
            swapped[position : position + 2] = reversed(swapped[position : position + 2])
            if plain != "".join(swapped):
                tried += 1
                typed = "".join(swapped)
                if is_code(f"{typed[:4]}-{typed[4:]}"):
                    missed.append(code)
    assert (tried > 2000, missed) == (True, [])


@pytest.mark.parametrize(
    "text",
    [
        "",
        "7K3Q",
        "7K3Q-C0",
        "7K3QC0K",
        "7K3-QC0K",
        "7K3Q-C0K-",
        "7k3q-c0k",
        "7K3Q-CUK",
        "7K3Q-C0K ",
        "7K3Q-../",
        "7K3Q-C0*",
    ],
)
def test_no_code(text: str) -> None:
    """Only a whole code, in capitals, with its dash and its check symbol, is one."""
    assert not is_code(text)


def test_codes() -> None:
    """A unit's code and a spot's code are told apart."""
    assert [is_code("7K3Q-C0K"), is_unit_code("7K3Q"), is_unit_code("7K3Q-C0K")] == [
        True,
        True,
        False,
    ]


def test_minted_codes_are_unique_and_whole() -> None:
    """Thousands of codes: none twice, each right, none with one of the five extra checks."""
    wanted = {f"unit-{n}": [("place", f"place-{m}") for m in range(40)] for n in range(100)}
    codes = [e.code for e in mint_codes(EMPTY, wanted, DAY, random.Random(1).randrange)]
    spots = [code for code in codes if "-" in code]
    assert len(set(codes)) == len(codes) == 100 + 4000
    assert all(is_code(code) for code in spots)
    assert all(is_unit_code(code) for code in set(codes) - set(spots))
    assert set("".join(spots)) == {*SYMBOLS, "-"}


def test_extra_checks_are_passed_over() -> None:
    """A spot whose check symbol would be one of the five extra ones is not taken."""
    unit = [0, 0, 0, 0]
    refused = [(1, value) for value in range(5)]  # 10, 11, 12, 13, 14: checks * ~ $ = U
    assert [check_symbol(SYMBOLS[a] + SYMBOLS[b]) for a, b in refused] == list("*~$=U")
    draws = iter([*unit, *itertools.chain(*refused), 1, 5])
    codes = [entry.code for entry in mint_codes(EMPTY, {"u": [BED]}, DAY, lambda _: next(draws))]
    assert codes == ["0000", "0000-150"]


@pytest.mark.parametrize("event", ["minted", "printed", "moved", "retired"])
def test_never_again(event: str) -> None:
    """A code that was ever issued is not chosen again, however it stands now."""
    at = Mark("units/register.csv")
    old = [
        Entry("0000", "u", "unit", "", "minted", DAY, "", at),
        Entry("0000-011", "u", "place", "old", event, DAY, "", at),
    ]
    register = with_entries(EMPTY, old)
    draws = iter([0, 1, 0, 2])
    codes = [e.code for e in mint_codes(register, {"u": [BED]}, DAY, lambda _: next(draws))]
    assert codes == ["0000-022"]


def test_unit_codes_do_not_repeat() -> None:
    """Two units never share a code, though chance should draw it twice."""
    draws = iter([0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1])
    codes = [e.code for e in mint_codes(EMPTY, {"u": [], "v": []}, DAY, lambda _: next(draws))]
    assert codes == ["0000", "0001"]


def test_what_has_a_code_keeps_it() -> None:
    """Minting again changes nothing, and asks chance for nothing."""
    first = mint_codes(EMPTY, {"u": [BED]}, DAY, random.Random(3).randrange)
    register = with_entries(EMPTY, first)
    assert mint_codes(register, {"u": [BED]}, DAY, lambda _: 1 // 0) == ()


def test_a_target_named_twice_gets_one_code() -> None:
    """A target that is wanted twice in one go has one code."""
    entries = mint_codes(EMPTY, {"u": [BED, BED]}, DAY, random.Random(3).randrange)
    assert [entry.target for entry in entries] == ["", "bed"]


def test_the_last_codes_of_a_unit_are_found_and_then_told() -> None:
    """A unit with few codes left still gets them; one with none is told, and minting ends.

    1024 spots less those whose check symbol is one of the five extra ones.
    """
    (home,) = mint_codes(EMPTY, {"u": []}, DAY, random.Random(4).randrange)
    whole = sum(check_symbol(home.code + a + b) in SYMBOLS for a in SYMBOLS for b in SYMBOLS)
    targets = [("place", f"spot-{number}") for number in range(whole + 1)]
    entries = mint_codes(EMPTY, {"u": targets[:-1]}, DAY, random.Random(4).randrange)
    codes = {entry.code for entry in entries}
    assert (len(codes), all(is_code(code) or is_unit_code(code) for code in codes)) == (
        whole + 1,
        True,
    )
    register = with_entries(EMPTY, entries)
    with pytest.raises(ProblemsFound) as found:
        mint_codes(register, {"u": targets}, DAY, random.Random(4).randrange)
    assert str(found.value) == (
        f"units/u.yml:1:1: unit: has had all the codes that begin with {home.code}-; none for "
        f"'spot-{whole}'; right: describe the vehicle under a new name, and print its stickers anew"
    )


def test_codes_that_nobody_can_guess() -> None:
    """A unit's part of ten symbols: its spots are checked alike, and it is read as it is typed."""
    draw = random.Random(7)
    entries = mint_codes(EMPTY, {"u": [BED]}, DAY, draw.randrange, None, HIDDEN_SYMBOLS)
    unit, spot = (entry.code for entry in entries)
    assert len(unit) == 10
    assert is_unit_code(unit)
    assert is_code(spot)
    assert spot.startswith(f"{unit}-")
    assert value_of(spot.replace("-", "")[:-1]) % 37 == CHECKS.index(spot[-1])
    for code in (unit, spot):
        assert plain_code(code.lower().replace("-", " ")) == code


def test_other_lengths_are_no_codes() -> None:
    """Only the two lengths of a unit's part are ever minted."""
    for length in range(1, 14):
        assert is_unit_code("7" * length) == (length in (4, 10))
