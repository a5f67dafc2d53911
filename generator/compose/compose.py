"""Compose all pages of one guide."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from generator.compose import links
from generator.compose.context import Context, Drawings
from generator.compose.film import check_film
from generator.compose.landings import stray_page, tasks_of_stray
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
from generator.compose.page import Page, revision_of, revision_of_pages
from generator.compose.place_page import fitting_page, landing_page, place_page, tasks_of_landing
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
    revisions: Mapping[str, str]
    """What tells each page from earlier and later ones, by URI."""
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


@dataclass(frozen=True, slots=True)
class Earlier:
    """What is known of the pages of a guide that was composed before, by URI."""

    revisions: Mapping[str, str]
    """What tells each page from earlier and later ones."""
    shared: frozenset[str]
    """The pages that are the same for every unit that is equipped alike."""


@dataclass(frozen=True, slots=True)
class _Maker:
    """What makes some pages of a guide."""

    make: Callable[[], Iterable[Page]]
    holds: frozenset[str] = frozenset()
    """The tasks, by slug, whose texts stand in the pages."""
    tells_revision: bool = False
    """Whether the guide's revision stands in their frame."""


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
    makers = _equipment_makers(context)
    if like:
        equipment, dated = like.equipment, _dated_pages(context, makers, like.equipment)
    else:
        equipment, dated = _equipment_pages(context, dict(enumerate(makers)))
        equipment = replace(equipment, findable=find_equipment(context))
    own = _pages_of(context, _own_makers(context, equipment.findable)) + dated
    calendar = calendar_file(context)
    documents = {links.FEED: notices_feed(context)}
    if calendar:
        documents[links.DUE] = calendar
    frame = _frame(context, {**_revisions(own), **equipment.revisions})
    return Composed(guide, (*own, *equipment.pages), frame, equipment, documents)


def compose_edited(
    guide: Guide,
    proof: Proof,
    library: Library,
    drawings: Drawings,
    problems: Problems,
    edited: frozenset[str],
    earlier: Earlier,
    like: Composed | None = None,
) -> Composed | None:
    """Return those pages of a guide that are others since the texts of some tasks were edited.

    None is returned where a page is not there yet, or tells a day as it did not before, or the
    other way round; the guide is then to be composed whole.

    Args:
        guide: The guide; all of it but the texts is as it was, and so is its proof.
        proof: Its proof.
        library: The library, with the texts as they are now.
        drawings: Our own drawings.
        problems: Where mistakes are noted.
        edited: The tasks, by slug.
        earlier: The guide's pages as they were.
        like: The same pages of a unit that is equipped alike.
    """
    context = Context(guide, proof, library, drawings, problems)
    makers = _equipment_makers(context)
    if like:
        equipment, dated = like.equipment, _dated_pages(context, makers, like.equipment)
    else:
        equipment, dated = _equipment_pages(
            context, {n: m for n, m in enumerate(makers) if not edited.isdisjoint(m.holds)}
        )
    concerned = (
        maker
        for maker in _own_makers(context, equipment.findable)
        if maker.tells_revision or not edited.isdisjoint(maker.holds)
    )
    own = _pages_of(context, concerned) + dated
    revised = _revisions(own)
    if not equipment.revisions.keys() <= earlier.shared:
        return None
    if not revised.keys() <= earlier.revisions.keys() - earlier.shared:
        return None
    frame = _frame(context, {**earlier.revisions, **revised, **equipment.revisions})
    return Composed(guide, (*own, *equipment.pages), frame, equipment)


def _frame(ctx: Context, revisions: Mapping[str, str]) -> dict[str, str]:
    """Return the values of a guide's page frame; `revisions` are those of all its pages."""
    guide, dealer = ctx.guide, ctx.guide.dealer
    return {
        "unit": guide.unit.title,
        "dealer": dealer.title,
        "telephone": dealer.telephone,
        "dial": "tel:" + "".join(c for c in dealer.telephone if c in "+0123456789"),
        "hours": dealer.hours,
        "emergency": dealer.emergency,
        "revision": revision_of_pages(revisions),
        "source": ctx.library.wording.get("lang", "en"),
        "media": "; media-src 'self'" if guide.unit.film else "",
    }


