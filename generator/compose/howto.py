"""A task for machines: what its page says, as a `HowTo` of schema.org in JSON-LD.

Where the vocabulary has no place of its own for a safety message, it stands as a `HowToTip` before
what it guards; a tip is a `CreativeWork`, which a step may be (schema.org, `HowTo.step`). A
browser makes nothing of all this, so it stands last on the page, and is not kept on a phone.
"""

from __future__ import annotations

import json

from markupsafe import Markup

from generator.compose.body import Body, Step
from generator.compose.context import Context
from generator.compose.markdown import paragraph
from generator.compose.page import Values, fill_plain
from generator.compose.runs import plain_words
from generator.fit.guide import BoundTask
from generator.read.library import Caution


def howto(ctx: Context, bound: BoundTask, body: Body, above: list[Caution], values: Values) -> str:
    """Return a task as data; nothing for one that has no steps. `above` stands over the steps."""
    if not body.steps:
        return ""
    task = bound.task
    data: dict[str, object] = {
        "@context": "https://schema.org",
        "@type": "HowTo",
        "name": bound.title,
        "description": task.purpose,
        "inLanguage": ctx.say("lang"),
        "totalTime": f"PT{task.minutes}M",
        "step": [
            *(_tip(ctx, caution) for caution in above),
            *(_step(ctx, number, step, values) for number, step in enumerate(body.steps, 1)),
        ],
    }
    if task.tools:
        data["tool"] = list(task.tools)
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")
    script = Markup(  # noqa: S704 - JSON without any "<", so that no text can end the element
        f'<script type="application/ld+json">{text}</script>'
    )
    return paragraph(values.token(script), "model")


def _step(ctx: Context, number: int, step: Step, values: Values) -> dict[str, object]:
    text = _words(step.command, values)
    told: dict[str, object] = {"@type": "HowToStep", "position": number, "text": text}
    if step.cautions:
        tips = [_tip(ctx, ctx.library.cautions[name]) for name in step.cautions]
        told["itemListElement"] = [*tips, {"@type": "HowToDirection", "text": text}]
    return told


def _tip(ctx: Context, caution: Caution) -> dict[str, str]:
    words = f"{ctx.say(caution.word)}: {caution.hazard} {caution.consequence} {caution.avoidance}"
    return {"@type": "HowToTip", "text": _words(words, Values())}


def _words(text: str, values: Values) -> str:
    """Return Markdown as the words that a reader sees, the unit's values filled in."""
    return fill_plain(plain_words(text), values.by_name)
