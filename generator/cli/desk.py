"""Commands of the stock desk: new units, stock lists, and how all stands."""

from __future__ import annotations

import json
import re
import sys
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from datetime import date
from pathlib import Path

import click

from generator.checks import Gaps
from generator.cli.root import main
from generator.cli.telling import FORMAT, MOST_LISTED, shown_gaps, tell_table, telling_problems
from generator.cli.workspace import choose_units, chosen, workspace
from generator.desk.changes import Changes, PageChange, UnitChange, find_changes
from generator.desk.importing import ImportPlan, plan_import
from generator.desk.mapping import read_mapping
from generator.desk.new_unit import Pattern, Question, describe, pattern_for
from generator.desk.new_workspace import make_workspace
from generator.desk.revision import workspace_at
from generator.desk.status import CHANGED, NEVER, PUBLISHED, Status, UnitStatus, tell_status
from generator.desk.stock_list import read_list
from generator.desk.uses import Use, Uses, find_sorts, find_uses
from generator.desk.writing import Write, write_all
from generator.problems import Problems
from generator.read.layers import packaged
from generator.read.sources import read_sources
from generator.read.units import unit_names


@main.command()
@click.argument("unit")
@click.option("--like", required=True, help="The unit or model that it is like.")
@click.option("--title", help="What its guide is called.")
@click.option("--delivered", help="Day of handover, such as 2026-04-11.")
@click.option("--set", "others", multiple=True, metavar="KEY=VALUE", help="Such as private.vin=…")
def new(
    unit: str, like: str, title: str | None, delivered: str | None, others: tuple[str, ...]
) -> None:
    """Describe a new unit like another. On a terminal it asks what differs."""
    with telling_problems():
        root = workspace()
        pattern = pattern_for(root, unit, like)
        answers = dict(_pair(other) for other in others)
        answers |= {"title": title} if title is not None else {}
        answers |= {"delivered": delivered} if delivered is not None else {}
        if _terminal():
            answers = _ask(pattern, answers)
        path = root / "units" / f"{unit}.yml"
        write_all([Write(path, None, describe(root, pattern, answers).encode())])
        _tell_new(pattern, answers)


@main.command("import")
@click.argument("stock", type=click.Path(path_type=Path))
@click.option("--mapping", required=True, type=click.Path(path_type=Path), help="What is what.")
@click.option("--dry-run", is_flag=True, help="Tell what would change, and write nothing.")
def import_(stock: Path, mapping: Path, dry_run: bool) -> None:
    """Make or update units from a stock list, CSV or .xlsx."""
    with telling_problems():
        root, problems = workspace(), Problems()
        how = read_mapping(mapping, str(mapping))
        found = read_list(stock, str(stock), how.wanted(), how.heading_row, how.sheet, problems)
        plan = plan_import(root, found, how, problems)
        if not dry_run:
            write_all(plan.writes)
        _tell_import(plan, dry_run)


def _tell_import(plan: ImportPlan, dry_run: bool) -> None:
    for unit in plan.units:
        click.echo(f"{unit.unit}: {'new' if unit.new else 'changed'}")
        for change in unit.changes:
            before = f"{change.before} → " if change.before else ""
            click.echo(f"  {change.key}: {before}{change.after}")
    new_ = sum(unit.new for unit in plan.units)
    click.echo(
        f"{new_} new, {len(plan.units) - new_} changed, {plan.same} as the list says"
        + ("; nothing written (--dry-run)" if dry_run else "")
    )
    if plan.unlisted:
        shown = ", ".join(plan.unlisted[:8]) + (" and more" if len(plan.unlisted) > 8 else "")
        click.echo(f"Not in the list, and left alone: {shown}")
    if plan.units and not dry_run:
        click.echo("Next: lockerleaf check")


@main.command()
@click.argument("units", nargs=-1)
@click.option("--out", default="public", help="Folder of the published guides.")
@click.option("--days", type=click.IntRange(0, 3650), default=60, help="How soon is soon.")
@FORMAT
def status(units: tuple[str, ...], out: str, days: int, shape: str) -> None:
    """Tell how each unit stands: published, printed, missing, due. Nothing is built."""
    with telling_problems(shape):
        root = workspace()
        names = choose_units(unit_names(root), units)
        stand = tell_status(root, (root / out).resolve(), names, date.today(), days)
        if shape == "json":
            _tell_status_json(stand)
        else:
            _tell_status(stand, days)


def _tell_status_json(stand: Status) -> None:
    told = [
        {
            "unit": one.unit,
            "title": one.facts.title,
            "delivered": one.facts.delivered,
            "guide": one.guide,
            "papers": one.papers,
            "stickers": one.facts.stickers,
            "stickers_without_code": one.facts.without_code,
            "stickers_not_printed": one.facts.not_printed,
            "private_missing": one.private_missing,
            "due": [{"what": what, "day": day} for what, day in one.due],
            "mistakes": one.facts.mistakes,
            "missing": one.facts.missing,
            "warnings": one.facts.warnings,
        }
        for one in stand.units
    ]
    shown = {"units": told, "translations_stale": stand.stale}
    click.echo(json.dumps(shown, indent=2, ensure_ascii=False))


