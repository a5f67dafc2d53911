"""Imports go one way: no stage knows a later one."""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

GENERATOR = Path(__file__).resolve().parent.parent / "generator"

TIERS: Mapping[str, int] = {
    "problems": 0,
    "read": 1,
    "fit": 2,
    "prove": 3,
    "figures": 4,
    "compose": 5,
    "flow": 6,
    "checks": 6,
    "plugin": 6,
    "render": 7,
    "publish": 8,
    "workers": 9,
    "fleet": 9,
    "desk": 10,
    "preview": 10,
    "cli": 11,
    "__main__": 12,
}
"""The flow. What stands on one tier may use the others of that tier."""

NEVER = {("publish", "render")}
"""Publishing takes folders and files, and does not know how they came about."""


def imports_of(tree: ast.AST) -> Iterator[tuple[str, int]]:
    """Yield each room that a module imports, wherever in it, with the line."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are written in full"
            module = node.module or ""
            names = [f"{module}.{alias.name}" for alias in node.names]
        else:
            continue
        for name in names:
            parts = name.split(".")
            if parts[0] == "generator" and len(parts) > 1 and parts[1] in TIERS:
                yield parts[1], node.lineno


def wrong_ways(sources: Mapping[str, str]) -> list[str]:
    """Return each import that goes the wrong way; `sources` are texts by path."""
    wrong = []
    for path, text in sources.items():
        room = path.split("/")[0].removesuffix(".py")
        for other, line in imports_of(ast.parse(text)):
            if TIERS[other] > TIERS[room] or (room, other) in NEVER:
                wrong.append(f"{path}:{line}: {room} imports {other}")
    return wrong


def written() -> dict[str, str]:
    """Return the text of every module by its path within the package."""
    paths = sorted(GENERATOR.rglob("*.py"))
    texts = {path.relative_to(GENERATOR).as_posix(): path.read_text("utf-8") for path in paths}
    return {path: text for path, text in texts.items() if path != "__init__.py"}


def test_every_module_has_its_tier() -> None:
    """No module stands outside the flow."""
    assert {path.split("/")[0].removesuffix(".py") for path in written()} <= set(TIERS)


def test_imports_go_one_way() -> None:
    """No room of the package imports a later one."""
    assert wrong_ways(written()) == []


def test_enough_is_looked_at() -> None:
    """The check sees imports at all: every later room uses what was read."""
    seen = {
        path.split("/")[0]: {room for room, _ in imports_of(ast.parse(text))}
        for path, text in written().items()
        if path.endswith(("fit/fit.py", "prove/prove.py", "compose/compose.py"))
    }
    assert ["read" in rooms for rooms in seen.values()] == [True, True, True]


@pytest.mark.parametrize(
    ("path", "text", "told"),
    [
        (
            "read/tree.py",
            "from generator.fit.fit import fit_unit\n",
            ["read/tree.py:1: read imports fit"],
        ),
        ("problems.py", "import generator.read\n", ["problems.py:1: problems imports read"]),
        ("fit/fit.py", "from generator import prove\n", ["fit/fit.py:1: fit imports prove"]),
        (
            "publish/swap.py",
            "def swap():\n    from generator.render.site import render_sites\n",
            ["publish/swap.py:2: publish imports render"],
        ),
        (
            "compose/page.py",
            "if TYPE_CHECKING:\n    from generator.plugin import WORKER\n",
            ["compose/page.py:2: compose imports plugin"],
        ),
        ("flow.py", "from generator.compose.page import Page\n", []),
        ("plugin.py", "from generator.flow import finish_guides\n", []),
        ("cli.py", "from generator.publish.swap import swap_in\n", []),
        ("read/tree.py", "from generator import __version__\nimport yaml\n", []),
    ],
)
def test_planted(path: str, text: str, told: list[str]) -> None:
    """A planted import the wrong way is told, also one inside a function; others are not."""
    assert wrong_ways({path: text}) == told
