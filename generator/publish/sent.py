"""What was sent to a host and how it lay there then, so that it need not be sent again.

A line is added as each file is sent, so that a publish that is killed goes on where it was. A
memory that is missing, damaged or of another machine only costs the time of sending again.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType

from generator.publish.register import write_whole


@dataclass(frozen=True, slots=True)
class Lay:
    """A file as a host's listing shows it: its size in bytes, its time in whole seconds."""

    size: int
    time: int


class SentBefore:
    """What is remembered of one target; used in a `with`, at the end of which it is tidied."""

    def __init__(self, root: Path, target: str) -> None:
        """Recall what was sent from a workspace to a target."""
        name = hashlib.sha256(target.encode()).hexdigest()[:12]
        self._path = root / ".cache" / f"sent-{name}.jsonl"
        self._path.parent.mkdir(parents=True, exist_ok=True)
        self._known = _recall(self._path)

    def __enter__(self) -> SentBefore:
        """Begin to add lines."""
        # The first thing is an end of line: a killed run may have left half a one.
        self._file = self._path.open("a", encoding="utf-8")
        self._file.write("\n")
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, _: TracebackType | None
    ) -> None:
        """Write what is known as short as it can be."""
        self._file.close()
        lines = [_line(name, digest, lay) for name, (digest, lay) in sorted(self._known.items())]
        write_whole(self._path, "".join(lines).encode())

    def holds(self, name: str, digest: str, lay: Lay) -> bool:
        """Return whether a file that lies there like this is the one with this digest."""
        return self._known.get(name) == (digest, lay)

    def forget(self, name: str) -> None:
        """Note that a file is about to be sent or removed: it may be either, until it is noted."""
        if self._known.pop(name, None) is not None:
            self._add(_line(name, "", Lay(0, 0)))

    def note(self, name: str, digest: str, lay: Lay) -> None:
        """Note that a file was sent."""
        self._known[name] = (digest, lay)
        self._add(_line(name, digest, lay))

    def _add(self, line: str) -> None:
        self._file.write(line)
        self._file.flush()


def _line(name: str, digest: str, lay: Lay) -> str:
    return json.dumps([name, digest, lay.size, lay.time]) + "\n"


def _recall(path: Path) -> dict[str, tuple[str, Lay]]:
    """Return the last that each whole line tells of a file."""
    known: dict[str, tuple[str, Lay]] = {}
    try:
        lines = path.read_text("utf-8", errors="replace").split("\n")
    except OSError:
        return {}
    for line in lines:
        try:
            name, digest, size, time = json.loads(line)
        except (ValueError, TypeError):
            continue
        known[str(name)] = (digest, Lay(size, time))
    return {name: one for name, one in known.items() if one[0]}