def _revisions(pages: Iterable[Page]) -> dict[str, str]:
    return {page.uri: revision_of(page) for page in pages}


def _equipment_pages(
    ctx: Context, makers: Mapping[int, _Maker]
) -> tuple[EquipmentPages, list[Page]]:
    """Return pages about the equipment: those that alike units share, and this unit's own."""
    shared: list[Page] = []
    own: list[Page] = []
    dated: list[int] = []
    for number, maker in makers.items():
        ctx.tongue.told.clear()
        pages = _pages_of(ctx, (maker,))
        if ctx.tongue.told:
            dated.append(number)
        (own if ctx.tongue.told else shared).extend(pages)
    nothing = Findable((), (), {})
    return EquipmentPages(tuple(shared), _revisions(shared), nothing, dated), own


def _dated_pages(ctx: Context, makers: Sequence[_Maker], equipment: EquipmentPages) -> list[Page]:
    """Return the pages about the equipment that are a unit's own."""
    return _pages_of(ctx, (makers[number] for number in equipment.dated))


def _pages_of(ctx: Context, makers: Iterable[_Maker]) -> list[Page]:
    """Return the pages that makers make.

    Raises:
        LookupError: One holds a text that it does not tell of; that is a mistake of ours, not of
            an author.
    """
    made: list[Page] = []
    for maker in makers:
        ctx.held.clear()
        pages = tuple(maker.make())
        if astray := ctx.held - maker.holds:
            raise LookupError(f"{pages[0].uri} does not tell that it holds {min(astray)}")
        made += pages
    return made


def _own_makers(ctx: Context, findable: Findable) -> Iterator[_Maker]:
    """Yield what makes the pages that tell the unit's title, codes or dates, or stand at a code."""
    guide = ctx.guide
    yield _one(home_page, ctx, links.HOME, tells_revision=True)
    yield _one(search_page, ctx, findable)
    yield _Maker(partial(dated_number_pages, ctx))
    for spot in guide.places:
        yield _one(place_page, ctx, spot, links.place_uri(spot.name))
    for place, code in guide.place_codes.items():
        holds = tasks_of_landing(guide, place)
        yield _one(landing_page, ctx, ctx.spots[place], links.code_uri(code), holds=holds)
    by_slug = {task.slug: task for task in guide.tasks}
    for slug, code in guide.task_codes.items():
        yield _one(task_page, ctx, by_slug[slug], links.code_uri(code), holds=(slug,))
    for landing in guide.landings:
        holds = tasks_of_stray(guide, landing)
        yield _one(stray_page, ctx, landing, holds=holds, tells_revision=landing.sort == "unit")


def _equipment_makers(ctx: Context) -> list[_Maker]:
    """Return what makes the pages about the equipment, in the same order for all alike units.

    They tell nothing of what alike units differ in, but days.
    """
    guide = ctx.guide
    return [
        *(
            _one(page, ctx)
            for page in (emergency_page, wrong_page, notices_page, all_tasks_page, kit_page)
        ),
        *map(_Maker, equipment_number_pages(ctx)),
        *(_one(routine_page, ctx, planned) for planned in ctx.proof.routines),
        *(
            _one(task_page, ctx, task, links.task_uri(task), holds=(task.slug,))
            for task in guide.tasks
        ),
        *(_one(symptom_page, ctx, symptom) for symptom in guide.symptoms),
        *(
            _one(fitting_page, ctx, fitting)
            for fitting in guide.fittings.values()
            if fitting.kind != VEHICLE
        ),
    ]


def _one(
    make: Callable[..., Page],
    *about: object,
    holds: Iterable[str] = (),
    tells_revision: bool = False,
) -> _Maker:
    """Return what makes one page."""
    return _Maker(lambda: (make(*about),), frozenset(holds), tells_revision)
