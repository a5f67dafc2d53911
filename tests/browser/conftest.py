"""The built demo behind a plain web server on this machine, and Chromium to look at it."""

from __future__ import annotations

import functools
import http.server
import os
import shutil
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Request, sync_playwright
from site_checks import Parsed, copy_workspace, lockerleaf, one_of_each_kind, parse_site

from generator.read.sources import Sources

NAMES = ("chromium", "chromium-browser", "google-chrome")

FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--no-first-run",
    "--disable-component-update",
    "--disable-sync",
)


def in_a_thread(test: Callable[..., None]) -> Callable[..., None]:
    """Run a test in a thread of its own: Playwright can be started once in each."""

    @functools.wraps(test)
    def run(*arguments: object, **named: object) -> None:
        with ThreadPoolExecutor(1) as pool:
            pool.submit(test, *arguments, **named).result()

    return run


def chromium_program() -> str:
    """Return the path of the machine's own Chromium."""
    found = os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, NAMES)), None)
    assert found, "no Chromium: install it, or set CHROMIUM to its program"
    return found


class _Quiet(http.server.SimpleHTTPRequestHandler):
    """Serves files as any plain server does, without a line for each."""

    def log_message(self, *_: object) -> None:
        """Say nothing."""


@dataclass(frozen=True, slots=True)
class Site:
    """The built demo, served."""

    workspace: Path
    public: Path
    origin: str
    pages: dict[Path, Parsed]
    kinds: dict[str, Path]
    """The longest page of each kind."""

    def address(self, page: Path) -> str:
        """Return a page's address on the server."""
        return f"{self.origin}/{page.relative_to(self.public).as_posix()}"


@pytest.fixture(scope="session")
def site(demo: Sources, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """Return the demo, built once by the command itself and served on the loopback address."""
    workspace = copy_workspace(demo.root, tmp_path_factory.mktemp("served"))
    # A unit that has left, so that this kind of page is there too.
    with (workspace / "units" / "register.csv").open("a", encoding="utf-8") as register:
        register.write("0000,ex-1,unit,,minted,2026-01-01,\n")
    lockerleaf(workspace, "build")
    public = workspace / "public"
    handler = functools.partial(_Quiet, directory=str(public))
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    pages = parse_site(public)
    origin = f"http://127.0.0.1:{server.server_address[1]}"
    yield Site(workspace, public, origin, pages, one_of_each_kind(public, pages))
    server.shutdown()
    server.server_close()
    thread.join()


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Return the machine's own Chromium; the variable CHROMIUM names another."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium_program(), args=list(FLAGS))
        yield browser
        browser.close()


@dataclass(slots=True)
class Reader:
    """A browser window that keeps account of what goes wrong in it."""

    context: BrowserContext
    page: Page
    complaints: list[str]
    strangers: list[str]
    """Requests that left the site's own origin."""


class Windows:
    """Opens windows and, at the end, makes sure that nothing was wrong in any of them."""

    def __init__(self, browser: Browser, origin: str) -> None:
        """Keep the browser and the one origin that may be asked."""
        self._browser = browser
        self._origin = origin
        self.opened: list[Reader] = []

    def open(self, scheme: str = "light", width: int = 390, **options: object) -> Reader:
        """Return a new window of a phone's size, or of another width."""
        viewport = options.pop("viewport", {"width": width, "height": 844})
        context = self._browser.new_context(color_scheme=scheme, viewport=viewport, **options)
        page = context.new_page()
        reader = Reader(context, page, [], [])
        page.on(
            "console",
            lambda told: (
                reader.complaints.append(told.text) if told.type in ("error", "warning") else None
            ),
        )
        page.on("pageerror", lambda error: reader.complaints.append(str(error)))
        context.on("request", functools.partial(self._note, reader))
        self.opened.append(reader)
        return reader

    def _note(self, reader: Reader, request: Request) -> None:
        if not request.url.startswith((f"{self._origin}/", "data:", "file://")):
            reader.strangers.append(request.url)


@pytest.fixture
def windows(chromium: Browser, site: Site) -> Iterator[Windows]:
    """Return what opens windows; none may have complained or asked a stranger."""
    opener = Windows(chromium, site.origin)
    yield opener
    for reader in opener.opened:
        reader.context.close()
    assert [reader.complaints for reader in opener.opened if reader.complaints] == []
    assert [reader.strangers for reader in opener.opened if reader.strangers] == []
