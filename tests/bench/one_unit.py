"""Print the time to build one unit beside a plain `mkdocs build` of the same pages.

Runs in pairs, one after the other, so that a busy machine disturbs both alike; the ratio of each
pair is what counts. Both are whole processes, start to exit. Ours also reads and proves the
library, composes the pages and prints the stickers. Stock Material gets the finished Markdown.

    python tests/bench/one_unit.py [WORKSPACE]
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from site_checks import copy_workspace, lockerleaf

from bench.stock import composed_guides, workspace_named, write_stock
from generator.read.sources import read_sources

PAIRS = 5


def seconds(command: list[str], folder: Path) -> float:
    """Return how long a command takes, from start to exit."""
    started = time.perf_counter()
    subprocess.run(
        [sys.executable, "-m", *command],
        cwd=folder,
        check=True,
        capture_output=True,
        env={**os.environ, "NO_MKDOCS_2_WARNING": "1"},
    )
    return time.perf_counter() - started


def main() -> None:
    """Measure every unit and print a table."""
    with tempfile.TemporaryDirectory() as temporary:
        ours = copy_workspace(workspace_named(), Path(temporary) / "ours")
        lockerleaf(ours, "build")  # so that every code is minted
        guides = composed_guides(read_sources(ours))
        print("unit      pages  ours s  mkdocs+plugin s  stock s  ours/stock  plugin/stock")
        for unit, composed in guides.items():
            stock = Path(temporary) / "stock" / unit
            write_stock(composed, stock)
            runs = []
            preview = ours / "units" / "dealer.yml"
            lines = preview.read_text("utf-8").splitlines()
            kept = [line for line in lines if not line.startswith("preview:")]
            preview.write_text("\n".join([*kept, f"preview: {unit}", ""]), "utf-8")
            for _ in range(PAIRS):
                runs.append(
                    (
                        seconds(["generator", "build", unit, "--jobs", "1"], ours),
                        seconds(["mkdocs", "build", "-q", "-d", f"{temporary}/plugin"], ours),
                        seconds(["mkdocs", "build", "-q"], stock),
                    )
                )
            whole, plugin, plain = (statistics.median(column) for column in zip(*runs, strict=True))
            ratio = statistics.median(run[0] / run[2] for run in runs)
            inner = statistics.median(run[1] / run[2] for run in runs)
            print(
                f"{unit:9} {len(composed.pages):5} {whole:7.2f} {plugin:16.2f} {plain:8.2f} "
                f"{ratio:11.2f} {inner:13.2f}"
            )


if __name__ == "__main__":
    main()
