"""What lets a phone keep a guide: its two packs, and the worker that fetches and shows them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass

from generator.compose.compose import Earlier
from generator.plugin import WORKER
from generator.render.packs import OwnPack, Pack, read_common, read_own
from generator.render.pages import Slots


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
    shared: Mapping[str, Slots]
    """What goes into the frames of the pages that alike units have in common, by path."""
    told: OwnPack

    @staticmethod
    def of(common: Pack, own: Pack, alike: EarlierPacks | None = None) -> EarlierPacks:
        """Return what packs tell; `alike` are those of another unit, perhaps with the same in it.

        Raises:
            ValueError: Those are no packs.
        """
        if alike and alike.common.digest == common.digest:
            shared = alike.shared
        else:
            shared = read_common(common.content)
        return EarlierPacks(common, own, shared, read_own(own.content))

    @property
    def earlier(self) -> Earlier:
        """Return what is known of the pages."""
        revisions = {
            uri_of(path): self.told.revision(path) or self.shared[path]["own-revision"]
            for path in self.told.pages
        }
        return Earlier(revisions, frozenset(map(uri_of, self.shared)))


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
