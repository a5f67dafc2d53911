"""The parts of a page of numbers: a figure's result, table, working, sources, and what it asks for.

Everything that depends on the unit is a token: titles of its equipment, and every number.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeVar

from markupsafe import Markup

from generator.compose import links
from generator.compose.context import Context
from generator.compose.links import relative
from generator.compose.markdown import block, caution_line, link, listing, paragraph
from generator.compose.numbers import numbers_of_fitting
from generator.compose.page import Page, Values
from generator.figures.figure import Ask, Figure, Input, Row

T = TypeVar("T")


@dataclass(slots=True)
class NumberPage:
    """A page of numbers while it is put together."""

    ctx: Context
    name: str
    values: Values = field(default_factory=Values)
    text: str = ""
    cautioned: set[str] = field(default_factory=set)
    """A caution is shown with the first figure that names it."""

    @property
    def uri(self) -> str:
        """Return the page's file."""
        return links.number_uri(self.name)

    def token(self, value: object) -> str:
        """Return the token of a value of this unit."""
        if isinstance(value, Markup):
            return self.values.token(value)
        return self.values.token(self.ctx.phrase(str(value)))

    def say(self, key: str, **gaps: object) -> str:
        """Return a phrase; what fills its gaps is of this unit, and goes in as tokens."""
        return self.ctx.say(key, **{name: self.token(value) for name, value in gaps.items()})

    def add(
        self,
        figure: Figure,
        answer: str = "",
        more: str = "",
        *,
        rows: Sequence[Row] | None = None,
        heading: str = "",
        name: str = "",
        folded: bool = False,
    ) -> None:
        """Add a figure: the answer large, what more is given, its table, and how it came about.

        `rows` stand in place of the figure's own; `more` is Markdown, before a table that is folded
        away and else after it.
        """
        shown = figure.rows if rows is None else rows
        name = name or figure.name
        self.open(name, heading or self.ctx.phrase(figure.title))
        rows_table = table((self.token(row.label), self.token(row)) for row in shown)
        if folded and rows_table:
            rows_table, more = more, fold(self.ctx.say("number_all_values"), rows_table)
        self.text += (
            (paragraph(answer, "answer") + "\n" if answer else "")
            + rows_table
            + more
            + self.asking(figure.asked)
            + listing(self.token(note) for note in figure.notes)
            + "\n"
            + self.cautions(figure.cautions)
            + (paragraph(self.ctx.phrase(figure.defer), "licensed") + "\n" if figure.defer else "")
            + self.working((figure,))
        )
        self.close()

    def open(self, name: str, heading: str) -> None:
        """Begin a section. Its heading is Markdown."""
        self.text += (
            f'<section class="number-{name}" markdown="1">\n\n## {heading} {{: #{name} }}\n\n'
        )

    def close(self) -> None:
        """End a section."""
        self.text += "</section>\n\n"

    def asking(self, asked: Iterable[Ask]) -> str:
        """Return what is missing, which is asked for and never guessed."""
        lines = [f"{self.token(ask.label)}: {self.token(ask.right)}" for ask in dedupe(asked)]
        if not lines:
            return ""
        return block(
            "asked", paragraph(f"**{self.ctx.say('number_asked')}**") + "\n" + listing(lines)
        )

    def drawing(self, drawing: Markup) -> str:
        """Return the paragraph of a drawing."""
        return paragraph(self.token(drawing), "drawing") + "\n"

    def cautions(self, names: Iterable[str]) -> str:
        """Return those cautions that the page has not shown yet."""
        lines = []
        for name in names:
            caution = self.ctx.library.cautions.get(name)
            if caution and name not in self.cautioned:
                self.cautioned.add(name)
                signs = self.ctx.drawings.signs
                lines.append(caution_line(caution, signs, self.values, self.ctx.say))
        return "".join(f"{line}\n" for line in lines)

    def working(self, figures: Sequence[Figure]) -> str:
        """Return how figures were worked out: formula, inputs with their origin, sources."""
        say = self.ctx.say
        inputs = dedupe(one for figure in figures for one in figure.inputs)
        sources = dict.fromkeys(str(s) for figure in figures for s in figure.sources)
        return fold(
            say("number_working"),
            "".join(
                paragraph(self.ctx.phrase(line)) + "\n"
                for line in dict.fromkeys(f.formula for f in figures)
            )
            + table((self.token(one.label), self._input(one)) for one in inputs)
            + "".join(
                paragraph(f"{say('number_source')} {self.token(text)}.", "hint") + "\n"
                for text in sources
            ),
        )

    def _input(self, one: Input) -> str:
        return f"{self.token(one)} <small>{self.token(one.origin.value)}</small>"

    def finish(self) -> Page:
        """Return the page, with its lead and with links to the equipment that it is about."""
        say, ctx = self.ctx.say, self.ctx
        key = self.name.replace("-", "_")
        title, purpose = say(f"number_{key}"), say(f"number_{key}_lead")
        about = [
            link(self.token(f.title), relative(self.uri, links.kit_uri(f.name)))
            for f in ctx.guide.unit.fitted
            if self.name in numbers_of_fitting(ctx, f)
        ]
        tasks = [task for task in ctx.guide.tasks if self.name in task.task.numbers]
        ends = (
            (
                f"## {say('number_tasks')} {{: #tasks }}\n\n"
                + ctx.task_links(tasks, self.uri, self.values)
                + "\n"
                if tasks
                else ""
            )
            + (f"## {say('number_kit')} {{: #kit }}\n\n" + listing(about) + "\n" if about else "")
            + block("more", listing((link(say("numbers"), relative(self.uri, links.NUMBERS)),)))
        )
        text = f"# {title}\n\n{paragraph(purpose, 'purpose')}\n{self.text}{ends}"
        return ctx.page(self.uri, title, "number", text, self.values, purpose)


def table(rows: Iterable[tuple[str, str]]) -> str:
    """Return a table of two columns without a head: what, and how much."""
    lines = [f"| {what} | {value} |\n" for what, value in rows]
    return "| | |\n| --- | --- |\n" + "".join(lines) + "\n" if lines else ""


def grid(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table with a head. Its cells must be short: it is read on a phone."""
    lines = [f"| {' | '.join(row)} |\n" for row in rows]
    marks = "|" + " --- |" * len(head)
    text = f"| {' | '.join(head)} |\n{marks}\n" + "".join(lines)
    return block("grid", text) if lines else ""


def fold(summary: str, content: str) -> str:
    """Return what only some want to read, behind a line to open it."""
    return f'<details markdown="1">\n<summary>{summary}</summary>\n\n{content}</details>\n\n'


def unasked(figure: Figure, suffix: str, ask: Ask) -> Figure:
    """Return a figure that asks once for what it would ask for line by line."""
    kept = tuple(one for one in figure.asked if not one.key.endswith(suffix))
    return replace(figure, asked=kept if kept == figure.asked else (*kept, ask))


def dedupe(some: Iterable[T]) -> list[T]:
    """Return each of some once, in order."""
    return list(dict.fromkeys(some))
