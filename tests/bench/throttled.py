"""Print how soon a page is there on a poor connection, beside its floor and stock Material.

Measured in Chromium through its debugger: 400 kbit/s down, 400 ms before each answer, the
processor slowed to a quarter; an empty cache; a window of 390 x 844. The three pages of one text
are served by one small server with gzip: ours, a bare HTML page of the same text (the floor), and
the same Markdown on stock Material without search or web fonts. They are opened in turn, and that
again, so that a busy machine disturbs all three alike; times are medians, ratios are medians of the
ratios of each turn. The debugger's throttling knows no slow start and no cost of a connection.

    python tests/bench/throttled.py [WORKSPACE] [--runs N]
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Browser, BrowserContext, CDPSession, Page, sync_playwright

sys.path.insert(0, str(Path(__file__).parents[1]))

from browser.conftest import FLAGS, chromium_program

from bench.serving import Line, served
from bench.sites import pages_of_interest, three_sites
from bench.stock import ROOT

BYTES_PER_SECOND = 400_000 / 8
LATENCY_MS = 400
PROCESSOR = 4
"""How many times slower the processor is."""

SORTS = ("ours", "floor", "stock")

PAINTS = """() => new Promise((done) => {
  let largest = 0, shift = 0;
  new PerformanceObserver((list) => {
    for (const entry of list.getEntries()) largest = entry.startTime;
  }).observe({type: "largest-contentful-paint", buffered: true});
  new PerformanceObserver((list) => {
    for (const entry of list.getEntries()) shift += entry.value;
  }).observe({type: "layout-shift", buffered: true});
  setTimeout(() => {
    const [page] = performance.getEntriesByType("navigation");
    const first = performance.getEntriesByName("first-contentful-paint")[0].startTime;
    const all = [page, ...performance.getEntriesByType("resource")];
    const before = all.filter((e) => e === page || e.responseEnd <= first);
    const sum = (list) => list.reduce((total, e) => total + e.transferSize, 0);
    done({first, largest, shift, requests: before.length, bytes: sum(before), all: sum(all)});
  }, 300);
})"""


@dataclass(frozen=True, slots=True)
class Seen:
    """One cold opening of a page: milliseconds, and what had arrived by the first words."""

    first: float
    largest: float
    shift: float
    requests: int
    bytes: int
    all: int
    """Bytes when the page had loaded; what comes later is not waited for."""


def throttle(context: BrowserContext, page: Page) -> CDPSession:
    """Make a page's connection and processor poor."""
    session = context.new_cdp_session(page)
    session.send("Network.enable")
    session.send(
        "Network.emulateNetworkConditions",
        {
            "offline": False,
            "latency": LATENCY_MS,
            "downloadThroughput": BYTES_PER_SECOND,
            "uploadThroughput": BYTES_PER_SECOND,
        },
    )
    session.send("Emulation.setCPUThrottlingRate", {"rate": PROCESSOR})
    return session


def open_cold(browser: Browser, address: str) -> Seen:
    """Open an address with an empty cache, as a phone with a poor connection does."""
    context = browser.new_context(
        viewport={"width": 390, "height": 844}, service_workers="block", device_scale_factor=2
    )
    page = context.new_page()
    throttle(context, page)
    page.goto(address, wait_until="load")
    seen = Seen(**page.evaluate(PAINTS))
    context.close()
    return seen


def seconds_until_kept(browser: Browser, guide: Path) -> float:
    """Return how long after a first visit began the whole guide is kept.

    A browser's own throttling does not reach workers: here the server is slow.
    """
    with served(guide, Line(BYTES_PER_SECOND, LATENCY_MS / 1000)) as origin:
        context = browser.new_context(viewport={"width": 390, "height": 844})
        page = context.new_page()
        started = time.perf_counter()
        page.goto(f"{origin}/index.html")
        page.locator(".kept:not(:empty)").wait_for(timeout=120_000)
        kept = time.perf_counter() - started
        context.close()
    return kept


def main() -> None:
    """Open each kind of page of the preview unit and print a table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("workspace", nargs="?", type=Path, default=ROOT)
    parser.add_argument("--runs", type=int, default=7, help="turns a page; 7 unless told")
    options = parser.parse_args()
    with (
        tempfile.TemporaryDirectory() as temporary,
        served(Path(temporary) / "sites") as origin,
        sync_playwright() as playwright,
    ):
        sites = three_sites(options.workspace.resolve(), Path(temporary))
        browser = playwright.chromium.launch(executable_path=chromium_program(), args=list(FLAGS))
        open_cold(browser, f"{origin}/floor/index.html")  # the browser's own first time
        print(
            "kind            first paint ms      largest paint ms    largest paint:  shift  "
            "requests and kB by the first words\n"
            "                ours floor stock    ours floor stock    /floor stock/   ours   "
            "ours      floor     stock"
        )
        for kind, name in pages_of_interest(sites / "ours").items():
            turns = [
                {sort: open_cold(browser, f"{origin}/{sort}/{name}") for sort in SORTS}
                for _ in range(options.runs)
            ]
            print(_line(kind, turns), f"  {name}", flush=True)
        kept = [seconds_until_kept(browser, sites / "ours") for _ in range(min(3, options.runs))]
        size = sum(pack.stat().st_size for pack in (sites / "ours").glob("pack.*.bin"))
        print(
            f"whole guide for use without signal: {size / 1000:.0f} kB, kept "
            f"{statistics.median(kept):.1f} s after the visit began"
        )
        browser.close()


def _line(kind: str, turns: list[dict[str, Seen]]) -> str:
    """Return a line of the table."""

    def middle(sort: str, what: str) -> float:
        return statistics.median(getattr(turn[sort], what) for turn in turns)

    def ratio(one: str, other: str) -> float:
        return statistics.median(turn[one].largest / turn[other].largest for turn in turns)

    arrived = [f"{middle(s, 'requests'):2.0f} {middle(s, 'bytes') / 1000:6.1f}" for s in SORTS]
    return (
        f"{kind:14}"
        + "".join(f"{middle(sort, 'first'):6.0f}" for sort in SORTS)
        + "  "
        + "".join(f"{middle(sort, 'largest'):6.0f}" for sort in SORTS)
        + f"  {ratio('ours', 'floor'):7.2f} {ratio('stock', 'ours'):6.2f}"
        + f"  {max(turn['ours'].shift for turn in turns):7.3f}  "
        + " ".join(arrived)
    )


if __name__ == "__main__":
    main()
