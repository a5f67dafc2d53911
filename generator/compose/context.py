"""What every page of one guide is composed from, and the parts that several pages share."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from markupsafe import Markup, escape

from generator.compose import links
from generator.compose.links import relative
from generator.compose.locator import draw_locator
from generator.compose.markdown import Signs, block, link, listing, paragraph, section
from generator.compose.page import Page, Values
from generator.compose.phrases import Phrases
from generator.compose.spoken import Tongue
from generator.compose.wording import Wording
from generator.figures.gather import own_inputs
from generator.fit.fit import common_names
from generator.fit.guide import VEHICLE, BoundTask, Guide, Need
from generator.problems import Problems
from generator.prove.prove import Proof
from generator.read.languages import Language
from generator.read.library import Caution, Library
from generator.read.units import Fitting, Spot

MOST_CHOICES = 6
"""How many large choices stand in one list; more are grouped by equipment."""


@dataclass(frozen=True, slots=True)
class Drawings:
    """Our own drawings, as SVG by file name without suffix."""

    signs: Signs
    pictures: Mapping[str, str]


class Context:
    """The guide, its proof and the library, with the parts that several pages share."""

    def __init__(
        self,
        guide: Guide,
        proof: Proof,
        library: Library,
        drawings: Drawings,
        problems: Problems,
        language: Language | None = None,
    ) -> None:
        """Keep the guide, its proof and the library; `language` is a further one."""
        self.guide = guide
        self.proof = proof
        self.library = library
        self.drawings = drawings
        self.problems = problems
        self.say = Wording(library.wording)
        self.tongue = Tongue.of(self.say)
        self.language = language.name if language else ""
        self.up = "../" if language else ""
        """From this language's folder to the guide's own."""
        self.phrases = Phrases(language.phrases, self.tongue) if language else None
        self.own_words = {fitting.title for fitting in guide.fittings.values()}
        self.own_words |= {spot.title for spot in guide.places}
        self.held: set[str] = set()
        """The tasks, by slug, whose texts were read since this was last cleared."""
        self.own = own_inputs(guide.unit, library.kinds)
        self.names = common_names(guide.unit, guide.fittings.values())
        self.spots = {spot.name: spot for spot in guide.places}
        kinds = [fitting.kind for fitting in guide.fittings.values()]
        self.several = {kind for kind in kinds if kinds.count(kind) > 1}

    def page(
        self, uri: str, title: str, sort: str, text: str, values: Values, description: str = ""
    ) -> Page:
        """Return a page with these values."""
        return Page(
            uri=uri,
            title=title,
            sort=sort,
            text=text,
            description=description or title,
            values=values.by_name,
        )

    def which(self, fitting: Fitting, values: Values, task: BoundTask | None = None) -> str:
        """Return which of several fittings is meant; nothing where there is only one."""
        if fitting.kind not in self.several or fitting.kind == VEHICLE:
            return ""
        return f" ({values.token(fitting.title)})"

    def says(self, need: Need, values: Values) -> str:
        """Return what must be so, as a sentence that the reader can check by looking."""
        variable = self.guide.variables[need.key]
        fitting = self.guide.fittings[variable.fitting]
        which = f"{values.token(fitting.title)}: " if fitting.kind in self.several else ""
        sentences = [variable.state.says[value] for value in need.values]
        first, *others = sentences
        for other in others:
            first = self.say("says_or", first=first.rstrip("."), other=self.in_list(other))
        return which + first

    def phrase(self, text: str) -> str:
        """Return a computed text, such as a figure's label, in the language of the page."""
        if self.phrases is None or text in self.say.said:
            return text
        return self.phrases(text, lambda part: part in self.own_words or part in self.say.said)

    def day(self, day: date) -> str:
        """Return a day of the unit as people write it: 3/4 means two days to two readers."""
        return self._said(self.tongue.own_date(day))

    def day_of_notice(self, day: date) -> str:
        """Return a day that is the same for every unit, as people write it."""
        return self._said(self.tongue.date(day))

    def _said(self, text: str) -> str:
        self.say.said.add(text)
        return text

    def in_list(self, text: str) -> str:
        """Return a text as it stands in the midst of a sentence; some languages keep capitals."""
        return f"{text[0].lower()}{text[1:]}" if self.say("lists_lower") == "yes" else text

    def at(self, place: str, values: Values) -> str:
        """Return a place in small print."""
        spot = self.spots.get(place)
        return f"<small>{values.token(spot.title)}</small>" if spot else ""

    def task_links(self, tasks: Iterable[BoundTask], uri: str, values: Values) -> str:
        """Return a list of links to tasks."""
        return listing(
            link(
                f"{task.title}{self.which(task.subject, values, task)}",
                relative(uri, links.task_uri(task)),
            )
            for task in tasks
        )

    def choices(self, tasks: Iterable[BoundTask], uri: str, values: Values) -> str:
        """Return tasks as large choices."""
        return listing(
            link(
                f"**{task.title}** {self.which(task.subject, values, task)} {task.task.purpose}",
                relative(uri, links.task_uri(task)),
            )
            for task in tasks
        )

    def choices_by_fitting(self, tasks: Sequence[BoundTask], uri: str, values: Values) -> str:
        """Return large choices, under the equipment's names where there are many."""
        if len(tasks) <= MOST_CHOICES:
            return block("choices", self.choices(tasks, uri, values))
        subjects = dict.fromkeys(task.subject.name for task in tasks)
        return "".join(
            f"### {values.token(self.guide.fittings[name].title)} {{: #fitted-{name} }}\n\n"
            + block(
                "choices",
                self.choices((t for t in tasks if t.subject.name == name), uri, values),
            )
            for name in subjects
        )

    def locator(self, spot: Spot | None, uri: str, values: Values) -> str:
        """Return the section with the drawing of a place, and its photograph if it has one."""
        if spot is None:
            return ""
        shown = paragraph(values.token(draw_locator(self.guide.unit, spot, self.say)), "drawing")
        if spot.picture:
            shown += "\n" + paragraph(values.token(self._photograph(spot, uri)), "drawing")
        if spot.callouts:
            said = (values.token(callout.says) for callout in spot.callouts)
            lines = "".join(f"{n}. {says}\n" for n, says in enumerate(said, 1))
            shown += "\n" + block("legend", lines)
        return section("where-it-is", self.say("where"), shown)

    def _photograph(self, spot: Spot, uri: str) -> Markup:
        picture = spot.picture
        assert picture is not None
        source = self.up + relative(uri, f"pictures/{picture.name}")
        said = (
            self.say("photograph_numbered", place=spot.title, count=len(spot.callouts))
            if spot.callouts
            else self.say("photograph", place=spot.title)
        )
        # In lengths of the picture, so that a number stays at its point and one size on any screen.
        pins = "".join(
            f'<circle cx="{100 * c.across:g}%" cy="{100 * c.down:g}%" r="15"/>'
            f'<text x="{100 * c.across:g}%" y="{100 * c.down:g}%" dy=".36em">{number}</text>'
            for number, c in enumerate(spot.callouts, 1)
        )
        drawn = f'<svg class="pins" aria-hidden="true">{pins}</svg>' if pins else ""
        return Markup(  # noqa: S704 - all that is not ours in it has been escaped
            f'<span class="pinned"><img class="photo" src="{source}" width="{picture.width}" '
            f'height="{picture.height}" loading="lazy" alt="{escape(said)}">{drawn}</span>'
        )

    def code_note(self, spot: Spot, values: Values) -> str:
        """Return a place's code in small print."""
        code = self.guide.place_codes.get(spot.name)
        return f" <small>{values.token(code)}</small>" if code else ""

    def code_line(self, spot: Spot, values: Values) -> str:
        """Return the line that tells a place's code."""
        code = self.guide.place_codes.get(spot.name)
        if not code:
            return ""
        return paragraph(f"{self.say('place_code')}: **{values.token(code)}**", "hint")

    def gravest(self, spot: Spot) -> Caution | None:
        """Return the one caution that matters most at a place."""
        return gravest_caution(self.guide, self.library, spot)


def gravest_caution(guide: Guide, library: Library, spot: Spot) -> Caution | None:
    """Return the one caution that matters most at a place: the unit's choice, else the gravest.

    Of equally grave ones, the one that most tasks there show.
    """
    if spot.caution:
        return library.cautions.get(spot.caution)
    shown = [caution for task in guide.tasks_at(spot.name) for caution in task.cautions]
    if not shown:
        return None
    return min(shown, key=lambda c: (c.gravity, -shown.count(c), c.name))
