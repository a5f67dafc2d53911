"""Time to prove a fleet of 500 generated units with 40 distinct fits: `python prove_fleet.py`.

Identical equipment is proven once. Printed as ratios against proving every unit on its own, which
is measured on the distinct fits and multiplied.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from library.generate import random_unit

from generator.fit.fit import fit_unit
from generator.problems import Problems
from generator.prove.prove import Memo, prove_guide
from generator.read.register import Register
from generator.read.sources import read_sources

UNITS, FITS = 500, 40


def main() -> None:
    """Prove the fleet and print what it took."""
    sources = read_sources(Path(__file__).resolve().parents[2])
    library, dealer = sources.library, sources.stock.dealer
    fits = [random_unit(seed, library.kinds) for seed in range(FITS)]
    fleet = [replace(fits[n % FITS], name=f"u-{n}", title=f"Unit {n}") for n in range(UNITS)]
    started = time.perf_counter()
    guides = [fit_unit(library, unit, dealer, Register((), {})) for unit in fleet]
    fitted = time.perf_counter()
    memo = Memo()
    problems = Problems()
    alone = 0.0
    for n, guide in enumerate(guides):
        before = time.perf_counter()
        prove_guide(guide, library, problems, memo)
        if n < FITS:
            alone += time.perf_counter() - before
    proven = time.perf_counter()
    whole = proven - fitted
    print(f"{UNITS} units, {FITS} distinct fits, {len(memo.findings)} distinct models")
    print(f"fit        {fitted - started:7.1f} s")
    print(f"prove      {whole:7.1f} s, {1000 * whole / UNITS:.0f} ms a unit")
    print(f"against proving every unit on its own: {whole / (alone * UNITS / FITS):.2f}")
    print(f"problems: {len(problems.found)}")


if __name__ == "__main__":
    main()
