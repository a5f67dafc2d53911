"""The table of what the figures were checked against is up to date and names every figure."""

from __future__ import annotations

import runpy
from collections.abc import Callable
from pathlib import Path

HERE = Path(__file__).resolve().parent
CHECKED = runpy.run_path(str(HERE / "checked.py"))


def test_the_table_is_up_to_date(golden: Callable[[Path, str], None]) -> None:
    """`CHECKED.md` is what the remarks in the tests say now."""
    golden(CHECKED["TABLE"], CHECKED["checked_table"]())


def test_every_figure_was_checked_against_something() -> None:
    """Each module of figures that computes anything has a remark, and no remark is lost."""
    found = list(CHECKED["remarks"]())
    texts = [
        path.read_text("utf-8") for path in HERE.glob("test_*.py") if "checked" not in path.name
    ]
    assert len(found) == sum(text.count(CHECKED["BEGIN"]) for text in texts)
    assert {remark.figure for remark in found} >= {
        "battery", "dates", "gas", "hot water", "loading", "masses", "pitch", "tyres", "water",
        "weather", "wiring",
    }  # fmt: skip
    assert all(remark.against and "reference.md" not in remark.against for remark in found)
