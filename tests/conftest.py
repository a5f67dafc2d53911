"""What all tests share: a small invented workspace to damage, and the real one to look at."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from generator.cli import main
from generator.problems import Problems
from generator.read import library, tasks, tree, units
from generator.read.sources import Sources, read_sources

REPOSITORY = Path(__file__).resolve().parent.parent
SMALL = REPOSITORY / "tests" / "small"


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the option that takes what is there now for what is expected."""
    parser.addoption("--bless", action="store_true", help="Write the expected files anew.")
    parser.addoption("--demo", default=str(REPOSITORY), help="Workspace with the demo units.")


SLOW_ROOMS = (
    "bench",
    "browser",
    "compose",
    "desk",
    "figures",
    "fleet",
    "library",
    "preview",
    "publish",
    "render",
)
"""Rooms whose tests do not belong to the set that is run after every change."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark the tests of the slow rooms, so that what is left takes seconds."""
    for item in items:
        if item.path.relative_to(REPOSITORY / "tests").parts[0] in SLOW_ROOMS:
            item.add_marker(pytest.mark.slow)


@pytest.fixture(scope="session", autouse=True)
def _parse_once() -> Iterator[None]:
    """Parse each good text once: most tests read the same files, and reading them is most work."""
    known: dict[object, tree.Table | None] = {}

    def parse(text: str, shown: str, problems: Problems, **options: Any) -> tree.Table | None:
        key = (text, shown, *sorted(options.items()))
        if key not in known:
            found = Problems()
            result = tree.parse_tree(text, shown, found, **options)
            if found.found:
                problems.found.extend(found.found)
                return result
            known[key] = result
        return known[key]

    with pytest.MonkeyPatch.context() as patch:
        for module in (library, tasks, units):
            patch.setattr(module, "parse_tree", parse)
        yield


@pytest.fixture
def workspace(tmp_path: Path) -> Path:
    """Return a copy of the small workspace, complete with our wording and assets."""
    return copy_small(tmp_path / "workspace")


@pytest.fixture(scope="session")
def small(tmp_path_factory: pytest.TempPathFactory) -> Sources:
    """Return the small workspace as read, for tests that change nothing."""
    return read_sources(copy_small(tmp_path_factory.mktemp("small") / "workspace"))


@pytest.fixture
def write(workspace: Path) -> Callable[[str, str], Path]:
    """Return a function that writes a text into the workspace and returns its path."""

    def written(path: str, text: str) -> Path:
        file = workspace / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, "utf-8")
        return file

    return written


@pytest.fixture
def change(workspace: Path) -> Callable[[str, str, str], None]:
    """Return a function that replaces a text, which must be there once, in a workspace file."""

    def changed(path: str, old: str, new: str) -> None:
        text = (workspace / path).read_text("utf-8")
        assert text.count(old) == 1, f"{path} holds {old!r} {text.count(old)} times"
        (workspace / path).write_text(text.replace(old, new), "utf-8")

    return changed


@pytest.fixture
def lockerleaf(workspace: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., str]:
    """Return a function that runs the command in the workspace and returns all that it tells."""

    def run(*arguments: str) -> str:
        monkeypatch.chdir(workspace)
        result = CliRunner().invoke(main, arguments)
        if result.exception and not isinstance(result.exception, SystemExit):
            raise result.exception
        return result.output

    return run


@pytest.fixture(scope="session")
def demo(request: pytest.FixtureRequest) -> Sources:
    """Return the repository's own library and demo units, as read."""
    return read_sources(Path(request.config.getoption("--demo")))


@pytest.fixture(scope="session")
def golden(request: pytest.FixtureRequest) -> Callable[[Path, str], None]:
    """Return a function that compares a text with an expected file, or blesses it."""

    def compare(path: Path, actual: str) -> None:
        if request.config.getoption("--bless"):
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(actual, "utf-8")
        expected = path.read_text("utf-8") if path.exists() else "(no such file; bless it)"
        assert actual == expected

    return compare


def copy_small(to: Path) -> Path:
    """Return a copy of the small workspace with the repository's wording, assets and settings."""
    shutil.copytree(SMALL, to, copy_function=shutil.copyfile)
    shutil.copy(REPOSITORY / "docs_src" / "wording" / "en.yml", to / "docs_src" / "wording")
    shutil.copy(REPOSITORY / "mkdocs.yml", to)
    (to / "site_assets").symlink_to(REPOSITORY / "site_assets")
    return to
