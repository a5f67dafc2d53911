"""Everything that is read, in one value."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path

from generator.problems import Problems, one_of
from generator.read.assets import Assets, read_assets
from generator.read.handover import Handover, read_handover
from generator.read.languages import Language, read_languages
from generator.read.library import Library, read_library
from generator.read.register import Register, read_register
from generator.read.units import Stock, Unit, read_stock


@dataclass(frozen=True, slots=True)
class Sources:
    """The library, the dealer's units, the register and our assets, as read."""

    root: Path
    library: Library
    stock: Stock
    register: Register
    assets: Assets
    handover: Handover
    languages: Mapping[str, Language]
    """Further languages, by name."""


def read_sources(
    root: Path,
    only: Collection[str] | None = None,
    drafts: Mapping[str, str] | None = None,
) -> Sources:
    """Return all that stands under the workspace `root`; with `only`, of the units just these.

    `drafts` are texts of units by name, read in place of their files or as if they had one.

    Raises:
        ProblemsFound: with every mistake of every file.
    """
    problems = Problems()
    library = read_library(root, problems)
    stock = read_stock(root, library.kinds, problems, only, drafts)
    for notice in stock.dealer.notices:
        if notice.task and notice.task not in library.tasks:
            hint = one_of(library.tasks, notice.task)
            problems.add(notice.at, "task", f"no task '{notice.task}'", hint)
    if stock.dealer.label and stock.dealer.label not in library.labels:
        problems.add(
            stock.dealer.at,
            "label",
            f"no label stock '{stock.dealer.label}'",
            one_of(library.labels, stock.dealer.label),
        )
    register = read_register(root, problems)
    handover = read_handover(root, library.kinds, library.tasks, problems)
    assets = read_assets(root, problems)
    languages = read_languages(root, library, assets.pictures, problems)
    for unit in stock.units.values():
        check_unit(unit, library, languages, problems)
    problems.stop_if_any()
    return Sources(root, library, stock, register, assets, handover, languages)


def check_unit(
    unit: Unit, library: Library, languages: Mapping[str, Language], problems: Problems
) -> None:
    """Note what a unit names and the library does not have: tasks, cautions, languages."""
    for key, tasks in (("prefer", unit.prefer), ("staff_only", unit.staff_only)):
        for task in tasks:
            if task not in library.tasks:
                problems.add(unit.at, key, f"no task '{task}'", one_of(library.tasks, task))
    for spot in unit.places.values():
        if spot.caution and spot.caution not in library.cautions:
            problems.add(
                spot.at,
                f"places.{spot.name}.caution",
                f"no caution '{spot.caution}'",
                one_of(library.cautions, spot.caution),
            )
    _check_languages(unit, library.wording.get("lang", "en"), languages, problems)


def _check_languages(
    unit: Unit, first: str, languages: Mapping[str, Language], problems: Problems
) -> None:
    """Note languages of a unit's guide that there are not."""
    if unit.languages and unit.languages[0] != first:
        wrong = f"begins with '{unit.languages[0]}'"
        problems.add(unit.at, "languages", wrong, f"'{first}' first: the library is written in it")
    for name in (*unit.languages[1:], *unit.translated):
        if name not in languages:
            problems.add(unit.at, "languages", f"no language '{name}'", one_of(languages, name))