def _tell_status(stand: Status, days: int) -> None:
    rows: list[tuple[str, ...]] = [("unit", "guide", "stickers", "papers", "private", "to look at")]
    rows += [_status_row(one) for one in stand.units]
    tell_table(rows)
    for one in stand.units:
        for what, day in one.due:
            overdue = "overdue since" if day < date.today().isoformat() else "due"
            click.echo(f"{one.unit}: {overdue} {day}: {what}")
    guides = Counter(one.guide for one in stand.units)
    many = "1 unit" if len(stand.units) == 1 else f"{len(stand.units)} units"
    told = [f"{guides[state]} {state}" for state in (PUBLISHED, CHANGED, NEVER) if guides[state]]
    due = sum(len(one.due) for one in stand.units)
    click.echo(f"{many}: {', '.join(told)}; {due} dates due within {days} days")
    for language, count in stand.stale.items():
        click.echo(f"{language}: {count} translations to be looked at: lockerleaf check --stale")


def _status_row(one: UnitStatus) -> tuple[str, ...]:
    facts = one.facts
    stickers = [
        f"{facts.without_code} without code" if facts.without_code else "",
        f"{facts.not_printed} not printed" if facts.not_printed else "",
    ]
    gaps = Gaps(facts.missing, len(facts.warnings) - facts.missing)
    look = shown_gaps(gaps) if facts.warnings else ""
    if facts.mistakes:
        look = f"{facts.mistakes} mistake{'s' if facts.mistakes > 1 else ''}"
    private = f"{', '.join(one.private_missing)} missing" if one.private_missing else "complete"
    return (
        one.unit,
        one.guide,
        "?" if facts.mistakes else ", ".join(filter(None, stickers)) or "all printed",
        one.papers,
        "?" if facts.mistakes else private,
        look,
    )


@main.command("where-used")
@click.argument("name")
@click.argument("units", nargs=-1)
@FORMAT
def where_used(name: str, units: tuple[str, ...], shape: str) -> None:
    """Tell which units, pages and papers hold something of the library, in all units or some.

    NAME is of a task, snippet, kind, caution, symptom, interlock, routine, drawing, model or
    phrase; caution/scald tells a caution from others of that name.
    """
    with telling_problems(shape):
        sources = read_sources(workspace())
        names = chosen(sources, units)
        found = [find_uses(sources, *one, names) for one in find_sorts(sources, name)]
        if shape == "json":
            click.echo(json.dumps([asdict(uses) for uses in found], indent=2, ensure_ascii=False))
        else:
            for uses in found:
                _tell_uses(uses)


def _tell_uses(uses: Uses) -> None:
    if uses.tasks:
        click.echo(f"{uses.sort} {uses.name} is taken in by {', '.join(uses.tasks)}")
    if uses.frame:
        click.echo(f"{uses.sort} {uses.name} stands in the frame of every page")
    several = "unit" if len(uses.units) == 1 else "units"
    click.echo(f"{uses.sort} {uses.name}: {len(uses.units) or 'no'} {several}")
    alike: dict[Use, list[str]] = {}
    for use in uses.units:
        alike.setdefault(replace(use, unit=""), []).append(use.unit)
    for use, names in alike.items():
        click.echo(", ".join(names))
        for page in use.pages:
            click.echo(f"  {page}")
        if use.named:
            click.echo(f"  named on {', '.join(use.named)}")
        if use.papers:
            click.echo(f"  printed in: {', '.join(use.papers)}")


@main.command()
@click.argument("revision", default="HEAD")
@click.option("--unit", "units", multiple=True, help="Look at this unit only.")
@FORMAT
def changes(revision: str, units: tuple[str, ...], shape: str) -> None:
    """Tell what the finished guides say otherwise than at a revision of git (HEAD)."""
    with telling_problems(shape):
        root = workspace()
        with workspace_at(root, revision) as before:
            known = unit_names(root) | unit_names(before)
            only = choose_units(known, units) if units else []
            found = find_changes(root, before, revision, only)
        if shape == "json":
            click.echo(json.dumps(asdict(found), indent=2, ensure_ascii=False))
        else:
            _tell_changes(root, revision, found)


