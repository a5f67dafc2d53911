"""Commands that look, and write nothing."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass

import click

from generator.checks import (
    Remark,
    refuse_broken_codes,
    remark_codes,
    remark_departed,
    remark_library,
    remark_notices,
    remark_units,
    tell_reached,
)
from generator.cli.root import main
from generator.cli.telling import (
    FORMAT,
    Told,
    tell_check,
    tell_json,
    tell_languages,
    telling_problems,
)
from generator.cli.workspace import chosen, label_stock, with_codes, workspace
from generator.flow import finish_each
from generator.problems import Problems, ProblemsFound, one_of
from generator.publish.made_from import write_made_from
from generator.read.register import Register
from generator.read.sources import Sources, read_sources
from generator.read.units import unit_schema
from generator.render.printed import remark_long_address, remark_old_addresses
from generator.render.stickers import plan_stickers, refuse_unreadable


@main.command()
@click.argument("units", nargs=-1)
@click.option("--doubts", is_flag=True, help="List what its writers were not sure of.")
@click.option("--sources", "list_sources", is_flag=True, help="List where its facts are from.")
@click.option("--stale", is_flag=True, help="List translations that are missing or out of date.")
@FORMAT
def check(
    units: tuple[str, ...], doubts: bool, list_sources: bool, stale: bool, shape: str
) -> None:
    """Check the library and units, of all units or those named: validate, prove, look for gaps."""
    with telling_problems(shape):
        sources = read_sources(workspace())
        names = chosen(sources, units)
        register, new = with_codes(sources, names)
        found = _look(sources, register, names)
        refuse_broken_codes(sources, register)
        remarks = [remark for name in names for remark in found[name].remarks]
        remarks += remark_old_addresses(sources.register, sources.stock.dealer)
        if not units:
            remarks += remark_departed(sources)
            remarks += remark_library(sources.library)
        reached = (notice for name in names for notice in found[name].notices)
        remarks += remark_notices(reached, sources.stock.dealer.notices)
        told = [found[name].told for name in names]
        if shape == "json":
            tell_json((), remarks, told, sources.languages)
        else:
            tell_check(sources, told, remarks, len(new), doubts, list_sources)
            tell_languages(sources, listed=stale)
    if any(remark.serious for remark in remarks):
        sys.exit(1)


@dataclass(frozen=True, slots=True)
class _Found:
    """What there is to be said of a unit, without its pages: there may be thousands."""

    told: Told
    remarks: tuple[Remark, ...]
    notices: tuple[tuple[str, str], ...]


def _look(sources: Sources, register: Register, names: Sequence[str]) -> dict[str, _Found]:
    """Return what was found of each unit.

    Raises:
        ProblemsFound: with every mistake of all these units.
    """
    problems = Problems()
    stock = label_stock(sources, None)
    found = {}
    long_address: tuple[Remark, ...] | None = None
    for done in finish_each(sources, register, names, problems):
        guide = done.guide
        try:
            refuse_unreadable(plan_stickers(guide, sources.library), stock)
        except ProblemsFound as unreadable:
            problems.found += unreadable.problems
        if problems.found:
            continue
        remarks = (*remark_units([guide]), *remark_codes([guide], sources.register))
        if long_address is None and guide.place_codes:  # all have the dealer's address
            long_address = remark_long_address([guide], stock)
            remarks += long_address
        found[guide.unit.name] = _Found(Told.of(done), remarks, tuple(tell_reached(guide)))
    problems.stop_if_any()
    return found


@main.command()
@click.argument("language")
@click.argument("names", nargs=-1)
@click.option("--all", "every", is_flag=True, help="All of the language's translations.")
def translated(language: str, names: tuple[str, ...], every: bool) -> None:
    """Note that translations were compared with their source (task/light-hob, caution/scald)."""
    with telling_problems():
        sources = read_sources(workspace())
        if language not in sources.languages:
            raise click.ClickException(
                f"no language '{language}'; right: {one_of(sources.languages, language)}"
            )
        known = sources.languages[language].translated
        for name in names:
            if name not in known:
                raise click.ClickException(f"'{name}' has no translation; {one_of(known, name)}")
        count = write_made_from(sources, language, known if every else names)
        read_sources(sources.root)  # what does not fit is a mistake from now on
        click.echo(f"{count} noted in docs_src/languages/{language}/made_from.yml; commit it")


@main.command()
def schema() -> None:
    """Write the JSON Schema of unit files, for editors."""
    with telling_problems():
        sources = read_sources(workspace())
        click.echo(json.dumps(unit_schema(sources.library.kinds), indent=2, ensure_ascii=False))
