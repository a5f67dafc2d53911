"""What commands share: the folder they work in, the units and codes they are about."""

from __future__ import annotations

import secrets
from collections.abc import Iterable, Sequence
from datetime import date
from pathlib import Path

import click

from generator.fit.codes import mint_codes, with_entries
from generator.fit.fit import fit_unit, wanted_codes
from generator.problems import one_of
from generator.read.labels import LabelStock
from generator.read.register import Entry, Register
from generator.read.sources import Sources


def workspace() -> Path:
    """Return the nearest folder, from here up, that holds a library and units."""
    here = Path.cwd().resolve()
    for folder in (here, *here.parents):
        if (folder / "docs_src").is_dir() and (folder / "units").is_dir():
            return folder
    raise click.ClickException(
        "no docs_src/ and units/ here or above; right: run it inside a Lockerleaf folder"
    )


def chosen(sources: Sources, units: Sequence[str]) -> list[str]:
    """Return the units that are asked for, all of them when none is."""
    known = sources.stock.units
    for name in units:
        if name not in known:
            raise click.ClickException(f"no unit '{name}'; right: {one_of(known, name)}")
    return list(dict.fromkeys(units)) or sorted(known)


def with_codes(
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


def departed(sources: Sources, register: Register) -> list[str]:
    """Return the codes of units that are no longer described."""
    return [
        code for code, entry in register.latest.items() if entry.unit not in sources.stock.units
    ]


def label_stock(sources: Sources, label: str | None) -> LabelStock:
    """Return the label stock that was asked for, else the dealer's."""
    name, labels = label or sources.stock.dealer.label, sources.library.labels
    if name not in labels:
        raise click.ClickException(f"no label stock '{name}'; right: {one_of(labels, name)}")
    return labels[name]
