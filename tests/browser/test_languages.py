"""A guide in two languages, in a browser: the language is kept, and every page says which it is."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from site_checks import broken_links, parse_site

from browser.offline_support import Signal, phone, served, wait_until_kept
from browser.test_access import SIDEWAYS, axe_findings
from generator.flow import finish_guides
from generator.read.sources import Sources
from generator.render.site import SiteRenderer

pytestmark = pytest.mark.slow

UNIT = "pv-5001"
PLACES = (
    "index.html",
    "emergency.html",
    "search.html",
    "numbers/battery.html",
    "task/connect-mains-lead.html",
    "routine/leave.html",
    "symptom/no-hot-water.html",
    "kit/wheels.html",
    "place/roof.html",
)


@pytest.fixture(scope="module")
def built(demo: Sources, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the German unit's guide as rendered."""
    (done,) = finish_guides(demo, demo.register, [UNIT])
    rendered = SiteRenderer(demo).render(done.composed)
    public = tmp_path_factory.mktemp("public")
    for name, content in rendered.files.items():
        path = public / rendered.code / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    return public


@pytest.fixture(scope="module")
def code(built: Path) -> str:
    """Return the unit's code, which is its folder."""
    return next(built.iterdir()).name


@pytest.fixture(scope="module")
def signal(built: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Signal]:
    """Serve it."""
    with served(tmp_path_factory.mktemp("served"), built) as server:
        yield server


@pytest.fixture
def page(chromium: Browser) -> Iterator[Page]:
    """Open a window of a phone's size; nothing may complain."""
    with phone(chromium) as (context, complaints):
        yield context.new_page()
        assert complaints == []


def test_every_page_says_its_language(built: Path, code: str) -> None:
    """`lang` is that of the folder, and each page links to its other by address and language."""
    folder = built / code
    for path in folder.rglob("*.html"):
        text = path.read_text("utf-8")
        lang, other = ("de", "en") if path.relative_to(folder).parts[0] == "de" else ("en", "de")
        assert f'<html lang="{lang}">' in text, path
        assert re.search(rf'<link rel="alternate" hreflang="{other}" href="[^"]+">', text), path
        assert re.search(rf'<a href="[^"]+" lang="{other}" hreflang="{other}">', text), path
        assert ("Maschinell übersetzt, von niemandem geprüft." in text) == (lang == "de"), path
    assert list(broken_links(folder, parse_site(folder))) == []


def test_the_language_is_kept_across_links(signal: Signal, code: str, page: Page) -> None:
    """From one German page every link of the guide leads to German ones, except to the English."""
    page.goto(signal.address(f"{code}/index.html"))
    page.get_by_role("link", name="Deutsch").click()
    expect(page.locator("html")).to_have_attribute("lang", "de")
    for name in ("Etwas stimmt nicht", "Kein warmes Wasser", "Notfall"):
        page.get_by_role("link", name=name).first.click()
        expect(page.locator("html")).to_have_attribute("lang", "de")
    page.get_by_role("link", name="English").click()
    expect(page).to_have_url(signal.address(f"{code}/emergency.html"))


def test_a_sticker_follows_the_language_last_chosen(
    signal: Signal, code: str, page: Page, built: Path
) -> None:
    """It opens in English at first, in German once that was chosen, and in English again."""
    spot = next(
        path.name for path in (built / code).iterdir() if re.fullmatch("[0-9A-Z]{3}", path.name)
    )
    sticker = signal.address(f"{code}/{spot}/")
    page.goto(sticker)
    expect(page.locator("html")).to_have_attribute("lang", "en")
    page.get_by_role("link", name="Deutsch").click()
    expect(page).to_have_url(re.compile(f"/de/{spot}/"))
    page.goto(sticker)
    expect(page).to_have_url(re.compile(f"/de/{spot}/"))
    page.goto(signal.address(f"{code}/task/test-rcd.html"))  # asked for in English: stays
    expect(page.locator("html")).to_have_attribute("lang", "en")
    page.goto(signal.address(f"{code}/de/index.html"))
    page.get_by_role("link", name="English").click()
    page.goto(sticker)
    page.wait_for_timeout(300)
    expect(page.locator("html")).to_have_attribute("lang", "en")


def test_without_scripts_it_is_a_link(signal: Signal, code: str, chromium: Browser) -> None:
    """The link is there and large enough, and leads to the same page."""
    with phone(chromium, java_script_enabled=False) as (context, _):
        page = context.new_page()
        page.goto(signal.address(f"{code}/task/test-rcd.html"))
        link = page.get_by_role("link", name="Deutsch")
        box = link.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 44
        link.click()
        expect(page.locator("h1")).to_have_text("FI-Schutzschalter prüfen")


def test_german_is_kept_without_signal(
    built: Path, code: str, chromium: Browser, tmp_path: Path
) -> None:
    """One visit to any page keeps both languages."""
    with served(tmp_path, built) as signal, phone(chromium) as (context, _):
        page = context.new_page()
        page.goto(signal.address(f"{code}/de/task/test-rcd.html"))
        page.goto(signal.address(f"{code}/de/index.html"))
        wait_until_kept(page)
        signal.stop()
        page.goto(signal.address(f"{code}/de/routine/leave.html"))
        expect(page.locator("h1")).to_have_text("Den Stellplatz verlassen")
        page.goto(signal.address(f"{code}/task/test-rcd.html"))
        expect(page.locator("html")).to_have_attribute("lang", "en")
        signal.start()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_no_violation(signal: Signal, code: str, chromium: Browser, scheme: str) -> None:
    """German pages of every kind are as usable as English ones, and nothing scrolls sideways."""
    with phone(chromium, color_scheme=scheme) as (context, _):
        page = context.new_page()
        for place in PLACES:
            page.goto(signal.address(f"{code}/de/{place}"))
            assert axe_findings(page) == [], place
            for width in (320, 390):
                page.set_viewport_size({"width": width, "height": 844})
                assert page.evaluate(SIDEWAYS) <= 0, (place, width)


@pytest.mark.parametrize(
    ("typed", "first"),
    [
        ("Klo", "Trenntoilette"),
        ("kein warmes Wasser", "Kein warmes Wasser"),
        ("Booster", "Ladebooster"),
        ("heiss", None),
        ("Sicherung durchgebrannt", "12-V-Sicherung wechseln"),
    ],
)
def test_search_in_german(
    signal: Signal, code: str, page: Page, typed: str, first: str | None
) -> None:
    """Search knows German words, the ends of compounds, and ss for ß."""
    page.goto(signal.address(f"{code}/de/search.html"))
    page.fill("#find", typed)
    found = page.locator(".found li:not([hidden]) strong").all_inner_texts()
    assert found
    assert first is None or first in found[:3]


def test_a_form_answers_in_german(signal: Signal, code: str, page: Page) -> None:
    """Labels, units and results of a number form are German, decimals with a comma."""
    page.goto(signal.address(f"{code}/de/numbers/water.html"))
    page.get_by_label(re.compile("Frischwasser, das Sie alle verbrauchen")).fill("21")
    expect(page.locator(".told .answer")).to_have_text("Eine Füllung reicht etwa 2,4 Tage.")
