"""The symbols against ISO/IEC 18004:2015 and against segno, which shares no code with ours.

Table numbers of the standard as segno's source cites them; annex letters from memory, each value
reproduced by segno or the qrcode library.
"""

from __future__ import annotations

import re

import numpy as np
import pytest
import qrcode
import qrcode.base
import qrcode.constants
import qrcode.util
import segno
import zxingcpp

from generator.render.qr import (
    DOT_MM,
    LEAST_DOTS,
    MASK,
    MOST_DOTS,
    QUIET_MODULES,
    fitting_dots,
    make_symbol,
)

LEVELS = {
    "L": qrcode.constants.ERROR_CORRECT_L,
    "M": qrcode.constants.ERROR_CORRECT_M,
    "Q": qrcode.constants.ERROR_CORRECT_Q,
    "H": qrcode.constants.ERROR_CORRECT_H,
}

NUMERIC, ALPHANUMERIC, BYTE = (
    qrcode.util.MODE_NUMBER,
    qrcode.util.MODE_ALPHA_NUM,
    qrcode.util.MODE_8BIT_BYTE,
)

Matrix = tuple[tuple[bool, ...], ...]

# ISO/IEC 18004:2015, figure 25: the places of the format information's fifteen bits, the most
# significant first, as (row, column); its second copy counts from the far edges.
FORMAT_FIRST = (
    *((8, column) for column in (0, 1, 2, 3, 4, 5, 7, 8)),
    *((row, 8) for row in (7, 5, 4, 3, 2, 1, 0)),
)
FORMAT_SECOND = (
    *((-row, 8) for row in range(1, 8)),
    *((8, -column) for column in range(8, 0, -1)),
)


def bits_at(matrix: Matrix, spots: tuple[tuple[int, int], ...]) -> int:
    """Return the number that modules spell, the most significant first."""
    value = 0
    for row, column in spots:
        value = value * 2 + matrix[row][column]
    return value


def library_matrix(text: str, level: str, version: int, mask: int) -> Matrix:
    """Return what the qrcode library makes of a text, all choices forced."""
    code = qrcode.QRCode(version, error_correction=LEVELS[level], border=0, mask_pattern=mask)
    code.add_data(text)
    code.make(fit=False)
    return tuple(tuple(bool(module) for module in row) for row in code.get_matrix())


def least_version(count: int, mode: int, level: str) -> int:
    """Return the least version that the qrcode library finds for so many characters."""
    text = {NUMERIC: b"7", ALPHANUMERIC: b"A", BYTE: b"a"}[mode] * count
    code = qrcode.QRCode(error_correction=LEVELS[level])
    code.add_data(qrcode.util.QRData(text, mode=mode))
    return code.best_fit(start=1)


# ISO/IEC 18004:2015, table 7.
CAPACITIES = (
    (1, "L", (41, 25, 17)),
    (1, "H", (17, 10, 7)),
    (2, "Q", (48, 29, 20)),
    (2, "H", (34, 20, 14)),
    (3, "Q", (77, 47, 32)),
    (4, "H", (82, 50, 34)),
)


@pytest.mark.parametrize(("version", "level", "capacities"), CAPACITIES)
def test_capacities_are_the_standards(
    version: int, level: str, capacities: tuple[int, int, int]
) -> None:
    """As many characters fit as table 7 says, and one more needs the next version."""
    for mode, capacity in zip((NUMERIC, ALPHANUMERIC, BYTE), capacities, strict=True):
        assert least_version(capacity, mode, level) == version
        assert least_version(capacity + 1, mode, level) == version + 1


# ISO/IEC 18004:2015, table 7, the largest symbol.
@pytest.mark.parametrize(
    ("mode", "level", "capacity"),
    [(ALPHANUMERIC, "L", 4296), (BYTE, "L", 2953), (ALPHANUMERIC, "H", 1852)],
)
def test_largest_symbol_holds_what_the_standard_says(mode: int, level: str, capacity: int) -> None:
    """Version 40 is just enough for the capacity of table 7, and nothing holds one more."""
    assert least_version(capacity, mode, level) == 40
    with pytest.raises(ValueError, match=r"was 41"):
        least_version(capacity + 1, mode, level)


# ISO/IEC 18004:2015, table 7, level Q, alphanumeric: 29 in version 2, 47 in version 3.
@pytest.mark.parametrize(("length", "version"), [(29, 2), (30, 3), (47, 3), (48, 4)])
def test_our_symbol_takes_the_least_version(length: int, version: int) -> None:
    """Our symbol changes version exactly where table 7 says."""
    symbol = make_symbol("A" * length)
    assert symbol.version == version
    assert len(symbol.rows) == 17 + 4 * version  # ISO/IEC 18004:2015, table 1


