"""Switch built folders in: each guide whole, the old one there until the new one stands."""

from __future__ import annotations

import ctypes
import errno
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from generator.publish.register import write_whole

_OLD = ".old-"
_STAGED = ".staged-"

_TRIES, _WAIT_S = 20, 0.05
"""How often, and after how long, an interrupted build's leftovers are looked for again."""

_HERE = -100  # AT_FDCWD of fcntl.h: paths are taken as they are
_EXCHANGE = 2  # RENAME_EXCHANGE of renameat2(2)


class BusyError(Exception):
    """Another build writes into the same folder."""


@contextmanager
def only_builder(lock: Path) -> Iterator[None]:
    """Hold a lock file for one build; the system lets go of it when the build dies.

    Raises:
        BusyError: Another build holds it.
    """
    with lock.open("a+b") as file:
        try:
            if sys.platform == "win32":
                import msvcrt

                msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
            else:
                import fcntl

                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            if error.errno in (errno.EACCES, errno.EAGAIN, errno.EDEADLK):
                raise BusyError(str(lock)) from None
            # A file system without locks: builds must then not overlap, as the README says.
        yield


def staging_folder(out: Path) -> Path:
    """Return a new folder beside the published ones."""
    out.mkdir(parents=True, exist_ok=True)
    return Path(tempfile.mkdtemp(prefix=_STAGED, dir=out))


def stage_guide(files: Mapping[str, bytes], staged: Path, live: Path) -> None:
    """Write a guide's files into `staged`.

    A file that is published just so is linked and not written, and keeps its time.
    """
    made: set[str] = set()
    published = live.is_dir()
    for name, content in files.items():
        path = f"{staged}/{name}"  # thousands of files: as text, which takes a tenth of the time
        folder = path.rpartition("/")[0]
        if folder not in made:
            os.makedirs(folder, exist_ok=True)
            made.add(folder)
        if published and _is_just(f"{live}/{name}", content) and _linked(f"{live}/{name}", path):
            continue
        _write_new(path, content)


def stage_revision(
    files: Mapping[str, bytes], gone: Collection[str], staged: Path, live: Path
) -> int:
    """Write a guide into `staged` of which only some files are others than the published ones.

    Return by how many bytes it is larger than that. What is neither among `files` nor `gone` is
    linked from the published guide.
    """
    stage_guide(files, staged, live)
    larger = sum(len(content) for content in files.values())

    def look(folder: str, shown: str) -> None:
        nonlocal larger
        os.makedirs(f"{staged}/{shown}", exist_ok=True)
        with os.scandir(folder) as entries:
            for entry in entries:
                name = f"{shown}{entry.name}"
                if entry.is_dir(follow_symlinks=False):
                    look(entry.path, f"{name}/")
                elif name in files or name in gone:
                    larger -= entry.stat(follow_symlinks=False).st_size
                elif not _linked(entry.path, f"{staged}/{name}"):
                    shutil.copyfile(entry.path, f"{staged}/{name}")

    look(str(live), "")
    return larger


def _write_new(path: str, content: bytes) -> None:
    file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | getattr(os, "O_BINARY", 0), 0o666)
    try:
        rest = memoryview(content)
        while rest:
            rest = rest[os.write(file, rest) :]
    finally:
        os.close(file)


def _is_just(path: str | Path, content: bytes) -> bool:
    try:
        file = os.open(path, os.O_RDONLY | getattr(os, "O_BINARY", 0))
    except OSError:
        return False
    try:
        size = len(content)
        return os.fstat(file).st_size == size and os.read(file, size + 1) == content
    except OSError:
        return False
    finally:
        os.close(file)


def _linked(live: str, staged: str) -> bool:
    try:
        os.link(live, staged)
    except OSError:  # a file system without links
        return False
    return True


def swap_in(staged: Iterable[Path], out: Path) -> None:
    """Put each staged folder in place of the one of its name under `out`.

    Where the system can exchange two folders, a guide is there at every instant. Elsewhere it is
    absent between two renames; a build that was killed just there is healed by the next.
    """
    out.mkdir(parents=True, exist_ok=True)
    for folder in staged:
        live = out / folder.name
        if live.exists() and exchange(folder, live):
            shutil.rmtree(folder, ignore_errors=True)
            continue
        old = out / f"{_OLD}{folder.name}"
        if live.exists():
            live.rename(old)
        folder.rename(live)
        shutil.rmtree(old, ignore_errors=True)


def exchange(one: Path, other: Path) -> bool:
    """Exchange two folders in one step; return False where the system cannot, with both as were."""
    if not sys.platform.startswith("linux"):
        return False
    try:
        rename = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError):
        return False
    return bool(rename(_HERE, os.fsencode(one), _HERE, os.fsencode(other), _EXCHANGE) == 0)


def heal(out: Path) -> None:
    """Bring back guides that an interrupted build had moved aside, and drop what it left.

    Call it while the folder is held, so that no other build's staging is taken for a leftover.
    """
    for left in out.glob(f"{_STAGED}*"):
        _remove(left)
    for old in out.glob(f"{_OLD}*"):
        live = out / old.name.removeprefix(_OLD)
        if live.exists():
            _remove(old)
        else:
            old.rename(live)


def _remove(folder: Path) -> None:
    """Remove a folder that an interrupted build left.

    A worker of that build that is just being killed still ends the file or folder that it had
    begun, perhaps in a folder that has been looked through already.
    """
    for _ in range(_TRIES):
        shutil.rmtree(folder, ignore_errors=True)
        if not folder.exists():
            return
        time.sleep(_WAIT_S)


def write_files(files: Mapping[str, str | bytes], out: Path) -> None:
    """Write single files under `out`, each whole; one that is just so is left alone."""
    for name, content in files.items():
        path = out / name
        raw = content.encode() if isinstance(content, str) else content
        if _is_just(path, raw):
            continue
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, raw)
