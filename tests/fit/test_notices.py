"""Safety notices: whom they reach, where a guide shows them, and until when."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date
from pathlib import Path

import feedparser
import pytest

from generator.compose.context import Context, Drawings
from generator.compose.print_guide import print_guide
from generator.flow import Finished, finish_guides
from generator.problems import Problems
from generator.read.notices import in_range
from generator.read.sources import read_sources

Change = Callable[[str, str, str], None]
Run = Callable[..., str]

NOTICE = """\
notice: heater-hose
title: Have the heater's hose looked at
word: warning
about: water-heater
issued: 2026-05-01
hazard: A hose may be loose.
consequence: Hot water can run out.
avoidance: Do not heat water.
task: turn-off-water-heater
source: invented
"""


def write_notice(workspace: Path, more: str = "", without: str = "") -> None:
    """Write the notice, some lines added or left out."""
    folder = workspace / "units" / "notices"
    folder.mkdir(exist_ok=True)
    lines = [line for line in NOTICE.splitlines() if not (without and line.startswith(without))]
    (folder / "heater-hose.yml").write_text("\n".join([*lines, more, ""]), "utf-8")


def finished(workspace: Path) -> Finished:
    """Return the unit's finished guide."""
    sources = read_sources(workspace)
    return finish_guides(sources, sources.register, ["sm-1"])[0]


def pages_with(done: Finished) -> set[str]:
    """Return the pages that carry a notice."""
    return {page.uri for page in done.composed.pages if '<section class="notice"' in page.text}


def test_pages_about_the_equipment_carry_it(workspace: Path) -> None:
    """The first page, the page of notices, and all that is about the heater; nothing else."""
    write_notice(workspace)
    done = finished(workspace)
    heater = {task.slug for task in done.guide.tasks if task.subject.name == "heater"}
    heater |= {t.slug for t in done.guide.tasks if "heater" in {r.name for r in t.roles.values()}}
    places = {done.guide.fittings["heater"].place, "heater-flue"}
    expected = {"index.md", "notices.md", "kit/heater.md"}
    expected |= {f"task/{slug}.md" for slug in heater} | {f"place/{name}.md" for name in places}
    stickers = {uri for uri in pages_with(done) if re.fullmatch(r"[0-9A-Z]{3}/index\.md", uri)}
    codes = {done.guide.place_codes.get(name, "-")[-3:] for name in places} - {"-"}
    assert {uri[:3] for uri in stickers} >= codes
    assert pages_with(done) - stickers == expected


def test_a_notice_about_the_vehicle_is_on_every_page_of_a_task(workspace: Path) -> None:
    """Whoever scans any hatch is told."""
    write_notice(workspace, without="about")
    done = finished(workspace)
    tasks = {page.uri for page in done.composed.pages if page.uri.startswith("task/")}
    assert tasks <= pages_with(done)


@pytest.mark.parametrize(
    ("line", "reached"),
    [
        ("when: subject.capacity_l == 14", True),
        ("when: subject.capacity_l == 10", False),
        ('when: unit.sort == "campervan"', False),
        ("models: [small-2]", True),
        ("units: [sm-1]", True),
        ("serials: ['000100', '000123']", True),
        ("serials: ['000124', '000200']", False),
        ("cleared: {sm-1: 2026-06-01}", False),
        ("cleared: {sm-7: 2026-06-01}", True),
    ],
)
def test_whom_it_reaches(line: str, reached: bool, workspace: Path) -> None:
    """Each condition narrows it; the unit's heater holds 14 litres and is number 000123."""
    write_notice(workspace, line)
    done = finished(workspace)
    assert bool(done.guide.notices) == reached
    assert ("index.md" in pages_with(done)) == reached


def test_a_number_that_nobody_wrote_down(workspace: Path, change: Change) -> None:
    """Then the unit is reached, and the page says what to look for."""
    change("units/sm-1.yml", ", serial: 000123", "")
    write_notice(workspace, "serials: [A100, A199]")
    done = finished(workspace)
    (reached,) = done.guide.notices
    assert reached.unsure
    page = next(page for page in done.composed.pages if page.uri == "notices.md")
    assert {"A100", "A199"} <= set(page.values.values())


@pytest.mark.parametrize(
    ("serial", "first", "last", "inside"),
    [
        ("A150", "A100", "A199", True),
        ("a100", "A100", "A199", True),
        ("A99", "A100", "A199", False),
        ("A1000", "A100", "A199", False),
        ("000123", "123", "124", True),
        ("B150", "A100", "A199", False),
        ("A-150", "A100", "A199", True),
    ],
)
def test_serial_numbers(serial: str, first: str, last: str, inside: bool) -> None:
    """Numbers count as numbers, letters as letters, and marks between them not at all."""
    assert in_range(serial, (first, last)) == inside


def test_the_feed_is_read_by_another_program(workspace: Path) -> None:
    """Atom as an independent reader understands it, with markup in a text as text."""
    write_notice(workspace)
    path = workspace / "units" / "notices" / "heater-hose.yml"
    path.write_text(path.read_text().replace("A hose may be", "A <b>hose</b> & clip may be"))
    done = finished(workspace)
    feed = feedparser.parse(done.composed.documents["notices.xml"])
    assert not feed.bozo
    assert feed.version == "atom10"
    (entry,) = feed.entries
    assert entry.title == "Have the heater's hose looked at"
    assert date(*entry.updated_parsed[:3]) == date(2026, 5, 1)
    assert entry.link.startswith("https://small.example/guides/")
    assert entry.link.endswith("/notices.html#notice-heater-hose")
    assert "<b>hose</b>" not in done.composed.documents["notices.xml"]
    assert "clip may be loose. Hot water can run out. Do not heat water." in entry.summary


def test_a_feed_without_notices_is_there(workspace: Path) -> None:
    """Who follows it is told of the first one."""
    feed = feedparser.parse(finished(workspace).composed.documents["notices.xml"])
    assert (feed.bozo, feed.version, feed.entries) == (False, "atom10", [])


def test_check_tells_whom_it_reaches(workspace: Path, lockerleaf: Run) -> None:
    """With the stickers that lead to it."""
    write_notice(workspace, "cleared: {sm-7: 2026-06-01}")
    told = lockerleaf("check")
    assert "units/notices/heater-hose.yml:1: notice of 2026-05-01: reaches sm-1 (" in told
    assert "; cleared in sm-7" in told


def test_a_private_serial_number_is_on_no_page(workspace: Path, change: Change) -> None:
    """What is written down only to be found by a notice is never shown."""
    change("units/sm-1.yml", "bulb_w: 3.5}", "bulb_w: 3.5, serial: SECRET-77}")
    done = finished(workspace)
    assert "SECRET-77" in done.guide.unit.private
    for page in done.composed.pages:
        assert "SECRET-77" not in repr(page)


def test_a_booklet_carries_it_at_the_task(workspace: Path) -> None:
    """A booklet that is printed while the notice is in force warns where the heater is used."""
    write_notice(workspace)
    sources = read_sources(workspace)
    (done,) = finish_guides(sources, sources.register, ["sm-1"])
    drawings = Drawings(sources.assets.signs, sources.assets.pictures)
    context = Context(done.guide, done.proof, sources.library, drawings, Problems())
    told = {}
    for area in print_guide(context).areas:
        for task in area.tasks:
            told[task.title] = task.cautions[0].hazard[0].text if task.cautions else ""
    expected = "Safety notice: Have the heater's hose looked at. A hose may be loose."
    assert told["Heat water on gas"] == expected
    assert "Turn on the gas" in told
    assert not told["Turn on the gas"].startswith("Safety notice")
