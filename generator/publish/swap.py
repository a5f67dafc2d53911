"""Switch built folders in: each guide whole, the old one kept until the new one stands."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterable, Mapping
from pathlib import Path

from generator.publish.register import write_whole

_OLD = ".old-"
_STAGED = ".staged-"


def staging_folder(out: Path) -> Path:
    """Return a new folder beside the published ones; those of killed builds are dropped first."""
    out.mkdir(parents=True, exist_ok=True)
    for left in out.glob(f"{_STAGED}*"):
        shutil.rmtree(left, ignore_errors=True)
    return Path(tempfile.mkdtemp(prefix=_STAGED, dir=out))


def swap_in(staged: Iterable[Path], out: Path) -> None:
    """Put each staged folder in place of the one of its name under `out`.

    A build that was killed between its two renames is healed first: the old guide comes back.
    """
    out.mkdir(parents=True, exist_ok=True)
    heal(out)
    for folder in staged:
        live = out / folder.name
        old = out / f"{_OLD}{folder.name}"
        if live.exists():
            live.rename(old)
        folder.rename(live)
        shutil.rmtree(old, ignore_errors=True)


def heal(out: Path) -> None:
    """Bring back guides that an interrupted build had moved aside, and drop leftovers."""
    for old in out.glob(f"{_OLD}*"):
        live = out / old.name.removeprefix(_OLD)
        if live.exists():
            shutil.rmtree(old, ignore_errors=True)
        else:
            old.rename(live)


def write_files(files: Mapping[str, str | bytes], out: Path) -> None:
    """Write single files under `out`, each whole."""
    for name, content in files.items():
        path = out / name
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, content.encode() if isinstance(content, str) else content)
