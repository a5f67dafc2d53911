"""A second renderer reads the same settings and Markdown: what differs is known."""

from __future__ import annotations

from pathlib import Path

import pytest
from bench.other_renderer import differences

from generator.flow import finish_guides
from generator.read.sources import Sources

KNOWN = {
    ('<a href="all.html">', '<a href="all.md">'),  # a link in <noscript>, which it leaves as it is
}


def test_another_renderer_makes_the_same_content(small: Sources, tmp_path: Path) -> None:
    """Whatever new difference a new version brings is told here, before it is needed."""
    pytest.importorskip("zensical")
    (done,) = finish_guides(small, small.register, ["sm-1"])
    found = differences(done.composed, tmp_path)
    assert set(found.values()) <= KNOWN, found
