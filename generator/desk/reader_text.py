"""A page as its reader reads it: lines of plain words, cautions and steps told apart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from html.parser import HTMLParser

from markdown import Markdown

from generator.compose.page import Page, fill_html

_EXTENSIONS = ("attr_list", "md_in_html", "tables", "sane_lists")
"""Those of `mkdocs.yml`, by which the pages are rendered."""
_UNREAD = frozenset({"svg", "script", "style", "template"})
_WITHIN_A_LINE = frozenset(
    {"a", "abbr", "b", "br", "code", "em", "i", "kbd", "label", "output", "small", "span", "strong"}
    | {"sub", "sup", "u", "input", "button", "option", "td", "th", "time", "img", "data"}
)
_EMPTY = frozenset({"br", "hr", "img", "input", "link", "meta", "source", "track", "wbr", "col"})


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a page: what it is (`caution`, `step` or nothing), and its words."""

    what: str
    text: str


def read_page(page: Page, frame: Mapping[str, str]) -> tuple[Line, ...]:
    """Return the lines of a page, with the unit's values in them. Drawings are left out."""
    html = Markdown(extensions=list(_EXTENSIONS), output_format="html").convert(page.text)
    reader = _Reader()
    reader.feed(fill_html(html, {**frame, **page.values}))
    reader.close()
    reader.end_line()
    return tuple(reader.lines)


class _Reader(HTMLParser):
    """Collects the words of a page, a line for each block."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.lines: list[Line] = []
        self.open: list[tuple[str, frozenset[str]]] = []
        self.words: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Begin a line with each block."""
        if tag not in _WITHIN_A_LINE:
            self.end_line()
        if tag in ("td", "th"):
            self.words.append(" ")
        if tag not in _EMPTY:
            classes = frozenset((dict(attrs).get("class") or "").split())
            self.open.append((tag, classes))

    def handle_endtag(self, tag: str) -> None:
        """End a line with each block."""
        if tag not in _WITHIN_A_LINE:
            self.end_line()
        while self.open and any(name == tag for name, _ in self.open):
            if self.open.pop()[0] == tag:
                break

    def handle_data(self, data: str) -> None:
        """Keep the words, but for those of drawings and scripts."""
        if not any(tag in _UNREAD for tag, _ in self.open):
            self.words.append(data)

    def end_line(self) -> None:
        """Keep the line, if there is any."""
        text = " ".join("".join(self.words).split())
        self.words.clear()
        if text:
            classes = frozenset(name for _, names in self.open for name in names)
            what = "caution" if "mind" in classes else "step" if "do" in classes else ""
            self.lines.append(Line(what, text))
