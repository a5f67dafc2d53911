"""The desk page in a browser: the form by mouse and by keyboard, live guides, and axe."""

from __future__ import annotations

import re
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Route, expect
from site_checks import copy_workspace

from browser.conftest import Windows
from browser.test_access import CLIPPED, SIDEWAYS, axe_findings
from generator.preview.server import Desk, open_desk
from generator.read.sources import Sources

pytestmark = pytest.mark.slow

UNIT = "lt-2107"
SLOW_MS = 60_000
"""However busy the machine is."""

HIDDEN = "!e.matches('.hid, input') && e.clientWidth &&"
"""What only a screen reader tells, and what a field scrolls by itself."""

SMALL = """() => [...document.querySelectorAll("button, input, select, .button, header a")].filter(
  (e) => e.checkVisibility() && !e.matches(".back, .tick input")).map((e) => {
  const box = e.getBoundingClientRect();
  return [e.id + " " + e.textContent.trim().slice(0, 30), box.width, box.height];
}).filter(([, width, height]) => width < 44 || height < 44)"""


@dataclass(slots=True)
class Open:
    """A desk that answers, and its workspace."""

    root: Path
    desk: Desk

    @property
    def origin(self) -> str:
        """Return where it answers."""
        return f"http://127.0.0.1:{self.desk.guard.port}"

    @property
    def file(self) -> Path:
        """Return the file of the unit that is looked at."""
        return self.root / "units" / f"{UNIT}.yml"


@pytest.fixture
def opened(demo: Sources, tmp_path: Path) -> Iterator[Open]:
    """Return a desk of the demo fleet."""
    root = copy_workspace(demo.root, tmp_path / "desk")
    desk = open_desk(root, root / "public", 0)
    # Without finding out in the background how the fleet stands, until a test looks at that.
    thread = threading.Thread(target=desk.server.serve_forever, daemon=True)
    thread.start()
    yield Open(root, desk)
    desk.end()
    thread.join()


@pytest.fixture
def windows(chromium: Browser, opened: Open) -> Iterator[Windows]:
    """Return what opens windows; none may have complained or asked a stranger."""
    opener = Windows(chromium, opened.origin)
    yield opener
    for reader in opener.opened:
        reader.context.close()
    told = [line for reader in opener.opened for line in reader.complaints]
    # What the desk refuses on purpose is told by the browser, too.
    assert [line for line in told if not re.search("status of (409|422)", line)] == []
    assert [reader.strangers for reader in opener.opened if reader.strangers] == []


def enter(opened: Open, windows: Windows, path: str, **options: object) -> Page:
    """Return a window that came in by the printed address and then went to a path."""
    page = windows.open(**options).page  # type: ignore[arg-type]
    page.set_default_timeout(SLOW_MS)
    page.goto(opened.desk.address("/unit/new"))
    assert "token" not in page.url
    if path == "/":
        opened.desk.watcher.start()
    page.goto(f"{opened.origin}{path}")
    return page


def settled(page: Page, words: str) -> None:
    """Wait until the bar of the form says something."""
    expect(page.locator("#said")).to_have_text(words, timeout=SLOW_MS)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_no_violation(opened: Open, windows: Windows, scheme: str) -> None:
    """On every page of the desk, also with fields open, with a problem and with a conflict."""
    page = enter(opened, windows, "/", scheme=scheme, width=1280)
    expect(page.locator(".unit")).to_have_count(7)
    expect(page.locator(".busy")).to_have_count(0, timeout=SLOW_MS)
    assert axe_findings(page) == []
    page.goto(f"{opened.origin}/unit/new")
    assert axe_findings(page) == []
    page.goto(f"{opened.origin}/unit/{UNIT}")
    page.click("#places-gas-locker summary")
    page.click("#fitted-heater summary")
    page.fill("#fitted--heater--gas_g_h", "99999")
    settled(page, "Not saved. 1 problem.")
    assert axe_findings(page) == []
    page.fill("#fitted--heater--gas_g_h", "260")
    settled(page, "Not saved.")
    opened.file.write_text(opened.file.read_text("utf-8") + "# Theirs.\n", "utf-8")
    page.click("#save")
    expect(page.locator(".conflict")).to_be_visible()
    assert axe_findings(page) == []
    page.click("#write")
    assert axe_findings(page) == []


