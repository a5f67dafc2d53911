"""The booklet: a whole guide on paper, for the unit and for those without a phone."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from generator.compose.context import Context
from generator.compose.print_guide import print_guide
from generator.compose.printed import PrintedCaution, PrintedGuide, PrintedTask
from generator.render.paper import Look, phrases, picture_drawings, place_drawings, sign_drawings
from generator.render.printable import Printable, plain
from generator.render.qr import make_symbol
from generator.render.stickers import sticker_address

POCKET = Look(148, 210, inner_mm=17, outer_mm=14, top_mm=17, bottom_mm=15, size_pt=9)
"""A5. Its pages fold out of A4."""

LARGE = Look(210, 297, inner_mm=23, outer_mm=20, top_mm=24, bottom_mm=21, size_pt=16)
"""A4 in 16 point, where large print is commonly said to begin (from memory)."""

_PHRASES = (
    "danger",
    "warning",
    "caution",
    "notice",
    "one_minute",
    "minutes",
    "at_place",
    "have_ready",
    "cautions_heading",
    "before_heading",
    "before_how",
    "steps_heading",
    "steps_licensed",
    "then",
    "if_not",
    "note",
    "result_heading",
    "trouble_heading",
    "trouble_more",
    "after_heading",
    "place_holds",
    "kit_all",
    "kit_intro",
    "emergency_title",
    "emergency_intro",
    "wrong",
    "routines",
    "routine_start",
    "routine_total",
    "routine_total_one",
    "routine_nothing",
    "routine_by_hand",
    "routine_tick",
    "hatches_outside",
    "hatches_inside",
    "symptom_checks",
    "symptom_yes",
    "symptom_no",
    "symptom_go_on",
    "symptom_stop",
    "symptom_ends",
    "symptom_said",
    "symptom_expects",
    "footer_defer",
    "sticker_scan",
    "sticker_or",
    "print_guide",
    "print_contents",
    "print_see",
    "print_page",
    "print_code",
    "print_call",
    "print_stays",
    "print_places",
    "print_places_lead",
    "print_tasks_here",
    "print_symptom_index",
    "print_index",
    "print_numbers",
    "print_numbers_lead",
    "print_notes",
    "print_emergency_number",
)


def plan_booklet(ctx: Context, revision: str, templates: Path, *, large: bool = False) -> Printable:
    """Return a unit's booklet, in A5, or in A4 with large print.

    Raises:
        ProblemsFound: a text of the guide does not work out for this unit.
    """
    printed = print_guide(ctx)
    ctx.problems.stop_if_any()
    guide, dealer, say = ctx.guide, ctx.guide.dealer, ctx.say
    codes = [guide.code, *(place.code for place in printed.places if place.code)]
    data = {
        "look": plain(LARGE if large else POCKET),
        "lang": say("lang"),
        "title": guide.unit.title,
        "revision": say("footer_revision", revision=revision),
        "dealer": {
            "title": dealer.title,
            "telephone": dealer.telephone,
            "dial": "tel:" + "".join(c for c in dealer.telephone if c in "+0123456789"),
            "hours": dealer.hours,
            "host": dealer.address.lower().removeprefix("https://"),
            "emergency": dealer.emergency,
        },
        "code": guide.code,
        "symbols": {
            code: {"svg": make_symbol(address).svg(), "alt": f"QR {address}"}
            for code in codes
            if (address := sticker_address(guide, code))
        },
        "say": phrases(
            ctx,
            _PHRASES,
            number=dealer.emergency,
            dealer=dealer.title,
            place="{place}",
            situation="{situation}",
        ),
        "guide": plain(printed),
        "signs": {n: plain(d) for n, d in sign_drawings(ctx, _cautions(printed)).items()},
        "pictures": {n: plain(d) for n, d in picture_drawings(ctx, _pictures(printed)).items()},
        "places": {n: plain(d) for n, d in place_drawings(ctx).items()},
    }
    return Printable(templates / "booklet.typ", data)


def _tasks(guide: PrintedGuide) -> Iterator[PrintedTask]:
    yield from guide.emergencies
    for area in guide.areas:
        yield from area.tasks


def _cautions(guide: PrintedGuide) -> Iterator[PrintedCaution]:
    for task in _tasks(guide):
        yield from task.cautions
        for step in task.steps:
            yield from step.cautions
    for area in guide.areas:
        for symptom in area.symptoms:
            yield from symptom.cautions


def _pictures(guide: PrintedGuide) -> list[str]:
    return sorted({step.picture for task in _tasks(guide) for step in task.steps if step.picture})
