"""The two packs of a guide, in which a phone keeps it, written and read.

A guide's pages repeat each other: the style, the frame, the cautions, the drawings. A pack holds
each line once and each text as runs of those lines, compressed; both together are less than a
twentieth of the guide's size, whatever the server can compress. Its last line is its head, as
JSON; all before it are lines of text. A run tells where it begins and how many lines it has.

The common pack holds the pages that alike units have in common, without what is around them; the
own one this unit's other pages, the frames of all, and what is no page. So whoever has a guide
fetches only the one in which something changed, and the first is made once for alike units.
"""

from __future__ import annotations

import hashlib
import itertools
import json
import zlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Any

from generator.compose.film import is_film_file
from generator.render.pages import REVISION, Frame, HtmlPage, Slots

TEXTS = frozenset({".html", ".js", ".svg", ".css", ".json", ".ics", ".xml"})
"""Files that packs hold. Others, pictures, are fetched one by one when they have come; a film is
not kept."""

_LEVEL = 5
"""Of gzip: the next one takes half as long again for a fortieth less."""

_GZIP = 31  # as zlib tells it: with gzip's head and tail, the largest window; no time, no name

_FOR_MACHINES = '<script type="application/ld+json">'
"""Data that only machines read, which follow addresses; nobody looks for it without signal."""


@dataclass(frozen=True, slots=True)
class Pack:
    """A pack as a file."""

    content: bytes
    digest: str

    @staticmethod
    def of(content: bytes) -> Pack:
        """Return a pack with the digest of its content."""
        return Pack(content, hashlib.sha256(content).hexdigest())

    @property
    def file(self) -> str:
        """Return its name in its guide's folder."""
        return pack_file(self.digest)


def pack_file(digest: str) -> str:
    """Return the name of the pack with a digest. No host unpacks this ending on the way."""
    return f"pack.{digest[:8]}.bin"


@dataclass(frozen=True, slots=True)
class OwnPack:
    """What a unit's own pack tells, read where it is asked for."""

    lines: Sequence[str]
    frames: Sequence[Any]
    pages: Mapping[str, Any]
    """By path, as the head tells them."""
    files: Mapping[str, Any]
    pictures: Sequence[str]

    def slots(self, path: str) -> Slots | None:
        """Return what goes into the frame of a page; None if that is in the common pack."""
        page = self.pages[path]
        return None if isinstance(page, int) else _as_texts(page[1], self.lines)

    def revision(self, path: str) -> str | None:
        """Return what tells a page from earlier and later ones; None if that is in the other."""
        page = self.pages[path]
        return None if isinstance(page, int) else page[1]["own-revision"]

    def every_page(self) -> Iterator[HtmlPage]:
        """Yield all pages; those that alike units have in common with nothing in their frame."""
        frames = [
            tuple(
                part if index % 2 else _text(part, self.lines) for index, part in enumerate(frame)
            )
            for frame in self.frames
        ]
        for path, page in self.pages.items():
            slots = self.slots(path)
            frame = frames[page if slots is None else page[0]]
            yield HtmlPage(path, frame, slots or {}, shared=slots is None)

    def others(self) -> dict[str, bytes]:
        """Return the files that are no pages; pictures are empty."""
        files = {name: _text(runs, self.lines).encode() for name, runs in self.files.items()}
        return {**files, **dict.fromkeys(self.pictures, b"")}


class PackStart:
    """What packs begin with: texts that all guides have, as lines, compressed once."""

    def __init__(self, texts: Iterable[str]) -> None:
        """Take the texts in an order that depends on nothing but the workspace."""
        self.lines: dict[str, int] = {}
        for text in texts:
            _runs(text, self.lines)
        self._compressor = zlib.compressobj(_LEVEL, wbits=_GZIP)
        told = "".join(f"{line}\n" for line in self.lines)
        self._compressed = self._compressor.compress(told.encode())

    def compress(self, lines: Mapping[str, int], head: object) -> bytes:
        """Return a pack of lines, which begin with these, and of its head."""
        compressor = self._compressor.copy()
        new = itertools.islice(lines, len(self.lines), None)
        told = json.dumps(head, ensure_ascii=False, separators=(",", ":"))
        rest = "\n".join((*new, told)).encode()
        return self._compressed + compressor.compress(rest) + compressor.flush()


