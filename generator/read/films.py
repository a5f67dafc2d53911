"""A unit's film: the walk round it that the dealer films, with what each stretch of it shows."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from generator.problems import Mark, Problems
from generator.read.fields import Field, Record

LARGEST_FILM_BYTES = 200_000_000
LARGEST_CAPTIONS_BYTES = 1_000_000

_CHAPTER_FIELDS = (
    Field(name="at", type="text", help="Where it begins, such as 1:23", required=True),
    Field(name="until", type="text", help="Where it ends, if before the next one begins"),
    Field(name="shows", type="text", help="The task or place that it shows", required=True),
)
FILM_FIELDS = (
    Field(name="file", type="text", help="A .webm or .mp4 file in units/films/", required=True),
    Field(name="ends", type="text", help="How long it is, such as 12:40", required=True),
    Field(name="captions", type="text", help="Its captions, a .vtt file in units/films/"),
    Field(
        name="chapters", type="tables", help="What is when", fields=_CHAPTER_FIELDS, required=True
    ),
)

_TIME = re.compile(r"(?:(?P<h>\d{1,2}):)?(?P<m>\d{1,2}):(?P<s>[0-5]\d)")
_BEGINS = {".webm": b"\x1a\x45\xdf\xa3", ".mp4": b"ftyp"}
"""Matroska's EBML header; the first box of ISO/IEC 14496-12, after its four bytes of length."""

_PLACE_MARKS = (b"\xa9xyz", b"loci", b"location.ISO6709", b"LOCATION")
"""How telephones write into a film where it was taken: QuickTime user data, 3GPP TS 26.244, and
Matroska's tags."""

_ATOM = (b"moov", b"meta", b"uuid", b"udta")


@dataclass(frozen=True, slots=True)
class Chapter:
    """A stretch of a film, in whole seconds from its beginning."""

    start_s: int
    end_s: int
    shows: str
    """A place of the unit, or a task by its name or its page's."""
    at: Mark


@dataclass(frozen=True, slots=True)
class Film:
    """A film of a unit. Names are those of the published files, told by their content."""

    path: Path
    name: str
    captions: Path | None
    captions_name: str
    chapters: tuple[Chapter, ...]


def read_film(record: Record, root: Path, problems: Problems) -> Film | None:
    """Return a unit's film, or None after noting why it cannot be shown."""
    before = len(problems.found)
    content = _read_file(record, "file", root, problems)
    captions = _read_file(record, "captions", root, problems) if record.has("captions") else None
    chapters = _read_chapters(record, problems)
    if len(problems.found) > before or content is None:
        return None
    return Film(
        path=content[0],
        name=f"{content[1]}{content[0].suffix.lower()}",
        captions=captions[0] if captions else None,
        captions_name=f"{captions[1]}.vtt" if captions else "",
        chapters=chapters,
    )


def _read_file(record: Record, key: str, root: Path, problems: Problems) -> tuple[Path, str] | None:
    """Return a file in `units/films/` with the digest of its content."""
    given = record.text(key)
    if not given:
        return None  # told already
    folder = (root / "units" / "films").resolve()
    path = (folder / given).resolve()
    refusal = _refusal(given, path, folder, captions=key == "captions")
    if refusal:
        problems.add(record.mark(key), f"film.{key}", *refusal)
        return None
    return path, hashlib.sha256(path.read_bytes()).hexdigest()[:12]


def _refusal(given: str, path: Path, folder: Path, *, captions: bool) -> tuple[str, str] | None:
    """Return what is wrong with a file and what would be right; None where nothing is."""
    pure = PurePosixPath(given)
    suffix = pure.suffix.lower()
    limit = LARGEST_CAPTIONS_BYTES if captions else LARGEST_FILM_BYTES
    wanted = (".vtt",) if captions else tuple(_BEGINS)
    climbs = "\\" in given or ".." in pure.parts or pure.is_absolute()
    if climbs or not path.is_relative_to(folder):
        return f"'{given}' leads out of its folder", "a file in units/films/"
    if suffix not in wanted:
        return f"'{given}' is of another sort", f"a {' or '.join(wanted)} file"
    if not path.is_file():
        return f"no file '{given}'", "a file in units/films/"
    size = path.stat().st_size
    if size > limit:
        return f"'{given}' has {size / 1e6:.0f} MB", f"at most {limit / 1e6:.0f} MB"
    content = path.read_bytes()
    if captions:
        whole = re.match(rb"(?:\xef\xbb\xbf)?WEBVTT(?:[ \t\r\n]|$)", content)
        return None if whole else (f"'{given}' does not begin with WEBVTT", "captions as WebVTT")
    if _BEGINS[suffix] not in content[:8]:
        return f"'{given}' is no film, or broken", f"a whole {' or '.join(wanted)} file"
    if _tells_place(content, suffix):
        return f"'{given}' tells where it was taken", "the film without its location"
    return None


def _tells_place(content: bytes, suffix: str) -> bool:
    """Return whether what stands beside a film's pictures and sound tells of a place."""
    if suffix == ".webm":
        return _PLACE_MARKS[3] in content or _PLACE_MARKS[2] in content
    at = 0
    while at + 8 <= len(content):
        size, sort = int.from_bytes(content[at : at + 4], "big"), content[at + 4 : at + 8]
        if size == 1:
            size = int.from_bytes(content[at + 8 : at + 16], "big")
        end = at + size if size >= 8 else len(content)
        if sort in _ATOM and any(mark in content[at:end] for mark in _PLACE_MARKS):
            return True
        at = end
    return False


def _read_chapters(record: Record, problems: Problems) -> tuple[Chapter, ...]:
    ends = _time(record, "ends", "film.ends", problems)
    rows = record.tables("chapters")
    starts = [
        _time(row, "at", f"film.chapters[{index}].at", problems) for index, row in enumerate(rows)
    ]
    chapters = []
    for index, row in enumerate(rows):
        path = f"film.chapters[{index}]"
        start = starts[index]
        after = starts[index + 1] if index + 1 < len(rows) else ends
        end = _time(row, "until", f"{path}.until", problems) if row.has("until") else after
        if start is None or end is None:
            continue  # told already
        if after is not None and start >= after:
            after_told = f"before {_clock(after)}, where the next one begins or the film ends"
            problems.add(row.mark("at"), f"{path}.at", f"is {_clock(start)}", after_told)
        elif not start < end <= (after if after is not None else end):
            right = f"after {_clock(start)}, and before the next one begins or the film ends"
            problems.add(row.mark("until"), f"{path}.until", f"is {_clock(end)}", right)
        else:
            chapters.append(Chapter(start, end, row.text("shows"), row.at))
    return tuple(chapters)


def _time(record: Record, key: str, path: str, problems: Problems) -> int | None:
    """Return a time in whole seconds."""
    match = _TIME.fullmatch(record.text(key))
    if match is None:
        if record.has(key):
            wrong = f"is '{record.text(key)}'"
            problems.add(record.mark(key), path, wrong, 'minutes and seconds, such as "1:23"')
        return None
    return int(match["h"] or 0) * 3600 + int(match["m"]) * 60 + int(match["s"])


def _clock(seconds: int) -> str:
    return f"{seconds // 60}:{seconds % 60:02}"
