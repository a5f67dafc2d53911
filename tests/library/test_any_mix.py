"""The whole library against units with random equipment: what a demo fleet would never show."""

from __future__ import annotations

import pytest

from generator.compose.compose import compose_guide
from generator.compose.context import Drawings
from generator.fit.fit import fit_unit
from generator.problems import Problems
from generator.prove.prove import prove_guide
from generator.read.register import Register
from generator.read.sources import Sources
from library.generate import random_unit

pytestmark = pytest.mark.slow

SEEDS = range(1000, 1200)


@pytest.fixture(scope="module")
def shown() -> set[str]:
    """Return the names of the tasks that any of the generated guides shows."""
    return set()


@pytest.mark.parametrize("seed", SEEDS)
def test_every_text_works_out_and_every_proof_holds(
    demo: Sources, shown: set[str], seed: int
) -> None:
    """A random mix of equipment has no undefined value, dead link or unsafe sequence."""
    unit = random_unit(seed, demo.library.kinds)
    problems = Problems()
    guide = fit_unit(demo.library, unit, demo.stock.dealer, Register((), {}))
    proof = prove_guide(guide, demo.library, problems)
    drawings = Drawings(demo.assets.signs, demo.assets.pictures)
    compose_guide(guide, proof, demo.library, drawings, problems)
    assert [str(problem) for problem in problems.found] == []
    shown.update(task.task.name for task in guide.tasks)


def test_the_mixes_show_nearly_the_whole_library(demo: Sources, shown: set[str]) -> None:
    """The generated units and the demo fleet together show all but a handful of the tasks."""
    if not shown:
        pytest.skip("the mixes were not run")
    for unit in demo.stock.units.values():
        guide = fit_unit(demo.library, unit, demo.stock.dealer, Register((), {}))
        shown.update(task.task.name for task in guide.tasks)
    assert len(set(demo.library.tasks) - shown) <= 6, sorted(set(demo.library.tasks) - shown)
