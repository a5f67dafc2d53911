"""What an edit does to the finished guides is told against what is committed."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from generator.cli.workspace import mint_into_register
from generator.desk.changes import Changes, UnitChange, find_changes
from generator.desk.reader_text import Line, read_page
from generator.desk.revision import workspace_at
from generator.flow import finish_guides
from generator.read.sources import Sources, read_sources

Run = Callable[..., str]


def git(at: Path, *arguments: str) -> str:
    """Run git, as nobody in particular."""
    named = ["-c", "user.name=x", "-c", "user.email=x@example.invalid"]
    done = subprocess.run(
        ["git", *named, *arguments], cwd=at, capture_output=True, text=True, check=True
    )
    return done.stdout


@pytest.fixture
def committed(workspace: Path) -> Path:
    """Return a workspace of two units under git, all of it committed."""
    link = workspace / "site_assets"
    original = link.resolve()
    link.unlink()
    subprocess.run(["cp", "-r", str(original), str(link)], check=True)
    text = "unit: sm-2\nbased_on: small-2\ntitle: Small 2, stock 2\nwithout: [toilet]\n"
    (workspace / "units" / "sm-2.yml").write_text(text, "utf-8")
    git(workspace, "init", "-q")
    git(workspace, "add", "-A")
    git(workspace, "commit", "-qm", "As it is")
    return workspace


def edit(path: Path, old: str, new: str) -> None:
    """Replace a text that must be in a file."""
    text = path.read_text("utf-8")
    assert old in text, path
    path.write_text(text.replace(old, new, 1), "utf-8")


def found(root: Path) -> dict[str, UnitChange]:
    """Return what changed since the last commit, by unit."""
    with workspace_at(root, "HEAD") as before:
        return {one.unit: one for one in find_changes(root, before, "HEAD", []).units}


def test_nothing_changed(committed: Path, lockerleaf: Run) -> None:
    """Neither the tree nor the index is touched by looking."""
    edit(committed / "mkdocs.yml", "# The one", "# Our one")
    git(committed, "add", "mkdocs.yml")
    before = git(committed, "status", "--porcelain")
    assert lockerleaf("changes") == "every guide reads as at HEAD\n"
    assert git(committed, "status", "--porcelain") == before == "M  mkdocs.yml\n"
    assert git(committed, "stash", "list") == git(committed, "worktree", "prune") == ""


def test_a_step_and_a_caution(committed: Path, lockerleaf: Run) -> None:
    """The page's words are told as they are read, steps and cautions as such."""
    edit(committed / "docs_src" / "tasks" / "toilet" / "empty-cassette.md", "\n1. ", "\n1. Slowly ")
    edit(committed / "docs_src" / "cautions" / "water.yml", "hazard: ", "hazard: Mind this. ")
    told = lockerleaf("changes")
    assert "task/empty-cassette.html  Empty the cassette  [sm-1]\n  - step: " in told
    assert "\n  + step: Slowly " in told
    assert "\n  + caution: Warning: Mind this. " in told or "\n  + caution: Mind this. " in told
    assert "[sm-1, sm-2]" in told
    assert "sm-1: " in told
    assert "to be printed anew: stickers, booklet" in told or "to be printed anew: booklet" in told


def test_only_units_that_hold_it(committed: Path) -> None:
    """A text of equipment that one unit lacks changes nothing for that unit."""
    edit(committed / "docs_src" / "tasks" / "toilet" / "empty-cassette.md", "\n1. ", "\n1. Slowly ")
    changes = found(committed)
    assert list(changes) == ["sm-1"]
    pages = {page.page for page in changes["sm-1"].pages}
    assert pages == {"task/empty-cassette.html"}
    (page,) = changes["sm-1"].pages
    assert [(line.sign, line.what) for line in page.lines] == [("-", "step"), ("+", "step")]
    assert "booklet" in changes["sm-1"].papers
    assert "stickers" not in changes["sm-1"].papers


def test_a_value_of_a_model(committed: Path) -> None:
    """A value is told in the words around it, for every unit of the model that does not say it."""
    edit(committed / "units" / "models" / "small-2.yml", "cassette_l: 18", "cassette_l: 17")
    changes = found(committed)
    assert list(changes) == ["sm-1"]
    lines = [line.text for page in changes["sm-1"].pages for line in page.lines]
    assert any("17" in line for line in lines)


