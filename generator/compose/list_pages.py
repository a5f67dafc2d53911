"""The pages that lead to others: home, emergency, something is wrong, A to Z, equipment."""

from __future__ import annotations

from generator.compose import links
from generator.compose.context import Context
from generator.compose.links import html_link, relative
from generator.compose.locator import draw_map
from generator.compose.markdown import block, link, listing, paragraph, section
from generator.compose.notices import notices_at_top
from generator.compose.numbers import pitch_jumps
from generator.compose.page import Page, Values
from generator.fit.guide import VEHICLE

FIRST_ROUTINES = 3
"""How many routines stand at the top of the home page: what someone who has just arrived wants."""


def home_page(ctx: Context, uri: str) -> Page:
    """Return the home page."""
    values = Values()
    say = ctx.say
    routines = [
        link(
            f"**{planned.routine.title}** {planned.routine.purpose}",
            relative(uri, links.routine_uri(planned.routine.name)),
        )
        for planned in ctx.proof.routines
    ]
    to_place = {spot.name: html_link(uri, links.place_uri(spot.name)) for spot in ctx.guide.places}
    hatches = "".join(
        f"### {say(f'hatches_{key}')} {{: #{key} }}\n\n" + block("numbered", listing(lines))
        for key in ("outside", "inside")
        if (lines := _numbered_places(ctx, uri, values, inside=key == "inside"))
    )
    drawing = draw_map(ctx.guide.unit, ctx.guide.places, to_place, say, upright=True)
    areas = "".join(
        f'<details markdown="1">\n<summary>{title} ({len(tasks)})</summary>\n\n'
        f"{ctx.task_links(tasks, uri, values)}\n</details>\n\n"
        for area, title in ctx.library.areas.items()
        if (tasks := [task for task in ctx.guide.tasks if task.task.area == area])
    )
    text = (
        f"# {values.token(ctx.guide.unit.title)} {{: #title }}\n\n"
        + paragraph(say("home_lead"), "purpose")
        + f"\n{notices_at_top(ctx, None, uri, values)}"
        + '\n<div class="kept" role="status"></div>\n\n'
        + pitch_jumps(ctx, uri)
        + section("routines", say("routines"), block("choices", listing(routines[:FIRST_ROUTINES])))
        + block(
            "choices two",
            listing(
                (
                    link(f"**{say('wrong')}**", relative(uri, links.WRONG)),
                    link(f"**{say('search')}** {say('search_home')}", relative(uri, links.SEARCH)),
                    link(f"**{say('emergency')}**", relative(uri, links.EMERGENCY))
                    + "{: .urgent }",
                    link(
                        f"**{say('numbers')}** {say('numbers_home')}", relative(uri, links.NUMBERS)
                    ),
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
            "routines-more",
            say("routines_more"),
            block("choices", listing(routines[FIRST_ROUTINES:])),
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
                        link(say("notices"), relative(uri, links.NOTICES)),
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


def emergency_page(ctx: Context) -> Page:
    """Return the page that leads to every emergency task."""
    uri, values, say = links.EMERGENCY, Values(), ctx.say
    number = values.token(ctx.guide.dealer.emergency)
    tasks = sorted(
        (task for task in ctx.guide.tasks if task.task.emergency),
        key=lambda task: task.task.emergency,
    )
    dial = "tel:" + "".join(c for c in ctx.guide.dealer.emergency if c.isdigit())
    text = (
        f"# {say('emergency_title')} {{: #title }}\n\n"
        + paragraph(say("emergency_intro", number=number), "purpose")
        + "\n"
        + block("call", link(say("emergency_call", number=number), dial))
        + block(
            "choices",
            listing(
                link(f"**{task.title}** {task.task.purpose}", relative(uri, links.task_uri(task)))
                for task in tasks
            ),
        )
    )
    return ctx.page(uri, say("emergency_title"), "emergency", text, values)


def wrong_page(ctx: Context) -> Page:
    """Return the page that leads to every symptom, by area."""
    uri, values, say = links.WRONG, Values(), ctx.say
    sections = "".join(
        section(
            f"area-{area}",
            title,
            block(
                "choices",
                listing(
                    link(
                        f"**{symptom.title}**{ctx.which(symptom.subject, values)}",
                        relative(uri, links.symptom_uri(symptom)),
                    )
                    for symptom in symptoms
                ),
            ),
        )
        for area, title in ctx.library.areas.items()
        if (symptoms := [s for s in ctx.guide.symptoms if s.symptom.area == area])
    )
    text = (
        f"# {say('wrong')} {{: #title }}\n\n"
        + paragraph(say("wrong_intro"), "purpose")
        + "\n"
        + sections
    )
    return ctx.page(uri, say("wrong"), "list", text, values)


def all_tasks_page(ctx: Context) -> Page:
    """Return the index of all tasks, with the words that customers use."""
    uri, values, say = links.ALL, Values(), ctx.say
    lines = []
    for task in sorted(ctx.guide.tasks, key=lambda t: (t.title.lower(), t.slug)):
        called = ", ".join(task.task.called)
        words = link(
            f"{task.title}{ctx.which(task.subject, values, task)}",
            relative(uri, links.task_uri(task)),
        )
        lines.append(say("all_called", title=words, called=called) if called else words)
    text = (
        f"# {say('all_tasks')} {{: #title }}\n\n"
        + paragraph(say("all_intro"), "purpose")
        + "\n"
        + block("index", listing(lines))
    )
    return ctx.page(uri, say("all_tasks"), "list", text, values)


def kit_page(ctx: Context) -> Page:
    """Return the list of all equipment, by area."""
    uri, values, say = links.KIT, Values(), ctx.say
    sections = "".join(
        section(
            f"area-{area}",
            title,
            listing(
                f"{link(values.token(f.title), relative(uri, links.kit_uri(f.name)))}"
                f" {ctx.at(f.place, values)}"
                for f in fittings
            ),
        )
        for area, title in ctx.library.areas.items()
        if (
            fittings := [
                f
                for f in ctx.guide.fittings.values()
                if f.kind != VEHICLE and ctx.library.kinds[f.kind].area == area
            ]
        )
    )
    text = (
        f"# {say('kit_all')} {{: #title }}\n\n"
        + paragraph(say("kit_intro"), "purpose")
        + "\n"
        + sections
    )
    return ctx.page(uri, say("kit_all"), "list", text, values)


def _numbered_places(ctx: Context, uri: str, values: Values, *, inside: bool) -> list[str]:
    """Return the places outside or inside, with the numbers that the map shows."""
    return [
        f"**{number}** {link(values.token(spot.title), relative(uri, links.place_uri(spot.name)))}"
        + ctx.code_note(spot, values)
        for number, spot in enumerate(ctx.guide.places, 1)
        if (spot.wall == "inside") == inside
    ]
