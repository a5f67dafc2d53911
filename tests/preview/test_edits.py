"""Whatever is put into whatever text: it is refused, or all else in it is as it was."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from generator.desk.editing import Draft
from generator.preview.drafts import edit
from generator.preview.form import mask
from generator.problems import Problems, ProblemsFound, RefusedError
from generator.read.tree import parse_tree
from preview.test_form import UNIT

BLOCK = """# In blocks.
unit: sm-1
based_on: small-2
title: >
  A folded title
private:
  vin: a   # not told
  more:
    - x
without:
  # first
  - lamp  # why
  - door
fitted:
  -
    id: heater
    capacity_l: 14
    mains_w:
      - 500
      - 850   # the second
  - id: toilet
    parts: {seat: bed}
places:
  bed:
    along_m: 3
"""
TEXTS = (UNIT, BLOCK, "unit: sm-1\n", "{unit: sm-1, title: a}", "unit: sm-1")
NAMES = (
    "title private vin keys fitted heater lamp-left toilet energy places bed along_m without "
    "parts seat delivered vehicle body more door lamp"
)
WORDS = st.sampled_from(NAMES.split())
FITTING = st.tuples(st.just("fitted"), st.sampled_from(["heater", "toilet", "new"]), WORDS)
PATHS = st.one_of(
    FITTING.map(list), st.lists(WORDS, min_size=1, max_size=4), WORDS.map(lambda word: [word])
)
VALUES = st.one_of(
    st.sampled_from(
        ["no", "000123", "1e5", "~", "a: b", "- x", '"', "'", "{x}", "[y", "#c", "a, b"]
    ),
    st.text(max_size=12),
)
EDITS = st.one_of(
    st.fixed_dictionaries({"set": PATHS, "to": st.one_of(VALUES, st.lists(VALUES, max_size=3))}),
    st.fixed_dictionaries({"clear": PATHS}),
    st.fixed_dictionaries({"drop": PATHS}),
    st.fixed_dictionaries({"leave": WORDS}),
    st.fixed_dictionaries({"keep": WORDS}),
)
MARKS = st.sampled_from([*"{}[]:#\"'|>,&*!?-\t\r\n ", "- ", "---\n", ": ", "  ", ""])


@given(st.sampled_from(TEXTS), st.integers(0, 500), MARKS, st.lists(EDITS, max_size=3))
@settings(max_examples=400, deadline=None)
def test_an_edit_is_refused_or_leaves_a_text_that_reads(
    text: str, at: int, mark: str, edits: list[Any]
) -> None:
    """Also of a text with a slip in it; and masking keeps its lines."""
    broken = text[:at] + mark + text[at:]
    assert mask(broken).count("\n") == broken.count("\n")
    with contextlib.suppress(ProblemsFound, RefusedError):
        after = edit("sm-1", broken, edits)
        problems = Problems()
        parse_tree(after, "units/sm-1.yml", problems)
        assert not edits or problems.found == []


def leaves(value: object, path: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], str]]:
    """Yield every single value, entries of `fitted` by their id and others by their number."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, (*path, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            name = inner.get("id", str(index)) if isinstance(inner, dict) else str(index)
            yield from leaves(inner, (*path, name))
    else:
        yield path, str(value)


@given(st.sampled_from((UNIT, BLOCK)), PATHS, VALUES)
@settings(max_examples=400, deadline=None)
def test_a_value_is_set_and_nothing_else(text: str, path: list[str], value: str) -> None:
    """Every other value, and every comment that is not within what is replaced, is still there."""
    try:
        after = edit("sm-1", text, [{"set": path, "to": value}])
    except RefusedError:
        return
    keys = tuple(path)
    before = dict(leaves(Draft(text).get(())))
    now = dict(leaves(Draft(after).get(())))
    tidy = " ".join(value.split())
    if tidy:
        assert now[keys] == tidy
        kept = {k: v for k, v in before.items() if k[: len(keys)] != keys and k != keys[: len(k)]}
        assert kept.items() <= now.items()
        if len(path) > 1 or path[0] in ("title", "delivered"):
            assert after.count("#") >= text.count("#")
