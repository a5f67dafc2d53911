"""What is known of a workspace while somebody looks at it, read again as its files change.

Nobody waits for a whole fleet: files are read at once when they have changed; how each unit stands
and whether its guide can be proven is found out unit by unit, by a thread of its own.
"""

from __future__ import annotations

import hashlib
import itertools
import logging
import threading
import time
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from generator.checks import (
    Remark,
    refuse_broken_codes,
    remark_codes,
    remark_departed,
    remark_library,
    remark_units,
)
from generator.desk.status import (
    Facts,
    UnitStatus,
    facts_of,
    facts_of_broken,
    stand_units,
    still_holds,
)
from generator.fit.codes import with_entries
from generator.fit.guide import Guide
from generator.flow import Finished, Memory, finish_guide
from generator.plugin import preview_codes
from generator.problems import Problem, Problems, ProblemsFound, put_together
from generator.read.alike import MOST_GUIDES, Alike, in_rows
from generator.read.notices import Notice
from generator.read.register import read_register
from generator.read.sources import Sources, check_unit, read_sources
from generator.read.survey import Survey, survey_workspace
from generator.read.units import Unit, read_stock
from generator.render.printed import remark_long_address, remark_old_addresses
from generator.render.stickers import plan_stickers, refuse_unreadable
from generator.workers import texts_of

_SHORTEST_WAIT_S = 0.4
"""Files are not looked at more often than this, however many windows ask."""

_DAYS = 60
"""How soon a date counts as soon, as `lockerleaf status` has it."""


@dataclass(frozen=True, slots=True)
class Known:
    """The workspace as last read."""

    digest: str
    """Of all its files."""
    survey: Survey
    sources: Sources | None
    """With the units that could be read; None where the library, a model or the dealer's file
    could not."""
    problems: tuple[Problem, ...]


@dataclass(frozen=True, slots=True)
class Checked:
    """What proving and composing a unit's guide found."""

    source: str
    files: tuple[str, ...]
    texts: tuple[str, ...]
    problems: tuple[Problem, ...]
    remarks: tuple[Remark, ...]


@dataclass(frozen=True, slots=True)
class Reach:
    """A notice, with the units that it reaches and those in which it was seen to."""

    notice: Notice
    reaches: tuple[str, ...]
    unsure: frozenset[str]
    """Of these, those whose serial number nobody has written down."""
    cleared: tuple[tuple[str, str], ...]
    """Each unit with the day, also one that has left."""


@dataclass(frozen=True, slots=True)
class Overview:
    """The fleet as the first page shows it."""

    units: tuple[UnitStatus, ...]
    unread: tuple[str, ...]
    """Units of which it is not known yet how they stand."""
    waiting: int
    """How many guides are still to be checked."""
    problems: tuple[Problem, ...]
    remarks: tuple[Remark, ...]
    notices: tuple[Reach, ...]
    """The newest first; of units that are still being read it is not known yet."""


