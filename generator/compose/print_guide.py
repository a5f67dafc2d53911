"""A whole guide as typed pieces for paper."""

from __future__ import annotations

from collections.abc import Iterable

from generator.compose import links
from generator.compose.context import Context
from generator.compose.locator import describe_place
from generator.compose.place_page import fitting_facts
from generator.compose.print_numbers import print_numbers
from generator.compose.print_pieces import (
    fitting_reference,
    place_reference,
    print_symptom,
    print_task,
    task_reference,
    which_of,
)
from generator.compose.printed import (
    Entry,
    PrintedArea,
    PrintedFitting,
    PrintedGuide,
    PrintedPlace,
    PrintedPlan,
    PrintedPlanStep,
    PrintedRoutine,
)
from generator.compose.routine_page import preferred_ways, round_minutes, worth_showing
from generator.compose.runs import curl
from generator.fit.guide import VEHICLE
from generator.prove.prove import Plan, PlannedRoutine
from generator.read.units import Fitting, Spot


def print_guide(ctx: Context) -> PrintedGuide:
    """Return all of a guide, in the order in which it is printed."""
    guide = ctx.guide
    urgent = sorted(
        (task for task in guide.tasks if task.task.emergency), key=lambda t: t.task.emergency
    )
    return PrintedGuide(
        emergencies=tuple(print_task(ctx, task) for task in urgent),
        routines=tuple(print_routine(ctx, planned) for planned in ctx.proof.routines),
        places=tuple(_place(ctx, number, spot) for number, spot in enumerate(guide.places, 1)),
        areas=tuple(
            PrintedArea(
                name=name,
                title=curl(title),
                tasks=tuple(
                    print_task(ctx, task)
                    for task in guide.tasks
                    if task.task.area == name and not task.task.emergency
                ),
                symptoms=tuple(
                    print_symptom(ctx, symptom)
                    for symptom in guide.symptoms
                    if symptom.symptom.area == name
                ),
                fittings=tuple(
                    _fitting(ctx, fitting)
                    for fitting in guide.fittings.values()
                    if fitting.kind != VEHICLE and ctx.library.kinds[fitting.kind].area == name
                ),
            )
            for name, title in ctx.library.areas.items()
        ),
        numbers=print_numbers(ctx),
        symptom_index=_index(
            (
                f"{symptom.title} {which_of(ctx, symptom.subject)}".strip(),
                symptom.symptom.said,
                links.symptom_uri(symptom),
            )
            for symptom in guide.symptoms
        ),
        task_index=_index(
            (
                f"{task.title} {which_of(ctx, task.subject)}".strip(),
                task.task.called,
                links.task_uri(task),
            )
            for task in guide.tasks
        ),
    )


def print_routine(ctx: Context, planned: PlannedRoutine) -> PrintedRoutine:
    """Return a routine for paper. Its anchor is the file of its page."""
    several = len(worth_showing(planned)) > len(preferred_ways(planned))
    return PrintedRoutine(
        anchor=links.routine_uri(planned.routine.name),
        title=curl(planned.routine.title),
        purpose=curl(planned.routine.purpose),
        plans=tuple(_plan(ctx, plan, named=several) for plan in preferred_ways(planned)),
    )


def _plan(ctx: Context, plan: Plan, *, named: bool) -> PrintedPlan:
    return PrintedPlan(
        situation=curl(
            ctx.library.situations[plan.situation].title
            + (f". {plan.way.title}" if plan.way and named else "")
        ),
        minutes=round_minutes(plan.minutes),
        steps=tuple(
            PrintedPlanStep(
                task=task_reference(ctx, step.task) if step.task else None,
                place=ctx.spots[step.task.place].title
                if step.task and step.task.place in ctx.spots
                else "",
                by_hand=""
                if step.task
                else curl(
                    " ".join(
                        ctx.guide.variables[key].state.says[value]
                        for key, value in step.sets.items()
                    )
                ),
            )
            for step in plan.steps
        ),
    )


def _place(ctx: Context, number: int, spot: Spot) -> PrintedPlace:
    return PrintedPlace(
        anchor=links.place_uri(spot.name),
        name=spot.name,
        title=spot.title,
        number=number,
        inside=spot.wall == "inside",
        hint=curl(spot.hint),
        code=ctx.guide.place_codes.get(spot.name, ""),
        where=describe_place(spot, ctx.say),
        tasks=tuple(task_reference(ctx, task) for task in ctx.guide.tasks_at(spot.name)),
        holds=tuple(fitting_reference(f) for f in ctx.guide.fittings_at(spot.name)),
    )


def _fitting(ctx: Context, fitting: Fitting) -> PrintedFitting:
    kind = ctx.library.kinds[fitting.kind]
    spot = ctx.spots.get(fitting.place)
    return PrintedFitting(
        anchor=links.kit_uri(fitting.name),
        title=fitting.title,
        about=curl(kind.about),
        place=place_reference(spot) if spot else None,
        facts=tuple((curl(what), value) for what, value in fitting_facts(ctx, kind, fitting)),
    )


def _index(lines: Iterable[tuple[str, tuple[str, ...], str]]) -> tuple[Entry, ...]:
    """Return an index of (title, what people also say, anchor).

    Words that differ only in capitals are one entry with all their pages.
    """
    found: dict[str, tuple[str, bool, list[str]]] = {}
    for title, others, anchor in lines:
        for words in (title, *others):
            entry = found.setdefault(words.casefold(), (words, words == title, []))
            if anchor not in entry[2]:
                entry[2].append(anchor)
    return tuple(
        Entry(curl(words), main, tuple(anchors))
        for _, (words, main, anchors) in sorted(found.items())
    )
