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
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath

from generator.compose.film import is_film_file
from generator.plugin import WORKER
from generator.render.pages import HtmlPage

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


@dataclass(frozen=True, slots=True)
class _Cut:
    """A piece of a file, cut at its line ends. Its outer lines go on in the pieces beside it."""

    first: str
    runs: Sequence[int]
    """Its inner lines."""
    last: str


class PackStart:
    """What packs begin with: texts that many guides share, as lines, compressed once."""

    def __init__(self, texts: Iterable[str]) -> None:
        """Take the texts in an order that depends on nothing but the guide."""
        self.lines: dict[str, int] = {}
        self.parts: dict[str, int] = {}
        """Where each text stands among the parts."""
        parts: list[list[int]] = []
        for text in texts:
            if text not in self.parts:
                self.parts[text] = len(parts)
                parts.append(_runs(_for_people(text).split("\n"), self.lines))
        self._compressor = zlib.compressobj(_LEVEL, wbits=_GZIP)
        told = "".join(f"{line}\n" for line in (_json(parts), *self.lines))
        self._compressed = self._compressor.compress(told.encode())

    def compress(self, rest: str) -> bytes:
        """Return these texts and the rest, compressed as one."""
        compressor = self._compressor.copy()
        return self._compressed + compressor.compress(rest.encode()) + compressor.flush()


def offline_files(
    pages: Iterable[HtmlPage], others: Mapping[str, bytes], worker: str, start: PackStart
) -> Offline:
    """Return the pack of a guide, from its pages and its other files, and its worker.

    `start` holds what other guides have, too.
    """
    texts = {page.path: page.pieces for page in pages}
    pictures: list[str] = []
    for name in sorted(name for name in others if not is_film_file(name)):
        if PurePosixPath(name).suffix in TEXTS:
            texts[name] = (others[name].decode(),)  # line ends as they are
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


def pack_files(texts: Mapping[str, Sequence[str]], pictures: list[str], start: PackStart) -> bytes:
    """Return the pack: the parts that files share, all lines, and the files with the pictures.

    The first line holds the parts and the last one the rest, both as JSON. A file or part is told
    as runs of lines: where one begins, how many lines it has, where the next begins. Of a run that
    has no lines, the first number tells a part, which stands there.

    Args:
        texts: Each file's text, in pieces that follow one another and may end within a line.
        pictures: The names of files that are no texts.
        start: The parts, and their lines.
    """
    numbers = dict(start.lines)
    cuts: dict[str, _Cut] = {}
    files: dict[str, list[int]] = {}
    for name, pieces in texts.items():
        runs: list[int] = []
        line: str | None = ""  # what stands before the next piece in its line; None after a part
        for at, piece in enumerate(pieces):
            part = start.parts.get(piece)
            if part is not None and not line and "".join(pieces[at + 1 : at + 2])[:1] == "\n":
                runs += (part, 0)
                line = None
                continue
            cut = cuts.get(piece)
            if cut is None:
                if "\n" not in piece:
                    line = (line or "") + piece
                    continue
                cut = cuts[piece] = _cut(piece, numbers)
            if line is not None:
                _add_runs(runs, _runs((line + cut.first,), numbers))
            _add_runs(runs, cut.runs)
            line = cut.last
        _add_runs(runs, _runs((line or "",), numbers))
        files[name] = runs
    new = itertools.islice(numbers, len(start.lines), None)
    rest = (*new, _json({"files": files, "pictures": pictures}))
    return start.compress("\n".join(rest))


def _cut(piece: str, numbers: dict[str, int]) -> _Cut:
    """Return a piece of several lines cut at their ends."""
    first, *inner, last = _for_people(piece).split("\n")
    return _Cut(first, _runs(inner, numbers), last)


def _runs(lines: Iterable[str], numbers: dict[str, int]) -> list[int]:
    """Return lines as runs; one that is new is numbered."""
    runs: list[int] = []
    expected = -1
    for line in lines:
        number = numbers.setdefault(line, len(numbers))
        if number == expected:
            runs[-1] += 1
        else:
            runs += (number, 1)
        expected = number + 1
    return runs


def _add_runs(runs: list[int], more: Sequence[int]) -> None:
    """Add runs at the end; one that goes on where the last ended is made one with it."""
    if runs and more and runs[-1] and runs[-2] + runs[-1] == more[0]:
        runs[-1] += more[1]
        more = more[2:]
    runs += more


def _json(told: object) -> str:
    return json.dumps(told, ensure_ascii=False, separators=(",", ":"))
