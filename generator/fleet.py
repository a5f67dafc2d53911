"""Build a fleet: find what changed, have it built, and switch it in when all of it is good."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from pathlib import Path

from generator.checks import refuse_broken_codes
from generator.fit.codes import with_entries
from generator.problems import Problem, ProblemsFound
from generator.publish.built import (
    Built,
    BuiltFront,
    BuiltGuide,
    Lists,
    as_built,
    cache_file,
    edited_texts,
    read_built,
    stands,
    stat_of,
    with_lists,
    write_built,
)
from generator.publish.register import OvertakenError, add_to_register, unless_overtaken
from generator.publish.swap import heal, only_builder, staging_folder, swap_in, write_files
from generator.read.register import Entry, Register
from generator.read.sources import Sources, read_sources
from generator.read.survey import Survey, register_lines, survey_workspace
from generator.render.front import render_front
from generator.workers import PAPER_FILES, PAPERS, Order, Outcome, Site, build_guides

Mint = Callable[[Sources, Sequence[str]], tuple[Entry, ...]]
"""Returns the register entries that the named units still lack."""


@dataclass(frozen=True, slots=True)
class Wish:
    """What a build is to do, and with what."""

    root: Path
    """The workspace."""
    out: Path
    """The published folder."""
    jobs: int = 1
    papers: bool = True
    """Print what is printed, too."""
    front: bool = True
    """Write the pages outside the guides, too."""
    compressed: tuple[str, ...] = ()
    """Compressions in which texts are to be there, too."""
    executor: Executor | None = None
    """Workers other than this machine's."""


@dataclass(frozen=True, slots=True)
class FleetBuilt:
    """What a build did."""

    built: tuple[str, ...]
    """Units whose guide was built."""
    current: tuple[str, ...]
    """Units whose published guide was as it should be."""
    codes: Mapping[str, str]
    """The code of every unit that was asked for."""
    new_codes: int


def build_fleet(
    wish: Wish,
    choose: Callable[[Survey], Sequence[str]],
    mint: Mint,
    tell: Callable[[Outcome], None],
) -> FleetBuilt:
    """Build the guides that are wanted and not as they should be, and switch them in.

    Args:
        wish: What is to be done.
        choose: Returns the units that are wanted, from a survey of the workspace.
        mint: Returns codes for what lacks one.
        tell: Called for each guide that is staged.

    Raises:
        ProblemsFound: An author's mistakes; nothing is published.
        BusyError: Another build writes into the same folder.
        OSError: The machine refuses; what was published stays.
    """
    root, out = wish.root, wish.out
    with only_builder(cache_file(root, out, "lock")):
        heal(out)
        survey = survey_workspace(root)
        names = tuple(choose(survey))
        built = read_built(root, out)
        edited = {name: edited_texts(survey, name, built, out) for name in names}
        stale = [name for name in names if not _is_current(wish, name, built, edited[name])]
        front = not wish.front or stands(built.front, _front_source(root, survey), out)
        new: tuple[Entry, ...] = ()
        while stale or not front:
            try:
                new = _build_stale(wish, survey, built, stale, edited, mint, tell)
            except OvertakenError:  # by a command that issued, moved or retired a code of these
                edited = {}
                continue
            built, front = read_built(root, out), True
            break
        return FleetBuilt(
            built=tuple(stale),
            current=tuple(name for name in names if name not in set(stale)),
            codes={name: built.guides[name].code for name in names},
            new_codes=len(new),
        )


Edited = Mapping[str, frozenset[str] | None]
"""The texts that were edited since a unit's guide was built, by unit, if nothing else was."""


def _is_current(wish: Wish, name: str, built: Built, edited: frozenset[str] | None) -> bool:
    """Return whether a unit's guide, and its papers if they are wanted, need not be made again."""
    if edited is None or edited or built.guides[name].compressed != wish.compressed:
        return False
    folder = wish.root / "print" / name
    return not wish.papers or (
        built.guides[name].papers and all((folder / paper).exists() for paper in PAPER_FILES)
    )


