"""The papers of a unit: which are to be printed, and from what."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from generator.compose.context import Context, Drawings
from generator.flow import Finished
from generator.problems import Problems
from generator.read.layers import layers_of
from generator.read.sources import Sources
from generator.render.booklet import plan_booklet
from generator.render.handover import plan_handover
from generator.render.printable import Printable, render_papers
from generator.render.stickers import (
    Sheets,
    Sticker,
    plan_stickers,
    plan_task_stickers,
    render_stickers,
)


def stickers_of(sources: Sources, done: Finished, tasks: Sequence[str] = ()) -> tuple[Sticker, ...]:
    """Return the stickers of a unit, or of those of its tasks (slugs) that are asked for."""
    if tasks:
        codes = {task: done.guide.task_codes[task] for task in tasks}
        return plan_task_stickers(done.guide, sources.library, codes)
    return plan_stickers(done.guide, sources.library)


def sticker_sheet(
    sources: Sources,
    done: Finished,
    stock_name: str = "",
    *,
    stickers: Sequence[Sticker] | None = None,
    **options: Any,
) -> bytes:
    """Return the sheets of a unit's stickers, all of them unless some are given."""
    return render_stickers(
        stickers_of(sources, done) if stickers is None else stickers,
        sources.library.labels[stock_name or sources.stock.dealer.label],
        sheets_of(sources),
        **options,
    )


def sheets_of(sources: Sources) -> Sheets:
    """Return what all stickers of the dealer are printed with."""
    return Sheets(
        dealer=sources.stock.dealer.title,
        signs=sources.assets.signs,
        wording=sources.library.wording,
        template=_templates(sources) / "stickers.typ",
    )


def changed_papers(
    sources: Sources, finished: Sequence[Finished], jobs: int = 1
) -> dict[str, bytes]:
    """Return the booklets and handover packs that are not yet in print/ as they would be now."""
    wanted: dict[str, tuple[str, Printable]] = {}
    for done in finished:
        papers = {"booklet": booklet_of(sources, done), "handover": handover_of(sources, done)}
        for name, paper in papers.items():
            folder, digest = sources.root / "print" / done.guide.unit.name, paper.digest()
            mark = folder / f".{name}.sha256"
            known = mark.read_text() if mark.exists() and (folder / f"{name}.pdf").exists() else ""
            if known != digest:
                wanted[f"{done.guide.unit.name}/{name}"] = (digest, paper)
    rendered = render_papers([paper for _, paper in wanted.values()], jobs)
    files = {f"{path}.pdf": pdf for path, pdf in zip(wanted, rendered, strict=True)}
    for path, (digest, _) in wanted.items():
        folder_name, _, name = path.partition("/")
        files[f"{folder_name}/.{name}.sha256"] = digest.encode()
    return files


def booklet_of(sources: Sources, done: Finished, *, large: bool = False) -> Printable:
    """Return the booklet of a unit, ready to be rendered."""
    revision = done.composed.frame["revision"]
    templates = _templates(sources)
    return plan_booklet(_paper_context(sources, done), revision, templates, large=large)


def handover_of(sources: Sources, done: Finished) -> Printable:
    """Return the handover pack of a unit, ready to be rendered."""
    revision = done.composed.frame["revision"]
    templates = _templates(sources)
    context = _paper_context(sources, done)
    return plan_handover(context, sources.handover, revision, templates)


def _templates(sources: Sources) -> Path:
    """Return the folder of the papers' templates, which take in one another."""
    return layers_of(sources.root).whole("site_assets/print")


def _paper_context(sources: Sources, done: Finished) -> Context:
    """Return what papers are composed from. Its problems have all been told with the pages."""
    drawings = Drawings(sources.assets.signs, sources.assets.pictures)
    return Context(done.guide, done.proof, sources.library, drawings, Problems())
