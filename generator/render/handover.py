"""The handover pack: what the dealer prints for the day. It stays on paper and with the dealer."""

from __future__ import annotations

from pathlib import Path

from generator.compose.context import Context
from generator.compose.handover_pack import plan_pack
from generator.read.handover import SIGNERS, Handover
from generator.render.paper import Look, phrases, tour_drawing
from generator.render.printable import Printable, plain
from generator.render.qr import make_symbol
from generator.render.stickers import sticker_address

SHEET = Look(210, 297, inner_mm=18, outer_mm=18, top_mm=22, bottom_mm=18, size_pt=9.5)
"""A4."""

_PHRASES = (
    "minutes",
    "one_minute",
    "place_code",
    "routine_by_hand",
    "routine_start",
    "routine_tick",
    "emergency",
    "hatches_outside",
    "hatches_inside",
    "footer_defer",
    "sticker_scan",
    "sticker_or",
    "print_call",
    *(f"handover_by_{who}" for who in SIGNERS),
    "handover_prepare",
    "handover_prepare_lead",
    "handover_recorded",
    "handover_done",
    "handover_registration",
    "handover_name",
    "handover_signature",
    "handover_day",
    "handover_customer",
    "handover_us",
    "handover_sheet",
    "handover_sheet_lead",
    "handover_do",
    "handover_show",
    "handover_records",
    "handover_papers",
    "handover_not_shown",
    "handover_agreed",
    "handover_card",
    "handover_more",
    "handover_due",
    "handover_due_lead",
    "handover_due_what",
    "handover_due_day",
    "handover_due_done",
    "handover_due_unknown",
    "handover_number",
)


def plan_handover(ctx: Context, handover: Handover, revision: str, templates: Path) -> Printable:
    """Return a unit's handover pack, A4.

    In order: the preparation list, the walk-round sheet, the first-trip card, the due dates.
    """
    pack = plan_pack(ctx, handover)
    ctx.problems.stop_if_any()
    guide, dealer, say = ctx.guide, ctx.guide.dealer, ctx.say
    address = sticker_address(guide, guide.code)
    data = {
        "look": plain(SHEET),
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
        "symbol": {"svg": make_symbol(address).svg(), "alt": f"QR {address}"},
        "say": phrases(
            ctx,
            _PHRASES,
            dealer=dealer.title,
            situation="{situation}",
            value="{value}",
            number=dealer.emergency,
        ),
        "lists": [plain(one) for one in pack.lists],
        "map": plain(tour_drawing(ctx, pack.tour)),
        "stops": [plain(stop) | {"minutes": stop.minutes} for stop in pack.stops],
        "minutes": pack.minutes,
        "records": [plain(record) for record in pack.records],
        "papers": pack.papers,
        "card": [plain(box) for box in pack.card],
        "first_trip": plain(pack.first_trip) if pack.first_trip else None,
        "due": [plain(due) for due in pack.due],
    }
    return Printable(templates / "handover.typ", data)