def _build_stale(
    wish: Wish,
    survey: Survey,
    built: Built,
    stale: Sequence[str],
    edited: Edited,
    mint: Mint,
    tell: Callable[[Outcome], None],
) -> tuple[Entry, ...]:
    """Build guides and the pages outside them; return the new entries of the register."""
    root, out = wish.root, wish.out
    sources = read_sources(root, only=stale)
    before = _still_good(wish, built, stale, edited)
    # What only has other words has all its codes.
    new = mint(sources, [name for name in stale if name not in before])
    register = with_entries(sources.register, new)
    refuse_broken_codes(sources, register)
    staging = staging_folder(out)
    try:
        site = Site(root, survey.library, staging, out, wish.papers, wish.compressed)
        orders = [
            Order(
                sources.stock.units[name],
                register.of_unit(name),
                before.get(name),
                edited.get(name) or frozenset(),
            )
            for name in stale
        ]
        guides = _stage(wish, site, orders, sources, tell)
        pages = _front_pages(root, sources, register) if wish.front else {}
        # A unit that has left keeps its codes' pages, and none of its guide's.
        gone = {code.partition("-")[0] for code in _departed(sources, register)}
        goodbyes = {path: page for path, page in pages.items() if path.split("/")[0] in gone}
        write_files(goodbyes, staging)
        left = sorted({path.split("/")[0] for path in goodbyes})
        add_to_register(root, unless_overtaken(sources.register, stale, new))
        lines = register_lines(root)
        swap_in([staging / code for code in (*(g.code for g in guides.values()), *left)], out)
        write_files({path: pages[path] for path in pages.keys() - goodbyes.keys()}, out)
        _move_files(staging / PAPERS, root / "print")
    finally:
        shutil.rmtree(staging, ignore_errors=True)
    known = replace(survey, register=lines)
    lists: Lists = {}
    finished = {
        name: with_lists(as_built(guide, known, name), lists) for name, guide in guides.items()
    }
    front = built.front
    if wish.front:
        files = tuple(sorted(pages))
        front = BuiltFront(_front_source(root, survey), files, stat_of(out, files))
    kept = {name: one for name, one in built.guides.items() if name in survey.names}
    write_built(root, out, Built({**kept, **finished}, front))
    return new


def _still_good(
    wish: Wish, built: Built, names: Iterable[str], edited: Edited
) -> dict[str, BuiltGuide]:
    """Return the published guides of which only pages with edited texts need be made again."""
    return {
        name: replace(built.guides[name], files=(), texts=(), wording=())
        for name in names
        if edited.get(name) is not None and built.guides[name].compressed == wish.compressed
    }


def _stage(
    wish: Wish,
    site: Site,
    orders: Sequence[Order],
    sources: Sources,
    tell: Callable[[Outcome], None],
) -> dict[str, BuiltGuide]:
    """Return the staged guides by unit."""
    guides: dict[str, BuiltGuide] = {}
    problems: list[Problem] = []
    lists: Lists = {}
    for outcome in build_guides(site, orders, sources, wish.jobs, wish.executor):
        if outcome.guide is None:
            problems += outcome.problems
        elif not problems:
            guides[outcome.unit] = with_lists(outcome.guide, lists)
            tell(outcome)
    if problems:
        raise ProblemsFound(problems)
    return guides


def _departed(sources: Sources, register: Register) -> list[str]:
    """Return the codes of units that are no longer described."""
    return [
        code for code, entry in register.latest.items() if entry.unit not in sources.stock.names
    ]


def _front_pages(root: Path, sources: Sources, register: Register) -> dict[str, str]:
    gone = _departed(sources, register)
    return render_front(root, sources.assets, sources.library.wording, sources.stock.dealer, gone)


def _front_source(root: Path, survey: Survey) -> str:
    """Return a digest of what the pages outside the guides depend on."""
    told = [survey.common, *sorted(survey.names)]
    told += [f"{unit} {lines}" for unit, lines in register_lines(root).items()]
    return hashlib.sha256("\0".join(told).encode()).hexdigest()


def _move_files(folder: Path, to: Path) -> None:
    """Move all files under a folder to the same places under another, each in one step."""
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            target = to / path.relative_to(folder)
            target.parent.mkdir(parents=True, exist_ok=True)
            path.replace(target)
