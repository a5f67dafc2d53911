"""A small static server that compresses texts, for what is measured in a browser."""

from __future__ import annotations

import functools
import gzip
import http.server
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

_TEXTS = (".html", ".css", ".js", ".svg", ".json", ".xml", ".ics")
_GZIP_LEVEL = 6
"""As nginx and Apache have it where nobody chose."""


_CHUNK_BYTES = 1_460
"""What one segment of TCP carries over Ethernet."""


@dataclass(frozen=True, slots=True)
class Line:
    """A connection that all answers share; a browser's own throttling leaves out workers."""

    bytes_per_second: float
    latency_s: float
    busy: threading.Lock = field(default_factory=threading.Lock)


class _Handler(http.server.SimpleHTTPRequestHandler):
    """Serves files over connections that stay open, texts compressed by gzip."""

    protocol_version = "HTTP/1.1"

    def __init__(self, *arguments: object, line: Line | None, **named: object) -> None:
        self.line = line
        super().__init__(*arguments, **named)  # type: ignore[arg-type]

    def do_GET(self) -> None:
        """Send a file, or the `index.html` of a folder; texts compressed if that is asked for."""
        path = Path(self.translate_path(self.path))
        if path.is_dir():
            path /= "index.html"
        if not path.is_file():
            self.send_error(404)
            return
        content = path.read_bytes()
        packed = path.suffix in _TEXTS and "gzip" in self.headers.get("Accept-Encoding", "")
        if packed:
            content = _packed(path, path.stat().st_mtime_ns)
        self.send_response(200)
        self.send_header("Content-Type", self.guess_type(str(path)))
        self.send_header("Content-Length", str(len(content)))
        self.send_header("Cache-Control", "no-cache")
        if packed:
            self.send_header("Content-Encoding", "gzip")
        self.end_headers()
        if self.line is None:
            self.wfile.write(content)
            return
        time.sleep(self.line.latency_s)
        for at in range(0, len(content), _CHUNK_BYTES):
            chunk = content[at : at + _CHUNK_BYTES]
            with self.line.busy:
                time.sleep(len(chunk) / self.line.bytes_per_second)
                self.wfile.write(chunk)

    def log_message(self, *_: object) -> None:
        """Say nothing."""


class _Server(http.server.ThreadingHTTPServer):
    daemon_threads = True

    def handle_error(self, *_: object) -> None:
        """Say nothing of readers who left before their page came."""


@functools.cache
def _packed(path: Path, changed: int) -> bytes:
    return gzip.compress(path.read_bytes(), _GZIP_LEVEL, mtime=0)


@contextmanager
def served(folder: Path, line: Line | None = None) -> Iterator[str]:
    """Serve a folder on the loopback address, as over a poor line if one is given.

    The value is the origin.
    """
    handler = functools.partial(_Handler, directory=str(folder), line=line)
    server = _Server(("127.0.0.1", 0), handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_address[1]}"
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