class Watcher:
    """Reads a workspace when it has changed; one for all windows."""

    def __init__(self, root: Path, out: Path) -> None:
        """Take a workspace and the folder into which its guides are published."""
        self.root = root
        self._out = out
        self._reading = threading.Lock()
        self._known: Known | None = None
        self._library: tuple[object, Sources] | None = None
        self._read_units: tuple[Sources | None, Survey | None, Mapping[str, Unit]]
        self._read_units = (None, None, {})
        self._looked = 0.0
        self._facts: dict[str, Facts] = {}
        self._checked: dict[str, Checked] = {}
        self.memory = Memory()
        self._count = 0
        self._work = threading.Event()
        self._ended = False
        self._asking = 0
        self._turn = threading.Condition()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def start(self) -> None:
        """Begin to find out how the units stand."""
        self._thread.start()

    def end(self) -> None:
        """Stop that."""
        self._ended = True
        self._work.set()
        with self._turn:
            self._turn.notify_all()
        if self._thread.is_alive():
            self._thread.join(timeout=30)

    @contextmanager
    def answering(self) -> Iterator[None]:
        """Let the thread wait while somebody is answered.

        One who computes without a pause keeps another, who reads thousands of small files, from
        going on for a hundred times as long as that needs.
        """
        with self._turn:
            self._asking += 1
        try:
            yield
        finally:
            with self._turn:
                self._asking -= 1
                self._turn.notify_all()

    def _is_outdated(self, known: Known) -> bool:
        """Return whether there is something newer to find out about, once nobody is answered."""
        with self._turn:
            self._turn.wait_for(lambda: self._ended or not self._asking)
        return self._ended or self._known is not known

    def look(self) -> Known:
        """Return the workspace as it is now."""
        with self._reading:
            known = self._known
            if known is None or time.monotonic() - self._looked > _SHORTEST_WAIT_S:
                known = self._known = self._look(known)
                self._looked = time.monotonic()
            return known

    def _look(self, before: Known | None) -> Known:
        try:
            survey = survey_workspace(self.root)
        except OSError:  # a file went while it was looked at
            if before is not None:
                return before
            raise
        if before is not None and before.survey == survey:
            return before
        sources, problems = self._read(survey)
        self._count += 1
        self._work.set()
        return Known(_digest(survey), survey, sources, tuple(sorted(set(problems))))

    def _read(self, survey: Survey) -> tuple[Sources | None, Iterable[Problem]]:
        """Return what could be read, and what is wrong with the rest."""
        library = (survey.common, survey.texts)
        try:
            if self._library is None or self._library[0] != library:
                self._library = (library, read_sources(self.root, only=()))
            sources = self._library[1]
        except ProblemsFound as found:
            self._library = None
            others = self._problems_of_units()
            return None, (*found.problems, *others)
        problems = Problems()
        only, kept = self._unread(sources, survey)
        stock = read_stock(self.root, sources.library.kinds, problems, only)
        for unit in stock.units.values():
            check_unit(unit, sources.library, sources.languages, problems)
        bad = {problem.at.path for problem in problems.found}
        good = {n: u for n, u in stock.units.items() if u.files[0] not in bad}
        stock = replace(stock, units=dict(sorted({**kept, **good}.items())))
        self._read_units = (sources, survey, stock.units)
        register = read_register(self.root, problems)
        read = replace(sources, stock=stock, register=register)
        try:
            refuse_broken_codes(read, register)
        except ProblemsFound as found:
            problems.found += found.problems
        if any(problem.at.path == "units/register.csv" for problem in problems.found):
            return None, problems.found
        return read, problems.found

    def _unread(
        self, sources: Sources, survey: Survey
    ) -> tuple[set[str] | None, Mapping[str, Unit]]:
        """Return which units are to be read, None for all with the models, and the others."""
        library, old, units = self._read_units
        if library is not sources or old is None:
            return None, {}
        files = {*survey.units.items()} ^ {*old.units.items()}
        changed = {path for path, _ in files}
        if any(path.startswith("units/models/") for path in changed):
            return None, {}
        kept = {
            name: unit
            for name, unit in units.items()
            if name in survey.names and changed.isdisjoint(unit.files)
        }
        return set(survey.names - kept.keys()), kept

    def _problems_of_units(self) -> tuple[Problem, ...]:
        """Return what is wrong with units while the library cannot be read, if it nearly can."""
        try:
            read_sources(self.root)
        except ProblemsFound as found:
            return found.problems
        return ()

    @property
    def stamp(self) -> str:
        """Return what changes with everything that the first page shows."""
        return f"{self.look().digest[:12]}-{self._count}-{date.today().isoformat()}"

    def overview(self) -> Overview:
        """Return how the fleet stands, as far as that is known."""
        known = self.look()
        names = known.survey.names
        facts = {name: one for name, one in self._facts.copy().items() if name in names}
        held = {n: one for n, one in facts.items() if still_holds(one, n, known.survey)}
        checked = [one for name in sorted(names) if (one := self.checked(known, name))]
        readable = known.sources.stock.units if known.sources else {}
        problems = {*known.problems, *(p for one in checked for p in one.problems)}
        remarks = [remark for one in checked for remark in one.remarks]
        if known.sources is not None:
            remarks += _remarks_of_all(known.sources)
        return Overview(
            stand_units(self.root, self._out, held, known.survey, date.today(), _DAYS),
            tuple(sorted(names - held.keys())),
            len(readable) - len(checked),
            put_together(sorted(problems)),
            tuple(dict.fromkeys(remarks)),
            _reach(known.sources.stock.dealer.notices if known.sources else (), held),
        )

    def checked(self, known: Known, name: str) -> Checked | None:
        """Return what was found about a unit's guide, if that still holds."""
        one = self._checked.get(name)
        if one is None or known.sources is None or name not in known.sources.stock.units:
            return None
        return one if one.source == known.survey.of_guide(name, one.files, one.texts) else None

    def finish(self, known: Known, name: str) -> tuple[Checked, Finished | None]:
        """Return what is to be said of a unit's guide, and the guide if there is nothing wrong.

        Where its codes have not been issued yet it has others, for looking at it.
        """
        assert known.sources is not None
        unit = known.sources.stock.units[name]
        found = check_unit_guide(known.sources, unit, self.memory)
        texts = texts_of(found.done, known.sources) if found.done else tuple(known.survey.texts)
        source = known.survey.of_guide(name, unit.files, texts)
        checked = Checked(source, unit.files, texts, found.problems, found.remarks)
        self._checked[name] = checked
        return checked, found.done

    def _run(self) -> None:
        while self._work.wait() and not self._ended:
            self._work.clear()
            try:
                self._catch_up(self.look())
            except Exception:  # a mistake of ours must not end it: the next change may be past it
                logging.getLogger("lockerleaf").exception("while looking at %s", self.root.name)

    def _catch_up(self, known: Known) -> None:
        """Find out how each unit stands, then check each guide, until there is something newer."""
        alike: Alike[Guide] = Alike(MOST_GUIDES)
        for name in sorted(known.survey.names):
            if self._is_outdated(known):
                return
            if not still_holds(self._facts.get(name), name, known.survey):
                facts = self._stand(known, name, alike)
                if facts is not None:
                    self._facts[name] = facts
                    self._count += 1
        units = known.sources.stock.units.values() if known.sources else ()
        for unit in itertools.chain.from_iterable(in_rows(units)):
            if self._is_outdated(known):
                return
            if self.checked(known, unit.name) is None:
                self.finish(known, unit.name)
                self._count += 1

    def _stand(self, known: Known, name: str, alike: Alike[Guide]) -> Facts | None:
        own = [p for p in known.problems if p.at.path == f"units/{name}.yml"]
        if known.sources is None:
            return facts_of_broken(known.survey, name, own) if own else None
        if name in known.sources.stock.units:
            return facts_of(known.sources, known.survey, name, alike)
        return facts_of_broken(known.survey, name, own or known.problems)


