"""The register's only writer."""

from __future__ import annotations

import csv
import io
import os
import tempfile
from collections.abc import Sequence
from pathlib import Path

from generator.read.register import COLUMNS, Entry, Register


def write_register(root: Path, register: Register, new: Sequence[Entry]) -> None:
    """Add entries to `units/register.csv`. Killed at any moment, the file is the old or the new.

    The file is written anew beside and put in place in one step; what it held is kept byte for
    byte, so that nobody's lines change.
    """
    if not new:
        return
    path = root / "units" / "register.csv"
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
