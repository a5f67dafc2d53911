"""What a reader must be told of when it changes: the cautions and steps of a page, as digests.

A page's guard is one digest of all that must be read again, and after a dash a short one for each
caution and each step, in the order of the page: `1f6c20be-w3Jt0q…`. So the page can tell that it
changed, and mark what in it is new.
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from markupsafe import Markup

from generator.compose.page import Page, Pattern, split_tokens
from generator.read.translated import without_marks

GUARDED_SECTIONS = (
    "cautions",
    "notice",
    "before",
    "work",
    "result",
    "after",
    "expected",
    "checks",
    "ends",
    "values",
    "number-[a-z0-9-]+",
    "from-[a-z0-9-]+",
)
"""Sections whose words someone may act on from memory; lists of links are none."""

_GUARDED = re.compile(
    rf'<section class="(?:{"|".join(GUARDED_SECTIONS)})".*?</section>'
    r'|<div class="mind .*?</div>'
    r"|[^\n]*\n\{: \.licensed \}",
    re.DOTALL,
)
_TARGET = re.compile(r"\]\([^)\s]*\)")
_DIGITS = 8
_PIECE_DIGITS = 3
"""Of base64, 18 bits: among twenty old pieces a new one goes unmarked once in 13,000 changes; that
the page changed is told all the same."""

_MIND = re.compile(r"\{: \.mind \.\w+ \}$")
_BELOW_A_STEP = re.compile(r"\{: \.(?:note|then|ifnot|stop) \}$")
_NUMBER = re.compile(r"^\d+\. +")


@dataclass(frozen=True, slots=True)
class Guarded:
    """The words of a page that must be read again when they change; values are still tokens."""

    whole: Pattern
    pieces: tuple[Pattern, ...]
    """Its cautions and steps, in reading order."""


def guard_of(page: Page) -> str:
    """Return the guard of a page, with this unit's values.

    It is empty for a page that has neither. A drawing, or where a link leads, does not count: the
    digest changes when, and only when, a reader has something to read again.
    """
    return guard_from(guarded_words(page.text), page.values)


def guarded_words(text: str) -> Guarded:
    """Return what a page's guard is made from."""
    words = _TARGET.sub("]", text)
    return Guarded(
        split_tokens("\n".join(_GUARDED.findall(words))),
        tuple(split_tokens(piece) for piece in _pieces(words)),
    )


def _pieces(text: str) -> list[str]:
    """Return the cautions and steps of a page's Markdown, one for each `.mind` and `.do`."""
    pieces: list[str] = []
    inside, stepping = False, False
    for paragraph in text.split("\n\n"):
        words = paragraph.strip()
        if inside:
            inside = words != "</div>"
            pieces[-1] += f"\n{words}"
        elif words.startswith('<div class="mind '):
            inside, stepping = True, False
            pieces.append(words)
        elif words.endswith("{: .do }") or _MIND.search(words):
            stepping = words.endswith("{: .do }")
            # Its number does not count: a step put in before it leaves it as it is.
            pieces.append(_NUMBER.sub("", words))
        elif stepping and _BELOW_A_STEP.search(words):
            pieces[-1] += f"\n{words}"
    return pieces


def guard_from(words: Guarded, values: Mapping[str, str]) -> str:
    """Return the guard of a page from its guarded words and its values."""
    if words.whole == ("",):
        return ""
    whole = hashlib.sha256(_normal(_told(words.whole, values))).hexdigest()[:_DIGITS]
    pieces = "".join(_short(_told(piece, values)) for piece in words.pieces)
    return f"{whole}-{pieces}" if pieces else whole


def _told(words: Pattern, values: Mapping[str, str]) -> str:
    if len(words) == 1:
        return words[0]
    parts = list(words)
    parts[1::2] = ["" if isinstance(values[n], Markup) else values[n] for n in words[1::2]]
    return "".join(parts)


def _normal(told: str) -> bytes:
    return " ".join(without_marks(told).split()).encode()


@lru_cache(maxsize=30_000)
def _short(told: str) -> str:
    """Return a piece's digest. Most pieces are the same in all guides of a fleet."""
    digest = hashlib.sha256(_normal(told)).digest()
    return base64.urlsafe_b64encode(digest).decode()[:_PIECE_DIGITS]
