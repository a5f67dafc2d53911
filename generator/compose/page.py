"""A composed page: Markdown that many units may share, and this unit's own values beside it.

A value stands in the text as a token, ⟦name⟧, until the page has been rendered. So a value is
never read as Markdown, HTML or a template, and the same text need be rendered only once.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from markupsafe import Markup, escape

from generator.compose.spoken import PLAIN, Tongue, spoken
from generator.read.expressions import TOKEN_CLOSE, TOKEN_OPEN
from generator.read.translated import CLOSE, OPEN, STALE, without_marks

_TOKEN = re.compile(f"{TOKEN_OPEN}([a-z0-9-]+){TOKEN_CLOSE}")
_PIECE = re.compile(
    r"(?P<kept><(?P<name>script|title|text|style)\b.*?</(?P=name)>|<[^>]*>)|(?P<text>[^<]+)",
    re.DOTALL,
)
"""What only text can stand in, a tag, and text between tags."""


@dataclass(frozen=True, slots=True)
class Version:
    """A page in another language: the language, its own name for itself, and the file."""

    lang: str
    title: str
    uri: str


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
    lang: str = ""
    """The language of the page; empty where a guide has only one."""
    under: str = ""
    """The folder of that language within the guide, with a slash; empty for the first one."""
    versions: tuple[Version, ...] = ()
    """The same page in the guide's other languages."""
    notices: tuple[str, ...] = ()
    """Phrases that tell at the top how far the page can be trusted as a translation."""


@dataclass(slots=True)
class Values:
    """Collects the values of a page and hands out tokens for them."""

    by_name: dict[str, str] = field(default_factory=dict)
    _names: dict[tuple[bool, str], str] = field(default_factory=dict)
    tongue: Tongue = PLAIN

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
        text = spoken(value, self.tongue)
        return self.token(text) if text else ""


def own_values(page: Page) -> Iterator[tuple[str, str]]:
    """Yield the values that a page's text may hold; those of its frame have names in letters."""
    return ((name, value) for name, value in page.values.items() if name.isdigit())


def revision_of(page: Page) -> str:
    """Return what tells this page from all earlier and later ones of its address.

    What its frame says does not count.
    """
    told = [page.title, page.description, page.text]
    told += [part for name, value in sorted(own_values(page)) for part in (name, value)]
    return hashlib.sha256("\0".join(told).encode()).hexdigest()[:REVISION_DIGITS]


def revision_of_pages(revisions: Mapping[str, str]) -> str:
    """Return what tells some pages from all earlier and later ones; given is each one's, by URI."""
    told = (f"{uri} {revision}" for uri, revision in sorted(revisions.items()))
    return hashlib.sha256("\0".join(told).encode()).hexdigest()[:REVISION_DIGITS]


def fill_html(html: str, values: Mapping[str, str]) -> str:
    """Return rendered HTML with every token replaced by its value, escaped once.

    Values are put in in a single pass, so that a value that looks like a token stays text.
    """
    filled = _TOKEN.sub(lambda match: str(escape(values[match[1]])), html)
    return mark_languages(filled, values.get("source", ""))


def mark_languages(html: str, source: str) -> str:
    """Return HTML in which what is not translated tells that it is in the language `source`.

    Where no element can stand (in attributes, titles, scripts), only the marks go.
    """
    if OPEN not in html and STALE not in html:
        return html

    def settle(match: re.Match[str]) -> str:
        if match["kept"]:
            return without_marks(match["kept"])
        text = match["text"].replace(STALE, "")
        return text.replace(OPEN, f'<span class="other" lang="{source}">').replace(CLOSE, "</span>")

    return _PIECE.sub(settle, html)


Pattern = tuple[str, ...]
"""Text and token names in turn: text, name, text, … text."""


def split_tokens(html: str) -> Pattern:
    """Return rendered HTML taken apart at its tokens."""
    return tuple(_TOKEN.split(html))


def number_tokens(text: str) -> tuple[str, list[str]]:
    """Return a text with its tokens numbered as they come, and the names that they had."""
    names: dict[str, int] = {}

    def numbered(match: re.Match[str]) -> str:
        return f"{TOKEN_OPEN}{names.setdefault(match[1], len(names))}{TOKEN_CLOSE}"

    return _TOKEN.sub(numbered, text), list(names)


def name_tokens(text: str, names: Sequence[str]) -> str:
    """Return a text whose tokens are numbered with the names that they had."""
    return _TOKEN.sub(lambda m: f"{TOKEN_OPEN}{names[int(m[1])]}{TOKEN_CLOSE}", text)


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

    return without_marks(_TOKEN.sub(plain, text))
