"""A guide's tasks and symptoms as typed pieces for paper."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from generator.compose import links
from generator.compose.body import Step
from generator.compose.context import Context
from generator.compose.links import Linker
from generator.compose.markdown import sign_name
from generator.compose.notices import notice_cautions
from generator.compose.page import Values, fill_plain
from generator.compose.printed import (
    PrintedAnswer,
    PrintedCaution,
    PrintedCheck,
    PrintedExpectation,
    PrintedNeed,
    PrintedNext,
    PrintedStep,
    PrintedSymptom,
    PrintedTask,
    Reference,
)
from generator.compose.runs import Find, Runs, curl, read_blocks, read_runs
from generator.compose.task_page import (
    cautions_first,
    next_in_routines,
    read_bound_body,
    ways_to,
    who_may,
)
from generator.fit.guide import BoundSymptom, BoundTask
from generator.prove.prove import PlannedRoutine
from generator.read.library import Caution
from generator.read.symptoms import Answer
from generator.read.units import Fitting, Spot


def print_task(ctx: Context, bound: BoundTask) -> PrintedTask:
    """Return a task for paper. Its anchor is the file of its page."""
    task = bound.task
    body, values = read_bound_body(ctx, bound)
    linker = Linker(ctx.guide, bound.place, bound.subject.name)
    by_name, find = values.by_name, finder(ctx, linker)
    spot = ctx.spots.get(bound.place)
    own_code = ctx.guide.task_codes.get(bound.slug, "")
    return PrintedTask(
        anchor=links.task_uri(bound),
        title=curl(bound.title),
        which=which_of(ctx, bound.subject),
        purpose=curl(task.purpose),
        minutes=task.minutes,
        place=place_reference(spot) if spot else None,
        code=own_code or ctx.guide.place_codes.get(bound.place, ""),
        tools=curl(", ".join(f"{tool[0].lower()}{tool[1:]}" for tool in task.tools)),
        licensed=curl(who_may(ctx, bound)),
        cautions=(
            *_notices(ctx, bound),
            *(print_caution(ctx, c) for c in cautions_first(bound, body)),
        ),
        before=_before(ctx, bound, linker),
        context=read_blocks(body.context, by_name, find),
        steps=tuple(_step(ctx, step, by_name, find) for step in body.steps),
        result=read_blocks(body.result, by_name, find),
        trouble=read_blocks(body.trouble, by_name, find),
        see_also=tuple(
            symptom_reference(ctx, symptom)
            for name in task.symptoms
            if (symptom := linker.symptom(name))
        ),
        afterwards=read_blocks(body.afterwards, by_name, find),
        next=tuple(
            PrintedNext(routine_reference(planned), task_reference(ctx, after) if after else None)
            for planned, after in next_in_routines(ctx, bound)
        ),
    )


def print_symptom(ctx: Context, bound: BoundSymptom) -> PrintedSymptom:
    """Return a symptom for paper. Its anchor is the file of its page."""
    symptom = bound.symptom
    linker = Linker(ctx.guide, bound.subject.place, bound.subject.name)
    find = finder(ctx, linker)
    return PrintedSymptom(
        anchor=links.symptom_uri(bound),
        title=curl(bound.title),
        which=which_of(ctx, bound.subject),
        said=tuple(curl(words) for words in symptom.said),
        cautions=tuple(print_caution(ctx, caution) for caution in bound.cautions),
        expects=tuple(
            PrintedExpectation(
                task_reference(ctx, task), tuple(_says(ctx, task, index) for index in range(count))
            )
            for name in symptom.expects
            if (task := linker.task(name)) and (count := len(task.needs))
        ),
        checks=tuple(
            PrintedCheck(
                read_runs(check.ask, {}, find),
                _answer(ctx, check.yes, linker, find),
                _answer(ctx, check.no, linker, find),
            )
            for check in bound.checks
        ),
        ends=read_runs(symptom.ends, {}, find),
    )


def print_caution(
    ctx: Context, caution: Caution, values: Mapping[str, str] | None = None
) -> PrintedCaution:
    """Return a caution for paper."""
    known = values or {}
    return PrintedCaution(
        word=caution.word,
        sign=sign_name(caution, ctx.drawings.signs),
        hazard=read_runs(caution.hazard, known, _nowhere),
        consequence=read_runs(caution.consequence, known, _nowhere),
        avoidance=read_runs(caution.avoidance, known, _nowhere),
    )


def _notices(ctx: Context, bound: BoundTask) -> Iterator[PrintedCaution]:
    """Yield the safety notices about a task's equipment."""
    values = Values()
    about = [bound.subject.name, *(role.name for role in bound.roles.values())]
    for caution in notice_cautions(ctx, about, values):
        yield print_caution(ctx, caution, values.by_name)