@dataclass(frozen=True, slots=True)
class Found:
    """A unit's guide, if there is nothing wrong, and all that `lockerleaf check` says of it."""

    problems: tuple[Problem, ...]
    remarks: tuple[Remark, ...]
    done: Finished | None


def check_unit_guide(sources: Sources, unit: Unit, memory: Memory) -> Found:
    """Finish a unit's guide with codes for preview, and look for all that is wrong with it."""
    problems = Problems()
    done: Finished | None = None
    remarks: tuple[Remark, ...] = ()
    try:
        lines = sources.register.of_unit(unit.name)
        alike = memory.like("", sources.library, sources.stock.dealer, unit)
        codes = preview_codes(sources, unit, alike[0].done.guide if alike else None)
        register = with_entries(lines, codes)
        done = finish_guide(sources, unit, register, problems, memory)
        stock = sources.library.labels[sources.stock.dealer.label]
        refuse_unreadable(plan_stickers(done.guide, sources.library), stock)
        remarks = (
            *remark_units([done.guide]),
            *remark_codes([done.guide], sources.register),
            *remark_long_address([done.guide], stock),
        )
    except ProblemsFound as found:
        problems.found += found.problems
    told = ProblemsFound(problems.found).problems
    return Found(told, remarks, None if told else done)


def _remarks_of_all(sources: Sources) -> list[Remark]:
    """Return what is to be said of the workspace beside its units' guides."""
    return [
        *remark_departed(sources),
        *remark_library(sources.library),
        *remark_old_addresses(sources.register, sources.stock.dealer),
    ]


def _reach(notices: Iterable[Notice], facts: Mapping[str, Facts]) -> tuple[Reach, ...]:
    return tuple(
        Reach(
            notice,
            tuple(sorted(name for name, one in facts.items() if notice.name in one.notices)),
            frozenset(name for name, one in facts.items() if notice.name in one.unsure),
            tuple(sorted(notice.cleared.items())),
        )
        for notice in notices
    )


def _digest(survey: Survey) -> str:
    parts: tuple[Mapping[str, str], ...] = (survey.texts, survey.register, survey.units)
    told = [survey.common, *(f"{k}\0{v}" for part in parts for k, v in sorted(part.items()))]
    return hashlib.sha256("\n".join(told).encode()).hexdigest()
