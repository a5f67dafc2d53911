"""How each unit stands is told without a build, and what is remembered is not believed too long."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from generator.desk import status
from generator.desk.status import CHANGED, NEVER, PUBLISHED, UnitStatus, tell_status

Run = Callable[..., str]


@pytest.fixture
def stock(workspace: Path) -> Path:
    """Return a workspace of three units, one of which keeps less private."""
    more = {
        "sm-2": "private: {vin: SPECIMEN000000002, keys: 2}\n",
        "sm-3": 'private: {vin: ""}\ndelivered: 2026-01-31\nwithout: [toilet]\n',
    }
    for name, text in more.items():
        begin = f"unit: {name}\nbased_on: small-2\ntitle: Small 2, stock {name[-1]}\n"
        (workspace / "units" / f"{name}.yml").write_text(begin + text, "utf-8")
    return workspace


def of(root: Path, name: str, today: date = date(2026, 5, 1), days: int = 60) -> UnitStatus:
    """Return how one unit stands; all are asked for."""
    names = [path.stem for path in (root / "units").glob("*-*.yml")]
    stand = tell_status(root, root / "public", names, today, days)
    return next(one for one in stand.units if one.unit == name)


def test_before_and_after_a_build(stock: Path, lockerleaf: Run) -> None:
    """A unit goes from never built over published to changed since."""
    before = of(stock, "sm-2")
    assert of(stock, "sm-1").facts.without_code == 0
    assert (before.guide, before.papers) == (NEVER, "none")
    assert before.facts.without_code == before.facts.stickers
    assert before.facts.stickers > 3
    lockerleaf("build", "sm-2", "--jobs", "1")
    built = of(stock, "sm-2")
    assert (built.guide, built.papers, built.facts.without_code) == (PUBLISHED, "printed", 0)
    assert built.facts.not_printed == built.facts.stickers
    assert of(stock, "sm-1").guide == NEVER
    lockerleaf("stickers", "sm-2", "--mark-printed")
    assert of(stock, "sm-2").facts.not_printed == 0
    path = stock / "units" / "sm-2.yml"
    path.write_text(path.read_text().replace("stock 2", "stock 22"), "utf-8")
    after = of(stock, "sm-2")
    assert (after.guide, after.papers) == (CHANGED, "old")


def test_a_snippet_changes_those_that_hold_it(stock: Path, lockerleaf: Run) -> None:
    """The words of a task that one unit lacks do not touch that unit."""
    lockerleaf("build", "--no-papers", "--jobs", "1")
    path = stock / "docs_src" / "tasks" / "toilet" / "empty-cassette.md"
    path.write_text(path.read_text().replace("\n1. ", "\n1. Slowly "), "utf-8")
    assert [of(stock, name).guide for name in ("sm-1", "sm-2", "sm-3")] == [
        CHANGED,
        CHANGED,
        PUBLISHED,
    ]


def test_what_is_missing_and_due(stock: Path) -> None:
    """Private values that the others have, and dates from the day on which they are soon."""
    assert of(stock, "sm-3").private_missing == ("keys", "vin")
    assert of(stock, "sm-1").private_missing == ()
    assert of(stock, "sm-1").due == ()
    (due,) = of(stock, "sm-1", date(2031, 1, 1)).due
    assert due[1] == "2031-03-01"
    assert of(stock, "sm-1", date(2030, 12, 30)).due == ()
    assert of(stock, "sm-1", date(2031, 9, 1), days=0).due == (due,)


def test_one_with_mistakes_does_not_hide_the_others(stock: Path, lockerleaf: Run) -> None:
    """It is told that it has some; once they are gone it is read again."""
    path = stock / "units" / "sm-2.yml"
    good = path.read_text()
    path.write_text(good + "without: [kettle]\ncolour: red\n", "utf-8")
    broken = of(stock, "sm-2")
    assert broken.facts.mistakes == 2
    assert broken.facts.warnings[0].startswith("units/sm-2.yml:5:11: without: 'kettle' is not in")
    assert of(stock, "sm-1").facts.mistakes == 0
    assert "sm-2  never built  ?" in lockerleaf("status")
    path.write_text(good, "utf-8")
    assert of(stock, "sm-2").facts.mistakes == 0


def test_only_what_changed_is_read(stock: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What was read is remembered, whatever else changes; damage costs time only."""
    read: list[list[str]] = []
    really = status._read

    def spy(root: Path, survey: object, names: list[str]) -> object:
        read.append(sorted(names))
        return really(root, survey, names)  # type: ignore[arg-type]

    monkeypatch.setattr(status, "_read", spy)
    first = of(stock, "sm-1")
    assert of(stock, "sm-1") == first
    assert read == [["sm-1", "sm-2", "sm-3"]]
    path = stock / "units" / "sm-2.yml"
    path.write_text(path.read_text().replace("keys: 2", "keys: 3"), "utf-8")
    of(stock, "sm-1")
    assert read[1:] == [["sm-2"]]
    model = stock / "units" / "models" / "small-2.yml"
    model.write_text(model.read_text().replace("2031-03-01", "2031-04-01"), "utf-8")
    assert of(stock, "sm-1", date(2031, 4, 1)).due[0][1] == "2031-04-01"
    (memory,) = (stock / ".cache").glob("*status.json")
    for content in (b"", b"{}", b"\xff", b'{"files": [], "units": {"sm-1": 1}}', b"[1]"):
        memory.write_bytes(content)
        assert of(stock, "sm-1") == of(stock, "sm-1")


def test_as_told(stock: Path, lockerleaf: Run) -> None:
    """A table for people, and the same for programs."""
    lines = lockerleaf("status", "--days", "3650").splitlines()
    assert lines[0].split() == [
        "unit",
        "guide",
        "stickers",
        "papers",
        "private",
        "to",
        "look",
        "at",
    ]
    assert lines[1].split("  ")[0] == "sm-1"
    assert "sm-1: due 2031-03-01: Gas cylinder: " in "\n".join(lines)
    assert lines[-1].startswith("3 units: 3 never built; ")
    told = json.loads(lockerleaf("status", "sm-3", "--format", "json"))
    (one,) = told["units"]
    assert (one["unit"], one["guide"], one["delivered"]) == ("sm-3", NEVER, "2026-01-31")
    assert lockerleaf("status", "sm3").startswith("Error: no unit 'sm3'; right: did you mean sm-3?")
    dealer = stock / "units" / "dealer.yml"
    dealer.write_text("title: [", "utf-8")
    assert lockerleaf("status").startswith("units/dealer.yml:1:9: (file): YAML cannot be read")
