"""How a text that is not in its page's language, or behind its source, is told apart.

Private-use characters stand in a text until its page is rendered; then they become `lang` in the
HTML. No author can write one: they are refused where a file is read.
"""

from __future__ import annotations

import re

from generator.read.tasks import STEP, STEP_LINE

OPEN, CLOSE = "\ue000", "\ue001"
"""Around a text that stands in the source's language because it is not translated."""

STALE = "\ue002"
"""Before a translated text whose source has changed since."""

_BULLET = re.compile(r"(?P<mark> *[-*] +)(?P<text>.*)")
_KEPT = ("Caution", "Picture")
_WORD = re.compile(r"[^\W\d_]{3,}")


class Shown(str):
    """A value that conditions compare as it was written, and readers see in their language."""

    __slots__ = ("shown",)
    shown: str

    def __new__(cls, value: str, shown: str) -> Shown:
        """Return the value with what is shown for it."""
        made = super().__new__(cls, value)
        made.shown = shown
        return made

    def __getnewargs__(self) -> tuple[str, str]:  # type: ignore[override]
        """Return what a copy is made from."""
        return str(self), self.shown


def as_foreign(text: str) -> str:
    """Return a text of one line as one that stands in the source's language."""
    return f"{OPEN}{text}{CLOSE}" if text else text


def as_foreign_words(text: str) -> str:
    """Return the same, but leave what has no words in it, such as a tyre's size."""
    return as_foreign(text) if _WORD.search(text) else text


def as_stale(text: str) -> str:
    """Return a translated text as one whose source has changed since."""
    return f"{STALE}{text}" if text else text


def body_as_foreign(body: str) -> str:
    """Return the text of a task, each line that a reader sees in the source's language."""
    return _each_line(body, OPEN, CLOSE)


def body_as_stale(body: str) -> str:
    """Return the text of a task with the mark of a changed source."""
    return _each_line(body, STALE, "")


def without_marks(text: str) -> str:
    """Return a text without any of these marks."""
    return text.replace(OPEN, "").replace(CLOSE, "").replace(STALE, "")


def _each_line(body: str, before: str, after: str) -> str:
    return "\n".join(_line(line, before, after) for line in body.split("\n"))


def _line(line: str, before: str, after: str) -> str:
    if not line.strip() or line.startswith(("#", "{%")):
        return line
    step = STEP.match(line)
    if step:
        start = step.start("command")
    elif labelled := STEP_LINE.match(line):
        if labelled["label"] in _KEPT:
            return line
        start = labelled.start("text")
    elif bullet := _BULLET.match(line):
        start = bullet.start("text")
    else:
        start = len(line) - len(line.lstrip())
    text = line[start:]
    return f"{line[:start]}{before}{text}{after}" if text else line
