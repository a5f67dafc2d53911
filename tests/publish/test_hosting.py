"""The README's settings for web servers, tried with those servers."""

from __future__ import annotations

import gzip
import os
import re
import shutil
import socket
import subprocess
import tempfile
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.error import HTTPError

import brotli
import pytest

from generator.publish.send import send_to_folder

Run = Callable[..., str]

README = Path(__file__).parents[2] / "README.md"

PATH = os.pathsep.join([os.environ.get("PATH", ""), "/usr/sbin"])
NGINX, APACHE = shutil.which("nginx", path=PATH), shutil.which("apache2", path=PATH)

MODULES = Path("/usr/lib/apache2/modules")
# What Debian switches on by itself, and the two that the README asks for.
SWITCHED_ON = (
    "mpm_event",
    "authz_core",
    "autoindex",
    "deflate",
    "dir",
    "filter",
    "mime",
    "negotiation",
    "setenvif",
    "headers",
    "rewrite",
)
# As Debian has it: left alone, each would get in the way of what the README wants.
USUAL = """
TypesConfig /etc/mime.types
AddType application/x-compress .Z
AddType application/x-gzip .gz .tgz
AddLanguage br .br
Options Indexes FollowSymLinks MultiViews
AddOutputFilterByType DEFLATE text/html text/plain text/xml text/css application/javascript
"""


@dataclass(frozen=True, slots=True)
class Server:
    """A server that runs with the README's settings."""

    name: str
    address: str
    public: Path
    """The folder that it serves."""


def readme_settings(language: str) -> str:
    """Return the settings that the README gives for a server."""
    found = re.search(rf"```{language}\n(.*?)```", README.read_text("utf-8"), re.DOTALL)
    assert found
    return found[1]


@contextmanager
def serving(command: list[str], port: int) -> Iterator[None]:
    """Run a server until it is no longer needed."""
    process = subprocess.Popen(command)
    try:
        for _ in range(200):
            assert process.poll() is None, "the server does not take its settings"
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", port)) == 0:
                    break
            time.sleep(0.05)
        yield
    finally:
        process.terminate()
        process.wait()


