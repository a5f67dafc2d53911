"""The page of a routine: its tasks in the order that was planned."""

from __future__ import annotations

import json
from collections.abc import Sequence

from markupsafe import Markup

from generator.compose import links
from generator.compose.context import Context
from generator.compose.links import html_link, relative
from generator.compose.markdown import block, link, lone_item, paragraph, section, step_item
from generator.compose.page import Page, Values
from generator.prove.model import Action
from generator.prove.prove import Plan, PlannedRoutine


def routine_page(ctx: Context, planned: PlannedRoutine) -> Page:
    """Return the page of a routine, with a plan from each of its situations."""
    routine, say, values = planned.routine, ctx.say, Values()
    uri = links.routine_uri(routine.name)
    parts = []
    shown = worth_showing(planned)
    for situation in routine.starts:
        plans = [plan for plan in shown if plan.situation == situation]
        if len(plans) > 1:
            parts.append(paragraph(values.token(_chooser(ctx, plans)), "ways"))
        start = say("routine_start", situation=ctx.library.situations[situation].title)
        for plan in plans:
            heading = f"{start} {plan.way.title}." if plan.way and len(plans) > 1 else start
            part = section(_section(plan), heading, _plan(ctx, plan, uri, values))
            # Set apart, so that a style can hide it before the page's script has come.
            parts.append(part if plan is plans[0] else block("otherwise", part))
    text = (
        f"# {routine.title} {{: #title }}\n\n"
        + paragraph(routine.purpose, "purpose")
        + "\n"
        + paragraph(say("routine_tick"), "hint")
        + "\n"
        + "".join(parts)
    )
    return ctx.page(uri, routine.title, "routine", text, values, routine.purpose)


def _section(plan: Plan) -> str:
    """Return the name of the part of the page that a plan stands in."""
    return f"from-{plan.situation}" + (f"-{plan.way.name}" if plan.way else "")


def _chooser(ctx: Context, plans: Sequence[Plan]) -> Markup:
    """Return links to each way there is; the page's script then shows only the chosen one."""
    links_ = [
        Markup('<a href="#{}" data-months="{}">{}</a>').format(
            _section(plan), " ".join(map(str, plan.way.months)), plan.way.title
        )
        for plan in plans
        if plan.way
    ]
    return Markup("{} {}").format(ctx.say("routine_ways"), Markup(" ").join(links_))


def _plan(ctx: Context, plan: Plan, uri: str, values: Values) -> str:
    if not plan.steps:
        return paragraph(ctx.say("routine_nothing"))
    lines = []
    for number, step in enumerate(plan.steps, 1):
        if step.task is None:
            lines.append(
                step_item(number, f"**{ctx.say('routine_by_hand')}** {_by_hand(ctx, step)}")
            )
            continue
        task = step.task
        words = link(
            f"**{task.title}**{ctx.which(task.subject, values, task)}",
            relative(uri, links.task_uri(task)),
        )
        where = ctx.at(task.place, values)
        lines.append(step_item(number, f"{words} {where}"))
    if len(lines) == 1:
        lines = [lone_item(lines[0])]
    count, minutes = len(plan.steps), round_minutes(plan.minutes)
    total = (
        ctx.say("routine_total_one", minutes=minutes)
        if count == 1
        else ctx.say("routine_total", count=count, minutes=minutes)
    )
    model = paragraph(values.token(_replanning(ctx, plan, uri)), "model")
    return paragraph(total, "hint") + "\n" + block("steps plan", "".join(lines)) + model


def _replanning(ctx: Context, plan: Plan, uri: str) -> Markup:
    """Return what the page's script needs to plan the rest from where the reader is, as JSON."""
    planner = ctx.proof.planner
    wanted = [*plan.goal, *(need for last in plan.ending for need in last.needs)]
    known = {action.name: action for action in planner.relevant_actions(wanted)}
    acting = set(known)
    for step in (*plan.steps, *plan.ending):
        known.setdefault(step.name, step)
    names = [step.name for step in plan.steps]
    prefer = {step.task.slug for step in plan.steps if step.task}
    actions = []
    for name, action in known.items():
        task = action.task
        actions.append(
            {
                "name": name,
                "title": task.title if task else _by_hand(ctx, action),
                "url": html_link(uri, links.task_uri(task)) if task else "",
                "needs": [[need.key, need.values] for need in action.needs],
                "sets": dict(action.sets),
                "acts": name in acting,
                "rank": 2 if task is None else 0 if name in prefer else 1,
                "walk": names.index(name) if name in names else len(names),
            }
        )
    start = ctx.proof.model.situations[plan.situation]
    used = {need.key for need in wanted} | {
        key for a in known.values() for key in (*a.sets, *(need.key for need in a.needs))
    }
    data = {
        "start": {key: value for key, value in start.items() if key in used},
        "goal": [[need.key, need.values] for need in plan.goal],
        "ending": [last.name for last in plan.ending],
        "steps": names,
        "actions": actions,
        "words": {
            "left": ctx.say("routine_left", count="{count}"),
            "none": ctx.say("routine_none"),
        },
    }
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")
    return Markup(  # noqa: S704 - JSON without any "<", so that no text can end the element
        f'<script type="application/json" class="routine">{text}</script>'
    )


def _by_hand(ctx: Context, action: Action) -> str:
    return " ".join(
        ctx.guide.variables[key].state.says[value] for key, value in action.sets.items()
    )


def worth_showing(planned: PlannedRoutine) -> tuple[Plan, ...]:
    """Return the plans that have steps; the first where none has."""
    return tuple(plan for plan in planned.plans if plan.steps) or planned.plans[:1]


def preferred_ways(planned: PlannedRoutine) -> tuple[Plan, ...]:
    """Return of the plans worth showing those of the preferred way from each situation."""
    first: dict[str, Plan] = {}
    for plan in worth_showing(planned):
        first.setdefault(plan.situation, plan)
    return tuple(first.values())


def round_minutes(minutes: int) -> int:
    """Return minutes to the nearest five above: a plan for a first-timer is no promise."""
    return -(-minutes // 5) * 5
