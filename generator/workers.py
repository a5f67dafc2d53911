"""Build many guides: over workers, each guide staged whole before any of them is switched in.

A unit's guide needs the library, the unit and its own codes, and nothing of other units; so any
process that sees the workspace and the published folder can make it. One that dies takes its
batch with it, and the batch is given out again.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Executor, Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from generator.flow import Finished, Memory, finish_guide, revise_guide
from generator.problems import Problem, Problems, ProblemsFound
from generator.publish.built import BuiltGuide, seal_of
from generator.publish.swap import stage_guide, stage_revision, write_files
from generator.read.alike import in_rows
from generator.read.register import Register
from generator.read.sources import Sources, read_sources
from generator.read.units import Unit
from generator.render.compressed import ENDINGS, compressed_files
from generator.render.offline import EarlierPacks
from generator.render.packs import Pack, pack_file
from generator.render.papers import changed_papers, sticker_sheet
from generator.render.site import Rendered, SiteRenderer

LARGEST_BATCH = 12
"""Units given to a worker at a time: alike ones, so that what one taught it serves the others."""

MOST_DEATHS = 3
"""How often workers may die without any batch having come back, before the build gives up."""

MOST_PACKS = 4
"""Packs that alike units have in common, kept in memory, some 2 MB each."""

MOST_EDITS = 4
"""Of how many edits it is kept what they make of guides. Those built together have the same."""

PAPER_FILES = ("stickers.pdf", "booklet.pdf", "handover.pdf")

PAPERS = ".papers"
"""Folder of the staging folder in which papers wait."""


@dataclass(frozen=True, slots=True)
class Order:
    """One guide to be built, with all that a worker does not find in the library."""

    unit: Unit
    register: Register
    """The lines of this unit, those that are new included."""
    before: BuiltGuide | None = None
    """The guide as it was published, if no more than texts were edited since."""
    edited: frozenset[str] = frozenset()
    """These texts, by file."""


@dataclass(frozen=True, slots=True)
class Site:
    """Where guides are built from and to."""

    root: Path
    library: str
    """A digest of what workers read for themselves; another one makes them read again."""
    staging: Path
    out: Path
    papers: bool
    compressed: tuple[str, ...] = ()
    """Compressions in which texts are there, too."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of an order: a staged guide, or what is wrong with its unit."""

    unit: str
    problems: tuple[Problem, ...] = ()
    guide: BuiltGuide | None = None


def build_guides(
    site: Site,
    orders: Sequence[Order],
    sources: Sources,
    jobs: int,
    executor: Executor | None = None,
) -> Iterator[Outcome]:
    """Yield what comes of each order as it is done, in no certain order.

    Args:
        site: Where from and where to.
        orders: The guides to be built.
        sources: What this process has read; local workers need not read it again.
        jobs: Local processes. With one, guides are built in this one.
        executor: Other workers, which see the same folders; then `jobs` does not matter.

    Raises:
        BrokenProcessPool: Workers died again and again.
    """
    batches = _batches(orders)
    if executor is not None:
        yield from _gather(executor.submit(build_batch, site, batch) for batch in batches)
        return
    _prepared[:] = [(site.root, site.library, _Ready(sources))]
    if jobs <= 1 or len(batches) <= 1:
        for batch in batches:
            for order in batch:
                yield _build(site, order)
        return
    deaths = 0
    while batches:
        done: list[tuple[Order, ...]] = []
        try:
            with ProcessPoolExecutor(max_workers=min(jobs, len(batches))) as pool:
                given = {pool.submit(build_batch, site, batch): batch for batch in batches}
                for future in as_completed(given):
                    outcomes = future.result()
                    done.append(given[future])
                    yield from outcomes
        except BrokenProcessPool:
            deaths = 0 if done else deaths + 1
            if deaths == MOST_DEATHS:
                raise
        batches = [batch for batch in batches if batch not in done]


def _gather(futures: Iterable[Future[list[Outcome]]]) -> Iterator[Outcome]:
    waiting = list(futures)
    for future in as_completed(waiting):
        yield from future.result()


def _batches(orders: Sequence[Order]) -> list[tuple[Order, ...]]:
    """Return the orders in batches of units that are based on the same models."""
    by_unit = {order.unit.name: order for order in orders}
    rows = in_rows(order.unit for order in orders)
    return [
        tuple(by_unit[unit.name] for unit in row[at : at + LARGEST_BATCH])
        for row in rows
        for at in range(0, len(row), LARGEST_BATCH)
    ]


class _Staged(NamedTuple):
    """A guide whose files wait to be switched in."""

    done: Finished
    rendered: Rendered
    pages: int
    bytes: int