# ISO/IEC 18004:2015, table 9: (codewords in all, data) of each block.
@pytest.mark.parametrize(
    ("version", "level", "blocks"),
    [
        (1, "L", [(26, 19)]),
        (2, "Q", [(44, 22)]),
        (2, "H", [(44, 16)]),
        (3, "Q", [(35, 17)] * 2),
        (5, "Q", [(33, 15)] * 2 + [(34, 16)] * 2),
    ],
)
def test_codewords_are_the_standards(
    version: int, level: str, blocks: list[tuple[int, int]]
) -> None:
    """Blocks, codewords and data codewords are those of table 9."""
    found = qrcode.base.rs_blocks(version, LEVELS[level])
    assert [(block.total_count, block.data_count) for block in found] == blocks


# ISO/IEC 18004:2015, annex C.
@pytest.mark.parametrize(
    ("level", "mask", "bits"),
    [
        ("M", 0, 0x5412),
        ("L", 0, 0x77C4),
        ("Q", 0, 0x355F),
        ("H", 0, 0x1689),
        ("H", 7, 0x083B),
    ],
)
def test_format_information_is_the_standards(level: str, mask: int, bits: int) -> None:
    """Both copies of the format bits, read from the library's matrix, are those of annex C."""
    matrix = library_matrix("LOCKER", level, 2, mask)
    assert bits_at(matrix, FORMAT_FIRST) == bits
    assert bits_at(matrix, FORMAT_SECOND) == bits


def test_our_symbol_declares_level_q_and_its_mask() -> None:
    """The format bits in our own matrix say level Q with the pinned mask, in both copies.

    ISO/IEC 18004:2015, annex C: level Q (11), mask 2 (010) is 0x3F31 after masking with 0x5412.
    """
    rows = make_symbol("HTTPS://WDL.EXAMPLE/7K3Q/4FE/").rows
    assert MASK == 2
    assert bits_at(rows, FORMAT_FIRST) == 0x3F31
    assert bits_at(rows, FORMAT_SECOND) == 0x3F31


