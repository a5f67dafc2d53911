"""Two commands at the same moment, as two desks would run them."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from generator import fleet
from generator.cli import workspace as commands
from generator.fit.codes import with_entries
from generator.problems import Mark, Problems
from generator.publish.register import Decide, add_to_register
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
    (done,), register = commands.finish_with_codes(sources, ["sm-1"])
    assert (done.guide.code, done.guide.place_codes["bed"]) == ("7K3Q", "7K3Q-C0K")
    targets = [entry.target for entry in register.entries if entry.sort == "place"]
    assert sorted(targets) == sorted(done.guide.place_codes)
    assert all(code.startswith("7K3Q-") for code in done.guide.place_codes.values())
    assert with_entries(Register((), {}), register.entries).latest == register.latest
    assert read_register(workspace, Problems()).entries[2:] != ()


def test_a_build_that_is_overtaken_begins_again(
    workspace: Path, monkeypatch: pytest.MonkeyPatch, lockerleaf: Callable[..., str]
) -> None:
    """Where another issued a code while guides were built, they are built with that code."""
    forget_codes(workspace)
    at = Mark("units/register.csv")
    theirs = [
        Entry("7K3Q", "sm-1", "unit", "", "minted", "2026-01-01", "", at),
        Entry("7K3Q-C0K", "sm-1", "place", "bed", "minted", "2026-01-01", "", at),
    ]
    real = fleet.add_to_register

    def late(root: Path, decide: Decide) -> Register:
        real(root, lambda r: [] if r.entries else theirs)
        return real(root, decide)

    monkeypatch.setattr(fleet, "add_to_register", late)
    lockerleaf("build", "--no-papers", "--jobs", "1")
    assert (workspace / "public" / "7K3Q" / "C0K" / "index.html").is_file()
    register = read_register(workspace, Problems())
    for code, entry in register.latest.items():
        assert code.startswith("7K3Q")
        folder = workspace.joinpath("public", *code.split("-"))
        assert (folder / "index.html").is_file(), entry
