"""The scan proof reads what is printed, and says so when it cannot."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from generator.cli import printing
from generator.render.proof import ProofLine, missing_tools, prove_stickers
from render.paper import Ready, printed

STOCKS = sorted(
    path.stem for path in (Path(__file__).parents[2] / "docs_src" / "labels").glob("*.yml")
)


def prove(ready: Ready, unit: str, stock_name: str, first: int = 1) -> list[ProofLine]:
    """Return the proof of a unit's stickers on a label stock."""
    stock = ready.sources.library.labels[stock_name]
    stickers, sheet = printed(ready, unit, stock, first_label=first)
    return list(prove_stickers(sheet, stickers, stock, first_label=first))


@pytest.mark.slow
@pytest.mark.parametrize("stock_name", STOCKS)
@pytest.mark.parametrize("unit", ["cv-3004", "lt-2107"])
def test_every_sticker_reads(ready: Ready, unit: str, stock_name: str) -> None:
    """On every label stock each sticker leads where it should, at level Q and a size that holds."""
    lines = prove(ready, unit, stock_name)
    assert len(lines) == 1 + len(ready.guides[unit].place_codes)
    for line in lines:
        assert line.good
        assert line.level == "Q"
        assert line.module_mm > 0.75


@pytest.mark.slow
def test_a_part_used_sheet_is_read_from_its_first_free_label(ready: Ready) -> None:
    """The proof looks where printing began."""
    assert all(line.good for line in prove(ready, "lt-2107", "a4-12-of-63x72", first=6))


@pytest.mark.slow
def test_a_wrong_or_missing_symbol_is_no_proof(ready: Ready) -> None:
    """A sticker that leads elsewhere is not good, nor is a label with no symbol on it."""
    stock = ready.sources.library.labels["a4-12-of-63x72"]
    stickers, sheet = printed(ready, "lt-2107", stock)
    wrong = replace(stickers[0], address=stickers[0].address + "X/")
    (line,) = prove_stickers(sheet, [wrong], stock)
    assert not line.good
    assert line.read == stickers[0].address
    past_the_last = len(stickers) + 2
    (line,) = prove_stickers(sheet, stickers[:1], stock, first_label=past_the_last)
    assert (line.good, line.read, line.version) == (False, "", 0)


def test_command_tells_a_line_for_each_sticker(lockerleaf: Callable[..., str]) -> None:
    """Every sticker has its line, and nothing is written."""
    lines = lockerleaf("proof", "sm-1").splitlines()
    assert lines[0].startswith("M9S3  Owner guide: reads, version 3-Q, module ")
    assert len(lines) == 8
    assert all(": reads, " in line for line in lines)


def test_command_fails_where_one_cannot_be_read(
    lockerleaf: Callable[..., str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A sticker that cannot be read is named, with where it should lead."""
    real = prove_stickers

    def spoiled(*arguments: object) -> list[ProofLine]:
        lines = list(real(*arguments))
        return [replace(lines[0], read=""), *lines[1:]]

    monkeypatch.setattr(printing, "prove_stickers", spoiled)
    told = lockerleaf("proof", "sm-1").splitlines()
    assert told[0] == (
        "M9S3  Owner guide: cannot be read; should lead to HTTPS://SMALL.EXAMPLE/GUIDES/M9S3/"
    )
    assert told[-1] == "1 sticker cannot be read; do not print"


def test_missing_tools_are_one_line(
    lockerleaf: Callable[..., str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without the optional packages the command says how to install them."""
    assert missing_tools() == ()
    monkeypatch.setattr(printing, "missing_tools", lambda: ("zxing-cpp", "pypdfium2"))
    assert lockerleaf("proof", "sm-1") == (
        "Error: a proof needs zxing-cpp and pypdfium2; right: pip install 'lockerleaf[proof]'\n"
    )


def test_stickers_without_a_code_are_told(workspace: Path, lockerleaf: Callable[..., str]) -> None:
    """What has no code yet cannot be proven, and the proof issues none."""
    register = workspace / "units" / "register.csv"
    kept = [line for line in register.read_text().splitlines() if ",gas-locker," not in line]
    register.write_text("\n".join(kept) + "\n")
    before = register.read_bytes()
    assert lockerleaf("proof", "sm-1") == (
        "Error: 1 sticker has no code yet; right: lockerleaf mint, then proof\n"
    )
    assert register.read_bytes() == before
