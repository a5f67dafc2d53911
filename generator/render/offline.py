"""The offline pack: everything of a rendered guide in one file, and the worker that keeps it.

A guide's pages repeat each other: the style, the frame, the cautions, the drawings. The pack holds
each line once and each file as runs of those lines, compressed; less than a twentieth of the
guide's size, whatever the server can compress.
"""

from __future__ import annotations

import gzip
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath

from generator.compose.film import is_film_file
from generator.plugin import WORKER

TEXTS = frozenset({".html", ".js", ".svg", ".css", ".json", ".ics", ".xml"})
"""Files that the pack holds. Others, pictures, are fetched one by one when it has come; a film is
not kept."""

_LEVEL = 5
"""Of gzip: the next one takes half as long again for a fortieth less."""

_FOR_MACHINES = '<script type="application/ld+json">'
"""Data that only machines read, which follow addresses; nobody looks for it without signal."""


@dataclass(frozen=True, slots=True)
class Offline:
    """The files that let a phone keep a guide."""

    files: Mapping[str, bytes]
    pack_bytes: int


def offline_files(pages: Mapping[str, str], others: Mapping[str, bytes], worker: str) -> Offline:
    """Return the pack of a guide, from its pages and its other files, and its worker."""
    texts = {name: _for_people(page) for name, page in pages.items()}
    pictures: list[str] = []
    for name in sorted(name for name in others if not is_film_file(name)):
        if PurePosixPath(name).suffix in TEXTS:
            texts[name] = others[name].decode()  # line ends as they are
        else:
            pictures.append(name)
    packed = pack_files(dict(sorted(texts.items())), pictures)
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


def pack_files(texts: Mapping[str, str], pictures: list[str]) -> bytes:
    """Return the pack: a line of JSON with the files and the names of pictures, then all lines.

    A file is told as runs of lines: where one begins, how many lines it has, where the next begins.
    """
    numbers: dict[str, int] = {}
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
    told = "\n".join((json.dumps(head, ensure_ascii=False, separators=(",", ":")), *numbers))
    return gzip.compress(told.encode(), compresslevel=_LEVEL, mtime=0)