@pytest.mark.parametrize("width", [320, 390])
def test_a_phone_shows_all_of_it(opened: Open, windows: Windows, width: int) -> None:
    """Nothing scrolls sideways or is cut, and what is touched is large enough."""
    page = enter(opened, windows, "/", width=width)
    expect(page.locator(".busy")).to_have_count(0, timeout=SLOW_MS)
    for path in ("/", "/unit/new", f"/unit/{UNIT}"):
        page.goto(f"{opened.origin}{path}")
        if path.endswith(UNIT):
            page.click("#places-gas-locker summary")
            page.click("#fitted-heater summary")
        assert page.evaluate(SIDEWAYS) == 0, path
        shown = CLIPPED.replace("e.clientWidth &&", HIDDEN)
        assert page.evaluate(shown) == [], path
        assert page.evaluate(SMALL) == [], path


def test_a_hatch_is_placed_by_clicking(opened: Open, windows: Windows) -> None:
    """A click on a view sets the distances; the text beside says so; saving writes just that."""
    before = opened.file.read_text("utf-8")
    page = enter(opened, windows, f"/unit/{UNIT}", width=1280)
    page.click("#places-mover-switch summary")
    view = page.locator("#view-offside")
    view.scroll_into_view_if_needed()
    box = view.bounding_box()
    assert box
    # The offside view has its front at the right: 2 m behind it, 1 m above the ground.
    scale = box["width"] / float(str(view.get_attribute("viewBox")).split()[2])
    x = (float(str(view.get_attribute("data-left"))) + 200) * scale
    y = (float(str(view.get_attribute("data-base"))) - 100) * scale
    page.mouse.click(box["x"] + box["width"] - x, box["y"] + y)
    expect(page.locator("#places--mover-switch--along_m")).to_have_value("2")
    expect(page.locator("#places--mover-switch--up_m")).to_have_value("1")
    settled(page, "Not saved.")
    assert opened.file.read_text("utf-8") == before
    expect(page.locator(".yaml .new")).to_have_count(1)
    page.click("#save")
    settled(page, "Saved.")
    wanted = before.replace("along_m: 2.6, up_m: 0.5", "along_m: 2, up_m: 1")
    assert opened.file.read_text("utf-8") == wanted


def test_a_hatch_is_moved_by_keyboard(opened: Open, windows: Windows) -> None:
    """Every part of the form is reached by Tab, and the arrows move a place by 5 cm or by 1."""
    page = enter(opened, windows, f"/unit/{UNIT}", width=1280)
    page.focus("#places-seat summary, #places-offside-seat summary")
    page.keyboard.press("Enter")
    page.focus("#view-plan")
    for key in ("ArrowRight", "ArrowRight", "Shift+ArrowLeft", "ArrowUp", "Shift+ArrowUp"):
        page.keyboard.press(key)
    expect(page.locator("#places--offside-seat--along_m")).to_have_value("1.49")
    expect(page.locator("#places--offside-seat--across_m")).to_have_value("1.96")
    settled(page, "Not saved.")
    assert page.evaluate("document.activeElement.id") == "view-plan"
    expect(page.locator("#text")).to_contain_text("offside-seat: {along_m: 1.49, across_m: 1.96}")


def test_typing_keeps_its_place(opened: Open, windows: Windows) -> None:
    """While the form is made anew under it, a field keeps the focus, its text and the caret."""
    page = enter(opened, windows, f"/unit/{UNIT}", width=1280)
    page.click("#title")
    page.keyboard.press("End")
    page.keyboard.type(" sold ")
    settled(page, "Not saved.")
    page.keyboard.type("on")
    expect(page.locator("#text")).to_contain_text("title: Heronbeck 4, stock 2107 sold on")
    expect(page.locator("#title")).to_have_value("Heronbeck 4, stock 2107 sold on")
    assert page.evaluate("document.activeElement.id") == "title"
    for _ in range(12):  # as many steps as there were pauses; no more than there were keys
        page.evaluate("document.getElementById('undo').click()")
    expect(page.locator("#undo")).to_be_disabled(timeout=SLOW_MS)
    settled(page, "As saved.")
    expect(page.locator("#title")).to_have_value("Heronbeck 4, stock 2107")


