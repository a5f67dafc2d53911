"""Render a composed guide: every file of its folder, in memory."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from mkdocs.config import load_config

from generator.compose.compose import Composed
from generator.plugin import WORKER, asset_files, dress, give_frame, other_files
from generator.read.sources import Sources
from generator.render.offline import Offline, PackStart, offline_files
from generator.render.pages import HtmlPage, PageRenderer

MOST_STARTS = 4
"""Beginnings of packs kept in memory, some 2 MB each. Units that are alike come in a row."""


@dataclass(frozen=True, slots=True)
class Rendered:
    """A guide as files, by their path in its folder."""

    unit: str
    code: str
    files: Mapping[str, bytes]
    pages: int
    pack_bytes: int
    """What a phone fetches and keeps to have all of it without signal."""


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
        self._common = (
            *asset_files(sources.assets).values(),
            *(f"<style>{style}</style>" for style in styles),
        )
        self._starts: dict[tuple[str, ...], PackStart] = {}

    def render(self, composed: Composed) -> Rendered:
        """Return a guide with all its files.

        Raises:
            LookupError: A link leads nowhere; that is a mistake of ours, not of an author.
        """
        pages = tuple(self._pages.render_guide(composed))
        others = other_files(composed, self._assets)
        offline = Offline({}, 0)
        if self._offline:
            start = self._start(tuple(page.common for page in pages if page.common))
            offline = offline_files(pages, others, self._assets.worker, start)
        files = dict(_as_bytes(pages))
        return Rendered(
            composed.guide.unit.name,
            composed.guide.code,
            {**files, **others, **offline.files},
            len(pages),
            offline.pack_bytes,
        )

    def _start(self, contents: tuple[str, ...]) -> PackStart:
        """Return what the pack begins with, the same for units that are equipped alike."""
        if contents not in self._starts:
            if len(self._starts) >= MOST_STARTS:
                del self._starts[next(iter(self._starts))]
            self._starts[contents] = PackStart((*self._common, *contents))
        return self._starts[contents]


def _as_bytes(pages: Iterable[HtmlPage]) -> Iterator[tuple[str, bytes]]:
    """Yield each page as bytes; what pages have in common is encoded once."""
    known: dict[str, bytes] = {}
    for page in pages:
        for piece in page.pieces:
            if piece not in known:
                known[piece] = piece.encode()
        yield page.path, b"".join([known[piece] for piece in page.pieces])
