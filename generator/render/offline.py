"""The offline pack: everything of a rendered guide in one file, and the worker that keeps it.

A guide's pages repeat each other: the style, the frame, the cautions, the drawings. The pack holds
each line once and each file as runs of those lines, compressed; less than a twentieth of the
guide's size, whatever the server can compress.
"""

from __future__ import annotations

import hashlib
import itertools
import json
import zlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath

from generator.compose.film import is_film_file
from generator.plugin import WORKER

TEXTS = frozenset({".html", ".js", ".svg", ".css", ".json", ".ics", ".xml"})
"""Files that the pack holds. Others, pictures, are fetched one by one when it has come; a film is
not kept."""

_LEVEL = 5
"""Of gzip: the next one takes half as long again for a fortieth less."""

_GZIP = 31  # as zlib tells it: with gzip's head and tail, the largest window; no time, no name

_FOR_MACHINES = '<script type="application/ld+json">'
"""Data that only machines read, which follow addresses; nobody looks for it without signal."""


@dataclass(frozen=True, slots=True)
class Offline:
    """The files that let a phone keep a guide."""

    files: Mapping[str, bytes]
    pack_bytes: int


class PackStart:
    """What packs begin with: the lines of texts that many guides share, compressed once."""

    def __init__(self, texts: Iterable[str]) -> None:
        """Take the texts in an order that depends on nothing but the guide."""
        lines = (line for text in texts for line in _for_people(text).split("\n"))
        self.lines = {line: number for number, line in enumerate(dict.fromkeys(lines))}
        self._compressor = zlib.compressobj(_LEVEL, wbits=_GZIP)
        told = "".join(f"{line}\n" for line in self.lines)
        self._compressed = self._compressor.compress(told.encode())

    def compress(self, rest: str) -> bytes:
        """Return these lines and the rest, compressed as one."""
        compressor = self._compressor.copy()
        return self._compressed + compressor.compress(rest.encode()) + compressor.flush()


def offline_files(
    pages: Mapping[str, str], others: Mapping[str, bytes], worker: str, start: PackStart
) -> Offline:
    """Return the pack of a guide, from its pages and its other files, and its worker.

    `start` holds lines that other guides have, too.
    """
    texts = {name: _for_people(page) for name, page in pages.items()}
    pictures: list[str] = []
    for name in sorted(name for name in others if not is_film_file(name)):
        if PurePosixPath(name).suffix in TEXTS:
            texts[name] = others[name].decode()  # line ends as they are
        else:
            pictures.append(name)
    packed = pack_files(dict(sorted(texts.items())), pictures, start)
    digest = hashlib.sha256(packed).hexdigest()
    # No host treats this ending as something to unpack on the way.
    file = f"pack.{digest[:8]}.bin"
    named = json.dumps({"file": file, "hash": digest})
    told = f"const PACK = {named};\n{worker}".encode()
    return Offline({file: packed, WORKER: told}, len(packed))


def _for_people(page: str) -> str:
    """Return a page without what only machines read."""
    before, found, rest = page.partition(_FOR_MACHINES)
    return before + _for_people(rest.partition("</script>")[2]) if found else page


def pack_files(texts: Mapping[str, str], pictures: list[str], start: PackStart) -> bytes:
    """Return the pack: all lines, then one of JSON with the files and the names of pictures.

    A file is told as runs of lines: where one begins, how many lines it has, where the next begins.
    """
    numbers = dict(start.lines)
    files: dict[str, list[int]] = {}
    for name, text in texts.items():
        runs: list[int] = []
        expected = -1
        for line in text.split("\n"):
            number = numbers.setdefault(line, len(numbers))
            if number == expected:
                runs[-1] += 1
            else:
                runs += (number, 1)
            expected = number + 1
        files[name] = runs
    head = {"files": files, "pictures": pictures}
    new = itertools.islice(numbers, len(start.lines), None)
    rest = (*new, json.dumps(head, ensure_ascii=False, separators=(",", ":")))
    return start.compress("\n".join(rest))
