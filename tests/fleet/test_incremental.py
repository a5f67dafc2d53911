"""A build makes again what changed and nothing else, and comes to what a clean build comes to."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

Run = Callable[..., str]

UNITS = {
    "sm-2": "unit: sm-2\nbased_on: small-2\ntitle: Small 2, stock 2\nwithout: [toilet]\n",
    "sm-3": "unit: sm-3\nbased_on: small-2\ntitle: Small 2, stock 3\nprivate: {keys: 1}\n",
}
ALL = frozenset({"sm-1", *UNITS})


def tree(folder: Path) -> dict[str, bytes]:
    """Return every file under a folder."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def times(folder: Path) -> dict[str, int]:
    """Return when each file under a folder was written, in nanoseconds."""
    return {
        path.relative_to(folder).as_posix(): path.stat().st_mtime_ns
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def built_units(told: str) -> set[str]:
    """Return the units that a build says it made."""
    return set(re.findall(r"^([a-z]+-\d+): \d+ pages", told, re.MULTILINE))


def add_units(workspace: Path) -> None:
    """Give a workspace three units, and its own copy of the assets, since tests change them."""
    link = workspace / "site_assets"
    original = link.resolve()
    link.unlink()
    shutil.copytree(original, link)
    for name, text in UNITS.items():
        (workspace / "units" / f"{name}.yml").write_text(text, "utf-8")


@pytest.fixture
def fleet(workspace: Path, lockerleaf: Run) -> Path:
    """Return a workspace of three units, built once without papers."""
    add_units(workspace)
    told = lockerleaf("build", "--no-papers", "--jobs", "1")
    assert built_units(told) == ALL, told
    return workspace


def edit(path: Path, old: str, new: str) -> None:
    """Replace a text that must be in a file."""
    text = path.read_text("utf-8")
    assert old in text, path
    path.write_text(text.replace(old, new, 1), "utf-8")


EDITS = {
    "snippet": (
        "docs_src/snippets/wait-for-hot-water.md",
        "Wait",
        "Please wait",
        ALL,
    ),
    "body of a task that one unit lacks": (
        "docs_src/tasks/toilet/empty-cassette.md",
        "\n1. ",
        "\n1. Slowly ",
        ALL - {"sm-2"},
    ),
    "front matter": ("docs_src/tasks/water/fill-water.md", "minutes: 15", "minutes: 16", ALL),
    "kind": ("docs_src/kinds/water-heater.yml", "title: Water heater", "title: Heater", ALL),
    "caution": ("docs_src/cautions/water.yml", "hazard: ", "hazard: Mind this. ", ALL),
    "interlock": ("docs_src/interlocks/never.yml", "reason: ", "reason: Because. ", ALL),
    "symptom": ("docs_src/symptoms/no-hot-water.yml", "title: ", "title: Really ", ALL),
    "routine": ("docs_src/routines/arrive.yml", "purpose: ", "purpose: Well, ", ALL),
    "wording": ("docs_src/wording/en.yml", "warning: Warning", "warning: Beware", ALL),
    "unit": ("units/sm-2.yml", "stock 2", "stock 22", {"sm-2"}),
    "private field": ("units/sm-3.yml", "keys: 1", "keys: 3", {"sm-3"}),
    "model": ("units/models/small-2.yml", "bulb_w: 5", "bulb_w: 7", ALL),
    "dealer": ("units/dealer.yml", "17:00", "18:00", ALL),
    "style": ("site_assets/guide.css", "}", "} .never { color: red; }", ALL),
    "script": ("site_assets/guide.js", "\n", "\nvoid 0;\n", ALL),
    "drawing": ("site_assets/signs/general.svg", "<svg", '<svg data-new="1"', ALL),
    "template": ("site_assets/theme/main.html", "<footer>", "<footer><hr>", ALL),
    "settings": ("mkdocs.yml", "site_name: Lockerleaf", "site_name: Leaf", ALL),
}


@pytest.mark.parametrize("what", EDITS)
def test_an_edit_is_built_where_it_counts(what: str, fleet: Path, lockerleaf: Run) -> None:
    """Only the units that hold what changed are built, and all is as from a clean build."""
    path, old, new, units = EDITS[what]
    before = tree(fleet / "public")
    edit(fleet / path, old, new)
    told = lockerleaf("build", "--no-papers", "--jobs", "1")
    assert built_units(told) == units, told
    after = tree(fleet / "public")
    lockerleaf("build", "--no-papers", "--jobs", "1", "--out", "clean")
    assert after == tree(fleet / "clean")
    quiet = ("interlock", "settings", "private field")
    assert (after == before) == (what in quiet), "an edit that nobody can see"


def test_nothing_changed_writes_nothing(fleet: Path, lockerleaf: Run) -> None:
    """A second build leaves every file and its time as they were."""
    before = times(fleet / "public")
    told = lockerleaf("build", "--no-papers", "--jobs", "1")
    assert built_units(told) == set()
    assert times(fleet / "public") == before


def test_what_a_killed_build_left_is_dropped(fleet: Path, lockerleaf: Run) -> None:
    """Also where all guides are as they should be, and so nothing is to be built."""
    public = fleet / "public"
    left = public / ".staged-abc" / "M9S3" / "index.html"
    left.parent.mkdir(parents=True)
    left.write_text("cut off", "utf-8")
    before = times(public)
    told = lockerleaf("build", "--no-papers", "--jobs", "1")
    assert built_units(told) == set()
    assert not (public / ".staged-abc").exists()
    assert times(public).items() <= before.items()


def test_only_pages_that_hold_a_text_are_written(fleet: Path, lockerleaf: Run) -> None:
    """Of a unit that is built again, files that come out the same keep their time."""
    before = times(fleet / "public")
    edit(fleet / "docs_src" / "snippets" / "wait-for-hot-water.md", "Wait", "Please wait")
    lockerleaf("build", "--no-papers", "--jobs", "1")
    after = times(fleet / "public")
    written = {
        re.sub(r"pack\.[0-9a-f]+", "pack", path.partition("/")[2])
        for path in after
        if after[path] != before.get(path)
    }
    pages = {path for path in written if path.endswith(".html")}
    home = re.compile(r"index\.html|[0-9A-Z]{3}/index\.html")
    assert {page for page in pages if not home.fullmatch(page)} == {
        "task/heat-water-gas.html",
        "task/heat-water-mains.html",
    }
    assert written - pages == {"pack.bin", "worker.js"}


def test_a_unit_added_is_built_alone(fleet: Path, lockerleaf: Run) -> None:
    """A new unit does not touch the others; the register gets its codes."""
    text = UNITS["sm-3"].replace("sm-3", "sm-4").replace("stock 3", "stock 4")
    (fleet / "units" / "sm-4.yml").write_text(text, "utf-8")
    assert built_units(lockerleaf("build", "--no-papers", "--jobs", "1")) == {"sm-4"}
    assert ",sm-4,unit," in (fleet / "units" / "register.csv").read_text()


def test_a_unit_that_left_leaves_its_codes(fleet: Path, lockerleaf: Run) -> None:
    """A removed unit's codes lead to a page that says so; other guides are not touched."""
    rows = (fleet / "units" / "register.csv").read_text().splitlines()
    codes = [row.split(",")[0] for row in rows if ",sm-3," in row]
    (fleet / "units" / "sm-3.yml").unlink()
    assert built_units(lockerleaf("build", "--no-papers", "--jobs", "1")) == set()
    for code in codes:
        page = fleet / "public" / code.replace("-", "/") / "index.html"
        assert "+44 1632 960001" in page.read_text("utf-8")
    unit = next(code for code in codes if "-" not in code)
    assert not (fleet / "public" / unit / "task").exists()


@pytest.mark.parametrize("damage", ["file gone", "file edited", "file added", "folder gone"])
def test_a_published_guide_that_was_touched_is_built_again(
    damage: str, fleet: Path, lockerleaf: Run
) -> None:
    """What stands is looked at, not believed."""
    good = tree(fleet / "public")
    row = next(
        row
        for row in (fleet / "units" / "register.csv").read_text().splitlines()
        if ",sm-1,unit," in row
    )
    guide = fleet / "public" / row.split(",")[0]
    if damage == "file gone":
        (guide / "emergency.html").unlink()
    elif damage == "file edited":
        edit(guide / "emergency.html", "<", " <")
    elif damage == "file added":
        (guide / "extra.html").write_text("x")
    else:
        shutil.rmtree(guide)
    assert built_units(lockerleaf("build", "--no-papers", "--jobs", "1")) == {"sm-1"}
    assert tree(fleet / "public") == good


@pytest.mark.parametrize("content", [b"", b"{}", b"\xff\x00", b'{"lists": [], "guides": {"a": 1}}'])
def test_a_damaged_memory_costs_time_only(content: bytes, fleet: Path, lockerleaf: Run) -> None:
    """Where what was built is not known, all is built."""
    good = tree(fleet / "public")
    (memory,) = (fleet / ".cache").glob("built-*.json")
    memory.write_bytes(content)
    assert built_units(lockerleaf("build", "--no-papers", "--jobs", "1")) == ALL
    assert tree(fleet / "public") == good


def test_a_mistake_publishes_nothing(fleet: Path, lockerleaf: Run) -> None:
    """One unit with a mistake holds back the others, and nothing half-built is left."""
    before = times(fleet / "public")
    edit(fleet / "units" / "sm-1.yml", "stock 1", "stock 11")
    edit(fleet / "units" / "sm-2.yml", "without: [toilet]", "without: [nothing-such]")
    told = lockerleaf("build", "--no-papers", "--jobs", "1")
    assert "units/sm-2.yml:4:11: without: 'nothing-such' is not in the model" in told
    assert times(fleet / "public") == before
    assert not list((fleet / "public").glob(".*"))


def test_papers_that_are_missing_are_printed(fleet: Path, lockerleaf: Run) -> None:
    """A build with papers prints those of units whose guide is as it should be."""
    assert not (fleet / "print").exists()
    told = lockerleaf("build", "sm-2", "--jobs", "1")
    assert built_units(told) == {"sm-2"}
    papers = {path.name for path in (fleet / "print" / "sm-2").glob("*.pdf")}
    assert papers == {"stickers.pdf", "booklet.pdf", "handover.pdf"}
    assert built_units(lockerleaf("build", "sm-2", "--jobs", "1")) == set()
    (fleet / "print" / "sm-2" / "booklet.pdf").unlink()
    assert built_units(lockerleaf("build", "sm-2", "--jobs", "1")) == {"sm-2"}


def test_a_clock_that_jumps_back_changes_nothing(fleet: Path, lockerleaf: Run) -> None:
    """Times of sources play no part."""
    for path in (fleet / "docs_src").rglob("*.md"):
        os.utime(path, (1, 1))
    assert built_units(lockerleaf("build", "--no-papers", "--jobs", "1")) == set()


def test_two_builds_at_once_do_not_meet(fleet: Path, lockerleaf: Run) -> None:
    """The second says in one line that the first is at work, and touches nothing."""
    fcntl = pytest.importorskip("fcntl")
    before = times(fleet / "public")
    (lock,) = (fleet / ".cache").glob("built-*.lock")
    with lock.open("a+b") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        told = lockerleaf("build", "--no-papers")
    assert told.startswith("lockerleaf: another build writes into the same folder")
    assert times(fleet / "public") == before
