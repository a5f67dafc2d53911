"""Markdown of the library as typed runs of text, for what is printed.

Only what the library's format uses is known: paragraphs, bullets, **strong**, *emphasis* and links
such as `[words](task:light-hob)`. Everything else is text. Values go in after the Markdown has
been taken apart, so none of them is ever read as markup.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from generator.compose.page import fill_plain

_INLINE = re.compile(
    r"\\(?P<literal>[\\*\[\]_`])"
    r"|\*\*(?P<strong>.+?)\*\*"
    r"|\*(?P<emphasis>[^*\s](?:[^*]*[^*\s])?)\*"
    r"|\[(?P<words>[^\]]*)\]\((?P<sort>[a-z]+):(?P<name>[^)]*)\)"
)
_BULLET = re.compile(r"[-*] +(?P<text>.*)")
_PAIR = re.compile(r'"([^"]+)"')

Find = Callable[[str, str], str | None]
"""Returns the anchor of a link's target, from its sort and name; None where there is none."""


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch of text that is set alike. `target` is an anchor that it refers to, or empty."""

    text: str
    strong: bool = False
    emphasis: bool = False
    target: str = ""


Runs = tuple[Run, ...]


@dataclass(frozen=True, slots=True)
class Block:
    """A paragraph (one item) or a list of bullets."""

    bullets: bool
    items: tuple[Runs, ...]


def read_runs(text: str, values: Mapping[str, str], find: Find) -> Runs:
    """Return one line or paragraph of Markdown as runs, tokens replaced by their values."""
    runs = _taken_apart(curl(" ".join(text.split())), Run(""), find)
    return tuple(replace(run, text=fill_plain(run.text, values)) for run in runs)


@lru_cache(maxsize=20_000)  # most lines are the same in all guides
def plain_words(text: str) -> str:
    """Return the words of one line or paragraph of Markdown; tokens stay."""
    runs = _taken_apart(curl(" ".join(text.split())), Run(""), lambda *_: None)
    return "".join(run.text for run in runs)


def read_blocks(text: str, values: Mapping[str, str], find: Find) -> tuple[Block, ...]:
    """Return Markdown of several lines as paragraphs and lists of bullets."""
    blocks: list[Block] = []
    lines: list[str] = []
    bullets: list[str] = []

    def close() -> None:
        if lines:
            blocks.append(Block(False, (read_runs(" ".join(lines), values, find),)))
        if bullets:
            blocks.append(Block(True, tuple(read_runs(b, values, find) for b in bullets)))
        lines.clear()
        bullets.clear()

    for line in text.split("\n"):
        bullet = _BULLET.match(line)
        if bullet:
            if lines:
                close()
            bullets.append(bullet["text"])
        elif not line.strip():
            if lines:
                close()
        elif bullets and line.startswith(" "):
            bullets[-1] += " " + line.strip()
        else:
            if bullets:
                close()
            lines.append(line.strip())
    close()
    return tuple(blocks)


def curl(text: str) -> str:
    """Return a text of the library with the quotation marks and apostrophes of print."""
    return _PAIR.sub("\u201c\\1\u201d", text).replace("'", "\u2019")


def _taken_apart(text: str, style: Run, find: Find) -> list[Run]:
    runs: list[Run] = []
    end = 0
    for match in _INLINE.finditer(text):
        _add(runs, replace(style, text=text[end : match.start()]))
        end = match.end()
        if match["literal"]:
            _add(runs, replace(style, text=match["literal"]))
        elif match["strong"]:
            runs += _taken_apart(match["strong"], replace(style, strong=True), find)
        elif match["emphasis"]:
            runs += _taken_apart(match["emphasis"], replace(style, emphasis=True), find)
        else:
            target = find(match["sort"], match["name"]) or ""
            runs += _taken_apart(match["words"], replace(style, target=target), find)
    _add(runs, replace(style, text=text[end:]))
    return runs


def _add(runs: list[Run], run: Run) -> None:
    """Add a run, to the one before where both are set alike."""
    if not run.text:
        return
    if runs and replace(runs[-1], text="") == replace(run, text=""):
        runs[-1] = replace(run, text=runs[-1].text + run.text)
    else:
        runs.append(run)
