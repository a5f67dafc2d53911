"""A dealer's photograph of a place: its numbers stand where they should and mean what is listed."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image
from playwright.sync_api import Page

from browser.conftest import Site, Windows
from generator.read.sources import Sources
from generator.read.units import Spot

pytestmark = pytest.mark.slow

POINTS = """() => [...document.querySelectorAll(".pins circle")].map((circle) => {
  const pin = circle.getBoundingClientRect();
  const photo = document.querySelector(".photo").getBoundingClientRect();
  return [(pin.x + pin.width / 2 - photo.x) / photo.width,
    (pin.y + pin.height / 2 - photo.y) / photo.height, pin.width];
})"""


# Not by asking for it to be decoded: that is refused when it begins to load just then.
LOADED = """(photo) => photo.complete || new Promise((done, refuse) => {
  photo.addEventListener("load", done);
  photo.addEventListener("error", () => refuse(new Error("the photograph does not load")));
})"""


def bring_photograph(page: Page) -> None:
    """Scroll to the photograph, which is loaded only then, and wait until it is there."""
    photo = page.locator(".photo")
    photo.scroll_into_view_if_needed()
    photo.evaluate(LOADED)
    assert photo.evaluate("(photo) => photo.naturalWidth") > 0


@pytest.fixture
def marked(demo: Sources, site: Site) -> tuple[Spot, Path]:
    """Return a place of the demo whose photograph is numbered, and its page."""
    spot = next(s for u in demo.stock.units.values() for s in u.places.values() if s.callouts)
    page = next(
        path
        for path, page in site.pages.items()
        if path.match(f"place/{spot.name}.html") and 'class="pins"' in path.read_text("utf-8")
    )
    return spot, page


@pytest.mark.parametrize("width", [320, 390, 1280])
def test_numbers_stand_at_their_points(
    site: Site, windows: Windows, marked: tuple[Spot, Path], width: int
) -> None:
    """On every width each disc is centred where the description says, and is of one size."""
    spot, path = marked
    page = windows.open(width=width).page
    page.goto(site.address(path))
    bring_photograph(page)
    found = page.evaluate(POINTS)
    assert len(found) == len(spot.callouts)
    for (across, down, size), wanted in zip(found, spot.callouts, strict=True):
        assert across == pytest.approx(wanted.across, abs=0.01)
        assert down == pytest.approx(wanted.down, abs=0.01)
        assert 28 <= size <= 36


def test_what_they_mean_is_a_list_that_is_read_out(
    site: Site, windows: Windows, marked: tuple[Spot, Path]
) -> None:
    """For a screen reader: a picture that says where its numbers are told, then a list of them."""
    spot, path = marked
    page = windows.open(java_script_enabled=False).page
    page.goto(site.address(path))
    said = page.locator(".drawing:has(.pins)").aria_snapshot()
    assert f"1 to {len(spot.callouts)}" in said
    assert said.count("- ") == 2, "a paragraph and its picture: discs are not read out themselves"
    items = page.locator(".legend").get_by_role("listitem").all_inner_texts()
    assert [item.strip() for item in items] == [callout.says for callout in spot.callouts]


def test_numbers_are_printed(site: Site, windows: Windows, marked: tuple[Spot, Path]) -> None:
    """On paper the picture has its numbers, each disc with its own colour, and the list below."""
    spot, path = marked
    page = windows.open("dark").page
    page.goto(site.address(path))
    bring_photograph(page)
    document = pypdfium2.PdfDocument(page.pdf(format="A4"))
    words = "".join(sheet.get_textpage().get_text_range() for sheet in document)
    assert all(callout.says in words for callout in spot.callouts)
    shades = np.concatenate(
        [sheet.render(scale=2).to_numpy()[..., :3].reshape(-1, 3) for sheet in document]
    )
    petrol = np.abs(shades.astype(int) - (0x54, 0x4F, 0x0B)).max(axis=1) < 12
    assert petrol.sum() > 500 * len(spot.callouts)


def test_forced_colours_leave_the_numbers_legible(
    site: Site, windows: Windows, marked: tuple[Spot, Path]
) -> None:
    """With the reader's own colours a disc keeps both of its own, so that the number shows."""
    _, path = marked
    page = windows.open(forced_colors="active").page
    page.goto(site.address(path))
    pin = page.locator(".pins circle").first
    pin.scroll_into_view_if_needed()
    with Image.open(io.BytesIO(pin.screenshot())) as image:
        shades = {pixel for _, pixel in image.convert("L").getcolors(70_000)}
    assert min(shades) < 90
    assert max(shades) > 230