def nginx(public: Path, folder: Path, port: int) -> list[str]:
    """Return how nginx is started."""
    assert NGINX
    settings = readme_settings("nginx").replace("/srv/guides", str(public))
    config = folder / "nginx.conf"
    temporary = "".join(
        f"{kind}_temp_path {folder}/{kind};"
        for kind in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    user = "user root; " if os.getuid() == 0 else ""
    config.write_text(
        f"daemon off; {user}pid {folder}/nginx.pid; error_log {folder}/error.log;\n"
        "events {}\n"
        f"http {{ include /etc/nginx/mime.types; access_log off; {temporary}\n"
        f"server {{ listen 127.0.0.1:{port};\n{settings}\n}} }}\n"
    )
    return [NGINX, "-c", str(config), "-e", f"{folder}/error.log"]


def apache(public: Path, folder: Path, port: int) -> list[str]:
    """Return how Apache is started; the README's settings lie in the folder that it serves."""
    assert APACHE
    (public / ".htaccess").write_text(readme_settings("apache"))
    modules = "".join(f"LoadModule {name}_module {MODULES}/mod_{name}.so\n" for name in SWITCHED_ON)
    config = folder / "apache.conf"
    config.write_text(
        f"ServerName localhost\nListen 127.0.0.1:{port}\nPidFile {folder}/apache.pid\n"
        f"DefaultRuntimeDir {folder}\nErrorLog {folder}/error.log\nUser www-data\nGroup www-data\n"
        f"{modules}{USUAL}DocumentRoot {public}\n"
        f"<Directory {public}>\nAllowOverride All\nRequire all granted\n</Directory>\n"
    )
    return [APACHE, "-f", str(config), "-DFOREGROUND"]


@pytest.fixture(
    params=[
        pytest.param(nginx, marks=pytest.mark.skipif(not NGINX, reason="no nginx here")),
        pytest.param(
            apache,
            marks=pytest.mark.skipif(
                not APACHE or not MODULES.is_dir() or not Path("/etc/mime.types").exists(),
                reason="no Apache of Debian's here",
            ),
        ),
    ],
    ids=["nginx", "apache"],
)
def server(
    request: pytest.FixtureRequest, workspace: Path, lockerleaf: Run, tmp_path: Path
) -> Iterator[Server]:
    """Serve a built workspace with the README's settings."""
    lockerleaf("build", "--no-papers", "--compress", "gzip", "--compress", "brotli")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    # Apache serves as an account that may not look into the folders of whoever runs the tests.
    with tempfile.TemporaryDirectory() as folder:
        os.chmod(folder, 0o755)
        public = Path(folder) / "guides"
        send_to_folder(workspace / "public", public)
        command = request.param(public, tmp_path, port)
        with serving(command, port):
            yield Server(request.param.__name__, f"http://127.0.0.1:{port}", public)


def ask(address: str, accept: str = "") -> tuple[dict[str, str], bytes]:
    """Return the head and body of an answer."""
    request = urllib.request.Request(address, headers={"Accept-Encoding": accept} if accept else {})
    with urllib.request.urlopen(request) as answer:
        return {name.lower(): value for name, value in answer.headers.items()}, answer.read()


def guide_of(server: Server) -> Path:
    """Return the folder of the one guide."""
    (worker,) = server.public.glob("*/worker.js")
    return worker.parent


def test_pages_are_served(server: Server, workspace: Path) -> None:
    """A code leads to its page, which is asked for anew each time, compressed for who takes it."""
    (row, *_) = [
        line.split(",")
        for line in (workspace / "units" / "register.csv").read_text().splitlines()
        if ",place," in line
    ]
    unit, spot = row[0].split("-")
    page = workspace / "public" / unit / spot / "index.html"
    address = f"{server.address}/{unit}/{spot}/"
    for shown in (address, f"{address}index.html"):
        head, body = ask(shown)
        assert body == page.read_bytes()
        assert head["content-type"].startswith("text/html")
        assert head["cache-control"] == "no-cache"
        assert head["x-content-type-options"] == "nosniff"
        assert "content-encoding" not in head
        head, body = ask(shown, "gzip")
        assert head["content-encoding"] == "gzip"
        assert head["content-type"].startswith("text/html")
        assert head["cache-control"] == "no-cache"
        assert head["vary"] == "Accept-Encoding"
        assert gzip.decompress(body) == page.read_bytes()


def test_an_unchanged_page_costs_a_line(server: Server) -> None:
    """What a browser has already is not sent again."""
    address = f"{server.address}/{guide_of(server).name}/"
    head, _ = ask(address)
    request = urllib.request.Request(address, headers={"If-None-Match": head["etag"]})
    with pytest.raises(HTTPError) as answer:
        urllib.request.urlopen(request)
    assert answer.value.code == 304


def test_what_has_a_digest_is_kept_for_ever(server: Server) -> None:
    """Scripts and the pack keep; the worker, which finds out what is new, does not."""
    guide = guide_of(server)
    kept = [*guide.glob("assets/*.js"), *guide.glob("pack.*.bin")]
    assert len(kept) > 2
    for path in kept:
        for accept in ("", "gzip", "gzip, deflate, br"):
            head, _ = ask(f"{server.address}/{path.relative_to(server.public)}", accept)
            assert head["cache-control"] == "public, max-age=31536000, immutable"
            assert head["x-content-type-options"] == "nosniff"
    for name in ("worker.js", "due.ics", "notices.xml", "index.html"):
        head, _ = ask(f"{server.address}/{guide.name}/{name}", "gzip")
        assert head["cache-control"] == "no-cache"


def test_each_kind_of_file_is_named(server: Server) -> None:
    """Browsers take a worker, a calendar, a feed and a pack only for what they are said to be."""
    guide = guide_of(server)
    kinds = {
        "worker.js": "(text|application)/javascript",
        "due.ics": "text/calendar",
        "notices.xml": r"text/xml|application/(atom\+)?xml",
        next(guide.glob("pack.*.bin")).name: "application/octet-stream",
    }
    for name, kind in kinds.items():
        for accept in ("", "gzip", "br"):
            head, _ = ask(f"{server.address}/{guide.name}/{name}", accept)
            assert re.fullmatch(kind, head["content-type"].partition(";")[0])
    pack = next(guide.glob("pack.*.bin"))
    head, body = ask(f"{server.address}/{guide.name}/{pack.name}", "gzip, br")
    # It is compressed in itself and the worker unpacks it, so the server must not claim to have.
    assert "content-encoding" not in head
    assert body == pack.read_bytes()


def test_what_is_not_there_is_told(server: Server) -> None:
    """The guides' own page says so."""
    with pytest.raises(HTTPError) as answer:
        ask(f"{server.address}/NONE/AT/ALL")
    assert answer.value.code == 404
    assert answer.value.read() == (server.public / "404.html").read_bytes()


def test_apache_sends_brotli_to_who_takes_it(server: Server) -> None:
    """It is the smaller one; a server that lacks one of the two sends the other, or plain."""
    if server.name != "apache":
        pytest.skip("Debian's nginx has no module for it")
    guide = guide_of(server)
    address = f"{server.address}/{guide.name}/"
    page = (guide / "index.html").read_bytes()
    head, body = ask(address, "gzip, deflate, br")
    assert head["content-encoding"] == "br"
    assert head["content-type"].startswith("text/html")
    assert brotli.decompress(body) == page
    (guide / "index.html.br").unlink()
    head, body = ask(address, "gzip, deflate, br")
    assert head["content-encoding"] == "gzip"
    assert gzip.decompress(body) == page
    head, body = ask(f"{address}index.html.gz")
    assert head["content-type"].startswith("text/html")
    with pytest.raises(HTTPError) as answer:
        ask(f"{server.address}/{guide.name}/assets/")
    assert answer.value.code in (403, 404)  # nothing is listed


def test_compressed_files_hold_the_same(workspace: Path, lockerleaf: Run) -> None:
    """Each compressed file unpacks to the one beside it; the pack takes in none of them."""
    lockerleaf("build", "--no-papers", "--compress", "gzip", "--compress", "brotli")
    packed = [*(workspace / "public").rglob("*.gz"), *(workspace / "public").rglob("*.br")]
    assert len(packed) > 50
    for path in packed:
        unpack = gzip.decompress if path.suffix == ".gz" else brotli.decompress
        assert unpack(path.read_bytes()) == path.with_suffix("").read_bytes()
    for pack in (workspace / "public").rglob("pack.*.bin"):
        assert b".html.gz" not in gzip.decompress(pack.read_bytes())
