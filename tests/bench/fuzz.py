"""Print what many thousand damaged files do to the readers: no traceback, no hang, no write.

Each input goes through what reads its sort of file; what is accepted goes on through fitting,
proving, composing and rendering, since a reader that lets something pass answers for it. Inputs
come from a search for new code paths (libFuzzer, through atheris) that starts from the repository's
own files, and from Hypothesis, which puts hostile pieces into them.

    python tests/bench/fuzz.py [INPUTS]                     100000 unless said
"""

from __future__ import annotations

import dataclasses
import os
import signal
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from conftest import copy_small
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from generator.flow import Memory, finish_guide
from generator.problems import Problems, ProblemsFound
from generator.read.kinds import read_kind
from generator.read.labels import read_label_stock
from generator.read.library import check_references
from generator.read.notices import read_notices
from generator.read.register import read_register
from generator.read.sources import Sources, read_sources
from generator.read.symptoms import read_symptom
from generator.read.tasks import read_task
from generator.read.tree import parse_tree, read_source
from generator.read.units import read_stock
from generator.render.site import SiteRenderer

LONGEST_SECONDS = 10
"""Of the processor, after which an input counts as a hang. What is usual is some milliseconds."""

HOSTILE = (
    "<script>alert(1)</script>", "]]>", "{{ 7*7 }}", "{% for x in y %}", "{{ subject.__class__ }}",
    "{{ ''.__class__.__mro__ }}", "{# ", "{% include 'x' %}", "javascript:alert(1)", "../../etc",
    "&a", "*a", "!!python/object/apply:os.system [ls]", "<<: *x", "\t", "\u202e", "\u0000",
    "\ufeff", "\ue000", "⟦1⟧", "1e308", "-1", "99999999999999999999", "0x10", ".inf", "~", "null",
    "yes", "[", "{", "]", "}", ": ", "- ", "# ", "|\n", ">\n", "'", '"', "\\", "%", "=cmd()",
    "---", "...", "\r", "é", "\U0001d4b3", "a" * 3_000, "[" * 60, "- " * 60, "x: " * 40,
    "2026-13-45",
)  # fmt: skip


NOTICE = """\
notice: n
title: T
word: warning
about: water-heater
when: subject.capacity_l > 1
models: [small-2]
serials: [A1, A9]
issued: 2026-05-01
hazard: H
consequence: C
avoidance: A
task: park
cleared: {sm-1: 2026-06-01}
source: S
"""


def give_up(_signal: int, _frame: object) -> None:
    """End what takes too long."""
    raise TimeoutError(f"more than {LONGEST_SECONDS} s")


class Target:
    """The readers over a small workspace, one function a sort of file."""

    def __init__(self, folder: Path) -> None:
        """Read the workspace once."""
        self.root = copy_small(folder / "workspace")
        self.sources = read_sources(self.root)
        self.renderer = SiteRenderer(self.sources)
        self.scratch = folder / "scratch"
        (self.scratch / "units" / "notices").mkdir(parents=True)
        self.count: Counter[str] = Counter()
        signal.signal(signal.SIGPROF, give_up)
        self.sorts: dict[str, Callable[[str, Problems], object]] = {
            "unit": self.unit,
            "task": self.task,
            "kind": self.kind,
            "symptom": self.symptom,
            "label": self.label,
            "notice": self.notice,
            "register": self.register,
        }

    def seeds(self) -> dict[str, list[str]]:
        """Return files of each sort to start from."""
        docs, units = self.root / "docs_src", self.root / "units"
        found = {
            "unit": [units / "sm-1.yml"],
            "task": sorted(docs.glob("tasks/*/*.md")),
            "kind": sorted(docs.glob("kinds/*.yml")),
            "symptom": sorted(docs.glob("symptoms/*.yml")),
            "label": sorted(docs.glob("labels/*.yml")),
            "register": [units / "register.csv"],
        }
        texts = {sort: [path.read_text("utf-8") for path in paths] for sort, paths in found.items()}
        model = (units / "models" / "small-2.yml").read_text("utf-8")
        texts["unit"].append(model.replace("model: small-2", "unit: sm-1"))
        texts["notice"] = [NOTICE]
        return texts

    def read(self, sort: str, text: str) -> None:
        """Read one text; anything but noted problems is a failure."""
        problems = Problems()
        signal.setitimer(signal.ITIMER_PROF, LONGEST_SECONDS)
        try:
            self.sorts[sort](text, problems)
        except ProblemsFound as refused:  # what a condition comes to is told when it is asked
            problems.found += refused.problems
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)
        self.count["refused" if problems.found else "accepted"] += 1
        for problem in problems.found:
            line = str(problem)
            assert "\n" not in line, line

    def unit(self, text: str, problems: Problems) -> None:
        """Read a unit, and make its guide if it is accepted."""
        stock = read_stock(
            self.root, self.sources.library.kinds, problems, only=["sm-1"], drafts={"sm-1": text}
        )
        if not problems.found and "sm-1" in stock.units:
            self._finish(dataclasses.replace(self.sources, stock=stock), problems)

    def task(self, given: str, problems: Problems) -> None:
        """Read a task from a file, and make a guide with it if it is accepted."""
        path = self.scratch / "fuzzed.md"
        path.write_bytes(given.encode("utf-8", "surrogatepass"))
        text = read_source(path, "fuzzed.md", problems)
        if text is None:
            return
        library = self.sources.library
        task = read_task(
            text, "fuzzed.md", "fuzzed", "water", library.kinds, library.snippets, problems
        )
        if task is not None and not problems.found:
            tasks = {**library.tasks, "fuzzed": task}
            changed = dataclasses.replace(library, tasks=tasks)
            check_references(changed, problems)
            if problems.found:
                return
            self._finish(dataclasses.replace(self.sources, library=changed), problems)

    def kind(self, text: str, problems: Problems) -> None:
        """Read a kind of equipment."""
        table = parse_tree(text, "fuzzed.yml", problems)
        if table is not None:
            read_kind(table, "fuzzed", self.sources.library.areas, problems)

    def symptom(self, text: str, problems: Problems) -> None:
        """Read a symptom."""
        table = parse_tree(text, "fuzzed.yml", problems)
        if table is not None:
            read_symptom(table, "fuzzed", self.sources.library.kinds, problems)

    def label(self, text: str, problems: Problems) -> None:
        """Read a label stock."""
        table = parse_tree(text, "fuzzed.yml", problems)
        if table is not None:
            read_label_stock(table, "fuzzed", problems)

    def notice(self, text: str, problems: Problems) -> None:
        """Read a notice from a file, as bytes may be damaged too."""
        path = self.scratch / "units" / "notices" / "n.yml"
        path.write_bytes(text.encode("utf-8", "surrogatepass"))
        read_notices(self.scratch, self.sources.library.kinds, frozenset({"sm-1"}), problems)

    def register(self, text: str, problems: Problems) -> None:
        """Read a register from a file."""
        path = self.scratch / "units" / "register.csv"
        path.write_bytes(text.encode("utf-8", "surrogatepass"))
        read_register(self.scratch, problems)

    def _finish(self, sources: Sources, problems: Problems) -> None:
        unit = sources.stock.units["sm-1"]
        done = finish_guide(sources, unit, sources.register.of_unit("sm-1"), problems, Memory())
        if not problems.found:
            self.renderer.render(done.composed)
            self.count["rendered"] += 1


