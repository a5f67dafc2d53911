"""What an edit changes: each unit's finished pages, then and now, and the papers made of them."""

from __future__ import annotations

import difflib
import itertools
from collections.abc import Iterator, Sequence, Set
from dataclasses import dataclass, replace
from pathlib import Path

from generator.compose import links
from generator.compose.page import Page, fill_plain
from generator.desk.reader_text import Line, read_page
from generator.fit.fit import fit_unit
from generator.fit.guide import Guide
from generator.flow import Finished, Memory, finish_guide
from generator.problems import Problems, ProblemsFound, RefusedError
from generator.read.alike import MOST_GUIDES, Alike, in_rows
from generator.read.layers import layers_of, name_of
from generator.read.library import task_snippets
from generator.read.sources import Sources, read_sources
from generator.read.survey import Survey, survey_workspace
from generator.read.units import Unit
from generator.render.papers import booklet_of, handover_of, stickers_of

_UNREAD = frozenset({links.SEARCH})
"""Pages that only list the words of others."""
_FRAME_ONLY = frozenset({"revision", "media", "dial"})
"""Values around a page that say nothing of their own."""


_EVERY = "every page"


@dataclass(frozen=True, slots=True)
class LineChange:
    """A line that is gone (`-`) or new (`+`)."""

    sign: str
    what: str
    """`caution`, `step`, or nothing."""
    text: str


@dataclass(frozen=True, slots=True)
class PageChange:
    """A page that reads otherwise, is new, or is gone."""

    page: str
    title: str
    state: str
    """`changed`, `new` or `gone`."""
    lines: tuple[LineChange, ...]


@dataclass(frozen=True, slots=True)
class UnitChange:
    """What changes for one unit."""

    unit: str
    state: str
    """`changed`, `new` or `gone`."""
    pages: tuple[PageChange, ...] = ()
    papers: tuple[str, ...] = ()
    """Of `stickers`, `booklet`, `handover`: those that come out otherwise."""


@dataclass(frozen=True, slots=True)
class Changes:
    """What changes between two workspaces; units without change are not there."""

    units: tuple[UnitChange, ...]
    files: tuple[str, ...]
    """Templates, styles and scripts that changed: with them, how every page looks or works."""


def find_changes(root: Path, before: Path, revision: str, only: Sequence[str]) -> Changes:
    """Return what changes between two workspaces, unit by unit.

    Args:
        root: The workspace as it is.
        before: The same as it was.
        revision: What that was called.
        only: Units to look at; all where none is named.

    Raises:
        ProblemsFound: the workspace as it is has mistakes.
        RefusedError: the workspace as it was has mistakes.
    """
    now, then = survey_workspace(root), survey_workspace(before)
    changed_texts = {
        path for path in now.texts.keys() | then.texts.keys()
        if now.texts.get(path) != then.texts.get(path)
    }  # fmt: skip
    new_sources = read_sources(root)
    try:
        old_sources = read_sources(before)
    except ProblemsFound as found:
        raise RefusedError(
            f"{revision} has mistakes ({str(found.problems[0]).partition('; right: ')[0]})",
            "a revision that holds together",
        ) from None
    names = sorted(set(only) or now.names | then.names)
    edited = _holders(new_sources, changed_texts) | _holders(old_sources, changed_texts)
    looker = _Looker(_Side(old_sources), _Side(new_sources))
    kept = now.names & then.names
    changes = [
        UnitChange(name, "new" if name in now.names else "gone")
        for name in names
        if name not in kept
    ]
    rows = in_rows(new_sources.stock.units[name] for name in names if name in kept)
    for new in itertools.chain.from_iterable(rows):
        old = old_sources.stock.units[new.name]
        same = now.common == then.common and _same_unit(new.name, old, new, then, now)
        if same and not looker.has_task(new, edited):
            continue
        change = looker.look(old, new)
        if change.pages or change.papers:
            changes.append(change)
    changes.sort(key=lambda change: change.unit)
    return Changes(tuple(changes), tuple(_changed_files(root, before)))


