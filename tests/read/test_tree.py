"""YAML as written: positions, scalars that stay text, and all that is refused."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from generator.problems import Mark, Problems
from generator.read.tree import Items, Node, Table, Text, parse_tree, read_source


def parse(text: str) -> Table:
    """Return the tree of a text that must be well formed."""
    problems = Problems()
    tree = parse_tree(text, "a.yml", problems)
    assert problems.found == []
    assert tree is not None
    return tree


def refused(text: str) -> list[str]:
    """Return the error lines of a text."""
    problems = Problems()
    parse_tree(text, "a.yml", problems)
    return [str(problem) for problem in problems.found]


def plain(node: Node | None) -> object:
    """Return a tree as lists, dictionaries and texts."""
    if isinstance(node, Items):
        return [plain(item) for item in node.items]
    if isinstance(node, Table):
        return {key.value: plain(value) for key, value in node}
    return node.value if node else None


def test_positions() -> None:
    """Keys and values know their line and column, counted from 1, also in lists and flow."""
    tree = parse("one: 1\ntwo:\n  - {three: 3}\n  -  four\n")
    two = tree.get("two")
    assert isinstance(two, Items)
    inner, four = two.items
    assert isinstance(inner, Table)
    three = inner.get("three")
    assert three is not None
    assert [tree.key_mark("one"), tree.key_mark("two"), three.at, four.at] == [
        Mark("a.yml", 1, 1),
        Mark("a.yml", 2, 1),
        Mark("a.yml", 3, 13),
        Mark("a.yml", 4, 6),
    ]


def test_position_below_front_matter() -> None:
    """Front matter that begins on a later line keeps the file's line numbers."""
    tree = parse_tree("one: 1\ntwo: 2", "a.md", Problems(), first_line=2)
    assert tree is not None
    assert tree.key_mark("two") == Mark("a.md", 3, 1)


@pytest.mark.parametrize(
    "written",
    # YAML 1.1 makes 83, False, 750, a date, None, 685230.15 and infinity of these
    # (yaml.org/type: int, bool, timestamp, null, float).
    ["000123", "no", "12:30", "2026-04-11", "~", "null", "685_230.15", ".inf", "0x1F", "on", "1e3"],
)
def test_scalars_stay_as_written(written: str) -> None:
    """No scalar turns into something else by surprise."""
    assert plain(parse(f"key: {written}\n")) == {"key": written}


def test_quoted_and_folded_texts() -> None:
    """Quotes, folds and umlauts are read by YAML's own rules."""
    text = "a: \"x: #y\"\nb: 'it''s'\nc: >-\n  one\n  two\nd: Zürich\n"
    assert plain(parse(text)) == {"a": "x: #y", "b": "it's", "c": "one two", "d": "Zürich"}


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("a: 1\nb: 2\na: 3\n", ["a.yml:3:1: a: given twice; right: once; the first is on line 1"]),
        (
            "a: &x 1\nb: *x\n",
            [
                "a.yml:1:4: (file): an anchor (&x); right: write the value out",
                "a.yml:2:4: (file): an alias (*x); right: write the value out",
            ],
        ),
        (
            "a: !!python/name:os.system x\n",
            [
                "a.yml:1:4: (file): a tag (tag:yaml.org,2002:python/name:os.system); "
                "right: a plain value"
            ],
        ),
        ("a: !secret x\n", ["a.yml:1:4: (file): a tag (!secret); right: a plain value"]),
        ("a:\n\t- 1\n", ["a.yml:2:1: (file): a tab in the indentation; right: spaces"]),
        ("  \tb: 1\n", ["a.yml:1:3: (file): a tab in the indentation; right: spaces"]),
        ("", ["a.yml:1:1: (file): is empty; right: `key: value` lines"]),
        ("# only a remark\n", ["a.yml:1:1: (file): is empty; right: `key: value` lines"]),
        ("- 1\n- 2\n", ["a.yml:1:1: (file): is not a mapping; right: `key: value` lines"]),
        ("words\n", ["a.yml:1:1: (file): is not a mapping; right: `key: value` lines"]),
        (
            "a: 1\n---\nb: 2\n",
            ["a.yml:2:1: (file): a second document; right: one document in a file"],
        ),
        (
            "? [a, b]\n: 1\n",
            ["a.yml:1:3: (file): a key that is not a word; right: a plain word before the colon"],
        ),
        (
            "a: one: two\n",
            [
                "a.yml:1:7: (file): YAML cannot be read here (mapping values are not allowed "
                "here); right: `key: value` lines; quote a text that holds `: `, ` #` or starts "
                "with a symbol"
            ],
        ),
        (
            "a: [1, 2\n",
            [
                "a.yml:2:1: (file): YAML cannot be read here (expected ',' or ']', but got "
                "'<stream end>'); right: `key: value` lines; quote a text that holds `: `, ` #` "
                "or starts with a symbol"
            ],
        ),
        (
            "a: " + "[" * 900_000,
            ["a.yml:1:23: (file): nested too deeply; right: at most 20 levels"],
        ),
        (
            "a:" + "".join(f"\n{'  ' * level}- b:" for level in range(1, 300)),
            ["a.yml:11:23: (file): nested too deeply; right: at most 20 levels"],
        ),
    ],
)
def test_refused(text: str, lines: list[str]) -> None:
    """What could mean something else than it seems is told, with its position."""
    assert refused(text) == lines


