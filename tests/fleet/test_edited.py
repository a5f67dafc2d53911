"""An edited text is made where it stands and nowhere else, and all is as a clean build makes it."""

from __future__ import annotations

import itertools
import multiprocessing
import os
import shutil
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import pytest
from click.testing import CliRunner
from site_checks import copy_workspace

from fleet.test_incremental import add_units, edit, tree
from generator import workers
from generator.cli import main
from generator.compose import compose
from generator.compose.context import Context, Drawings
from generator.compose.page import Page
from generator.compose.task_page import task_page
from generator.fit.codes import SYMBOLS, is_code
from generator.fleet import Wish, build_fleet
from generator.flow import finish_guides
from generator.problems import Problems
from generator.publish import swap
from generator.read.sources import Sources
from generator.read.survey import survey_workspace

Run = Callable[..., str]

BUILD = ("build", "--no-papers", "--jobs", "1")
FILL = "docs_src/tasks/water/fill-water.md"
SNIPPET = "docs_src/snippets/wait-for-hot-water.md"


def some_codes(unit: str, count: int) -> list[str]:
    """Return codes that a unit may have."""
    every = (f"{unit}-{''.join(three)}" for three in itertools.product(SYMBOLS, repeat=3))
    return list(itertools.islice(filter(is_code, every), count))


@pytest.fixture
def fleet(workspace: Path, lockerleaf: Run) -> Path:
    """Return a workspace of three units, two of them alike, with stickers of every sort; built."""
    add_units(workspace)
    task, gone, shut = some_codes("M9S3", 3)
    with (workspace / "units" / "register.csv").open("a", encoding="utf-8") as register:
        register.write(
            f"{task},sm-1,task,heat-water-gas,minted,2026-05-01,\n"
            f"{gone},sm-1,place,attic,minted,2026-05-01,\n"
            f"{shut},sm-1,task,fill-water,minted,2026-05-01,\n"
            f"{shut},sm-1,task,fill-water,retired,2026-06-01,torn\n"
        )
    lockerleaf(*BUILD)
    return workspace


