"""The pages of numbers that an owner asks for, and the page that leads to them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import partial

from generator.compose import links
from generator.compose.context import Context
from generator.compose.markdown import listing, paragraph
from generator.compose.number_battery import write_battery
from generator.compose.number_parts import NumberPage
from generator.compose.number_pitch import write_pitch
from generator.compose.number_road import (
    due_dates,
    write_dates,
    write_masses,
    write_tyres,
    write_weather,
)
from generator.compose.number_stores import write_gas, write_hot_water, write_water
from generator.compose.numbers import number_choices, numbers_of_fitting, numbers_of_unit
from generator.compose.page import Page, Values
from generator.figures.figure import FigureInputError
from generator.read.numbers import NUMBERS

DATED = ("dates",)
"""Numbers that follow from the day of handover, and so differ between units that are alike."""


def number_pages(ctx: Context) -> Iterator[Page]:
    """Yield each page of numbers, noting inputs of the unit that cannot be right."""
    yield from _pages_of(ctx, numbers_of_unit(ctx.own))


def equipment_number_pages(ctx: Context) -> list[Callable[[], Iterable[Page]]]:
    """Return what makes the list of numbers, and the pages of those of the equipment."""
    names = [name for name in numbers_of_unit(ctx.own) if name not in DATED]
    return [lambda: (_list_page(ctx),), *(partial(_pages_of, ctx, (name,)) for name in names)]


def dated_number_pages(ctx: Context) -> Iterator[Page]:
    """Yield the pages of numbers that follow from the day of handover."""
    yield from _pages_of(ctx, (n for n in numbers_of_unit(ctx.own) if n in DATED))


def _pages_of(ctx: Context, names: Iterable[str]) -> Iterator[Page]:
    for name in names:
        page = NumberPage(ctx, name)
        try:
            _write(page, ctx)
        except FigureInputError as error:
            _note(ctx, name, error)
        else:
            yield page.finish()


def calendar_file(ctx: Context) -> str:
    """Return the calendar file (RFC 5545) of what falls due; empty where nothing does."""
    try:
        result = due_dates(ctx)
    except FigureInputError:
        return ""  # noted with the page of the dates
    return result.calendar if result.due else ""


def _note(ctx: Context, name: str, error: FigureInputError) -> None:
    """Note an input that cannot be right where the unit states it: at the fitting that has it."""
    whose, _, attribute = error.key.rpartition(".")
    unit = ctx.guide.unit
    at = next(
        (
            fitting.at
            for fitting in unit.fitted
            if whose in ("", fitting.name)
            and attribute.partition("[")[0] in fitting.values
            and name in numbers_of_fitting(ctx, fitting)
        ),
        unit.at,
    )
    ctx.problems.add(at, f"numbers/{name}: {error.key}", error.wrong, error.right)


def _list_page(ctx: Context) -> Page:
    uri, values, say = links.NUMBERS, Values(), ctx.say
    text = (
        f"# {say('numbers')}\n\n"
        + paragraph(say("numbers_lead"), "purpose")
        + "\n"
        + number_choices(ctx, NUMBERS, uri)
        + listing(say(f"numbers_note_{n}") for n in (1, 2, 3))
    )
    return ctx.page(uri, say("numbers"), "list", text, values, say("numbers_lead"))


def _write(page: NumberPage, ctx: Context) -> None:
    own = ctx.own
    if page.name == "pitch" and own.pitch is not None:
        write_pitch(page, own.pitch)
    elif page.name == "gas":
        write_gas(page, own.gas)
    elif page.name == "hot-water":
        write_hot_water(page, own.hot_water)
    elif page.name == "battery":
        write_battery(page, own.battery, own.wiring)
    elif page.name == "water" and own.water is not None:
        write_water(page, own.water)
    elif page.name == "masses":
        write_masses(page, own.masses, own.loading, own.stores)
    elif page.name == "tyres" and own.tyres is not None:
        write_tyres(page, own.tyres)
    elif page.name == "weather":
        write_weather(page, own.weather)
    elif page.name == "dates":
        write_dates(page, ctx)
