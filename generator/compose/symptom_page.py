"""The page of a symptom: questions in order, each leading on or to a task."""

from __future__ import annotations

from generator.compose import links
from generator.compose.context import Context
from generator.compose.links import Linker, relative
from generator.compose.markdown import (
    block,
    caution_block,
    link,
    listing,
    paragraph,
    section,
    step_item,
)
from generator.compose.page import Page, Values
from generator.fit.guide import BoundSymptom
from generator.read.symptoms import Answer


def symptom_page(ctx: Context, bound: BoundSymptom) -> Page:
    """Return the page of a symptom."""
    say, values = ctx.say, Values()
    uri = links.symptom_uri(bound)
    linker = Linker(ctx.guide, bound.subject.place, bound.subject.name)
    resolve = linker.resolve(bound.symptom.at, ctx.problems)
    lines = []
    for number, check in enumerate(bound.checks, 1):
        answers = "".join(
            _answer(ctx, key, answer, uri, linker)
            for key, answer in (("symptom_yes", check.yes), ("symptom_no", check.no))
            if answer
        )
        lines.append(step_item(number, resolve(check.ask, uri)) + answers)
    said = ", ".join(bound.symptom.said)
    text = (
        f"# {bound.title}{ctx.which(bound.subject, values)} {{: #title }}\n\n"
        + (paragraph(f"{say('symptom_said')} {said}.", "purpose") + "\n" if said else "")
        + "".join(caution_block(c, ctx.drawings.signs, values, say) for c in bound.cautions)
        + section("expected", say("symptom_expects"), _expected(ctx, bound, uri, values, linker))
        + section(
            "checks",
            say("symptom_checks"),
            paragraph(say("symptom_go_on"), "hint") + "\n" + block("steps", "".join(lines)),
        )
        + section("ends", say("symptom_ends"), resolve(bound.symptom.ends, uri))
    )
    return ctx.page(uri, bound.title, "symptom", text, values)


def _answer(ctx: Context, key: str, answer: Answer, uri: str, linker: Linker) -> str:
    parts = [f"**{ctx.say(key)}**"]
    if answer.do:
        parts.append(answer.do)
    task = next((t for name in answer.tasks if (t := linker.task(name))), None)
    if task:
        parts.append(link(task.title, relative(uri, links.task_uri(task))) + ".")
    symptom = next((s for name in answer.symptoms if (s := linker.symptom(name))), None)
    if symptom:
        parts.append(link(symptom.title, relative(uri, links.symptom_uri(symptom))) + ".")
    if answer.stop:
        parts.append(f"**{ctx.say('symptom_stop')}**")
    style = "stop" if answer.stop else "then"
    return f"    {' '.join(parts)}\n    {{: .{style} }}\n\n"


def _expected(ctx: Context, bound: BoundSymptom, uri: str, values: Values, linker: Linker) -> str:
    """Return what should be so for it to work: the needs of the tasks that it takes."""
    parts = []
    for name in bound.symptom.expects:
        task = linker.task(name)
        if task is not None and task.needs:
            words = link(task.title, relative(uri, links.task_uri(task)))
            parts.append(
                f"### {words}\n\n" + listing(ctx.says(need, values) for need in task.needs)
            )
    return "\n".join(parts)
