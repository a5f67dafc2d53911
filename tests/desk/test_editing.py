"""A value is put into a YAML text, and nothing else in the text changes."""

from __future__ import annotations

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from generator.desk.editing import Draft, UneditableError, parse_path, write_value

CASES = {
    "in place": ("a: 1  # c\nb: 2\n", "a", "x", "a: x  # c\nb: 2\n"),
    "quoted": ("a: '1'  # c\n", "a", "x y", "a: x y  # c\n"),
    "new key": ("a: 1 # c\n# end\n", "b", "x", "a: 1 # c\nb: x\n# end\n"),
    "no last newline": ("a: 1", "b", "x", "a: 1\nb: x"),
    "windows lines": ("a: 1\r\nb: 2\r\n", "c", "x", "a: 1\r\nb: 2\r\nc: x\r\n"),
    "into braces": ("p: {a: 1}  # c\n", "p.b", "x, y", 'p: {a: 1, b: "x, y"}  # c\n'),
    "into empty braces": ("p: {}\n", "p.b", "x", "p: {b: x}\n"),
    "after a comma": ("p: {\n  a: 1,  # c\n}\n", "p.b", "x", "p: {\n  a: 1, b: x,  # c\n}\n"),
    "into nothing": ("p:  # c\nq: 1\n", "p.b", "x", "p: {b: x}  # c\nq: 1\n"),
    "below": ("p:\n  a: 1  # c\n\nq: 1\n", "p.b", "x", "p:\n  a: 1  # c\n  b: x\n\nq: 1\n"),
    "a table": ("a: 1\n", "p.q.r", "x", "a: 1\np: {q: {r: x}}\n"),
    "an entry": (
        "fitted:\n  - {id: a, v: 1}  # c\n",
        "fitted.a.w",
        "x",
        "fitted:\n  - {id: a, v: 1, w: x}  # c\n",
    ),
    "a block entry": (
        "fitted:\n- id: a\n  v: 1\n- id: b\n",
        "fitted.a.w",
        "x",
        "fitted:\n- id: a\n  v: 1\n  w: x\n- id: b\n",
    ),
    "another entry": (
        "fitted:\n  - {id: a}  # c\nz: 1\n",
        "fitted.b.w",
        "x",
        "fitted:\n  - {id: a}  # c\n  - {id: b, w: x}\nz: 1\n",
    ),
    "a first entry": ("a: 1\n", "fitted.b.w", "x", "a: 1\nfitted:\n  - {id: b, w: x}\n"),
    "an empty list": ("fitted: []\na: 1\n", "fitted.b.w", "x", "fitted: [{id: b, w: x}]\na: 1\n"),
    "over a block text": ("a: |\n  x\n  y\nb: 1\n", "a", "z", "a: z\nb: 1\n"),
    "over a folded list": ("a:\n- x\n- y\nb: 1\n", "a", "z", "a: z\nb: 1\n"),
}


@pytest.mark.parametrize("case", CASES)
def test_a_value_is_put_in(case: str) -> None:
    """Layout and comments around it stay, whatever style the author has."""
    before, path, value, after = CASES[case]
    draft = Draft(before)
    assert draft.set(parse_path(path), value)
    assert draft.text == after
    assert not draft.set(parse_path(path), value)


@pytest.mark.parametrize("path", ["a.b", "fitted.x.y"])
def test_what_is_in_the_way_is_not_overwritten(path: str) -> None:
    """A text does not become a table, nor a table a list."""
    with pytest.raises(UneditableError):
        Draft("a: 1\nfitted: {x: 1}\n").set(parse_path(path), "x")


@pytest.mark.parametrize(
    ("before", "path", "after"),
    [
        ("a: 1\nb: 2  # c\nc: 3\n", "b", "a: 1\nc: 3\n"),
        ("p: {a: 1, b: 2, c: 3}\n", "p.a", "p: {b: 2, c: 3}\n"),
        ("p: {a: 1, b: 2, c: 3}\n", "p.b", "p: {a: 1, c: 3}\n"),
        ("p: {a: 1, b: 2}\n", "p.b", "p: {a: 1}\n"),
        ("p: {a: 1}\nq: 1\n", "p.a", "q: 1\n"),
        ("fitted:\n  - {id: a, v: 1}\n  - {id: b}\n", "fitted.a.v", "fitted:\n  - {id: b}\n"),
        ("fitted:\n  - id: a\n    v: 1\n", "fitted.a.v", ""),
        ("fitted: [{id: a, v: 1}, {id: b}]\n", "fitted.a.v", "fitted: [{id: b}]\n"),
    ],
)
def test_a_value_is_taken_out(before: str, path: str, after: str) -> None:
    """What is left empty goes too."""
    draft = Draft(before)
    draft.remove(parse_path(path))
    assert draft.text == after


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("a: 1\n", "a: 1\nw: [x, y]\n"),
        ("w: [z]  # c\n", "w: [z, x, y]  # c\n"),
        ("w: x\n", "w: [x, y]\n"),
        ("w:\n  - y  # c\n# d\n", "w:\n  - y  # c\n  - x\n# d\n"),
        ("w: [y, x]\n", "w: [y, x]\n"),
    ],
)
def test_items_are_added(before: str, after: str) -> None:
    """What a list holds already stays as it is."""
    draft = Draft(before)
    assert draft.add_items(("w",), ["x", "y"]) == (before != after)
    assert draft.text == after


TEXTS = st.text(st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp", "Co", "Cn"]), max_size=20)
NAMES = st.from_regex(r"[a-z]{1,4}", fullmatch=True)


@given(TEXTS)
def test_any_text_can_be_written(text: str) -> None:
    """Whatever a cell holds, it is read back the same, within braces and without."""
    written = f"{{a: {write_value(text)}, b: {write_value([text, text])}}}"
    assert yaml.load(written, yaml.BaseLoader) == {"a": text, "b": [text, text]}
    assert yaml.load(f"a: {write_value(text, flow=False)}", yaml.BaseLoader) == {"a": text}


@given(
    st.recursive(TEXTS, lambda inner: st.dictionaries(NAMES, inner, max_size=4), max_leaves=8),
    st.booleans(),
    st.lists(NAMES, min_size=1, max_size=3),
    TEXTS,
)
def test_nothing_else_changes(tree: object, flow: bool, path: list[str], value: str) -> None:
    """Of any text, the value at the path is as wanted afterwards and all else as it was."""
    before = yaml.safe_dump({"top": tree}, allow_unicode=True, default_flow_style=flow)
    keys = ("top", *path)
    expected = yaml.load(before, yaml.BaseLoader)
    draft = Draft(before)
    try:
        draft.set(keys, value)
    except UneditableError:
        return
    inner = expected
    for key in keys[:-1]:
        if not isinstance(inner.get(key), dict):
            assert inner.get(key) in (None, "")
            inner[key] = {}
        inner = inner[key]
    inner[keys[-1]] = value
    assert yaml.load(draft.text, yaml.BaseLoader) == expected
