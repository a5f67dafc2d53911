"""Write descriptions of units: all that belong together or none, and nothing of anybody else's."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from generator.problems import RefusedError


@dataclass(frozen=True, slots=True)
class Write:
    """A file to be written."""

    path: Path
    before: bytes | None
    """What was read of it; None for a file that must not be there yet."""
    after: bytes


def write_all(writes: Sequence[Write]) -> None:
    """Write files, each whole, once all of them stand beside their places.

    Killed in between, some are the new ones and the others the old; none is half-written.

    Raises:
        RefusedError: somebody has changed or made one of them since it was read; none is written.
        OSError: the machine refuses, before any is written where it is for want of room.
    """
    staged: list[tuple[Path, Write]] = []
    try:
        for write in writes:
            staged.append((_stage(write), write))
        for write in writes:
            _refuse_meddling(write)
        for beside, write in staged:
            _put(beside, write)
    finally:
        for beside, _ in staged:
            beside.unlink(missing_ok=True)


def _stage(write: Write) -> Path:
    handle, name = tempfile.mkstemp(dir=write.path.parent, prefix=f".{write.path.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(write.after)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(name, 0o644)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return Path(name)


def _refuse_meddling(write: Write) -> None:
    shown = f"{write.path.parent.name}/{write.path.name}"
    if write.before is None and write.path.exists():
        raise RefusedError(f"{shown} has been made meanwhile", "look at it, then begin again")
    if write.before is not None and write.path.read_bytes() != write.before:
        raise RefusedError(f"{shown} has been changed meanwhile", "begin again")


def _put(beside: Path, write: Write) -> None:
    """Put a staged file in place; a new one never over another."""
    if write.before is None:
        try:
            os.link(beside, write.path)
            return
        except FileExistsError:
            _refuse_meddling(write)
        except OSError:  # a file system without links
            pass
    os.replace(beside, write.path)
