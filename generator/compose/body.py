"""The text of a bound task: conditions decided, values as tokens, taken apart into its sections."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import jinja2

from generator.compose.page import Values
from generator.problems import Mark, Problems
from generator.read.expressions import compile_text
from generator.read.tasks import SECTIONS, STEP, STEP_LINE


@dataclass(slots=True)
class Step:
    """One action and what belongs to it, in the order of OASIS DITA's step."""

    command: str
    cautions: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    then: list[str] = field(default_factory=list)
    if_not: list[str] = field(default_factory=list)
    picture: str = ""


@dataclass(frozen=True, slots=True)
class Body:
    """A task's text in its parts. All of it is Markdown."""

    context: str
    steps: tuple[Step, ...]
    result: str
    trouble: str
    afterwards: str


def decide_text(
    text: str,
    at: Mark,
    scope: Mapping[str, Any],
    snippets: Mapping[str, str],
    values: Values,
    unit: str,
    problems: Problems,
) -> str:
    """Return a text for one unit: conditions decided, snippets taken in, values as tokens.

    A value that the unit does not give is noted, and the text is then empty.
    """
    try:
        template = compile_text(text, frozenset(snippets.items()), _collected)
        return template.render({**scope, _VALUES: values})
    except jinja2.UndefinedError as error:
        problems.add(
            at,
            "(text)",
            f"needs a value that {unit} does not give: {error.message}",
            "the value in the unit, or a condition in the text that asks whether it is there",
            unit,
        )
    except (jinja2.TemplateError, TypeError, ValueError, ArithmeticError) as error:
        problems.add(
            at,
            "(text)",
            f"cannot be worked out for {unit} ({error})",
            "an expression that suits every unit it fits",
            unit,
        )
    return ""


_VALUES = "values of the page"
"""Under what name a template finds the collector of its values; no text can say it."""


@jinja2.pass_context
def _collected(context: jinja2.runtime.Context, value: Any) -> Any:
    """Return the token of a value that a text writes out."""
    values: Values = context[_VALUES]
    return values.finalize(value)


def read_body(
    text: str, at: Mark, unit: str, problems: Problems, *, may_lack_steps: bool = False
) -> Body:
    """Return a decided text in its parts, noting sections and steps that do not fit.

    A page about work that an owner may not do may lack steps.
    """
    parts: dict[str, list[str]] = {"": []}
    current = ""
    for line in text.split("\n"):
        if line.startswith("## "):
            current = line[3:].strip()
            if current in parts:
                wrong = f"'{current}' twice in {unit}"
                problems.add(at, "(text)", wrong, ", ".join(SECTIONS), unit)
            parts.setdefault(current, [])
        else:
            parts[current].append(line)
    context: list[str] = []
    steps: list[Step] = []
    for line in parts[""]:
        step = STEP.match(line)
        if step:
            steps.append(Step(step["command"].strip()))
        elif not steps:
            context.append(line)
        elif line.strip():
            _add_line(steps[-1], line, at, unit, problems)
    if not steps and not may_lack_steps:
        problems.add(at, "(text)", f"has no steps in {unit}", "a numbered list", unit)

    def section(name: str) -> str:
        return "\n".join(parts.get(name, [])).strip()

    return Body(
        "\n".join(context).strip(),
        tuple(steps),
        section("Result"),
        section("Trouble"),
        section("Afterwards"),
    )


def _add_line(step: Step, line: str, at: Mark, unit: str, problems: Problems) -> None:
    labelled = STEP_LINE.match(line)
    if labelled is None:
        problems.add(
            at,
            "(text)",
            f"'{line.strip()[:40]}' stands below a step in {unit}",
            "`Then:`, `If not:`, `Note:`, `Caution:` or `Picture:`, indented",
            unit,
        )
        return
    text = labelled["text"].strip()
    if labelled["label"] == "Caution":
        step.cautions.append(text)
    elif labelled["label"] == "Then":
        step.then.append(text)
    elif labelled["label"] == "If not":
        step.if_not.append(text)
    elif labelled["label"] == "Note":
        step.notes.append(text)
    elif labelled["label"] == "Picture":
        step.picture = text
