"""A unit's film: on the pages of what it shows, and nowhere else; read back by other programs."""

from __future__ import annotations

import functools
import http.server
import threading
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pytest
import webvtt
from browser.conftest import FLAGS, _Quiet, chromium_program, in_a_thread
from playwright.sync_api import sync_playwright

from generator.compose.film import chapters_text
from generator.fit.fit import fit_unit
from generator.read.sources import read_sources

Lockerleaf = Callable[..., str]

FILM = """\
film:
  file: walk.webm
  ends: "0:30"
  captions: walk.vtt
  chapters:
    - {at: "0:02", shows: gas-locker}
    - {at: "0:05", until: "0:09", shows: turn-on-gas}
    - {at: "0:12", shows: entrance}
"""
IN_FILMS = "a file in units/films/"
A_FILM = "a .webm or .mp4 file"
WHOLE = "a whole .webm or .mp4 file"
BARE = "the film without its location"
LIMIT = "where the next one begins or the film ends"
NO_CAPTIONS = "film.captions: 'bad.vtt' does not begin with WEBVTT"
CAPTIONS = "WEBVTT\n\n00:05.000 --> 00:08.000\nTurn the valve.\n"


@pytest.fixture
def filmed(workspace: Path) -> Path:
    """Return the small workspace, its unit with a film of half a minute."""
    folder = workspace / "units" / "films"
    folder.mkdir()
    writer = cv2.VideoWriter(
        str(folder / "walk.webm"), cv2.VideoWriter_fourcc(*"VP90"), 2, (160, 90)
    )
    for second in range(60):
        writer.write(np.full((90, 160, 3), 4 * second, np.uint8))
    writer.release()
    (folder / "walk.vtt").write_text(CAPTIONS, "utf-8")
    unit = workspace / "units" / "sm-1.yml"
    unit.write_text(unit.read_text("utf-8") + FILM, "utf-8")
    return workspace


def test_chapters_as_an_independent_parser_reads_them(filmed: Path) -> None:
    """webvtt-py finds each chapter with its times and the title of what it shows."""
    sources = read_sources(filmed)
    unit = sources.stock.units["sm-1"]
    guide = fit_unit(sources.library, unit, sources.stock.dealer, sources.register)
    assert unit.film is not None
    cues = webvtt.from_string(chapters_text(guide, unit.film)).captions
    assert [(cue.start, cue.end, cue.text) for cue in cues] == [
        ("00:00:02.000", "00:00:05.000", "Gas locker"),
        ("00:00:05.000", "00:00:09.000", "Turn on the gas"),
        ("00:00:12.000", "00:00:30.000", "Entrance door"),
    ]


@in_a_thread
def test_film_in_the_guide(filmed: Path, lockerleaf: Lockerleaf) -> None:
    """Each page shows its own stretch as Chromium plays it; nothing is fetched before that.

    No phone keeps the film, and only a guide that has one may play any.
    """
    lockerleaf("build", "--no-papers", "--jobs", "1")
    guide = filmed / "public" / "M9S3"
    names = {path.name for path in (guide / "film").iterdir()}
    (film,) = (name for name in names if name.endswith(".webm"))
    assert names >= {"chapters.vtt", film}
    assert len(names) == 3
    place = (guide / "place" / "gas-locker.html").read_text("utf-8")
    task = (guide / "task" / "turn-on-gas.html").read_text("utf-8")
    other = (guide / "task" / "fill-water.html").read_text("utf-8")
    assert f'src="../film/{film}#t=2,5"' in place
    assert f'src="../film/{film}#t=5,9"' in task
    assert "<video" not in other
    # A task that has no chapter of its own shows its place's.
    lock = (guide / "task" / "turn-off-gas.html").read_text("utf-8")
    assert f'src="../film/{film}#t=2,5"' in lock
    handler = functools.partial(_Quiet, directory=str(filmed / "public"))
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    asked: list[str] = []
    complaints: list[str] = []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium_program(), args=list(FLAGS))
        context = browser.new_context(viewport={"width": 390, "height": 844})
        page = context.new_page()
        context.on("request", lambda request: asked.append(request.url))
        page.on("console", lambda told: complaints.append(told.text))
        page.goto(f"http://127.0.0.1:{server.server_address[1]}/M9S3/task/turn-on-gas.html")
        page.wait_for_load_state("networkidle")
        assert not any(film in url for url in asked)
        page.evaluate("document.querySelector('video').muted = true")
        page.evaluate("document.querySelector('video').play()")
        for _ in range(100):
            at = page.evaluate("document.querySelector('video').currentTime")
            if at > 5.2:
                break
            page.wait_for_timeout(100)
        width = page.evaluate("document.querySelector('video').getBoundingClientRect().width")
        tracks = page.evaluate(
            "[...document.querySelectorAll('track')].map(t => [t.kind, t.srclang])"
        )
        stored = page.evaluate(
            "caches.keys().then(async names => (await Promise.all(names.map(async n => "
            "(await (await caches.open(n)).keys()).map(r => r.url)))).flat())"
        )
        browser.close()
    server.shutdown()
    assert 5.2 < at < 9.5
    assert 300 < width <= 390
    assert tracks == [["captions", "en"], ["chapters", "en"]]
    assert not any("/film/" in url for url in stored)
    assert [told for told in complaints if "favicon" not in told] == []
    assert "media-src &#39;self&#39;" in task
    assert (guide / "film" / film).read_bytes() == (
        filmed / "units" / "films" / "walk.webm"
    ).read_bytes()


