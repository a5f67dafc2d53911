"""Which stickers are printed, as the register keeps it, and where those point that are out."""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from generator.checks import Remark
from generator.fit.guide import Guide
from generator.read.labels import LabelStock
from generator.read.register import Entry, Register
from generator.read.units import Dealer
from generator.render.qr import DOT_MM, fitting_dots, make_symbol
from generator.render.stickers import Sticker, room_for_symbol_mm, sticker_address, typed_address

_PRINTED = re.compile(r"at (?P<host>\S+), face (?P<face>[0-9a-f]+)")
"""What the register keeps of a printed sticker: the address and what was on its face."""

SHORT_VERSION, SHORT_CHARACTERS = 2, 29
"""The smallest symbol that holds any address of ours at level Q, and what it holds at most
(ISO/IEC 18004:2015, table 7)."""


def not_printed(stickers: Iterable[Sticker], register: Register) -> tuple[Sticker, ...]:
    """Return the stickers that were never printed, or would look or lead otherwise now.

    One that was marked as printed by hand, without saying what it looked like, is taken for good.
    """
    return tuple(sticker for sticker in stickers if not _is_printed(sticker, register))


def printed_entries(stickers: Iterable[Sticker], register: Register, day: str) -> tuple[Entry, ...]:
    """Return the register's lines for stickers that were printed on a day."""
    return tuple(
        replace(entry, event="printed", day=day, why=_told(sticker))
        for sticker in stickers
        if (entry := register.latest.get(sticker.code)) and entry.event != "retired"
    )


def remark_old_addresses(register: Register, dealer: Dealer) -> tuple[Remark, ...]:
    """Return how many printed stickers still point to an address that the dealer has left."""
    now = dealer.address.removeprefix("https://").lower()
    old: Counter[str] = Counter()
    for code, entry in register.latest.items():
        told = _last_print(register, code)
        match = _PRINTED.fullmatch(told.why) if told and entry.event != "retired" else None
        if match and match["host"] != now:
            old[match["host"]] += 1
    remarks = []
    for host, count in sorted(old.items()):
        many = (
            "1 printed sticker still points"
            if count == 1
            else f"{count} printed stickers still point"
        )
        text = (
            f"{many} to {host}; right: keep that address leading here, or print them anew with "
            "lockerleaf stickers --only-new"
        )
        remarks.append(Remark(dealer.address_at, text, False))
    return tuple(remarks)


def remark_long_address(guides: Sequence[Guide], stock: LabelStock) -> tuple[Remark, ...]:
    """Return what a long address costs: the symbol's version and the size of its modules."""
    codes = [(guide, code) for guide in guides for code in guide.place_codes.values()]
    if not codes:
        return ()
    guide, code = codes[0]
    symbol = make_symbol(sticker_address(guide, code))
    if symbol.version <= SHORT_VERSION:
        return ()
    room_mm = room_for_symbol_mm(stock)
    dots = fitting_dots(symbol, room_mm) or 0
    short_dots = fitting_dots(make_symbol("0" * SHORT_CHARACTERS), room_mm) or 0
    host = guide.dealer.address.removeprefix("https://")
    most = len(host) - (len(symbol.text) - SHORT_CHARACTERS)
    text = (
        f"the address makes symbols of version {symbol.version}-Q, with modules of "
        f"{dots * DOT_MM:.2f} mm on {stock.name}; right: at most {most} characters after https:// "
        f"would give version {SHORT_VERSION}-Q and {short_dots * DOT_MM:.2f} mm, read from farther"
    )
    return (Remark(guide.dealer.address_at, text, False),)


def _is_printed(sticker: Sticker, register: Register) -> bool:
    told = _last_print(register, sticker.code)
    if told is None:
        return False
    return told.why == _told(sticker) or not _PRINTED.fullmatch(told.why)


def _last_print(register: Register, code: str) -> Entry | None:
    prints = [entry for entry in register.history(code) if entry.event == "printed"]
    return prints[-1] if prints else None


def _told(sticker: Sticker) -> str:
    caution = sticker.caution
    warned = (caution.word, caution.sign, caution.sticker) if caution else ()
    face = repr((sticker.code, sticker.address, sticker.title, warned, sticker.plan))
    digest = hashlib.sha256(face.encode()).hexdigest()[:8]
    return f"at {typed_address(sticker)}, face {digest}"
