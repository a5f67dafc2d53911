"""A dealer's own folder stands on the packaged library, and overrides it file by file."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner
from conftest import REPOSITORY, copy_small

from generator.cli import main
from generator.flow import finish_guides
from generator.problems import ProblemsFound, RefusedError
from generator.read import layers
from generator.read.layers import Layers, layers_of
from generator.read.sources import read_sources
from generator.read.survey import survey_workspace

Run = Callable[..., str]


@pytest.fixture
def library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a packaged library: the small one, as it would lie beside an installed program."""
    program = tmp_path / "program"
    copy_small(program / "library")
    (program / "library" / "site_assets").unlink()
    shutil.copytree(REPOSITORY / "site_assets", program / "library" / "site_assets")
    for path in (program / "library" / "units").glob("*.*"):
        path.unlink()
    start = program / "library" / "site_assets" / "start" / "unit.yml"
    start.write_text(start.read_text().replace("heronbeck-4", "small-2"), "utf-8")
    dealer = start.with_name("dealer.yml")
    dealer.write_text(dealer.read_text().replace("a4-12-of-63x72", "a4-6-of-90x90"), "utf-8")
    monkeypatch.setattr(layers, "_PROGRAM", program)
    return program / "library"


@pytest.fixture
def dealer(library: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a workspace that `init` made, its dealer's file filled in; commands run in it."""
    folder = tmp_path / "dealer"
    told = run(
        "init", str(folder), "--title", "Deal & Sons", "--telephone", "+44 1632 960003",
        "--address", "https://deal.example",
    )  # fmt: skip
    assert f"stands on the library in {library}" in told
    monkeypatch.chdir(folder)
    return folder


def run(*arguments: str) -> str:
    """Run the command, and return all that it tells."""
    result = CliRunner().invoke(main, arguments)
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.output


def page_of(root: Path, uri: str) -> str:
    """Return a page of the example's guide, as Markdown."""
    sources = read_sources(root)
    (done,) = finish_guides(sources, sources.register, ["example-1"])
    return next(page.text for page in done.composed.pages if page.uri == uri)


def override(dealer: Path, library: Path, path: str, old: str, new: str) -> Path:
    """Copy a file of the library into the workspace and replace a text in it."""
    text = (library / path).read_text("utf-8")
    assert old in text
    to = dealer / path
    to.parent.mkdir(parents=True, exist_ok=True)
    to.write_text(text.replace(old, new, 1), "utf-8")
    return to


def test_it_works_as_it_is_made(dealer: Path) -> None:
    """The example is checked and built; a second build has nothing to do."""
    assert "example-1  complete" in run("check")
    assert "1 guide built" in run("build", "--jobs", "1")
    assert "0 guides built" in run("build", "--jobs", "1")
    assert (dealer / "print" / "example-1" / "booklet.pdf").exists()
    assert "example-1  published" in run("status")
    assert {path.name for path in dealer.iterdir()} >= {".gitignore", "README.md", "mkdocs.yml"}


def test_what_is_to_be_filled_in(library: Path, tmp_path: Path) -> None:
    """Without options, three lines say what the dealer's file lacks."""
    told = run("init", str(tmp_path / "d"))
    assert "Next: fill in title, telephone, address in " in told
    with pytest.raises(ProblemsFound) as found:
        read_sources(tmp_path / "d")
    assert [(p.key, p.wrong) for p in found.value.problems] == [
        ("title", "is empty"),
        ("telephone", "is empty"),
        ("address", "is empty"),
    ]


def test_where_it_cannot_be_made(dealer: Path, tmp_path: Path) -> None:
    """What is there already is left alone; an empty folder will do."""
    told = run("init", str(dealer))
    assert told == "lockerleaf: dealer is not empty; right: a folder that is not there yet\n"
    (tmp_path / "file").write_text("x")
    assert run("init", str(tmp_path / "file")).startswith("lockerleaf: file is not empty")
    (tmp_path / "empty").mkdir()
    assert "is made" in run("init", str(tmp_path / "empty"))
    assert "is made" in run("init", str(tmp_path / "deep" / "er"))
    assert not list(tmp_path.glob(".lockerleaf-*"))


def test_a_text_is_replaced_and_added(dealer: Path, library: Path) -> None:
    """A file at the same path replaces the library's; a new one stands beside the others."""
    path = "docs_src/tasks/water/fill-water.md"
    before = page_of(dealer, "task/fill-water.md")
    override(dealer, library, path, "\n1. ", "\n1. Kindly ")
    assert "Kindly " in page_of(dealer, "task/fill-water.md")
    assert "Kindly " not in before
    override(dealer, library, path, "title: ", "title: Also ").rename(
        dealer / "docs_src" / "tasks" / "water" / "fill-more.md"
    )
    assert "# Also " in page_of(dealer, "task/fill-more.md")
    assert "Kindly " not in page_of(dealer, "task/fill-water.md")
    model = override(dealer, library, "units/models/small-2.yml", "cassette_l: 18", "cassette_l: 9")
    sources = read_sources(dealer)
    toilet = next(f for f in sources.stock.units["example-1"].fitted if f.name == "toilet")
    assert toilet.values["cassette_l"] == 9
    assert toilet.at.path == "units/models/small-2.yml"
    model.unlink()


def test_mistakes_are_told_where_they_stand(dealer: Path, library: Path) -> None:
    """One's own file by its path in the workspace, the library's by where that really is."""
    path = "docs_src/tasks/water/fill-water.md"
    override(dealer, library, path, "minutes: ", "minutes: no")
    assert run("check").startswith(f"{path}:")
    (dealer / path).unlink()
    shown = library / path
    text = shown.read_text("utf-8")
    shown.write_text(text.replace("minutes: ", "minutes: no", 1), "utf-8")
    assert run("check").startswith(f"{shown}:")
    shown.write_text(text, "utf-8")
    (dealer / "lockerleaf.yml").write_text("library: mine\n", "utf-8")
    assert run("check").startswith("lockerleaf.yml:1:10: library: is 'mine'; right: ")


def test_an_update_needs_no_merge(dealer: Path, library: Path) -> None:
    """New content of the library comes by itself, also into what was built; overrides stay."""
    override(dealer, library, "docs_src/tasks/water/fill-water.md", "\n1. ", "\n1. Kindly ")
    run("build", "--no-papers", "--jobs", "1")
    assert "0 guides built" in run("build", "--no-papers", "--jobs", "1")
    path = library / "docs_src" / "tasks" / "toilet" / "empty-cassette.md"
    path.write_text(path.read_text().replace("\n1. ", "\n1. Slowly ", 1), "utf-8")
    assert "1 guide built" in run("build", "--no-papers", "--jobs", "1")
    (guide,) = [path.parent for path in (dealer / "public").glob("*/emergency.html")]
    assert "Slowly " in (guide / "task" / "empty-cassette.html").read_text("utf-8")
    assert "Kindly " in (guide / "task" / "fill-water.html").read_text("utf-8")


@pytest.mark.parametrize(
    ("path", "old", "new"),
    [
        ("docs_src/snippets/wait-for-hot-water.md", "Wait", "Please wait"),
        ("docs_src/cautions/water.yml", "hazard: ", "hazard: Mind this. "),
        ("docs_src/wording/en.yml", "warning: Warning", "warning: Beware"),
        ("site_assets/guide.css", "}", "} .never { color: red; }"),
        ("site_assets/theme/main.html", "<footer>", '<footer data-own="1">'),
        ("site_assets/print/booklet.typ", "\n", "\n// Ours.\n"),
        ("units/models/small-2.yml", "bulb_w: 5", "bulb_w: 7"),
    ],
)
def test_every_override_is_noticed(
    path: str, old: str, new: str, dealer: Path, library: Path
) -> None:
    """The survey tells an override from none, and taking it back from leaving it."""

    def digest() -> str:
        survey = survey_workspace(dealer)
        unit = read_sources(dealer).stock.units["example-1"]
        return survey.of_guide("example-1", unit.files, sorted(survey.texts))

    before = digest()
    override(dealer, library, path, old, new)
    assert digest() != before
    (dealer / path).unlink()
    assert digest() == before


def test_look_and_print_are_overridden(dealer: Path, library: Path) -> None:
    """Templates of pages and papers that take in others of the library work from both layers."""
    override(dealer, library, "site_assets/theme/main.html", "<footer>", '<footer data-own="1">')
    override(dealer, library, "site_assets/print/booklet.typ", "\n", "\n// Ours.\n")
    assert "1 guide built" in run("build", "--jobs", "1")
    (guide,) = [path.parent for path in (dealer / "public").glob("*/emergency.html")]
    assert 'data-own="1"' in (guide / "emergency.html").read_text("utf-8")
    merged = layers_of(dealer).whole("site_assets/print")
    assert "// Ours." in (merged / "booklet.typ").read_text("utf-8")
    assert (merged / "paper.typ").read_bytes() == (
        library / "site_assets" / "print" / "paper.typ"
    ).read_bytes()


def test_desk_commands_see_both(dealer: Path) -> None:
    """Models of the library can be named, and what is used is found."""
    assert "is written" in run("new", "sm-9", "--like", "small-2")
    assert "no unit or model" in run("new", "sm-8", "--like", "small-3")
    assert run("where-used", "model/small-2").startswith("model small-2: 2 units")
    (dealer / "list.yml").write_text("columns: {unit: No, based_on: Model}\n", "utf-8")
    (dealer / "stock.csv").write_text("No,Model\nsm-7,small-2\n", "utf-8")
    assert "1 new" in run("import", "stock.csv", "--mapping", "list.yml")


def test_a_link_out_of_both_layers_is_refused(dealer: Path, tmp_path: Path) -> None:
    """A file of a layer really stands in one."""
    outside = tmp_path / "secret.md"
    outside.write_text("x")
    folder = dealer / "docs_src" / "snippets"
    folder.mkdir()
    (folder / "stray.md").symlink_to(outside)
    assert "docs_src/snippets/stray.md:1:1: (file): leads out of the library" in run("check")


def test_units_and_notices_are_ones_own(tmp_path: Path) -> None:
    """Of the library below, no unit, dealer or notice shows through."""
    own, below = tmp_path / "own", tmp_path / "below"
    for root, name in ((own, "a"), (below, "b")):
        for folder in ("units", "units/notices", "units/models", "docs_src"):
            (root / folder).mkdir(parents=True, exist_ok=True)
            (root / folder / f"{name}.yml").write_text(name)
    both = Layers((own, below))
    assert [p.name for p in both.files("units", "*.yml")] == ["a.yml"]
    assert [p.name for p in both.files("units/notices", "*.yml")] == ["a.yml"]
    assert [p.name for p in both.files("units/models", "*.yml")] == ["a.yml", "b.yml"]
    assert both.find("units/b.yml") == own / "units" / "b.yml"
    assert both.find("docs_src/b.yml") == below / "docs_src" / "b.yml"


def test_a_program_without_its_library(
    dealer: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """That is one line, too."""
    monkeypatch.setattr(layers, "_PROGRAM", tmp_path / "nothing" / "generator")
    with pytest.raises(RefusedError, match="came without its library; right: install it again"):
        read_sources(dealer)


@pytest.mark.slow
def test_an_installed_wheel_has_all_of_it(tmp_path: Path) -> None:
    """A wheel, put into a folder of its own, makes a workspace, checks it and builds it."""
    source = tmp_path / "source"
    tracked = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=REPOSITORY, capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    for name in filter(None, tracked.split("\0")):
        if (REPOSITORY / name).is_file():
            (source / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(REPOSITORY / name, source / name)
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check"]
    made = subprocess.run(
        [*pip, "wheel", "--quiet", "--no-deps", "--wheel-dir", str(tmp_path), str(source)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    if "No matching distribution found for setuptools" in made.stderr:
        pytest.skip("no package index to fetch the build tool from")
    assert made.returncode == 0, made.stderr
    (wheel,) = tmp_path.glob("*.whl")
    installed = tmp_path / "installed"
    subprocess.run(
        [*pip, "install", "--quiet", "--no-deps", "--no-index", "--target", str(installed), wheel],
        check=True,
    )
    environment = {**os.environ, "PYTHONPATH": str(installed)}

    def lockerleaf(at: Path, *arguments: str) -> str:
        done = subprocess.run(
            [sys.executable, "-m", "generator", *arguments],
            cwd=at, env=environment, capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    library = installed / "generator" / "library"
    assert lockerleaf(tmp_path, "library").strip() == str(library)
    for folder in ("docs_src", "site_assets", "units/models"):
        ours = {
            name for name in tracked.split("\0")
            if name.startswith(f"{folder}/") and (REPOSITORY / name).is_file()
        }  # fmt: skip
        carried = {
            path.relative_to(library).as_posix()
            for path in (library / folder).rglob("*")
            if path.is_file()
        }
        assert carried == ours
    lockerleaf(
        tmp_path, "init", "shop", "--title", "Deal", "--telephone", "+44 1632 960003",
        "--address", "https://deal.example",
    )  # fmt: skip
    shop = tmp_path / "shop"
    assert re.search(r"^example-1  complete +\d+", lockerleaf(shop, "check"), re.MULTILINE)
    assert "1 guide built" in lockerleaf(shop, "build", "--no-papers", "--jobs", "1")
