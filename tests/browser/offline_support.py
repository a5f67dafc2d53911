"""A guide on a plain file server that can fail in every way that a field's signal does."""

from __future__ import annotations

import functools
import http.server
import shutil
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from playwright.sync_api import Browser, BrowserContext, Page
from site_checks import lockerleaf

REPOSITORY = Path(__file__).parents[2]

FOLDER = "dealer/guides"
"""Guides are served from a sub-folder: nothing may depend on being at a server's top."""


def build_small(workspace: Path, **changes: tuple[str, str]) -> Path:
    """Build the small workspace, a copy of which is made first, and return `public/`.

    `changes` are (old, new) by the file's stem. A second call builds the same workspace again.
    """
    if not workspace.exists():
        shutil.copytree(REPOSITORY / "tests" / "small", workspace)
        wording = workspace / "docs_src" / "wording"
        shutil.copytree(REPOSITORY / "docs_src" / "wording", wording, dirs_exist_ok=True)
        shutil.copy(REPOSITORY / "mkdocs.yml", workspace)
        shutil.copytree(REPOSITORY / "site_assets", workspace / "site_assets")
    for stem, (old, new) in changes.items():
        (path,) = workspace.rglob(f"{stem.replace('_', '-')}.*")
        text = path.read_text("utf-8")
        assert old in text, path
        path.write_text(text.replace(old, new), "utf-8")
    lockerleaf(workspace, "build")
    return workspace / "public"


@dataclass(slots=True)
class Signal:
    """A server whose manners can be changed while it runs."""

    root: Path
    port: int = 0
    cut: bool = False
    """Break off in the middle of a pack."""
    spoil: bool = False
    """Send a pack of the right length with one wrong byte."""
    lost: str = ""
    """The name of a file that never comes."""
    slow: float = 0
    """Seconds that every page takes."""
    refuse: int = 0
    """Answer every page with this status."""
    asked: list[str] = field(default_factory=list)
    _server: http.server.ThreadingHTTPServer | None = None

    def start(self) -> None:
        """Serve, at the same port as before."""

        class Quick(http.server.ThreadingHTTPServer):
            daemon_threads = True

            def handle_error(self, *_: object) -> None:
                """Say nothing of readers who left before their page came."""

        handler = functools.partial(_Handler, self, directory=str(self.root))
        self._server = Quick(("127.0.0.1", self.port), handler)
        self.port = self._server.server_address[1]
        threading.Thread(target=self._server.serve_forever, daemon=True).start()

    def stop(self) -> None:
        """Be gone, as with no signal at all: connections are refused."""
        if self._server:
            self._server.shutdown()
            self._server.server_close()
            self._server = None

    def publish(self, public: Path) -> None:
        """Put a built tree in place of what was served before.

        In one step, as a build does: a page may be asking for the worker and its packs just then.
        """
        folder, new, old = (self.root / name for name in (FOLDER, "new", "old"))
        shutil.copytree(public, new)
        folder.parent.mkdir(parents=True, exist_ok=True)
        if folder.exists():
            folder.rename(old)
        new.rename(folder)
        shutil.rmtree(old, ignore_errors=True)

    def address(self, path: str) -> str:
        """Return the address of a published file."""
        return f"http://127.0.0.1:{self.port}/{FOLDER}/{path}"


class _Handler(http.server.SimpleHTTPRequestHandler):
    def __init__(self, signal: Signal, *arguments: object, **named: object) -> None:
        self.signal = signal
        super().__init__(*arguments, **named)  # type: ignore[arg-type]

    def log_message(self, *_: object) -> None:
        """Say nothing."""

    def do_GET(self) -> None:
        signal = self.signal
        signal.asked.append(self.path)
        page = self.path.endswith(("/", ".html"))
        if page and signal.slow:
            time.sleep(signal.slow)
        if page and signal.refuse:
            self.send_error(signal.refuse)
        elif signal.lost and self.path.endswith(signal.lost):
            self.close_connection = True
        elif "/pack." in self.path and (signal.cut or signal.spoil):
            whole = Path(self.translate_path(self.path)).read_bytes()
            self.send_response(200)
            self.send_header("Content-Length", str(len(whole)))
            self.end_headers()
            half = len(whole) // 2
            if signal.cut:
                self.wfile.write(whole[:half])
                self.close_connection = True
            else:
                self.wfile.write(whole[:half] + bytes([whole[half] ^ 1]) + whole[half + 1 :])
        else:
            super().do_GET()


@contextmanager
def served(root: Path, public: Path) -> Iterator[Signal]:
    """Serve a built tree in a sub-folder."""
    signal = Signal(root)
    signal.publish(public)
    signal.start()
    try:
        yield signal
    finally:
        signal.stop()


@contextmanager
def phone(chromium: Browser, **options: object) -> Iterator[tuple[BrowserContext, list[str]]]:
    """Open a phone; yields its context and what its pages complain of."""
    context = chromium.new_context(viewport={"width": 390, "height": 844}, **options)
    complaints: list[str] = []

    def listen(page: Page) -> None:
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "console",
            lambda told: (
                complaints.append(told.text) if told.type in ("error", "warning") else None
            ),
        )

    context.on("page", listen)
    try:
        yield context, complaints
    finally:
        context.close()


KEPT = """async () => {
  const names = (await caches.keys()).filter((name) => !name.endsWith("pictures"));
  const full = [];
  for (const name of names) {
    const packs = await (await caches.open(name)).keys();
    if (packs.length === 2) full.push(name);
  }
  return full;
}"""
"""The versions of which both packs are stored, by name, of every guide on this origin."""


def until(page: Page, expression: str, seconds: float = 60) -> None:
    """Wait until an expression holds; asked from outside, for a page's policy allows no eval."""
    for _ in range(int(seconds * 10)):
        if page.evaluate(expression):
            return
        page.wait_for_timeout(100)
    raise AssertionError(f"never: {expression}")


def wait_until_kept(page: Page, versions: int = 1) -> list[str]:
    """Wait until the page's guide is kept and its worker answers; return the stored versions."""
    until(page, "Boolean(navigator.serviceWorker.controller)")
    until(page, f"({KEPT})().then((kept) => kept.length === {versions})")
    # Under a debugger, a browser that has only just started keeps a newer worker waiting for ever
    # when it comes in the same moment as the first.
    page.wait_for_timeout(3000)
    kept: list[str] = page.evaluate(KEPT)
    return kept


def wait_for_version(page: Page, other: list[str]) -> list[str]:
    """Wait until another version than `other` is the one that is kept."""
    until(page, f"({KEPT})().then((kept) => kept.length === 1 && kept[0] !== {other[0]!r})")
    kept: list[str] = page.evaluate(KEPT)
    return kept
