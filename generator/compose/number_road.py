"""The pages on the road and the calendar: masses, tyres, weather, due dates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from urllib.parse import urlsplit

from generator.compose import links
from generator.compose.context import Context
from generator.compose.links import relative
from generator.compose.markdown import block, link, listing, paragraph
from generator.compose.number_forms import form, tyres_form, weather_form
from generator.compose.number_loading import write_loading
from generator.compose.number_parts import NumberPage, fold, grid
from generator.figures.dates import Dates, DatesInput, OwnDate, dates
from generator.figures.figure import Row, honest
from generator.figures.gather import Store
from generator.figures.imperial import psi_to_bar
from generator.figures.loading import LoadingInput
from generator.figures.masses import MassesInput, masses, payload_kg
from generator.figures.tyres import TyresInput, tyres
from generator.figures.weather import WeatherInput, dew_point_c, weather

CABIN_C = (10.0, 15.0, 20.0, 25.0)
HUMIDITY_PCT = (40.0, 60.0, 80.0)
PASSENGERS = range(4)
GAUGES_PSI = range(30, 85, 5)
NEVER_REVISED = date(2000, 1, 1)
"""Stands for the day of revision of a unit whose day of handover is not known."""


def write_masses(
    page: NumberPage, given: MassesInput, load: LoadingInput, stores: Sequence[Store]
) -> None:
    """Put the sections together: payload, where things lie, and the standard's least."""
    result = masses(given)
    payload, least = result.figures
    answer, more = "", ""
    if result.payload_kg is not None:
        answer = page.say("answer_payload", kg=f"{honest(result.payload_kg, 0, 'at most'):g}")
    elif given.mtplm_kg is not None and given.miro_kg is not None:
        rows = [(n, payload_kg(given.mtplm_kg, given.miro_kg, n)) for n in PASSENGERS]
        answer = page.say("answer_payload_driver", kg=f"{honest(rows[0][1], 0, 'at most'):g}")
        more = grid(
            [page.ctx.say("number_passengers"), page.ctx.say("number_payload")],
            [[f"{n}", page.token(Row("", kg, "payload_kg", 0, "at most"))] for n, kg in rows],
        )
    page.add(payload, answer, more)
    write_loading(page, load, stores)
    if result.least_payload_kg is not None:
        answer = page.say("answer_least", kg=f"{result.least_payload_kg:g}")
    page.add(least, answer if result.least_payload_kg is not None else "")


def write_tyres(page: NumberPage, given: TyresInput) -> None:
    """Put the sections together: pressure and torque, load, age."""
    result = tyres(given)
    load, age, wheels = result.figures
    answer = ""
    if given.pressure_bar is not None and given.torque_nm is not None:
        pressure, torque = (
            str(Row("", given.pressure_bar, "pressure_bar", 1)),
            str(Row("", given.torque_nm, "torque_nm")),
        )
        answer = page.say("answer_wheels", pressure=pressure, torque=torque)
    page.add(wheels, answer, _pressures(page))
    page.text += form(page, tyres_form(page.ctx, given))
    answer = ""
    if result.enough is not None:
        answer = page.ctx.say("answer_tyres_enough" if result.enough else "answer_tyres_weak")
    page.add(load, answer)
    answer = ""
    if result.replace_ideally is not None and result.replace_by is not None:
        answer = page.say(
            "answer_tyre_age",
            ideally=page.ctx.day(result.replace_ideally),
            latest=page.ctx.day(result.replace_by),
        )
    rows = [replace(row, value=_spoken(page.ctx, str(row))) for row in age.rows]
    page.add(age, answer, rows=rows)
    _speeds(page)


def _pressures(page: NumberPage) -> str:
    """Return what a gauge in psi shows, in the two other measures."""
    rows = [
        [
            f"{psi:g} psi",
            f"{honest(psi_to_bar(psi), 1):.1f} bar",
            f"{honest(100 * psi_to_bar(psi), 0):.0f} kPa",
        ]
        for psi in GAUGES_PSI
    ]
    say = page.ctx.say
    return fold(say("number_pressures"), grid([say("number_gauge"), "bar", "kPa"], rows))


