"""Safety notices on a guide's pages, on a page of their own, and as a feed (Atom, RFC 4287)."""

from __future__ import annotations

from collections.abc import Iterable
from xml.sax.saxutils import escape, quoteattr

from generator.compose import links
from generator.compose.context import Context
from generator.compose.links import Linker, relative
from generator.compose.markdown import caution_block, link, listing, paragraph
from generator.compose.page import Page, Values
from generator.fit.notices import Reached
from generator.read.library import Caution
from generator.read.translated import as_foreign, without_marks


def notices_at_top(ctx: Context, about: Iterable[str] | None, uri: str, values: Values) -> str:
    """Return the notices that belong at the top of a page about some equipment; None is all."""
    names = None if about is None else set(about)
    shown = [one for one in ctx.guide.notices if names is None or one.is_about(names)]
    return "".join(_block(ctx, one, uri, values) for one in shown)


def notice_cautions(ctx: Context, about: Iterable[str], values: Values) -> list[Caution]:
    """Return the notices about some equipment as cautions, for paper; their words are tokens."""
    names = set(about)
    cautions = []
    for one in ctx.guide.notices:
        if one.is_about(names):
            title, hazard, *rest = (values.token(text) for text in _words(ctx, one))
            heading = ctx.say("notice_heading", title=title)
            cautions.append(_caution(one, f"{heading}. {hazard}", *rest))
    return cautions


def _caution(one: Reached, hazard: str, consequence: str, avoidance: str) -> Caution:
    notice = one.notice
    return Caution(
        notice.name, notice.word, notice.sign, hazard, consequence, avoidance, "", "", notice.at
    )


def notices_page(ctx: Context) -> Page:
    """Return the page of all notices that are in force."""
    uri, values, say = links.NOTICES, Values(), ctx.say
    shown = notices_at_top(ctx, None, uri, values)
    text = (
        f"# {say('notices')} {{: #title }}\n\n"
        + paragraph(say("notices_lead" if shown else "notices_none"), "purpose")
        + f"\n{shown}"
        + paragraph(say("notices_feed", link=link(say("notices_feed_link"), links.FEED)), "hint")
    )
    return ctx.page(uri, say("notices"), "notices", text, values, say("notices_lead"))


def notices_feed(ctx: Context) -> str:
    """Return the notices as a feed that a reader may follow."""
    guide, say = ctx.guide, ctx.say
    base = f"{guide.dealer.address.lower()}/{guide.code}"
    entries = "".join(_entry(ctx, one, base) for one in ctx.guide.notices)
    days = [one.notice.issued for one in ctx.guide.notices]
    updated = max(days).isoformat() if days else "2000-01-01"  # as long as nothing was issued
    title = f"{say('notices')}: {guide.unit.title}"
    return (
        '<?xml version="1.0" encoding="utf-8"?>\n'
        '<feed xmlns="http://www.w3.org/2005/Atom">\n'
        f"<id>{_name(ctx, '')}</id>\n"
        f"<title>{_plain(title)}</title>\n"
        f"<updated>{updated}T00:00:00Z</updated>\n"
        f"<author><name>{_plain(guide.dealer.title)}</name></author>\n"
        f'<link rel="alternate" href={quoteattr(f"{base}/notices.html")}/>\n'
        f"{entries}</feed>\n"
    )


def _entry(ctx: Context, one: Reached, base: str) -> str:
    title, hazard, consequence, avoidance = _words(ctx, one)
    told = without_marks(f"{hazard} {consequence} {avoidance}")
    anchor = f"{base}/notices.html#notice-{one.notice.name}"
    return (
        "<entry>\n"
        f"<id>{_name(ctx, one.notice.name)}</id>\n"
        f"<title>{_plain(title)}</title>\n"
        f"<updated>{one.notice.issued.isoformat()}T00:00:00Z</updated>\n"
        f"<link href={quoteattr(anchor)}/>\n"
        f"<summary>{_plain(told)}</summary>\n"
        "</entry>\n"
    )


def _name(ctx: Context, notice: str) -> str:
    """Return a name for ever (tag URI, RFC 4151) of the feed or of an entry."""
    host = ctx.guide.dealer.address.lower().removeprefix("https://").split("/")[0]
    return f"tag:{host},2000:{ctx.guide.code}" + (f"/{notice}" if notice else "")


def _plain(text: str) -> str:
    return escape(without_marks(text))


def _block(ctx: Context, one: Reached, uri: str, values: Values) -> str:
    """Return a notice in full: what was found, what it can do, what to do until it is seen to."""
    notice, say = one.notice, ctx.say
    title, *told = (values.token(text) for text in _words(ctx, one))
    caution = _caution(one, *told)
    lines = [say("notice_day", day=values.token(ctx.day_of_notice(notice.issued)))]
    if one.fittings:
        kits = ", ".join(
            link(values.token(ctx.guide.fittings[name].title), relative(uri, links.kit_uri(name)))
            for name in one.fittings
        )
        lines.append(say("notice_about", kits=kits))
    if one.unsure and notice.serials:
        first, last = (values.token(text) for text in notice.serials)
        lines.append(say("notice_serials", first=first, last=last))
    task = Linker(ctx.guide, "", one.fittings[0] if one.fittings else "").task(notice.task)
    if task:
        lines.append(link(task.title, relative(uri, links.task_uri(task))))
    lines.append(say("notice_call"))
    return (
        f'<section class="notice" markdown="1">\n\n'
        f"## {say('notice_heading', title=title)} {{: #notice-{notice.name} }}\n\n"
        + caution_block(caution, ctx.drawings.signs, values, say)
        + listing(lines)
        + "\n</section>\n\n"
    )


def _words(ctx: Context, one: Reached) -> tuple[str, str, str, str]:
    """Return a notice's words, in the page's language where it has them."""
    notice = one.notice
    there = notice.translated.get(ctx.language, {}) if ctx.language else {}

    def word(key: str, first: str) -> str:
        return there.get(key) or (as_foreign(first) if ctx.language else first)

    return (
        word("title", notice.title),
        word("hazard", notice.hazard),
        word("consequence", notice.consequence),
        word("avoidance", notice.avoidance),
    )
