"""Nobody but the one who started the desk gets anything, and nothing is written outside units/."""

from __future__ import annotations

import os
import socket
from collections.abc import Callable
from pathlib import Path

import pytest
from werkzeug.test import Client

from generator.preview.drafts import LARGEST_DRAFT_BYTES
from generator.preview.server import open_desk
from preview.conftest import Asker

ADDRESSES = ("/", "/fleet", "/state", "/unit/sm-1", "/unit/new", "/guide/sm-1/index.html")
TEXT = "unit: sm-1\nbased_on: small-2\ntitle: Another\n"
SAVE = {"text": TEXT, "base": TEXT, "digest": ""}


def everything(root: Path) -> dict[str, bytes]:
    """Return all files of a workspace; what its assets link to is not its own."""
    return {
        path.relative_to(root).as_posix(): path.read_bytes()
        for path in root.rglob("*")
        if path.is_file() and "site_assets" not in path.parts
    }


@pytest.mark.parametrize("path", [*ADDRESSES, "/paper/sm-1/stickers.pdf"])
def test_without_the_token_nothing_is_shown(asker: Asker, path: str) -> None:
    """A request without cookie and token gets 403, a wrong token too, and no secret with it."""
    stranger = Client(asker.desk.server.app)
    for query in ("", "?token=", "?token=wrong", f"?token={asker.desk.guard.form}"):
        answer = stranger.get(path + query, base_url=asker.origin)
        assert answer.status_code == 403
        assert "Set-Cookie" not in answer.headers
        guard = asker.desk.guard
        for secret in (guard.token, guard.cookie, guard.form, "Small 2", "SPECIMEN"):
            assert secret not in answer.text


def test_the_token_is_taken_once_for_a_cookie(asker: Asker) -> None:
    """The printed address leads to the page without the token, with a cookie no script reads."""
    client = Client(asker.desk.server.app)
    address = asker.desk.address("/unit/sm-1").removeprefix(asker.origin)
    answer = client.get(address, base_url=asker.origin)
    assert (answer.status_code, answer.headers["Location"]) == (302, "/unit/sm-1")
    cookie = answer.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert asker.desk.guard.token not in cookie
    assert client.get("/unit/sm-1", base_url=asker.origin).status_code == 200


def test_the_token_leads_nowhere_else(asker: Asker) -> None:
    """What is asked beside the token stays, and no path names another host."""
    client = Client(asker.desk.server.app)
    token = asker.desk.guard.token
    for path, leads in (
        ("/unit/sm-2", "/unit/sm-2?like=small-2"),
        ("//evil.example/", "/evil.example/?like=small-2"),
        ("/\r\nSet-Cookie: a", "/%0D%0ASet-Cookie%3A%20a?like=small-2"),
    ):
        query = f"like=small-2&token={token}"
        asked = {"PATH_INFO": path, "QUERY_STRING": query}
        answer = client.get("/", base_url=asker.origin, environ_overrides=asked)
        assert answer.headers["Location"] == leads


def test_every_run_has_its_own_secrets(asker: Asker, workspace: Path) -> None:
    """What one run gave out opens no other."""
    other = open_desk(workspace, workspace / "public", 0)
    other.server.server_close()
    mine = asker.desk.guard
    assert len({mine.token, mine.cookie, mine.form, other.guard.token, other.guard.cookie}) == 5
    assert all(len(secret) >= 43 for secret in (mine.token, mine.cookie, mine.form))


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:80", "127.0.0.1", "127.0.0.1.evil.example", "[::1]"]
)
def test_a_foreign_name_is_refused(asker: Asker, host: str) -> None:
    """A name that was made to lead to this machine gets nothing, whatever cookie comes with it."""
    assert asker.get("/", Host=host).status_code == 403
    assert asker.get("/desk/form.js", Host=host).status_code == 403
    assert asker.post("/unit/sm-1/draft", {"text": TEXT}, Host=host).status_code == 403


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "", "https://127.0.0.1"])
def test_a_foreign_origin_writes_nothing(asker: Asker, origin: str) -> None:
    """What another site sends is refused, and so is what says no origin."""
    before = everything(asker.root)
    for path in ("draft", "save"):
        answer = asker.post(f"/unit/sm-1/{path}", SAVE, Origin=origin)
        assert answer.status_code == 403
    assert everything(asker.root) == before


