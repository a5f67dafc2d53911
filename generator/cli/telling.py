"""How mistakes and findings are told: as lines, or as JSON for other programs."""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import click

from generator.checks import Gaps, Remark, gaps_of
from generator.compose.versions import Standing, standings
from generator.flow import Finished
from generator.problems import Problem, ProblemsFound, RefusedError, put_together
from generator.publish.swap import BusyError
from generator.read.languages import Language
from generator.read.library import Caution, Interlock
from generator.read.sources import Sources
from generator.read.symptoms import Symptom
from generator.read.tasks import Task

FORMAT = click.option(
    "--format", "shape", type=click.Choice(["text", "json"]), default="text", help="How to tell."
)


@dataclass(frozen=True, slots=True)
class Told:
    """What a check tells of a unit's guide."""

    unit: str
    code: str
    tasks: int
    symptoms: int
    places: int
    pages: int
    interlocks: int
    routines: int
    languages: tuple[Standing, ...]

    @staticmethod
    def of(done: Finished) -> Told:
        """Return what is told of a finished guide."""
        guide, proof = done.guide, done.proof
        return Told(
            unit=guide.unit.name,
            code=guide.code,
            tasks=len(guide.tasks),
            symptoms=len(guide.symptoms),
            places=len(guide.places),
            pages=len(done.composed.pages),
            interlocks=proof.interlocks,
            routines=len(proof.routines),
            languages=tuple(standings(done.composed)),
        )


MOST_LISTED = 20
"""Of how many units a check tells how they stand; of more, it tells only of those with gaps."""

_COMPLETE = Gaps(0, 0)


class telling_problems:  # noqa: N801 - a context manager reads as a phrase
    """Turn an author's mistakes, and what the machine refuses, into lines and exit code 1."""

    def __init__(self, shape: str = "text") -> None:
        """Tell as `shape` says: text or json."""
        self.shape = shape

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: type[BaseException] | None, error: Any, _: object) -> None:
        if isinstance(error, ProblemsFound):
            if self.shape == "json":
                tell_json(error.problems, (), ())
            else:
                problems = put_together(error.problems)
                for problem in problems:
                    click.echo(str(problem), err=True)
                count = len(problems)
                click.echo(f"{count} problem{'s' if count > 1 else ''}; nothing written", err=True)
            sys.exit(1)
        if isinstance(error, RefusedError):
            click.echo(f"lockerleaf: {error}", err=True)
            sys.exit(1)
        if isinstance(error, BusyError):
            told = "another build writes into the same folder; right: wait until it has ended"
            click.echo(f"lockerleaf: {told}", err=True)
            sys.exit(1)
        if isinstance(error, OSError):
            shown = f"{error.filename}: " if error.filename else ""
            click.echo(f"lockerleaf: {shown}{error.strerror}; nothing published", err=True)
            sys.exit(1)


def tell_json(
    problems: Sequence[Problem],
    remarks: Sequence[Remark],
    units: Sequence[Told],
    languages: Mapping[str, Language] | None = None,
) -> None:
    """Tell problems, remarks and units as JSON."""
    gaps = gaps_of(remarks)
    told = {
        "problems": [
            {
                "file": p.at.path,
                "line": p.at.line,
                "column": p.at.column,
                "key": p.key,
                "wrong": p.wrong,
                "right": p.right,
                "unit": p.unit,
            }
            for p in problems
        ],
        "remarks": [
            {
                "file": r.at.path,
                "line": r.at.line,
                "unit": r.unit,
                "text": r.text,
                "serious": r.serious,
            }
            for r in remarks
        ],
        "units": [
            {
                "unit": one.unit,
                "code": one.code,
                "state": _state(gaps.get(one.unit, _COMPLETE)),
                **asdict(gaps.get(one.unit, _COMPLETE)),
                "pages": one.pages,
                "tasks": one.tasks,
                "places": one.places,
                "interlocks": one.interlocks,
                "routines": one.routines,
                "languages": [asdict(standing) for standing in one.languages],
            }
            for one in units
        ],
        "languages": [
            {
                "language": name,
                "translated": len(language.translated),
                "missing": [gap.name for gap in language.gaps if not gap.stale],
                "stale": [gap.name for gap in language.gaps if gap.stale],
                "reviewed": language.reviewed,
            }
            for name, language in (languages or {}).items()
        ],
    }
    click.echo(json.dumps(told, indent=2, ensure_ascii=False))


