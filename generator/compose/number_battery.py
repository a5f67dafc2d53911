"""The page on the battery: what it holds, how many nights, charging, heavy loads, and fuses."""

from __future__ import annotations

from markupsafe import Markup

from generator.compose.number_forms import battery_form, form
from generator.compose.number_parts import NumberPage, grid, unasked
from generator.compose.number_plots import Axis, Line, line_chart
from generator.figures.battery import (
    LOAD_H_DAY,
    Battery,
    BatteryInput,
    battery,
    charge_over_days,
)
from generator.figures.figure import Ask, Row, honest
from generator.figures.wiring import WiringInput, wiring

USES_AH_DAY = (10.0, 20.0, 40.0, 80.0)
PLOTTED = 3
DAYS = 3


def write_battery(page: NumberPage, given: BatteryInput | None, lines: WiringInput | None) -> None:
    """Put the sections together; a unit may have a fuse box and no battery of its own."""
    if given is not None:
        _battery(page, given)
    if lines is not None:
        run, fuses = wiring(lines).figures
        page.add(fuses, page.ctx.say("answer_fuses"))
        page.add(run, page.ctx.say("answer_run"))


def _battery(page: NumberPage, given: BatteryInput) -> None:
    say = page.ctx.say
    result = battery(given)
    nights, heavy, _ = result.figures
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
    _charging(page, result)
    page.add(heavy, say("answer_heavy"))


def _charging(page: NumberPage, result: Battery) -> None:
    figure = result.figures[2]
    answer = ""
    if result.charge_h is not None:
        answer = page.say("answer_charge", hours=f"{honest(result.charge_h, 1, 'at least'):g}")
    page.add(figure, answer)


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
