"""The register as read: the last line of a code says how it stands."""

from __future__ import annotations

from pathlib import Path

from generator.problems import Problems
from generator.read.register import COLUMNS, Register, read_register

HEADING = ",".join(COLUMNS)


def read(tmp_path: Path, *lines: str) -> tuple[Register, list[str]]:
    """Return a register of these lines, and its error lines."""
    path = tmp_path / "units" / "register.csv"
    path.parent.mkdir()
    path.write_text("".join(f"{line}\n" for line in (HEADING, *lines)), "utf-8")
    problems = Problems()
    return read_register(tmp_path, problems), [str(problem) for problem in problems.found]


def test_absent(tmp_path: Path) -> None:
    """A dealer's first build finds no register, and that is fine."""
    problems = Problems()
    assert (read_register(tmp_path, problems), problems.found) == (Register((), {}), [])


def test_code_for(tmp_path: Path) -> None:
    """A target's code is the one in force; a retired one is none."""
    register, problems = read(
        tmp_path,
        "7K3Q,lt-1,unit,,minted,2026-05-01,",
        "7K3Q-C0K,lt-1,place,door,minted,2026-05-01,",
        "7K3Q-C0K,lt-1,place,door,printed,2026-05-02,",
        "7K3Q-AB3,lt-1,place,bed,minted,2026-05-01,",
        "7K3Q-AB3,lt-1,place,bed,retired,2026-05-03,sold",
    )
    assert problems == []
    assert [
        register.code_for("lt-1", "unit", ""),
        register.code_for("lt-1", "place", "door"),
        register.code_for("lt-1", "place", "bed"),
        register.code_for("lt-2", "place", "door"),
    ] == ["7K3Q", "7K3Q-C0K", None, None]


def test_moved(tmp_path: Path) -> None:
    """A code that moved leads to its new target, and its old target has none."""
    register, problems = read(
        tmp_path,
        "7K3Q,lt-1,unit,,minted,2026-05-01,",
        "7K3Q-C0K,lt-1,place,door,minted,2026-05-01,",
        "7K3Q-C0K,lt-1,place,entrance,moved,2026-06-01,renamed",
    )
    assert problems == []
    assert [register.code_for("lt-1", "place", place) for place in ("door", "entrance")] == [
        None,
        "7K3Q-C0K",
    ]


def test_both_sides_of_a_merge(tmp_path: Path) -> None:
    """Two people's new lines, one after the other, make one register."""
    register, problems = read(
        tmp_path,
        "7K3Q,lt-1,unit,,minted,2026-05-01,",
        "9ABC,lt-2,unit,,minted,2026-05-01,",
    )
    assert (problems, list(register.latest)) == ([], ["7K3Q", "9ABC"])


def test_commas_and_quotes(tmp_path: Path) -> None:
    """A reason may hold commas and quotes."""
    register, problems = read(
        tmp_path, '7K3Q,lt-1,unit,,minted,2026-05-01,"sold, with ""everything"""'
    )
    assert (problems, register.entries[0].why) == ([], 'sold, with "everything"')


def test_positions_below_a_quoted_line_end(tmp_path: Path) -> None:
    """A reason over two lines does not shift the line numbers below it."""
    _, problems = read(
        tmp_path,
        '7K3Q,lt-1,unit,,minted,2026-05-01,"sold',
        'and gone"',
        "7K3Q-C0K,lt-1,place,door,retired,2026-05-01,",
    )
    assert problems == [
        "units/register.csv:4:1: code: '7K3Q-C0K' was never minted; right: restore it from git"
    ]


def test_endless_field(tmp_path: Path) -> None:
    """A field beyond the size that the reader takes is told, not a crash."""
    _, problems = read(tmp_path, "7K3Q,lt-1,unit,,minted,2026-05-01," + "x" * 200_000)
    assert problems == [
        "units/register.csv:2:1: (line): cannot be read (field larger than field limit (131072)); "
        "right: restore it from git"
    ]


def test_register_of_a_large_dealer(tmp_path: Path) -> None:
    """A register may be larger than any file that is written by hand: it only ever grows."""
    lines = [
        f"U{number:03d},lt-{number},unit,,minted,2026-05-01,{'x' * 1500}" for number in range(999)
    ]
    register, problems = read(tmp_path, *lines)
    assert (problems, len(register.latest)) == ([], 999)
