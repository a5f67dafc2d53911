"""The register's only writer. One command at a time; killed at any moment, nothing is lost."""

from __future__ import annotations

import csv
import io
import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from generator.fit.codes import with_entries
from generator.problems import Mark, Problem, Problems, ProblemsFound
from generator.read.register import COLUMNS, Entry, Register, read_register

if sys.platform != "win32":
    import fcntl

_PATIENCE_SECONDS = 30.0
"""Longest wait for another command's turn; one takes milliseconds."""

_POLL_SECONDS = 0.01

Decide = Callable[[Register], Iterable[Entry]]
"""What to add to the register, given how it stands now."""


class OvertakenError(Exception):
    """Another command has changed what this one had read of the register."""


def unless_overtaken(read: Register, units: Iterable[str], new: Sequence[Entry]) -> Decide:
    """Return a decision to add entries, for as long as what was `read` of these units is so.

    What is decided on later raises `OvertakenError`: guides that were made with codes that are not
    in force any more must not be published.
    """
    units = tuple(units)

    def decide(newest: Register) -> Sequence[Entry]:
        changed = any(newest.of_unit(n).entries != read.of_unit(n).entries for n in units)
        if changed or any(entry.code in newest.latest for entry in new):
            raise OvertakenError
        return new

    return decide


def add_to_register(root: Path, decide: Decide) -> Register:
    """Add what `decide` says to `units/register.csv`, and return the register as it then stands.

    The newest register is read, decided on and written while no other command may do so: what
    others have added since this command last looked is there to be kept.

    Raises:
        ProblemsFound: the file is damaged, or another command does not finish.
    """
    path = root / "units" / "register.csv"
    with only_writer(root):
        # Whoever wrote these was killed: nobody else may be writing now.
        for left in path.parent.glob(f".{path.name}.*"):
            left.unlink(missing_ok=True)
        problems = Problems()
        newest = read_register(root, problems)
        problems.stop_if_any()
        new = tuple(decide(newest))
        if new:
            _append(path, new)
    return with_entries(newest, new)


def _append(path: Path, new: Sequence[Entry]) -> None:
    """Write the register anew beside and put it in place in one step: it is the old or the new.

    What it held is kept byte for byte, so that nobody's lines change.
    """
    before = path.read_bytes() if path.exists() else (",".join(COLUMNS) + "\n").encode()
    lines = io.StringIO()
    writer = csv.writer(lines, lineterminator="\n")
    for entry in new:
        writer.writerow([getattr(entry, column) for column in COLUMNS])
    write_whole(path, before + lines.getvalue().encode())


def write_whole(path: Path, content: bytes) -> None:
    """Write a file so that it is never seen half-written."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(name, 0o644)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


@contextmanager
def only_writer(root: Path) -> Iterator[None]:
    """Hold the right to write the register of a workspace, waiting for it as long as is sensible.

    Raises:
        ProblemsFound: another command has it and does not finish.
    """
    path = root / "units" / ".register.lock"
    take = take_by_file if sys.platform == "win32" else _take_by_kernel
    until = time.monotonic() + _PATIENCE_SECONDS
    while (give_back := take(path)) is None:
        if time.monotonic() > until:
            wrong = f"another command has been writing it for {_PATIENCE_SECONDS:g} seconds"
            right = "let it finish; if none is running, remove units/.register.lock"
            raise ProblemsFound([Problem(Mark("units/register.csv"), "(file)", wrong, right)])
        time.sleep(_POLL_SECONDS)
    try:
        yield
    finally:
        give_back()


def take_by_file(path: Path) -> Callable[[], None] | None:
    """Take the right by making a file that must not be there yet; None where it is.

    Where the system can, the file goes with the process that made it, however that ends.
    """
    goes_by_itself = getattr(os, "O_TEMPORARY", 0)
    try:
        handle = os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR | goes_by_itself)
    except (FileExistsError, PermissionError):
        # The second is how one system tells that the file is just going.
        if not path.parent.is_dir() or not os.access(path.parent, os.W_OK):
            raise
        return None

    def give_back() -> None:
        os.close(handle)
        with suppress(FileNotFoundError):
            path.unlink()

    return give_back


if sys.platform != "win32":

    def _take_by_kernel(path: Path) -> Callable[[], None] | None:
        """Take the right by the kernel's lock, which no kill can leave behind."""
        handle = os.open(path, os.O_CREAT | os.O_RDWR, 0o644)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            os.close(handle)
            return None
        return lambda: os.close(handle)