def test_units_and_pages_come_and_go(committed: Path) -> None:
    """New and removed units and pages are told as such."""
    edit(committed / "units" / "sm-2.yml", "without: [toilet]\n", "")
    (committed / "units" / "sm-3.yml").write_text(
        "unit: sm-3\nbased_on: small-2\ntitle: Small 2, stock 3\n", "utf-8"
    )
    (committed / "units" / "sm-1.yml").unlink()
    edit(committed / "units" / "dealer.yml", "preview: sm-1", "preview: sm-2")
    changes = found(committed)
    assert (changes["sm-1"].state, changes["sm-3"].state) == ("gone", "new")
    states = {page.page: page.state for page in changes["sm-2"].pages}
    assert states["task/empty-cassette.html"] == "new"
    assert states["kit/toilet.html"] == "new"


def test_the_frame_of_every_page(committed: Path, lockerleaf: Run) -> None:
    """The dealer's telephone, and how pages look, are told once and not page by page."""
    edit(committed / "units" / "dealer.yml", "960001", "960002")
    edit(committed / "site_assets" / "guide.css", "}", "} .x { color: red; }")
    told = lockerleaf("changes")
    assert told.count("every page  around it  [sm-1, sm-2]\n  - telephone: +44 1632 960001\n") == 1
    assert "site_assets/guide.css: changes how every page looks or works\n" in told


def test_what_is_printed_is_out_of_date(committed: Path, lockerleaf: Run) -> None:
    """A booklet that lies in print/ is named."""
    (committed / "print" / "sm-1").mkdir(parents=True)
    (committed / "print" / "sm-1" / "booklet.pdf").write_bytes(b"%PDF")
    edit(committed / "docs_src" / "tasks" / "toilet" / "empty-cassette.md", "\n1. ", "\n1. Slowly ")
    assert "sm-1: 1 page; out of date: print/sm-1/booklet.pdf" in lockerleaf("changes")
    told = json.loads(lockerleaf("changes", "HEAD", "--format", "json"))
    assert told["units"][0]["pages"][0]["state"] == "changed"
    assert "every guide reads" in lockerleaf("changes", "--unit", "sm-2")


def test_codes_are_each_units_own(committed: Path) -> None:
    """Codes that were issued meanwhile are told for the unit that has them."""
    (committed / "units" / "sm-3.yml").write_text(
        "unit: sm-3\nbased_on: small-2\ntitle: Small 2, stock 3\nwithout: [toilet]\n", "utf-8"
    )
    git(committed, "add", "-A")
    git(committed, "commit", "-qm", "Another like the second")
    sources = read_sources(committed)
    names = ("sm-2", "sm-3")
    mint_into_register(sources, names)
    register = read_sources(committed).register
    changes = found(committed)
    assert list(changes) == [*names]
    for name, other in (names, names[::-1]):
        told = repr(changes[name])
        issued = [(one.unit, code) for code, one in register.latest.items() if one.target]
        codes = {which: [code for unit, code in issued if unit == which] for which in names}
        assert codes[name]
        assert all(code in told for code in codes[name])
        assert not any(code in told for code in codes[other])


def test_days_are_each_units_own(committed: Path) -> None:
    """Units that differ by a day are alike, and yet each is told with its own."""
    years = {"sm-2": 2034, "sm-3": 2035, "sm-4": 2036}
    for name, year in years.items():
        (committed / "units" / f"{name}.yml").write_text(
            f"unit: {name}\nbased_on: small-2\ntitle: Small\n"
            f"fitted: [{{id: cylinder, hose_marked_until: {year}-05-06}}]\n",
            "utf-8",
        )
    git(committed, "add", "-A")
    git(committed, "commit", "-qm", "Hoses")
    edit(committed / "units" / "sm-3.yml", "2035-05-06", "2035-05-07")
    (only,) = found(committed).values()
    assert only.unit == "sm-3"
    lines = {line.text for page in only.pages for line in page.lines}
    assert any("7 May 2035" in line for line in lines)
    git(committed, "checkout", "-q", "units")
    kind = committed / "docs_src" / "kinds" / "gas-cylinder.yml"
    edit(kind, "help: Date marked on the hose", "help: The date on the hose")
    changes = found(committed)
    for name, year in years.items():
        told = repr(changes[name])
        assert f"The date on the hose 6 May {year}" in told, told
        assert not any(str(other) in told for other in {*years.values()} - {year})