@pytest.fixture
def whole(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return the units whose guides are made whole from now on."""
    made: list[str] = []
    finish = workers.finish_guide

    def noted(sources, unit, *others):
        made.append(unit.name)
        return finish(sources, unit, *others)

    monkeypatch.setattr(workers, "finish_guide", noted)
    return made


def as_clean(folder: Path, lockerleaf: Run, *options: str) -> bool:
    """Return whether what is published is what a clean build makes."""
    shutil.rmtree(folder / "clean", ignore_errors=True)
    lockerleaf(*BUILD, "--out", "clean", *options)
    return tree(folder / "public") == tree(folder / "clean")


def texts_of(folder: Path) -> Iterator[Path]:
    """Yield every text of the library."""
    yield from sorted(folder.glob("docs_src/tasks/*/*.md"))
    yield from sorted(folder.glob("docs_src/snippets/*.md"))


def put_in_words(path: Path) -> None:
    """Put some words into the first step of a text."""
    text = f"\n{path.read_text('utf-8')}"
    assert "\n1. " in text, path
    path.write_text(text.replace("\n1. ", "\n1. Take care. ", 1)[1:], "utf-8")


def test_every_text_is_made_where_it_stands(fleet: Path, lockerleaf: Run, whole: list[str]) -> None:
    """Each is edited in turn; no guide is made whole, no page is missed, in sticker pages too."""
    for path in texts_of(fleet):
        put_in_words(path)
        before = tree(fleet / "public")
        told = lockerleaf(*BUILD)
        assert "guides built" in told or "guide built" in told, told
        assert whole == []
        assert tree(fleet / "public") != before, path
        assert as_clean(fleet, lockerleaf), path
        assert whole.pop()
        whole.clear()


def test_only_what_holds_a_text_is_composed_and_rendered(
    fleet: Path, lockerleaf: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The pages of the task, that of its place's sticker, and the first page with its revision."""
    seen: list[str] = []
    fill = workers.SiteRenderer.revise

    def noted(self, composed, earlier):
        seen.extend(page.uri for page in composed.pages)
        return fill(self, composed, earlier)

    monkeypatch.setattr(workers.SiteRenderer, "revise", noted)
    edit(fleet / SNIPPET, "Wait", "Please wait")
    lockerleaf(*BUILD)
    tasks = ["index.md", "task/heat-water-gas.md", "task/heat-water-mains.md"]
    assert sorted({uri for uri in seen if not uri.endswith("/index.md")}) == tasks
    codes = {uri for uri in seen if uri.endswith("/index.md")}
    assert f"{some_codes('M9S3', 1)[0].partition('-')[2]}/index.md" in codes
    assert len(codes) < 8
    assert as_clean(fleet, lockerleaf)


def test_an_edit_is_taken_back(fleet: Path, lockerleaf: Run, whole: list[str]) -> None:
    """What was published comes back, byte for byte, and then nothing is to be done."""
    before = tree(fleet / "public")
    edit(fleet / SNIPPET, "Wait", "Please wait")
    lockerleaf(*BUILD)
    edit(fleet / SNIPPET, "Please wait", "Wait")
    lockerleaf(*BUILD)
    assert whole == []
    assert tree(fleet / "public") == before
    assert lockerleaf(*BUILD).startswith("0 guides built")


def test_an_edit_that_nobody_sees_changes_nothing(fleet: Path, lockerleaf: Run) -> None:
    """The texts are the same when they are rendered, and so are the packs and the revision."""
    before = tree(fleet / "public")
    path = fleet / FILL
    path.write_text(path.read_text("utf-8") + "\n\n", "utf-8")
    told = lockerleaf(*BUILD)
    assert told.count(" pages, ") == 3, told
    assert tree(fleet / "public") == before


def test_what_a_text_takes_in_from_now_on_counts(
    fleet: Path, lockerleaf: Run, whole: list[str]
) -> None:
    """A snippet that a text took in with one edit is looked at with the next."""
    path = fleet / FILL
    path.write_text(path.read_text("utf-8") + "{% include 'wait-for-hot-water' %}\n", "utf-8")
    told = lockerleaf(*BUILD)
    if "right:" in told:
        pytest.fail(told)
    edit(fleet / SNIPPET, "Wait", "Please wait")
    lockerleaf(*BUILD)
    assert whole == []
    page = next((fleet / "public").glob("*/task/fill-water.html")).read_text("utf-8")
    assert "Please wait" in page
    assert as_clean(fleet, lockerleaf)


@pytest.mark.parametrize(
    ("path", "old", "new"),
    [
        # What its steps do counts in the proof, and so in the routines' pages.
        (
            "docs_src/tasks/water/fill-water.md",
            "\n1. ",
            "\n1. If you smell gas, do [smell of gas](task:smell-of-gas).\n1. ",
        ),
        # A page that tells a day is each unit's own.
        (
            "docs_src/tasks/gas/turn-on-gas.md",
            "{% if subject.hose_marked_until %}",
            "{% if subject.size_kg > 1000 %}",
        ),
        (
            "docs_src/tasks/gas/turn-off-gas.md",
            "\n1. ",
            "\n{% if subject.hose_marked_until %}\n1. Read {{ subject.hose_marked_until }}.\n"
            "{% endif %}\n1. ",
        ),
    ],
)
def test_an_edit_that_changes_more_is_made_whole(
    path: str, old: str, new: str, fleet: Path, lockerleaf: Run, whole: list[str]
) -> None:
    """And comes to what a clean build comes to."""
    edit(fleet / path, old, new)
    told = lockerleaf(*BUILD)
    assert "right:" not in told, told
    assert whole, "this test does not test what it should"
    assert as_clean(fleet, lockerleaf)


def test_a_spoiled_pack_is_not_relied_on(fleet: Path, lockerleaf: Run, whole: list[str]) -> None:
    """Of the same size and time, it looks as it was published; its digest tells."""
    for pack in fleet.glob("public/*/pack.*.bin"):
        status = pack.stat()
        pack.write_bytes(bytes(reversed(pack.read_bytes())))
        os.utime(pack, ns=(status.st_atime_ns, status.st_mtime_ns))
    edit(fleet / SNIPPET, "Wait", "Please wait")
    lockerleaf(*BUILD)
    assert len(whole) == 3
    assert as_clean(fleet, lockerleaf)


@pytest.mark.parametrize("what", ["missing", "touched"])
def test_a_guide_that_is_not_as_published_is_made_whole(
    what: str, fleet: Path, lockerleaf: Run, whole: list[str]
) -> None:
    """Nothing is linked from a folder in which somebody changed something."""
    page = next(fleet.glob("public/M9S3/task/park.html"))
    if what == "missing":
        page.unlink()
    else:
        page.write_text("not ours", "utf-8")
    edit(fleet / SNIPPET, "Wait", "Please wait")
    lockerleaf(*BUILD)
    assert whole == ["sm-1"]
    assert as_clean(fleet, lockerleaf)


def test_compressed_files_follow(fleet: Path, lockerleaf: Run, whole: list[str]) -> None:
    """Those of edited pages are made anew, and none is left of a pack that went."""
    lockerleaf(*BUILD, "--compress", "gzip")
    whole.clear()
    edit(fleet / SNIPPET, "Wait", "Please wait")
    lockerleaf(*BUILD, "--compress", "gzip")
    assert whole == []
    assert as_clean(fleet, lockerleaf, "--compress", "gzip")


def test_a_disk_without_links_is_copied(
    fleet: Path, lockerleaf: Run, whole: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Some file systems know none."""

    def refuse(*_: object) -> None:
        raise OSError("no links here")

    monkeypatch.setattr(swap.os, "link", refuse)
    edit(fleet / SNIPPET, "Wait", "Please wait")
    lockerleaf(*BUILD)
    assert whole == []
    assert as_clean(fleet, lockerleaf)


def test_a_mistake_is_told_once_and_nothing_is_published(fleet: Path, lockerleaf: Run) -> None:
    """For each unit one line, as when guides are made whole."""
    before = tree(fleet / "public")
    edit(fleet / FILL, "\n1. ", "\n1. {{ subject.nothing_such }} ")
    told = lockerleaf(*BUILD)
    lines = [line for line in told.splitlines() if "right:" in line]
    assert all(line.startswith(FILL) for line in lines)
    assert len(lines) == 1, "the library itself is told of, not the units"
    edit(fleet / FILL, "{{ subject.nothing_such }} ", "")
    edit(fleet / FILL, "\n1. ", "\n1. Look.\nwhat is this?\n1. ")
    told = lockerleaf(*BUILD)
    lines = [line for line in told.splitlines() if "right:" in line]
    assert [line.startswith(FILL) for line in lines] == [True] * 3, told
    assert all(sum(unit in line for line in lines) == 1 for unit in ("sm-1", "sm-2", "sm-3"))
    assert tree(fleet / "public") == before


def test_papers_are_printed_from_what_was_edited(fleet: Path, lockerleaf: Run) -> None:
    """The booklet, the handover pack and the sheet are those of a clean build."""
    build = ("build", "sm-2", "--jobs", "1")
    lockerleaf(*build)
    before = tree(fleet / "print")
    edit(fleet / SNIPPET, "Wait", "Please wait")
    lockerleaf(*build)
    after = tree(fleet / "print")
    assert after != before
    shutil.rmtree(fleet / "print")
    lockerleaf(*build, "--out", "clean")
    assert tree(fleet / "print") == after


def test_papers_alone_need_no_new_guide(fleet: Path, lockerleaf: Run, whole: list[str]) -> None:
    """Guides that were built without them stay as they are."""
    before = tree(fleet / "public")
    lockerleaf("build", "sm-2", "--jobs", "1")
    assert whole == []
    papers = [path.name for path in sorted((fleet / "print" / "sm-2").glob("*.pdf"))]
    assert papers == ["booklet.pdf", "handover.pdf", "stickers.pdf"]
    assert tree(fleet / "public") == before


def _build(root: Path, pool: ProcessPoolExecutor) -> None:
    wish = Wish(root, root / "public", papers=False, executor=pool)
    build_fleet(wish, lambda survey: sorted(survey.names), lambda *_: (), lambda _: None)


def test_workers_that_stay_read_edited_texts(fleet: Path, lockerleaf: Run) -> None:
    """Those of a cluster live on from build to build."""
    with ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as pool:
        (fleet / "units" / "dealer.yml").open("a").write("\n# looked at\n")
        _build(fleet, pool)
        edit(fleet / SNIPPET, "Wait", "Please wait")
        _build(fleet, pool)
    pages = list(fleet.glob("public/*/task/heat-water-gas.html"))
    assert len(pages) == 3
    assert all("Please wait" in page.read_text("utf-8") for page in pages)
    assert as_clean(fleet, lockerleaf)


def test_a_page_must_tell_whose_text_it_holds(small: Sources) -> None:
    """A page that did not would go on showing an old text."""
    (done,) = finish_guides(small, small.register, ["sm-1"])
    drawings = Drawings(small.assets.signs, small.assets.pictures)
    context = Context(done.guide, done.proof, small.library, drawings, Problems())
    task = done.guide.tasks[0]
    make: Callable[[], tuple[Page]] = lambda: (task_page(context, task, "x.md"),)  # noqa: E731
    for holds in ({task.slug}, {task.slug, "another"}):
        assert compose._pages_of(context, [compose._Maker(make, frozenset(holds))])
    with pytest.raises(LookupError, match=task.slug):
        compose._pages_of(context, [compose._Maker(make)])


def test_every_text_of_a_task_is_surveyed(demo: Sources) -> None:
    """What a task says that it holds are files that are looked at for edits."""
    texts = survey_workspace(demo.root).texts
    assert demo.library.texts.keys() == demo.library.tasks.keys()
    assert {file for files in demo.library.texts.values() for file in files} <= texts.keys()


@pytest.mark.parametrize(("unit", "whole_anew"), [("cv-3004", False), ("pv-5001", True)])
def test_a_demo_unit_is_edited(
    demo: Sources, unit: str, whole_anew: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ten texts at once; a guide in two languages is made whole."""
    root = copy_workspace(demo.root, tmp_path / "w")

    monkeypatch.chdir(root)
    run = partial(CliRunner().invoke, main)
    assert run(["build", unit, "--no-papers", "--jobs", "1"]).exit_code == 0
    held = sorted(demo.library.texts)[::20]
    for name in held:
        put_in_words(root / demo.library.texts[name][0])
    made: list[str] = []
    finish = workers.finish_guide
    monkeypatch.setattr(
        workers, "finish_guide", lambda *given: made.append(given[1].name) or finish(*given)
    )
    told = run(["build", unit, "--no-papers", "--jobs", "1"])
    assert "1 guide built" in told.output, told
    assert bool(made) == whole_anew
    run(["build", unit, "--no-papers", "--jobs", "1", "--out", "clean"])
    code = next(entry.code for entry in demo.register.of_unit(unit).entries if entry.sort == "unit")
    assert tree(root / "public" / code) == tree(root / "clean" / code)
