"""What is pinned with hashes is what the project asks for."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import version
from pathlib import Path

from packaging.requirements import Requirement

ROOT = Path(__file__).parents[1]


def test_everything_asked_for_is_pinned_with_hashes() -> None:
    """Each dependency has a version within what pyproject.toml allows, and hashes."""
    text = (ROOT / "requirements.txt").read_text("utf-8")
    pinned = {
        match[1]: match[2]
        for match in re.finditer(r"^([a-z0-9._-]+)==(\S+) \\$", text, re.MULTILINE)
    }
    hashed = re.findall(
        r"^([a-z0-9._-]+)==\S+ \\\n    --hash=sha256:[0-9a-f]{64}", text, re.MULTILINE
    )
    assert set(hashed) == set(pinned)
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    for line in project["dependencies"]:
        asked = Requirement(line)
        assert asked.specifier.contains(pinned[asked.name]), line
        assert version(asked.name)
