"""The search page: every page of the guide as a link, with the words by which people look for it.

The list is the index. The script shows those entries that match, so that the page needs no second
file and works opened from a folder as well as offline.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from generator.compose import links
from generator.compose.context import Context
from generator.compose.links import relative
from generator.compose.markdown import link, listing, paragraph
from generator.compose.numbers import numbers_of_unit
from generator.compose.page import Page, Values, fill_plain
from generator.fit.guide import VEHICLE

_WORD = re.compile(r"[^\W_]+")


@dataclass(frozen=True, slots=True)
class _Entry:
    """A page to be found. Its title and line are Markdown, with values as tokens."""

    uri: str
    title: str
    line: str
    sort: str
    also: tuple[str, ...]
    """Other words for it, as people say them."""
    urgent: bool = False


@dataclass(frozen=True, slots=True)
class Findable:
    """What is the same on the search page of every unit that is equipped alike."""

    before: tuple[str, ...]
    """Lines about the equipment, which stand before those about places."""
    after: tuple[str, ...]
    values: Mapping[str, str]


def find_equipment(ctx: Context) -> Findable:
    """Return the lines of the search page about the equipment."""
    values = Values()
    before, after = _lines(ctx, values, _entries(ctx, values)), _lines(ctx, values, _numbers(ctx))
    return Findable(before, after, values.by_name)


def search_page(ctx: Context, equipment: Findable) -> Page:
    """Return the page on which a reader finds all others by word."""
    uri, say = links.SEARCH, ctx.say
    values = Values(dict(equipment.values))
    places = _lines(ctx, values, _places(ctx, values))
    lines = (*equipment.before, *places, *equipment.after)
    form = (
        f'<form class="find" role="search" data-count="{say("search_count", count="{count}")}" '
        f'data-one="{say("search_one")}" data-near="{say("search_near")}" '
        f'data-none="{say("search_none")}" data-idle="{say("search_idle")}" '
        f'data-quiet="{say("search_quiet")}">\n'
        f'<label for="find">{say("search_label")}</label>\n'
        '<input id="find" type="search" autocomplete="off" autocapitalize="none" '
        'spellcheck="false" enterkeyhint="search" aria-describedby="told">\n'
        f'<p id="told" role="status">{say("search_idle")}</p>\n'
        "</form>\n\n"
    )
    text = (
        f"# {say('search')} {{: #title }}\n\n"
        + form
        + f'<noscript markdown="1">\n\n{say("search_without")}\n\n</noscript>\n\n'
        + '<div class="found choices" hidden="hidden" markdown="1">\n\n'
        + listing(lines)
        + "\n</div>\n\n"
        + paragraph(say("search_else"), "hint")
        + "\n"
        + '<div class="more" markdown="1">\n\n'
        + listing(
            (
                link(say("all_tasks"), relative(uri, links.ALL)),
                link(say("wrong"), relative(uri, links.WRONG)),
                link(say("kit_all"), relative(uri, links.KIT)),
            )
        )
        + "\n</div>\n"
    )
    return ctx.page(uri, say("search"), "search", text, values)


def _lines(ctx: Context, values: Values, entries: Iterable[_Entry]) -> tuple[str, ...]:
    """Return entries as links with what a reader may say for them."""
    same = same_words(tuple(ctx.library.synonyms.items()))
    lines = []
    for entry in entries:
        title = fill_plain(entry.title, values.by_name)
        also = dict.fromkeys(word for phrase in entry.also for word in _words(phrase))
        heard = {"same": same(title), "also": also}
        marks = (" .urgent" if entry.urgent else "") + "".join(
            f' data-{name}="{values.token(" ".join(words))}"'
            for name, words in heard.items()
            if words
        )
        shown = f"**{entry.title}** {entry.line} <small>{entry.sort}</small>"
        to = link(shown, relative(links.SEARCH, entry.uri))
        lines.append(to + (f"{{:{marks} }}" if marks else ""))
    return tuple(lines)


def _entries(ctx: Context, values: Values) -> Iterator[_Entry]:
    say, guide, kinds = ctx.say, ctx.guide, ctx.library.kinds
    for planned in ctx.proof.routines:
        routine = planned.routine
        yield _Entry(
            links.routine_uri(routine.name),
            routine.title,
            routine.purpose,
            say("search_routine"),
            routine.called,
        )
    for task in guide.tasks:
        spot = ctx.spots.get(task.place)
        at = f" {say('at_place', place=values.token(spot.title))}." if spot else ""
        yield _Entry(
            links.task_uri(task),
            f"{task.title}{ctx.which(task.subject, values, task)}",
            f"{task.task.purpose}{at}",
            say("emergency" if task.task.emergency else "search_task"),
            task.task.called,
            urgent=bool(task.task.emergency),
        )
    for symptom in guide.symptoms:
        said = symptom.symptom.said
        yield _Entry(
            links.symptom_uri(symptom),
            f"{symptom.title}{ctx.which(symptom.subject, values)}",
            f"{', '.join(said)}." if said else "",
            say("search_symptom"),
            said,
        )
    for fitting in guide.fittings.values():
        if fitting.kind != VEHICLE:
            kind = kinds[fitting.kind]
            yield _Entry(
                links.kit_uri(fitting.name),
                values.token(fitting.title),
                kind.about,
                say("search_kit"),
                (kind.title, *kind.called),
            )


def _places(ctx: Context, values: Values) -> Iterator[_Entry]:
    say, guide = ctx.say, ctx.guide
    for spot in guide.places:
        held = ", ".join(values.token(f.title) for f in guide.fittings_at(spot.name))
        code = guide.place_codes.get(spot.name)
        yield _Entry(
            links.place_uri(spot.name),
            values.token(spot.title),
            held + (f" · {values.token(code)}" if code else ""),
            say("search_place"),
            (),
        )


def _numbers(ctx: Context) -> Iterator[_Entry]:
    for name in numbers_of_unit(ctx.own):
        key = f"number_{name.replace('-', '_')}"
        said = tuple(word.strip() for word in ctx.say(f"{key}_said").split(","))
        yield _Entry(
            links.number_uri(name),
            ctx.say(key),
            ctx.say(f"{key}_lead"),
            ctx.say("search_number"),
            said,
        )


Synonyms = tuple[tuple[str, tuple[str, ...]], ...]
"""What people say for words."""


@lru_cache(maxsize=8)
def same_words(synonyms: Synonyms) -> Callable[[str], tuple[str, ...]]:
    """Return a function that tells what people say for what a title says, word by word."""

    @lru_cache(maxsize=20_000)  # most titles are the same in all guides
    def find(title: str) -> tuple[str, ...]:
        words = set(_words(title))
        others = [
            word
            for said, phrases in synonyms
            if words.issuperset(_words(said))
            for phrase in phrases
            for word in _words(phrase)
        ]
        return tuple(word for word in dict.fromkeys(others) if word not in words)

    return find


@lru_cache(maxsize=20_000)
def _words(text: str) -> tuple[str, ...]:
    return tuple(_WORD.findall(text.casefold()))
