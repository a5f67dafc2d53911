"""A paper before it is rendered: its template and its data, and how to tell that it is the same."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

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
