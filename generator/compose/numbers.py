"""Which pages of numbers a guide has, and what leads to each of them."""

from __future__ import annotations

from collections.abc import Sequence

from generator.compose import links
from generator.compose.context import Context
from generator.compose.links import relative
from generator.compose.markdown import block, link, listing, paragraph
from generator.figures.gather import LIVES, OwnInputs
from generator.figures.pitch import USUAL_RATINGS_A
from generator.read.numbers import NUMBERS
from generator.read.units import Fitting

_OF_LOADS = {"mains": "pitch", "gas": "gas", "12v": "battery"}
"""By what a kind draws from: the page on which its load is counted."""


def numbers_of_unit(own: OwnInputs) -> tuple[str, ...]:
    """Return the pages of numbers that a unit has something for."""
    has = {
        "pitch": own.pitch is not None,
        "gas": bool(own.gas),
        "hot-water": bool(own.hot_water),
        "battery": own.battery is not None or own.wiring is not None,
        "water": own.water is not None,
        "tyres": own.tyres is not None,
    }
    return tuple(name for name in NUMBERS if has.get(name, True))


def numbers_of_fitting(ctx: Context, fitting: Fitting) -> tuple[str, ...]:
    """Return the pages of numbers that a fitting belongs to: by its kind, loads and dates."""
    kind = ctx.library.kinds[fitting.kind]
    wanted = {*kind.numbers}
    wanted |= {_OF_LOADS[load.supply] for load in kind.loads if load.attribute in fitting.values}
    if any(f.type == "date" or f.name.endswith(LIVES) for f in kind.attributes):
        wanted.add("dates")
    return tuple(name for name in numbers_of_unit(ctx.own) if name in wanted)


def number_choices(ctx: Context, names: Sequence[str], uri: str) -> str:
    """Return large choices that lead to these pages of numbers, of those that the guide has."""
    return block(
        "choices",
        listing(
            number_choice(ctx, name, uri) for name in numbers_of_unit(ctx.own) if name in names
        ),
    )


def pitch_jumps(ctx: Context, uri: str) -> str:
    """Return the question of what a pitch can run, each usual rating a tap away from its answer.

    It stands at the top of the home page: whoever asks stands at the post, perhaps in the dark.
    """
    if ctx.own.pitch is None:
        return ""
    page = relative(uri, links.number_uri("pitch"))
    ratings = [(f"{amps:g} A", f"{page}#at-{amps:g}-a") for amps in USUAL_RATINGS_A]
    return (
        paragraph(link(f"**{ctx.say('number_pitch')}**", page), "ask")
        + "\n"
        + block("jump", listing(link(words, target) for words, target in ratings))
    )


def number_choice(ctx: Context, name: str, uri: str) -> str:
    """Return a large choice that leads to a page of numbers."""
    key = name.replace("-", "_")
    words = f"**{ctx.say(f'number_{key}')}** {ctx.say(f'number_{key}_lead')}"
    return link(words, relative(uri, links.number_uri(name)))
