"""Pages of a fleet build are those of a plain `mkdocs build`."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from site_checks import copy_workspace

from generator.compose.page import Page
from generator.flow import finish_guides
from generator.read.sources import Sources
from generator.render.site import SiteRenderer

UNITS = ("lt-2107", "mh-4001", "pv-5001")


def mkdocs_build(workspace: Path, unit: str, to: Path) -> dict[str, str]:
    """Return the pages that MkDocs itself makes of a unit, by path."""
    settings = workspace / "mkdocs.yml"
    text = settings.read_text("utf-8").replace(
        "  - lockerleaf\n", f"  - lockerleaf: {{unit: {unit}}}\n"
    )
    chosen = workspace / f"mkdocs-{unit}.yml"
    chosen.write_text(text, "utf-8")
    subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "-q", "-f", str(chosen), "-d", str(to)],
        check=True,
        env={**os.environ, "NO_MKDOCS_2_WARNING": "1"},
    )
    return {path.relative_to(to).as_posix(): path.read_text("utf-8") for path in to.rglob("*.html")}


@pytest.fixture(scope="module")
def renderer(demo: Sources) -> SiteRenderer:
    """Return one renderer, which has rendered other units before."""
    return SiteRenderer(demo)


@pytest.mark.parametrize("unit", UNITS)
def test_pages_equal_those_of_mkdocs(
    unit: str, demo: Sources, renderer: SiteRenderer, tmp_path: Path
) -> None:
    """Every page, byte for byte; a plain build only has no worker to name."""
    plain = mkdocs_build(copy_workspace(demo.root, tmp_path / "copy"), unit, tmp_path / "site")
    (done,) = finish_guides(demo, demo.register, [unit])
    rendered = renderer.render(done.composed)
    pages = {
        path: content.decode().replace('data-worker="worker.js"', 'data-worker=""')
        for path, content in rendered.files.items()
        if path.endswith(".html")
    }
    assert len(pages) == rendered.pages > 200
    assert sorted(pages) == sorted(plain)
    assert [path for path in pages if pages[path] != plain[path]] == []


def test_order_of_units_does_not_matter(demo: Sources, renderer: SiteRenderer) -> None:
    """What was rendered before leaves no trace in a guide."""
    done = finish_guides(demo, demo.register, ["pv-5001", "lt-2118"])
    warm = [renderer.render(one.composed).files for one in done]
    cold = [SiteRenderer(demo).render(one.composed).files for one in reversed(done)]
    assert warm == list(reversed(cold))


def test_a_link_to_no_page_is_refused(small: Sources, renderer: SiteRenderer) -> None:
    """A dead link can only be a mistake of ours; it never reaches a reader."""
    (done,) = finish_guides(small, small.register, ["sm-1"])
    lost = Page(
        uri="task/lost.md",
        title="Lost",
        sort="task",
        text="See [that](../kit/none.md).",
        description="Lost",
    )
    composed = replace(done.composed, pages=(*done.composed.pages, lost))
    with pytest.raises(LookupError, match=r"task/lost\.md leads to kit/none\.md"):
        renderer.render(composed)
