"""The command `lockerleaf`: the only room that prints or exits."""

from __future__ import annotations

import json
import os
import secrets
import shutil
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import click

from generator import __version__
from generator.checks import Remark, refuse_broken_codes, remark_library, remark_units
from generator.fit.codes import mint_codes, with_entries
from generator.fit.fit import fit_unit, wanted_codes
from generator.flow import Finished, finish_guides
from generator.plugin import prepare
from generator.problems import Problem, ProblemsFound, one_of
from generator.publish.register import write_register
from generator.publish.swap import staging_folder, swap_in, write_files
from generator.read.labels import LabelStock
from generator.read.library import Caution, Interlock
from generator.read.register import Entry, Register
from generator.read.sources import Sources, read_sources
from generator.read.symptoms import Symptom
from generator.read.tasks import Task
from generator.read.units import unit_schema
from generator.render.fold import count_pages, fold_booklet, fold_sections
from generator.render.front import render_front
from generator.render.papers import booklet_of, changed_papers, handover_of, sticker_sheet
from generator.render.proof import ProofLine, missing_tools, prove_stickers
from generator.render.site import render_sites
from generator.render.stickers import plan_stickers

_FORMAT = click.option(
    "--format", "shape", type=click.Choice(["text", "json"]), default="text", help="How to tell."
)


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="lockerleaf")
def main() -> None:
    """Owner guides, stickers and handover papers for leisure vehicles, from one description."""


@main.command()
@click.argument("units", nargs=-1)
@click.option("--out", default="public", help="Folder of the published guides.")
@click.option("--jobs", type=click.IntRange(1, 64), default=os.cpu_count() or 1, help="Processes.")
def build(units: tuple[str, ...], out: str, jobs: int) -> None:
    """Build guides and papers, of all units or those named, and switch them in."""
    with _telling_problems():
        sources = read_sources(_workspace())
        names = _chosen(sources, units)
        register, new = _with_codes(sources, names)
        finished = finish_guides(sources, register, names)
        refuse_broken_codes(sources, register)
        sheets = {
            f"{done.guide.unit.name}/stickers.pdf": sticker_sheet(sources, done)
            for done in finished
        }
        root = sources.root
        public = (root / out).resolve()
        departed = _departed(sources, register)
        front = render_front(
            root, sources.assets, dict(sources.library.wording), sources.stock.dealer, departed
        )
        left = sorted({code.partition("-")[0] for code in departed})
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
            write_register(root, sources.register, new)
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


@main.command()
@click.argument("units", nargs=-1)
@click.option("--doubts", is_flag=True, help="List what its writers were not sure of.")
@click.option("--sources", "list_sources", is_flag=True, help="List where its facts are from.")
@_FORMAT
def check(units: tuple[str, ...], doubts: bool, list_sources: bool, shape: str) -> None:
    """Check the library and units, of all units or those named: validate, prove, look for gaps."""
    with _telling_problems(shape):
        sources = read_sources(_workspace())
        names = _chosen(sources, units)
        register, new = _with_codes(sources, names)
        finished = finish_guides(sources, register, names)
        refuse_broken_codes(sources, register)
        remarks = remark_units(done.guide for done in finished)
        if not units:
            remarks += remark_library(sources.library, [done.guide for done in finished])
        if shape == "json":
            _tell_json((), remarks, finished)
        else:
            _tell_check(sources, finished, remarks, len(new), doubts, list_sources)
    if any(remark.serious for remark in remarks):
        sys.exit(1)


@main.command()
@click.argument("units", nargs=-1)
@click.option("--label", help="Label stock, instead of the dealer's.")
@click.option("--first", type=click.IntRange(1, 1000), default=1, help="First free label.")
@click.option("--cut", is_flag=True, help="Print cut lines.")
@click.option("--no-ruler", is_flag=True, help="Leave out the 50 mm ruler.")
@click.option("--task", "tasks", multiple=True, help="A sticker for this task instead of hatches.")
def stickers(
    units: tuple[str, ...],
    label: str | None,
    first: int,
    cut: bool,
    no_ruler: bool,
    tasks: tuple[str, ...],
) -> None:
    """Print sticker sheets into print/<unit>/, of all units or those named."""
    with _telling_problems():
        sources = read_sources(_workspace())
        names = _chosen(sources, units)
        stock_name = _label_stock(sources, label).name
        register, new = _with_codes(sources, names, tasks)
        finished = finish_guides(sources, register, names)
        sheets = {}
        for done in finished:
            name = done.guide.unit.name
            file = "task-stickers" if tasks else "stickers"
            sheets[f"{name}/{file}.pdf"] = sticker_sheet(
                sources,
                done,
                stock_name,
                tasks={task: done.guide.task_codes[task] for task in tasks},
                first_label=first,
                cut_lines=cut,
                ruler=not no_ruler,
            )
        write_register(sources.root, sources.register, new)
        write_files(sheets, sources.root / "print")
        for file in sheets:
            click.echo(f"print/{file}")