def test_equipment_is_left_out_added_and_checked(opened: Open, windows: Windows) -> None:
    """A switch leaves out what the model has; anything of the library is added with its values."""
    page = enter(opened, windows, f"/unit/{UNIT}", width=1280)
    page.click("#fitted-microwave summary")
    page.click("#leave-microwave")
    expect(page.locator("#keep-microwave")).to_be_visible()
    expect(page.locator("#text")).to_contain_text("without: [microwave]")
    page.select_option("#new-kind", "water-filter")
    expect(page.locator("#new-id")).to_have_value("water-filter")
    page.select_option("#new-place", "kitchen")
    page.click("#add-fitting button")
    expect(page.locator("#fitted-water-filter")).to_have_attribute("open", "")
    expect(page.locator("#fitted-water-filter summary")).to_contain_text("added")
    page.click("#keep-microwave")
    expect(page.locator("#fitted-microwave")).to_be_visible()
    expect(page.locator("#text")).not_to_contain_text("without:")
    page.click("#drop-fitted-water-filter")
    settled(page, "As saved.")


def test_what_is_private_is_shown_when_asked(opened: Open, windows: Windows) -> None:
    """Masked beside the form and in its fields, until the button."""
    page = enter(opened, windows, f"/unit/{UNIT}", width=1280)
    expect(page.locator("#text")).not_to_contain_text("SPECIMEN")
    masked = "getComputedStyle(document.getElementById('private--vin')).webkitTextSecurity"
    assert page.evaluate(masked) == "disc"
    page.click("#shown")
    expect(page.locator("#text")).to_contain_text("vin: SPECIMEN00LT21070")
    assert page.evaluate(masked) == "none"
    page.click("#shown")
    expect(page.locator("#text")).not_to_contain_text("SPECIMEN")


def test_two_people(opened: Open, windows: Windows) -> None:
    """The second to save sees what the first changed, keeps the own text, and joins both."""
    first = enter(opened, windows, f"/unit/{UNIT}", width=1280)
    second = enter(opened, windows, f"/unit/{UNIT}", width=1280)
    first.fill("#title", "Sold by the first")
    second.click("#fitted-clamp summary")
    second.fill("#fitted--clamp--title", "Second clamp")
    settled(first, "Not saved.")
    settled(second, "Not saved.")
    first.click("#save")
    settled(first, "Saved.")
    second.click("#save")
    expect(second.locator(".conflict .new")).to_contain_text("+ title: Sold by the first")
    assert "Second clamp" not in opened.file.read_text("utf-8")
    second.click("[data-do=join]")
    settled(second, "Not saved.")
    second.click("#save")
    settled(second, "Saved.")
    text = opened.file.read_text("utf-8")
    assert "title: Sold by the first\n" in text
    assert "title: Second clamp" in text
    # The first, who has changed nothing since, is shown what the second saved.
    expect(first.locator("#text")).to_contain_text("Second clamp", timeout=SLOW_MS)


def test_the_text_can_be_typed(opened: Open, windows: Windows) -> None:
    """What is typed as text is in the form; what cannot be taken apart is told."""
    page = enter(opened, windows, f"/unit/{UNIT}", width=1280)
    page.click("#write")
    text = opened.file.read_text("utf-8")
    page.fill("#typed", text.replace("keys: 3", "keys: [3"))
    settled(page, "Not saved. 1 problem.")
    expect(page.locator("#told .problem")).to_contain_text(f"units/{UNIT}.yml:")
    page.fill("#typed", text.replace("stock 2107", "typed"))
    expect(page.locator("#title")).to_have_value("Heronbeck 4, typed")
    page.click("#save")
    settled(page, "Saved.")
    assert opened.file.read_text("utf-8") == text.replace("stock 2107", "typed")


