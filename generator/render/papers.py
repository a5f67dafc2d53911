"""The papers of a unit: which are to be printed, and from what."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from generator.compose.context import Context, Drawings
from generator.flow import Finished
from generator.problems import Problems
from generator.read.sources import Sources
from generator.render.booklet import plan_booklet
from generator.render.handover import plan_handover
from generator.render.printable import Printable, render_papers
from generator.render.stickers import plan_stickers, plan_task_stickers, render_stickers


def sticker_sheet(
    sources: Sources,
    done: Finished,
    stock_name: str = "",
    *,
    tasks: dict[str, str] | None = None,
    **options: Any,
) -> bytes:
    """Return the sticker sheets of a unit, or of the tasks (slug → code) that are asked for."""
    library = sources.library
    stickers = (
        plan_task_stickers(done.guide, library, tasks)
        if tasks
        else plan_stickers(done.guide, library)
    )
    return render_stickers(
        stickers,
        library.labels[stock_name or sources.stock.dealer.label],
        sources.stock.dealer.title,
        sources.assets.signs,
        library.wording,
        sources.root / "site_assets" / "print" / "stickers.typ",
        **options,
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
    templates = sources.root / "site_assets" / "print"
    return plan_booklet(_paper_context(sources, done), revision, templates, large=large)


def handover_of(sources: Sources, done: Finished) -> Printable:
    """Return the handover pack of a unit, ready to be rendered."""
    revision = done.composed.frame["revision"]
    templates = sources.root / "site_assets" / "print"
    context = _paper_context(sources, done)
    return plan_handover(context, sources.handover, revision, templates)


def _paper_context(sources: Sources, done: Finished) -> Context:
    """Return what papers are composed from. Its problems have all been told with the pages."""
    drawings = Drawings(sources.assets.signs, sources.assets.pictures)
    return Context(done.guide, done.proof, sources.library, drawings, Problems())