def test_a_serial_number_that_a_notice_reaches(committed: Path) -> None:
    """A number that is written down changes the unit that it is of, and not those alike."""
    for name in ("sm-2", "sm-3"):
        (committed / "units" / f"{name}.yml").write_text(
            f"unit: {name}\nbased_on: small-2\ntitle: Small\n"
            "fitted: [{id: cylinder, serial: A100}]\n",
            "utf-8",
        )
    (committed / "units" / "notices").mkdir(exist_ok=True)
    (committed / "units" / "notices" / "valve.yml").write_text(
        "notice: valve\ntitle: Have the valve looked at\nword: warning\nissued: 2026-06-15\n"
        "about: gas-cylinder\nserials: [A500, A599]\nhazard: The valve may leak.\n"
        "consequence: Gas can burn.\navoidance: Call us.\nsource: common practice, no source\n",
        "utf-8",
    )
    git(committed, "add", "-A")
    git(committed, "commit", "-qm", "A notice")
    edit(committed / "units" / "sm-3.yml", "A100", "A555")
    edit(committed / "docs_src" / "tasks" / "gas" / "turn-off-gas.md", "Close", "Now close")
    changes = found(committed)
    assert "Have the valve looked at" in repr(changes["sm-3"])
    assert "Have the valve looked at" not in repr(changes["sm-2"])


def test_many_units_are_told_in_few_lines(committed: Path, lockerleaf: Run) -> None:
    """Units for which the same changes stand in one line, with how many they are."""
    for number in range(3, 30):
        (committed / "units" / f"sm-{number}.yml").write_text(
            f"unit: sm-{number}\nbased_on: small-2\ntitle: Small 2, stock {number}\n", "utf-8"
        )
    git(committed, "add", "-A")
    git(committed, "commit", "-qm", "Many more")
    (committed / "print" / "sm-4").mkdir(parents=True)
    (committed / "print" / "sm-4" / "booklet.pdf").write_bytes(b"%PDF")
    edit(committed / "docs_src" / "tasks" / "toilet" / "empty-cassette.md", "\n1. ", "\n1. Slowly ")
    lines = lockerleaf("changes").splitlines()
    page, *_, first, second = lines
    assert page.startswith("task/empty-cassette.html  Empty the cassette  [sm-1, sm-10, ")
    assert page.endswith(" and 22 more]")
    assert first.startswith("27 units: 1 page; to be printed anew: booklet")
    assert second == "1 unit: 1 page; out of date: print/…/booklet.pdf  [sm-4]"


def test_below_the_top_of_a_repository(committed: Path, tmp_path: Path) -> None:
    """A workspace may be a folder of a larger repository."""
    top = tmp_path / "top"
    top.mkdir()
    (committed / ".git").rename(tmp_path / "old.git")
    committed.rename(top / "inner")
    (top / "units").mkdir()
    (top / "units" / "other.yml").write_text("not ours", "utf-8")
    git(top, "init", "-q")
    git(top, "add", "-A")
    git(top, "commit", "-qm", "x")
    edit(top / "inner" / "units" / "sm-2.yml", "without: [toilet]\n", "")
    with workspace_at(top / "inner", "HEAD") as before:
        assert (before / "units" / "sm-2.yml").read_text().endswith("without: [toilet]\n")
        assert not (before / "units" / "other.yml").exists()
        changes = find_changes(top / "inner", before, "HEAD", ["sm-2"])
    assert isinstance(changes, Changes)
    assert [one.unit for one in changes.units] == ["sm-2"]


def test_what_is_refused(committed: Path, lockerleaf: Run) -> None:
    """No repository, no such revision, one with mistakes: one line each."""
    assert lockerleaf("changes", "v9").startswith("lockerleaf: no revision 'v9'; right: a revision")
    assert lockerleaf("changes", "--", "--all").startswith("lockerleaf: no revision '--all'; ")
    assert lockerleaf("changes", "HEAD:units").startswith("lockerleaf: no revision 'HEAD:units'")
    path = committed / "units" / "sm-2.yml"
    good = path.read_text()
    path.write_text(f"{good}colour: red\n", "utf-8")
    assert lockerleaf("changes").startswith("units/sm-2.yml:5:1: colour: unknown key; right: ")
    git(committed, "commit", "-qam", "Bad")
    path.write_text(good, "utf-8")
    assert lockerleaf("changes") == (
        "lockerleaf: HEAD has mistakes (units/sm-2.yml:5:1: colour: unknown key); "
        "right: a revision that holds together\n"
    )
    (committed / ".git").rename(committed.parent / "gone.git")
    assert lockerleaf("changes").startswith("lockerleaf: the workspace is not under git; right: ")


def test_a_page_is_read_as_it_shows(small: Sources) -> None:
    """Values are in their places, drawings are not read, steps and cautions are told apart."""
    (done,) = finish_guides(small, small.register, ["sm-1"])
    pages = {page.uri: page for page in done.composed.pages}
    lines = read_page(pages["task/fill-water.md"], done.composed.frame)
    assert lines[0] == Line("", "Fill the water system")
    assert next(line.text for line in lines if line.what == "step")[-1] == "."
    assert not any("⟦" in line.text or "<" in line.text for line in lines)
    assert any(line.what == "caution" for page in pages.values() for line in read_page(
        page, done.composed.frame
    ))  # fmt: skip
