"""The pages on what a unit carries: gas, hot water, water."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup

from generator.compose.context import Context
from generator.compose.markdown import paragraph
from generator.compose.number_forms import form, gas_form, hot_water_form, water_form
from generator.compose.number_parts import NumberPage, grid, unasked
from generator.compose.number_plots import Axis, Line, line_chart
from generator.figures.figure import Ask, Figure, Origin, Row, honest
from generator.figures.gas import (
    ATMOSPHERE_BAR,
    BOUNDS,
    HOURS_A_DAY,
    HOURS_H_DAY,
    SEASONS,
    Gas,
    GasAppliance,
    GasInput,
    gas,
    gauge_bar,
)
from generator.figures.hot_water import HotWaterInput, hot_water
from generator.figures.water import (
    STRENGTH_PCT,
    WaterInput,
    disinfectant_ml,
    water,
)

DAY_H = (1, 4, 24)
"""Hours a day at full output for which the days of one cylinder are tabulated."""
FILLS_C = (5.0, 10.0, 15.0, 20.0)
"""Temperatures of what is filled in: winter tap to a tank in summer."""
EXAMPLE_FILL_C = 10.0
EXAMPLE_MIX_C = 38.0
USES_L_DAY = (10.0, 20.0, 40.0, 80.0)
DOSES_MG_L = (20.0, 50.0)
STRENGTHS_PCT = (1.0, 2.5, 5.0, 10.0)
COLD_C = (-40, 40)
"""From the coldest of the chart to the hottest."""


def write_gas(page: NumberPage, several: Sequence[GasInput]) -> None:
    """Put the sections together: for cylinders, and for a tank where there is one as well."""
    data = gas_form(page.ctx, several)
    for number, given in enumerate(several):
        result = gas(given)
        also = f"-{number + 1}" if number else ""
        parts = (_consumption, _days, _cold)
        for part, figure in zip(parts, result.figures, strict=True):
            # Where there are several stores, each is named with what is said of it.
            heading = page.ctx.phrase(figure.title)
            if len(several) > 1:
                heading = f"{page.token(given.label)}: {page.ctx.in_list(heading)}"
            part(page, given, result, _Section(figure, f"{figure.name}{also}", heading))
            if data and part is _days and not number:
                page.text += form(page, data)


@dataclass(frozen=True, slots=True)
class _Section:
    """A figure with the name and the heading of its section on the page."""

    figure: Figure
    name: str
    heading: str


def _consumption(page: NumberPage, given: GasInput, result: Gas, section: _Section) -> None:
    labels = {one.name: one.label for one in given.appliances}
    answer = ""
    if result.hours:
        name = max(result.g_h, key=lambda n: result.g_h[n])
        answer = page.say(
            "answer_tank" if given.capacity_l else "answer_cylinder",
            load=labels[name],
            hours=f"{honest(result.hours[name], 0):,.0f}",
            mass=f"{result.mass_kg:.1f}".removesuffix(".0"),
        )
    page.add(section.figure, answer, name=section.name, heading=section.heading)


def _days(page: NumberPage, given: GasInput, result: Gas, section: _Section) -> None:
    say, labels = page.ctx.say, {one.name: one.label for one in given.appliances}
    answer, example = say("answer_gas_days"), ""
    days = gas(replace(given, appliances=example_day(page.ctx, given)))
    if days.one_days:
        summer, winter = (f"{honest(days.one_days[season], 1):,g}" for season in SEASONS)
        answer = page.say("answer_gas_seasons", summer=summer, winter=winter)
        example = _seasons(page, given, days)
    rows = [
        [page.token(labels[name])]
        + [page.token(f"{honest(hours / a_day, 1):,.1f}") for a_day in DAY_H]
        for name, hours in result.hours.items()
    ]
    head = [say("number_days_alone"), *(f"{a_day} h" for a_day in DAY_H)]
    # Every appliance's hours are asked for in two seasons: said once, not line by line.
    page.add(
        unasked(section.figure, "_h_day", Ask("hours", say("ask_gas_hours"), HOURS_H_DAY.right)),
        answer,
        example + grid(head, rows),
        name=section.name,
        heading=section.heading,
    )


def example_day(ctx: Context, given: GasInput) -> tuple[GasAppliance, ...]:
    """Return the appliances with the hours of an example day, where their kinds give them."""
    kinds = {fitting.name: ctx.library.kinds[fitting.kind] for fitting in ctx.guide.unit.fitted}
    loads = {
        name: load for name, kind in kinds.items() for load in kind.loads if load.supply == "gas"
    }
    return tuple(
        replace(
            one,
            summer_h_day=loads[one.name].summer_h,
            winter_h_day=loads[one.name].winter_h,
            hours_origin=Origin.EXAMPLE,
        )
        for one in given.appliances
    )


def _seasons(page: NumberPage, given: GasInput, days: Gas) -> str:
    """Return an example of a summer day beside one of winter, with what the cold does."""
    say = page.ctx.say
    head = [say("number_season_day"), *(say(f"season_{season}") for season in SEASONS)]
    burning = [
        [page.token(one.label), *(f"{one.hours(season):g} h" for season in SEASONS)]
        for one in example_day(page.ctx, given)
    ]
    lasting = [
        [say("number_day_burns"), *(f"{_number(page, days.g_day[s], 0)} g" for s in SEASONS)],
        [say("number_one_days"), *(_in_days(page, days.one_days[s]) for s in SEASONS)],
        [
            say("number_one_hours"),
            *(f"{_number(page, days.one_days[s] * HOURS_A_DAY, 0)} h" for s in SEASONS),
        ],
    ]
    if given.count > 1:
        lasting.append([say("number_all_days"), *(_in_days(page, days.days[s]) for s in SEASONS)])
    cold = worst_in_cold(days)
    note = ""
    if cold is not None:
        fluid, lowest = cold
        words = page.say("answer_cold", fluid=fluid, temperature=_degrees(honest(lowest, 0)))
        note = paragraph(f"**{say('number_in_winter')}** {words}", "hint") + "\n"
    return (
        paragraph(say("number_season_example"), "hint")
        + "\n"
        + grid(head, burning + lasting)
        + note
    )


def worst_in_cold(result: Gas) -> tuple[str, float] | None:
    """Return the pure gas that stops feeding first as it gets cold, and when, if it is known."""
    return max(result.lowest_feed_c.items(), key=lambda one: one[1], default=None)


def _number(page: NumberPage, value: float, digits: int) -> str:
    return page.token(f"{honest(value, digits):,.{digits}f}")


def _in_days(page: NumberPage, days: float) -> str:
    return page.ctx.say("days_of", count=_number(page, days, 1))


def _cold(page: NumberPage, given: GasInput, result: Gas, section: _Section) -> None:
    answer, chart = "", ""
    cold = worst_in_cold(result)
    if cold is not None:
        fluid, lowest = cold
        answer = page.say("answer_cold", fluid=fluid, temperature=_degrees(honest(lowest, 0)))
    if given.gas is not None:
        chart = page.drawing(_vapour(page, given))
    page.add(section.figure, answer, chart, name=section.name, heading=section.heading, folded=True)


def _vapour(page: NumberPage, given: GasInput) -> Markup:
    assert given.gas is not None
    low, high = COLD_C
    lines = [
        Line(fluid, tuple((float(c), gauge_bar(fluid, c)) for c in range(low, high + 1, 5)))
        for fluid in reversed(BOUNDS[given.gas])
    ]
    top = 2.0 * math.ceil(max(y for line in lines for _, y in line.points) / 2)
    say = page.ctx.say
    up = Axis(-ATMOSPHERE_BAR, top, tuple(n * top / 4 for n in range(5)), say("plot_bar"))
    across = Axis(low, high, tuple(range(low, high + 1, 20)), say("plot_liquid"))
    level = None
    if given.outlet_mbar is not None:
        need = given.outlet_mbar / 1_000
        level = Line(say("plot_needed"), ((float(low), need), (float(high), need)))
    said = say(
        "plot_vapour_alt",
        lines="; ".join(
            f"{line.label} {line.points[0][1]:.1f} bar at {_degrees(low)} and "
            f"{line.points[-1][1]:.1f} bar at {_degrees(high)}"
            for line in lines
        ),
    )
    return line_chart(lines, across, up, said, level)


def _degrees(c: float) -> str:
    return f"{c:g} °C".replace("-", "\u2212")


def write_hot_water(page: NumberPage, several: Sequence[HotWaterInput]) -> None:
    """Put the sections together: each temperature that can be chosen, then the shower."""
    for number, given in enumerate(several):
        example = replace(
            given,
            fill_c=EXAMPLE_FILL_C,
            origins={**given.origins, "fill_c": Origin.EXAMPLE},
        )
        _heating(page, example, f"-{number + 1}" if number else "")
    data = hot_water_form(page.ctx, several)
    page.text += form(page, data) if data else ""
    hottest = max(several, key=lambda one: one.hot_c or 0)
    mix = EXAMPLE_MIX_C if hottest.hot_c and hottest.hot_c >= EXAMPLE_MIX_C else None
    shown = hot_water(
        replace(
            hottest,
            fill_c=EXAMPLE_FILL_C,
            mix_c=mix,
            origins={
                **hottest.origins, "fill_c": Origin.EXAMPLE, "mix_c": Origin.EXAMPLE,
            },
        )
    )  # fmt: skip
    _, shower, scald = shown.figures
    answer = ""
    if shown.mixed_l is not None:
        litres = f"{honest(shown.mixed_l, 1, 'at most'):g}"
        answer = page.say("answer_shower", litres=litres, mix=_degrees(EXAMPLE_MIX_C))
    page.add(shower, answer)
    seconds = shown.scald_s
    page.add(
        scald,
        page.say("answer_scald", hot=_degrees(hottest.hot_c or 0), seconds=f"{seconds:g}")
        if seconds is not None
        else page.ctx.say("answer_scald_none"),
    )


def _heating(page: NumberPage, given: HotWaterInput, also: str) -> None:
    result = hot_water(given)
    figure = result.figures[0]
    answer, more = "", ""
    if result.minutes:
        # Most people heat on mains first; the strongest stage of it answers.
        name, minutes = min(
            ((n, m) for n, m in result.minutes.items() if " and " not in n),
            key=lambda one: one[1],
        )
        answer = page.say(
            "answer_heat",
            minutes=f"{honest(minutes, 0, 'at least'):g}",
            way=name,
            hot=_degrees(given.hot_c or 0),
            fill=_degrees(given.fill_c or 0),
        )
        fits = [c for c in FILLS_C if c < (given.hot_c or 0)]
        times = {c: hot_water(replace(given, fill_c=c)).minutes for c in fits}
        more = grid(
            [page.ctx.say("number_filled_at"), *(f"{c:g}" for c in fits)],
            [
                [page.token(f"{n[0].upper()}{n[1:]}")]
                + [page.token(f"{honest(times[c][n], 0, 'at least'):g}") for c in fits]
                for n in result.minutes
            ],
        )
    heading = (
        page.say("number_heat_to", hot=_degrees(given.hot_c)) if given.hot_c is not None else ""
    )
    rows = [row for row in figure.rows if row.key != "time_min"]
    page.add(figure, answer, more, heading=heading, name=f"{figure.name}{also}", rows=rows)


def write_water(page: NumberPage, given: WaterInput) -> None:
    """Put the sections together: days, dose, the pump's time."""
    lasting, filling, dosing = water(given).figures
    answer, more = "", ""
    if given.fresh_l is not None:
        days = [given.fresh_l / use for use in USES_L_DAY]
        answer = page.say(
            "answer_water",
            litres=f"{given.fresh_l:g}",
            use=f"{USES_L_DAY[1]:g}",
            days=f"{honest(days[1], 1):g}",
        )
        more = grid(
            [page.ctx.say("number_used_a_day"), page.ctx.say("number_days")],
            [
                [f"{use:g} l", page.token(str(Row("", day, "time_days", 1, "about")))]
                for use, day in zip(USES_L_DAY, days, strict=True)
            ],
        )
    page.add(lasting, answer, more)
    page.text += form(page, water_form(page.ctx, given))
    page.add(filling)
    _dose(page, given, dosing)


def _dose(page: NumberPage, given: WaterInput, figure: Figure) -> None:
    more = ""
    if given.fresh_l is not None:
        litres = given.fresh_l
        more = grid(
            [page.ctx.say("number_strength"), *(f"{dose:g} mg/l" for dose in DOSES_MG_L)],
            [
                [f"{strength:g} %"]
                + [
                    page.token(f"{honest(disinfectant_ml(litres, dose, strength), 1):g} ml")
                    for dose in DOSES_MG_L
                ]
                for strength in STRENGTHS_PCT
                if STRENGTH_PCT.low <= strength <= STRENGTH_PCT.high
            ],
        )
        more = f"{page.say('number_dose_for', litres=f'{litres:g}')}\n\n{more}"
    page.add(figure, page.ctx.say("answer_dose"), more)
