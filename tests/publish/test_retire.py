"""`lockerleaf retire` and `lockerleaf move`: what they write, and what they refuse."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

Lockerleaf = Callable[..., str]


def last_line(workspace: Path) -> str:
    """Return the register's last line, its day replaced."""
    lines = (workspace / "units" / "register.csv").read_text("utf-8").splitlines()
    return lines[-1].replace(date.today().isoformat(), "TODAY")


def test_retire(workspace: Path, lockerleaf: Lockerleaf) -> None:
    """A retired code keeps its place and its reason; the place then gets a new code."""
    told = lockerleaf("retire", "m9s3 461", "--why", 'torn off, "again"')
    assert told == (
        "M9S3-461 is retired; the next build says so on its page\n"
        "     'gas-locker' of sm-1 then gets a new code\n"
    )
    assert last_line(workspace) == (
        'M9S3-461,sm-1,place,gas-locker,retired,TODAY,"torn off, ""again"""'
    )
    assert "1 code to be issued by the next build" in lockerleaf("check")


def test_move(workspace: Path, lockerleaf: Lockerleaf) -> None:
    """A moved code leads to its new place; letters that look like digits are taken for them."""
    told = lockerleaf("move", "M9S3-46I", "--to", "bed", "--why", "glued on there")
    assert told == "M9S3-461 leads to place 'bed' from the next build on\n"
    assert last_line(workspace) == "M9S3-461,sm-1,place,bed,moved,TODAY,glued on there"
    told = lockerleaf("move", "M9S3-461", "--to", "fill-water", "--why", "to the tap")
    assert told == "M9S3-461 leads to task 'fill-water' from the next build on\n"
    assert last_line(workspace) == "M9S3-461,sm-1,task,fill-water,moved,TODAY,to the tap"


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (
            ("retire", "M9S3-462", "--why", "x"),
            "units/register.csv:1:1: code: 'M9S3-462' was never issued; "
            "right: did you mean M9S3-461?",
        ),
        (
            ("retire", "M9S3", "--why", "x"),
            "units/register.csv:1:1: code: 'M9S3' is the own code of sm-1, with which all its "
            "others begin; right: a code of a place or task, such as 7K3Q-2RK",
        ),
        (
            ("retire", "M9S3-3SS", "--why", "x"),
            "units/register.csv:12:1: code: 'M9S3-3SS' was retired on 2026-06-01; "
            "right: a code that is in use",
        ),
        (
            ("retire", "M9S3-461", "--why", "  "),
            "units/register.csv:1:1: --why: is empty; right: the reason, in at most 200 characters",
        ),
        (
            ("move", "M9S3-461", "--to", "gas-locker", "--why", "x"),
            "units/register.csv:3:1: --to: 'M9S3-461' leads to 'gas-locker' already; "
            "right: another place or task",
        ),
        (
            ("move", "M9S3-461", "--to", "bet", "--why", "x"),
            "units/register.csv:1:1: --to: sm-1 has no place or task 'bet'; "
            "right: one of bed, entrance, gas-locker, heater-flue, seat, toilet-hatch, water-inlet",
        ),
    ],
)
def test_refused(
    workspace: Path, lockerleaf: Lockerleaf, arguments: tuple[str, ...], told: str
) -> None:
    """What cannot be is one line, and the register stays as it was."""
    before = (workspace / "units" / "register.csv").read_bytes()
    assert lockerleaf(*arguments) == f"{told}\n1 problem; nothing written\n"
    assert (workspace / "units" / "register.csv").read_bytes() == before


def test_check_names_the_code_and_the_edit(
    workspace: Path, lockerleaf: Lockerleaf, change: Callable[[str, str, str], None]
) -> None:
    """A renamed place and a unit that went are told, with the command that puts it right."""
    model = "units/models/small-2.yml"
    change(model, "gas-locker: {title", "front-box: {title")
    change(model, "place: gas-locker", "place: front-box")
    register = workspace / "units" / "register.csv"
    register.write_text(register.read_text() + "7K3Q,sm-9,unit,,minted,2026-05-01,\n")
    lines = lockerleaf("check").splitlines()
    assert (
        "units/register.csv:3: sm-1: sticker M9S3-461 leads to the guide's first page, for place "
        "'gas-locker' was removed or renamed; right: lockerleaf move M9S3-461 --to front-box "
        "--why …, or retire it"
    ) in lines
    assert (
        "units/register.csv:13: sm-9: units/sm-9.yml was removed or renamed; 1 code leads to the "
        "page that says that this vehicle has left you"
    ) in lines
