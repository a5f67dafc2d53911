"""Print how a fleet's build compares with other ways of making the same pages, as ratios.

Everything runs in one go, on one memory file system where there is one, each measured by the CPU
time of its processes, with one worker. Others get the finished Markdown of some of the units; ours
also reads, proves and composes all of them, unless a line says "rendering only".

    python tests/bench/fleet.py [UNITS [FITS [SAMPLE]]]      100 60 4 unless said
"""

from __future__ import annotations

import os
import re
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.generated_fleet import write_fleet
from bench.stock import ROOT, write_stock
from generator.flow import Finished, finish_guides
from generator.publish.swap import stage_guide
from generator.read.sources import Sources, read_sources
from generator.render.site import SiteRenderer

ENVIRONMENT = {**os.environ, "NO_MKDOCS_2_WARNING": "1", "DO_NOT_TRACK": "1"}

HUGO = """\
baseURL = "/"
uglyURLs = true
disableKinds = ["taxonomy", "term", "RSS", "sitemap", "404"]
[markup.goldmark.renderer]
unsafe = true
"""
LAYOUT = "<!doctype html><title>{title}</title><main>{content}</main>"
ELEVENTY = """\
module.exports = function (config) {
  config.addGlobalData("layout", "page.liquid");
  return { dir: { input: "docs", includes: "../layouts", output: "site" },
           markdownTemplateEngine: false, templateFormats: ["md"] };
};
"""


@dataclass(frozen=True, slots=True)
class Cost:
    """What making some pages took."""

    pages: int
    cpu_s: float
    wall_s: float

    @property
    def each_ms(self) -> float:
        """Return CPU milliseconds a page."""
        return 1_000 * self.cpu_s / self.pages


