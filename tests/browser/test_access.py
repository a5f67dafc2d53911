"""Anyone can use it: axe on every page kind, small screens, zoom, and targets for cold hands."""

from __future__ import annotations

from pathlib import Path

import axe_playwright_python
import pytest
from playwright.sync_api import Browser, Page, expect

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
    "notices",
    "number",
    "place",
    "planner",
    "routine",
    "search",
    "symptom",
    "task",
}

SIDEWAYS = "() => document.scrollingElement.scrollWidth - document.scrollingElement.clientWidth"

CLIPPED = """() => [...document.querySelectorAll("main *, header *, footer *")].filter(
  (e) => e.clientWidth && e.scrollWidth > e.clientWidth + 1 && !e.closest("svg")
    && getComputedStyle(e).display !== "inline").map((e) => e.outerHTML.slice(0, 80))"""

OVERLAPS = """() => {
  const discs = [...document.querySelectorAll(".map circle")].map((e) => e.getBoundingClientRect());
  const far = (a, b) => Math.hypot(a.x - b.x, a.y - b.y) / a.width;
  return discs.flatMap((a, i) => discs.slice(0, i).map((b, j) => [i + 1, j + 1, far(a, b)]))
    .filter(([, , gap]) => gap < 1);
}"""
"""Pairs of discs that are nearer than their diameter."""

CONTROLS = (
    "button, input, select, summary, header a, footer .call a, .choices a, div.call a, .skip, "
    ".map a, .numbered a, .jump a, .index a, .more a, .tongues a"
)

SMALL = """(controls) => [...document.querySelectorAll(controls)].filter(
  (e) => e.checkVisibility()).map((e) => {
  const box = e.getBoundingClientRect();
  return [e.className + " " + e.textContent.trim().slice(0, 30), box.width, box.height];
}).filter(([, width, height]) => width < 44 || height < 44)"""


@pytest.fixture(scope="session")
def kinds(site: Site) -> dict[str, Path]:
    """Return the longest page of each kind, and of the loading planner, which is a number too."""
    planners = [p for p, page in site.pages.items() if p.match("????/numbers/masses.html")]
    return {**site.kinds, "planner": max(planners, key=lambda path: path.stat().st_size)}


def open_page(page: Page, site: Site, path: Path) -> None:
    """Open a page with all on it that may come: a planner with a thing in it."""
    page.goto(site.address(path), wait_until="networkidle")
    adding = page.locator(".work-out button:visible").first
    if adding.count() and "masses" in path.name:
        adding.click()
        expect(page.locator(".things li")).to_have_count(1)


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


def test_the_demo_has_every_kind_of_page(kinds: dict[str, Path]) -> None:
    """Each kind of page that is looked at here is in the demo."""
    assert set(kinds) >= KINDS


@pytest.mark.parametrize(
    "wish",
    [
        {"scheme": "light"},
        {"scheme": "dark"},
        {"scheme": "dark", "forced_colors": "active", "reduced_motion": "reduce"},
        {"scheme": "light", "contrast": "more"},
    ],
    ids=lambda wish: "-".join(wish.values()),
)
def test_axe_finds_no_violation(
    site: Site, kinds: dict[str, Path], windows: Windows, wish: dict[str, str]
) -> None:
    """Axe tells no violation on any kind of page, scripts having run, whatever a reader wishes."""
    page = windows.open(**wish).page
    found = {}
    for kind, path in kinds.items():
        open_page(page, site, path)
        found[kind] = axe_findings(page)
    assert {kind: told for kind, told in found.items() if told} == {}


def test_axe_tells_violations(site: Site, windows: Windows) -> None:
    """A page whose title is taken away is told, so that the check above can fail."""
    page = windows.open().page
    page.goto(site.address(site.kinds["task"]))
    page.evaluate("document.title = ''")
    assert any(told.startswith("document-title") for told in axe_findings(page))


@pytest.mark.parametrize("width", [320, 390])
def test_nothing_scrolls_sideways(
    site: Site, kinds: dict[str, Path], windows: Windows, width: int
) -> None:
    """At the width of a small phone no page is wider than the screen.

    320 CSS pixels: WCAG 2.2, 1.4.10 Reflow.
    """
    page = windows.open(width=width).page
    for path in kinds.values():
        open_page(page, site, path)
        assert page.evaluate(SIDEWAYS) == 0, path
        assert page.evaluate(CLIPPED) == [], path


