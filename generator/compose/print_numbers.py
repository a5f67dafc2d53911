"""The pages of numbers as typed pieces for paper.

They are read from the same Markdown as the pages are made of, so that paper says what a screen
says. What only a screen can do is left out: forms, drawings, folded tables, and what is asked for.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace

from generator.compose.context import Context
from generator.compose.number_pages import number_pages
from generator.compose.page import Page
from generator.compose.printed import PrintedFigure, PrintedNumbers, PrintedPiece
from generator.compose.runs import Runs, curl, read_runs

_SECTION = re.compile(
    r'<section class="number-[a-z0-9-]+" markdown="1">\n+## (?P<title>.*?) \{: #(?P<name>.*?) \}\n'
    r"(?P<body>.*?)</section>",
    re.DOTALL,
)
_SCREEN_ONLY = re.compile(
    r'<div class="asked".*?</div>|<details.*?</details>|</?(?:div|small)[^>]*>', re.DOTALL
)
_CLASSES = re.compile(r"\n?\{: (?P<classes>[^}]*) \}\s*$")
_LINK = re.compile(r"\[(?P<words>[^\]]*)\]\((?P<target>[^)]*)\)")
_LETTER = re.compile(r"\*\*[A-Z]\*\* ")
"""Of a part of a stacked bar; without the bar it says nothing."""
_RULE = re.compile(r"\|(?: --- \|)+")
_KINDS = {".answer": "answer", ".hint": "hint", ".licensed": "licensed"}
_LEFT_OUT = frozenset({".mind", ".drawing", ".model"})
"""A caution stands with the tasks that it guards, a drawing on the screen."""


def print_numbers(ctx: Context) -> tuple[PrintedNumbers, ...]:
    """Return each page of numbers that has something to print."""
    printed = (_page(ctx, page) for page in number_pages(ctx))
    return tuple(page for page in printed if page.figures)


def _page(ctx: Context, page: Page) -> PrintedNumbers:
    figures = []
    for match in _SECTION.finditer(page.text):
        pieces = tuple(_pieces(page, match["body"]))
        # A figure that only asks has nothing for paper yet.
        if any(piece.kind in ("answer", "table") for piece in pieces):
            title = read_runs(match["title"], page.values, _nowhere)
            said = dict.fromkeys(_sources(ctx, page, match["body"]))
            sources = f"{ctx.say('number_source')} {'; '.join(said)}." if said else ""
            figures.append(PrintedFigure(title, pieces, curl(sources)))
    return PrintedNumbers(page.uri, curl(page.title), tuple(figures))


def _sources(ctx: Context, page: Page, body: str) -> Iterator[str]:
    begin = re.escape(ctx.say("number_source"))
    for match in re.finditer(rf"^{begin} (.*)\.\n\{{: \.hint \}}", body, re.MULTILINE):
        yield "".join(run.text for run in read_runs(match[1], page.values, _nowhere))


def _pieces(page: Page, body: str) -> Iterator[PrintedPiece]:
    def runs(text: str) -> Runs:
        plain = _LINK.sub(_address, _LETTER.sub("", text))
        found = read_runs(plain, page.values, _nowhere)
        # Where a drawing has fallen away, the space after it would be left over.
        return tuple(
            replace(run, text=run.text if n else run.text.lstrip())
            for n, run in enumerate(found)
            if n or run.text.strip()
        )

    for part in re.split(r"\n\s*\n", _SCREEN_ONLY.sub("", body)):
        text = part.strip()
        marks = _CLASSES.search(text)
        classes = set(marks["classes"].split()) if marks else set()
        if not text or classes & _LEFT_OUT:
            continue
        if text.startswith("### "):
            yield PrintedPiece("subtitle", (runs(_CLASSES.sub("", text)[4:]),))
        elif text.startswith("|"):
            head, *rows = (
                tuple(runs(cell) for cell in line.strip().strip("|").split("|"))
                for line in text.split("\n")
                if not _RULE.fullmatch(line.strip())
            )
            yield PrintedPiece("table", head if any(head) else (), tuple(rows))
        elif text.startswith("- "):
            items = (runs(item) for item in re.split(r"\n?^- ", text, flags=re.MULTILINE))
            yield PrintedPiece("bullets", tuple(item for item in items if item))
        elif words := runs(_CLASSES.sub("", text)):
            kind = next((_KINDS[mark] for mark in sorted(classes) if mark in _KINDS), "text")
            yield PrintedPiece(kind, (words,))


def _address(match: re.Match[str]) -> str:
    """Return a link for paper: of one that leads out its address, of one within nothing."""
    address = match["target"].removeprefix("https://")
    return f"{match['words']} {address}" if address != match["target"] else ""


def _nowhere(sort: str, name: str) -> None:
    return None
