"""Finding a page by the words that customers use, spelt as they spell them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from browser.offline_support import Signal, build_small, phone, served
from generator.compose.search_page import same_words

UNIT = "M9S3"
HOSTILE = '<img src=x onerror=alert(1)> \\"lamp\\" & more'


@pytest.fixture(scope="module")
def signal(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Signal]:
    """Serve the small guide, with synonyms of its own and one fitting of a hostile title."""
    workspace = tmp_path_factory.mktemp("search") / "workspace"
    build_small(workspace)
    (workspace / "docs_src" / "wording" / "synonyms.yml").write_text(
        "cylinder: [bottle, gas bomb]\nwater heater: [geyser]\n", "utf-8"
    )
    public = build_small(workspace, sm_1=("title: Left lamp", f'title: "{HOSTILE}"'))
    with served(tmp_path_factory.mktemp("served"), public) as server:
        yield server


@pytest.fixture
def page(signal: Signal, chromium: Browser) -> Iterator[Page]:
    """Open the search page; nothing may complain."""
    with phone(chromium) as (context, complaints):
        opened = context.new_page()
        opened.goto(signal.address(f"{UNIT}/search.html"))
        yield opened
        assert complaints == []


@pytest.fixture
def find(page: Page) -> Callable[[str], list[str]]:
    """Return a function that types into the field and returns the titles found, best first."""

    def typed(text: str) -> list[str]:
        page.fill("#find", text)
        return page.locator(".found li:not([hidden]) strong").all_inner_texts()

    return typed


@pytest.mark.slow
@pytest.mark.parametrize(
    ("typed", "first"),
    [
        ("loo", "Cassette toilet"),  # what the kind is called
        ("cold shower", "No hot water"),  # what is said of a symptom
        ("geyser", "Water heater"),  # a synonym, of two words that must both be there
        ("open the bottle", "Turn on the gas"),  # what a task is called; "the" tells nothing
        ("entranse", "Entrance door"),  # one slip
        ("casette", "Cassette toilet"),  # a letter left out
        ("bttole loo", "Cassette toilet"),  # two slips in a short word are too many
        ("wtaer haeter", "Water heater"),  # neighbours changed round
        ("casestte", "Cassette toilet"),  # two slips in a long word
        ("LAMPS", "Reading lamp"),  # an ending, and capitals
        ("7EZ", None),  # a task's code is no place's
        ("Q3E", "Heater flue"),  # a place's code
        ("gas", "You smell gas"),  # help in an emergency comes first
    ],
)
def test_customer_words_find_the_page(
    find: Callable[[str], list[str]], typed: str, first: str | None
) -> None:
    """The best answer to a customer's word, or a misspelt one, comes first."""
    found = find(typed)
    assert (found[0] if found else None) == first, found


@pytest.mark.slow
def test_search_tells_how_it_went(page: Page, find: Callable[[str], list[str]]) -> None:
    """The count is told to everyone; nothing found says what to do; part of it found says so."""
    told = page.get_by_role("status")
    expect(told).to_have_text("A word is enough, even if it is not spelt right.")
    found = find("loo")
    expect(told).to_have_text(f"{len(found)} found" if len(found) > 1 else "1 found")
    assert find("xyzzy") == []
    expect(told).to_contain_text("Nothing found")
    assert find("loo xyzzy") == found
    expect(told).to_contain_text("Not all your words")
    assert find("") == []
    expect(page.locator(".found")).to_be_hidden()


@pytest.mark.slow
def test_search_by_keyboard_and_back(page: Page, signal: Signal) -> None:
    """From the field Enter leads to the first answer, Enter opens it, Back shows the same again."""
    page.get_by_label("What are you looking for?").focus()
    page.keyboard.type("loo")
    page.keyboard.press("Enter")
    first = page.locator(".found li:not([hidden]) a").first
    expect(first).to_be_focused()
    page.keyboard.press("Enter")
    page.wait_for_url(signal.address(f"{UNIT}/kit/toilet.html"))
    page.go_back()
    expect(page.locator(".found li:not([hidden])").first).to_contain_text("Cassette toilet")
    assert page.locator("#find").input_value() == "loo"


@pytest.mark.slow
def test_a_units_own_words_stay_words(page: Page, find: Callable[[str], list[str]]) -> None:
    """A title that looks like markup is found and shown as it is written."""
    title = HOSTILE.replace("\\", "")
    assert title in find("onerror")
    assert page.locator("main img").count() == 0


@pytest.mark.slow
def test_header_leads_to_search_with_a_wide_target(signal: Signal, chromium: Browser) -> None:
    """Every page links to the search in its header, 44 px each way at least, on a small phone."""
    with phone(chromium) as (context, complaints):
        page = context.new_page()
        page.set_viewport_size({"width": 320, "height": 640})
        for path in ("", "task/empty-cassette.html", "461/"):
            page.goto(signal.address(f"{UNIT}/{path}"))
            box = page.get_by_role("banner").get_by_role("link", name="Search").bounding_box()
            assert box
            assert min(box["width"], box["height"]) >= 44
            assert page.evaluate("document.documentElement.scrollWidth") <= 320
        page.get_by_role("banner").get_by_role("link", name="Search").click()
        expect(page).to_have_url(signal.address(f"{UNIT}/search.html"))
        assert complaints == []


@pytest.mark.slow
def test_without_scripts_the_page_leads_to_the_lists(signal: Signal, chromium: Browser) -> None:
    """With JavaScript off there is no dead field, and a word about it with the way to A to Z."""
    with phone(chromium, java_script_enabled=False) as (context, _):
        page = context.new_page()
        page.goto(signal.address(f"{UNIT}/search.html"))
        expect(page.locator("#find")).to_be_hidden()
        # Shown where the browser's own setting is off; a debugger's leaves it hidden.
        assert "needs JavaScript" in page.content()
        page.locator(".more").get_by_role("link", name="All tasks, A to Z").click()
        expect(page).to_have_url(signal.address(f"{UNIT}/all.html"))


def test_synonyms_come_with_the_words_of_a_title() -> None:
    """A phrase counts when all its words are in the title; a title's own words are not repeated."""
    same = same_words((("water heater", ("boiler", "hot water")), ("gas", ("LPG",))))
    assert same("Drain the water heater") == ("boiler", "hot")
    assert same("Gas & water") == ("lpg",)
    assert same("Space heater") == ()


def test_synonyms_that_are_no_list_are_told(
    write: Callable[[str, str], Path], lockerleaf: Callable[..., str]
) -> None:
    """A synonym file is checked like any other; none at all is fine."""
    write("docs_src/wording/synonyms.yml", "gas: {a: b}\ntap: []\n")
    told = lockerleaf("check")
    assert "docs_src/wording/synonyms.yml:1:6: gas: is no list of words" in told
    assert "docs_src/wording/synonyms.yml:2:6: tap: is no list of words" in told
