"""The guide of the preview unit, built to be measured, and what it is measured against."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from site_checks import copy_workspace, lockerleaf, one_of_each_kind, parse_site

from bench.floor import bare_page
from bench.stock import composed_guides, write_stock
from generator.read.sources import Sources, read_sources

_KINDS = (
    "landing-task",
    "landing-place",
    "task",
    "home",
    "routine",
    "number",
    "search",
    "symptom",
    "place",
    "kit",
    "list",
    "notices",
    "emergency",
)
"""What is measured, in this order: a cold scan, what it leads to, and the rest."""


def build_guide(root: Path, folder: Path) -> tuple[Sources, Path]:
    """Build the preview unit of a copy of a workspace; return the copy as read, and its guide."""
    workspace = copy_workspace(root, folder / "workspace")
    unit = read_sources(workspace).stock.dealer.preview
    lockerleaf(workspace, "build", unit, "--no-papers")
    sources = read_sources(workspace)  # with the codes that were minted
    return sources, workspace / "public" / str(sources.register.code_for(unit, "unit", ""))


def three_sites(root: Path, folder: Path) -> Path:
    """Build `ours`, the `floor` and `stock` side by side; return the folder that holds them."""
    sources, guide = build_guide(root, folder)
    write_stock(composed_guides(sources)[sources.stock.dealer.preview], folder / "stock")
    sites = folder / "sites"
    subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "-q", "-d", str(sites / "stock")],
        cwd=folder / "stock",
        check=True,
        capture_output=True,
    )
    guide.rename(sites / "ours")
    for page in (sites / "ours").rglob("*.html"):
        bare = sites / "floor" / page.relative_to(sites / "ours")
        bare.parent.mkdir(parents=True, exist_ok=True)
        bare.write_text(bare_page(page), "utf-8")
    return sites


def pages_of_interest(guide: Path) -> dict[str, str]:
    """Return the longest page of each kind, by kind, as paths in a guide."""
    chosen = one_of_each_kind(guide, parse_site(guide))
    return {kind: chosen[kind].relative_to(guide).as_posix() for kind in _KINDS if kind in chosen}
