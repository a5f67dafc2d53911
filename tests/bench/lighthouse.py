"""Print Lighthouse's four mobile categories for each kind of page of the preview unit.

The guide is served as in `throttled.py`, over plain HTTP on this machine; Lighthouse slows the
connection and the processor by its own model of a mobile phone. A guide asks not to be found by
search machines, on purpose: the one audit that counts this as a fault is left out.

    npm install --prefix FOLDER lighthouse
    LIGHTHOUSE=FOLDER/node_modules/.bin/lighthouse python tests/bench/lighthouse.py [WORKSPACE]
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[1]))

from browser.conftest import chromium_program

from bench.serving import served
from bench.sites import build_guide, pages_of_interest
from bench.stock import workspace_named

CATEGORIES = ("performance", "accessibility", "best-practices", "seo")

LEFT_OUT = "is-crawlable"


def look(program: str, address: str) -> dict[str, Any]:
    """Return what Lighthouse reports of an address."""
    done = subprocess.run(
        [
            program,
            address,
            "--quiet",
            "--output=json",
            f"--only-categories={','.join(CATEGORIES)}",
            f"--skip-audits={LEFT_OUT}",
            "--chrome-flags=--headless=new --no-sandbox --disable-gpu",
        ],
        check=True,
        capture_output=True,
        env={**os.environ, "CHROME_PATH": chromium_program()},
    )
    told: dict[str, Any] = json.loads(done.stdout)
    return told


def below(told: dict[str, Any]) -> str:
    """Return the audits that cost points, and what each gives of what it could."""
    lost = []
    for name in CATEGORIES:
        for audit in told["categories"][name]["auditRefs"]:
            score = told["audits"][audit["id"]]["score"]
            if (
                audit["weight"]
                and score is not None
                and score < (0.9 if name == "performance" else 1)
            ):
                lost.append(f"{audit['id']} {score:g}")
    return ", ".join(lost)


def main() -> None:
    """Look at the longest page of each kind and print a table."""
    program = os.environ.get("LIGHTHOUSE") or shutil.which("lighthouse")
    if not program:
        sys.exit("no lighthouse: see the head of this file")
    with tempfile.TemporaryDirectory() as temporary:
        _, guide = build_guide(workspace_named(), Path(temporary))
        print(f"{'kind':15}{''.join(f'{name:>16}' for name in CATEGORIES)}  lost points")
        with served(guide) as origin:
            for kind, page in pages_of_interest(guide).items():
                told = look(program, f"{origin}/{page}")
                scores = [told["categories"][name]["score"] for name in CATEGORIES]
                line = "".join(f"{round(100 * (score or 0)):16}" for score in scores)
                print(f"{kind:15}{line}  {below(told)}", flush=True)


if __name__ == "__main__":
    main()
