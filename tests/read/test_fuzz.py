"""Damaged files: one clear line each, whatever stands in them; `tests/bench/fuzz.py` does more."""

from __future__ import annotations

import signal
from pathlib import Path

import pytest
from bench.fuzz import NOTICE, Target, by_hypothesis, damaged, listing
from hypothesis import HealthCheck, given, settings

from generator.problems import Problems
from generator.read import notices, tree
from generator.read.sources import Sources

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not hasattr(signal, "alarm"), reason="no alarm that ends a hang"),
]

SEEDS = {
    "unit": [(Path(__file__).parents[1] / "small" / "units" / "sm-1.yml").read_text("utf-8")],
    "notice": [NOTICE],
}


def test_damaged_files_are_told_or_built(tmp_path: Path) -> None:
    """No traceback, no hang, no write; what is accepted can be rendered."""
    target = Target(tmp_path)
    before = listing(target.root)
    by_hypothesis(target, 300)
    assert listing(target.root) == before
    assert target.count["refused"] > 100
    assert target.count["rendered"] > 3


@settings(max_examples=400, deadline=None, database=None, suppress_health_check=list(HealthCheck))
@given(damaged(SEEDS))
def test_both_parsers_read_alike(case: tuple[str, str]) -> None:
    """Where PyYAML has its parser in C, the one in Python gives the same tree and words."""
    _, text = case
    assert tree._FAST is not None, "PyYAML as it is on PyPI has it"
    told = []
    for fast in (tree._FAST, None):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(tree, "_FAST", fast)
            problems = Problems()
            told.append((tree.parse_tree(text, "x.yml", problems), problems.found))
    (fast_tree, fast_told), (slow_tree, slow_told) = told
    if slow_told:
        # The slow one refuses a few things that YAML allows, such as `{what?: yes}`.
        assert fast_told == slow_told or not fast_told
    else:
        assert (fast_tree, fast_told) == (slow_tree, slow_told)


def test_bombs_are_refused_in_bounded_time() -> None:
    """Aliases that multiply, and lists in lists in lists."""
    problems = Problems()
    bomb = "a: &a [x, x]\n" + "".join(
        f"{b}: &{b} [*{a}, *{a}, *{a}]\n" for a, b in zip("abcdefgh", "bcdefghi", strict=True)
    )
    assert tree.parse_tree(bomb, "x.yml", problems) is None
    assert "write the value out" in str(problems.found[0])
    problems = Problems()
    assert tree.parse_tree("a: " + "[" * 50_000, "x.yml", problems) is None
    assert len(problems.found) == 1


@pytest.mark.parametrize(
    ("when", "told"),
    [
        ("subject.capacity_l|nergy", "cannot be understood (No filter named 'nergy'.)"),
        ("subject.capacity_l is nergy", "cannot be understood (No test named 'nergy'.)"),
        ("(" * 900 + "1" + ")" * 900, "has brackets in brackets without end"),
        ("subject" + ".x" * 900, "has"),
        ("-" * 1_900 + "1", "has brackets in brackets without end"),
    ],
)
def test_conditions_that_no_one_would_write(when: str, told: str, small: Sources) -> None:
    """Each is refused in one line."""
    problems = Problems()
    text = NOTICE.replace("subject.capacity_l > 1", "'" + when + "'")
    table = tree.parse_tree(text, "x.yml", problems)
    assert table is not None
    notices._read_notice(table, "n", small.library.kinds, {"small-2"}, frozenset(), problems)
    assert len(problems.found) == 1
    assert told in problems.found[0].wrong
