"""Anyone can use it: axe on every page kind, small screens, zoom, and targets for cold hands."""

from __future__ import annotations

from pathlib import Path

import axe_playwright_python
import pytest
from playwright.sync_api import Browser, Page

from browser.conftest import FLAGS, Site, Windows, chromium_program

pytestmark = pytest.mark.slow

AXE = Path(axe_playwright_python.__file__).parent / "axe.min.js"

# The kinds of page that the demo must have, so that none is forgotten unseen.
KINDS = {
    "emergency",
    "front",
    "home",
    "kit",
    "landing-place",
    "left",
    "list",
    "missing",
    "number",
    "place",
    "routine",
    "symptom",
    "task",
}

SIDEWAYS = "() => document.scrollingElement.scrollWidth - document.scrollingElement.clientWidth"

CLIPPED = """() => [...document.querySelectorAll("main *, header *, footer *")].filter(
  (e) => e.clientWidth && e.scrollWidth > e.clientWidth + 1 && !e.closest("svg")
    && getComputedStyle(e).display !== "inline").map((e) => e.outerHTML.slice(0, 80))"""

CONTROLS = "button, input, summary, header a, footer .call a, .choices a, div.call a, .skip"

SMALL = """(controls) => [...document.querySelectorAll(controls)].filter(
  (e) => e.checkVisibility()).map((e) => {
  const box = e.getBoundingClientRect();
  return [e.className + " " + e.textContent.trim().slice(0, 30), box.width, box.height];
}).filter(([, width, height]) => width < 44 || height < 44)"""


def axe_findings(page: Page) -> list[str]:
    """Return every violation that axe tells of a page, with the first element of each.

    The rules are those of WCAG 2.0, 2.1 and 2.2 at levels A and AA, and axe's best practices.
    """
    # By the debugger, not as an element: the page's own policy allows no foreign script.
    page.evaluate(AXE.read_text("utf-8"))
    told = page.evaluate(
        """() => axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa",
        "wcag22aa", "best-practice"]})"""
    )
    assert len(told["passes"]) > 5
    return [f"{found['id']}: {found['nodes'][0]['html'][:120]}" for found in told["violations"]]


def test_the_demo_has_every_kind_of_page(site: Site) -> None:
    """Each kind of page that is looked at here is in the demo."""
    assert set(site.kinds) >= KINDS


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_no_violation(site: Site, windows: Windows, scheme: str) -> None:
    """Axe tells no violation on any kind of page, scripts having run."""
    page = windows.open(scheme).page
    found = {}
    for kind, path in site.kinds.items():
        page.goto(site.address(path), wait_until="networkidle")
        found[kind] = axe_findings(page)
    assert {kind: told for kind, told in found.items() if told} == {}


def test_axe_tells_violations(site: Site, windows: Windows) -> None:
    """A page whose title is taken away is told, so that the check above can fail."""
    page = windows.open().page
    page.goto(site.address(site.kinds["task"]))
    page.evaluate("document.title = ''")
    assert any(told.startswith("document-title") for told in axe_findings(page))


@pytest.mark.parametrize("width", [320, 390])
def test_nothing_scrolls_sideways(site: Site, windows: Windows, width: int) -> None:
    """At the width of a small phone no page is wider than the screen.

    320 CSS pixels: WCAG 2.2, 1.4.10 Reflow.
    """
    page = windows.open(width=width).page
    for path in site.kinds.values():
        page.goto(site.address(path))
        assert page.evaluate(SIDEWAYS) == 0, path
        assert page.evaluate(CLIPPED) == [], path


def test_zoom_to_twice_the_size_loses_nothing(site: Site, windows: Windows) -> None:
    """At 200 % zoom on a laptop nothing scrolls sideways or is cut (WCAG 2.2, 1.4.4)."""
    page = windows.open(viewport={"width": 640, "height": 400}, device_scale_factor=2).page
    for path in site.kinds.values():
        page.goto(site.address(path))
        assert page.evaluate(SIDEWAYS) == 0, path
        assert page.evaluate(CLIPPED) == [], path


def test_text_of_twice_the_size_loses_nothing(site: Site, chromium: Browser) -> None:
    """With the reader's own text size doubled on a phone, all text still wraps in the screen."""
    large = chromium.browser_type.launch(
        executable_path=chromium_program(), args=[*FLAGS, "--blink-settings=defaultFontSize=32"]
    )
    page = large.new_page(viewport={"width": 390, "height": 844})
    for path in site.kinds.values():
        page.goto(site.address(path))
        size = page.evaluate("getComputedStyle(document.documentElement).fontSize")
        assert float(size.removesuffix("px")) >= 32
        assert page.evaluate(SIDEWAYS) == 0, path
        assert page.evaluate(CLIPPED) == [], path
    large.close()


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_targets_are_large_enough_for_cold_hands(site: Site, windows: Windows, kind: str) -> None:
    """Every control that shows measures at least 44 by 44 CSS pixels (WCAG 2.2, 2.5.5)."""
    page = windows.open().page
    page.goto(site.address(site.kinds[kind]))
    assert page.locator(CONTROLS).count() > 0
    assert page.evaluate(SMALL, CONTROLS) == []


def test_contrast_and_motion_wishes_are_honoured(site: Site, windows: Windows) -> None:
    """With reduced motion nothing scrolls smoothly; with forced colours words stay visible."""
    still = windows.open(reduced_motion="reduce", forced_colors="active").page
    still.goto(site.address(site.kinds["task"]))
    assert still.evaluate("getComputedStyle(document.documentElement).scrollBehavior") == "auto"
    assert axe_findings(still) == []


def test_headings_go_down_one_by_one(site: Site) -> None:
    """Each kind of page has one first heading (checked in the source, without a browser)."""
    for path in site.kinds.values():
        assert path.read_text("utf-8").count("<h1") == 1, path
