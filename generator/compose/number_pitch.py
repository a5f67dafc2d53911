"""The page on what a pitch can run: for each usual rating the answer first, then all that fits."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from generator.compose.markdown import block, link, listing, paragraph
from generator.compose.number_forms import form, pitch_form
from generator.compose.number_parts import NumberPage, grid
from generator.compose.number_plots import Part, stacked_bar
from generator.figures.figure import Figure
from generator.figures.pitch import (
    MOST_LOADS,
    NOMINAL_V,
    USUAL_RATINGS_A,
    MainsLoad,
    Pitch,
    PitchInput,
    Running,
    pitch,
)

KETTLES_W = (1_000.0, 2_000.0)
"""Examples of what a reader brings: a small travelling kettle, and one of a house."""
LETTERS = "ABCDEFGHIJKLMN"
SHOWN_SETS = 4
"""Largest sets that are drawn; any further ones are folded away."""


def write_pitch(page: NumberPage, given: PitchInput) -> None:
    """Put the sections together, the ratings first."""
    say = page.ctx.say
    results = {amps: pitch(replace(given, rating_a=amps)) for amps in USUAL_RATINGS_A}
    jumps = (link(f"{amps:g} A", f"#at-{amps:g}-a") for amps in USUAL_RATINGS_A)
    page.text += block("jump", listing(jumps))
    for amps, result in results.items():
        _rating(page, given, amps, result)
    page.text += form(page, pitch_form(page.ctx, given))
    figures = {figure.name: figure for figure in results[USUAL_RATINGS_A[0]].figures}
    budget = _without_rating(figures["pitch-budget"])
    page.add(replace(budget, title=say("number_pitch_rule")), say("answer_pitch_rule"), rows=())
    if given.loads:
        cells = [
            [f"{amps:g} A", f"{result.holds_a:.2f} A", f"{result.trips_a:.2f} A"]
            for amps, result in results.items()
        ]
        page.add(
            _without_rating(figures["breaker"]),
            say("answer_breaker"),
            grid([say("number_rating"), say("number_holds"), say("number_trips")], cells),
            rows=(),
        )
    _lead(page, results)
    if given.loads:
        page.add(_without_rating(figures["low-voltage"]), say("answer_low_voltage"))


def _without_rating(figure: Figure) -> Figure:
    """Return a figure that stands for all ratings: the rating itself is none of its inputs."""
    return replace(figure, inputs=tuple(i for i in figure.inputs if i.key != "rating_a"))


def _rating(page: NumberPage, given: PitchInput, amps: float, result: Pitch) -> None:
    say = page.say
    limit = min(amps, given.inlet_a or amps)
    watts = limit * NOMINAL_V
    page.open(f"at-{amps:g}-a", say("pitch_at", amps=f"{amps:g}", watts=f"{watts:,.0f}"))
    sets = sorted(result.sets, key=lambda one: (-len(one.on), -one.watts))
    if not sets or not sets[0].on:
        page.text += paragraph(say("pitch_only", watts=f"{watts:,.0f}"), "answer")
    else:
        page.text += paragraph(
            f"{page.ctx.say('pitch_together')} {_names(page, given, sets[0])}.", "answer"
        )
        page.text += "\n" + _drawn(page, given, limit, sets[0])
        more = [_drawn(page, given, limit, one) for one in sets[1:]]
        if more:
            page.text += paragraph(f"**{page.ctx.say('pitch_or')}**") + "\n"
            page.text += "".join(more[: SHOWN_SETS - 1])
        if len(more) >= SHOWN_SETS:
            rest = more[SHOWN_SETS - 1 :]
            page.text += (
                f'<details markdown="1">\n<summary>{say("pitch_more", count=len(rest))}'
                f"</summary>\n\n{''.join(rest)}</details>\n\n"
            )
    rows = [*_alone(page, given, limit), *_stages(page, given, result)]
    rows += [_kettle(page, given, amps, one) for one in KETTLES_W if len(given.loads) < MOST_LOADS]
    page.text += listing(f"**{what}:** {said}" for what, said in rows) + "\n"
    page.close()


def _names(page: NumberPage, given: PitchInput, running: Running) -> str:
    """Return the appliances of a set, those with several stages with their watts."""
    parts = []
    for load in given.loads:
        if load.name in running.on:
            stage = f" {running.on[load.name]:,.0f} W" if len(load.stages_w) > 1 else ""
            parts.append(page.token(f"{load.label}{stage}"))
    return _joined(parts, page.ctx.say("and"))


def _joined(parts: Sequence[str], word: str) -> str:
    return f" {word} ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)


def _drawn(page: NumberPage, given: PitchInput, limit: float, running: Running) -> str:
    """Return a set as a bar, with its appliances by letter and watts."""
    parts, lines = [], []
    for number, load in enumerate(given.loads):
        watts = running.on.get(load.name)
        if watts:
            letter = LETTERS[number % len(LETTERS)]
            # In amperes, as the sum is: a load that keeps its power takes more at a low voltage.
            parts.append(Part(letter, watts / NOMINAL_V, number))
            lines.append((letter, page.ctx.phrase(f"{load.label} {watts:,.0f} W")))
    sums = page.ctx.say(
        "pitch_sum",
        watts=page.ctx.phrase(f"{running.watts:,.0f}"),
        whole=page.ctx.phrase(f"{limit * NOMINAL_V:,.0f}"),
    )
    said = f"{'; '.join(label for _, label in lines)}. {sums}"
    key = " · ".join(f"**{letter}** {page.values.token(label)}" for letter, label in lines)
    drawing = page.token(stacked_bar(parts, limit, said))
    return block("set", f"{drawing}\n{key}. <small>{page.token(sums)}</small>\n")


def _alone(page: NumberPage, given: PitchInput, limit: float) -> list[tuple[str, str]]:
    """Return what is too much for a pitch even alone."""
    return [
        (page.token(f"{load.label}, {watts:,.0f} W"), page.ctx.say("pitch_too_much"))
        for load in given.loads
        for watts in load.stages_w
        if watts / NOMINAL_V > limit
    ]


def _stages(page: NumberPage, given: PitchInput, result: Pitch) -> list[tuple[str, str]]:
    """Return the highest stage of each heater beside the rest of what is fitted."""
    labels = {load.name: load.label for load in given.loads}
    return [
        (
            page.say("pitch_stage", load=labels[name]),
            page.say("pitch_up_to", watts=f"{watts:,.0f}")
            if watts
            else page.ctx.say("pitch_must_be_off"),
        )
        for name, watts in result.stage_beside_rest.items()
    ]


def _kettle(page: NumberPage, given: PitchInput, amps: float, watts: float) -> tuple[str, str]:
    """Return what must be off for a kettle of so many watts, and what may stay on."""
    say = page.ctx.say
    kettle = MainsLoad("kettle-of-yours", say("pitch_kettle_name"), (watts,), own=True)
    loads = (*given.loads, kettle)
    (beside,) = pitch(replace(given, rating_a=amps, loads=loads)).beside
    label = page.say("pitch_kettle", watts=f"{watts:,.0f}")
    if not beside.fits:
        return label, say("pitch_too_much")
    names: Mapping[str, str] = {load.name: load.label for load in given.loads}
    lines = []
    if beside.must_be_off:
        off = [page.token(names[name]) for name in beside.must_be_off]
        lines.append(f"{say('pitch_off_first')} {_joined(off, say('and'))}.")
    best = max(beside.sets, key=lambda one: (len(one.on), one.watts))
    on = [
        page.token(f"{names[name]} {power:,.0f} W")
        for name, power in best.on.items()
        if name in names
    ]
    if on:
        lines.append(f"{say('pitch_may_stay')} {_joined(on, say('and'))}.")
    return label, " ".join(lines) or say("pitch_nothing_else")


def _lead(page: NumberPage, results: Mapping[float, Pitch]) -> None:
    """Add what the lead loses, at each rating up to that of the inlet."""
    say = page.ctx.say
    figures = {amps: result.figures[-1] for amps, result in results.items()}
    worst = figures[max(figures)]
    rows = []
    for amps, result in results.items():
        if result.drop_v is not None:
            values = [str(row) for row in figures[amps].rows]
            rows.append([f"{amps:g} A", *map(page.token, values)])
    answer = ""
    if rows:
        answer = page.say("answer_lead", volts=str(worst.rows[0]), amps=f"{max(figures):g}")
    page.add(
        _without_rating(worst),
        answer,
        grid([say("number_rating"), say("number_lost"), say("number_share")], rows),
        rows=(),
    )
