"""A paper before it is rendered: its template and its data, and how to tell that it is the same."""

from __future__ import annotations

import hashlib
import json
import multiprocessing
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any

from generator.render.stickers import compile_typst


@dataclass(frozen=True, slots=True)
class Printable:
    """A template with the data that it sets."""

    template: Path
    data: object

    def digest(self) -> str:
        """Return what stays the same as long as the PDF would, byte for byte."""
        digest = hashlib.sha256(version("typst").encode())
        for path in sorted(self.template.parent.glob("*.typ")):
            digest.update(path.read_bytes())
        digest.update(json.dumps(self.data, ensure_ascii=False).encode())
        return digest.hexdigest()

    def pdf(self) -> bytes:
        """Return the paper as PDF/UA-1."""
        return compile_typst(self.template, self.data)


def plain(value: Any) -> Any:
    """Return a typed value as JSON has it. `asdict` copies every leaf, and a booklet has 50,000."""
    if value is None or isinstance(value, (str, int, float)):
        return value
    if isinstance(value, (tuple, list)):
        return [plain(inner) for inner in value]
    if isinstance(value, dict):
        return {key: plain(inner) for key, inner in value.items()}
    return {name: plain(getattr(value, name)) for name in value.__dataclass_fields__}


def render_papers(papers: Sequence[Printable], jobs: int) -> list[bytes]:
    """Return the PDFs of papers, in order.

    Each is made by a process of its own, which gives its memory back: the engine keeps all that
    it ever laid out, some 600 MB for a booklet, and a fleet would fill any machine.
    """
    if not papers:
        return []
    with ProcessPoolExecutor(
        max_workers=min(jobs, len(papers)),
        mp_context=multiprocessing.get_context("spawn"),
        max_tasks_per_child=1,
    ) as pool:
        return list(pool.map(Printable.pdf, papers))
