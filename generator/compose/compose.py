"""Compose all pages of one guide."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from generator.compose import links
from generator.compose.context import Context, Drawings
from generator.compose.film import check_film
from generator.compose.landings import stray_page
from generator.compose.list_pages import (
    all_tasks_page,
    emergency_page,
    home_page,
    kit_page,
    wrong_page,
)
from generator.compose.notices import notices_feed, notices_page
from generator.compose.number_pages import (
    calendar_file,
    dated_number_pages,
    equipment_number_pages,
)
from generator.compose.page import Page
from generator.compose.place_page import fitting_page, landing_page, place_page
from generator.compose.routine_page import routine_page
from generator.compose.search_page import Findable, find_equipment, search_page
from generator.compose.symptom_page import symptom_page
from generator.compose.task_page import task_page
from generator.fit.guide import VEHICLE, Guide
from generator.problems import Problems
from generator.prove.prove import Proof
from generator.read.languages import Language
from generator.read.library import Library


@dataclass(frozen=True, slots=True)
class EquipmentPages:
    """The pages that are the same for every unit that is equipped alike."""

    pages: tuple[Page, ...]
    revision: str
    """A digest of their texts and values."""
    findable: Findable
    """What of them the search page tells, which is each unit's own."""


@dataclass(frozen=True, slots=True)
class Composed:
    """All pages of a guide, and what its page frame says."""

    guide: Guide
    pages: tuple[Page, ...]
    frame: Mapping[str, str]
    """Values of the page frame, by token name; none of them is a number."""
    equipment: EquipmentPages
    documents: Mapping[str, str] = field(default_factory=dict)
    """Files that are no pages, by path: the calendar of what falls due, the feed of notices."""


def compose_guide(
    guide: Guide,
    proof: Proof,
    library: Library,
    drawings: Drawings,
    problems: Problems,
    language: Language | None = None,
    like: Composed | None = None,
) -> Composed:
    """Return every page of a guide, noting texts that do not work out for this unit.

    `language` is a further one; guide, library and drawings are then in it. `like` is the guide
    of a unit that is equipped alike, composed from the same: its pages about the equipment serve.
    """
    context = Context(guide, proof, library, drawings, problems, language)
    if language is None:
        check_film(context)
    equipment = like.equipment if like else _equipment_pages(context)
    own = tuple(_own_pages(context, equipment))
    dealer = guide.dealer
    frame = {
        "unit": guide.unit.title,
        "dealer": dealer.title,
        "telephone": dealer.telephone,
        "dial": "tel:" + "".join(c for c in dealer.telephone if c in "+0123456789"),
        "hours": dealer.hours,
        "emergency": dealer.emergency,
        "revision": _revision_of(own, equipment.revision)[:8],
        "source": library.wording.get("lang", "en"),
        "media": "; media-src 'self'" if guide.unit.film else "",
    }
    calendar = calendar_file(context)
    documents = {links.FEED: notices_feed(context)}
    if calendar:
        documents[links.DUE] = calendar
    return Composed(guide, (*own, *equipment.pages), frame, equipment, documents)


def _revision_of(pages: Iterable[Page], beside: str = "") -> str:
    digest = hashlib.sha256(beside.encode())
    for page in pages:
        digest.update(repr((page.uri, page.text, sorted(page.values.items()))).encode())
    return digest.hexdigest()


def _equipment_pages(ctx: Context) -> EquipmentPages:
    pages = tuple(_pages_about_equipment(ctx))
    return EquipmentPages(pages, _revision_of(pages), find_equipment(ctx))


def _own_pages(ctx: Context, equipment: EquipmentPages) -> Iterable[Page]:
    """Yield the pages that tell the unit's title, codes or dates, or that stand at a code."""
    guide = ctx.guide
    yield home_page(ctx, links.HOME)
    yield search_page(ctx, equipment.findable)
    yield from dated_number_pages(ctx)
    for spot in guide.places:
        yield place_page(ctx, spot, links.place_uri(spot.name))
    for place, code in guide.place_codes.items():
        yield landing_page(ctx, ctx.spots[place], links.code_uri(code))
    by_slug = {task.slug: task for task in guide.tasks}
    for slug, code in guide.task_codes.items():
        yield task_page(ctx, by_slug[slug], links.code_uri(code))
    for landing in guide.landings:
        yield stray_page(ctx, landing)


def _pages_about_equipment(ctx: Context) -> Iterable[Page]:
    """Yield the pages that are the same for every unit that is equipped alike."""
    guide = ctx.guide
    yield emergency_page(ctx)
    yield wrong_page(ctx)
    yield notices_page(ctx)
    yield all_tasks_page(ctx)
    yield kit_page(ctx)
    yield from equipment_number_pages(ctx)
    for planned in ctx.proof.routines:
        yield routine_page(ctx, planned)
    for task in guide.tasks:
        yield task_page(ctx, task, links.task_uri(task))
    for symptom in guide.symptoms:
        yield symptom_page(ctx, symptom)
    for fitting in guide.fittings.values():
        if fitting.kind != VEHICLE:
            yield fitting_page(ctx, fitting)
