"""Descriptions with slips, each with the whole text that its author is told.

`tests/bad/<sort>/<case>` goes into the small workspace at the place of its sort, and
`lockerleaf check` is run there. The text stands beside it; `pytest --bless` writes it anew.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

BAD = Path(__file__).resolve().parent.parent / "bad"
PLACES = {
    "units": "units/{name}",
    "models": "units/models/{name}",
    "kinds": "docs_src/kinds/{name}",
    "tasks": "docs_src/tasks/water/{name}",
    "symptoms": "docs_src/symptoms/{name}",
    "cautions": "docs_src/cautions/{name}",
    "interlocks": "docs_src/interlocks/{name}",
    "labels": "docs_src/labels/{name}",
    "routines": "docs_src/routines/{name}",
    "notices": "units/notices/{name}",
    "dealer": "units/dealer.yml",
    "register": "units/register.csv",
    "situations": "docs_src/situations.yml",
    "areas": "docs_src/areas.yml",
    "vehicle": "docs_src/vehicle.yml",
}
"""Where a case of each sort goes; the last five replace what is there."""

CASES = sorted(path for path in BAD.glob("*/*") if path.suffix != ".txt")


@pytest.mark.parametrize("case", CASES, ids=[f"{c.parent.name}/{c.stem}" for c in CASES])
def test_what_an_author_is_told(
    case: Path,
    workspace: Path,
    lockerleaf: Callable[..., str],
    golden: Callable[[Path, str], None],
) -> None:
    """Each slip is told by file, line, column and key, with what is wrong and what is right."""
    path = PLACES[case.parent.name].format(name=case.name)
    (workspace / path).parent.mkdir(exist_ok=True)
    shutil.copy(case, workspace / path)
    golden(case.with_name(case.name + ".txt"), lockerleaf("check"))


def test_every_case_has_a_text() -> None:
    """No text is left over from a case that is gone."""
    texts = {path.with_suffix("") for path in BAD.glob("*/*.txt")}
    assert texts == set(CASES)
