"""A made-up site that is sent somewhere, and what is looked at there."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

HREF = re.compile(r'href="([^"]+)"')


def write_site(public: Path, version: int, pages: int = 30) -> None:
    """Write a site in which every page leads to others, some of them new in this version."""
    shutil.rmtree(public, ignore_errors=True)
    for guide in ("7K3Q", "HG7H"):
        folder = public / guide
        folder.mkdir(parents=True)
        names = ["index.html", *(f"v{version}-{n}.html" for n in range(pages)), "worker.js"]
        for name in names:
            links = "".join(f'<a href="{other}">{version}</a>' for other in names)
            (folder / name).write_text(f"{version} {links}" + "x" * 3_000, "utf-8")
    (public / "index.html").write_text('<a href="7K3Q/index.html">7</a>', "utf-8")


def dead_links(site: Path) -> list[str]:
    """Return every link to no file, and every page that is cut off, that a reader can come to."""
    dead = []
    waiting = [site / "index.html", *site.glob("*/index.html")]
    seen = set(waiting)
    while waiting:
        page = waiting.pop()
        text = page.read_text("utf-8")
        if page.parent != site and not text.endswith("xxx"):
            dead.append(f"{page} is cut off")
        for link in HREF.findall(text):
            to = page.parent / link
            if not to.exists():
                dead.append(f"{page.name}: {link}")
            elif to.suffix == ".html" and to not in seen:
                seen.add(to)
                waiting.append(to)
    return dead


def same_tree(one: Path, other: Path) -> bool:
    """Return whether two folders hold the same files, hidden ones aside."""

    def tree(folder: Path) -> dict[str, bytes]:
        return {
            str(p.relative_to(folder)): p.read_bytes()
            for p in folder.rglob("*")
            if p.is_file() and not p.name.startswith(".")
        }

    return tree(one) == tree(other)
