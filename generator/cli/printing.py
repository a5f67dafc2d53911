"""Commands that print papers."""

from __future__ import annotations

import sys
from datetime import date

import click

from generator.cli.root import main
from generator.cli.telling import telling_problems
from generator.cli.workspace import (
    chosen,
    finish_with_codes,
    label_stock,
    with_codes,
    without_code,
    workspace,
)
from generator.flow import finish_guides
from generator.publish.register import add_to_register
from generator.publish.swap import write_files
from generator.read.sources import read_sources
from generator.render.fold import count_pages, fold_booklet, fold_sections
from generator.render.nfc import ndef_message
from generator.render.papers import booklet_of, handover_of, sheets_of, sticker_sheet, stickers_of
from generator.render.printed import not_printed, printed_entries
from generator.render.proof import ProofLine, missing_tools, prove_stickers
from generator.render.singles import SHAPES, render_singles
from generator.render.stickers import Sticker, plan_stickers


@main.command()
@click.argument("units", nargs=-1)
@click.option("--label", help="Label stock, instead of the dealer's.")
@click.option("--first", type=click.IntRange(1, 1000), default=1, help="First free label.")
@click.option("--cut", is_flag=True, help="Print cut lines.")
@click.option("--no-ruler", is_flag=True, help="Leave out the 50 mm ruler.")
@click.option("--task", "tasks", multiple=True, help="A sticker for this task instead of hatches.")
@click.option("--only-new", is_flag=True, help="Only those not printed yet, or changed since.")
@click.option("--single", type=click.Choice(list(SHAPES)), help="A file for each, as a label.")
@click.option("--nfc", is_flag=True, help="Also a record for a radio tag, for each.")
@click.option("--mark-printed", is_flag=True, help="Keep in the register that these are printed.")
def stickers(
    units: tuple[str, ...],
    label: str | None,
    first: int,
    cut: bool,
    no_ruler: bool,
    tasks: tuple[str, ...],
    only_new: bool,
    single: str | None,
    nfc: bool,
    mark_printed: bool,
) -> None:
    """Print sticker sheets into print/<unit>/, of all units or those named."""
    with telling_problems():
        sources = read_sources(workspace())
        names = chosen(sources, units)
        stock = label_stock(sources, label)
        finished, register = finish_with_codes(sources, names, tasks, stock)
        if single and first != 1:
            raise click.ClickException("--first is for sheets; right: leave it out with --single")
        files: dict[str, bytes] = {}
        printed: list[Sticker] = []
        for done in finished:
            name = done.guide.unit.name
            planned = stickers_of(sources, done, tasks)
            if only_new:
                planned = not_printed(planned, register)
            if not planned:
                click.echo(f"{name}: nothing new to print")
                continue
            printed.extend(planned)
            if single:
                made = render_singles(planned, stock, sheets_of(sources), single, cut_lines=cut)
                files |= {f"{name}/stickers/{file}": content for file, content in made.items()}
            else:
                file = ("task-stickers" if tasks else "stickers") + ("-new" if only_new else "")
                files[f"{name}/{file}.pdf"] = sticker_sheet(
                    sources,
                    done,
                    stock.name,
                    stickers=planned,
                    first_label=first,
                    cut_lines=cut,
                    ruler=not no_ruler,
                )
            if nfc:
                files |= {
                    f"{name}/nfc/{sticker.code}.ndef": ndef_message(sticker.address)
                    for sticker in planned
                }
        write_files(files, sources.root / "print")
        for file in files:
            click.echo(f"print/{file}")
        if mark_printed and printed:
            day = date.today().isoformat()
            add_to_register(sources.root, lambda newest: printed_entries(printed, newest, day))
            click.echo(f"{len(printed)} marked as printed in units/register.csv; commit it")


@main.command()
@click.argument("units", nargs=-1)
@click.option("--large", is_flag=True, help="Large print, in A4.")
@click.option("--fold", is_flag=True, help="Two pages a side, to fold sheets printed duplex.")
def booklet(units: tuple[str, ...], large: bool, fold: bool) -> None:
    """Print whole guides as booklets into print/<unit>/, of all units or those named."""
    with telling_problems():
        sources = read_sources(workspace())
        names = chosen(sources, units)
        finished, _ = finish_with_codes(sources, names)
        name = "booklet" + ("-large" if large else "") + ("-fold" if fold else "")
        papers = {}
        for done in finished:
            pdf = booklet_of(sources, done, large=large).pdf()
            path = f"{done.guide.unit.name}/{name}.pdf"
            papers[path] = fold_booklet(pdf) if fold else pdf
            sections = fold_sections(count_pages(pdf))
            told = ", ".join(str(sheets) for sheets in sections)
            click.echo(
                f"print/{path}"
                + (f": fold {len(sections)} sections, of {told} sheets" if fold else "")
            )
        write_files(papers, sources.root / "print")


@main.command()
@click.argument("units", nargs=-1)
def handover(units: tuple[str, ...]) -> None:
    """Print handover packs into print/<unit>/, of all units or those named."""
    with telling_problems():
        sources = read_sources(workspace())
        names = chosen(sources, units)
        finished, _ = finish_with_codes(sources, names)
        papers = {
            f"{done.guide.unit.name}/handover.pdf": handover_of(sources, done).pdf()
            for done in finished
        }
        write_files(papers, sources.root / "print")
        for path in papers:
            click.echo(f"print/{path}")


@main.command()
@click.argument("units", nargs=-1)
@click.option("--label", help="Label stock, instead of the dealer's.")
def proof(units: tuple[str, ...], label: str | None) -> None:
    """Read every sticker as it would be printed, of all units or those named."""
    with telling_problems():
        if missing := missing_tools():
            raise click.ClickException(
                f"a proof needs {' and '.join(missing)}; right: pip install 'lockerleaf[proof]'"
            )
        sources = read_sources(workspace())
        names = chosen(sources, units)
        register, new = with_codes(sources, names)
        if new:
            raise click.ClickException(
                f"{without_code(len(new))}; right: lockerleaf mint, then proof"
            )
        stock = label_stock(sources, label)
        failed = 0
        for done in finish_guides(sources, register, names):
            planned = plan_stickers(done.guide, sources.library)
            sheets = sticker_sheet(sources, done, stock.name)
            for line in prove_stickers(sheets, planned, stock):
                failed += not line.good
                click.echo(_proof_line(line))
    if failed:
        many = "1 sticker" if failed == 1 else f"{failed} stickers"
        click.echo(f"{many} cannot be read; do not print", err=True)
        sys.exit(1)


def _proof_line(line: ProofLine) -> str:
    sticker = line.sticker
    if not line.good:
        told = f"reads '{line.read}'" if line.read else "cannot be read"
        return f"{sticker.code}  {sticker.title}: {told}; should lead to {sticker.address}"
    return (
        f"{sticker.code}  {sticker.title}: reads, version {line.version}-{line.level}, "
        f"module {line.module_mm:.2f} mm"
    )
