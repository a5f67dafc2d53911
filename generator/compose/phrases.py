"""Texts that are computed rather than written, such as a figure's labels, in another language.

`docs_src/languages/<language>/phrases.yml` has them by the source's text. `{name}` in both stands
for what differs: a number where the name begins with `n`, else another phrase.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import partial

from generator.compose.spoken import Tongue
from generator.read.translated import OPEN, as_foreign_words

_GAP = re.compile(r"\{([a-z_]+)\}")
_NUMBER = r"[-\u2212]?[\d.,]+(?: / [\d.,]+)*"
_NUMBERS = re.compile(r"(?<![\w.,])(?:\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+\.\d+)(?![\w.,]\d|\w)")


Known = Callable[[str], bool]


class Phrases:
    """Looks computed texts up; what is not there is marked as not translated."""

    def __init__(self, phrases: Mapping[str, str], tongue: Tongue) -> None:
        """Keep the phrases; those with the most fixed letters are tried first."""
        self._phrases = phrases
        self._tongue = tongue
        gapped = [key for key in phrases if _GAP.search(key)]
        gapped.sort(key=lambda key: -len(_GAP.sub("", key)))
        self._patterns = [(_pattern(key), phrases[key]) for key in gapped]

    def __call__(self, text: str, known: Known) -> str:
        """Return a text in the language; `known` tells texts that are in it already."""
        found = self._find(text, known)
        return as_foreign_words(self.numbers(text)) if found is None else found

    def _find(self, text: str, known: Known) -> str | None:
        if known(text) or OPEN in text:
            return text
        if text in self._phrases:
            return self._phrases[text]
        for pattern, phrase in self._patterns:
            match = pattern.fullmatch(text)
            if match:
                return _GAP.sub(partial(self._fill, match, known), phrase)
        return None

    def _fill(self, found: re.Match[str], known: Known, gap: re.Match[str]) -> str:
        value = found[gap[1]]
        return self._find(value, known) or as_foreign_words(self.numbers(value))

    def numbers(self, text: str) -> str:
        """Return a text with its numbers as the language writes them."""
        if self._tongue.decimal != ",":
            return text
        swap = {",": ".", ".": ","}
        return _NUMBERS.sub(lambda found: "".join(swap.get(c, c) for c in found[0]), text)


def _pattern(key: str) -> re.Pattern[str]:
    parts = _GAP.split(key)
    pieces = []
    for index, part in enumerate(parts):
        if index % 2:
            pieces.append(f"(?P<{part}>{_NUMBER if part.startswith('n') else '.+?'})")
        else:
            pieces.append(re.escape(part))
    return re.compile("".join(pieces), re.DOTALL)
