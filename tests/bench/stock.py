"""The same pages on stock Material: what the measurements are compared with."""

from __future__ import annotations

import json
import sys
from pathlib import Path

from markupsafe import Markup

from generator.compose.compose import Composed
from generator.compose.page import fill_html
from generator.flow import finish_guides
from generator.read.sources import Sources

ROOT = Path(__file__).parents[2]
"""The workspace that is measured, unless the first argument names another."""

SETTINGS = """\
site_name: Stock
use_directory_urls: false
theme:
  name: material
  font: false
plugins: []
markdown_extensions: [attr_list, md_in_html, tables, sane_lists]
validation: {omitted_files: ignore, links: {not_found: ignore, unrecognized_links: ignore}}
"""
"""No search and no web fonts: both would only make stock heavier and slower."""


def workspace_named() -> Path:
    """Return the workspace that the command line names, or this repository."""
    return Path(sys.argv[1]).resolve() if len(sys.argv) > 1 else ROOT


def composed_guides(sources: Sources) -> dict[str, Composed]:
    """Return every unit's composed pages, with the codes of the register."""
    finished = finish_guides(sources, sources.register, sorted(sources.stock.units))
    return {done.guide.unit.name: done.composed for done in finished}


def write_stock(composed: Composed, folder: Path) -> Path:
    """Write a guide's pages as plain Markdown, values filled in, and return its mkdocs.yml."""
    for page in composed.pages:
        path = folder / "docs" / page.uri
        path.parent.mkdir(parents=True, exist_ok=True)
        values = {
            name: value if isinstance(value, Markup) else Markup(value)
            for name, value in {**composed.frame, **page.values}.items()
        }
        title = json.dumps(fill_html(page.title, values), ensure_ascii=False)
        path.write_text(f"---\ntitle: {title}\n---\n\n{fill_html(page.text, values)}", "utf-8")
    settings = folder / "mkdocs.yml"
    settings.write_text(SETTINGS, "utf-8")
    return settings