def test_a_new_unit(opened: Open, windows: Windows) -> None:
    """Begun like another, filled in, and there only when it is saved."""
    page = enter(opened, windows, "/unit/new", width=1280)
    page.fill("#name", "lt-2130")
    page.select_option("#like", "heronbeck-4")
    page.click("#begin button")
    expect(page.locator("#title")).to_have_value("Heronbeck 4, lt-2130")
    page.fill("#private--vin", "SPECIMEN00LT21300")
    settled(page, "Not saved.")
    page.click("#save")
    settled(page, "Saved.")
    assert page.url == f"{opened.origin}/unit/lt-2130"
    text = (opened.root / "units" / "lt-2130.yml").read_text("utf-8")
    assert "based_on: heronbeck-4\n" in text
    assert "SPECIMEN00LT21300" in text
    opened.desk.watcher.start()
    page.goto(f"{opened.origin}/")
    expect(page.locator("[href='/guide/lt-2130/index.html']")).to_be_visible(timeout=SLOW_MS)


def test_what_was_typed_before_the_script_came_counts(opened: Open, windows: Windows) -> None:
    """The form can be seen and filled in while its script is still on the way."""
    page = enter(opened, windows, "/unit/new", width=1280)
    held: list[Route] = []
    page.route("**/form.js*", lambda route: held.append(route))
    page.goto(f"{opened.origin}/unit/{UNIT}", wait_until="commit")
    page.fill("#title", "Typed early")
    field = page.locator("#form select[data-path*='clamp']").first
    wanted = field.locator("option:not(:checked):not([value=''])").first.get_attribute("value")
    field.evaluate("(field) => { for (let at = field; at; at = at.parentElement) at.open = true; }")
    field.select_option(wanted)
    assert opened.file.read_text("utf-8").count("Typed early") == 0
    for route in held:
        route.continue_()
    expect(page.locator("#text")).to_contain_text("Typed early", timeout=SLOW_MS)
    page.click("#save")
    settled(page, "Saved.")
    text = opened.file.read_text("utf-8")
    assert "title: Typed early\n" in text
    assert re.search(rf"id: clamp, kind: wheel-clamp, place: {wanted}\b", text)


def test_a_guide_changes_under_its_reader(opened: Open, windows: Windows) -> None:
    """It loads again when its unit changes, tells a mistake, and comes back when it is mended."""
    page = enter(opened, windows, f"/guide/{UNIT}/index.html")
    text = opened.file.read_text("utf-8")
    expect(page.locator("h1")).to_contain_text("stock 2107")
    opened.file.write_text(text.replace("stock 2107", "stock 9999"), "utf-8")
    expect(page.locator("h1")).to_contain_text("stock 9999", timeout=SLOW_MS)
    opened.file.write_text(text.replace("heronbeck-4", "heronbeck-5"), "utf-8")
    expect(page.locator(".problem")).to_contain_text("no model 'heronbeck-5'", timeout=SLOW_MS)
    opened.file.write_text(text, "utf-8")
    expect(page.locator("h1")).to_contain_text("stock 2107", timeout=SLOW_MS)
    page.get_by_role("link", name="Back to the desk").click()
    expect(page.locator(".unit").first).to_be_visible()


def test_the_fleet_follows_the_files(opened: Open, windows: Windows) -> None:
    """Problems come and go while somebody looks, and a unit is found by its words."""
    page = enter(opened, windows, "/", width=1280)
    text = opened.file.read_text("utf-8")
    opened.file.write_text(text.replace("place: nearside-wheel", "place: nowhere"), "utf-8")
    problem = page.locator(".problem")
    expect(problem).to_contain_text("no place 'nowhere'", timeout=SLOW_MS)
    expect(problem).to_contain_text(f"units/{UNIT}.yml:")
    opened.file.write_text(text, "utf-8")
    expect(problem).to_have_count(0, timeout=SLOW_MS)
    page.fill("#seek", "kestmoor")
    expect(page.locator(".unit:visible")).to_have_count(1)


