"""Compose all pages of one guide."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from generator.compose import links
from generator.compose.body import Body, Step, decide_text, read_body
from generator.compose.links import Linker, html_link, relative
from generator.compose.locator import draw_locator, draw_map
from generator.compose.markdown import (
    Signs,
    block,
    caution_block,
    caution_line,
    link,
    listing,
    paragraph,
    section,
)
from generator.compose.page import Page, Values
from generator.compose.spoken import spoken
from generator.compose.wording import Wording
from generator.fit.fit import common_names, text_scope
from generator.fit.guide import VEHICLE, BoundSymptom, BoundTask, Guide, Need
from generator.problems import Problems
from generator.prove.prove import Plan, PlannedRoutine, Proof
from generator.read.library import Caution, Library
from generator.read.measures import measure_of
from generator.read.symptoms import Answer
from generator.read.units import Fitting, Spot

MOST_WAYS = 3
"""How many tasks "before you start" offers for one need; more would only confuse."""

MOST_CHOICES = 6
"""How many large choices stand in one list; more are grouped by equipment."""


@dataclass(frozen=True, slots=True)
class Drawings:
    """Our own drawings, as SVG by file name without suffix."""

    signs: Signs
    pictures: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Composed:
    """All pages of a guide, and what its page frame says."""

    guide: Guide
    pages: tuple[Page, ...]
    frame: Mapping[str, str]
    """Values of the page frame, by token name; none of them is a number."""


def compose_guide(
    guide: Guide, proof: Proof, library: Library, drawings: Drawings, problems: Problems
) -> Composed:
    """Return every page of a guide, noting texts that do not work out for this unit."""
    composer = _Composer(guide, proof, library, drawings, problems)
    pages = tuple(composer.all_pages())
    digest = hashlib.sha256()
    for page in pages:
        digest.update(repr((page.uri, page.text, sorted(page.values.items()))).encode())
    dealer = guide.dealer
    frame = {
        "unit": guide.unit.title,
        "dealer": dealer.title,
        "telephone": dealer.telephone,
        "dial": "tel:" + "".join(c for c in dealer.telephone if c in "+0123456789"),
        "hours": dealer.hours,
        "emergency": dealer.emergency,
        "revision": digest.hexdigest()[:8],
    }
    return Composed(guide, pages, frame)


class _Composer:
    """What all pages of one guide are composed from."""

    def __init__(
        self,
        guide: Guide,
        proof: Proof,
        library: Library,
        drawings: Drawings,
        problems: Problems,
    ) -> None:
        self.guide = guide
        self.proof = proof
        self.library = library
        self.drawings = drawings
        self.problems = problems
        self.say = Wording(library.wording)
        self.names = common_names(guide.unit, guide.fittings.values())
        self.spots = {spot.name: spot for spot in guide.places}
        self.bodies = {task.slug: self._read_body(task) for task in guide.tasks}
        kinds = [fitting.kind for fitting in guide.fittings.values()]
        self.several = {kind for kind in kinds if kinds.count(kind) > 1}

    def all_pages(self) -> Iterable[Page]:
        guide = self.guide
        yield self.home(links.HOME)
        yield self.emergency()
        yield self.wrong()
        yield self.all_tasks()
        yield self.kit()
        for planned in self.proof.routines:
            yield self.routine(planned)
        for spot in guide.places:
            yield self.place(spot, links.place_uri(spot.name))
        for task in guide.tasks:
            yield self.task(task, links.task_uri(task))
        for symptom in guide.symptoms:
            yield self.symptom(symptom)
        for fitting in guide.fittings.values():
            if fitting.kind != VEHICLE:
                yield self.fitting(fitting)
        for place, code in guide.place_codes.items():
            yield self.landing(self.spots[place], links.code_uri(code))
        by_slug = {task.slug: task for task in guide.tasks}
        for slug, code in guide.task_codes.items():
            yield self.task(by_slug[slug], links.code_uri(code))
        for code in guide.stray_codes:
            yield self.home(links.code_uri(code), stray=True)

    # Pages ------------------------------------------------------------------------------------

    def landing(self, spot: Spot, uri: str) -> Page:
        """Return the page behind a sticker: the task where the place has one, else the place."""
        tasks = self.guide.tasks_at(spot.name)
        return self.task(tasks[0], uri) if len(tasks) == 1 else self.place(spot, uri)

    def home(self, uri: str, *, stray: bool = False) -> Page:
        """Return the home page; `stray` says that a sticker's own place is no longer there."""
        values = Values()
        say = self.say
        routines = listing(
            link(
                f"**{planned.routine.title}** {planned.routine.purpose}",
                relative(uri, links.routine_uri(planned.routine.name)),
            )
            for planned in self.proof.routines
        )
        to_place = {
            spot.name: html_link(uri, links.place_uri(spot.name)) for spot in self.guide.places
        }
        hatches = "".join(
            f"### {say(f'hatches_{key}')} {{: #{key} }}\n\n" + block("numbered", listing(lines))
            for key in ("outside", "inside")
            if (lines := self._numbered_places(uri, values, inside=key == "inside"))
        )
        drawing = draw_map(self.guide.unit, self.guide.places, to_place, say)
        areas = "".join(
            f'<details markdown="1">\n<summary>{title} ({len(tasks)})</summary>\n\n'
            f"{self._task_links(tasks, uri, values)}\n</details>\n\n"
            for area, title in self.library.areas.items()
            if (tasks := [task for task in self.guide.tasks if task.task.area == area])
        )
        text = (
            f"# {values.token(self.guide.unit.title)}\n\n"
            + paragraph(say("moved_note" if stray else "home_lead"), "purpose")
            + "\n"
            + section("routines", say("routines"), block("choices", routines))
            + block(
                "choices two",
                listing(
                    (
                        link(f"**{say('wrong')}**", relative(uri, links.WRONG)),
                        link(f"**{say('emergency')}**", relative(uri, links.EMERGENCY))
                        + "{: .urgent }",
                    )
                ),
            )
            + section(
                "hatches",
                say("hatches"),
                paragraph(say("hatches_none"), "hint")
                + "\n"
                + paragraph(values.token(drawing), "drawing")
                + "\n"
                + hatches,
            )
            + section(
                "areas",
                say("areas"),
                areas
                + block(
                    "more",
                    listing(
                        (
                            link(say("all_tasks"), relative(uri, links.ALL)),
                            link(say("kit_all"), relative(uri, links.KIT)),
                        )
                    ),
                ),
            )
        )
        return Page(
            uri=uri,
            title=say("home"),
            sort="home",
            text=text,
            description=say("home_lead"),
            values=values.by_name,
        )

    def emergency(self) -> Page:
        uri, values, say = links.EMERGENCY, Values(), self.say
        number = values.token(self.guide.dealer.emergency)
        tasks = [task for task in self.guide.tasks if task.task.emergency]
        dial = "tel:" + "".join(c for c in self.guide.dealer.emergency if c.isdigit())
        text = (
            f"# {say('emergency_title')}\n\n"
            + paragraph(say("emergency_intro", number=number), "purpose")
            + "\n"
            + block("call", link(say("emergency_call", number=number), dial))
            + block(
                "choices",
                listing(
                    link(
                        f"**{task.title}** {task.task.purpose}", relative(uri, links.task_uri(task))
                    )
                    for task in tasks
                ),
            )
        )
        return self._page(uri, say("emergency_title"), "emergency", text, values)

    def wrong(self) -> Page:
        uri, values, say = links.WRONG, Values(), self.say
        sections = "".join(
            section(
                f"area-{area}",
                title,
                block(
                    "choices",
                    listing(
                        link(
                            f"**{symptom.title}**{self._which(symptom.subject, values)}",
                            relative(uri, links.symptom_uri(symptom)),
                        )
                        for symptom in symptoms
                    ),
                ),
            )
            for area, title in self.library.areas.items()
            if (symptoms := [s for s in self.guide.symptoms if s.symptom.area == area])
        )
        text = f"# {say('wrong')}\n\n" + paragraph(say("wrong_intro"), "purpose") + "\n" + sections
        return self._page(uri, say("wrong"), "list", text, values)

    def all_tasks(self) -> Page:
        uri, values, say = links.ALL, Values(), self.say
        lines = []
        for task in sorted(self.guide.tasks, key=lambda t: (t.title.lower(), t.slug)):
            called = ", ".join(task.task.called)
            words = link(
                f"{task.title}{self._which(task.subject, values, task)}",
                relative(uri, links.task_uri(task)),
            )
            lines.append(say("all_called", title=words, called=called) if called else words)
        text = (
            f"# {say('all_tasks')}\n\n"
            + paragraph(say("all_intro"), "purpose")
            + "\n"
            + block("index", listing(lines))
        )
        return self._page(uri, say("all_tasks"), "list", text, values)

    def kit(self) -> Page:
        uri, values, say = links.KIT, Values(), self.say
        sections = "".join(
            section(
                f"area-{area}",
                title,
                listing(
                    f"{link(values.token(f.title), relative(uri, links.kit_uri(f.name)))}"
                    f" {self._at(f.place, values)}"
                    for f in fittings
                ),
            )
            for area, title in self.library.areas.items()
            if (
                fittings := [
                    f
                    for f in self.guide.fittings.values()
                    if f.kind != VEHICLE and self.library.kinds[f.kind].area == area
                ]
            )
        )
        text = f"# {say('kit_all')}\n\n" + paragraph(say("kit_intro"), "purpose") + "\n" + sections
        return self._page(uri, say("kit_all"), "list", text, values)

    def routine(self, planned: PlannedRoutine) -> Page:
        routine, say, values = planned.routine, self.say, Values()
        uri = links.routine_uri(routine.name)
        parts = []
        for plan in planned.plans:
            situation = self.library.situations[plan.situation].title
            parts.append(
                section(
                    f"from-{plan.situation}",
                    say("routine_start", situation=situation),
                    self._plan(plan, uri, values),
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
        return self._page(uri, routine.title, "routine", text, values, routine.purpose)

    def _plan(self, plan: Plan, uri: str, values: Values) -> str:
        if not plan.steps:
            return paragraph(self.say("routine_nothing"))
        lines = []
        for number, step in enumerate(plan.steps, 1):
            if step.task is None:
                told = " ".join(
                    self.guide.variables[key].state.says[value] for key, value in step.sets.items()
                )
                lines.append(_item(number, f"**{self.say('routine_by_hand')}** {told}"))
                continue
            task = step.task
            words = link(
                f"**{task.title}**{self._which(task.subject, values, task)}",
                relative(uri, links.task_uri(task)),
            )
            where = self._at(task.place, values)
            lines.append(_item(number, f"{words} {where}"))
        total = self.say(
            "routine_total", count=len(plan.steps), minutes=_round_minutes(plan.minutes)
        )
        return paragraph(total, "hint") + "\n" + block("steps plan", "".join(lines))

    def place(self, spot: Spot, uri: str) -> Page:
        values, say = Values(), self.say
        tasks = self.guide.tasks_at(spot.name)
        fittings = self.guide.fittings_at(spot.name)
        gravest = self._gravest(spot)
        text = (
            f"# {values.token(spot.title)}\n\n"
            + (paragraph(values.token(spot.hint), "purpose") + "\n" if spot.hint else "")
            + (
                caution_block(gravest, self.drawings.signs, values, say)
                if gravest and tasks
                else ""
            )
            + (
                section("tasks", say("place_tasks"), self._choices_by_fitting(tasks, uri, values))
                if tasks
                else ""
            )
            + self._locator(spot, values)
            + section(
                "here",
                say("place_holds"),
                listing(
                    link(values.token(f.title), relative(uri, links.kit_uri(f.name)))
                    for f in fittings
                ),
            )
            + self._code_line(spot, values)
        )
        return Page(
            uri=uri,
            title=values.token(spot.title),
            sort="place",
            text=text,
            description=values.token(spot.title),
            values=values.by_name,
        )

    def task(self, bound: BoundTask, uri: str) -> Page:
        task, say = bound.task, self.say
        body, taken = self.bodies[bound.slug]
        values = Values(dict(taken.by_name))
        spot = self.spots.get(bound.place)
        linker = Linker(self.guide, bound.place, bound.subject.name)
        resolve = linker.resolve(task.body_at, self.problems)
        at_steps = {name for step in body.steps for name in step.cautions}
        first = [c for c in bound.cautions if c.name not in at_steps or c.gravity == 0]
        text = (
            f"# {bound.title}{self._which(bound.subject, values, bound)}\n\n"
            + paragraph(task.purpose, "purpose")
            + "\n"
            + self._facts(bound, spot, uri, values)
            + (
                paragraph(say("licensed_by", who=task.licensed), "licensed") + "\n"
                if task.licensed
                else ""
            )
            + section(
                "cautions",
                say("cautions_heading"),
                "".join(caution_block(c, self.drawings.signs, values, say) for c in first),
            )
            + section("before", say("before_heading"), self._before(bound, uri, values, linker))
            + (f"{resolve(body.context, uri)}\n\n" if body.context else "")
            + section(
                "work",
                say("steps_licensed" if task.licensed else "steps_heading"),
                block(
                    "steps",
                    "".join(
                        self._step(number, step, values, lambda t: resolve(t, uri))
                        for number, step in enumerate(body.steps, 1)
                    ),
                ),
            )
            + section("result", say("result_heading"), resolve(body.result, uri))
            + section("trouble", say("trouble_heading"), self._trouble(bound, body, uri, linker))
            + section("after", say("after_heading"), resolve(body.afterwards, uri))
            + section("next", say("next_heading"), self._next(bound, uri, values))
            + self._locator(spot, values)
            + section("also", say("also_here_heading"), self._also_here(bound, uri, values))
        )
        return self._page(uri, bound.title, "task", text, values, task.purpose)

    def symptom(self, bound: BoundSymptom) -> Page:
        say, values = self.say, Values()
        uri = links.symptom_uri(bound)
        linker = Linker(self.guide, bound.subject.place, bound.subject.name)
        resolve = linker.resolve(bound.symptom.at, self.problems)
        lines = []
        for number, check in enumerate(bound.checks, 1):
            answers = "".join(
                self._answer(key, answer, uri, linker)
                for key, answer in (("symptom_yes", check.yes), ("symptom_no", check.no))
                if answer
            )
            lines.append(_item(number, resolve(check.ask, uri)) + answers)
        said = ", ".join(bound.symptom.said)
        text = (
            f"# {bound.title}{self._which(bound.subject, values)}\n\n"
            + (paragraph(f"{say('symptom_said')} {said}.", "purpose") + "\n" if said else "")
            + "".join(caution_block(c, self.drawings.signs, values, say) for c in bound.cautions)
            + section(
                "checks",
                say("symptom_checks"),
                paragraph(say("symptom_go_on"), "hint") + "\n" + block("steps", "".join(lines)),
            )
            + section("ends", say("symptom_ends"), resolve(bound.symptom.ends, uri))
        )
        return self._page(uri, bound.title, "symptom", text, values)

    def fitting(self, fitting: Fitting) -> Page:
        say, values = self.say, Values()
        uri = links.kit_uri(fitting.name)
        kind = self.library.kinds[fitting.kind]
        spot = self.spots.get(fitting.place)
        rows = []
        for wanted in kind.attributes:
            if wanted.name not in fitting.values:
                continue
            value = spoken(fitting.values[wanted.name])
            measure = measure_of(wanted.name)
            if wanted.type in ("choice", "choices"):
                value = value.replace("-", " ")
            shown = f"{value} {measure.symbol}" if measure else value
            rows.append(f"| {wanted.help} | {values.token(shown)} |\n")
        facts = "| | |\n| --- | --- |\n" + "".join(rows) if rows else ""
        tasks = [
            task
            for task in self.guide.tasks
            if fitting.name in {task.subject.name, *(role.name for role in task.roles.values())}
        ]
        tasks.sort(key=lambda task: task.subject.name != fitting.name)
        symptoms = [s for s in self.guide.symptoms if s.subject.name == fitting.name]
        where = (
            listing((link(values.token(spot.title), relative(uri, links.place_uri(spot.name))),))
            if spot
            else ""
        )
        text = (
            f"# {values.token(fitting.title)}\n\n"
            + paragraph(kind.about, "purpose")
            + "\n"
            + section(
                "tasks", say("kit_tasks"), block("choices", self._choices(tasks, uri, values))
            )
            + section("values", say("kit_facts"), facts)
            + section("where", say("kit_where"), where)
            + self._locator(spot, values)
            + section(
                "wrong",
                say("kit_symptoms"),
                listing(link(s.title, relative(uri, links.symptom_uri(s))) for s in symptoms),
            )
        )
        return Page(
            uri=uri,
            title=values.token(fitting.title),
            sort="kit",
            text=text,
            description=kind.about,
            values=values.by_name,
        )

    # Parts ------------------------------------------------------------------------------------

    def _page(
        self, uri: str, title: str, sort: str, text: str, values: Values, description: str = ""
    ) -> Page:
        return Page(
            uri=uri,
            title=title,
            sort=sort,
            text=text,
            description=description or title,
            values=values.by_name,
        )

    def _read_body(self, bound: BoundTask) -> tuple[Body, Values]:
        values = Values()
        task = bound.task
        scope: Mapping[str, Any] = text_scope(
            self.guide.unit, bound.subject, task.roles, bound.roles, self.names
        )
        unit = self.guide.unit.name
        text = decide_text(
            task.body, task.body_at, scope, self.library.snippets, values, unit, self.problems
        )
        before = len(self.problems.found)
        quiet = self.problems if text else Problems()
        body = read_body(text, task.body_at, unit, quiet, may_lack_steps=bool(task.licensed))
        for step in body.steps:
            if step.picture and step.picture not in self.drawings.pictures:
                self.problems.add(
                    task.body_at,
                    "Picture",
                    f"no drawing '{step.picture}'",
                    "a file in site_assets/drawings/",
                )
        if len(self.problems.found) > before:
            return Body("", (), "", "", ""), values
        return body, values

    def _facts(self, bound: BoundTask, spot: Spot | None, uri: str, values: Values) -> str:
        say, minutes = self.say, bound.task.minutes
        facts = [say("one_minute") if minutes == 1 else say("minutes", count=minutes)]
        if spot:
            place = link(values.token(spot.title), relative(uri, links.place_uri(spot.name)))
            facts.append(say("at_place", place=place))
        if bound.task.tools:
            tools = ", ".join(f"{tool[0].lower()}{tool[1:]}" for tool in bound.task.tools)
            facts.append(f"{say('have_ready')}: {tools}")
        return block("facts", listing(facts))

    def _before(self, bound: BoundTask, uri: str, values: Values, linker: Linker) -> str:
        lines = []
        for need in bound.needs:
            ways = [
                way
                for way in self.proof.providers.get(need, ())
                if linker.task(way.task.name) in (way, None)
                or way.subject.name == self.guide.variables[need.key].fitting
            ]
            # The task that is about just this, not one that also happens to bring it about.
            fewest = min((len(way.sets) for way in ways), default=0)
            ways = [way for way in ways if len(way.sets) == fewest and not way.task.emergency]
            shown = ", ".join(
                link(
                    f"{way.title}{self._which(way.subject, values, way)}",
                    relative(uri, links.task_uri(way)),
                )
                for way in ways[:MOST_WAYS]
            )
            how = f" {self.say('before_how')} {shown}" if shown else ""
            lines.append(f"{self._says(need, values)}{how}")
        return listing(lines)

    def _says(self, need: Need, values: Values) -> str:
        """Return what must be so, as a sentence that the reader can check by looking."""
        variable = self.guide.variables[need.key]
        fitting = self.guide.fittings[variable.fitting]
        which = f"{values.token(fitting.title)}: " if fitting.kind in self.several else ""
        sentences = [variable.state.says[value] for value in need.values]
        first, *others = sentences
        for other in others:
            first = f"{first.rstrip('.')}, or {other[0].lower()}{other[1:]}"
        return which + first

    def _step(self, number: int, step: Step, values: Values, resolve: Any) -> str:
        say, signs = self.say, self.drawings.signs
        parts = [
            caution_line(self.library.cautions[name], signs, values, say) for name in step.cautions
        ]
        parts.append(paragraph(resolve(step.command), "do"))
        parts += [paragraph(f"**{say('note')}** {resolve(text)}", "note") for text in step.notes]
        if step.picture:
            drawing = self.drawings.pictures[step.picture]
            parts.append(paragraph(values.token(_figure(drawing)), "picture"))
        parts += [paragraph(f"**{say('then')}** {resolve(text)}", "then") for text in step.then]
        parts += [
            paragraph(f"**{say('if_not')}** {resolve(text)}", "ifnot") for text in step.if_not
        ]
        lines = "\n".join(parts).split("\n")
        indented = "".join(f"    {line}\n" if line else "\n" for line in lines)
        return f"{f'{number}.'.ljust(4)}{indented.lstrip()}\n"

    def _trouble(self, bound: BoundTask, body: Body, uri: str, linker: Linker) -> str:
        resolve = linker.resolve(bound.task.body_at, self.problems)
        found = [s for name in bound.task.symptoms if (s := linker.symptom(name))]
        more = listing(
            f"{self.say('trouble_more')} {link(s.title, relative(uri, links.symptom_uri(s)))}"
            for s in found
        )
        written = resolve(body.trouble, uri)
        return f"{written}\n{more}" if written else more

    def _next(self, bound: BoundTask, uri: str, values: Values) -> str:
        lines = []
        for planned in self.proof.routines:
            for plan in planned.plans[:1]:
                slugs = [step.task.slug if step.task else "" for step in plan.steps]
                if bound.slug not in slugs:
                    continue
                routine = link(
                    planned.routine.title, relative(uri, links.routine_uri(planned.routine.name))
                )
                following = [
                    step.task for step in plan.steps[slugs.index(bound.slug) + 1 :] if step.task
                ]
                if following:
                    after = following[0]
                    words = link(after.title, relative(uri, links.task_uri(after)))
                    lines.append(f"{self.say('next_in', routine=routine)} {words}")
                else:
                    lines.append(self.say("next_last", routine=routine))
        return listing(lines)

    def _also_here(self, bound: BoundTask, uri: str, values: Values) -> str:
        others = [t for t in self.guide.tasks_at(bound.place) if t.slug != bound.slug]
        return self._task_links(others, uri, values) if bound.place else ""

    def _task_links(self, tasks: Iterable[BoundTask], uri: str, values: Values) -> str:
        return listing(
            link(
                f"{task.title}{self._which(task.subject, values, task)}",
                relative(uri, links.task_uri(task)),
            )
            for task in tasks
        )

    def _choices(self, tasks: Iterable[BoundTask], uri: str, values: Values) -> str:
        return listing(
            link(
                f"**{task.title}** {self._which(task.subject, values, task)} {task.task.purpose}",
                relative(uri, links.task_uri(task)),
            )
            for task in tasks
        )

    def _choices_by_fitting(self, tasks: Sequence[BoundTask], uri: str, values: Values) -> str:
        """Return large choices, under the equipment's names where there are many."""
        if len(tasks) <= MOST_CHOICES:
            return block("choices", self._choices(tasks, uri, values))
        subjects = dict.fromkeys(task.subject.name for task in tasks)
        return "".join(
            f"### {values.token(self.guide.fittings[name].title)} {{: #fitted-{name} }}\n\n"
            + block(
                "choices",
                self._choices((t for t in tasks if t.subject.name == name), uri, values),
            )
            for name in subjects
        )

    def _answer(self, key: str, answer: Answer, uri: str, linker: Linker) -> str:
        parts = [f"**{self.say(key)}**"]
        if answer.do:
            parts.append(answer.do)
        task = next((t for name in answer.tasks if (t := linker.task(name))), None)
        if task:
            parts.append(link(task.title, relative(uri, links.task_uri(task))) + ".")
        symptom = next((s for name in answer.symptoms if (s := linker.symptom(name))), None)
        if symptom:
            parts.append(link(symptom.title, relative(uri, links.symptom_uri(symptom))) + ".")
        if answer.stop:
            parts.append(f"**{self.say('symptom_stop')}**")
        style = "stop" if answer.stop else "then"
        return f"    {' '.join(parts)}\n    {{: .{style} }}\n\n"

    def _locator(self, spot: Spot | None, values: Values) -> str:
        if spot is None:
            return ""
        drawing = draw_locator(self.guide.unit, spot, self.say)
        return section(
            "where-it-is", self.say("where"), paragraph(values.token(drawing), "drawing")
        )

    def _gravest(self, spot: Spot) -> Caution | None:
        return gravest_caution(self.guide, self.library, spot)

    def _which(self, fitting: Fitting, values: Values, task: BoundTask | None = None) -> str:
        """Return which of several fittings is meant; nothing where there is only one."""
        if fitting.kind not in self.several or fitting.kind == VEHICLE:
            return ""
        return f" ({values.token(fitting.title)})"

    def _at(self, place: str, values: Values) -> str:
        spot = self.spots.get(place)
        return f"<small>{values.token(spot.title)}</small>" if spot else ""

    def _numbered_places(self, uri: str, values: Values, *, inside: bool) -> list[str]:
        """Return the places outside or inside, with the numbers that the map shows."""
        return [
            f"**{number}** {link(values.token(spot.title), relative(uri, links.place_uri(spot.name)))}"
            + self._code_note(spot, values)
            for number, spot in enumerate(self.guide.places, 1)
            if (spot.wall == "inside") == inside
        ]

    def _code_note(self, spot: Spot, values: Values) -> str:
        code = self.guide.place_codes.get(spot.name)
        return f" <small>{values.token(code)}</small>" if code else ""

    def _code_line(self, spot: Spot, values: Values) -> str:
        code = self.guide.place_codes.get(spot.name)
        if not code:
            return ""
        return paragraph(f"{self.say('place_code')}: **{values.token(code)}**", "hint")


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


def _item(number: int, text: str) -> str:
    """Return one item of a list of steps that has no more than its command."""
    return f"{f'{number}.'.ljust(4)}{text}\n    {{: .do }}\n\n"


def _figure(drawing: str) -> Markup:
    """Return an explanatory drawing, sized for a step."""
    return Markup(  # noqa: S704 - our own drawing
        drawing.strip().replace("<svg", '<svg class="figure" role="img"', 1)
    )


def _round_minutes(minutes: int) -> int:
    """Return minutes to the nearest five above: a plan for a first-timer is no promise."""
    return -(-minutes // 5) * 5
