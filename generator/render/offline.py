"""What lets a phone keep a guide: its two packs, and the worker that fetches and shows them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass

from generator.compose.compose import Earlier
from generator.plugin import WORKER
from generator.render.packs import Pack, read_common, read_own
from generator.render.pages import HtmlPage, Slots


@dataclass(frozen=True, slots=True)
class Offline:
    """The files that let a phone keep a guide."""

    files: Mapping[str, bytes]
    packs: tuple[Pack, ...]
    """The common one, and the unit's own."""


@dataclass(frozen=True, slots=True)
class EarlierPacks:
    """The packs of a guide that was rendered before, and what they tell."""

    common: Pack
    own: Pack
    slots: Mapping[str, Slots]
    """What goes into the frames of the pages that alike units have in common, by path."""
    pages: Mapping[str, HtmlPage]
    """All pages, by path; of those in common the frame only."""
    others: Mapping[str, bytes]
    """The files that are no pages; pictures are empty."""

    @staticmethod
    def of(common: Pack, own: Pack, alike: EarlierPacks | None = None) -> EarlierPacks:
        """Return what packs tell; `alike` are those of another unit, perhaps with the same in it.

        Raises:
            ValueError: Those are no packs.
        """
        if alike and alike.common.digest == common.digest:
            slots = alike.slots
        else:
            slots = read_common(common.content)
        told = read_own(own.content)
        return EarlierPacks(common, own, slots, told.pages, told.others)

    @property
    def earlier(self) -> Earlier:
        """Return what is known of the pages."""
        slots = {path: self.slots[path] if p.shared else p.slots for path, p in self.pages.items()}
        return Earlier(
            {uri_of(path): told["own-revision"] for path, told in slots.items()},
            frozenset(map(uri_of, self.slots)),
        )


def keeping(common: Pack, own: Pack, revision: str, worker: str) -> Offline:
    """Return a guide's packs with the script that keeps them and tells the guide's revision."""
    parts = [{"file": pack.file, "hash": pack.digest} for pack in (common, own)]
    told = json.dumps({"parts": parts, "revision": revision}, separators=(",", ":"))
    script = f"const PACK = {told};\n{worker}".encode()
    files = {common.file: common.content, own.file: own.content, WORKER: script}
    return Offline(files, (common, own))


def uri_of(path: str) -> str:
    """Return the URI of the page at a path."""
    return f"{path.removesuffix('.html')}.md"
