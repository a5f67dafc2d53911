"""YAML as the author wrote it: every scalar stays text, every key and value has a position.

PyYAML's own typing is left out on purpose: it would turn the serial number 000123 into 83,
12:30 into 750 and `no` into False. What a text means is decided by the field that asks for it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

from generator.problems import Mark, Problem, Problems, ProblemsFound
from generator.read.expressions import TOKEN_CLOSE, TOKEN_OPEN

LARGEST_SOURCE_BYTES = 1_000_000
"""No hand-written description comes near this; a larger file is a mistake or an attack."""

DEEPEST_LEVEL = 20
"""The formats need five levels; a deeper text is a mistake or an attack."""

_CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f\u202a-\u202e\u2066-\u2069\ufeff\ue000-\uf8ff]")
"""Characters that are not seen: of control, turning text round (UAX #9), for private use."""

_TOKEN_MARK = re.compile(f"[{TOKEN_OPEN}{TOKEN_CLOSE}]")


@dataclass(frozen=True, slots=True)
class Text:
    """A scalar, as written."""

    value: str
    at: Mark


@dataclass(frozen=True, slots=True)
class Items:
    """A list."""

    items: tuple[Node, ...]
    at: Mark


@dataclass(frozen=True, slots=True)
class Table:
    """A mapping, in the author's order. Keys are unique."""

    entries: tuple[tuple[Text, Node], ...]
    at: Mark

    def __iter__(self) -> Iterator[tuple[Text, Node]]:
        """Iterate over key and value."""
        return iter(self.entries)

    def get(self, name: str) -> Node | None:
        """Return the value of the key `name`, if there is one."""
        return next((value for key, value in self.entries if key.value == name), None)

    def key_mark(self, name: str) -> Mark:
        """Return the position of the key `name`, else of the table itself."""
        return next((key.at for key, _ in self.entries if key.value == name), self.at)


Node = Text | Items | Table


def read_source(
    path: Path, shown: str, problems: Problems, *, largest_bytes: int = LARGEST_SOURCE_BYTES
) -> str | None:
    """Return the text of an author's file, or None after noting why it cannot be read.

    `shown` is the path as the author knows it. Refused: a file that is too large, one that is not
    UTF-8, one with control characters, and one that cannot be opened.
    """
    start = Mark(shown)
    try:
        size = path.stat().st_size
        if size > largest_bytes:
            problems.add(
                start,
                "(file)",
                f"is {size / 1e6:.1f} MB",
                f"a text of at most {largest_bytes / 1e6:.0f} MB",
            )
            return None
        raw = path.read_bytes()
    except OSError as error:
        problems.add(
            start, "(file)", f"cannot be read ({error.strerror})", "a file that can be opened"
        )
        return None
    return decode_source(raw, shown, problems)


def decode_source(raw: bytes, shown: str, problems: Problems) -> str | None:
    """Return the text of an author's file from its bytes, or None after noting what is wrong."""
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        column = error.start - (raw.rfind(b"\n", 0, error.start) + 1) + 1
        problems.add(Mark(shown, line, column), "(file)", "is not UTF-8 text", "save it as UTF-8")
        return None
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    unfit = _CONTROL.search(text) or _TOKEN_MARK.search(text)
    if unfit is not None:
        above = text[: unfit.start()]
        at = Mark(shown, above.count("\n") + 1, len(above) - above.rfind("\n"))
        if _TOKEN_MARK.match(unfit[0]):
            wrong, right = f"'{unfit[0]}', which stands for values", "other brackets"
        else:
            wrong, right = f"a control character (U+{ord(unfit[0]):04X})", "plain text"
        problems.add(at, "(file)", wrong, right)
        return None
    return text


def parse_tree(
    text: str, shown: str, problems: Problems, *, first_line: int = 1, empty_is_fine: bool = False
) -> Table | None:
    """Return the mapping that a YAML text holds, or None after noting what is wrong with it.

    `first_line` is the line of the file on which `text` begins (front matter starts below the
    top). Refused: tabs in the indentation, aliases, anchors, tags, duplicate keys, an empty text
    (unless that is fine) and anything that is not a mapping.
    """
    for number, line in enumerate(text.split("\n")):
        indentation = line[: len(line) - len(line.lstrip())]
        if "\t" in indentation:
            at = Mark(shown, first_line + number, indentation.index("\t") + 1)
            problems.add(at, "(file)", "a tab in the indentation", "spaces")
            return None
    try:
        tree = _build(text, shown, first_line)
    except ProblemsFound as found:
        problems.found.extend(found.problems)
        return None
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        problems.add(
            Mark(
                shown,
                first_line + (mark.line if mark else 0),
                (mark.column if mark else 0) + 1,
            ),
            "(file)",
            f"YAML cannot be read here ({error.problem or error.context})",
            "`key: value` lines; quote a text that holds `: `, ` #` or starts with a symbol",
        )
        return None
    except yaml.YAMLError as error:
        problems.add(
            Mark(shown, first_line), "(file)", f"YAML cannot be read ({error})", "plain text"
        )
        return None
    if tree is None:
        if not empty_is_fine:
            problems.add(Mark(shown, first_line), "(file)", "is empty", "`key: value` lines")
        return Table((), Mark(shown, first_line)) if empty_is_fine else None
    if not isinstance(tree, Table):
        problems.add(tree.at, "(file)", "is not a mapping", "`key: value` lines")
        return None
    return tree


_FAST = getattr(yaml, "CBaseLoader", None)
"""The parser in C, where PyYAML was built with it: a tenth of the time."""


_UNSEEN = re.compile("[\t\u0085\u2028\u2029\ufeff]")


def _build(text: str, shown: str, first_line: int) -> Node | None:
    """Return what a text holds. What the fast parser refuses is for the other to explain.

    Only the fast one would take a tab within a value, and it counts other marks that are not seen
    differently, and places a value that is not there elsewhere.
    """
    if _FAST is not None and not _UNSEEN.search(text):
        with suppress(yaml.YAMLError, ProblemsFound, _NothingThereError):
            return _Builder(text, shown, first_line, _FAST).build()
    return _Builder(text, shown, first_line, yaml.BaseLoader).build()


class _NothingThereError(Exception):
    """A key without a value."""


class _Builder:
    """Turns PyYAML's events into `Text`, `Items` and `Table`.

    Events rather than nodes, because only an event still tells an alias from what it repeats.
    """

    def __init__(self, text: str, shown: str, first_line: int, loader: Any) -> None:
        self.events: Iterator[Any] = yaml.parse(text, Loader=loader)
        self.fast = loader is not yaml.BaseLoader
        self.shown = shown
        self.first_line = first_line
        self.problems: list[Problem] = []

    def build(self) -> Node | None:
        tree: Node | None = None
        documents = 0
        for event in self.events:
            if isinstance(event, yaml.DocumentStartEvent):
                documents += 1
                if documents > 1:
                    self._refuse(event, "a second document", "one document in a file")
                    break
                tree = self._node(next(self.events))
        if self.problems:
            raise ProblemsFound(self.problems)
        if isinstance(tree, Text) and not tree.value:
            return None
        return tree

    def _mark(self, event: Any) -> Mark:
        mark = event.start_mark
        return Mark(self.shown, self.first_line + mark.line, mark.column + 1)

    def _refuse(self, event: Any, wrong: str, right: str) -> None:
        self.problems.append(Problem(self._mark(event), "(file)", wrong, right))

    def _node(self, event: Any, level: int = 1) -> Node:
        at = self._mark(event)
        if level > DEEPEST_LEVEL:
            self._refuse(event, "nested too deeply", f"at most {DEEPEST_LEVEL} levels")
            raise ProblemsFound(self.problems)
        if isinstance(event, yaml.AliasEvent):
            self._refuse(event, f"an alias (*{event.anchor})", "write the value out")
            return Text("", at)
        if event.anchor:
            self._refuse(event, f"an anchor (&{event.anchor})", "write the value out")
        if event.tag and event.tag != "!":
            self._refuse(event, f"a tag ({event.tag})", "a plain value")
        if isinstance(event, yaml.ScalarEvent):
            if not event.value and self.fast:
                raise _NothingThereError
            return Text(event.value, at)
        if isinstance(event, yaml.SequenceStartEvent):
            items: list[Node] = []
            while not isinstance(inner := next(self.events), yaml.SequenceEndEvent):
                items.append(self._node(inner, level + 1))
            return Items(tuple(items), at)
        entries: list[tuple[Text, Node]] = []
        lines: dict[str, int] = {}
        while not isinstance(inner := next(self.events), yaml.MappingEndEvent):
            key = self._node(inner, level + 1)
            value = self._node(next(self.events), level + 1)
            if not isinstance(key, Text):
                self._refuse(inner, "a key that is not a word", "a plain word before the colon")
                continue
            if key.value in lines:
                self.problems.append(
                    Problem(
                        key.at,
                        key.value,
                        "given twice",
                        f"once; the first is on line {lines[key.value]}",
                    )
                )
                continue
            lines[key.value] = key.at.line
            entries.append((key, value))
        return Table(tuple(entries), at)