def test_no_film_no_leave_to_play_one(workspace: Path, lockerleaf: Lockerleaf) -> None:
    """A guide without a film has a content policy without one."""
    lockerleaf("build", "--no-papers", "--jobs", "1")
    pages = list((workspace / "public" / "M9S3").rglob("*.html"))
    assert pages
    assert not any("media-src" in page.read_text("utf-8") for page in pages)


MISTAKES = [
    ("file: walk.webm", "file: gone.webm", "film.file: no file 'gone.webm'", IN_FILMS),
    (
        "file: walk.webm",
        "file: ../a.webm",
        "film.file: '../a.webm' leads out of its folder",
        IN_FILMS,
    ),
    ("file: walk.webm", "file: walk.vtt", "film.file: 'walk.vtt' is of another sort", A_FILM),
    ("file: walk.webm", "file: fake.webm", "film.file: 'fake.webm' is no film, or broken", WHOLE),
    ("file: walk.webm", "file: home.mp4", "film.file: 'home.mp4' tells where it was taken", BARE),
    ("captions: walk.vtt", "captions: bad.vtt", NO_CAPTIONS, "captions as WebVTT"),
    ('ends: "0:30"', "ends: soon", "film.ends: is 'soon'", 'minutes and seconds, such as "1:23"'),
    ('at: "0:12"', 'at: "0:31"', "film.chapters[2].at: is 0:31", f"before 0:30, {LIMIT}"),
    ('at: "0:12"', 'at: "0:05"', "film.chapters[1].at: is 0:05", f"before 0:05, {LIMIT}"),
    (
        'until: "0:09"',
        'until: "0:15"',
        "film.chapters[1].until: is 0:15",
        "after 0:05, and before the next one begins or the film ends",
    ),
    (
        "shows: entrance",
        "shows: entranse",
        "film.chapters: sm-1 has no place or task 'entranse'",
        "did you mean entrance?",
    ),
]


@pytest.mark.parametrize(("old", "new", "wrong", "right"), MISTAKES)
def test_what_an_author_is_told(
    filmed: Path, lockerleaf: Lockerleaf, old: str, new: str, wrong: str, right: str
) -> None:
    """Each mistake is one line that tells where, and nothing is written."""
    folder = filmed / "units" / "films"
    (folder / "fake.webm").write_text("no film")
    (folder / "bad.vtt").write_text("captions")
    place = b"\xa9xyz" + b"\x00\x12\x15\xc7+51.5-000.1/"
    moov = b"moov" + (len(place) + 8).to_bytes(4, "big") + b"udta" + place
    (folder / "home.mp4").write_bytes(
        b"\x00\x00\x00\x10ftypisom\x00\x00\x02\x00" + (len(moov) + 4).to_bytes(4, "big") + moov
    )
    unit = filmed / "units" / "sm-1.yml"
    text = unit.read_text("utf-8")
    assert text.count(old) == 1
    unit.write_text(text.replace(old, new), "utf-8")
    told, last = lockerleaf("check").splitlines()
    assert last == "1 problem; nothing written"
    file, line, _, rest = told.split(":", 3)
    assert (file, rest.strip()) == ("units/sm-1.yml", f"{wrong}; right: {right}")
    first = text.splitlines().index("film:") + 1
    assert first < int(line) <= first + 7


def test_shot_list(filmed: Path, lockerleaf: Lockerleaf) -> None:
    """Every place with a sticker and every task that a reader may do has its line, once."""
    lines = lockerleaf("shotlist", "sm-1").splitlines()
    sources = read_sources(filmed)
    unit = sources.stock.units["sm-1"]
    guide = fit_unit(sources.library, unit, sources.stock.dealer, sources.register)
    for task in guide.tasks:
        named = [line for line in lines if f"[{task.slug}]" in line]
        assert len(named) == task.for_reader, task.slug
    for place in guide.place_codes:
        assert sum(f"[{place}]" in line and line[:3].strip().isdigit() for line in lines) == 1
    outside = [line for line in lines if "[gas-locker]" in line or "[entrance]" in line]
    assert outside[0].endswith("[gas-locker]  0:02")
    assert any(line.endswith("[turn-on-gas]  0:05") for line in lines)