def run(command: Sequence[str], folder: Path, pages: int) -> Cost:
    """Return what a command took, all its processes together."""
    before, started = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
    done = subprocess.run(
        command, cwd=folder, env=ENVIRONMENT, capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise SystemExit(f"{command[0]}: {(done.stderr or done.stdout)[-2000:]}")
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Cost(pages, cpu, time.monotonic() - started)


def ours(workspace: Path, pages: int, *more: str) -> Cost:
    """Return what our build takes, with one worker."""
    command = [sys.executable, "-m", "generator", "build", "--no-papers", "--jobs", "1", *more]
    return run(command, workspace, max(pages, 1))


def rendering(sources: Sources, finished: Sequence[Finished], to: Path) -> Cost:
    """Return what rendering and writing take, the pages being there: what the others do."""
    started, cpu = time.monotonic(), time.process_time()
    renderer, pages = SiteRenderer(sources), 0
    for done in finished:
        rendered = renderer.render(done.composed)
        stage_guide(rendered.files, to / rendered.code, to / "none")
        pages += rendered.pages
    return Cost(pages, time.process_time() - cpu, time.monotonic() - started)


def floor(folder: Path, to: Path) -> Cost:
    """Return what writing the same bytes takes, and nothing else."""
    files = [(p.relative_to(folder), p.read_bytes()) for p in folder.rglob("*") if p.is_file()]
    pages = sum(name.suffix == ".html" for name, _ in files)
    started, cpu = time.monotonic(), time.process_time()
    for name, content in files:
        path = to / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    return Cost(pages, time.process_time() - cpu, time.monotonic() - started)


def stock(finished: Sequence[Finished], to: Path, program: str) -> Cost:
    """Return what a plain build of each unit takes, one after the other."""
    costs = []
    for done in finished:
        folder = to / done.guide.unit.name
        write_stock(done.composed, folder)
        command = [
            sys.executable,
            "-m",
            program,
            "build",
            *(("-q",) if program == "mkdocs" else ()),
        ]
        cost = run(command, folder, len(done.composed.pages))
        costs.append(_made(cost, folder / "site"))
    return Cost(
        sum(cost.pages for cost in costs),
        sum(cost.cpu_s for cost in costs),
        sum(cost.wall_s for cost in costs),
    )


def one_site(finished: Sequence[Finished], to: Path, content: str) -> int:
    """Write the Markdown of all sampled units as one site; return its pages."""
    for done in finished:
        write_stock(done.composed, to / "units")
        shutil.move(to / "units" / "docs", to / content / done.guide.unit.name)
    for path in sorted((to / content).rglob("index.md")):
        path.rename(path.with_name("home.md"))  # an index makes one page of a whole folder for some
    return sum(len(done.composed.pages) for done in finished)


def hugo(finished: Sequence[Finished], to: Path) -> Cost:
    """Return what Hugo takes with a bare layout."""
    pages = one_site(finished, to, "content")
    (to / "hugo.toml").write_text(HUGO)
    layouts = to / "layouts" / "_default"
    layouts.mkdir(parents=True)
    for name in ("single", "list"):
        text = LAYOUT.format(title="{{ .Title }}", content="{{ .Content }}")
        (layouts / f"{name}.html").write_text(text)
    (to / "layouts" / "index.html").write_text("x")
    return _made(run(["hugo", "--quiet", "--config", "hugo.toml"], to, pages), to / "public")


def eleventy(finished: Sequence[Finished], to: Path, program: str) -> Cost:
    """Return what Eleventy takes with a bare layout."""
    pages = one_site(finished, to, "docs")
    (to / "layouts").mkdir()
    text = LAYOUT.format(title="{{ title }}", content="{{ content }}")
    (to / "layouts" / "page.liquid").write_text(text)
    (to / "eleventy.config.cjs").write_text(ELEVENTY)
    cost = run([program, "--quiet", "--config=eleventy.config.cjs"], to, pages)
    return _made(cost, to / "site")


def _made(cost: Cost, site: Path) -> Cost:
    """Return the cost, once it is sure that all pages were made."""
    made = sum(1 for _ in site.rglob("*.html"))
    assert made >= cost.pages, f"{made} of {cost.pages} pages"
    return cost


def edit(path: Path, old: str, new: str) -> None:
    """Replace a text in a file."""
    path.write_text(path.read_text("utf-8").replace(old, new, 1), "utf-8")


def main() -> None:
    """Print the table."""
    numbers = [int(text) for text in sys.argv[1:]]
    units, fits, sampled = (*numbers, *(100, 60, 4)[len(numbers) :])
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else None) as temporary:
        base = Path(temporary)
        fleet = write_fleet(ROOT, base / "fleet", units, fits)
        print(f"{units} units of {fits} fits; CPU of one worker", flush=True)
        first = ours(fleet, 1)
        pages = sum(1 for _ in (fleet / "public").rglob("*.html"))
        first = Cost(pages, first.cpu_s, first.wall_s)
        peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1_000
        print(f"  first build {first.cpu_s / units * 1_000:.0f} ms a unit, peak {peak:.0f} MB")
        still = ours(fleet, pages)
        print(
            f"  nothing changed: {still.cpu_s:.2f} s, {still.wall_s:.2f} s on the clock", flush=True
        )
        (fleet / "units" / "gf-00000.yml").open("a").write("# looked at\n")
        one = ours(fleet, pages)
        print(f"  one unit changed: {one.cpu_s:.2f} s, {one.wall_s:.2f} s on the clock", flush=True)
        _tell_edits(fleet, first)
        sources = read_sources(fleet)
        names = sorted(sources.stock.units)
        sample = finish_guides(
            sources, sources.register, names[:: max(1, units // sampled)][:sampled]
        )
        plain = stock(sample, base / "mkdocs", "mkdocs")
        print("CPU a page, and against a plain `mkdocs build` of each unit on stock Material:")

        def tell(what: str, cost: Cost) -> None:
            ratio = cost.each_ms / plain.each_ms
            print(
                f"  {what:44} {cost.each_ms:8.3f} ms  {ratio:6.3f} (1/{1 / ratio:.1f})  "
                f"{1_000 / cost.each_ms:7.0f} pages/s",
                flush=True,
            )

        tell(f"mkdocs, {len(sample)} units", plain)
        tell("ours: read, prove, compose, render, write", first)
        # As in a build: units that are based on the same model in a row.
        rows = sorted(names[:300], key=lambda name: sources.stock.units[name].files[1:2])
        everything = finish_guides(sources, sources.register, rows)
        tell("ours: rendering only", rendering(sources, everything, base / "ours"))
        tell("floor: writing the same bytes", floor(base / "ours", base / "floor"))
        others: dict[str, tuple[str, Callable[[], Cost]]] = {
            "zensical, each unit": ("zensical", lambda: stock(sample, base / "z", "zensical")),
            "hugo, bare layout, no search": ("hugo", lambda: hugo(sample, base / "h")),
            "eleventy, bare layout, no search": (
                "eleventy",
                lambda: eleventy(sample, base / "e", shutil.which("eleventy") or "eleventy"),
            ),
        }
        for what, (program, measure) in others.items():
            if shutil.which(program):
                tell(what, measure())
            else:
                print(f"  {what:44} not here")


EDITS = {
    "a task of some units": ("tasks/heating/light-space-heater-pilot.md",),
    "a task of all units": ("tasks/safety/smell-of-gas.md",),
    "a snippet": ("snippets/smell-for-gas.md",),
    "every task about water": ("tasks/water/*.md",),
}


def _tell_edits(fleet: Path, first: Cost) -> None:
    """Print what edits of texts cost beside the first build: few pages in some units, and many."""
    public = fleet / "public"
    for what, patterns in EDITS.items():
        paths = [path for one in patterns for path in sorted((fleet / "docs_src").glob(one))]
        before = {path: path.stat().st_mtime_ns for path in public.rglob("*.html")}
        for path in paths:
            text = path.read_text("utf-8")
            path.write_text(re.sub(r"^1\. ", "1. Take care. ", text, count=1, flags=re.M), "utf-8")
        built = ours(fleet, first.pages)
        written = [path for path, at in before.items() if path.stat().st_mtime_ns != at]
        guides = {path.relative_to(public).parts[0] for path in written}
        print(
            f"  {what} edited: {len(written)} pages in {len(guides)} guides written; "
            f"{built.cpu_s / first.cpu_s:.2f} of the first build, {built.wall_s:.1f} s on clock",
            flush=True,
        )


if __name__ == "__main__":
    main()
