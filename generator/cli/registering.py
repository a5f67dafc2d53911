"""Commands that tell the register what happened to a sticker."""

from __future__ import annotations

from datetime import date

import click

from generator.cli.root import main
from generator.cli.telling import telling_problems
from generator.cli.workspace import workspace
from generator.fit.events import code_in_use, move_code, retire_code
from generator.fit.fit import fit_unit
from generator.publish.register import add_to_register
from generator.read.sources import read_sources

WHY = click.option("--why", required=True, help="The reason, kept in the register.")


@main.command()
@click.argument("code")
@WHY
def retire(code: str, why: str) -> None:
    """Take a sticker out of use: it was lost, spoiled or is not wanted. Its page then says so."""
    with telling_problems():
        sources = read_sources(workspace())
        day = date.today().isoformat()
        register = add_to_register(
            sources.root, lambda newest: [retire_code(newest, code, why, day)]
        )
        entry = register.entries[-1]
        click.echo(f"{entry.code} is retired; the next build says so on its page")
        unit = sources.stock.units.get(entry.unit)
        if unit and entry.target in unit.places:
            click.echo(f"     '{entry.target}' of {entry.unit} then gets a new code")


@main.command()
@click.argument("code")
@click.option("--to", required=True, help="The place, or the task, where it is now.")
@WHY
def move(code: str, to: str, why: str) -> None:
    """Tell that a sticker was glued on elsewhere in the same unit, or that its place is renamed."""
    with telling_problems():
        sources = read_sources(workspace())
        day = date.today().isoformat()
        name = code_in_use(sources.register, code).unit
        unit = sources.stock.units.get(name)
        guides = (
            {name: fit_unit(sources.library, unit, sources.stock.dealer, sources.register)}
            if unit
            else {}
        )
        register = add_to_register(
            sources.root, lambda newest: [move_code(newest, guides, code, to, why, day)]
        )
        entry = register.entries[-1]
        click.echo(f"{entry.code} leads to {entry.sort} '{entry.target}' from the next build on")
