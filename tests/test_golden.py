"""The small unit's guide, page by page, as it was last found good. `pytest --bless` renews it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from generator.compose.compose import Composed
from generator.compose.page import fill_plain
from generator.flow import finish_guides
from generator.read.sources import Sources

GOLDEN = Path(__file__).resolve().parent / "golden"


@pytest.fixture(scope="module")
def composed(small: Sources) -> Composed:
    """Return the small unit's composed guide."""
    return finish_guides(small, small.register, ["sm-1"])[0].composed


def test_addresses(composed: Composed, golden: Callable[[Path, str], None]) -> None:
    """The guide's addresses: none comes or goes unseen, as printed stickers lead to them."""
    golden(GOLDEN / "addresses.txt", "".join(sorted(f"{page.uri}\n" for page in composed.pages)))


def test_pages(
    composed: Composed, golden: Callable[[Path, str], None], request: pytest.FixtureRequest
) -> None:
    """Each page's Markdown, its values filled in and its drawings left out."""
    if request.config.getoption("--bless"):
        for path in (GOLDEN / "pages").rglob("*.md"):
            path.unlink()
    for page in composed.pages:
        front = f"{page.title} | {page.sort} | {page.description}\n\n"
        text = fill_plain(front + page.text, page.values)
        lines = "\n".join(line.rstrip() for line in text.split("\n"))
        golden(GOLDEN / "pages" / page.uri, lines.rstrip("\n") + "\n")


def test_nothing_is_left_over(composed: Composed) -> None:
    """No golden page stands for one that is gone."""
    pages = GOLDEN / "pages"
    assert {path.relative_to(pages).as_posix() for path in pages.rglob("*.md")} == {
        page.uri for page in composed.pages
    }


def test_frame(composed: Composed) -> None:
    """What stands around every page comes from the unit and its dealer."""
    assert {key: value for key, value in composed.frame.items() if key != "revision"} == {
        "unit": "Small 2, stock 1",
        "dealer": "Small & Sons",
        "telephone": "+44 1632 960001",
        "dial": "tel:+441632960001",
        "hours": "Monday to Friday, 9:00 to 17:00",
        "emergency": "112",
        "source": "en",
        "media": "",
    }


def test_twice_the_same(small: Sources, composed: Composed) -> None:
    """Composing again gives the same pages and the same revision."""
    again = finish_guides(small, small.register, ["sm-1"])[0].composed
    assert (again.pages, again.frame) == (composed.pages, composed.frame)


def test_no_private_text(small: Sources, composed: Composed) -> None:
    """What stands under `private` is in no page."""
    vin = "SPECIMEN000000001"
    assert vin in small.stock.units["sm-1"].private
    assert [p.uri for p in composed.pages if vin in p.text + "".join(p.values.values())] == []