def test_all_slips_at_once() -> None:
    """One reading tells every refused thing of a file, not only the first."""
    assert len(refused("a: &x 1\nb: !y 2\na: 3\nc: *x\n")) == 4


@pytest.mark.parametrize(
    ("raw", "line"),
    [
        (b"a: 1\nb: \xff\n", "a.yml:2:4: (file): is not UTF-8 text; right: save it as UTF-8"),
        (
            "a: Z\u00fcrich\n".encode("latin-1"),
            "a.yml:1:5: (file): is not UTF-8 text; right: save it as UTF-8",
        ),
        (
            "a: 1\n".encode("utf-16"),
            "a.yml:1:1: (file): is not UTF-8 text; right: save it as UTF-8",
        ),
        (
            b"a: 1\nb: x\x00y\n",
            "a.yml:2:5: (file): a control character (U+0000); right: plain text",
        ),
        (b"a: \x1b[31m\n", "a.yml:1:4: (file): a control character (U+001B); right: plain text"),
        (b"a: \x7f\n", "a.yml:1:4: (file): a control character (U+007F); right: plain text"),
    ],
)
def test_refused_bytes(tmp_path: Path, raw: bytes, line: str) -> None:
    """Bytes that are no plain UTF-8 text are told where they stand."""
    path = tmp_path / "a.yml"
    path.write_bytes(raw)
    problems = Problems()
    assert read_source(path, "a.yml", problems) is None
    assert [str(problem) for problem in problems.found] == [line]


def test_byte_order_mark_and_line_ends(tmp_path: Path) -> None:
    """A text of another system reads the same: its mark and line ends make no difference."""
    path = tmp_path / "a.yml"
    path.write_bytes(b"\xef\xbb\xbfa: 1\r\nb: 2\rc: 3\n")
    assert read_source(path, "a.yml", Problems()) == "a: 1\nb: 2\nc: 3\n"


def test_huge_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file of 50 MB is refused by its size, without being read."""
    path = tmp_path / "a.yml"
    with path.open("wb") as file:
        file.truncate(50_000_000)
    monkeypatch.setattr(Path, "read_bytes", _must_not_be_called)
    problems = Problems()
    read_source(path, "a.yml", problems)
    assert [str(problem) for problem in problems.found] == [
        "a.yml:1:1: (file): is 50.0 MB; right: a text of at most 1 MB"
    ]


def _must_not_be_called(_: Path) -> bytes:
    raise AssertionError("the file was read")


@pytest.mark.parametrize(
    ("make", "reason"),
    [
        (lambda path: path.mkdir(), "Is a directory"),
        (lambda path: path.symlink_to("nowhere"), "No such file or directory"),
    ],
)
def test_unreadable(tmp_path: Path, make: Callable[[Path], None], reason: str) -> None:
    """A file that cannot be opened is told with the machine's reason."""
    path = tmp_path / "a.yml"
    make(path)
    problems = Problems()
    read_source(path, "a.yml", problems)
    assert [str(problem) for problem in problems.found] == [
        f"a.yml:1:1: (file): cannot be read ({reason}); right: a file that can be opened"
    ]


def test_other_unprintables() -> None:
    """Characters that YAML itself forbids are told too."""
    (line,) = refused("a: \x80\n")
    assert line.startswith("a.yml:1:1: (file): YAML cannot be read (unacceptable character")


def test_text_is_kept_whole() -> None:
    """A value keeps inner spaces, and an absent one is an empty text."""
    tree = parse("a: one  two\nb:\n")
    assert (tree.get("a"), tree.get("b"), tree.get("c")) == (
        Text("one  two", Mark("a.yml", 1, 4)),
        Text("", Mark("a.yml", 2, 3)),
        None,
    )
