"""Lists of steps, as the pages' Markdown becomes HTML."""

from __future__ import annotations

import markdown

from generator.compose.markdown import lone_item, step_item


def html(text: str) -> str:
    """Return what a page makes of Markdown."""
    return markdown.markdown(text, extensions=["attr_list"])


def test_a_step_alone_is_marked_as_each_of_several_is() -> None:
    """The number stands beside a paragraph, which a list of one item would not have."""
    alone, several = html(lone_item(step_item(1, "Go."))), html(step_item(1, "Go.") * 2)
    assert '<li class="do">' in html(step_item(1, "Go."))
    for made, count in ((alone, 1), (several, 2)):
        assert made.count('<p class="do">Go.</p>') == count