@pytest.mark.parametrize("form", ["", "wrong"])
def test_without_the_pages_own_secret_nothing_is_written(asker: Asker, form: str) -> None:
    """The cookie alone does not let anybody write."""
    before = everything(asker.root)
    assert asker.post("/unit/sm-1/save", SAVE, X_Desk_Form=form).status_code == 403
    assert everything(asker.root) == before


def test_another_sites_requests_are_refused(asker: Asker) -> None:
    """A picture or frame of another site that points here gets nothing."""
    for site in ("cross-site", "same-site"):
        assert asker.get("/", Sec_Fetch_Site=site).status_code == 403
    assert asker.get("/", Sec_Fetch_Site="same-origin").status_code == 200


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_no_other_method(asker: Asker, method: str) -> None:
    """Only what is needed is answered."""
    answer = asker.client.open("/unit/sm-1/save", base_url=asker.origin, method=method)
    assert answer.status_code in (403, 405)


@pytest.mark.parametrize("path", ADDRESSES)
def test_headers(asker: Asker, path: str) -> None:
    """No page may be framed, kept, or run or load what is not ours."""
    headers = asker.get(path).headers
    policy = headers["Content-Security-Policy"]
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    if not path.startswith("/guide"):
        assert "default-src 'none'" in policy
        assert "script-src 'self'" in policy
    assert headers["Cache-Control"] == "no-store"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Cross-Origin-Resource-Policy"] == "same-origin"


NAMES = (
    "..%2Fmodels%2Fsmall-2",
    "%2e%2e%2fdealer",
    "..",
    "models%2Fsmall-2",
    "models/small-2",
    "dealer",
    "small-2",
    "new",
    "Sm-1",
    "sm_1",
    "sm-1%00",
    "sm-1.yml",
    "%2Fetc%2Fpasswd",
    "C:%5Cunits",
    "a" * 61,
)


@pytest.mark.parametrize("name", NAMES)
def test_no_name_leads_out_of_the_units(asker: Asker, name: str) -> None:
    """Whatever stands for a unit's name, nothing but a unit is read or written."""
    before = everything(asker.root)
    for path in ("save", "draft"):
        assert asker.post(f"/unit/{name}/{path}", SAVE).status_code in (400, 403, 404, 405, 422)
    for path in (f"/unit/{name}?like=small-2", f"/guide/{name}/index.html"):
        answer = asker.get(path)
        assert answer.status_code in (302, 404, 405, 422) or name == "new"
        assert "root:" not in answer.text
        assert "1632" not in answer.text
    assert everything(asker.root) == before


@pytest.mark.parametrize(
    "path",
    [
        "/guide/sm-1/../../dealer.yml",
        "/guide/sm-1/%2e%2e/%2e%2e/units/dealer.yml",
        "/guide/sm-1//etc/passwd",
        "/guide/sm-1/..%5c..%5cunits%5cdealer.yml",
        "/desk/..%2f..%2funits%2fdealer.yml",
        "/desk/base.html",
        "/desk/mark.typ",
        "/paper/sm-1/..%2fsm-1.pdf",
        "/paper/sm-1/register.pdf",
        "/units/sm-1.yml",
    ],
)
def test_no_path_leads_to_a_file(asker: Asker, path: str) -> None:
    """Pages come from memory, so that no path reaches the disk."""
    answer = asker.get(path)
    assert answer.status_code == 404
    assert "1632" not in answer.text


@pytest.mark.skipif(os.name != "posix", reason="links need a right elsewhere")
def test_no_link_is_followed(asker: Asker, tmp_path: Path) -> None:
    """A unit's file that is a link is neither shown nor written through."""
    outside = tmp_path / "outside.yml"
    outside.write_text("unit: sm-9\nbased_on: small-2\ntitle: Outside\n")
    (asker.root / "units" / "sm-9.yml").symlink_to(outside)
    (asker.root / "units" / "sm-8.yml").symlink_to(tmp_path / "nowhere.yml")
    for name in ("sm-9", "sm-8"):
        answer = asker.get(f"/unit/{name}?like=small-2")
        assert answer.status_code == 422
        assert "is a link" in answer.text
        text = f"unit: {name}\nbased_on: small-2\ntitle: Mine\n"
        saved = asker.post(f"/unit/{name}/save", {"text": text, "base": "", "digest": ""})
        assert saved.status_code == 422
    assert outside.read_text().endswith("Outside\n")
    assert not (tmp_path / "nowhere.yml").exists()


