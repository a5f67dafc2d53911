"""How each unit stands: what is published, printed, missing and due. Nothing is built for it.

What takes reading a unit is remembered in the workspace's `.cache/`, under a digest of all that it
was read from; so of a thousand units only those are read that changed since somebody last asked.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date
from pathlib import Path

from generator.checks import remark_units
from generator.figures.dates import due_day
from generator.figures.gather import own_inputs
from generator.fit.fit import fit_unit, wanted_codes
from generator.fit.guide import Guide
from generator.problems import Problem, ProblemsFound
from generator.publish.built import Built, cache_file, is_current, read_built
from generator.publish.register import write_whole
from generator.read.alike import MOST_GUIDES, Alike
from generator.read.sources import Sources, read_sources
from generator.read.survey import Survey, survey_workspace
from generator.render.printed import not_printed
from generator.render.stickers import plan_stickers
from generator.workers import PAPER_FILES

PUBLISHED, CHANGED, NEVER = "published", "changed since", "never built"


@dataclass(frozen=True, slots=True)
class Facts:
    """What is known of a unit once it has been read."""

    source: str
    """A digest of all that this was read from."""
    files: tuple[str, ...]
    title: str = ""
    delivered: str = ""
    stickers: int = 0
    without_code: int = 0
    not_printed: int = 0
    """Of those that have a code."""
    warnings: tuple[str, ...] = ()
    missing: int = 0
    """How many of these say that something is missing, so that `check` fails."""
    private: tuple[str, ...] = ()
    """The keys of what it keeps private."""
    dates: tuple[tuple[str, str], ...] = ()
    """What falls due, each with its day."""
    notices: tuple[str, ...] = ()
    """The names of those that reach it and are not cleared there."""
    unsure: tuple[str, ...] = ()
    """Of these, those that a serial number decides which nobody has written down."""
    mistakes: int = 0
    """How many there are; it could not be read while there is one."""


@dataclass(frozen=True, slots=True)
class UnitStatus:
    """How a unit stands today."""

    unit: str
    guide: str
    """`published`, `changed since` or `never built`."""
    papers: str
    """`printed` with the guide that stands, `old`, or `none`."""
    private_missing: tuple[str, ...]
    due: tuple[tuple[str, str], ...]
    """What is overdue or falls due soon, each with its day, the soonest first."""
    facts: Facts


@dataclass(frozen=True, slots=True)
class Status:
    """How all units stand."""

    units: tuple[UnitStatus, ...]
    stale: Mapping[str, int]
    """By language: how many of the library's translations are missing or out of date."""


def tell_status(root: Path, out: Path, names: Collection[str], today: date, days: int) -> Status:
    """Return how the named units stand.

    Args:
        root: The workspace.
        out: The published folder.
        names: Units, all of which have a file.
        today: The day from which due dates are counted.
        days: How many days ahead a date counts as soon.

    Raises:
        ProblemsFound: the library, a model or the dealer's file cannot be read.
    """
    survey = survey_workspace(root)
    memory = cache_file(root, root / "units", "status.json")
    library = _digest(survey.common, *(f"{k} {v}" for k, v in sorted(survey.texts.items())))
    known, stale = _recall(memory, library)
    asked = {name: known[name] for name in names if still_holds(known.get(name), name, survey)}
    unread = [name for name in names if name not in asked]
    if unread or stale is None:
        fresh, stale = _read(root, survey, unread)
        asked |= fresh
        kept = {name: one for name, one in (known | fresh).items() if name in survey.names}
        _remember(memory, library, kept, stale)
    return Status(stand_units(root, out, asked, survey, today, days), stale)


def stand_units(
    root: Path, out: Path, known: Mapping[str, Facts], survey: Survey, today: date, days: int
) -> tuple[UnitStatus, ...]:
    """Return how units stand of which the facts are known, in order of their names."""
    built = read_built(root, out)
    usual = _usual_private(known.values())
    return tuple(
        _stand(root, out, name, facts, usual, survey, built, today, days)
        for name, facts in sorted(known.items())
    )


def _stand(
    root: Path,
    out: Path,
    name: str,
    facts: Facts,
    usual: frozenset[str],
    survey: Survey,
    built: Built,
    today: date,
    days: int,
) -> UnitStatus:
    before = built.guides.get(name)
    guide = NEVER if before is None or not (out / before.code).is_dir() else CHANGED
    if before is not None and is_current(survey, name, built, out):
        guide = PUBLISHED
    printed = all((root / "print" / name / paper).exists() for paper in PAPER_FILES)
    current = guide == PUBLISHED and before is not None and before.papers
    papers = "none" if not printed else "printed" if current else "old"
    due = [(day, what) for what, day in facts.dates if _soon(day, today, days)]
    return UnitStatus(
        unit=name,
        guide=guide,
        papers=papers,
        private_missing=() if facts.mistakes else tuple(sorted(usual - set(facts.private))),
        due=tuple((what, day) for day, what in sorted(due)),
        facts=facts,
    )


def _soon(day: str, today: date, days: int) -> bool:
    return (date.fromisoformat(day) - today).days <= days


