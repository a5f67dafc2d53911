"""What a text or condition may do with a day that a unit states."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from generator.fit.fit import fit_unit
from generator.flow import finish_guides
from generator.problems import ProblemsFound
from generator.read.register import Register
from generator.read.sources import Sources, read_sources

TASK = "docs_src/tasks/gas/read-hose.md"
TEXT = """---
title: Read the hose
purpose: Know its date.
subject: gas-cylinder
minutes: 1
source: common practice, no source
{front}---

1. Read the date.
   {line}
"""


@pytest.mark.parametrize(
    "line",
    [
        "{% if subject.hose_marked_until == 3 %}Note: Old.{% endif %}",
        '{% if subject.hose_marked_until < "2031" %}Note: Old.{% endif %}',
        "{% if subject.hose_marked_until in (1, 2) %}Note: Old.{% endif %}",
        "Note: {{ subject.hose_marked_until | string }}",
        "Note: {{ subject.hose_marked_until.year }}",
        "Note: {{ subject.hose_marked_until._day }}",
    ],
)
def test_a_day_is_told_and_nothing_else(
    workspace: Path, write: Callable[[str, str], Path], line: str
) -> None:
    """Else units that differ by a day alone could have pages that differ in more."""
    write(TASK, TEXT.format(front="", line=line))
    sources = read_sources(workspace)
    with pytest.raises(ProblemsFound) as found:
        finish_guides(sources, sources.register, ["sm-1"])
    assert all(problem.at.path == TASK for problem in found.value.problems)


def test_asked_in_conditions(workspace: Path, write: Callable[[str, str], Path]) -> None:
    """A condition may ask whether it is there; one that compares it is told with its line."""
    write(TASK, TEXT.format(front="when: subject.hose_marked_until\n", line="Note: It is there."))
    sources = read_sources(workspace)
    (done,) = finish_guides(sources, sources.register, ["sm-1"])
    assert "read-hose" in {task.task.name for task in done.guide.tasks}
    write(TASK, TEXT.format(front="when: subject.hose_marked_until == 3\n", line="Note: No."))
    sources = read_sources(workspace)
    with pytest.raises(ProblemsFound, match="a day can be told, and not compared"):
        finish_guides(sources, sources.register, ["sm-1"])
    asked = 'when: has("gas-cylinder", hose_marked_until="2031-03-01")\n'
    write(TASK, TEXT.format(front=asked, line="Note: No."))
    with pytest.raises(ProblemsFound, match="is a day, which can be told, and not compared"):
        read_sources(workspace)


def test_tasks_are_about_the_units_own_equipment(small: Sources) -> None:
    """What was fitted for a unit that is alike is given this one's days and serial numbers."""
    first = small.stock.units["sm-1"]
    other = replace(
        first,
        fitted=tuple(
            replace(one, serial="77", values={**one.values, "hose_marked_until": date(2040, 1, 2)})
            if one.name == "cylinder"
            else one
            for one in first.fitted
        ),
    )
    none = Register((), {})
    before = fit_unit(small.library, first, small.stock.dealer, none)
    after = fit_unit(small.library, other, small.stock.dealer, none, before)
    assert after == fit_unit(small.library, other, small.stock.dealer, none)
    about = [task.subject for task in after.tasks if task.subject.name == "cylinder"]
    assert about
    assert {one.serial for one in about} == {"77"}
    assert fit_unit(small.library, first, small.stock.dealer, none, before).tasks is before.tasks
