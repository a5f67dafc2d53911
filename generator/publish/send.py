"""Copy a published folder to where it is served from, so that no page there leads nowhere.

New files go first: nothing leads to them yet. Then those that changed, each in one step. In both,
what pages are made with goes before them, a guide's first pages and its worker after the others.
What is no longer there goes last, and only out of guides' own folders, so that whatever else is
kept at the target stays. `sftp.py` does the same by SFTP.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from generator.fit.codes import is_unit_code

_REMOTE = re.compile(r"rsync://.+|(?:[^/:\s]+@)?[^/:\s]{2,}:.+")
"""`host:folder`, `user@host:folder` or `rsync://host/module`; one letter is a drive."""

BEGUN = re.compile(r"\..+\.[a-z0-9_]{8}")
"""Names that `tempfile` gives to files being copied."""

_LAST = ("worker.js", "worker.js.gz", "worker.js.br")


class RefusedError(Exception):
    """The other side did not take the files; the text says what it said."""


@dataclass(frozen=True, slots=True)
class Sent:
    """What was done at the target."""

    new: int
    changed: int
    removed: int


def is_sftp(target: str) -> bool:
    """Return whether a target is reached by SFTP."""
    return target.lower().startswith("sftp://")


def is_remote(target: str) -> bool:
    """Return whether a target is reached by rsync, and not a folder of this machine."""
    return not is_sftp(target) and bool(_REMOTE.fullmatch(target))


def send_to_folder(public: Path, to: Path) -> Sent:
    """Copy the published folder into another one, which may be on a mounted drive.

    Killed at any moment, every page at the target leads to files that are there; sending again
    completes it.

    Raises:
        OSError: The target cannot be written, or is full; what was there stays.
    """
    to.mkdir(parents=True, exist_ok=True)
    guides = guides_in(public)
    _drop_leftovers(to, guides)
    names = list(files_in(public))
    new = [name for name in names if not (to / name).exists()]
    for name in sorted(new, key=turn_of):
        _copy(public / name, to / name)
    known = set(new)
    changed = [name for name in names if name not in known and not _same(public / name, to / name)]
    for name in sorted(changed, key=turn_of):
        _copy(public / name, to / name)
    wanted = set(names)
    old = [
        name
        for folder in guides
        if (to / folder).is_dir()
        for name in files_in(to, folder)
        if name not in wanted
    ]
    for name in old:
        (to / name).unlink()
    for folder in guides:
        _drop_empty(to / folder)
    return Sent(len(new), len(changed), len(old))


def send_by_rsync(public: Path, target: str) -> None:
    """Copy the published folder to another machine by rsync, in the same order.

    Raises:
        RefusedError: rsync is not there, or says that it failed.
    """
    if shutil.which("rsync") is None:
        raise RefusedError("rsync is not installed")
    source, to = f"{public}/", f"{target.rstrip('/')}/"
    hidden = ["--exclude=.*"]
    last = [f"--exclude={name}" for name in _LAST]
    common = ["-rt", "--checksum"]
    guides = [rule for folder in guides_in(public) for rule in (f"/{folder}/", f"/{folder}/**")]
    with tempfile.NamedTemporaryFile("w", suffix=".filter", encoding="utf-8") as rules:
        rules.write("".join(f"+ {rule}\n" for rule in guides) + "- *\n")
        rules.flush()
        steps: tuple[Sequence[str], ...] = (
            (*common, "--ignore-existing", *hidden),
            (*common, *hidden, *last),
            (*common, *hidden),
            (*common, "--delete-after", *hidden, f"--filter=merge {rules.name}"),
        )
        for step in steps:
            done = subprocess.run(  # noqa: S603 - a list, so no shell reads it
                ["rsync", *step, "--", source, to],  # noqa: S607 - whichever the machine has
                capture_output=True,
                text=True,
                check=False,
            )
            if done.returncode != 0:
                told = (done.stderr.strip() or f"rsync ended with {done.returncode}").split("\n")
                raise RefusedError(told[0])


def turn_of(name: str) -> int:
    """Return when a file's turn is among those that are new, or that changed: the lowest first."""
    plain = name.removesuffix(".gz").removesuffix(".br")
    folder, _, file = plain.rpartition("/")
    if name.endswith(_LAST):
        return 3
    if not file.endswith(".html"):
        return 0
    if not folder:
        return 4
    return 2 if file == "index.html" else 1


def files_in(base: Path, folder: str = "") -> Iterator[str]:
    """Yield the files under a folder, by path from `base`; hidden ones are of a running build."""
    for path in sorted((base / folder).rglob("*")):
        name = path.relative_to(base)
        if path.is_file() and not any(part.startswith(".") for part in name.parts):
            yield name.as_posix()


def guides_in(public: Path) -> list[str]:
    """Return the folders that are wholly ours: those named by a unit's code."""
    return sorted(
        path.name for path in public.iterdir() if path.is_dir() and is_unit_code(path.name)
    )


def _same(one: Path, other: Path) -> bool:
    return one.stat().st_size == other.stat().st_size and one.read_bytes() == other.read_bytes()


def _copy(source: Path, to: Path) -> None:
    """Copy a file so that it is never seen half-written."""
    to.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=to.parent, prefix=f".{to.name}.")
    try:
        with os.fdopen(handle, "wb") as file, source.open("rb") as content:
            shutil.copyfileobj(content, file)
        os.chmod(name, 0o644)
        os.replace(name, to)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _drop_leftovers(to: Path, guides: Sequence[str]) -> None:
    """Remove what a killed copy had begun."""
    for folder in (to, *(to / guide for guide in guides)):
        for path in folder.glob(".*") if folder == to else folder.rglob(".*"):
            if path.is_file() and BEGUN.fullmatch(path.name):
                path.unlink()


def _drop_empty(folder: Path) -> None:
    for path in sorted(folder.rglob("*"), reverse=True):
        if path.is_dir() and not any(path.iterdir()):
            path.rmdir()
