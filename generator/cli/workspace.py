"""What commands share: the folder they work in, the units and codes they are about."""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import click

from generator.checks import refuse_broken_codes
from generator.fit.codes import mint_codes, with_entries
from generator.fit.fit import fit_unit, holdings, unit_symbols, wanted_codes
from generator.fit.guide import Guide
from generator.flow import Finished, finish_guides
from generator.problems import one_of
from generator.publish.register import add_to_register
from generator.read.alike import MOST_GUIDES, Alike
from generator.read.labels import LabelStock
from generator.read.layers import SETTINGS
from generator.read.register import Entry, Register
from generator.read.sources import Sources
from generator.render.stickers import plan_stickers, refuse_unreadable


def workspace() -> Path:
    """Return the nearest folder, from here up, that holds a library and units."""
    here = Path.cwd().resolve()
    for folder in (here, *here.parents):
        stands = (folder / "docs_src").is_dir() or (folder / SETTINGS).is_file()
        if stands and (folder / "units").is_dir():
            return folder
    raise click.ClickException(
        "no docs_src/ and units/ here or above; right: run it inside a Lockerleaf folder"
    )


def chosen(sources: Sources, units: Sequence[str]) -> list[str]:
    """Return the units that are asked for, all of them when none is."""
    return choose_units(sources.stock.units, units)


def choose_units(known: Iterable[str], units: Sequence[str]) -> list[str]:
    """Return the units that are asked for, all that are known when none is."""
    known = set(known)
    for name in units:
        if name not in known:
            raise click.ClickException(f"no unit '{name}'; right: {one_of(known, name)}")
    return list(dict.fromkeys(units)) or sorted(known)


def with_codes(
    sources: Sources, names: Iterable[str], tasks: Sequence[str] = ()
) -> tuple[Register, tuple[Entry, ...]]:
    """Return the register with codes for all that needs one, and the entries that are new."""
    new = minted(sources, names, tasks)
    return with_entries(sources.register, new), new


def minted(sources: Sources, names: Iterable[str], tasks: Sequence[str] = ()) -> tuple[Entry, ...]:
    """Return register entries for all that has no code yet: hatches, and tasks that are named."""
    wanted: dict[str, list[tuple[str, str]]] = {}
    about: dict[tuple[str, str, str], str] = {}
    alike: Alike[Guide] = Alike(MOST_GUIDES)
    for name in names:
        unit, lines = sources.stock.units[name], sources.register.of_unit(name)
        like = alike.find(unit)
        guide = fit_unit(sources.library, unit, sources.stock.dealer, lines, like)
        if like is None:
            alike.keep(guide, unit)
        wanted[name] = list(wanted_codes(guide))
        about |= holdings(guide)
        slugs = [task.slug for task in guide.tasks]
        for task in tasks:
            if task not in slugs:
                raise click.ClickException(f"{name} has no task '{task}'; {one_of(slugs, task)}")
            wanted[name].append(("task", task))
    day, symbols = date.today().isoformat(), unit_symbols(sources.stock.dealer)
    return mint_codes(sources.register, wanted, day, secrets.randbelow, about, symbols)


def mint_into_register(sources: Sources, names: Sequence[str]) -> tuple[Entry, ...]:
    """Write the codes that units still lack into the register, and return what was written."""
    written: list[Entry] = []

    def decide(newest: Register) -> Iterable[Entry]:
        written.extend(minted(replace(sources, register=newest), names))
        return written

    add_to_register(sources.root, decide)
    return tuple(written)


def finish_with_codes(
    sources: Sources,
    names: Sequence[str],
    tasks: Sequence[str] = (),
    stock: LabelStock | None = None,
) -> tuple[tuple[Finished, ...], Register]:
    """Finish guides, and write the codes that they lack into the register.

    Nothing is written while there is a mistake, a symbol too large for `stock` among them. Where
    another command has changed the register meanwhile, what it issued is kept, and the guides are
    finished again with it.
    """
    register, new = with_codes(sources, names, tasks)
    finished = finish_guides(sources, register, names)
    refuse_broken_codes(sources, register)
    if stock:
        for done in finished:
            refuse_unreadable(plan_stickers(done.guide, sources.library), stock)
    if not new:
        return finished, register

    def decide(newest: Register) -> Iterable[Entry]:
        same = newest.entries == sources.register.entries
        return new if same else minted(replace(sources, register=newest), names, tasks)

    newest = add_to_register(sources.root, decide)
    if newest.entries != register.entries:
        finished = finish_guides(sources, newest, names)
    return finished, newest


def without_code(count: int) -> str:
    """Return that some stickers lack a code, in words."""
    return "1 sticker has no code yet" if count == 1 else f"{count} stickers have no code yet"


def label_stock(sources: Sources, label: str | None) -> LabelStock:
    """Return the label stock that was asked for, else the dealer's."""
    name, labels = label or sources.stock.dealer.label, sources.library.labels
    if name not in labels:
        raise click.ClickException(f"no label stock '{name}'; right: {one_of(labels, name)}")
    return labels[name]
