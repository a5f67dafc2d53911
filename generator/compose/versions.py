"""A guide in several languages: the same pages again below a folder for each further one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from generator.compose.compose import Composed
from generator.compose.guard import guarded_words
from generator.compose.page import Page, Version
from generator.read.languages import Language
from generator.read.translated import OPEN, STALE

_FRAME = ("emergency", "call_dealer", "footer_defer")
"""Phrases around every page on which somebody may act."""


class Spoken(NamedTuple):
    """A guide composed in a further language."""

    language: Language
    composed: Composed


def join_versions(first: Composed, title: str, others: Sequence[Spoken]) -> Composed:
    """Return the guide with the pages of all its languages, each page leading to its others.

    `title` is the first language's name for itself.
    """
    if not others:
        return first
    source = first.frame["source"]
    folders = {source: "", **{one.language.name: f"{one.language.name}/" for one in others}}
    names = {source: title, **{one.language.name: one.language.title for one in others}}

    def placed(page: Page, lang: str) -> Page:
        versions = tuple(
            Version(other, names[other], folder + page.uri)
            for other, folder in folders.items()
            if other != lang
        )
        under = folders[lang]
        return replace(page, uri=under + page.uri, lang=lang, under=under, versions=versions)

    pages = [placed(page, source) for page in first.pages]
    documents = dict(first.documents)
    for language, composed in others:
        # The page's own frame in its language; values of the page stand over the guide's.
        frame = {k: v for k, v in composed.frame.items() if k not in ("revision", "source")}
        for page in composed.pages:
            own = replace(page, values=frame | dict(page.values), notices=_notices(page, language))
            pages.append(placed(own, language.name))
        documents |= {
            folders[language.name] + name: text for name, text in composed.documents.items()
        }
    return replace(first, pages=tuple(pages), documents=documents)


@dataclass(frozen=True, slots=True)
class Standing:
    """How far a guide has come in a further language: how many of its pages are which."""

    language: str
    pages: int
    partial: int
    """Pages some of which stands in the source's language."""
    stale: int
    """Pages some of which is older than its source."""


def standings(composed: Composed) -> tuple[Standing, ...]:
    """Return how a guide stands in each of its further languages."""
    return tuple(
        Standing(
            language,
            len(pages := [page for page in composed.pages if page.lang == language]),
            sum("translation_partial" in page.notices for page in pages),
            sum("translation_stale" in page.notices for page in pages),
        )
        for language in composed.guide.unit.languages[1:]
    )


def _notices(page: Page, language: Language) -> tuple[str, ...]:
    """Return what a page must tell at its top."""
    texts = [page.text, page.title, page.description]
    texts += [language.library.wording.get(key, "") for key in _FRAME]
    # Where somebody may act on a text, what the unit or a figure says counts too.
    texts += [page.values[name] for name in guarded_words(page.text).whole[1::2]]
    told = []
    if any(STALE in text for text in texts):
        told.append("translation_stale")
    if any(OPEN in text for text in texts):
        told.append("translation_partial")
    if not language.reviewed:
        told.append("translation_draft")
    return tuple(told)
