"""What a task's own steps do: some of them send the reader to another task and back.

A single step has no effect in the model, except where it says "do that other task". Then it has
that task's: what it needs must be so at that step, from this task's `needs`, from its own other
steps (`sets`), or from the tasks that it called before; and what it leaves must be what this task
says that it leaves. The way in (an unlocked door) is not asked.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import jinja2

from generator.fit.fit import common_names, text_scope
from generator.fit.guide import BoundTask, Guide, Need
from generator.prove.model import Model
from generator.read.expressions import compile_text
from generator.read.library import Library, task_snippets
from generator.read.tasks import LINK, STEP


@dataclass(frozen=True, slots=True)
class Call:
    """A step that sends the reader to other tasks; `perhaps`, if it begins with a condition."""

    step: str
    tasks: tuple[str, ...]
    """Each by its slug."""
    perhaps: bool


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with a task that sends the reader to others."""

    key: str
    """The front matter's key that should say more."""
    wrong: str
    right: str


def calls_of(task: BoundTask, guide: Guide, library: Library) -> tuple[Call, ...]:
    """Return a task's steps that send the reader to another task of this guide, in their order.

    Only a step's command counts: what stands under "If not" leads off the way.
    """
    calls = []
    for command in _commands(task, guide, library):
        named = [link["name"] for link in LINK.finditer(command) if link["sort"] == "task"]
        called = tuple(
            other.slug
            for name in named
            for other in guide.tasks
            if other.task.name == name != task.task.name
        )
        if called:
            calls.append(Call(command, called, command.startswith("If ")))
    return tuple(calls)


def _commands(task: BoundTask, guide: Guide, library: Library) -> Iterator[str]:
    """Yield the commands of the steps that this unit has."""
    text = task.task.body
    snippets = task_snippets(task.task, library)
    if not any("](task:" in part for part in (text, *(library.snippets[s] for s in snippets))):
        return
    names = common_names(guide.unit, guide.fittings.values())
    scope = text_scope(guide.unit, task.subject, task.task.roles, task.roles, names)
    try:
        template = compile_text(text, frozenset(library.snippets.items()), _without_values)
        text = template.render(scope)
    except (jinja2.TemplateError, TypeError, ValueError, ArithmeticError):
        return  # told where the page is composed
    for line in text.partition("\n## ")[0].split("\n"):
        step = STEP.match(line)
        if step:
            yield step["command"]


def _without_values(_: object) -> str:
    """Return nothing: what a step calls does not depend on the values that it writes out."""
    return ""


def find_faults(
    task: BoundTask, calls: Sequence[Call], guide: Guide, model: Model
) -> tuple[Fault, ...]:
    """Return what a task leaves unsaid of the tasks that its steps call."""
    own, of = task, {other.slug: other for other in guide.tasks}
    before = {key: frozenset(v.state.values) for key, v in model.variables.items()}
    before |= {need.key: frozenset(need.values) for need in own.needs}
    known = before | {key: before[key] | {value} for key, value in own.during.items()}
    changed: dict[str, BoundTask] = {}
    for call in calls:
        for slug in call.tasks:
            for need in of[slug].needs:
                brought_about = need.key not in changed and own.sets.get(need.key) in need.values
                if not brought_about and not known[need.key] <= frozenset(need.values):
                    return (_not_so(need, of[slug], changed.get(need.key)),)
            for key, value in of[slug].sets.items():
                left = frozenset((value,))
                known[key] = known[key] | left if call.perhaps else left
                changed[key] = of[slug]
    return tuple(
        Fault(
            "sets",
            f"its steps do '{other.slug}', which changes {key} unsaid",
            f"{key}: {' or '.join(sorted(known[key]))}",
        )
        for key, other in changed.items()
        if not _is_said(key, own.sets, known, before)
    )


Known = Mapping[str, frozenset[str]]
"""What may be so, by state."""


def _is_said(key: str, sets: Mapping[str, str], known: Known, before: Known) -> bool:
    """Return whether what called tasks leave is what is set, or surely what was so before."""
    if key in sets:
        return sets[key] in known[key]
    return len(before[key]) == 1 and known[key] == before[key]


def _not_so(need: Need, called: BoundTask, undone_by: BoundTask | None) -> Fault:
    wanted = " or ".join(need.values)
    if undone_by is not None:
        return Fault(
            "(text)",
            f"a step does '{called.slug}', which needs {need.key} {wanted}; "
            f"'{undone_by.slug}' has changed that before",
            "the steps in another order",
        )
    return Fault(
        "needs",
        f"a step does '{called.slug}', which needs {need.key} {wanted}",
        f"{need.key}: {wanted}",
    )
