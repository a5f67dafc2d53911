"""The pages of a place and of a fitting, and what a sticker leads to."""

from __future__ import annotations

from generator.compose import links
from generator.compose.context import Context
from generator.compose.film import film_of_place
from generator.compose.links import relative
from generator.compose.markdown import block, caution_block, link, listing, paragraph, section
from generator.compose.notices import notices_at_top
from generator.compose.numbers import number_choices, numbers_of_fitting
from generator.compose.page import Page, Values
from generator.compose.spoken import spoken
from generator.compose.task_page import task_page
from generator.fit.guide import Guide
from generator.read.fields import Field, Value
from generator.read.kinds import Kind
from generator.read.measures import measure_of
from generator.read.translated import Shown
from generator.read.units import Fitting, Spot


def landing_page(ctx: Context, spot: Spot, uri: str) -> Page:
    """Return the page behind a sticker: the task where the place has one, else the place."""
    tasks = ctx.guide.tasks_at(spot.name)
    return task_page(ctx, tasks[0], uri) if len(tasks) == 1 else place_page(ctx, spot, uri)


def tasks_of_landing(guide: Guide, place: str) -> tuple[str, ...]:
    """Return the task, by slug, whose text stands behind a place's sticker, if there is one."""
    tasks = guide.tasks_at(place)
    return (tasks[0].slug,) if len(tasks) == 1 else ()


def place_page(ctx: Context, spot: Spot, uri: str) -> Page:
    """Return the page of a place: what can be done there, where it is, what is there."""
    values, say = Values(), ctx.say
    tasks = ctx.guide.tasks_at(spot.name)
    fittings = ctx.guide.fittings_at(spot.name)
    gravest = ctx.gravest(spot)
    text = (
        f"# {values.token(spot.title)} {{: #title }}\n\n"
        + (paragraph(values.token(spot.hint), "purpose") + "\n" if spot.hint else "")
        + notices_at_top(ctx, [fitting.name for fitting in fittings], uri, values)
        + (caution_block(gravest, ctx.drawings.signs, values, say) if gravest and tasks else "")
        + (
            section("tasks", say("place_tasks"), ctx.choices_by_fitting(tasks, uri, values))
            if tasks
            else ""
        )
        + film_of_place(ctx, spot, uri, values)
        + ctx.locator(spot, uri, values)
        + section(
            "here",
            say("place_holds"),
            listing(
                link(values.token(f.title), relative(uri, links.kit_uri(f.name))) for f in fittings
            ),
        )
        + ctx.code_line(spot, values)
    )
    return Page(
        uri=uri,
        title=values.token(spot.title),
        sort="place",
        text=text,
        description=values.token(spot.title),
        values=values.by_name,
    )


def fitting_page(ctx: Context, fitting: Fitting) -> Page:
    """Return the page of a fitting: how to use it, its values, where it is."""
    say, values = ctx.say, Values()
    uri = links.kit_uri(fitting.name)
    kind = ctx.library.kinds[fitting.kind]
    spot = ctx.spots.get(fitting.place)
    rows = [
        f"| {what} | {values.token(value)} |\n" for what, value in fitting_facts(ctx, kind, fitting)
    ]
    facts = "| | |\n| --- | --- |\n" + "".join(rows) if rows else ""
    tasks = [
        task
        for task in ctx.guide.tasks
        if fitting.name in {task.subject.name, *(role.name for role in task.roles.values())}
    ]
    tasks.sort(key=lambda task: task.subject.name != fitting.name)
    symptoms = [s for s in ctx.guide.symptoms if s.subject.name == fitting.name]
    where = (
        listing((link(values.token(spot.title), relative(uri, links.place_uri(spot.name))),))
        if spot
        else ""
    )
    text = (
        f"# {values.token(fitting.title)} {{: #title }}\n\n"
        + paragraph(kind.about, "purpose")
        + f"\n{notices_at_top(ctx, [fitting.name], uri, values)}"
        + section("tasks", say("kit_tasks"), block("choices", ctx.choices(tasks, uri, values)))
        + section("values", say("kit_facts"), facts)
        + section(
            "numbers",
            say("number_links"),
            number_choices(ctx, numbers_of_fitting(ctx, fitting), uri),
        )
        + section("where", say("kit_where"), where)
        + ctx.locator(spot, uri, values)
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


def fitting_facts(ctx: Context, kind: Kind, fitting: Fitting) -> tuple[tuple[str, str], ...]:
    """Return what a fitting states, as (what it is, its value with its unit of measure)."""
    facts = []
    for wanted in kind.attributes:
        if wanted.name not in fitting.values:
            continue
        facts.append((wanted.help, shown_value(ctx, wanted, fitting.values[wanted.name])))
    return tuple(facts)


def shown_value(ctx: Context, wanted: Field, value: Value) -> str:
    """Return a value of a fitting as a reader would say it, with its unit of measure."""
    text = spoken(value, ctx.tongue)
    if wanted.type in ("choice", "choices") and not isinstance(value, Shown):
        text = text.replace("-", " ")
    measure = measure_of(wanted.name)
    return f"{text} {ctx.phrase(measure.symbol)}" if measure else text
