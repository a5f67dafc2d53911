"""Render composed guides with MkDocs, each into its own folder of a staging tree."""

from __future__ import annotations

import logging
import os
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from mkdocs.commands.build import build
from mkdocs.config import load_config

from generator.plugin import LockerleafPlugin, Prepared
from generator.render.offline import write_offline


@dataclass(frozen=True, slots=True)
class Rendered:
    """A guide as files: where they are, how many pages and bytes."""

    unit: str
    code: str
    folder: Path
    pages: int
    bytes: int
    pack_bytes: int
    """What a phone fetches and keeps to have all of it without signal."""


def render_sites(
    root: Path, guides: Sequence[Prepared], staging: Path, jobs: int
) -> Iterator[Rendered]:
    """Yield each guide once it is rendered into `staging/<unit code>`.

    With several jobs, guides are rendered side by side, each by a process of its own.

    Raises:
        RuntimeError: MkDocs warned of something; that is a mistake of ours, not of an author.
    """
    if jobs <= 1 or len(guides) <= 1:
        for prepared in guides:
            yield render_site(root, prepared, staging)
        return
    with ProcessPoolExecutor(max_workers=min(jobs, len(guides))) as pool:
        yield from pool.map(
            render_site, [root] * len(guides), guides, [staging] * len(guides), chunksize=1
        )


def render_site(root: Path, prepared: Prepared, staging: Path) -> Rendered:
    """Return one guide rendered by MkDocs from the workspace's own mkdocs.yml."""
    os.environ.setdefault("NO_MKDOCS_2_WARNING", "1")
    guide = prepared.composed.guide
    folder = staging / guide.code
    config = load_config(str(root / "mkdocs.yml"), site_dir=str(folder))
    plugin = config.plugins["lockerleaf"]
    assert isinstance(plugin, LockerleafPlugin)
    plugin.prepared = prepared
    with _warnings_are_errors():
        build(config)
    pack_bytes = write_offline(folder, prepared.assets.worker)
    files = [path for path in folder.rglob("*") if path.is_file()]
    return Rendered(
        guide.unit.name,
        guide.code,
        folder,
        len(prepared.composed.pages),
        sum(path.stat().st_size for path in files),
        pack_bytes,
    )


class _Collector(logging.Handler):
    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.told: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.told.append(record.getMessage())


class _warnings_are_errors:  # noqa: N801 - a context manager reads as a phrase
    """Quiet MkDocs while it builds, and fail on anything that it warns of."""

    def __enter__(self) -> None:
        self.logger = logging.getLogger("mkdocs")
        self.collector = _Collector()
        self.logger.addHandler(self.collector)
        self.level = self.logger.level
        self.propagate = self.logger.propagate
        self.logger.setLevel(logging.WARNING)
        self.logger.propagate = False

    def __exit__(self, *error: object) -> None:
        self.logger.removeHandler(self.collector)
        self.logger.setLevel(self.level)
        self.logger.propagate = self.propagate
        if error[0] is None and self.collector.told:
            raise RuntimeError("MkDocs warned:\n" + "\n".join(self.collector.told))