def _changed_files(root: Path, before: Path) -> Iterator[str]:
    """Yield the files that every page is dressed with and that are not as they were."""
    now, then = _dress(root), _dress(before)
    for path in sorted(now.keys() | then.keys()):
        if now.get(path) != then.get(path):
            yield path


def _dress(root: Path) -> dict[str, bytes]:
    layers = layers_of(root)
    return {
        name_of(layers.shown(path)): path.read_bytes()
        for path in layers.files("site_assets", "**/*")
        if path.suffix in (".css", ".js", ".html") and path.is_file()
    }


def _same_unit(name: str, old: Unit, new: Unit, then: Survey, now: Survey) -> bool:
    """Return whether a unit's own files and its lines of the register are as they were."""
    return then.of_guide(name, old.files) == now.of_guide(name, new.files)


def _holders(sources: Sources, changed: Set[str]) -> frozenset[str]:
    """Return the tasks that hold one of the changed texts."""
    library = sources.library
    return frozenset(
        task.name
        for task in library.tasks.values()
        if name_of(task.at.path) in changed
        or any(f"docs_src/snippets/{name}.md" in changed for name in task_snippets(task, library))
    )


class _Side:
    """The workspace then, or now."""

    def __init__(self, sources: Sources) -> None:
        self.sources = sources
        self.memory = Memory()
        self.guides: Alike[Guide] = Alike(MOST_GUIDES)

    def fit(self, unit: Unit) -> Guide:
        """Return what fits a unit, without its pages."""
        like = self.guides.find(unit)
        lines = self.sources.register.of_unit(unit.name)
        guide = fit_unit(self.sources.library, unit, self.sources.stock.dealer, lines, like)
        if like is None:
            self.guides.keep(guide, unit)
        return guide

    def codes_of(self, unit: Unit) -> frozenset[tuple[str, str, str]]:
        """Return a unit's codes that lead somewhere, each with what it stands for."""
        latest = self.sources.register.of_unit(unit.name).latest
        return frozenset(
            (code, entry.sort, entry.target)
            for code, entry in latest.items()
            if entry.event != "retired"
        )

    def finish(self, unit: Unit) -> tuple[Finished, list[str]]:
        """Return a unit's guide, and what is wrong with it."""
        problems = Problems()
        lines = self.sources.register.of_unit(unit.name)
        done = finish_guide(self.sources, unit, lines, problems, self.memory)
        return done, [str(problem) for problem in problems.found]


@dataclass(frozen=True, slots=True)
class _Seen:
    """What was found of a unit, for those that are equipped alike."""

    change: UnitChange
    notices: tuple[object, object]
    """Those that reach it, then and now: by its name, too, and by serial numbers."""
    for_all: bool
    """Whether just this is so of them: no page changes that tells a unit's codes, title or days."""


