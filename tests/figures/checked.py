"""What the figures were checked against, as a table, from the remarks in their tests.

A remark begins with `# Checked against:` and goes on over the comment lines below it. It belongs
to the test that it stands in, or at module level to the next one. Run this file to see the table.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).resolve().parent
TABLE = HERE / "CHECKED.md"
BEGIN = "# Checked against:"

_NOTE = re.compile(
    r" ?\(reference\.md[^)]*\)"
    r"|[;,]?( as (tabulated|worked|noted) in| worked in| of) reference\.md [A-H]"
    r"( \(check[^)]*\)|, check \d)?"
)
"""Where a value stands in the notes of the design; the source itself is named beside it."""


@dataclass(frozen=True, slots=True)
class Remark:
    """A check: of which figure, what it shows, and what it was held against."""

    figure: str
    shows: str
    against: str


def remarks() -> Iterator[Remark]:
    """Yield every remark of the figures' tests, in the order of files and lines."""
    for path in sorted(HERE.glob("test_*.py")):
        text = path.read_text("utf-8")
        lines = text.split("\n")
        tests = [
            node
            for node in ast.walk(ast.parse(text))
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
        ]
        tests.sort(key=lambda node: node.lineno)
        for number, line in enumerate(lines, 1):
            if line.strip().startswith(BEGIN):
                # The test that ends soonest after it is the one around it, or the next one.
                test = min(
                    (t for t in tests if (t.end_lineno or 0) >= number),
                    key=lambda t: t.end_lineno or 0,
                )
                yield Remark(
                    path.stem.removeprefix("test_").replace("_", " "),
                    test.name.removeprefix("test_").replace("_", " "),
                    _joined(lines[number - 1 :]),
                )


def _joined(lines: list[str]) -> str:
    parts = [lines[0].strip().removeprefix(BEGIN)]
    for line in lines[1:]:
        plain = line.strip()
        if not plain.startswith("# ") or plain.startswith(BEGIN) or "noqa" in plain:
            break
        parts.append(plain.removeprefix("#"))
    return _NOTE.sub("", " ".join(" ".join(parts).split())).rstrip(".")


def checked_table() -> str:
    """Return the table as Markdown."""
    rows = "".join(f"| {r.figure} | {r.shows} | {r.against} |\n" for r in remarks())
    return (
        "# What these numbers were checked against\n\n"
        "Made from the remarks in the tests of this folder by `checked.py`; `pytest --bless`\n"
        "renews it. A check against a library runs with that library each time.\n\n"
        "| figure | what the test shows | held against |\n| --- | --- | --- |\n" + rows
    )


if __name__ == "__main__":
    print(checked_table(), end="")