def test_a_folder_that_is_a_link_is_not_written_into(asker: Asker, tmp_path: Path) -> None:
    """Where units/ leads elsewhere, nothing is saved."""
    (asker.root / "units").rename(tmp_path / "elsewhere")
    (asker.root / "units").symlink_to(tmp_path / "elsewhere")
    before = everything(tmp_path / "elsewhere")
    text = "unit: sm-5\nbased_on: small-2\ntitle: Mine\n"
    told = {"text": text, "base": "", "digest": ""}
    assert asker.post("/unit/sm-5/save", told).status_code == 422
    assert everything(tmp_path / "elsewhere") == before


@pytest.mark.parametrize(
    "told",
    [
        b"",
        b"[]",
        b"{",
        b'{"text": 5}',
        b'{"text": "\\ud800", "base": ""}',
        b'{"text": "", "edits": 5}',
        b'{"text": "", "edits": [5]}',
    ],
)
def test_nonsense_is_refused(asker: Asker, told: bytes) -> None:
    """What no page of ours sends is refused in one line."""
    answer = asker.post("/unit/sm-1/draft", told)
    assert answer.status_code == 400
    assert set(answer.get_json()) == {"refused"}


@pytest.mark.parametrize(
    "edit",
    [
        {},
        {"set": [], "to": "x"},
        {"set": ["title"], "to": 5},
        {"set": ["title"], "to": ["a", 5]},
        {"set": ["unit"], "to": "sm-2"},
        {"set": ["a: b\nc"], "to": "x"},
        {"set": ["title", "more"], "to": "x"},
        {"set": ["a"] * 6, "to": "x"},
        {"set": ["title"], "to": "x" * 2001},
        {"leave": "No Name"},
        {"drop": "fitted"},
    ],
)
def test_edits_that_are_none_are_refused(asker: Asker, edit: object) -> None:
    """An edit that the form does not send changes nothing."""
    text = (asker.root / "units" / "sm-1.yml").read_text()
    answer = asker.post("/unit/sm-1/draft", {"text": text, "base": text, "edits": [edit]})
    assert answer.status_code == 422
    assert "right:" in answer.get_json()["refused"]


def test_a_draft_is_bounded(asker: Asker) -> None:
    """A text that nobody would write is refused before it is looked at."""
    large = "x" * (LARGEST_DRAFT_BYTES + 1)
    for told in ({"text": large}, {"text": TEXT, "base": large}):
        assert asker.post("/unit/sm-1/draft", told).status_code == 413
    huge = b'{"text": "' + b"x" * (5 * LARGEST_DRAFT_BYTES) + b'"}'
    assert asker.post("/unit/sm-1/draft", huge).status_code == 413
    many = [{"clear": ["title"]}] * 101
    assert asker.post("/unit/sm-1/draft", {"text": TEXT, "edits": many}).status_code == 422


def test_it_stands_on_the_loopback_address_alone(asker: Asker) -> None:
    """The socket is bound to 127.0.0.1, so no other machine reaches it."""
    assert asker.desk.server.socket.getsockname() == ("127.0.0.1", asker.desk.guard.port)


def test_a_port_that_is_taken_is_told(workspace: Path, lockerleaf: Callable[..., str]) -> None:
    """The command says so in a line."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        told = lockerleaf("preview", "--port", str(port))
    assert f"port {port}: " in told
    assert "right: another --port" in told
    assert "no unit 'sm-7'" in lockerleaf("preview", "sm-7")


def test_looking_writes_nothing(asker: Asker) -> None:
    """Every page, paper and draft is made without a file being touched or made."""
    before = everything(asker.root)
    text = (asker.root / "units" / "sm-1.yml").read_text()
    asker.desk.watcher.start()
    for path in (*ADDRESSES, "/paper/sm-1/stickers.pdf", "/unit/sm-2?like=sm-1"):
        assert asker.get(path).status_code == 200
    asker.draft("sm-1", text, {"set": ["title"], "to": "Other"}, proof=True)
    asker.desk.watcher.end()
    assert everything(asker.root) == before
    assert not (asker.root / ".cache").exists()
    assert not (asker.root / "print").exists()