def pack_common(pages: Mapping[str, Slots]) -> bytes:
    """Return the pack of pages, by path, that alike units have in common.

    The head has for each page what goes into its frame: a text, or runs.
    """
    lines: dict[str, int] = {}
    head = {path: _as_runs(pages[path], lines) for path in sorted(pages)}
    return PackStart(()).compress(lines, {"pages": head})


def read_common(pack: bytes) -> dict[str, Slots]:
    """Return the pages of a common pack by path, with what goes into the frame of each.

    Raises:
        ValueError: That is no such pack.
    """
    with _refusing():
        lines, head = _open(pack)
        return {path: _as_texts(slots, lines) for path, slots in head["pages"].items()}


def pack_own(pages: Iterable[HtmlPage], others: Mapping[str, bytes], start: PackStart) -> bytes:
    """Return a unit's own pack, of all its pages in any order, and of its other files.

    The head has the frames, each as runs and names of slots in turn; for each page the number of
    its frame, with what goes into it where the page is not in the common pack; the files that are
    texts, as runs; and the names of pictures.
    """
    lines = dict(start.lines)
    frames: dict[Frame, int] = {}
    told: list[object] = []
    shown: dict[str, object] = {}
    for page in sorted(pages, key=lambda page: page.path):
        number = frames.setdefault(page.frame, len(frames))
        if number == len(told):
            told.append(
                [part if index % 2 else _runs(part, lines) for index, part in enumerate(page.frame)]
            )
        shown[page.path] = number if page.shared else [number, _as_runs(page.slots, lines)]
    files: dict[str, list[int]] = {}
    pictures: list[str] = []
    for name in sorted(name for name in others if not is_film_file(name)):
        if PurePosixPath(name).suffix in TEXTS:
            files[name] = _runs(others[name].decode(), lines)  # line ends as they are
        else:
            pictures.append(name)
    head = {"frames": told, "pages": shown, "files": files, "pictures": pictures}
    return start.compress(lines, head)


def read_own(pack: bytes) -> OwnPack:
    """Return what a unit's own pack tells.

    Raises:
        ValueError: That is no such pack.
    """
    with _refusing():
        lines, head = _open(pack)
        return OwnPack(lines, head["frames"], head["pages"], head["files"], head["pictures"])


def kept_of(slots: Slots) -> Slots:
    """Return of what goes into a page's frame what is kept: nothing that only machines read.

    A guide's revision is not kept with a page, because it changes with every other.
    """
    kept = {name: text for name, text in slots.items() if name != REVISION}
    return {**kept, "content": _for_people(slots["content"])}


def _for_people(page: str) -> str:
    """Return a page without what only machines read."""
    before, found, rest = page.partition(_FOR_MACHINES)
    return before + _for_people(rest.partition("</script>")[2]) if found else page


def _as_runs(slots: Slots, lines: dict[str, int]) -> dict[str, object]:
    """Return what goes into a frame as a head tells it: its content as runs."""
    kept = kept_of(slots)
    return {**kept, "content": _runs(kept["content"], lines)}


def _as_texts(told: Mapping[str, str | list[int]], lines: Sequence[str]) -> Slots:
    """Return what goes into a frame, of what a head tells."""
    return {
        name: value if isinstance(value, str) else _text(value, lines)
        for name, value in told.items()
    }


def _runs(text: str, lines: dict[str, int]) -> list[int]:
    """Return the lines of a text as runs; one that is new is numbered."""
    runs: list[int] = []
    expected = -1
    for line in text.split("\n"):
        number = lines.setdefault(line, len(lines))
        if number == expected:
            runs[-1] += 1
        else:
            runs += (number, 1)
        expected = number + 1
    return runs


def _text(runs: Sequence[int], lines: Sequence[str]) -> str:
    """Return the text that runs tell."""
    told = zip(runs[::2], runs[1::2], strict=True)
    return "\n".join([line for at, many in told for line in lines[at : at + many]])


def _open(pack: bytes) -> tuple[list[str], Mapping[str, Any]]:
    """Return the lines of a pack, and its head."""
    *lines, head = zlib.decompress(pack, _GZIP).decode().split("\n")
    return lines, json.loads(head)


@contextmanager
def _refusing() -> Iterator[None]:
    """Say in one way that something is no pack."""
    try:
        yield
    except (zlib.error, KeyError, TypeError, AttributeError, IndexError) as error:
        raise ValueError(str(error)) from None