@main.command()
@click.argument("units", nargs=-1)
@click.option("--large", is_flag=True, help="Large print, in A4.")
@click.option("--fold", is_flag=True, help="Two pages a side, to fold sheets printed duplex.")
def booklet(units: tuple[str, ...], large: bool, fold: bool) -> None:
    """Print whole guides as booklets into print/<unit>/, of all units or those named."""
    with _telling_problems():
        sources = read_sources(_workspace())
        names = _chosen(sources, units)
        register, new = _with_codes(sources, names)
        name = "booklet" + ("-large" if large else "") + ("-fold" if fold else "")
        papers = {}
        for done in finish_guides(sources, register, names):
            pdf = booklet_of(sources, done, large=large).pdf()
            path = f"{done.guide.unit.name}/{name}.pdf"
            papers[path] = fold_booklet(pdf) if fold else pdf
            sections = fold_sections(count_pages(pdf))
            told = ", ".join(str(sheets) for sheets in sections)
            click.echo(
                f"print/{path}"
                + (f": fold {len(sections)} sections, of {told} sheets" if fold else "")
            )
        write_register(sources.root, sources.register, new)
        write_files(papers, sources.root / "print")


@main.command()
@click.argument("units", nargs=-1)
def handover(units: tuple[str, ...]) -> None:
    """Print handover packs into print/<unit>/, of all units or those named."""
    with _telling_problems():
        sources = read_sources(_workspace())
        names = _chosen(sources, units)
        register, new = _with_codes(sources, names)
        papers = {
            f"{done.guide.unit.name}/handover.pdf": handover_of(sources, done).pdf()
            for done in finish_guides(sources, register, names)
        }
        write_register(sources.root, sources.register, new)
        write_files(papers, sources.root / "print")
        for path in papers:
            click.echo(f"print/{path}")


@main.command()
@click.argument("units", nargs=-1)
@click.option("--label", help="Label stock, instead of the dealer's.")
def proof(units: tuple[str, ...], label: str | None) -> None:
    """Read every sticker as it would be printed, of all units or those named."""
    with _telling_problems():
        if missing := missing_tools():
            raise click.ClickException(
                f"a proof needs {' and '.join(missing)}; right: pip install 'lockerleaf[proof]'"
            )
        sources = read_sources(_workspace())
        names = _chosen(sources, units)
        register, new = _with_codes(sources, names)
        if new:
            lack = "1 sticker has" if len(new) == 1 else f"{len(new)} stickers have"
            raise click.ClickException(
                f"{lack} no code yet; right: lockerleaf stickers, then proof"
            )
        stock = _label_stock(sources, label)
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


@main.command()
def schema() -> None:
    """Write the JSON Schema of unit files, for editors."""
    with _telling_problems():
        sources = read_sources(_workspace())
        click.echo(json.dumps(unit_schema(sources.library.kinds), indent=2, ensure_ascii=False))


def _workspace() -> Path:
    """Return the nearest folder, from here up, that holds a library and units."""
    here = Path.cwd().resolve()
    for folder in (here, *here.parents):
        if (folder / "docs_src").is_dir() and (folder / "units").is_dir():
            return folder
    raise click.ClickException(
        "no docs_src/ and units/ here or above; right: run it inside a Lockerleaf folder"
    )


def _chosen(sources: Sources, units: Sequence[str]) -> list[str]:
    known = sources.stock.units
    for name in units:
        if name not in known:
            raise click.ClickException(f"no unit '{name}'; right: {one_of(known, name)}")
    return list(dict.fromkeys(units)) or sorted(known)


