"""Commands that look, and write nothing."""

from __future__ import annotations

import json
import sys

import click

from generator.checks import (
    refuse_broken_codes,
    remark_codes,
    remark_departed,
    remark_library,
    remark_notices,
    remark_units,
)
from generator.cli.root import main
from generator.cli.telling import (
    FORMAT,
    tell_check,
    tell_json,
    tell_languages,
    telling_problems,
)
from generator.cli.workspace import chosen, label_stock, with_codes, workspace
from generator.flow import finish_guides
from generator.problems import one_of
from generator.publish.made_from import write_made_from
from generator.read.sources import read_sources
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
        finished = finish_guides(sources, register, names)
        refuse_broken_codes(sources, register)
        remarks = remark_units(done.guide for done in finished)
        stock = label_stock(sources, None)
        for done in finished:
            refuse_unreadable(plan_stickers(done.guide, sources.library), stock)
        remarks += remark_long_address([done.guide for done in finished], stock)
        remarks += remark_old_addresses(sources.register, sources.stock.dealer)
        remarks += remark_codes([done.guide for done in finished], sources.register)
        if not units:
            remarks += remark_departed(sources)
            remarks += remark_library(sources.library, [done.guide for done in finished])
        remarks += remark_notices([done.guide for done in finished], sources.stock.dealer.notices)
        if shape == "json":
            tell_json((), remarks, finished, sources.languages)
        else:
            tell_check(sources, finished, remarks, len(new), doubts, list_sources)
            tell_languages(sources, listed=stale)
    if any(remark.serious for remark in remarks):
        sys.exit(1)


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
