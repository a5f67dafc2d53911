"""Print what another renderer makes of a guide's pages, where it differs from MkDocs.

The theme that MkDocs builds with here has an announced end of life. Zensical reads the same
settings and the same Markdown; what it does otherwise is to be known before it is needed. Compared
is the content of every page, as html5lib reads it: elements, their attributes and their text.

    python tests/bench/other_renderer.py [WORKSPACE]
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from xml.etree.ElementTree import Element

import html5lib

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.stock import workspace_named, write_stock
from generator.compose.compose import Composed
from generator.flow import finish_guides
from generator.read.sources import read_sources

_XHTML = "{http://www.w3.org/1999/xhtml}"
_OF_THE_THEME = {"headerlink", "md-content__button", "__skip"}
"""Classes and ids of what a theme puts into the content by itself."""


def pieces(path: Path) -> Iterator[str]:
    """Yield the content of a page piece by piece: each element's name and attributes, each text."""
    tree = html5lib.parse(path.read_text("utf-8"))
    article = next(tree.iter(f"{_XHTML}article"), None)
    assert article is not None, f"{path} has no article"

    def walk(element: Element) -> Iterator[str]:
        if _OF_THE_THEME & {*element.get("class", "").split(), element.get("id")}:
            return
        attributes = " ".join(f'{k}="{v}"' for k, v in sorted(element.attrib.items()))
        yield f"<{element.tag.removeprefix(_XHTML)} {attributes}>".replace(" >", ">")
        if text := " ".join((element.text or "").split()):
            yield text
        for child in element:
            yield from walk(child)
            if text := " ".join((child.tail or "").split()):
                yield text

    for child in article:
        yield from walk(child)


def build(program: str, composed: Composed, folder: Path) -> Path:
    """Build a guide's pages on the stock theme; return the folder of the site."""
    write_stock(composed, folder)
    subprocess.run(
        [sys.executable, "-m", program, "build"],
        cwd=folder,
        check=True,
        capture_output=True,
        env={**os.environ, "NO_MKDOCS_2_WARNING": "1"},
    )
    return folder / "site"


def differences(composed: Composed, folder: Path) -> dict[str, tuple[str, str]]:
    """Return, by page, the first piece that differs: as MkDocs makes it, and as the other does."""
    ours = build("mkdocs", composed, folder / "mkdocs")
    other = build("zensical", composed, folder / "zensical")
    found = {}
    for page in composed.pages:
        path = f"{page.uri.removesuffix('.md')}.html"
        if not (other / path).is_file():
            found[path] = ("a page", "none")
            continue
        first, second = list(pieces(ours / path)), list(pieces(other / path))
        if first != second:
            at = next(
                (i for i, (a, b) in enumerate(zip(first, second, strict=False)) if a != b), -1
            )
            found[path] = (first[at], second[at])
    return found


def main() -> None:
    """Print the pages that differ."""
    sources = read_sources(workspace_named())
    (done,) = finish_guides(sources, sources.register, [sources.stock.dealer.preview])
    with tempfile.TemporaryDirectory() as temporary:
        found = differences(done.composed, Path(temporary))
    print(f"{len(done.composed.pages)} pages, {len(found)} of them differ")
    shown: Counter[tuple[str, str]] = Counter(found.values())
    for (first, second), count in shown.most_common(20):
        print(f"{count:4} pages: {first[:150]!r}\n        became {second[:150]!r}")


if __name__ == "__main__":
    main()