# ISO/IEC 18004:2015, annex D: bit 17 (most significant) to 0, in blocks of six by three.
@pytest.mark.parametrize(("version", "bits"), [(7, 0x07C94), (40, 0x28C69)])
def test_version_information_is_the_standards(version: int, bits: int) -> None:
    """Both copies of the version bits, read from the library's matrix, are those of annex D."""
    matrix = library_matrix("LOCKER", "Q", version, MASK)
    size = len(matrix)
    lower_left = tuple((size - 11 + n % 3, n // 3) for n in range(17, -1, -1))
    upper_right = tuple((column, row) for row, column in lower_left)
    assert bits_at(matrix, lower_left) == bits
    assert bits_at(matrix, upper_right) == bits


# ISO/IEC 18004:2015, annex E.
@pytest.mark.parametrize(
    ("version", "centres"), [(2, [6, 18]), (7, [6, 22, 38]), (14, [6, 26, 46, 66])]
)
def test_alignment_centres_are_the_standards(version: int, centres: list[int]) -> None:
    """Alignment patterns have the centres of annex E, in the table and in the matrix itself."""
    assert qrcode.util.pattern_position(version) == centres
    matrix = library_matrix("LOCKER", "Q", version, MASK)
    for row in centres:
        for column in centres:
            if {row, column} <= {centres[0], centres[-1]} and (row, column) != (
                centres[-1],
                centres[-1],
            ):
                continue  # a finder pattern stands there
            for dy in range(-2, 3):
                for dx in range(-2, 3):
                    ring = max(abs(dx), abs(dy))
                    assert matrix[row + dy][column + dx] == (ring != 1)


def ends_on_a_codeword(length: int) -> bool:
    """Return whether an alphanumeric message with its terminator fills whole codewords.

    Mode 4 bits, count 9 bits below version 10, 11 bits a pair, 6 for an odd last character,
    terminator 4 (ISO/IEC 18004:2015, 7.4.4 and 7.4.9).
    """
    return (4 + 9 + length // 2 * 11 + length % 2 * 6 + 4) % 8 == 0


@pytest.mark.parametrize("length", range(1, 61))
def test_independent_encoder_and_decoder_agree(length: int) -> None:
    """Segno makes the identical matrix, and zxing-cpp reads ours, for every length up to 60.

    Where a message ends on a codeword, segno 1.6 adds eight zero bits that 7.4.10 does not ask
    for, so there only the decoder is asked.
    """
    text = "HTTPS://WDL.EXAMPLE/7K3Q/4FE/0123456789-ABCDEFGHJKMNPQRSTVWX"[:length]
    ours = make_symbol(text)
    theirs = segno.make(
        text,
        error="q",
        version=ours.version,
        mode="alphanumeric",
        mask=MASK,
        micro=False,
        boost_error=False,
    )
    if not ends_on_a_codeword(length):
        assert ours.rows == tuple(tuple(bool(module) for module in row) for row in theirs.matrix)
    dark = np.pad(np.array(ours.rows, np.uint8), QUIET_MODULES)
    (found,) = zxingcpp.read_barcodes(np.kron(1 - dark, np.full((4, 4), 255, np.uint8)))
    assert (found.text, found.ec_level) == (text, "Q")


def test_a_reprint_is_the_same_symbol() -> None:
    """The same address gives the same matrix, so that a reprint matches the first print."""
    address = "HTTPS://WDL.EXAMPLE/7K3Q/4FE/"
    assert make_symbol(address) == make_symbol(address)
    assert make_symbol(address).rows != make_symbol(address.replace("4FE", "4FF")).rows


@pytest.mark.parametrize("text", ["https://wdl.example/", "HTTPS://WDL.EXAMPLE/?A=1", "GRÖSSE"])
def test_what_the_alphanumeric_mode_lacks_is_refused(text: str) -> None:
    """Characters outside table 5 are refused, not silently encoded as bytes."""
    with pytest.raises(ValueError, match=r"^not in the alphanumeric mode: "):
        make_symbol(text)


def test_drawing_is_the_matrix() -> None:
    """The path's rectangles, put back on a grid, are the matrix with four clear modules round it.

    Four modules: ISO/IEC 18004:2015, 6.3.8.
    """
    symbol = make_symbol("HTTPS://WDL.EXAMPLE/7K3Q/4FE/")
    svg = symbol.svg()
    size = symbol.size
    assert f'viewBox="0 0 {size} {size}"' in svg
    ground, ink = re.findall(r'<path fill="(#\w+)" d="([^"]+)"/>', svg)
    assert ground == ("#fff", f"M0 0h{size}v{size}h-{size}z")
    assert ink[0] == "#000"
    runs = re.findall(r"M(\d+) (\d+)h(\d+)v1h-(\d+)z", ink[1])
    assert "".join(f"M{x} {y}h{w}v1h-{back}z" for x, y, w, back in runs) == ink[1]
    grid = [[False] * size for _ in range(size)]
    for x, y, width, back in (tuple(map(int, run)) for run in runs):
        assert width == back
        for column in range(x, x + width):
            assert not grid[y][column]
            grid[y][column] = True
    clear = [False] * QUIET_MODULES
    assert QUIET_MODULES == 4
    inner = [[*clear, *row, *clear] for row in symbol.rows]
    blank = [[False] * size] * QUIET_MODULES
    assert grid == [*blank, *inner, *blank]


def test_runs_are_merged() -> None:
    """Each row has as few rectangles as it has runs: seams would show as hairlines in print."""
    symbol = make_symbol("HTTPS://WDL.EXAMPLE/7K3Q/4FE/")
    runs = sum(
        1 for row in symbol.rows for x, dark in enumerate(row) if dark and not (x and row[x - 1])
    )
    assert symbol.svg().count("M") - 1 == runs


@pytest.mark.parametrize("room_mm", [25.2, 27.95, 30.8, 33.0, 44.7])
def test_modules_are_whole_printer_dots(room_mm: float) -> None:
    """The symbol is the largest of whole dots at 300 dpi that fits the room."""
    symbol = make_symbol("HTTPS://WDL.EXAMPLE/7K3Q/4FE/")
    dots = fitting_dots(symbol, room_mm)
    assert isinstance(dots, int)
    assert dots * symbol.size * 25.4 / 300 <= room_mm
    assert dots == MOST_DOTS or (dots + 1) * symbol.size * 25.4 / 300 > room_mm


def test_too_little_room_is_refused() -> None:
    """Nine dots at 300 dpi, 0.762 mm a module, are the least; less room gives none."""
    symbol = make_symbol("HTTPS://WDL.EXAMPLE/7K3Q/4FE/")
    least_mm = LEAST_DOTS * symbol.size * DOT_MM
    assert round(LEAST_DOTS * DOT_MM, 3) == 0.762
    assert fitting_dots(symbol, least_mm) == LEAST_DOTS
    assert fitting_dots(symbol, least_mm - 0.01) is None