def tell_check(
    sources: Sources,
    units: Sequence[Told],
    remarks: Sequence[Remark],
    without_code: int,
    doubts: bool,
    list_sources: bool,
) -> None:
    """Tell what a check found, a line each."""
    for remark in remarks:
        click.echo(f"{remark.at.path}:{remark.at.line}: {remark.text}")
    library = sources.library
    entries: list[Task | Symptom] = [*library.tasks.values(), *library.symptoms.values()]
    if doubts:
        for entry in entries:
            if entry.doubt:
                click.echo(f"{entry.at.path}: doubt: {entry.doubt}")
    if list_sources:
        items: list[Task | Symptom | Caution | Interlock] = [
            *entries,
            *library.cautions.values(),
            *library.interlocks.values(),
        ]
        for item in items:
            click.echo(f"{item.at.path}:{item.at.line}: {item.name}: {item.source}")
    tell: Callable[[str], None] = click.echo
    _tell_units(units, gaps_of(remarks))
    if without_code:
        many = "1 code" if without_code == 1 else f"{without_code} codes"
        tell(f"{many} to be issued by the next build")
    tell(
        f"library: {len(library.kinds)} kinds, {len(library.tasks)} tasks, "
        f"{len(library.cautions)} cautions, {len(library.symptoms)} symptoms, "
        f"{len(library.interlocks)} interlocks, {len(library.routines)} routines"
    )


def _tell_units(units: Sequence[Told], gaps: Mapping[str, Gaps]) -> None:
    """Tell how complete each unit is; of many only those that are not, and not all of these."""
    shown = units
    if len(units) > MOST_LISTED:
        shown = [one for one in units if one.unit in gaps]
    rows: list[tuple[str, ...]] = [
        ("unit", "state", "tasks", "symptoms", "places", "pages", "interlocks", "routines")
    ]
    for one in shown[:MOST_LISTED]:
        state = shown_gaps(gaps.get(one.unit, _COMPLETE))
        counts = (one.tasks, one.symptoms, one.places, one.pages, one.interlocks, one.routines)
        rows.append((one.unit, state, *map(str, counts)))
    if len(rows) > 1:
        tell_table(rows)
    if len(shown) > MOST_LISTED:
        click.echo(f"… and {len(shown) - MOST_LISTED} more that are not complete")
    for one in shown[:MOST_LISTED]:
        for standing in one.languages:
            click.echo(
                f"{one.unit} in {standing.language}: {standing.pages} pages, "
                f"{standing.partial} not wholly translated, {standing.stale} out of date"
            )
    states = Counter(_state(gaps.get(one.unit, _COMPLETE)) for one in units)
    many = "1 unit" if len(units) == 1 else f"{len(units)} units"
    click.echo(
        f"{many}: {states['complete']} complete, {states['missing']} with something missing, "
        f"{states['warnings']} with warnings; interlocks and routines are proven"
    )


def _state(gaps: Gaps) -> str:
    return "missing" if gaps.missing else "warnings" if gaps.warnings else "complete"


def shown_gaps(gaps: Gaps) -> str:
    """Return how complete a unit is, in a cell of a table."""
    warnings = f"{gaps.warnings} warning{'' if gaps.warnings == 1 else 's'}"
    told = [f"{gaps.missing} missing" if gaps.missing else "", warnings if gaps.warnings else ""]
    return ", ".join(filter(None, told)) or "complete"


def tell_table(rows: Sequence[Sequence[str]]) -> None:
    """Tell rows with their columns under each other; the first are the headings."""
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    for row in rows:
        line = "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        click.echo(line.rstrip())


def tell_languages(sources: Sources, *, listed: bool) -> None:
    """Tell for each further language how much of the library it has, and on request what not."""
    for language in sources.languages.values():
        stale = [gap for gap in language.gaps if gap.stale]
        missing = [gap for gap in language.gaps if not gap.stale]
        click.echo(
            f"{language.title}: {len(language.translated)} texts translated, "
            f"{len(missing)} missing, {len(stale)} out of date"
            + ("" if language.reviewed else "; not reviewed")
        )
        for gap in (*stale, *missing) if listed else ():
            state = "out of date" if gap.stale else "missing"
            click.echo(f"  {gap.at.path}:{gap.at.line}: {gap.name} {state}")
