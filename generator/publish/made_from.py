"""The note of what each translation was made from; this is its only writer."""

from __future__ import annotations

import os
from collections.abc import Iterable

from generator.read.languages import FOLDER, picture_titles
from generator.read.made_from import source_digests, written
from generator.read.sources import Sources


def write_made_from(sources: Sources, language: str, names: Iterable[str]) -> int:
    """Note that the named translations fit their sources as these are now; return how many.

    Notes of what is no longer in the library fall away.
    """
    now = source_digests(sources.library, picture_titles(sources.assets.pictures))
    noted = {
        name: digest
        for name, digest in sources.languages[language].made_from.items()
        if name in now
    }
    fresh = {name: now[name] for name in names}
    path = sources.root / "docs_src" / FOLDER / language / "made_from.yml"
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_suffix(".new")
    beside.write_text(written(noted | fresh), "utf-8")
    os.replace(beside, path)
    return len(fresh)
