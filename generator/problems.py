"""One shape and one formatter for every mistake that an author can make.

    ProblemsFound   raised once at the end of a stage, with all that the stage found
    RefusedError    what a command was asked cannot be done, and no file is at fault

A mistake of ours is an ordinary exception with a traceback, never `ProblemsFound`.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, field, replace


@dataclass(frozen=True, slots=True, order=True)
class Mark:
    """Where something stands in a file: path as the author knows it, line and column from 1."""

    path: str
    line: int = 1
    column: int = 1


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One mistake: where, at which key, what is wrong, and what would be right."""

    at: Mark
    key: str
    wrong: str
    right: str
    unit: str = ""
    """The unit in which it was found, if `wrong` names one."""

    def in_unit(self, unit: str) -> Problem:
        """Return the same mistake in another unit."""
        if not self.unit:
            return self
        return replace(self, wrong=self.wrong.replace(self.unit, unit, 1), unit=unit)

    def __str__(self) -> str:
        """Return the one line that the author sees."""
        at = self.at
        line = f"{at.path}:{at.line}:{at.column}: {self.key}: {self.wrong}; right: {self.right}"
        return " ".join(line.split())


class ProblemsFound(Exception):  # noqa: N818 - it says what happened: an author's problems
    """All mistakes that a stage found, in file and line order."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        """Keep each problem once, sorted."""
        self.problems = tuple(sorted(set(problems)))
        super().__init__("\n".join(str(problem) for problem in self.problems))


MOST_ALIKE = 3
"""In how many units a mistake has a line for each."""


def put_together(problems: Iterable[Problem]) -> tuple[Problem, ...]:
    """Return problems in their order, and one for many that differ in nothing but the unit.

    A mistake in a text that a thousand units have is one mistake.
    """
    alike: dict[Problem, list[Problem]] = {}
    for problem in problems:
        alike.setdefault(problem.in_unit("\0"), []).append(problem)
    told: list[Problem] = []
    for found in alike.values():
        first, *others = found
        if first.unit and len(others) >= MOST_ALIKE:
            told.append(first.in_unit(f"{first.unit} (and {len(others)} more)"))
        else:
            told += found
    return tuple(told)


class RefusedError(Exception):
    """What a command was asked for cannot be done: what is wrong, and what would be right."""

    def __init__(self, wrong: str, right: str) -> None:
        """Keep one line."""
        super().__init__(" ".join(f"{wrong}; right: {right}".split()))


@dataclass(slots=True)
class Problems:
    """Collects the mistakes of one stage, so that they can be told all at once."""

    found: list[Problem] = field(default_factory=list)

    def add(self, at: Mark, key: str, wrong: str, right: str, unit: str = "") -> None:
        """Note one mistake; `unit` is the one that `wrong` names, if it does."""
        self.found.append(Problem(at, key, wrong, right, unit))

    def stop_if_any(self) -> None:
        """Raise `ProblemsFound` if anything was noted."""
        if self.found:
            raise ProblemsFound(self.found)


def one_of(words: Iterable[str], given: str = "") -> str:
    """Return a hint that names the choices, the nearest to `given` alone where one is near.

    At most eight choices are listed, so that the line stays readable.
    """
    choices = sorted(set(words))
    near = difflib.get_close_matches(given, choices, n=1, cutoff=0.7) if given else []
    if near:
        return f"did you mean {near[0]}?"
    if not choices:
        return "nothing can stand here"
    shown = ", ".join(choices[:8])
    return f"one of {shown}" + (f" and {len(choices) - 8} more" if len(choices) > 8 else "")