def _speeds(page: NumberPage) -> None:
    """Say where the law on speed stands: it changes, and no guide keeps up with it."""
    say, unit = page.ctx.say, page.ctx.guide.unit
    page.open("speeds", say("number_speeds"))
    page.text += paragraph(
        say(f"answer_speeds_{'tow' if unit.sort == 'caravan' else 'motor'}"), "answer"
    )
    page.text += "\n" + listing((say("number_speeds_abroad"), say("number_speeds_tyres"))) + "\n"
    page.text += block(
        "choices",
        listing(
            (
                link(
                    f"**{say('number_speeds_link')}** {say('number_speeds_lead')}",
                    say("number_speeds_address"),
                ),
            )
        ),
    )
    page.close()


def write_weather(page: NumberPage, given: WeatherInput) -> None:
    """Put the sections together: frost, then the dew point."""
    dew, frost = weather(given).figures
    answer = ""
    if given.drain_c is not None:
        answer = page.say("answer_frost", drain=f"{given.drain_c:g} °C")
    page.add(frost, answer or page.ctx.say("answer_frost_ask"))
    head = [page.ctx.say("number_cabin"), *(f"{pct:g} %" for pct in HUMIDITY_PCT)]
    more = grid(
        head,
        [
            [
                f"{c:g} °C",
                *(
                    f"{honest(dew_point_c(c, pct), 0):g} °C".replace("-", "\u2212")
                    for pct in HUMIDITY_PCT
                ),
            ]
            for c in CABIN_C
        ],
    )
    page.add(dew, page.ctx.say("answer_dew"), more)
    page.text += form(page, weather_form(page.ctx, given))


def write_dates(page: NumberPage, ctx: Context) -> None:
    """Put the list of due dates together, with the calendar file beside it."""
    result = due_dates(ctx)
    (figure,) = result.figures
    rows = [Row(one.label, ctx.day(one.day)) for one in result.due]
    answer, more = ctx.say("answer_dates_none"), ""
    if result.due:
        first = result.due[0]
        answer = page.say("answer_dates", what=first.label, day=ctx.day(first.day))
        more = block(
            "choices",
            listing(
                (
                    link(
                        f"**{ctx.say('dates_calendar')}** {ctx.say('dates_calendar_lead')}",
                        relative(page.uri, links.DUE),
                    ),
                )
            ),
        )
    inputs = tuple(replace(one, value=_spoken(ctx, str(one))) for one in figure.inputs)
    notes = figure.notes
    if ctx.own.tyres is not None and ctx.own.tyres.retorque_km is not None:
        # By distance, so it has no day; but whoever looks for what is due must find it here.
        distance = Row("", ctx.own.tyres.retorque_km, "retorque_km", 0)
        notes = (ctx.say("dates_retorque", distance=distance), *notes)
    page.add(replace(figure, inputs=inputs, notes=notes), answer, more, rows=rows)


def due_dates(ctx: Context) -> Dates:
    """Return what falls due in a unit, its tyres' age included, with the calendar file."""
    guide = ctx.guide
    own = list(ctx.own.dates)
    if ctx.own.tyres is not None:
        result = tyres(ctx.own.tyres)
        for name, words, day in (
            ("tyres-ideally", "dates_tyres_ideally", result.replace_ideally),
            ("tyres-latest", "dates_tyres_latest", result.replace_by),
        ):
            own.append(OwnDate(name, ctx.say(words), due=day))
    return dates(
        DatesInput(
            code=guide.code or "GUIDE",
            host=urlsplit(guide.dealer.address).hostname or "guide.invalid",
            revised=guide.unit.delivered or NEVER_REVISED,
            own=tuple(own),
        )
    )


def _spoken(ctx: Context, value: str) -> str:
    """Return a text, a day in it as people write it."""
    try:
        return ctx.day(date.fromisoformat(value))
    except ValueError:
        return value
