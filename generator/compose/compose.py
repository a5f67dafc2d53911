"""Compose all pages of one guide."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial

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
    """What the search page, which is each unit's own, tells of all pages about the equipment."""
    dated: Sequence[int]
    """Which others there are, by their number: they tell days, in which alike units may differ."""


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
    if like:
        equipment, dated = like.equipment, _dated_pages(context, like.equipment)
    else:
        equipment, dated = _equipment_pages(context)
    own = (*_own_pages(context, equipment), *dated)
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


def _equipment_pages(ctx: Context) -> tuple[EquipmentPages, list[Page]]:
    """Return the pages about the equipment: those that alike units share, and this unit's own."""
    shared: list[Page] = []
    own: list[Page] = []
    dated: list[int] = []
    for number, make in enumerate(_makers(ctx)):
        ctx.tongue.told.clear()
        pages = tuple(make())
        if ctx.tongue.told:
            dated.append(number)
        (own if ctx.tongue.told else shared).extend(pages)
    return EquipmentPages(tuple(shared), _revision_of(shared), find_equipment(ctx), dated), own


def _dated_pages(ctx: Context, equipment: EquipmentPages) -> list[Page]:
    """Return the pages about the equipment that are a unit's own."""
    makers = _makers(ctx)
    return [page for number in equipment.dated for page in makers[number]()]


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


def _makers(ctx: Context) -> list[Callable[[], Iterable[Page]]]:
    """Return what makes the pages about the equipment, in the same order for all alike units.

    They tell nothing of what alike units differ in, but days.
    """
    guide = ctx.guide
    makers: list[Callable[[], Page]] = [
        partial(emergency_page, ctx),
        partial(wrong_page, ctx),
        partial(notices_page, ctx),
        partial(all_tasks_page, ctx),
        partial(kit_page, ctx),
    ]
    others: list[Callable[[], Page]] = [
        *(partial(routine_page, ctx, planned) for planned in ctx.proof.routines),
        *(partial(task_page, ctx, task, links.task_uri(task)) for task in guide.tasks),
        *(partial(symptom_page, ctx, symptom) for symptom in guide.symptoms),
        *(
            partial(fitting_page, ctx, fitting)
            for fitting in guide.fittings.values()
            if fitting.kind != VEHICLE
        ),
    ]
    return [
        *(partial(_one, make) for make in makers),
        *equipment_number_pages(ctx),
        *(partial(_one, make) for make in others),
    ]


def _one(make: Callable[[], Page]) -> tuple[Page]:
    return (make(),)
