"""What a reader must be told of when it changes: the cautions and steps of a page, as a digest."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping

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


def guard_of(page: Page) -> str:
    """Return a digest of a page's cautions and steps with this unit's values.

    It is empty for a page that has neither. A drawing, or where a link leads, does not count: the
    digest changes when, and only when, a reader has something to read again.
    """
    return guard_from(guarded_words(page.text), page.values)


def guarded_words(text: str) -> Pattern:
    """Return what a page's guard is made from; its values are still tokens."""
    return split_tokens(_TARGET.sub("]", "\n".join(_GUARDED.findall(text))))


def guard_from(words: Pattern, values: Mapping[str, str]) -> str:
    """Return the guard of a page from its guarded words and its values."""
    if words == ("",):
        return ""
    parts = list(words)
    parts[1::2] = ["" if isinstance(values[n], Markup) else values[n] for n in words[1::2]]
    told = " ".join(without_marks("".join(parts)).split())
    return hashlib.sha256(told.encode()).hexdigest()[:_DIGITS]
