"""Faults planted in what the demo fleet's models say: `python mutations.py [UNIT…]`.

Printed for each sort of fault: how many, how many our proof tells, how many it passes, and how a
judge that is not ours came to agree. Exit code 1 where one does not.
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "prove"))

from mutations import SORTS, judge, model_fleet, mutants_of

from generator.read.sources import read_sources

EVERY = {SORTS[5]: 10}
"""Of these sorts only each so many is tried: there are thousands."""


def main() -> int:
    """Plant the faults and print the score."""
    fleet = model_fleet(read_sources(Path(__file__).resolve().parents[2]), sys.argv[1:])
    score: Counter[tuple[str, str]] = Counter()
    not_agreed = []
    for unit in fleet:
        for sort in SORTS:
            for mutant in list(mutants_of(unit, (sort,)))[:: EVERY.get(sort, 1)]:
                verdict = judge(mutant)
                score[sort, verdict.ours] += 1
                score[sort, verdict.judged] += 1
                if not verdict.agreed:
                    not_agreed.append((unit.guide.unit.name, sort, mutant.told, verdict))
        print(f"{unit.guide.unit.name} done", file=sys.stderr, flush=True)
    ways = ("induction", "pairs", "reachability")
    print(f"{len(fleet)} units; passed and shown harmless by {', '.join(ways)}")
    for sort in SORTS:
        told, passed = score[sort, "told"], score[sort, "passed"]
        shown = " + ".join(str(score[sort, f"harmless by {way}"]) for way in ways)
        print(f"{told + passed:5} {sort}: told {told}, passed {passed} = {shown}")
    for line in not_agreed:
        print("NOT AGREED", *line)
    return 1 if not_agreed else 0


if __name__ == "__main__":
    sys.exit(main())
