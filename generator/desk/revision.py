"""The workspace as it was at a revision of git, in a folder of its own."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from generator.problems import RefusedError
from generator.read.layers import SETTINGS

_PARTS = ("docs_src", "site_assets", "units", "mkdocs.yml", SETTINGS)
"""What a workspace is read from."""


@contextmanager
def workspace_at(root: Path, revision: str) -> Iterator[Path]:
    """Give the workspace as it is committed; neither the working tree nor the index is touched.

    Raises:
        RefusedError: the workspace is not under git, or there is no such revision.
    """
    if shutil.which("git") is None:
        raise RefusedError("there is no git on this machine", "install it")
    top = Path(_git(root, "rev-parse", "--show-toplevel", wrong="the workspace is not under git"))
    below = _git(root, "rev-parse", "--show-prefix").rstrip("/")
    wanted = f"{revision}^{{commit}}"
    commit = _git(
        root, "rev-parse", "--verify", "--quiet", "--end-of-options", wanted,
        wrong=f"no revision '{revision}'",
    )  # fmt: skip
    with tempfile.TemporaryDirectory(prefix="lockerleaf-") as folder:
        index = {"GIT_INDEX_FILE": str(Path(folder) / "index")}
        tree = f"{commit}:{below}" if below else commit
        told = f"the workspace is not in revision '{revision}'"
        _git(top, "read-tree", tree, wrong=told, **index)
        held = _git(top, "ls-files", "-z", "--", *_PARTS, **index)
        to = Path(folder) / "workspace"
        to.mkdir()
        _git(
            top, "checkout-index", "-z", "--stdin", "--quiet", f"--prefix={to}/",
            given=held, **index,
        )  # fmt: skip
        stands = (to / "docs_src").is_dir() or (to / SETTINGS).is_file()
        if not stands or not (to / "units").is_dir():
            raise RefusedError(told, "a revision that has docs_src/ and units/")
        yield to


def _git(at: Path, *arguments: str, wrong: str = "", given: str = "", **variables: str) -> str:
    """Return what git says; its refusal in one line."""
    done = subprocess.run(  # noqa: S603 - no shell; a revision cannot be taken for an option
        ["git", "-c", "core.quotePath=false", *arguments],  # noqa: S607 - as the user has it
        cwd=at,
        env={**os.environ, **variables},
        input=given,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        told = (done.stderr.strip().splitlines() or ["no more is told"])[0]
        wrong = wrong or f"git {arguments[0]} fails ({told})"
        raise RefusedError(wrong, "a revision such as HEAD, in a repository")
    return done.stdout.rstrip("\n")