NOTICE = """\
notice: valve-box
title: Have the cylinder's hose looked at
word: warning
about: gas-cylinder
units: [lt-2107, lt-2118, lt-2140]
serials: [A100, A199]
issued: 2026-06-20
hazard: A hose may be cracked.
consequence: Gas can leak.
avoidance: Shut the cylinder.
source: Invented for this test
cleared: {lt-2118: 2026-07-01, lt-1999: 2026-07-02}
"""


def test_notices_tell_whom_they_reach(opened: Open, windows: Windows) -> None:
    """Each with the units that it reaches and those where it was seen to; it follows the files."""
    page = enter(opened, windows, "/", width=1280)
    notices = page.locator(".notice")
    reaches = notices.locator("dl div:first-child dd")
    expect(reaches).to_have_text(["mh-4001"], timeout=SLOW_MS)
    expect(notices.locator("dl div:last-child dd")).to_have_text(["nowhere yet"])
    # The unit's own card has the same address below, and the focus stays on the one that had it.
    notices.get_by_role("link", name="mh-4001").focus()
    folder = opened.root / "units" / "notices"
    (folder / "valve-box.yml").write_text(NOTICE, "utf-8")
    expect(reaches).to_have_text(
        ["lt-2107 (no serial number), lt-2140 (no serial number)", "mh-4001"], timeout=SLOW_MS
    )
    expect(notices.locator("dl div:last-child dd")).to_have_text(
        ["lt-1999 (2026-07-02), lt-2118 (2026-07-01)", "nowhere yet"]
    )
    assert page.evaluate("document.activeElement.closest('.notice') !== null")
    assert axe_findings(page) == []
    text = (folder / "oven-hose-clip.yml").read_text("utf-8")
    (folder / "oven-hose-clip.yml").write_text(f"{text}cleared: {{mh-4001: 2026-07-03}}\n", "utf-8")
    expect(reaches.last).to_have_text("no unit here", timeout=SLOW_MS)
    expect(notices.last).to_contain_text("mh-4001 (2026-07-03)")
    notices.first.get_by_role("link", name="lt-2140").click()
    expect(page.locator("#title")).to_have_value(re.compile("2140"))


def test_languages_are_ticked(opened: Open, windows: Windows) -> None:
    """The library's own goes with each; what is ticked is written, and the guide has it."""
    page = enter(opened, windows, f"/unit/{UNIT}", width=1280)
    expect(page.locator("#languages-en")).to_be_checked()
    expect(page.locator("#languages-en")).to_be_disabled()
    expect(page.locator("#languages-de")).not_to_be_checked()
    page.get_by_label("Deutsch").check()
    settled(page, "Not saved.")
    expect(page.locator("#text")).to_contain_text("languages: [en, de]")
    assert axe_findings(page) == []
    page.click("#save")
    settled(page, "Saved.")
    assert "languages: [en, de]\n" in opened.file.read_text("utf-8")
    page.get_by_label("Deutsch").uncheck()
    settled(page, "Not saved.")
    expect(page.locator("#text")).not_to_contain_text("de]")


def test_a_stranger_on_this_machine_sees_nothing(opened: Open, chromium: Browser) -> None:
    """A browser without the address gets the page that says so, which axe likes as well."""
    context = chromium.new_context()
    page = context.new_page()
    answer = page.goto(f"{opened.origin}/unit/{UNIT}")
    assert answer
    assert answer.status == 403
    assert "SPECIMEN" not in page.content()
    assert axe_findings(page) == []
    context.close()


def test_what_a_field_cannot_show_is_left_as_it_is(opened: Open, windows: Windows) -> None:
    """Nothing is changed by looking: a field has no room for a second line."""
    text = opened.file.read_text("utf-8")
    odd = text.replace("hint: The small flap below the window.", 'hint: "Two\\nlines"')
    assert odd != text
    opened.file.write_text(odd, "utf-8")
    page = enter(opened, windows, f"/unit/{UNIT}", width=1280)
    expect(page.locator("#title")).to_be_visible()
    page.wait_for_timeout(1500)
    assert page.locator("#said").inner_text() == "As saved."