def _tell_changes(root: Path, revision: str, found: Changes) -> None:
    alike: dict[PageChange, list[str]] = {}
    for one in found.units:
        for page in one.pages:
            alike.setdefault(page, []).append(one.unit)
    for page, names in alike.items():
        state = "" if page.state == "changed" else f" ({page.state})"
        click.echo(f"{page.page}  {page.title}{state}  [{_some(names)}]")
        for line in page.lines:
            what = f"{line.what}: " if line.what else ""
            click.echo(f"  {line.sign} {what}{line.text}")
        if page.state == "changed" and not page.lines:
            click.echo("  a drawing")
    for file in found.files:
        click.echo(f"{file}: changes how every page looks or works")
    many = len(found.units) > MOST_LISTED
    several: dict[str, list[str]] = {}
    for one in found.units:
        told = _told_change(root, one, "…" if many else one.unit)
        several.setdefault(told if many else f"{one.unit}: {told}", []).append(one.unit)
    for told, names in several.items():
        units = "1 unit" if len(names) == 1 else f"{len(names)} units"
        click.echo(f"{units}: {told}  [{_some(names)}]" if many else told)
    if not found.units and not found.files:
        click.echo(f"every guide reads as at {revision}")


def _told_change(root: Path, change: UnitChange, shown: str) -> str:
    """Return what changes for a unit, in words; `shown` stands for its name."""
    if change.state != "changed":
        return change.state
    pages = "1 page" if len(change.pages) == 1 else f"{len(change.pages)} pages"
    folder = root / "print" / change.unit
    old = [paper for paper in change.papers if (folder / f"{paper}.pdf").exists()]
    if old:
        return f"{pages}; out of date: {', '.join(f'print/{shown}/{paper}.pdf' for paper in old)}"
    return pages + (f"; to be printed anew: {', '.join(change.papers)}" if change.papers else "")


def _some(names: Sequence[str]) -> str:
    return ", ".join(names[:6]) + (f" and {len(names) - 6} more" if len(names) > 6 else "")


@main.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--title", default="", help="The dealership's name.")
@click.option("--telephone", default="", help="As it is dialled.")
@click.option("--address", default="", help="Where the guides will be: https://…")
def init(folder: Path, title: str, telephone: str, address: str) -> None:
    """Make a dealer's own folder, which stands on the library that comes with Lockerleaf."""
    with telling_problems():
        dealer = {"title": title, "telephone": telephone, "address": address}
        if _terminal():
            dealer |= {
                key: click.prompt(f"{key} [none]", default="", show_default=False).strip()
                for key, given in dealer.items()
                if not given
            }
        make_workspace(folder.resolve(), dealer)
        click.echo(f"{folder} is made; it stands on the library in {packaged()}")
        missing = [key for key, given in dealer.items() if not given]
        if missing:
            click.echo(f"Next: fill in {', '.join(missing)} in {folder / 'units' / 'dealer.yml'}")
        click.echo("Next: lockerleaf check, then lockerleaf build, in that folder")


@main.command()
def library() -> None:
    """Tell where the library is that comes with Lockerleaf."""
    with telling_problems():
        click.echo(packaged())


def _pair(given: str) -> tuple[str, str]:
    key, equals, value = given.partition("=")
    if not equals or not re.fullmatch(r"[a-z0-9_-]+(\.[a-z0-9_-]+)*", key):
        raise click.ClickException(f"'{given}' sets nothing; right: such as private.keys=2")
    if key in ("unit", "based_on", "model", "private", "fitted"):
        raise click.ClickException(f"'{key}' cannot be set here; right: such as private.keys=2")
    return key, value.strip()


def _terminal() -> bool:
    return sys.stdin.isatty()


def _ask(pattern: Pattern, answers: Mapping[str, str]) -> dict[str, str]:
    """Return the answers with those that are asked for; an empty one leaves the value out."""
    click.echo(f"{pattern.unit}, like {pattern.like}. Return alone takes what is in [ ].")
    asked = dict(answers)
    for question in pattern.questions:
        if question.target not in answers:
            asked[question.target] = _answer(pattern, question)
    return asked


def _answer(pattern: Pattern, question: Question) -> str:
    told = question.target
    if question.other and not question.default:
        told += f" ({pattern.like} has {question.other})"
    shown = question.target.split(".")[-1]
    dated = shown == "delivered" or re.fullmatch(r"[0-9-]{10}", question.other)

    def fit(text: str) -> str:
        try:
            return date.fromisoformat(text.strip()).isoformat() if dated and text.strip() else text
        except ValueError:
            raise click.UsageError("a date such as 2026-04-11, or nothing") from None

    prompt = f"{told}{'' if question.default else ' [none]'}"
    answer = click.prompt(
        prompt, default=question.default, show_default=bool(question.default), value_proc=fit
    )
    return str(answer).strip()


def _tell_new(pattern: Pattern, answers: Mapping[str, str]) -> None:
    unit = pattern.unit
    click.echo(f"units/{unit}.yml is written")
    left = [q for q in pattern.questions if not answers.get(q.target, q.default)]
    for question in left:
        theirs = f"; {pattern.like} has {question.other}" if question.other else ""
        click.echo(f"  {question.target} is left out{theirs}")
    click.echo(f"Next: say in it what else differs, then lockerleaf check {unit}")
    click.echo("      lockerleaf build gives it its codes, its guide and its papers")
