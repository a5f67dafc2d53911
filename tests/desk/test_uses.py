"""Where a thing is used is what changes when its words change."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from generator.desk.uses import Use, find_sorts, find_uses
from generator.flow import finish_guides
from generator.problems import RefusedError
from generator.read.sources import Sources, read_sources

Run = Callable[..., str]


def use_of(sources: Sources, sort: str, name: str) -> Use:
    """Return where the small unit's guide holds something."""
    (use,) = find_uses(sources, sort, name, ["sm-1"]).units
    return use


@pytest.mark.parametrize(
    ("sort", "name", "path", "old", "new"),
    [
        ("task", "fill-water", "tasks/water/fill-water.md", "\n1. ", "\n1. Now "),
        (
            "snippet",
            "wait-for-hot-water",
            "snippets/wait-for-hot-water.md",
            "Wait",
            "Please wait",
        ),
        ("caution", "scald", "cautions/water.yml", "scald:\n", "scald:\n"),
    ],
)
def test_as_an_edit_shows(
    sort: str, name: str, path: str, old: str, new: str, workspace: Path
) -> None:
    """The pages that are told are those that come out otherwise after an edit of the words."""
    sources = read_sources(workspace)
    file = workspace / "docs_src" / path
    text = file.read_text("utf-8")
    if sort == "caution":
        hazard = sources.library.cautions[name].hazard
        old, new = hazard, f"{hazard} Mind that."
    assert old in text
    file.write_text(text.replace(old, new, 1), "utf-8")
    edited = read_sources(workspace)
    before, after = (
        {page.uri: page for page in finish_guides(s, s.register, ["sm-1"])[0].composed.pages}
        for s in (sources, edited)
    )
    codes = {code.partition("-")[2] for code in sources.register.latest}
    differ = {
        uri.replace(".md", ".html")
        for uri in after
        if (before[uri].text, before[uri].values) != (after[uri].text, after[uri].values)
        and uri.split("/")[0] not in codes
        and uri != "search.md"
    }
    assert differ
    assert set(use_of(sources, sort, name).pages) == differ


def test_every_sort(small: Sources) -> None:
    """Kinds, routines, symptoms, interlocks, models, phrases and drawings are found as well."""
    kind = use_of(small, "kind", "cassette-toilet")
    assert "kit/toilet.html" in kind.pages
    assert "task/empty-cassette.html" in kind.pages
    assert "task/fill-water.html" not in kind.pages
    assert "routine/arrive.html" in use_of(small, "routine", "arrive").pages
    symptom = use_of(small, "symptom", "no-hot-water")
    assert "symptom/no-hot-water.html" in symptom.pages
    assert "wrong.html" in symptom.named
    assert "booklet" in symptom.papers
    assert use_of(small, "model", "small-2").papers == ("stickers", "booklet", "handover")
    assert "task/fill-water.html" in use_of(small, "wording", "steps_heading").pages
    name = next(iter(small.library.interlocks))
    assert use_of(small, "interlock", name) == Use("sm-1", (), (), ())
    scald = use_of(small, "caution", "scald")
    assert set(scald.papers) == {"stickers", "booklet"}
    unused = next(name for name in small.assets.pictures if "bowl-valve" in name)
    assert find_uses(small, "drawing", unused, ["sm-1"]).units == ()
    assert find_uses(small, "snippet", "wait-for-hot-water", ["sm-1"]).tasks == (
        "heat-water-gas",
        "heat-water-mains",
    )


def test_a_unit_without_it(workspace: Path, lockerleaf: Run) -> None:
    """A unit that lacks the equipment is not told; alike ones are told together."""
    for name, more in (("sm-2", "without: [toilet]\n"), ("sm-3", ""), ("sm-4", "")):
        text = f"unit: {name}\nbased_on: small-2\ntitle: Small, {name}\n{more}"
        (workspace / "units" / f"{name}.yml").write_text(text, "utf-8")
    told = lockerleaf("where-used", "empty-cassette").splitlines()
    assert told[0] == "task empty-cassette: 3 units"
    assert told[1] == "sm-1, sm-3, sm-4"
    assert told[2:4] == ["  task/empty-cassette.html", told[3]]
    assert told[3].startswith("  named on index.html, place/toilet-hatch.html, all.html")
    (uses,) = json.loads(lockerleaf("where-used", "empty-cassette", "--format", "json"))
    assert [use["unit"] for use in uses["units"]] == ["sm-1", "sm-3", "sm-4"]
    assert lockerleaf("where-used", "task/empty-cassette", "sm-2").startswith(
        "task empty-cassette: no units"
    )


def test_names(small: Sources, lockerleaf: Run) -> None:
    """A name may be of several sorts; a wrong one is one line."""
    assert find_sorts(small, "caution/scald") == (("caution", "scald"),)
    with pytest.raises(RefusedError, match="nothing is named 'fil-water'; right: did you"):
        find_sorts(small, "fil-water")
    assert lockerleaf("where-used", "kind/nosuch").startswith("lockerleaf: nothing is named 'kind/")