def finder(ctx: Context, linker: Linker) -> Find:
    """Return the function that finds the anchor of a link's target; the vehicle has no page."""

    def find(sort: str, name: str) -> str | None:
        return None if (sort, name) == ("kind", "vehicle") else linker.target(sort, name)

    return find


def which_of(ctx: Context, fitting: Fitting) -> str:
    """Return which of several fittings is meant; nothing where there is only one."""
    values = Values()
    return fill_plain(ctx.which(fitting, values), values.by_name).strip()


def task_reference(ctx: Context, task: BoundTask) -> Reference:
    """Return a reference to a task."""
    return Reference(curl(task.title), links.task_uri(task), which_of(ctx, task.subject))


def symptom_reference(ctx: Context, symptom: BoundSymptom) -> Reference:
    """Return a reference to a symptom."""
    return Reference(
        curl(symptom.title), links.symptom_uri(symptom), which_of(ctx, symptom.subject)
    )


def routine_reference(planned: PlannedRoutine) -> Reference:
    """Return a reference to a routine."""
    return Reference(curl(planned.routine.title), links.routine_uri(planned.routine.name))


def place_reference(spot: Spot) -> Reference:
    """Return a reference to a place."""
    return Reference(spot.title, links.place_uri(spot.name))


def fitting_reference(fitting: Fitting) -> Reference:
    """Return a reference to a fitting."""
    return Reference(fitting.title, links.kit_uri(fitting.name))


def _nowhere(sort: str, name: str) -> None:
    return None


def _before(ctx: Context, bound: BoundTask, linker: Linker) -> tuple[PrintedNeed, ...]:
    return tuple(
        PrintedNeed(
            _says(ctx, bound, index),
            tuple(task_reference(ctx, way) for way in ways_to(ctx, need, linker)),
        )
        for index, need in enumerate(bound.needs)
    )


def _says(ctx: Context, bound: BoundTask, index: int) -> str:
    values = Values()
    return fill_plain(curl(ctx.says(bound.needs[index], values)), values.by_name)


def _step(ctx: Context, step: Step, values: Mapping[str, str], find: Find) -> PrintedStep:
    def lines(texts: list[str]) -> tuple[Runs, ...]:
        return tuple(read_runs(text, values, find) for text in texts)

    return PrintedStep(
        cautions=tuple(print_caution(ctx, ctx.library.cautions[name]) for name in step.cautions),
        command=read_runs(step.command, values, find),
        notes=lines(step.notes),
        then=lines(step.then),
        if_not=lines(step.if_not),
        picture=step.picture,
    )


def _answer(
    ctx: Context, answer: Answer | None, linker: Linker, find: Callable[[str, str], str | None]
) -> PrintedAnswer | None:
    if answer is None:
        return None
    task = next((t for name in answer.tasks if (t := linker.task(name))), None)
    symptom = next((s for name in answer.symptoms if (s := linker.symptom(name))), None)
    leads = [task_reference(ctx, task)] if task else []
    leads += [symptom_reference(ctx, symptom)] if symptom else []
    return PrintedAnswer(read_runs(answer.do, {}, find), tuple(leads), answer.stop)
