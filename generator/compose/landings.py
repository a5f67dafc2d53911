"""The pages behind stickers that are not in force any more: none of them leads nowhere."""

from __future__ import annotations

from dataclasses import replace

from generator.compose import links
from generator.compose.context import Context
from generator.compose.links import relative
from generator.compose.list_pages import home_page
from generator.compose.markdown import block, link, listing, paragraph, section
from generator.compose.page import Page, Values
from generator.compose.place_page import landing_page, tasks_of_landing
from generator.compose.task_page import task_page
from generator.fit.guide import BoundTask, Guide, Landing


def stray_page(ctx: Context, landing: Landing) -> Page:
    """Return the page of a code whose sticker is spare, retired, or of something that is gone."""
    uri = links.code_uri(landing.code)
    if landing.state == "retired":
        return _retired_page(ctx, landing, uri)
    if landing.sort == "area":
        return _area_page(ctx, landing.target, uri)
    if landing.sort == "place":
        page = landing_page(ctx, ctx.spots[landing.target], uri)
    elif landing.sort == "task":
        page = task_page(ctx, _task(ctx, landing.target), uri)
    else:
        page = home_page(ctx, uri)
    note = "gone_unit" if landing.sort == "unit" else "gone_place"
    return page if landing.state == "spare" else _with_note(page, ctx.say(note))


def tasks_of_stray(guide: Guide, landing: Landing) -> tuple[str, ...]:
    """Return the task, by slug, whose text stands on such a page, if there is one."""
    if landing.state == "retired" or landing.sort not in ("place", "task"):
        return ()
    if landing.sort == "task":
        return (landing.target,)
    return tasks_of_landing(guide, landing.target)


def _task(ctx: Context, slug: str) -> BoundTask:
    return next(task for task in ctx.guide.tasks if task.slug == slug)


def _with_note(page: Page, note: str) -> Page:
    """Return a page that says below its title why it is shown."""
    title, rest = page.text.split("\n\n", 1)
    return replace(page, text=f"{title}\n\n{paragraph(note, 'note')}\n{rest}")


def _retired_page(ctx: Context, landing: Landing, uri: str) -> Page:
    values, say = Values(), ctx.say
    choices = [link(f"**{say('retired_home')}**", relative(uri, links.HOME))]
    if landing.sort == "place":
        spot = ctx.spots[landing.target]
        words = f"**{values.token(spot.title)}**"
        choices.insert(0, link(words, relative(uri, links.place_uri(spot.name))))
    elif landing.sort == "task":
        task = _task(ctx, landing.target)
        choices.insert(0, link(f"**{task.title}**", relative(uri, links.task_uri(task))))
    text = (
        f"# {say('retired_title')} {{: #title }}\n\n"
        + paragraph(say("retired_text"), "purpose")
        + "\n"
        + block("choices", listing(choices))
    )
    return ctx.page(uri, say("retired_title"), "sticker", text, values, say("retired_text"))


def _area_page(ctx: Context, area: str, uri: str) -> Page:
    values, say = Values(), ctx.say
    title = ctx.library.areas[area]
    tasks = [task for task in ctx.guide.tasks if task.task.area == area]
    text = (
        f"# {title} {{: #title }}\n\n"
        + paragraph(say("gone_area"), "purpose")
        + "\n"
        + section("tasks", say("place_tasks"), ctx.choices_by_fitting(tasks, uri, values))
        + block("more", listing([link(say("retired_home"), relative(uri, links.HOME))]))
    )
    return ctx.page(uri, title, "sticker", text, values, say("gone_area"))
