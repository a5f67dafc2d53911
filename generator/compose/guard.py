"""What a reader must be told of when it changes: the cautions and steps of a page, as a digest."""

from __future__ import annotations

import hashlib
import re

from generator.compose.page import Page, fill_plain

GUARDED_SECTIONS = (
    "cautions",
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
    parts = _GUARDED.findall(page.text)
    if not parts:
        return ""
    words = fill_plain(_TARGET.sub("]", "\n".join(parts)), page.values)
    return hashlib.sha256(" ".join(words.split()).encode()).hexdigest()[:_DIGITS]