def _usual_private(known: Iterable[Facts]) -> frozenset[str]:
    """Return the private keys that most units have, so that one that lacks them stands out."""
    readable = [facts for facts in known if not facts.mistakes]
    keys = {key for facts in readable for key in facts.private}
    return frozenset(
        key for key in keys if 2 * sum(key in facts.private for facts in readable) > len(readable)
    )


def still_holds(facts: Facts | None, name: str, survey: Survey) -> bool:
    """Return whether nothing has changed of what facts were read from."""
    return facts is not None and facts.source == _source(name, facts.files, survey)


def _source(name: str, files: Iterable[str], survey: Survey) -> str:
    return survey.of_guide(name, files)


def _read(
    root: Path, survey: Survey, names: Sequence[str]
) -> tuple[dict[str, Facts], dict[str, int]]:
    """Return the facts of units, those with mistakes told as such, and the state of languages."""
    broken: dict[str, list[Problem]] = {}
    try:
        sources = read_sources(root, only=names)
    except ProblemsFound as found:
        for problem in found.problems:
            name = problem.at.path.removeprefix("units/").removesuffix(".yml")
            if f"units/{name}.yml" != problem.at.path or name not in names:
                raise
            broken.setdefault(name, []).append(problem)
        sources = read_sources(root, only=[name for name in names if name not in broken])
    facts = {}
    alike: Alike[Guide] = Alike(MOST_GUIDES)
    for name in names:
        if name in broken:
            facts[name] = facts_of_broken(survey, name, broken[name])
        else:
            facts[name] = facts_of(sources, survey, name, alike)
    stale = {
        language.name: len(language.gaps)
        for language in sources.languages.values()
        if language.gaps
    }
    return facts, stale


def facts_of_broken(survey: Survey, name: str, problems: Sequence[Problem]) -> Facts:
    """Return what is told of a unit that cannot be read."""
    # Its models, too, may be what has to change: whatever does, it is read again.
    files = tuple(sorted(survey.units))
    told = tuple(str(problem) for problem in problems)
    return Facts(_source(name, files, survey), files, warnings=told, mistakes=len(told))


def facts_of(
    sources: Sources, survey: Survey, name: str, alike: Alike[Guide] | None = None
) -> Facts:
    """Return the facts of a unit that was read. `alike` remembers guides for the next unit."""
    unit = sources.stock.units[name]
    register = sources.register.of_unit(name)
    like = alike.find(unit) if alike else None
    guide = fit_unit(sources.library, unit, sources.stock.dealer, register, like)
    if alike is not None and like is None:
        alike.keep(guide, unit)
    stickers = plan_stickers(guide, sources.library) if guide.code else ()
    wanted = [target for _, target in wanted_codes(guide)]
    remarks = remark_units([guide])
    dates = own_inputs(unit, sources.library.kinds).dates
    return Facts(
        source=_source(name, unit.files, survey),
        files=unit.files,
        title=unit.title,
        delivered=unit.delivered.isoformat() if unit.delivered else "",
        stickers=len(wanted) + 1,
        without_code=sum(t not in guide.place_codes for t in wanted) + (not guide.code),
        not_printed=len(not_printed(stickers, register)),
        warnings=tuple(remark.text for remark in remarks),
        missing=sum(remark.serious for remark in remarks),
        private=tuple(sorted(unit.private_keys)),
        dates=tuple(
            (one.label, day.isoformat()) for one in dates if (day := due_day(one)) is not None
        ),
        notices=tuple(one.notice.name for one in guide.notices),
        unsure=tuple(one.notice.name for one in guide.notices if one.unsure),
    )


def _digest(*told: str) -> str:
    return hashlib.sha256("\0".join(told).encode()).hexdigest()


def _recall(memory: Path, library: str) -> tuple[dict[str, Facts], dict[str, int] | None]:
    """Return what is remembered; nothing where that is damaged or of another program."""
    try:
        told = json.loads(memory.read_bytes())
        lists = [tuple(files) for files in told["files"]]
        units = {
            name: Facts(
                **{
                    **facts,
                    "files": lists[facts["files"]],
                    "warnings": tuple(facts["warnings"]),
                    "private": tuple(facts["private"]),
                    "dates": tuple((what, day) for what, day in facts["dates"]),
                    "notices": tuple(facts["notices"]),
                    "unsure": tuple(facts["unsure"]),
                }
            )
            for name, facts in told["units"].items()
        }
        return units, told["stale"] if told["library"] == library else None
    except (OSError, ValueError, KeyError, TypeError, IndexError, AttributeError):
        return {}, None


def _remember(
    memory: Path, library: str, units: Mapping[str, Facts], stale: Mapping[str, int]
) -> None:
    """Keep facts for the next time; lists of files that many units share are kept once."""
    lists: dict[tuple[str, ...], int] = {}
    told = {
        name: {**asdict(replace(one, files=())), "files": lists.setdefault(one.files, len(lists))}
        for name, one in units.items()
    }
    content = {"library": library, "stale": stale, "files": list(lists), "units": told}
    write_whole(memory, json.dumps(content).encode())
