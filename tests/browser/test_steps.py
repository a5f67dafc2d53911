"""One step at a time: large, by keyboard, with every caution; and the plain list without it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from browser.offline_support import Signal, build_small, phone, served

pytestmark = pytest.mark.slow

UNIT = "M9S3"
EMPTY = f"{UNIT}/task/empty-cassette.html"
STEPS = ("Pull the cassette out.", "Pour it out where the site says so.", "Push the cassette in")

STUBS = """
window.told = [];
Object.defineProperty(navigator, "wakeLock", { value: {
  request: async (what) => {
    told.push("awake " + what);
    return { release: () => told.push("may sleep") };
  },
} });
window.SpeechSynthesisUtterance = class { constructor(text) { this.text = text; } };
Object.defineProperty(window, "speechSynthesis", { value: {
  speaking: false,
  speak(it) { this.speaking = true; told.push("say " + it.lang + ": " + it.text.trim()); },
  cancel() { this.speaking = false; },
} });
"""
"""Stand-ins that keep account; neither a lamp nor a voice can be asked for in a test."""


@pytest.fixture(scope="module")
def signal(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Signal]:
    """Serve the small guide, with a caution at the second of three steps."""
    public = build_small(
        tmp_path_factory.mktemp("steps") / "workspace",
        empty_cassette=(
            "2. Pour it out",
            "   Then: It slides.\n2. Pour it out",
        ),
    )
    workspace = public.parent
    task = workspace / "docs_src" / "tasks" / "toilet" / "empty-cassette.md"
    task.write_text(
        task.read_text("utf-8")
        .replace("minutes: 10", "minutes: 10\ncautions: [scald]")
        .replace("says so.\n", "says so.\n   Caution: toilet-hygiene\n")
        + "\n## Result\nThe cassette sits still.\n",
        "utf-8",
    )
    with served(tmp_path_factory.mktemp("served"), build_small(workspace)) as server:
        yield server


@pytest.fixture
def page(signal: Signal, chromium: Browser) -> Iterator[Page]:
    """Open a task's page; nothing may complain."""
    with phone(chromium) as (context, complaints):
        opened = context.new_page()
        opened.add_init_script(STUBS)
        opened.goto(signal.address(EMPTY))
        yield opened
        assert complaints == []


def shown(page: Page) -> list[str]:
    """Return the commands of the steps that can be seen."""
    return [text.split("\n")[-1] for text in page.locator(".do:visible").all_inner_texts()]


def test_steps_one_at_a_time_by_keyboard(page: Page) -> None:
    """Start, go on, go back, finish: Enter alone does it, and each step shows its own number."""
    start = page.get_by_role("button", name="One step at a time")
    start.focus()
    page.keyboard.press("Enter")
    status = page.locator(".walk").get_by_role("status")
    for number, words in enumerate(STEPS, 1):
        assert len(shown(page)) == 1
        assert shown(page)[0].startswith(words)
        expect(status).to_have_text(f"Step {number} of 3")
        counted = page.locator("li.now").evaluate("(item) => item.parentNode.style.counterReset")
        assert counted == f"step {number - 1}"
        expect(page.locator(".bar .next")).to_be_focused()
        page.keyboard.press("Enter")
    # After the last step comes what tells whether it worked, and the whole list is back.
    expect(page.locator("#result")).to_be_focused()
    assert len(shown(page)) == 3
    # What was done one by one is ticked, and stays so.
    assert page.locator(".tick[aria-pressed=true]").count() == 3
    page.reload()
    assert page.locator(".tick[aria-pressed=true]").count() == 3


def test_arrows_and_escape(page: Page) -> None:
    """The arrows turn the pages; Escape shows the whole list with the focus where it began."""
    start = page.get_by_role("button", name="One step at a time")
    start.click()
    expect(page.get_by_role("button", name="Back", exact=True)).to_be_disabled()
    page.keyboard.press("ArrowLeft")
    assert shown(page)[0].startswith(STEPS[0])
    page.keyboard.press("ArrowRight")
    assert shown(page)[0].startswith(STEPS[1])
    page.keyboard.press("ArrowLeft")
    assert shown(page)[0].startswith(STEPS[0])
    page.keyboard.press("Escape")
    assert len(shown(page)) == 3
    expect(start).to_be_focused()
    # Taken up again where it was left: the first step is ticked.
    start.click()
    assert shown(page)[0].startswith(STEPS[1])


def test_no_caution_is_hidden(page: Page) -> None:
    """The cautions of the page stay above, those of a step come before it, at full size."""
    width = "(box) => box.getBoundingClientRect().width"
    plain = page.locator("li p.mind").evaluate(width)
    page.get_by_role("button", name="One step at a time").click()
    expect(page.locator("section.cautions .mind, .mind[role=note]").first).to_be_visible()
    expect(page.locator("section.before")).to_be_visible()
    page.locator(".bar .next").click()
    caution = page.locator("li.now p.mind")
    expect(page.locator("#work")).to_be_in_viewport()
    page.wait_for_timeout(1000)  # the page glides there
    assert caution.evaluate(width) >= plain
    above, below = caution.bounding_box(), page.locator("li.now .do").bounding_box()
    assert above
    assert below
    assert above["y"] + above["height"] <= below["y"]
    bar = page.locator(".bar").bounding_box()
    assert bar
    assert below["y"] + below["height"] <= bar["y"]


def test_buttons_are_large_and_the_page_is_no_wider(page: Page) -> None:
    """72 px for going on and back, 44 for the rest, also on a small phone with large text."""
    page.set_viewport_size({"width": 320, "height": 640})
    start = page.get_by_role("button", name="One step at a time")
    for size in ("100%", "200%"):
        page.evaluate(f"document.documentElement.style.fontSize = '{size}'")
        box = start.bounding_box()
        assert box
        assert box["height"] >= 44
        start.click()
        for button in page.locator(".bar button").all():
            box = button.bounding_box()
            assert box
            assert box["height"] >= 72
        for control in page.locator(".walk button, .walk a").all():
            box = control.bounding_box()
            assert box
            assert box["height"] >= 44
        assert page.evaluate("document.documentElement.scrollWidth") <= 320
        page.keyboard.press("Escape")


def test_screen_stays_on_and_a_step_is_read(page: Page) -> None:
    """The screen is kept awake while the view is open; a step is read with its cautions."""
    page.get_by_role("button", name="One step at a time").click()
    page.locator(".bar .next").click()
    page.get_by_role("button", name="Read aloud").click()
    said = [line for line in page.evaluate("told") if line.startswith("say en: ")]
    assert said[0].startswith("say en: Caution:")
    assert said[1] == f"say en: {STEPS[1]}"
    page.get_by_role("button", name="Stop reading").click()
    expect(page.get_by_role("button", name="Read aloud")).to_be_visible()
    page.keyboard.press("Escape")
    told = page.evaluate("told")
    assert (told[0], told[-1]) == ("awake screen", "may sleep")


def test_without_scripts_there_is_the_plain_list(signal: Signal, chromium: Browser) -> None:
    """With JavaScript off, all steps are there and no button that does nothing."""
    with phone(chromium, java_script_enabled=False) as (context, _):
        page = context.new_page()
        page.goto(signal.address(EMPTY))
        assert len(shown(page)) == 3
        assert page.locator("button").count() == 0


def test_all_steps_are_printed(page: Page) -> None:
    """Paper shows every step, whatever the screen shows, and none of the buttons."""
    page.get_by_role("button", name="One step at a time").click()
    page.emulate_media(media="print")
    assert len(shown(page)) == 3
    assert page.locator("button:visible").count() == 0
