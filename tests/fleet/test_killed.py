"""Whatever a build meets, the site that was there stays whole; `tests/bench/kills.py` does 300."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from bench.kills import (
    edit,
    edit_text,
    full_disk,
    killed_builds,
    make_workspace,
    two_at_once,
)

Run = Callable[..., str]

needs_linux = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="kills a group")


@needs_linux
@pytest.mark.parametrize("how", [edit, edit_text])
def test_killed_builds_leave_whole_guides(how: Callable[[Path, int], None], tmp_path: Path) -> None:
    """Every guide is there, of one edit, without a dead link, at once and after the next build."""
    count = killed_builds(make_workspace(tmp_path / "workspace"), 12, edit=how)
    assert count["killed"] > 3
    assert (count["faults"], count["faults after the next build"]) == (0, 0)
    assert count["left over after the next build"] == 0


@needs_linux
def test_a_full_disk_leaves_what_was_there(tmp_path: Path) -> None:
    """The build ends in one line, and nothing of it is left."""
    told = full_disk(make_workspace(tmp_path / "workspace"))
    if told.startswith("not tried"):
        pytest.skip(told)
    assert told == "whole; told: lockerleaf: No space left on device; nothing published"


def test_two_builds_at_once_leave_one_whole_site(tmp_path: Path) -> None:
    """The second gives way."""
    assert two_at_once(make_workspace(tmp_path / "workspace")).startswith("whole; told: ")


@pytest.mark.skipif(not hasattr(os, "getuid") or os.getuid() == 0, reason="may write anywhere")
def test_no_permission_is_one_line(workspace: Path, lockerleaf: Run) -> None:
    """A folder that may not be written is told by name."""
    (workspace / "public").mkdir(mode=0o500)
    assert "Permission denied; nothing published" in lockerleaf("build", "--no-papers")


def test_a_file_in_the_way_is_one_line(workspace: Path, lockerleaf: Run) -> None:
    """A file where the folder should be is told by name, and stays."""
    (workspace / "public").write_text("mine")
    told = lockerleaf("build", "--no-papers")
    assert told.endswith("public: File exists; nothing published\n")
    assert (workspace / "public").read_text() == "mine"
