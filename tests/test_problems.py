"""How mistakes are told: each in one line, and one that many units have in one."""

from __future__ import annotations

from generator.problems import Mark, Problem, put_together


def told(problems: list[Problem]) -> list[str]:
    """Return the lines that are shown."""
    return [str(problem) for problem in put_together(problems)]


def mistake(unit: str, wrong: str = "has no steps in {}", line: int = 1) -> Problem:
    """Return a mistake that was found in a unit."""
    return Problem(Mark("docs_src/tasks/a.md", line), "(text)", wrong.format(unit), "some", unit)


def test_one_mistake_in_many_units_is_one_line() -> None:
    """It names one of them and says how many more there are."""
    many = [mistake(f"gf-{number}") for number in range(500)]
    other = [mistake("gf-7", "'Result' twice in {}"), mistake("gf-8", line=2)]
    assert told([*many, *other]) == [
        "docs_src/tasks/a.md:1:1: (text): has no steps in gf-0 (and 499 more); right: some",
        "docs_src/tasks/a.md:1:1: (text): 'Result' twice in gf-7; right: some",
        "docs_src/tasks/a.md:2:1: (text): has no steps in gf-8; right: some",
    ]


def test_few_have_a_line_each() -> None:
    """Whoever has three units wants to read of which."""
    few = [mistake(f"gf-{number}") for number in range(3)]
    assert told(few) == [str(problem) for problem in few]


def test_what_names_no_unit_is_never_put_together() -> None:
    """Two wrong words at one place are two mistakes."""
    words = [Problem(Mark("units/a.yml"), "prefer", f"no task '{n}'", "one of b") for n in range(9)]
    assert told(words) == [str(problem) for problem in words]


def test_a_unit_is_named_as_such_once() -> None:
    """A name that is also in a text is left there."""
    many = [mistake(f"gf-{n}", "{} has no task 'x' (gf-0 gf-1)") for n in range(5)]
    (line,) = told(many)
    assert "gf-0 (and 4 more) has no task 'x' (gf-0 gf-1)" in line
