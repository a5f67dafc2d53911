"""Commands that build guides."""

from __future__ import annotations

import os
import shutil
import time

import click

from generator.cli.root import main
from generator.cli.telling import telling_problems
from generator.cli.workspace import chosen, departed, finish_with_codes, label_stock, workspace
from generator.plugin import prepare
from generator.publish.swap import staging_folder, swap_in, write_files
from generator.read.sources import read_sources
from generator.render.front import render_front
from generator.render.papers import changed_papers, sticker_sheet
from generator.render.site import render_sites


@main.command()
@click.argument("units", nargs=-1)
@click.option("--out", default="public", help="Folder of the published guides.")
@click.option("--jobs", type=click.IntRange(1, 64), default=os.cpu_count() or 1, help="Processes.")
def build(units: tuple[str, ...], out: str, jobs: int) -> None:
    """Build guides and papers, of all units or those named, and switch them in."""
    with telling_problems():
        sources = read_sources(workspace())
        names = chosen(sources, units)
        finished, register, new = finish_with_codes(
            sources, names, stock=label_stock(sources, None)
        )
        sheets = {
            f"{done.guide.unit.name}/stickers.pdf": sticker_sheet(sources, done)
            for done in finished
        }
        root = sources.root
        public = (root / out).resolve()
        gone = departed(sources, register)
        front = render_front(
            root, sources.assets, dict(sources.library.wording), sources.stock.dealer, gone
        )
        left = sorted({code.partition("-")[0] for code in gone})
        staging = staging_folder(public)
        try:
            # A unit that has left keeps its codes' pages, and none of its guide's.
            goodbyes = {
                name: page for name, page in front.items() if name.partition("/")[0] in left
            }
            write_files(goodbyes, staging)
            prepared = [prepare(sources, done.composed) for done in finished]
            folders = []
            started = time.perf_counter()
            for rendered in render_sites(root, prepared, staging, jobs):
                folders.append(rendered.folder)
                click.echo(
                    f"{rendered.unit}: {rendered.pages} pages, {rendered.bytes / 1e6:.1f} MB, "
                    f"{rendered.pack_bytes / 1e3:.0f} kB without signal, "
                    f"{out}/{rendered.code}/index.html"
                )
            sheets |= changed_papers(sources, finished, jobs)
            swap_in([*folders, *(staging / code for code in left)], public)
        finally:
            shutil.rmtree(staging, ignore_errors=True)
        write_files({name: front[name] for name in front.keys() - goodbyes.keys()}, public)
        write_files(sheets, root / "print")
        seconds = time.perf_counter() - started
        click.echo(f"{len(folders)} guides in {seconds:.1f} s; papers in print/")
        if new:
            click.echo(f"{len(new)} new codes in units/register.csv; commit it")
        click.echo(f"Open {(public / 'index.html').as_uri()}")
        for done in finished:
            page = public / done.guide.code / "index.html"
            click.echo(f"     {page.as_uri()}  {done.guide.unit.title}")
