"""Two commands at the same moment, as two desks would run them."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from generator.cli import workspace as commands
from generator.fit.codes import with_entries
from generator.problems import Problems
from generator.publish.register import add_to_register
from generator.read.register import Entry, Register, read_register
from generator.read.sources import read_sources

REPOSITORY = Path(__file__).resolve().parents[2]


def forget_codes(workspace: Path) -> None:
    """Leave a register in which nothing has a code."""
    register = workspace / "units" / "register.csv"
    register.write_text(register.read_text().splitlines()[0] + "\n")


def test_two_commands_mint_together(workspace: Path) -> None:
    """Three processes that print the same unit's stickers issue each code once."""
    forget_codes(workspace)
    running = [
        subprocess.Popen(
            [sys.executable, "-m", "generator", "stickers", "sm-1"],
            cwd=workspace,
            env={**os.environ, "PYTHONPATH": str(REPOSITORY)},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
        )
        for _ in range(3)
    ]
    told = [process.communicate()[0].decode() for process in running]
    assert told == ["print/sm-1/stickers.pdf\n"] * 3
    problems = Problems()
    register = read_register(workspace, problems)
    assert problems.found == []
    targets = [entry.target for entry in register.entries]
    assert sorted(targets) == sorted(set(targets))
    assert len(targets) == 8


def test_what_another_issued_meanwhile_is_on_the_pages(
    workspace: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The loser of a race takes the winner's code for a place, and issues only what is missing."""
    forget_codes(workspace)
    sources = read_sources(workspace)
    theirs = [
        Entry("7K3Q", "sm-1", "unit", "", "minted", "2026-01-01", "", sources.stock.dealer.at),
        Entry(
            "7K3Q-C0K", "sm-1", "place", "bed", "minted", "2026-01-01", "", sources.stock.dealer.at
        ),
    ]
    finish = commands.finish_guides
    monkeypatch.setattr(
        commands,
        "finish_guides",
        lambda *given: [
            finish(*given),
            add_to_register(workspace, lambda r: [] if r.entries else theirs),
        ][0],
    )
    (done,), register, new = commands.finish_with_codes(sources, ["sm-1"])
    assert (done.guide.code, done.guide.place_codes["bed"]) == ("7K3Q", "7K3Q-C0K")
    assert {entry.target for entry in new} == set(done.guide.place_codes) - {"bed"}
    assert all(code.startswith("7K3Q-") for code in done.guide.place_codes.values())
    assert with_entries(Register((), {}), register.entries).latest == register.latest
    assert read_register(workspace, Problems()).entries[2:] != ()