class _Looker:
    """Compares guides; what was found of one unit is so for those that are equipped alike."""

    def __init__(self, then: _Side, now: _Side) -> None:
        self.then = then
        self.now = now
        self.seen: Alike[_Seen] = Alike()

    def look(self, old: Unit, new: Unit) -> UnitChange:
        """Return what changes for a unit."""
        own = (
            old.title != new.title
            or old.delivered != new.delivered
            or old.days != new.days
            or self.then.codes_of(old) != self.now.codes_of(new)
        )
        notices = (self.then.fit(old).notices, self.now.fit(new).notices)
        every = () if own else self.seen.every(old, new)
        seen = next((one for one in every if one.notices == notices), None)
        if seen is None:
            seen = self._compare(old, new)
            if not own:
                self.seen.keep(seen, old, new)
        elif not seen.for_all:
            pages = tuple(_changed_pages(*self._finish(old, new)))
            return UnitChange(new.name, "changed", pages, seen.change.papers)
        return replace(seen.change, unit=new.name)

    def has_task(self, unit: Unit, names: frozenset[str]) -> bool:
        """Return whether a unit's guide has one of some tasks."""
        tasks = self.now.fit(unit).tasks if names else ()
        return any(bound.task.name in names for bound in tasks)

    def _finish(self, old: Unit, new: Unit) -> tuple[Finished, Finished]:
        before, _ = self.then.finish(old)
        after, wrong = self.now.finish(new)
        if wrong:
            raise RefusedError(wrong[0].partition("; right: ")[0], "see lockerleaf check")
        return before, after

    def _compare(self, old: Unit, new: Unit) -> _Seen:
        before, after = self._finish(old, new)
        pages = tuple(_changed_pages(before, after))
        papers = tuple(self._changed_papers(before, after))
        shared = {
            _address(page.uri) for side in (before, after) for page in side.composed.equipment.pages
        }
        for_all = all(page.page in shared or page.page == _EVERY for page in pages)
        notices = (before.guide.notices, after.guide.notices)
        return _Seen(UnitChange(new.name, "changed", pages, papers), notices, for_all)

    def _changed_papers(self, before: Finished, after: Finished) -> Iterator[str]:
        then, now = self.then.sources, self.now.sources
        if stickers_of(then, before) != stickers_of(now, after):
            yield "stickers"
        if booklet_of(then, before).digest() != booklet_of(now, after).digest():
            yield "booklet"
        if handover_of(then, before).digest() != handover_of(now, after).digest():
            yield "handover"


def _changed_pages(before: Finished, after: Finished) -> Iterator[PageChange]:
    old, new = _pages(before), _pages(after)
    frames = before.composed.frame, after.composed.frame
    around = [
        LineChange(sign, key, frame[key])
        for key in frames[1]
        if key not in _FRAME_ONLY and frames[0].get(key) != frames[1][key]
        for sign, frame in zip("-+", frames, strict=True)
        if key in frame
    ]
    if around:
        yield PageChange(_EVERY, "around it", "changed", tuple(around))
    for uri in [*new, *(uri for uri in old if uri not in new)]:
        page = new.get(uri) or old[uri]
        address = _address(uri)
        if uri not in old or uri not in new:
            yield PageChange(address, _title(page), "new" if uri in new else "gone", ())
            continue
        was, is_ = old[uri], new[uri]
        if (was.title, was.text, was.values) == (is_.title, is_.text, is_.values):
            continue
        read = read_page(was, frames[0]), read_page(is_, frames[1])
        lines = tuple(_changed_lines(*read))
        if lines or _drawings(was) != _drawings(is_):
            yield PageChange(address, _title(is_), "changed", lines)


def _address(uri: str) -> str:
    return f"{uri.removesuffix('.md')}.html"


def _title(page: Page) -> str:
    return fill_plain(page.title, page.values)


def _drawings(page: Page) -> list[str]:
    return [str(value) for value in page.values.values() if "<svg" in str(value)]


def _pages(done: Finished) -> dict[str, Page]:
    """Return the pages of a guide by file; those behind stickers repeat the others."""
    guide = done.guide
    codes = (*guide.place_codes.values(), *guide.task_codes.values())
    behind = {links.code_uri(code) for code in codes}
    return {
        page.uri: page
        for page in done.composed.pages
        if page.uri.removeprefix(page.under) not in _UNREAD | behind
    }


def _changed_lines(old: Sequence[Line], new: Sequence[Line]) -> Iterator[LineChange]:
    matcher = difflib.SequenceMatcher(None, old, new, autojunk=False)
    for how, a, b, c, d in matcher.get_opcodes():
        if how != "equal":
            yield from (LineChange("-", line.what, line.text) for line in old[a:b])
            yield from (LineChange("+", line.what, line.text) for line in new[c:d])
