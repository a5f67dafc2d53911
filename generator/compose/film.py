"""What a unit's film shows on its pages, its chapters as WebVTT, and the list of shots for it.

A page shows only its own stretch of the film, by a media fragment (W3C, Media Fragments URI 1.0,
4.2.1, time in seconds).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from html import escape as escape_text

from markupsafe import Markup, escape

from generator.compose.context import Context
from generator.compose.links import relative
from generator.compose.markdown import paragraph, section
from generator.compose.page import Values
from generator.fit.guide import BoundTask, Guide
from generator.problems import one_of
from generator.prove.tour import shortest_tour
from generator.read.films import Chapter, Film
from generator.read.handover import Handover
from generator.read.units import Spot

_FOLDER = "film"
CHAPTERS = f"{_FOLDER}/chapters.vtt"


@dataclass(frozen=True, slots=True)
class Shot:
    """What is filmed at one place; `title` and `place` are empty for what is at none."""

    number: int
    place: str
    title: str
    do: tuple[BoundTask, ...]
    """Tasks that the film shows as the customer will do them."""
    more: tuple[BoundTask, ...]
    """Further tasks there, which have pages of their own."""


def film_files(guide: Guide) -> dict[str, bytes]:
    """Return the files of a unit's film, with its chapters, by their path in the guide."""
    film = guide.unit.film
    if film is None:
        return {}
    files = {f"{_FOLDER}/{film.name}": film.path.read_bytes()}
    files[CHAPTERS] = chapters_text(guide, film).encode()
    if film.captions:
        files[f"{_FOLDER}/{film.captions_name}"] = film.captions.read_bytes()
    return files


def is_film_file(path: str) -> bool:
    """Return whether a file of a guide belongs to its film, which no phone keeps."""
    return path.startswith(f"{_FOLDER}/")


def chapters_text(guide: Guide, film: Film) -> str:
    """Return a film's chapters as WebVTT (W3C, WebVTT, chapter cues)."""
    titles = {task.task.name: task.title for task in guide.tasks}
    titles |= {task.slug: task.title for task in guide.tasks}
    titles |= {spot.name: spot.title for spot in guide.places}
    cues = [
        f"{_stamp(c.start_s)} --> {_stamp(c.end_s)}\n"
        f"{escape_text(titles.get(c.shows, c.shows), quote=False)}\n"
        for c in film.chapters
    ]
    return "\n".join(["WEBVTT\n", *cues])


def check_film(ctx: Context) -> None:
    """Note each chapter that shows what this unit does not have."""
    film = ctx.guide.unit.film
    known = {*ctx.spots, *(n for task in ctx.guide.tasks for n in (task.slug, task.task.name))}
    for chapter in film.chapters if film else ():
        if chapter.shows not in known:
            wrong = f"{ctx.guide.unit.name} has no place or task '{chapter.shows}'"
            ctx.problems.add(chapter.at, "film.chapters", wrong, one_of(known, chapter.shows))


def film_of_task(ctx: Context, bound: BoundTask, uri: str, values: Values) -> str:
    """Return the section with the stretch of film that shows a task, else its place."""
    return _film(ctx, (bound.slug, bound.task.name), uri, values) or _film(
        ctx, (bound.place,), uri, values
    )


def film_of_place(ctx: Context, spot: Spot, uri: str, values: Values) -> str:
    """Return the section with the stretch of film that shows a place."""
    return _film(ctx, (spot.name,), uri, values)


def _film(ctx: Context, names: Iterable[str], uri: str, values: Values) -> str:
    film, wanted = ctx.guide.unit.film, set(names)
    chapter = next((c for c in film.chapters if c.shows in wanted), None) if film else None
    if film is None or chapter is None:
        return ""
    shown = values.token(_video(ctx, film, chapter, uri))
    start, end = (values.token(clock(seconds)) for seconds in (chapter.start_s, chapter.end_s))
    told = ctx.say("film_part", start=start, end=end)
    return section(
        "film", ctx.say("film"), paragraph(shown, "drawing") + "\n" + paragraph(told, "hint")
    )


def _video(ctx: Context, film: Film, chapter: Chapter, uri: str) -> Markup:
    language = escape(ctx.say("lang"))

    def track(kind: str, path: str, label: str) -> str:
        source = relative(uri, path)
        return f'<track kind="{kind}" src="{source}" srclang="{language}" label="{escape(label)}">'

    source = relative(uri, f"{_FOLDER}/{film.name}")
    tracks = track("chapters", CHAPTERS, ctx.say("film_chapters"))
    if film.captions:
        path = f"{_FOLDER}/{film.captions_name}"
        tracks = track("captions", path, ctx.say("film_captions")) + tracks
    return Markup(  # noqa: S704 - all that is not ours in it has been escaped
        f'<video controls playsinline preload="none" '
        f'src="{source}#t={chapter.start_s},{chapter.end_s}" '
        f'aria-label="{escape(ctx.say("film"))}">{tracks}</video>'
    )


def plan_shots(ctx: Context, handover: Handover) -> tuple[Shot, ...]:
    """Return what a film of this unit has to show so that one film covers every page.

    The places stand in the order of the handover's walk: round the vehicle, then through it.
    """
    first = (*handover.do, *handover.show)

    def shot(number: int, spot: Spot | None, tasks: list[BoundTask]) -> Shot:
        mine = [task for task in tasks if task.for_reader]
        do = sorted(
            (t for t in mine if t.task.name in first), key=lambda t: first.index(t.task.name)
        )
        more = tuple(task for task in mine if task not in do)
        return Shot(number, spot.name if spot else "", spot.title if spot else "", tuple(do), more)

    guide = ctx.guide
    places = [spot for spot in guide.places if guide.tasks_at(spot.name)]
    tour = shortest_tour(places, guide.unit.body)
    shots = [shot(n, spot, list(guide.tasks_at(spot.name))) for n, spot in enumerate(tour, 1)]
    anywhere = [task for task in guide.tasks if task.place not in ctx.spots]
    return (*shots, shot(0, None, anywhere)) if anywhere else tuple(shots)


def chapters_by_name(guide: Guide) -> dict[str, str]:
    """Return where in the film each place or task is shown, as a clock would say it."""
    film = guide.unit.film
    return {c.shows: clock(c.start_s) for c in reversed(film.chapters)} if film else {}


def clock(seconds: int) -> str:
    """Return a time of a film as people say it."""
    return f"{seconds // 60}:{seconds % 60:02}"


def _stamp(seconds: int) -> str:
    return f"{seconds // 3600:02}:{seconds // 60 % 60:02}:{seconds % 60:02}.000"
