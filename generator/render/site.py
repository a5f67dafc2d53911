"""Render a composed guide: every file of its folder, in memory."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from mkdocs.config import load_config

from generator.compose.compose import Composed
from generator.plugin import WORKER, asset_files, dress, give_frame, other_files
from generator.read.sources import Sources
from generator.render.offline import EarlierPacks, Offline, keeping, uri_of
from generator.render.packs import Pack, PackStart, kept_of, pack_common, pack_own
from generator.render.pages import REVISION, HtmlPage, PageRenderer, Slots

MOST_COMMON = 4
"""Packs of what alike units have in common, kept in memory. Such units come in a row."""


@dataclass(frozen=True, slots=True)
class Rendered:
    """A guide as files, by their path in its folder."""

    unit: str
    code: str
    files: Mapping[str, bytes]
    pages: int
    packs: tuple[Pack, ...]
    """What a phone fetches and keeps to have all of it without signal; none without `offline`."""


class SiteRenderer:
    """Renders guides one after the other, from the workspace's own mkdocs.yml, read once."""

    def __init__(self, sources: Sources, *, offline: bool = True) -> None:
        """Take the workspace as read: its settings, its assets and the wording of its guides.

        Without `offline`, nothing of a guide is kept on the device that looks at it.
        """
        os.environ.setdefault("NO_MKDOCS_2_WARNING", "1")
        config = load_config(str(sources.root / "mkdocs.yml"))
        dress(config, sources.root)
        environment = config.theme.get_env()
        give_frame(environment, sources, worker=WORKER if offline else "")
        self._assets = sources.assets
        self._offline = offline
        self._pages = PageRenderer(config, environment)
        styles = (sources.assets.style, sources.assets.number_style)
        self._start = PackStart(
            (
                *asset_files(sources.assets).values(),
                *(f"<style>{style}</style>" for style in styles),
            )
        )
        self._common: dict[tuple[str, ...], Pack] = {}

    def render(self, composed: Composed) -> Rendered:
        """Return a guide with all its files.

        Raises:
            LookupError: A link leads nowhere; that is a mistake of ours, not of an author.
        """
        pages = tuple(self._pages.render_guide(composed))
        others = other_files(composed, self._assets)
        offline = Offline({}, ())
        if self._offline:
            common = self._common_of({page.path: page.slots for page in pages if page.shared})
            own = Pack.of(pack_own(pages, others, self._start))
            offline = self._keeping(common, own, composed)
        files = {**dict(_as_bytes(pages)), **others, **offline.files}
        return _rendered(composed, files, pages, offline)

    def revise(self, composed: Composed, earlier: EarlierPacks) -> Rendered:
        """Return those files of a guide that are others since some of its pages are.

        Args:
            composed: The guide, of its pages only these.
            earlier: The packs of the guide as it was.

        Raises:
            LookupError: A link leads nowhere; that is a mistake of ours, not of an author.
        """
        told = earlier.told
        others = frozenset(map(uri_of, told.pages))
        pages = tuple(self._pages.render_guide(composed, others))
        shared = {page.path: page.slots for page in pages if page.shared}
        common = self._common_of(shared, earlier)
        own = earlier.own
        if any(kept_of(page.slots) != told.slots(page.path) for page in pages if not page.shared):
            every = {page.path: page for page in (*told.every_page(), *pages)}
            own = Pack.of(pack_own(every.values(), told.others(), self._start))
        offline = self._keeping(common, own, composed)
        files = {**dict(_as_bytes(pages)), **offline.files}
        return _rendered(composed, files, pages, offline)

    def _keeping(self, common: Pack, own: Pack, composed: Composed) -> Offline:
        return keeping(common, own, composed.frame[REVISION], self._assets.worker)

    def _common_of(self, pages: Mapping[str, Slots], earlier: EarlierPacks | None = None) -> Pack:
        """Return the pack of pages that units which are equipped alike have in common.

        With `earlier` they come in place of some that were in that pack; the others stay.
        """
        key = (earlier.common.digest if earlier else "", *_told(pages))
        if key not in self._common:
            if len(self._common) >= MOST_COMMON:
                del self._common[next(iter(self._common))]
            every = {**(earlier.shared if earlier else {}), **pages}
            self._common[key] = Pack.of(pack_common(every))
        return self._common[key]


def _rendered(
    composed: Composed, files: Mapping[str, bytes], pages: Sequence[HtmlPage], offline: Offline
) -> Rendered:
    guide = composed.guide
    return Rendered(guide.unit.name, guide.code, files, len(pages), offline.packs)


def _told(slots: Mapping[str, Slots]) -> Iterator[str]:
    """Yield what tells pages from others."""
    for path, told in slots.items():
        yield path
        yield from told.values()


def _as_bytes(pages: Iterable[HtmlPage]) -> Iterator[tuple[str, bytes]]:
    """Yield each page as bytes; what pages have in common is encoded once."""
    known: dict[str, bytes] = {}
    for page in pages:
        for piece in page.pieces:
            if piece not in known:
                known[piece] = piece.encode()
        yield page.path, b"".join([known[piece] for piece in page.pieces])