def _with_codes(
    sources: Sources, names: Iterable[str], tasks: Sequence[str] = ()
) -> tuple[Register, tuple[Entry, ...]]:
    """Return the register with codes for all that needs one, and the entries that are new."""
    wanted: dict[str, list[tuple[str, str]]] = {}
    for name in names:
        unit = sources.stock.units[name]
        guide = fit_unit(sources.library, unit, sources.stock.dealer, sources.register)
        wanted[name] = list(wanted_codes(guide))
        slugs = [task.slug for task in guide.tasks]
        for task in tasks:
            if task not in slugs:
                raise click.ClickException(f"{name} has no task '{task}'; {one_of(slugs, task)}")
            wanted[name].append(("task", task))
    new = mint_codes(sources.register, wanted, date.today().isoformat(), secrets.randbelow)
    return with_entries(sources.register, new), new


def _departed(sources: Sources, register: Register) -> list[str]:
    """Return the codes of units that are no longer described."""
    return [
        code for code, entry in register.latest.items() if entry.unit not in sources.stock.units
    ]


def _label_stock(sources: Sources, label: str | None) -> LabelStock:
    """Return the label stock that was asked for, else the dealer's."""
    name, labels = label or sources.stock.dealer.label, sources.library.labels
    if name not in labels:
        raise click.ClickException(f"no label stock '{name}'; right: {one_of(labels, name)}")
    return labels[name]


def _proof_line(line: ProofLine) -> str:
    sticker = line.sticker
    if not line.good:
        told = f"reads '{line.read}'" if line.read else "cannot be read"
        return f"{sticker.code}  {sticker.title}: {told}; should lead to {sticker.address}"
    return (
        f"{sticker.code}  {sticker.title}: reads, version {line.version}-{line.level}, "
        f"module {line.module_mm:.2f} mm"
    )


class _telling_problems:  # noqa: N801 - a context manager reads as a phrase
    """Turn an author's mistakes, and what the machine refuses, into lines and exit code 1."""

    def __init__(self, shape: str = "text") -> None:
        self.shape = shape

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: type[BaseException] | None, error: Any, _: object) -> None:
        if isinstance(error, ProblemsFound):
            if self.shape == "json":
                _tell_json(error.problems, (), ())
            else:
                for problem in error.problems:
                    click.echo(str(problem), err=True)
                count = len(error.problems)
                click.echo(f"{count} problem{'s' if count > 1 else ''}; nothing written", err=True)
            sys.exit(1)
        if isinstance(error, OSError):
            shown = error.filename or "a file"
            click.echo(f"lockerleaf: {shown}: {error.strerror}", err=True)
            sys.exit(1)


def _tell_json(
    problems: Sequence[Problem], remarks: Sequence[Remark], finished: Sequence[Finished]
) -> None:
    told = {
        "problems": [
            {
                "file": p.at.path,
                "line": p.at.line,
                "column": p.at.column,
                "key": p.key,
                "wrong": p.wrong,
                "right": p.right,
            }
            for p in problems
        ],
        "remarks": [
            {"file": r.at.path, "line": r.at.line, "text": r.text, "serious": r.serious}
            for r in remarks
        ],
        "units": [
            {
                "unit": done.guide.unit.name,
                "code": done.guide.code,
                "pages": len(done.composed.pages),
                "tasks": len(done.guide.tasks),
                "places": len(done.guide.places),
                "interlocks": done.proof.interlocks,
                "routines": len(done.proof.routines),
            }
            for done in finished
        ],
    }
    click.echo(json.dumps(told, indent=2, ensure_ascii=False))


def _tell_check(
    sources: Sources,
    finished: Sequence[Finished],
    remarks: Sequence[Remark],
    without_code: int,
    doubts: bool,
    list_sources: bool,
) -> None:
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
    for done in finished:
        guide = done.guide
        tell(
            f"{guide.unit.name}: {len(guide.tasks)} tasks, {len(guide.symptoms)} symptoms, "
            f"{len(guide.places)} places, {len(done.composed.pages)} pages; proven: "
            f"{done.proof.interlocks} interlocks, {len(done.proof.routines)} routines"
        )
    if without_code:
        tell(f"{without_code} codes to be issued by the next build")
    tell(
        f"library: {len(library.kinds)} kinds, {len(library.tasks)} tasks, "
        f"{len(library.cautions)} cautions, {len(library.symptoms)} symptoms, "
        f"{len(library.interlocks)} interlocks, {len(library.routines)} routines"
    )
