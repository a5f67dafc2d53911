"""The page of a routine: its tasks in the order that was planned."""

from __future__ import annotations

from generator.compose import links
from generator.compose.context import Context
from generator.compose.links import relative
from generator.compose.markdown import block, link, paragraph, section, step_item
from generator.compose.page import Page, Values
from generator.prove.prove import Plan, PlannedRoutine


def routine_page(ctx: Context, planned: PlannedRoutine) -> Page:
    """Return the page of a routine, with a plan from each of its situations."""
    routine, say, values = planned.routine, ctx.say, Values()
    uri = links.routine_uri(routine.name)
    parts = []
    worth = [plan for plan in planned.plans if plan.steps]
    for plan in worth or planned.plans[:1]:
        situation = ctx.library.situations[plan.situation].title
        parts.append(
            section(
                f"from-{plan.situation}",
                say("routine_start", situation=situation),
                _plan(ctx, plan, uri, values),
            )
        )
    text = (
        f"# {routine.title}\n\n"
        + paragraph(routine.purpose, "purpose")
        + "\n"
        + paragraph(say("routine_tick"), "hint")
        + "\n"
        + "".join(parts)
    )
    return ctx.page(uri, routine.title, "routine", text, values, routine.purpose)


def _plan(ctx: Context, plan: Plan, uri: str, values: Values) -> str:
    if not plan.steps:
        return paragraph(ctx.say("routine_nothing"))
    lines = []
    for number, step in enumerate(plan.steps, 1):
        if step.task is None:
            told = " ".join(
                ctx.guide.variables[key].state.says[value] for key, value in step.sets.items()
            )
            lines.append(step_item(number, f"**{ctx.say('routine_by_hand')}** {told}"))
            continue
        task = step.task
        words = link(
            f"**{task.title}**{ctx.which(task.subject, values, task)}",
            relative(uri, links.task_uri(task)),
        )
        where = ctx.at(task.place, values)
        lines.append(step_item(number, f"{words} {where}"))
    total = ctx.say("routine_total", count=len(plan.steps), minutes=_round_minutes(plan.minutes))
    return paragraph(total, "hint") + "\n" + block("steps plan", "".join(lines))


def _round_minutes(minutes: int) -> int:
    """Return minutes to the nearest five above: a plan for a first-timer is no promise."""
    return -(-minutes // 5) * 5
