"""What stands in a published folder, and from what it was built.

A guide need not be built again if all that it was built from is as it was, and if what was
published is still there untouched. Both are told by digests, kept in the workspace's `.cache/`; a
cache that is missing, damaged, or of another program only costs the time of building again.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from generator.publish.register import write_whole
from generator.read.survey import Survey

_LISTS = ("files", "texts", "compressed", "packs", "wording")
"""What many units share, and is kept once."""


@dataclass(frozen=True, slots=True)
class BuiltGuide:
    """A guide as it was published."""

    code: str
    pages: int
    bytes: int
    """Of all its files."""
    pack_bytes: int
    files: tuple[str, ...]
    """What its unit was read from."""
    texts: tuple[str, ...]
    """The texts that it has in it."""
    compressed: tuple[str, ...]
    """Compressions in which its texts are there, too."""
    papers: bool
    """Whether its papers were printed with it."""
    packs: tuple[str, ...]
    """The digests of its packs for use without signal: the common one, and its own."""
    proof: str
    """What tells its proof from others."""
    seal: str
    """The digest of its published files' names, sizes and times."""
    source: str = ""
    """The digest of all that it depends on but the texts."""
    wording: tuple[str, ...] = ()
    """The digest of each text."""


@dataclass(frozen=True, slots=True)
class BuiltFront:
    """The pages outside the guides, as they were published."""

    source: str
    files: tuple[str, ...]
    seal: str


@dataclass(frozen=True, slots=True)
class Built:
    """What stands in a published folder."""

    guides: Mapping[str, BuiltGuide]
    """By unit."""
    front: BuiltFront | None


def stands(front: BuiltFront | None, source: str, out: Path) -> bool:
    """Return whether the pages outside the guides are what a build would make of them now."""
    return front is not None and front.source == source and front.seal == stat_of(out, front.files)


def stat_of(out: Path, files: Iterable[str]) -> str:
    """Return a digest of the sizes and times of some published files."""
    told = []
    for file in files:
        try:
            status = (out / file).stat()
        except OSError:
            return "none"
        told.append(f"{file}\0{status.st_size}\0{status.st_mtime_ns}")
    return hashlib.sha256("\n".join(told).encode()).hexdigest()


def is_current(survey: Survey, unit: str, built: Built, out: Path) -> bool:
    """Return whether a unit's published guide is what a build would make of it now."""
    return edited_texts(survey, unit, built, out) == frozenset()


def edited_texts(survey: Survey, unit: str, built: Built, out: Path) -> frozenset[str] | None:
    """Return the texts that were edited since a unit's guide was built, if nothing else was.

    None is returned where the guide is not there as it was published, or anything else that it
    depends on is not as it was.
    """
    guide = built.guides.get(unit)
    if (
        guide is None
        or guide.source != survey.of_guide(unit, guide.files)
        or guide.seal != seal_of(out / guide.code)
    ):
        return None
    return frozenset(
        text
        for text, wording in zip(guide.texts, guide.wording, strict=True)
        if survey.texts.get(text) != wording
    )


def as_built(guide: BuiltGuide, survey: Survey, unit: str) -> BuiltGuide:
    """Return a unit's guide with what it was built from."""
    return replace(
        guide,
        source=survey.of_guide(unit, guide.files),
        wording=tuple(survey.texts.get(text, "") for text in guide.texts),
    )


def seal_of(folder: Path) -> str:
    """Return a digest of the names, sizes and times of all files under a folder."""
    told: list[str] = []

    def look(path: str, shown: str) -> None:
        with os.scandir(path) as entries:
            for entry in entries:
                if entry.is_dir(follow_symlinks=False):
                    look(entry.path, f"{shown}{entry.name}/")
                else:
                    status = entry.stat(follow_symlinks=False)
                    told.append(f"{shown}{entry.name}\0{status.st_size}\0{status.st_mtime_ns}")

    try:
        look(str(folder), "")
    except OSError:
        return "none"
    return hashlib.sha256("\n".join(sorted(told)).encode()).hexdigest()


Lists = dict[tuple[str, ...], tuple[str, ...]]
"""Lists that many guides have."""


def with_lists(guide: BuiltGuide, lists: Lists) -> BuiltGuide:
    """Return a guide that shares its lists with earlier ones: thousands then take little room."""

    def same(one: tuple[str, ...]) -> tuple[str, ...]:
        return lists.setdefault(one, one)

    return replace(
        guide,
        files=same(guide.files),
        texts=same(guide.texts),
        compressed=same(guide.compressed),
        wording=same(guide.wording),
    )


def read_built(root: Path, out: Path) -> Built:
    """Return what was last built into `out`; nothing where that is not known."""
    try:
        told = json.loads(_cache_path(root, out, "json").read_bytes())
        lists = [tuple(one) for one in told["lists"]]
        guides = {
            unit: BuiltGuide(
                **{key: lists[value] if key in _LISTS else value for key, value in guide.items()}
            )
            for unit, guide in told["guides"].items()
        }
        front = told["front"]
        return Built(
            guides, BuiltFront(**{**front, "files": tuple(front["files"])}) if front else None
        )
    except (OSError, ValueError, KeyError, TypeError, IndexError, AttributeError):
        return Built({}, None)


def write_built(root: Path, out: Path, built: Built) -> None:
    """Remember what was built into `out`. Lists that many units share are kept once."""
    lists: dict[tuple[str, ...], int] = {}
    guides = {}
    for unit, guide in built.guides.items():
        shown = asdict(guide)
        for key in _LISTS:
            shown[key] = lists.setdefault(shown[key], len(lists))
        guides[unit] = shown
    front = asdict(built.front) if built.front else None
    told = json.dumps({"lists": list(lists), "guides": guides, "front": front}).encode()
    write_whole(cache_file(root, out, "json"), told)


def cache_file(root: Path, out: Path, suffix: str) -> Path:
    """Return the file in the workspace's cache that belongs to a published folder.

    The cache's folder is made where it is missing.
    """
    path = _cache_path(root, out, suffix)
    path.parent.mkdir(parents=True, exist_ok=True)
    return path


def _cache_path(root: Path, out: Path, suffix: str) -> Path:
    name = hashlib.sha256(str(out).encode()).hexdigest()[:12]
    return root / ".cache" / f"built-{name}.{suffix}"