class _Ready:
    """What a worker keeps between orders."""

    def __init__(self, sources: Sources) -> None:
        self.sources = sources
        self.renderer = SiteRenderer(sources)
        self.memory = Memory()
        self._of_edits: dict[frozenset[str], tuple[frozenset[str], Memory]] = {}
        self._packs: dict[str, EarlierPacks] = {}

    def of_edit(self, edited: frozenset[str]) -> tuple[frozenset[str], Memory]:
        """Return the tasks that hold edited texts, and what is known of guides so edited."""
        if edited not in self._of_edits:
            if len(self._of_edits) >= MOST_EDITS:
                del self._of_edits[next(iter(self._of_edits))]
            texts = self.sources.library.texts.items()
            tasks = frozenset(task for task, files in texts if not edited.isdisjoint(files))
            self._of_edits[edited] = tasks, Memory(self.memory.proven)
        return self._of_edits[edited]

    def packs_of(self, folder: Path, digests: tuple[str, ...]) -> EarlierPacks | None:
        """Return the packs of a published guide; None where they are not what they were."""
        try:
            common, own = (Pack.of((folder / pack_file(one)).read_bytes()) for one in digests)
            if (common.digest, own.digest) != digests:
                return None
            found = EarlierPacks.of(common, own, self._packs.get(common.digest))
        except (OSError, ValueError):
            return None
        if common.digest not in self._packs and len(self._packs) >= MOST_PACKS:
            del self._packs[next(iter(self._packs))]
        self._packs[common.digest] = found
        return found


_prepared: list[tuple[Path, str, _Ready]] = []


def _ready_for(site: Site) -> _Ready:
    """Return what this process has ready, reading the library if it has not."""
    for root, library, ready in _prepared:
        if (root, library) == (site.root, site.library):
            return ready
    ready = _Ready(read_sources(site.root, only=()))
    _prepared[:] = [(site.root, site.library, ready)]
    return ready


def build_batch(site: Site, batch: Sequence[Order]) -> list[Outcome]:
    """Return what comes of a batch of orders, in any process that sees the folders."""
    return [_build(site, order) for order in batch]


def _build(site: Site, order: Order) -> Outcome:
    """Stage one guide: the whole of it, or what an edit of texts changed."""
    ready = _ready_for(site)
    name = order.unit.name
    problems = Problems()
    try:
        done, rendered, pages, size = _stage_edited(site, order, ready, problems) or _stage_whole(
            site, order, ready, problems
        )
    except ProblemsFound as found:
        return Outcome(name, found.problems)
    if site.papers:
        sheets = {f"{name}/stickers.pdf": sticker_sheet(ready.sources, done)}
        write_files({**sheets, **changed_papers(ready.sources, [done])}, site.staging / PAPERS)
    guide = BuiltGuide(
        code=rendered.code,
        pages=pages,
        bytes=size,
        pack_bytes=sum(len(pack.content) for pack in rendered.packs),
        files=order.unit.files,
        texts=texts_of(done, ready.sources),
        papers=site.papers,
        compressed=site.compressed,
        packs=tuple(pack.digest for pack in rendered.packs),
        proof=done.proof.key,
        seal=seal_of(site.staging / rendered.code),
    )
    return Outcome(name, (), guide)


def _stage_whole(site: Site, order: Order, ready: _Ready, problems: Problems) -> _Staged:
    """Stage a guide.

    Raises:
        ProblemsFound: There are mistakes in it.
    """
    done = finish_guide(ready.sources, order.unit, order.register, problems, ready.memory)
    problems.stop_if_any()
    rendered = ready.renderer.render(done.composed)
    files = {**rendered.files, **compressed_files(rendered.files, site.compressed)}
    staged = _new_folder(site, rendered)
    stage_guide(files, staged, site.out / rendered.code)
    size = sum(len(content) for content in files.values())
    return _Staged(done, rendered, rendered.pages, size)


def _stage_edited(site: Site, order: Order, ready: _Ready, problems: Problems) -> _Staged | None:
    """Stage a guide in which texts were edited, its other files linked from the published one.

    None is returned where all of it is to be made: not all that changes is known, or the published
    guide cannot be relied on.

    Raises:
        ProblemsFound: There are mistakes in the edited texts.
    """
    before = order.before
    if before is None or len(order.unit.languages) > 1:
        return None
    live = site.out / before.code
    packs = ready.packs_of(live, before.packs)
    if packs is None:
        return None
    tasks, memory = ready.of_edit(order.edited)
    done = revise_guide(
        ready.sources,
        order.unit,
        order.register,
        tasks,
        packs.earlier,
        before.proof,
        problems,
        memory,
    )
    if done is None:
        return None
    problems.stop_if_any()
    rendered = ready.renderer.revise(done.composed, packs)
    files = {**rendered.files, **compressed_files(rendered.files, site.compressed)}
    gone = {f"{name}.{ending}" for name in rendered.files for ending in ENDINGS}
    staged = _new_folder(site, rendered)
    gone |= {packs.common.file, packs.own.file}
    larger = stage_revision(files, gone, staged, live)
    return _Staged(done, rendered, before.pages, before.bytes + larger)


def _new_folder(site: Site, rendered: Rendered) -> Path:
    """Return where a guide is staged; what a worker that died left there is removed."""
    staged = site.staging / rendered.code
    shutil.rmtree(staged, ignore_errors=True)
    return staged


def texts_of(done: Finished, sources: Sources) -> tuple[str, ...]:
    """Return the files of the texts that a guide holds."""
    texts = sources.library.texts
    names = {bound.task.name for bound in done.guide.tasks}
    return tuple(sorted(set().union(*(texts[name] for name in names))))