def test_zoom_to_twice_the_size_loses_nothing(
    site: Site, kinds: dict[str, Path], windows: Windows
) -> None:
    """At 200 % zoom on a laptop nothing scrolls sideways or is cut (WCAG 2.2, 1.4.4)."""
    page = windows.open(viewport={"width": 640, "height": 400}, device_scale_factor=2).page
    for path in kinds.values():
        open_page(page, site, path)
        assert page.evaluate(SIDEWAYS) == 0, path
        assert page.evaluate(CLIPPED) == [], path


def test_text_of_twice_the_size_loses_nothing(
    site: Site, kinds: dict[str, Path], chromium: Browser
) -> None:
    """With the reader's own text size doubled on a phone, all text still wraps in the screen."""
    large = chromium.browser_type.launch(
        executable_path=chromium_program(), args=[*FLAGS, "--blink-settings=defaultFontSize=32"]
    )
    page = large.new_page(viewport={"width": 390, "height": 844})
    for path in kinds.values():
        open_page(page, site, path)
        size = page.evaluate("getComputedStyle(document.documentElement).fontSize")
        assert float(size.removesuffix("px")) >= 32
        assert page.evaluate(SIDEWAYS) == 0, path
        assert page.evaluate(CLIPPED) == [], path
    large.close()


@pytest.mark.parametrize("width", [320, 390, 1280])
@pytest.mark.parametrize("kind", sorted(KINDS))
def test_targets_are_large_enough_for_cold_hands(
    site: Site, kinds: dict[str, Path], windows: Windows, kind: str, width: int
) -> None:
    """Every control that shows measures at least 44 by 44 CSS pixels (WCAG 2.2, 2.5.5)."""
    page = windows.open(width=width).page
    open_page(page, site, kinds[kind])
    assert page.locator(CONTROLS).count() > 0
    assert page.evaluate(SMALL, CONTROLS) == []


def test_motion_wish_is_honoured(site: Site, windows: Windows) -> None:
    """With reduced motion nothing scrolls smoothly; without the wish it does."""
    for wish, behaviour in (("reduce", "auto"), ("no-preference", "smooth")):
        page = windows.open(reduced_motion=wish).page
        page.goto(site.address(site.kinds["task"]))
        shown = page.evaluate("getComputedStyle(document.documentElement).scrollBehavior")
        assert shown == behaviour


def test_the_plan_of_each_vehicle_can_be_used_by_all(site: Site, windows: Windows) -> None:
    """What is where: each place on the plan is a link with a name, of a thumb's size, on its own.

    Tab goes through them in the order of their numbers, which is that of the list below; where
    the focus is can be seen.
    """
    page = windows.open(width=320).page
    homes = [path for path, parsed in site.pages.items() if parsed.sort == "home"]
    assert len(homes) > 5
    for path in homes:
        page.goto(site.address(path))
        names = (
            page.locator(".map")
            .get_by_role("link")
            .evaluate_all("(links) => links.map((link) => link.getAttribute('aria-label'))")
        )
        below = page.locator(".numbered li").evaluate_all(
            "(items) => items.map((i) => i.querySelector('strong').textContent + ': ' + "
            "i.querySelector('a').textContent)"
        )
        assert names == below
        assert page.evaluate(OVERLAPS) == [], path
    page.locator(".map a").first.focus()
    for name in names:
        assert page.evaluate("document.activeElement.getAttribute('aria-label')") == name
        stroke = "getComputedStyle(document.activeElement.firstChild).strokeWidth"
        assert float(page.evaluate(stroke).removesuffix("px")) > 4
        page.keyboard.press("Tab")
    page.locator(".map a").nth(1).focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/place/*.html")


def test_headings_go_down_one_by_one(site: Site) -> None:
    """Each kind of page has one first heading (checked in the source, without a browser)."""
    for path in site.kinds.values():
        assert path.read_text("utf-8").count("<h1") == 1, path
