"""A composed page: Markdown that many units may share, and this unit's own values beside it.

A value stands in the text as a token, ⟦name⟧, until the page has been rendered. So a value is
never read as Markdown, HTML or a template, and the same text need be rendered only once.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from markupsafe import Markup, escape

from generator.compose.spoken import spoken
from generator.read.expressions import TOKEN_CLOSE, TOKEN_OPEN

_TOKEN = re.compile(f"{TOKEN_OPEN}([a-z0-9-]+){TOKEN_CLOSE}")


REVISION_DIGITS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One page. `uri` is its Markdown file within the guide, such as `task/light-hob.md`."""

    uri: str
    title: str
    sort: str
    text: str
    description: str
    values: Mapping[str, str] = field(default_factory=dict)
    """By token name. A `Markup` goes in as it is, any other text is escaped."""


@dataclass(slots=True)
class Values:
    """Collects the values of a page and hands out tokens for them."""

    by_name: dict[str, str] = field(default_factory=dict)
    _names: dict[tuple[bool, str], str] = field(default_factory=dict)

    def token(self, value: object) -> str:
        """Return the token of a value; equal values share one."""
        text = value if isinstance(value, Markup) else str(value)
        name = self._names.setdefault(
            (isinstance(text, Markup), str(text)), str(len(self.by_name) + 1)
        )
        self.by_name.setdefault(name, text)
        return f"{TOKEN_OPEN}{name}{TOKEN_CLOSE}"

    def finalize(self, value: Any) -> Any:
        """Return the token of a value that a template writes out."""
        if value is None:
            return ""
        # An attribute that the unit does not give refuses to become text, with its name.
        text = spoken(value)
        return self.token(text) if text else ""


def revision_of(page: Page) -> str:
    """Return what tells this page from all earlier and later ones of its address."""
    told = repr((page.title, page.description, page.text, sorted(page.values.items())))
    return hashlib.sha256(told.encode()).hexdigest()[:REVISION_DIGITS]


def fill_html(html: str, values: Mapping[str, str]) -> str:
    """Return rendered HTML with every token replaced by its value, escaped once.

    Values are put in in a single pass, so that a value that looks like a token stays text.
    """
    return _TOKEN.sub(lambda match: str(escape(values[match[1]])), html)


Pattern = tuple[str, ...]
"""Text and token names in turn: text, name, text, … text."""


def split_tokens(html: str) -> Pattern:
    """Return rendered HTML taken apart at its tokens."""
    return tuple(_TOKEN.split(html))


def fill_pattern(pattern: Pattern, values: Mapping[str, str]) -> str:
    """Return a pattern with its tokens replaced by values, which must be escaped already."""
    if len(pattern) == 1:
        return pattern[0]
    parts = list(pattern)
    parts[1::2] = [values[name] for name in pattern[1::2]]
    return "".join(parts)


def fill_plain(text: str, values: Mapping[str, str]) -> str:
    """Return a plain text with its tokens replaced; drawings fall away."""

    def plain(match: re.Match[str]) -> str:
        value = values[match[1]]
        return "" if isinstance(value, Markup) else value

    return _TOKEN.sub(plain, text)