def listing(root: Path) -> list[tuple[str, int]]:
    """Return every file of a workspace with its time."""
    return sorted((str(path), path.stat().st_mtime_ns) for path in root.rglob("*"))


@st.composite
def damaged(draw: st.DrawFn, seeds: dict[str, list[str]]) -> tuple[str, str]:
    """Draw a sort and a damaged text of that sort."""
    sort = draw(st.sampled_from(sorted(seeds)))
    text = draw(st.sampled_from(seeds[sort]))
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(text)))
        how = draw(st.integers(0, 4))
        if how == 0:
            text = text[:at] + draw(st.sampled_from(HOSTILE)) + text[at:]
        elif how == 1:
            text = text[:at] + text[at + draw(st.integers(1, 40)) :]
        elif how == 2:
            lines = text.split("\n")
            line = draw(st.integers(0, len(lines) - 1))
            lines.insert(draw(st.integers(0, len(lines))), lines[line])
            text = "\n".join(lines)
        elif how == 3:
            lines = text.split("\n")
            line = draw(st.integers(0, len(lines) - 1))
            key, colon, _ = lines[line].partition(":")
            lines[line] = key + colon + " " + draw(st.sampled_from(HOSTILE))
            text = "\n".join(lines)
        else:
            text = text[:at] + draw(st.text(max_size=12)) + text[at:]
    return sort, text


def by_hypothesis(target: Target, inputs: int) -> None:
    """Read damaged texts that Hypothesis draws."""

    @settings(
        max_examples=inputs,
        deadline=None,
        database=None,
        derandomize=True,
        phases=(Phase.generate, Phase.shrink),
        suppress_health_check=list(HealthCheck),
    )
    @given(damaged(target.seeds()))
    def one(case: tuple[str, str]) -> None:
        target.read(*case)

    one()


def by_search(inputs: int) -> None:
    """Read what a search for new code paths comes to; this process ends with it."""
    import atheris

    with tempfile.TemporaryDirectory() as temporary:
        with atheris.instrument_imports(include=["generator.read"]):
            for name in [name for name in sys.modules if name.startswith("generator")]:
                del sys.modules[name]
        folder = Path(temporary)
        target = Target(folder)
        corpus = folder / "corpus"
        corpus.mkdir()
        sorts = sorted(target.sorts)
        for sort, texts in target.seeds().items():
            for number, text in enumerate(texts):
                raw = bytes([sorts.index(sort)]) + text.encode()
                (corpus / f"{sort}-{number}").write_bytes(raw)

        def one(raw: bytes) -> None:
            if raw:
                text = raw[1:].decode("utf-8", "replace")
                target.read(sorts[raw[0] % len(sorts)], text)

        options = [f"-runs={inputs}", "-max_len=6000", f"-timeout={LONGEST_SECONDS}"]
        atheris.instrument_all()
        atheris.Setup([sys.argv[0], *options, "-print_final_stats=1", str(corpus)], one)
        atheris.Fuzz()


def main() -> None:
    """Print the counts."""
    inputs = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    if len(sys.argv) > 2:
        by_search(inputs)
        return
    with tempfile.TemporaryDirectory() as temporary:
        target = Target(Path(temporary))
        before = listing(target.root)
        by_hypothesis(target, inputs // 2)
        assert listing(target.root) == before, "something was written"
        print(
            f"Hypothesis: {sum(target.count[k] for k in ('refused', 'accepted'))} inputs: "
            f"{target.count['refused']} refused, {target.count['accepted']} accepted, of them "
            f"{target.count['rendered']} rendered; no traceback, no hang, no write",
            flush=True,
        )
    done = subprocess.run(
        [sys.executable, __file__, str(inputs - inputs // 2), "search"],
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
        check=False,
    )
    runs = [line for line in done.stderr.split("\n") if "number_of_executed_units" in line]
    if done.returncode or not runs:
        raise SystemExit((done.stdout + done.stderr)[-4_000:])
    print(f"search for new code paths: {runs[0].split()[-1]} inputs; no traceback, no hang")


if __name__ == "__main__":
    main()
