"""The page of a bound task, its sections in the order of OASIS DITA's task."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from markupsafe import Markup

from generator.compose import links
from generator.compose.body import Body, Step, decide_text, read_body
from generator.compose.context import Context
from generator.compose.film import film_of_task
from generator.compose.howto import howto
from generator.compose.links import Linker, relative
from generator.compose.markdown import (
    block,
    caution_block,
    caution_line,
    link,
    listing,
    paragraph,
    section,
)
from generator.compose.notices import notices_at_top
from generator.compose.numbers import number_choices
from generator.compose.page import Page, Values
from generator.fit.fit import text_scope
from generator.fit.guide import BoundTask, Need
from generator.problems import Problems
from generator.prove.prove import PlannedRoutine
from generator.read.library import Caution
from generator.read.units import Spot

MOST_WAYS = 3
"""How many tasks "before you start" offers for one need; more would only confuse."""


def task_page(ctx: Context, bound: BoundTask, uri: str) -> Page:
    """Return the page of a task, at its own address or behind a sticker."""
    task, say = bound.task, ctx.say
    body, values = read_bound_body(ctx, bound)
    above = cautions_first(bound, body)
    spot = ctx.spots.get(bound.place)
    linker = Linker(ctx.guide, bound.place, bound.subject.name)
    resolve = linker.resolve(task.body_at, ctx.problems)
    text = (
        f"# {bound.title}{ctx.which(bound.subject, values, bound)} {{: #title }}\n\n"
        + paragraph(task.purpose, "purpose")
        + "\n"
        + _facts(ctx, bound, spot, uri, values)
        + notices_at_top(
            ctx, [bound.subject.name, *(role.name for role in bound.roles.values())], uri, values
        )
        + (paragraph(who_may(ctx, bound), "licensed") + "\n" if not bound.for_reader else "")
        + section(
            "cautions",
            say("cautions_heading"),
            "".join(caution_block(c, ctx.drawings.signs, values, say) for c in above),
        )
        + section(
            "before",
            say("before_heading"),
            "" if bound.staff_only else _before(ctx, bound, uri, values, linker),
        )
        + (f"{resolve(body.context, uri)}\n\n" if body.context else "")
        + section(
            "work",
            say("steps_licensed" if task.licensed else "steps_heading"),
            block(
                "steps",
                "".join(
                    _step(ctx, number, step, values, lambda t: resolve(t, uri))
                    for number, step in enumerate(body.steps, 1)
                ),
            ),
        )
        + section("result", say("result_heading"), resolve(body.result, uri))
        + section("trouble", say("trouble_heading"), _trouble(ctx, bound, body, uri, linker))
        + section("after", say("after_heading"), resolve(body.afterwards, uri))
        + section("numbers", say("number_links"), number_choices(ctx, task.numbers, uri))
        + section("next", say("next_heading"), _next(ctx, bound, uri, values))
        + film_of_task(ctx, bound, uri, values)
        + ctx.locator(spot, uri, values)
        + section("also", say("also_here_heading"), _also_here(ctx, bound, uri, values))
        + howto(ctx, bound, body, above, values)
    )
    return ctx.page(uri, bound.title, "task", text, values, task.purpose)


def who_may(ctx: Context, bound: BoundTask) -> str:
    """Return who may do a task that is not for the reader; empty where it is."""
    if bound.staff_only:
        return ctx.say("staff_only")
    return ctx.say("licensed_by", who=bound.task.licensed) if bound.task.licensed else ""


def read_bound_body(ctx: Context, bound: BoundTask) -> tuple[Body, Values]:
    """Return a task's text in its parts, decided for this unit, with the values of its tokens.

    What only staff may do has no text: the page then says so, and that is all.
    """
    values = Values(tongue=ctx.tongue)
    ctx.held.add(bound.slug)
    if bound.staff_only:
        return Body("", (), "", "", ""), values
    task = bound.task
    scope: Mapping[str, Any] = text_scope(
        ctx.guide.unit, bound.subject, task.roles, bound.roles, ctx.names
    )
    unit = ctx.guide.unit.name
    text = decide_text(
        task.body, task.body_at, scope, ctx.library.snippets, values, unit, ctx.problems
    )
    before = len(ctx.problems.found)
    quiet = ctx.problems if text else Problems()
    body = read_body(text, task.body_at, unit, quiet, may_lack_steps=bool(task.licensed))
    for step in body.steps:
        if step.picture and step.picture not in ctx.drawings.pictures:
            ctx.problems.add(
                task.body_at,
                "Picture",
                f"no drawing '{step.picture}'",
                "a file in site_assets/drawings/",
            )
    if len(ctx.problems.found) > before:
        return Body("", (), "", "", ""), values
    return body, values


def cautions_first(bound: BoundTask, body: Body) -> list[Caution]:
    """Return the cautions that stand above the steps: a danger always, others if at no step."""
    at_steps = {name for step in body.steps for name in step.cautions}
    return [c for c in bound.cautions if c.name not in at_steps or c.gravity == 0]


def _facts(ctx: Context, bound: BoundTask, spot: Spot | None, uri: str, values: Values) -> str:
    say, minutes = ctx.say, bound.task.minutes
    facts = [say("one_minute") if minutes == 1 else say("minutes", count=minutes)]
    if spot:
        place = link(values.token(spot.title), relative(uri, links.place_uri(spot.name)))
        facts.append(say("at_place", place=place))
    if bound.task.tools:
        tools = ", ".join(ctx.in_list(tool) for tool in bound.task.tools)
        facts.append(f"{say('have_ready')}: {tools}")
    return block("facts", listing(facts))


def _before(ctx: Context, bound: BoundTask, uri: str, values: Values, linker: Linker) -> str:
    lines = []
    for need in bound.needs:
        shown = ", ".join(
            link(
                f"{way.title}{ctx.which(way.subject, values, way)}",
                relative(uri, links.task_uri(way)),
            )
            for way in ways_to(ctx, need, linker)
        )
        how = f" {ctx.say('before_how')} {shown}" if shown else ""
        lines.append(f"{ctx.says(need, values)}{how}")
    return listing(lines)


def ways_to(ctx: Context, need: Need, linker: Linker) -> list[BoundTask]:
    """Return the tasks that "before you start" offers for a need, at most `MOST_WAYS`."""
    ways = [
        way
        for way in ctx.proof.providers.get(need, ())
        if linker.task(way.task.name) in (way, None)
        or way.subject.name == ctx.guide.variables[need.key].fitting
    ]
    # One that has it otherwise meanwhile only puts back what it changed.
    ways = [way for way in ways if need.key not in way.during] or ways
    # The task that is about just this, not one that also happens to bring it about.
    fewest = min((len(way.sets) for way in ways), default=0)
    ways = [way for way in ways if len(way.sets) == fewest and not way.task.emergency]
    return ways[:MOST_WAYS]


def _step(ctx: Context, number: int, step: Step, values: Values, resolve: Any) -> str:
    say, signs = ctx.say, ctx.drawings.signs
    parts = [caution_line(ctx.library.cautions[name], signs, values, say) for name in step.cautions]
    parts.append(paragraph(resolve(step.command), "do"))
    parts += [paragraph(f"**{say('note')}** {resolve(text)}", "note") for text in step.notes]
    if step.picture:
        drawing = ctx.drawings.pictures[step.picture]
        parts.append(paragraph(values.token(_figure(drawing)), "picture"))
    parts += [paragraph(f"**{say('then')}** {resolve(text)}", "then") for text in step.then]
    parts += [paragraph(f"**{say('if_not')}** {resolve(text)}", "ifnot") for text in step.if_not]
    lines = "\n".join(parts).split("\n")
    indented = "".join(f"    {line}\n" if line else "\n" for line in lines)
    return f"{f'{number}.'.ljust(4)}{indented.lstrip()}\n"


def _trouble(ctx: Context, bound: BoundTask, body: Body, uri: str, linker: Linker) -> str:
    resolve = linker.resolve(bound.task.body_at, ctx.problems)
    found = [s for name in bound.task.symptoms if (s := linker.symptom(name))]
    more = listing(
        f"{ctx.say('trouble_more')} {link(s.title, relative(uri, links.symptom_uri(s)))}"
        for s in found
    )
    written = resolve(body.trouble, uri)
    return f"{written}\n{more}" if written else more


def _next(ctx: Context, bound: BoundTask, uri: str, values: Values) -> str:
    lines = []
    for planned, after in next_in_routines(ctx, bound):
        routine = link(
            planned.routine.title, relative(uri, links.routine_uri(planned.routine.name))
        )
        if after:
            words = link(after.title, relative(uri, links.task_uri(after)))
            lines.append(f"{ctx.say('next_in', routine=routine)} {words}")
        else:
            lines.append(ctx.say("next_last", routine=routine))
    return listing(lines)


def next_in_routines(
    ctx: Context, bound: BoundTask
) -> list[tuple[PlannedRoutine, BoundTask | None]]:
    """Return the routines that a task is part of, each with the task that comes next, if any."""
    found: list[tuple[PlannedRoutine, BoundTask | None]] = []
    for planned in ctx.proof.routines:
        for plan in planned.plans[:1]:
            slugs = [step.task.slug if step.task else "" for step in plan.steps]
            if bound.slug not in slugs:
                continue
            rest = plan.steps[slugs.index(bound.slug) + 1 :]
            found.append((planned, next((step.task for step in rest if step.task), None)))
    return found


def _also_here(ctx: Context, bound: BoundTask, uri: str, values: Values) -> str:
    others = [t for t in ctx.guide.tasks_at(bound.place) if t.slug != bound.slug]
    return ctx.task_links(others, uri, values) if bound.place else ""


def _figure(drawing: str) -> Markup:
    """Return an explanatory drawing, sized for a step."""
    return Markup(  # noqa: S704 - our own drawing
        drawing.strip().replace("<svg", '<svg class="figure" role="img"', 1)
    )
