"""Commands that build guides."""

from __future__ import annotations

import os
import time

import click

from generator.cli.root import main
from generator.cli.telling import telling_problems
from generator.cli.workspace import choose_units, minted, workspace
from generator.fleet import Wish, build_fleet
from generator.workers import Outcome


@main.command()
@click.argument("units", nargs=-1)
@click.option("--out", default="public", help="Folder of the published guides.")
@click.option("--jobs", type=click.IntRange(1, 64), default=os.cpu_count() or 1, help="Processes.")
@click.option("--no-papers", is_flag=True, help="Leave stickers, booklets and packs as they are.")
def build(units: tuple[str, ...], out: str, jobs: int, no_papers: bool) -> None:
    """Build guides and papers, of all units or those named, and switch them in.

    What is as it should be is left alone.
    """
    started = time.perf_counter()

    def tell(outcome: Outcome) -> None:
        guide = outcome.guide
        assert guide is not None
        click.echo(
            f"{outcome.unit}: {guide.pages} pages, {outcome.bytes / 1e6:.1f} MB, "
            f"{guide.pack_bytes / 1e3:.0f} kB without signal, {out}/{guide.code}/index.html"
        )

    with telling_problems():
        root = workspace()
        public = (root / out).resolve()
        done = build_fleet(
            Wish(root, public, jobs, papers=not no_papers),
            lambda survey: choose_units(survey.names, units),
            minted,
            tell,
        )
        seconds = time.perf_counter() - started
        count = len(done.built)
        click.echo(
            f"{count} guide{'' if count == 1 else 's'} built in {seconds:.1f} s, "
            f"{len(done.current)} as they should be"
            + ("" if no_papers or not count else "; papers in print/")
        )
        if done.new_codes:
            click.echo(f"{done.new_codes} new codes in units/register.csv; commit it")
        click.echo(f"Open {(public / 'index.html').as_uri()}")
        for name in done.built if len(done.built) <= 12 else ():
            click.echo(f"     {(public / done.codes[name] / 'index.html').as_uri()}  {name}")
