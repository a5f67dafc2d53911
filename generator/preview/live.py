"""Guides and papers as a build would make them now: in memory, when they are asked for.

Nothing is written: no page, no paper, no code into the register.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import dataclass, replace
from io import BytesIO
from pathlib import Path

from pypdf import PageObject, PdfReader, PdfWriter

from generator.flow import Finished
from generator.preview.watch import Known, Watcher
from generator.problems import Problem, ProblemsFound
from generator.read.layers import layers_of
from generator.render.papers import booklet_of, handover_of, sticker_sheet
from generator.render.printable import render_papers
from generator.render.site import SiteRenderer
from generator.render.stickers import compile_typst

MARK = "PREVIEW, NOT FOR USE"
PAPERS = ("stickers", "handover", "booklet")
MOST_GUIDES = 12
"""Guides kept in memory, some 4 MB each."""


class NoSuchUnitError(Exception):
    """There is no unit of that name."""


@dataclass(frozen=True, slots=True)
class LiveGuide:
    """A guide as it is now."""

    source: str
    """A digest of all that it depends on."""
    done: Finished
    unissued: int
    """How many of its codes are for preview: the next build issues others."""
    files: Mapping[str, bytes]
    """By path in its folder; empty until they are asked for."""


class LiveGuides:
    """Makes guides and papers, and keeps those that were asked for last."""

    def __init__(self, watcher: Watcher) -> None:
        """Take what knows the workspace."""
        self._watcher = watcher
        self._kept: dict[str, LiveGuide] = {}
        self._renderer: tuple[str, SiteRenderer] | None = None
        self._papers: dict[tuple[str, str], tuple[str, bytes]] = {}
        self._making = threading.Lock()

    def stamp(self, unit: str) -> str:
        """Return what changes when a unit's guide does; of one with mistakes, when anything does.

        Raises:
            NoSuchUnitError: there is none of that name.
        """
        known = self._known(unit)
        kept = self._kept.get(unit)
        if known.sources is None or unit not in known.sources.stock.units or kept is None:
            return known.digest
        checked = self._watcher.checked(known, unit)
        return checked.source if checked and not checked.problems else known.digest

    def guide(self, unit: str) -> LiveGuide:
        """Return a unit's guide with its files.

        Raises:
            NoSuchUnitError: there is none of that name.
            ProblemsFound: something is wrong with it, or with what it is made from.
        """
        with self._making:
            live = self._finish(unit)
            if not live.files:
                rendered = self._site_renderer().render(live.done.composed)
                live = replace(live, files=rendered.files)
                self._keep(unit, live)
            return live

    def paper(self, unit: str, name: str) -> bytes:
        """Return one of `PAPERS` as PDF. With codes that are not issued yet it says so on it.

        Raises:
            NoSuchUnitError: there is none of that name.
            ProblemsFound: something is wrong with the unit, or with what it is made from.
        """
        with self._making:
            live = self._finish(unit)
            source, pdf = self._papers.get((unit, name), ("", b""))
            if source != live.source:
                pdf = self._print(live, name)
                if len(self._papers) >= MOST_GUIDES:
                    del self._papers[next(iter(self._papers))]
                self._papers[unit, name] = (live.source, pdf)
            return pdf

    def _print(self, live: LiveGuide, name: str) -> bytes:
        sources = self._watcher.look().sources
        assert sources is not None
        if name == "stickers":
            pdf = sticker_sheet(sources, live.done)
        else:
            plan = booklet_of if name == "booklet" else handover_of
            (pdf,) = render_papers([plan(sources, live.done)], 1)
        if live.unissued:
            pdf = _marked(pdf, layers_of(sources.root).find("site_assets/desk/mark.typ"))
        return pdf

    def _known(self, unit: str) -> Known:
        known = self._watcher.look()
        if unit not in known.survey.names:
            raise NoSuchUnitError(unit)
        return known

    def _finish(self, unit: str) -> LiveGuide:
        known = self._known(unit)
        sources = known.sources
        if sources is None or unit not in sources.stock.units:
            raise ProblemsFound(_those_of(known, unit))
        kept, checked = self._kept.get(unit), self._watcher.checked(known, unit)
        if kept and checked and checked.source == kept.source:
            return kept
        checked, done = self._watcher.finish(known, unit)
        if done is None:
            raise ProblemsFound(checked.problems)
        latest = sources.register.of_unit(unit).latest
        guide = done.guide
        codes = {guide.code, *guide.place_codes.values()}
        live = LiveGuide(checked.source, done, len(codes - latest.keys()), {})
        self._keep(unit, live)
        return live

    def _keep(self, unit: str, live: LiveGuide) -> None:
        self._kept.pop(unit, None)
        if len(self._kept) >= MOST_GUIDES:
            del self._kept[next(iter(self._kept))]
        self._kept[unit] = live

    def _site_renderer(self) -> SiteRenderer:
        known = self._watcher.look()
        assert known.sources is not None
        if self._renderer is None or self._renderer[0] != known.survey.common:
            renderer = SiteRenderer(known.sources, offline=False)
            self._renderer = (known.survey.common, renderer)
        return self._renderer[1]


def _those_of(known: Known, unit: str) -> tuple[Problem, ...]:
    """Return the problems that keep a unit from being shown, its own alone where it has some."""
    own = tuple(p for p in known.problems if p.at.path == f"units/{unit}.yml")
    return own if known.sources is not None and own else known.problems


def _marked(pdf: bytes, template: Path) -> bytes:
    """Return a paper with words over each page that keep it from being used."""
    writer = PdfWriter(clone_from=BytesIO(pdf))
    marks: dict[tuple[float, float], PageObject] = {}
    for page in writer.pages:
        size = (round(float(page.mediabox.width), 1), round(float(page.mediabox.height), 1))
        if size not in marks:
            width_mm, height_mm = (points * 25.4 / 72 for points in size)
            data = {"text": MARK, "width_mm": width_mm, "height_mm": height_mm}
            marks[size] = PdfReader(BytesIO(compile_typst(template, data))).pages[0]
        page.merge_page(marks[size])
    told = BytesIO()
    writer.write(told)
    return told.getvalue()
