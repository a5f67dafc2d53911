"""Guides with codes, ready to print, and the demo built once."""

from __future__ import annotations

from pathlib import Path

import pytest
from site_checks import Parsed, copy_workspace, lockerleaf, parse_site

from generator.read.sources import Sources
from render.paper import Ready, ready_to_print


@pytest.fixture(scope="session")
def ready(demo: Sources) -> Ready:
    """Return the demo's guides with codes."""
    return ready_to_print(demo)


@pytest.fixture(scope="session")
def built(demo: Sources, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a copy of the demo's workspace, built once by the command itself."""
    folder = copy_workspace(demo.root, tmp_path_factory.mktemp("demo"))
    lockerleaf(folder, "build")
    return folder


@pytest.fixture(scope="session")
def pages(built: Path) -> dict[Path, Parsed]:
    """Return every page of the built demo, as an independent parser reads it."""
    return parse_site(built / "public")
