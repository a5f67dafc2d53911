"""The guide's own phrases, by key, with named gaps."""

from __future__ import annotations

import re
from collections.abc import Mapping

from generator.problems import Mark, Problem, ProblemsFound

_GAP = re.compile(r"\{([a-z_]+)\}")


class Wording:
    """Looks phrases up. A phrase that is not there is a mistake of the wording file."""

    def __init__(self, phrases: Mapping[str, str], source: str = "docs_src/wording/en.yml") -> None:
        """Keep the phrases by key."""
        self._phrases = phrases
        self._source = source
        self.said: set[str] = set()
        """All that was said, so that it can be told from texts of another origin."""

    def __call__(self, key: str, **gaps: object) -> str:
        """Return a phrase with its gaps filled."""
        phrase = self._phrases.get(key)
        if phrase is None:
            raise ProblemsFound(
                [Problem(Mark(self._source), key, "missing", "a phrase for this key")]
            )

        def fill(match: re.Match[str]) -> str:
            if match[1] not in gaps:
                wrong = f"has a gap {{{match[1]}}}"
                right = " or ".join(f"{{{name}}}" for name in gaps) or "no gap"
                raise ProblemsFound([Problem(Mark(self._source), key, wrong, right)])
            return str(gaps[match[1]])

        said = _GAP.sub(fill, phrase)
        self.said.add(said)
        return said
