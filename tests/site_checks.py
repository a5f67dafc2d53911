"""What the tests of the built site share: building a workspace, and reading HTML independently.

Pages are read with html5lib, which follows the parsing rules of the HTML standard (WHATWG HTML,
section 13.2) and names every parse error; nothing of the generator takes part in the reading.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import unquote, urlsplit

import html5lib

WORKSPACE = ("docs_src", "units", "site_assets", "mkdocs.yml")

UNLINKED = ("tel:", "data:", "mailto:")
"""Addresses that lead to no file."""

AUTHORITIES = ("https://www.gov.uk/speed-limits",)
"""Pages of an authority that a guide leads to, so that it need not state the law itself."""

NAMESPACES = (
    "http://www.w3.org/2000/svg",
    "http://www.w3.org/1999/xlink",
    "https://schema.org",
    "http://www.w3.org/2005/Atom",
)
"""Names that look like addresses; no browser fetches them."""


def copy_workspace(root: Path, to: Path) -> Path:
    """Copy everything that a build reads into a folder of its own."""
    to.mkdir(parents=True, exist_ok=True)
    for name in WORKSPACE:
        source = root / name
        if source.is_dir():
            shutil.copytree(source, to / name, ignore=shutil.ignore_patterns(".*", "__pycache__"))
        else:
            shutil.copy2(source, to / name)
    return to


def lockerleaf(workspace: Path, *arguments: str, seed: str = "0") -> str:
    """Run the command in a workspace and return what it printed; fail with its own words."""
    done = subprocess.run(
        [sys.executable, "-m", "generator", *arguments],
        cwd=workspace,
        env={**os.environ, "PYTHONHASHSEED": seed},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@dataclass(frozen=True, slots=True)
class Parsed:
    """An HTML file as html5lib reads it."""

    path: Path
    sort: str
    """The class of its body: what kind of page it is."""
    errors: tuple[str, ...]
    ids: tuple[str, ...]
    links: tuple[str, ...]
    """Every href, src, poster and srcset, as written."""
    sections: tuple[str, ...]
    """The classes of its sections, in reading order."""
    title: str
    text: str


def parse_html(path: Path) -> Parsed:
    """Return what an independent parser finds in a page."""
    parser = html5lib.HTMLParser(namespaceHTMLElements=False)
    tree = parser.parse(path.read_bytes(), transport_encoding="utf-8")
    errors = tuple(f"{line}:{column} {code} {data}" for (line, column), code, data in parser.errors)
    ids, links, sections = [], [], []
    for element in tree.iter():
        for name, value in element.attrib.items():
            plain = name.rpartition("}")[2] if isinstance(name, str) else name[-1]
            if plain == "id":
                ids.append(value)
            elif plain in ("href", "src", "poster", "action"):
                links.append(value)
            elif plain == "srcset":
                links.extend(part.split()[0] for part in value.split(","))
        if element.tag == "section":
            sections.append(element.get("class", ""))
    body = tree.find("body")
    heading = tree.find(".//h1")
    return Parsed(
        path,
        body.get("class", ""),
        errors,
        tuple(ids),
        tuple(links),
        tuple(sections),
        " ".join("".join(heading.itertext()).split()) if heading is not None else "",
        " ".join(" ".join(body.itertext()).split()),
    )


def parse_site(site: Path) -> dict[Path, Parsed]:
    """Return every page of a built tree, by its file."""
    return {path: parse_html(path) for path in sorted(site.rglob("*.html"))}


def broken_links(site: Path, pages: dict[Path, Parsed]) -> Iterator[str]:
    """Yield every link that leads to no file of this tree, or to no element of its page."""
    for path, page in pages.items():
        for link in page.links:
            if link.startswith(UNLINKED) or link in AUTHORITIES:
                continue
            parts = urlsplit(link)
            told = f"{path.relative_to(site)}: {link}"
            if parts.scheme or parts.netloc or parts.path.startswith("/"):
                yield f"{told}: not relative"
                continue
            target = (path.parent / unquote(parts.path)).resolve() if parts.path else path
            if not target.is_file():
                yield f"{told}: no file"
            elif parts.fragment and parts.fragment not in pages[target].ids:
                yield f"{told}: no such element"


def outside_addresses(site: Path) -> Iterator[str]:
    """Yield every address of another origin that stands in any file of a tree."""
    wanted = re.compile(rb"""(?:[a-z]+:)?//[a-z0-9_-]+(?:\.[a-z0-9_-]+)+[^\s"'<>)]*""", re.I)
    for path in sorted(site.rglob("*")):
        if path.is_file():
            content = path.read_bytes()
            for match in wanted.finditer(content):
                if match[0].decode() not in (*NAMESPACES, *AUTHORITIES):
                    yield f"{path.relative_to(site)}: {match[0].decode()}"


def one_of_each_kind(site: Path, pages: dict[Path, Parsed]) -> dict[str, Path]:
    """Return the longest page of each kind, by a name that tells the kind.

    Landing pages count as kinds of their own: they stand at another depth. Pages of a guide's
    further languages are left out.
    """
    chosen: dict[str, Path] = {}
    for path, page in pages.items():
        if any(re.fullmatch("[a-z]{2}", part) for part in path.relative_to(site).parts[:-1]):
            continue
        folder = path.parent.name
        landing = "landing-" if path.name == "index.html" and len(folder) == 3 else ""
        kind = f"{landing}{page.sort}"
        if kind not in chosen or path.stat().st_size > chosen[kind].stat().st_size:
            chosen[kind] = path
    return dict(sorted(chosen.items()))
