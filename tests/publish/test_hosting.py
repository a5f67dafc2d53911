"""The README's settings for a web server, tried with that server."""

from __future__ import annotations

import gzip
import re
import shutil
import socket
import subprocess
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import brotli
import pytest

Run = Callable[..., str]

README = Path(__file__).parents[2] / "README.md"

pytestmark = pytest.mark.skipif(shutil.which("nginx") is None, reason="no nginx here")


def readme_settings() -> str:
    """Return the nginx settings that the README gives."""
    found = re.search(r"```nginx\n(.*?)```", README.read_text("utf-8"), re.DOTALL)
    assert found
    return found[1]


@pytest.fixture
def server(workspace: Path, lockerleaf: Run, tmp_path: Path) -> Iterator[str]:
    """Serve a built workspace with the README's settings; give the address."""
    lockerleaf("build", "--no-papers", "--compress", "gzip", "--compress", "brotli")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    settings = readme_settings().replace("/srv/guides", str(workspace / "public"))
    config = tmp_path / "nginx.conf"
    temporary = "".join(
        f"{kind}_temp_path {tmp_path}/{kind};"
        for kind in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    config.write_text(
        f"daemon off; user root; pid {tmp_path}/nginx.pid; error_log {tmp_path}/error.log;\n"
        "events {}\n"
        f"http {{ include /etc/nginx/mime.types; access_log off; {temporary}\n"
        f"server {{ listen 127.0.0.1:{port};\n{settings}\n}} }}\n"
    )
    process = subprocess.Popen(["nginx", "-c", str(config), "-e", f"{tmp_path}/error.log"])
    try:
        for _ in range(100):
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.05)
        yield f"http://127.0.0.1:{port}"
    finally:
        process.terminate()
        process.wait()


def ask(address: str, accept: str = "") -> tuple[dict[str, str], bytes]:
    """Return the head and body of an answer."""
    request = urllib.request.Request(address, headers={"Accept-Encoding": accept} if accept else {})
    with urllib.request.urlopen(request) as answer:
        return {name.lower(): value for name, value in answer.headers.items()}, answer.read()


def test_the_readmes_settings_serve_a_guide(server: str, workspace: Path) -> None:
    """Landing pages, compression and keeping are as the README says."""
    (row, *_) = [
        line.split(",")
        for line in (workspace / "units" / "register.csv").read_text().splitlines()
        if ",place," in line
    ]
    unit, spot = row[0].split("-")
    page = workspace / "public" / unit / spot / "index.html"
    head, body = ask(f"{server}/{unit}/{spot}/")
    assert body == page.read_bytes()
    assert head["content-type"].startswith("text/html")
    assert head["cache-control"] == "no-cache"
    head, body = ask(f"{server}/{unit}/{spot}/", "gzip")
    assert head["content-encoding"] == "gzip"
    assert gzip.decompress(body) == page.read_bytes()
    script = next((workspace / "public" / unit / "assets").glob("guide.*.js"))
    head, _ = ask(f"{server}/{unit}/assets/{script.name}")
    assert "immutable" in head["cache-control"]
    head, _ = ask(f"{server}/{unit}/worker.js")
    assert head["cache-control"] == "no-cache"
    head, _ = ask(f"{server}/{unit}/{next(page.parents[1].glob('pack.*.bin')).name}")
    assert "immutable" in head["cache-control"]
    assert head["x-content-type-options"] == "nosniff"


def test_compressed_files_hold_the_same(server: str, workspace: Path) -> None:
    """Each compressed file unpacks to the one beside it; the pack takes in none of them."""
    packed = [*(workspace / "public").rglob("*.gz"), *(workspace / "public").rglob("*.br")]
    assert len(packed) > 50
    for path in packed:
        unpack = gzip.decompress if path.suffix == ".gz" else brotli.decompress
        assert unpack(path.read_bytes()) == path.with_suffix("").read_bytes()
    for pack in (workspace / "public").rglob("pack.*.bin"):
        assert b".html.gz" not in gzip.decompress(pack.read_bytes())
