"""The floor of a page: bare HTML of the same text, with no style, script, picture or link."""

from __future__ import annotations

import html
from pathlib import Path
from xml.etree.ElementTree import Element

import html5lib

_BARE = (
    *("h1", "h2", "h3", "h4", "p", "ul", "ol", "li", "strong", "small"),
    *("table", "thead", "tbody", "tr", "td", "th", "details", "summary"),
)
"""Elements that stay, without their attributes: they are what makes a text readable."""

_LEFT_OUT = ("script", "style", "svg", "img", "video", "form", "input", "button", "select")


def bare_page(page: Path) -> str:
    """Return a page's title and text as a bare HTML page."""
    tree = html5lib.parse(page.read_bytes(), namespaceHTMLElements=False)
    title = "".join(tree.find("head/title").itertext())
    text = _bare(tree.find("body")).removeprefix(tree.find("body").text or "")
    lines = "\n".join(line.strip() for line in text.split("\n") if line.strip())
    return (
        f"<!doctype html>\n<html lang=en><meta charset=utf-8>\n"
        f'<meta name=viewport content="width=device-width">\n'
        f"<title>{html.escape(title)}</title>\n{lines}\n"
    )


def _bare(element: Element) -> str:
    """Return what is within an element, bare."""
    parts = [html.escape(element.text or "", quote=False)]
    for child in element:
        name = child.tag if isinstance(child.tag, str) else ""
        if name and name not in _LEFT_OUT:
            inner = _bare(child)
            parts.append(f"<{name}>{inner}</{name}>" if name in _BARE else inner)
        parts.append(html.escape(child.tail or "", quote=False))
    return "".join(parts)
