"""Our own drawings, style and script, from `site_assets/`."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from generator.problems import Mark, Problems
from generator.read.layers import layers_of

_COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Assets:
    """Everything that a page shows besides its text."""

    signs: Mapping[str, str]
    pictures: Mapping[str, str]
    style: str
    number_style: str
    """What pages of numbers need besides."""
    script: str
    """For every page: `guide.js` and what stands in `scripts/`, each a whole of its own."""
    search: str
    routine: str
    numbers: str
    worker: str
    mark: str


def read_assets(root: Path, problems: Problems) -> Assets:
    """Return the drawings, style and script under `root/site_assets`."""
    layers = layers_of(root)

    def text(name: str) -> str:
        path = layers.find(f"site_assets/{name}")
        try:
            return path.read_text("utf-8")
        except (OSError, UnicodeDecodeError):
            at = Mark(layers.shown(path))
            problems.add(at, "(file)", "cannot be read", "the file as delivered")
            return ""

    def drawings(folder: str) -> dict[str, str]:
        paths = layers.files(f"site_assets/{folder}", "*.svg")
        return {path.stem: text(f"{folder}/{path.name}") for path in paths}

    signs = drawings("signs")
    for name in ("general", "notice"):
        if name not in signs:
            signs[name] = text(f"signs/{name}.svg")
    return Assets(
        signs=signs,
        pictures=drawings("drawings"),
        style=_shorten_style(text("guide.css")),
        number_style=_shorten_style(text("numbers.css")),
        script=_shorten_script(
            text("guide.js"),
            *(text(f"scripts/{path.name}") for path in layers.files("site_assets/scripts", "*.js")),
        ),
        search=_shorten_script(text("search.js")),
        routine=_shorten_script(text("routine.js")),
        numbers=_shorten_script(
            *(text(f"numbers/{path.name}") for path in layers.files("site_assets/numbers", "*.js"))
        ),
        worker=_shorten_script(text("worker.js")),
        mark=text("brand/mark.svg").strip(),
    )


def _shorten_style(style: str) -> str:
    """Return a style sheet without comments and needless white space: it goes into every page."""
    style = _COMMENT.sub("", style)
    style = re.sub(r"\s+", " ", style)
    style = re.sub(r" ?([{};]) ?", r"\1", style).replace(";}", "}")
    return re.sub(r"(?<=[\w)-])([:,]) ", r"\1", style).strip()


def _shorten_script(*scripts: str) -> str:
    """Return scripts as one, without lines that are comments and without indentation."""
    lines = (line.strip() for script in scripts for line in script.split("\n"))
    return "\n".join(line for line in lines if line and not line.startswith("//")) + "\n"
