"""A dealer's own workspace, which stands on the library that comes with this program."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from generator.desk.editing import Draft
from generator.problems import RefusedError
from generator.read.layers import SETTINGS, packaged

_FILES = {
    "lockerleaf.yml": SETTINGS,
    "dealer.yml": "units/dealer.yml",
    "unit.yml": "units/example-1.yml",
    "mkdocs.yml": "mkdocs.yml",
    "gitignore": ".gitignore",
    "README.md": "README.md",
    "docs_src.md": "docs_src/README.md",
    "site_assets.md": "site_assets/README.md",
}
"""Where each file of `site_assets/start/` goes."""


def make_workspace(folder: Path, dealer: Mapping[str, str]) -> None:
    """Make a workspace in a folder that is not there yet, or empty: whole or not at all.

    `dealer` are values for the dealer's file; what is not given stays to be filled in.

    Raises:
        RefusedError: there is something in the folder already.
    """
    shown = folder.name or str(folder)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise RefusedError(f"{shown} is not empty", "a folder that is not there yet")
    start = packaged() / "site_assets" / "start"
    folder.parent.mkdir(parents=True, exist_ok=True)
    staged = Path(tempfile.mkdtemp(prefix=".lockerleaf-", dir=folder.parent))
    try:
        for name, to in _FILES.items():
            text = (start / name).read_text("utf-8")
            if name == "dealer.yml":
                text = _filled_in(text, dealer)
            (staged / to).parent.mkdir(exist_ok=True)
            (staged / to).write_text(text, "utf-8")
        staged.chmod(0o755)
        if folder.exists():
            folder.rmdir()
        os.rename(staged, folder)
    finally:
        shutil.rmtree(staged, ignore_errors=True)


def _filled_in(text: str, dealer: Mapping[str, str]) -> str:
    draft = Draft(text)
    for key, value in dealer.items():
        if value:
            draft.set((key,), value)
    return draft.text
