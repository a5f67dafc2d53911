"""The page on the battery: what it holds, how many nights, charging, heavy loads, and fuses."""

from __future__ import annotations

from markupsafe import Markup

from generator.compose.markdown import listing, paragraph
from generator.compose.number_forms import battery_form, form
from generator.compose.number_parts import NumberPage, grid, unasked
from generator.compose.number_plots import Axis, Line, line_chart
from generator.figures.battery import (
    LOAD_H_DAY,
    Battery,
    BatteryInput,
    battery,
    charge_over_days,
    solar_ah,
)
from generator.figures.figure import Ask, Row, honest
from generator.figures.wiring import OHM_KM_AT_20_C, WiringInput, run_drop_v, wiring

USES_AH_DAY = (10.0, 20.0, 40.0, 80.0)
PLOTTED = 3
DAYS = 3
RUN_M, RUN_A = 5.0, (5.0, 10.0, 20.0)
"""A run of so many metres one way, and currents in it, as examples."""
SUN_PSH = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0)
EXAMPLE_SOLAR_PCT, EXAMPLE_CHARGE_V = 70.0, 12.8
DRIVES_H = (1.0, 2.0, 4.0)


def write_battery(page: NumberPage, given: BatteryInput | None, lines: WiringInput | None) -> None:
    """Put the sections together; a unit may have a fuse box and no battery of its own."""
    if given is not None:
        _battery(page, given)
    if lines is not None:
        run, fuses = wiring(lines).figures
        page.add(fuses, page.ctx.say("answer_fuses"))
        page.add(run, page.ctx.say("answer_run"), _run(page))


def _run(page: NumberPage) -> str:
    """Return what a run loses by its section and current, over an example's length."""
    say = page.ctx.say
    head = [say("number_section"), *(f"{amps:g} A" for amps in RUN_A)]
    rows = [
        [f"{mm2:g} mm²", *(f"{honest(run_drop_v(mm2, amps, RUN_M), 2):.2f} V" for amps in RUN_A)]
        for mm2 in OHM_KM_AT_20_C
    ]
    lead = paragraph(say("number_run_example", metres=f"{RUN_M:g}"), "hint")
    return lead + "\n" + grid(head, rows)


def _battery(page: NumberPage, given: BatteryInput) -> None:
    say = page.ctx.say
    result = battery(given)
    nights, heavy = result.figures[:2]
    answer, more = "", ""
    if result.usable_ah is not None:
        usable = result.usable_ah
        answer = page.say(
            "answer_nights",
            usable=f"{honest(usable, 0, 'at most'):g}",
            use=f"{USES_AH_DAY[1]:g}",
            nights=f"{honest(usable / USES_AH_DAY[1], 1, 'at most'):g}",
        )
        more = grid(
            [say("number_ah_day"), say("number_nights")],
            [
                [f"{use:g} Ah", page.token(Row("", usable / use, "time_nights", 1, "at most"))]
                for use in USES_AH_DAY
            ],
        ) + page.drawing(_three_days(page, usable))
    loads = [
        Row(say("number_draws", load=one.label), amps, "draw_a", 1)
        for one in given.loads
        if (amps := one.amps) is not None
    ]
    ask = Ask("hours", say("ask_battery_hours"), LOAD_H_DAY.right)
    page.add(unasked(nights, ".h_day", ask), answer, more, rows=[*nights.rows, *loads])
    data = battery_form(page.ctx, given)
    if data:
        page.text += form(page, data)
    _sun(page, given, result)
    _charging(page, given, result)
    page.add(heavy, say("answer_heavy"))


def _sun(page: NumberPage, given: BatteryInput, result: Battery) -> None:
    """Add what the panel brings, by the hours of full sun that a month has where the reader is."""
    if given.power_wp is None:
        return
    say, power = page.ctx.say, given.power_wp
    use = USES_AH_DAY[1]
    rows = []
    for sun in SUN_PSH:
        ah = solar_ah(power, sun, EXAMPLE_SOLAR_PCT, EXAMPLE_CHARGE_V)
        nights = say("number_endless")
        if result.usable_ah is not None and ah < use:
            nights = f"{honest(result.usable_ah / (use - ah), 1, 'at most'):,g}"
        rows.append([f"{sun:g} h", page.token(f"{honest(ah, 1):,.1f} Ah"), page.token(nights)])
    page.open("sun", say("number_sun"))
    page.text += (
        paragraph(page.say("answer_sun", watts=f"{power:,g}"), "answer")
        + "\n"
        + grid(
            [
                say("number_sun_hours"),
                say("number_sun_brings"),
                say("number_sun_nights", use=f"{use:g}"),
            ],
            rows,
        )
        + listing((say("number_sun_example"), say("number_sun_months")))
        + "\n"
        + page.working((result.figures[3],))
    )
    page.close()


def _charging(page: NumberPage, given: BatteryInput, result: Battery) -> None:
    figure = result.figures[2]
    answer, more = "", ""
    if given.feed_a is not None:
        rows = [
            [f"{hours:g} h", page.token(f"{honest(given.feed_a * hours, 0, 'at most'):,g} Ah")]
            for hours in DRIVES_H
        ]
        more = grid([page.ctx.say("number_drive"), page.ctx.say("number_drive_brings")], rows)
    if result.charge_h is not None:
        answer = page.say("answer_charge", hours=f"{honest(result.charge_h, 1, 'at least'):g}")
    page.add(figure, answer, more)


def _three_days(page: NumberPage, usable: float) -> Markup:
    say = page.ctx.say
    lines = [
        Line(
            page.ctx.phrase(f"{use:g} Ah/day"),
            tuple(
                (float(day), left)
                for day, left in enumerate(charge_over_days(usable, use, 0, DAYS))
            ),
        )
        for use in USES_AH_DAY[:PLOTTED]
    ]
    step = usable / 4
    up = Axis(0, usable, tuple(round(n * step, 1) for n in range(5)), "Ah")
    across = Axis(0, DAYS, tuple(float(n) for n in range(DAYS + 1)), say("plot_days"))
    said = say(
        "plot_battery_alt",
        lines="; ".join(f"{line.label}: {line.points[-1][1]:g} Ah" for line in lines),
    )
    return line_chart(lines, across, up, said)
