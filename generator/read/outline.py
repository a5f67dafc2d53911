"""The outline of a task's text: what a translation must have in common with its source.

Steps, their labelled lines, conditions, values and links stand in the same order in both. So a
translation can say a thing in other words, but can neither lose a step, a caution or a condition
nor add one.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from generator.read.tasks import LINK, STEP, STEP_LINE

_EXACT = ("Caution", "Picture")
_VALUE = re.compile(r"\{\{.*?\}\}|\{%.*?%\}")
_JOINED = re.compile(r"""join\((["']).*?\1\)""")
"""The word between several values may differ: `| join(" or ")`."""


@dataclass(frozen=True, slots=True)
class Part:
    """A line that begins something, and the values and links that belong to it."""

    line: int
    says: str
    holds: tuple[str, ...]


def outline(body: str) -> tuple[Part, ...]:
    """Return the parts of a text, with the line (from 1) on which each begins."""
    begun: list[tuple[int, str, list[str]]] = [(1, "the beginning", [])]
    numbers = 0
    for line, text in enumerate(body.split("\n"), 1):
        bare = " ".join(text.split())
        if text.startswith("{%"):
            begun.append((line, f"`{bare}`", []))
            continue
        labelled = STEP_LINE.match(text)
        if text.startswith("#"):
            begun.append((line, f"`{bare}`", []))
        elif STEP.match(text):
            numbers += 1
            begun.append((line, f"step {numbers}", []))
        elif labelled:
            exact = f" {labelled['text'].strip()}" if labelled["label"] in _EXACT else ""
            begun.append((line, f"`{labelled['label']}:{exact}`", []))
        elif bare.startswith(("- ", "* ")):
            begun.append((line, "a line that starts with -", []))
        begun[-1][2].extend(
            _JOINED.sub("join", " ".join(found.split())) for found in _VALUE.findall(text)
        )
        begun[-1][2].extend(f"{link['sort']}:{link['name']}" for link in LINK.finditer(text))
    return tuple(Part(line, says, tuple(sorted(holds))) for line, says, holds in begun)


def first_difference(source: str, translated: str) -> tuple[int, str, str] | None:
    """Return the line of a translation where it leaves its source, what is there, and what in it.

    None where both have the same outline.
    """
    ours, theirs = outline(translated), outline(source)
    for mine, other in zip(ours, theirs, strict=False):
        if mine.says != other.says:
            return mine.line, f"has {mine.says}", f"{other.says}, as the source"
        if mine.holds != other.holds:
            held = ", ".join(mine.holds) or "no value or link"
            wanted = ", ".join(other.holds) or "none"
            return mine.line, f"{mine.says} holds {held}", f"{wanted}, as the source"
    if len(ours) > len(theirs):
        extra = ours[len(theirs)]
        return extra.line, f"has {extra.says}", "nothing more: the source ends before"
    if len(theirs) > len(ours):
        return ours[-1].line, f"ends with {ours[-1].says}", f"{theirs[len(ours)].says} after it"
    return None
