"""Guides and papers are what a build would make of the files as they are now."""

from __future__ import annotations

import io
import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from generator.desk.new_workspace import make_workspace
from generator.flow import Memory
from generator.preview import watch
from generator.read.sources import read_sources
from preview.conftest import Asker, open_for


def later(asker: Asker) -> None:
    """Let the desk look again."""
    asker.desk.watcher._looked = 0.0


def test_a_guide_is_that_of_a_build(asker: Asker, lockerleaf: Callable[..., str]) -> None:
    """Each page is the published one, but for the script of the desk and what keeps it offline."""
    lockerleaf("build", "--no-papers", "--jobs", "1")
    folder = asker.root / "public" / "M9S3"
    pages = sorted(folder.rglob("*.html"))
    assert len(pages) > 30
    for path in pages:
        name = path.relative_to(folder).as_posix()
        live = asker.get(f"/guide/sm-1/{name}").text
        script = live[live.rindex("<script src") : live.rindex("</body>")]
        assert "/desk/live.js" in script
        built = path.read_text("utf-8")
        worker = re.sub('data-worker="[^"]*"', 'data-worker=""', built)
        assert live.replace(script, "") == worker
    landing = asker.get("/guide/sm-1/461/")
    assert landing.text.count("Gas locker") > 0
    assert asker.get("/guide/sm-1/worker.js").status_code == 404


def test_a_guide_follows_its_files(asker: Asker, change: Callable[[str, str, str], None]) -> None:
    """A change of the unit or of a task's text is there at the next look, and its stamp tells."""
    assert "stock 1" in asker.get("/guide/sm-1/index.html").text
    stamp = asker.get("/state?unit=sm-1").get_json()["stamp"]
    later(asker)
    assert asker.get("/state?unit=sm-1").get_json()["stamp"] == stamp
    change("units/sm-1.yml", "stock 1", "stock 77")
    later(asker)
    assert asker.get("/state?unit=sm-1").get_json()["stamp"] != stamp
    assert "stock 77" in asker.get("/guide/sm-1/index.html").text
    page = next((asker.root / "docs_src" / "tasks").rglob("empty-cassette.md"))
    words = "Carry the cassette to the very chemical point"
    page.write_text(page.read_text("utf-8").rstrip() + f"\n9. {words}.\n", "utf-8")
    later(asker)
    assert words in asker.get("/guide/sm-1/task/empty-cassette.html").text


def test_a_mistake_is_told_by_pages_alone(
    asker: Asker, change: Callable[[str, str, str], None]
) -> None:
    """A script that a page asks for late is refused as one, not answered with a page."""
    page = asker.get("/guide/sm-1/index.html").text
    found = re.search(r'src="(assets/guide\.[0-9a-f]+\.js)"', page)
    assert found
    change("units/sm-1.yml", "small-2", "small-3")
    later(asker)
    told = asker.get("/guide/sm-1/index.html")
    assert (told.status_code, told.mimetype) == (422, "text/html")
    assert "no model &#39;small-3&#39;" in told.text
    script = asker.get(f"/guide/sm-1/{found[1]}")
    assert (script.status_code, script.mimetype, script.data) == (422, "text/javascript", b"")


def test_another_units_edit_leaves_a_guide_alone(asker: Asker) -> None:
    """The stamp of a guide that does not depend on the file that changed stays."""
    asker.get("/guide/sm-1/index.html")
    stamp = asker.get("/state?unit=sm-1").get_json()["stamp"]
    other = asker.root / "units" / "sm-2.yml"
    other.write_text("unit: sm-2\nbased_on: small-2\ntitle: Another\n")
    later(asker)
    assert asker.get("/state?unit=sm-1").get_json()["stamp"] == stamp


@pytest.mark.parametrize(
    ("path", "old", "new", "told"),
    [
        ("units/sm-1.yml", "small-2", "small-3", "no model &#39;small-3&#39;"),
        ("units/sm-1.yml", "title: Small", "title: [Small", "units/sm-1.yml:"),
        ("units/dealer.yml", "https://", "http://", "units/dealer.yml:4:"),
        (
            "docs_src/kinds/reading-lamp.yml",
            "kind: reading-lamp",
            "kind: lamp",
            "is &#39;lamp&#39;",
        ),
        ("units/models/small-2.yml", "sort: caravan", "sort: boat", "is &#39;boat&#39;"),
    ],
)
def test_a_mistake_is_told_and_mended(
    asker: Asker,
    change: Callable[[str, str, str], None],
    path: str,
    old: str,
    new: str,
    told: str,
) -> None:
    """A guide that cannot be made shows the problems; the fleet shows them; then all is well."""
    assert asker.get("/guide/sm-1/index.html").status_code == 200
    change(path, old, new)
    later(asker)
    for address in ("/guide/sm-1/index.html", "/paper/sm-1/stickers.pdf"):
        answer = asker.get(address)
        assert answer.status_code == 422
        assert told in answer.text
        assert "<b>Right:</b>" in answer.text
        assert "Traceback" not in answer.text
    assert told in asker.get("/").text
    change(path, new, old)
    later(asker)
    assert asker.get("/guide/sm-1/index.html").status_code == 200
    assert told not in asker.get("/").text


def test_what_only_a_proof_finds_is_told(asker: Asker) -> None:
    """A task that leads into harm is found by the desk as by a check."""
    bad = Path(__file__).parents[1] / "bad" / "tasks" / "enters-an-interlock.md"
    folder = asker.root / "docs_src" / "tasks" / "water"
    (folder / "enters-an-interlock.md").write_text(bad.read_text("utf-8"), "utf-8")
    answer = asker.get("/guide/sm-1/index.html")
    assert answer.status_code == 422
    assert "enters-an-interlock.md:" in answer.text


def test_what_a_proof_finds_is_told_each_time(asker: Asker) -> None:
    """Of every unit with that model, and again when it is looked at anew."""
    bad = Path(__file__).parents[1] / "bad" / "tasks" / "enters-an-interlock.md"
    folder = asker.root / "docs_src" / "tasks" / "water"
    (folder / "enters-an-interlock.md").write_text(bad.read_text("utf-8"), "utf-8")
    text = "unit: sm-2\nbased_on: small-2\ntitle: Second\n"
    (asker.root / "units" / "sm-2.yml").write_text(text, "utf-8")
    sources, memory = read_sources(asker.root), Memory()
    for name in ("sm-1", "sm-2", "sm-1", "sm-2"):
        found = watch.check_unit_guide(sources, sources.stock.units[name], memory)
        assert found.done is None
        assert len(found.problems) == 2
        assert all(problem.unit == name in problem.wrong for problem in found.problems)


def test_the_fleet_is_found_out_in_the_background(asker: Asker) -> None:
    """Units are read one after the other while the page is already there; then all is known."""
    (asker.root / "units" / "sm-2.yml").write_text("unit: sm-2\nbased_on: small-2\ntitle: Second\n")
    assert "is being read" in asker.get("/").text
    asker.desk.watcher.start()
    first = asker.get("/state").get_json()["stamp"]
    for _ in range(300):
        page = asker.get("/fleet").text
        if "being read" not in page and "checking" not in page:
            break
        time.sleep(0.1)
    assert asker.get("/state").get_json()["stamp"] != first
    assert "Second" in page
    assert "8 without code" in page
    assert page.count("never built") >= 2
    (asker.root / "units" / "sm-2.yml").write_text("unit: sm-2\nbased_on: none\ntitle: Second\n")
    later(asker)
    page = asker.get("/fleet").text
    assert "no model &#39;none&#39;" in page
    assert "<b>1</b> problem" in page
    asker.desk.watcher.end()


def test_one_mistake_in_many_units_is_one_problem(asker: Asker) -> None:
    """The desk names one of the units, and how many more there are."""
    for number in range(2, 8):
        text = f"unit: sm-{number}\nbased_on: small-2\ntitle: Small {number}\n"
        (asker.root / "units" / f"sm-{number}.yml").write_text(text, "utf-8")
    task = asker.root / "docs_src" / "tasks" / "water" / "fill-water.md"
    text = task.read_text("utf-8").replace("\n1. ", "\n1. Look.\nwhat is this?\n1. ", 1)
    task.write_text(text, "utf-8")
    later(asker)
    asker.desk.watcher.start()
    until = time.monotonic() + 60
    while asker.desk.watcher.overview().waiting or asker.desk.watcher.overview().unread:
        assert time.monotonic() < until
        time.sleep(0.05)
    page = asker.get("/fleet").text
    assert re.search(r"<b>1</b> problem\s*<", page)
    assert "sm-1 (and 6 more)" in page
    asker.desk.watcher.end()


def test_whoever_asks_does_not_wait_for_the_fleet(asker: Asker) -> None:
    """While somebody is answered, the background finds nothing out; afterwards it goes on."""
    watcher = asker.desk.watcher
    with watcher.answering(), watcher.answering():
        watcher.start()
        before = watcher.stamp
        time.sleep(1)
        assert watcher.stamp == before
        assert watcher.overview().units == ()
    until = time.monotonic() + 60
    while watcher.overview().waiting or watcher.overview().unread:
        assert time.monotonic() < until
        time.sleep(0.05)
    with watcher.answering():
        watcher.end()  # it does not wait for its turn to end
    assert asker.get("/").status_code == 200


def test_stickers_are_those_that_are_printed(asker: Asker, lockerleaf: Callable[..., str]) -> None:
    """The sheet and the handover pack are, byte for byte, those of the commands."""
    lockerleaf("stickers", "sm-1")
    lockerleaf("handover", "sm-1")
    for name in ("stickers", "handover"):
        answer = asker.get(f"/paper/sm-1/{name}.pdf")
        assert answer.mimetype == "application/pdf"
        assert answer.data == (asker.root / "print" / "sm-1" / f"{name}.pdf").read_bytes()


def test_codes_that_are_not_issued_are_marked(asker: Asker) -> None:
    """A sheet with codes for preview says so across every page, and the register stays as it is."""
    register = (asker.root / "units" / "register.csv").read_bytes()
    (asker.root / "units" / "sm-2.yml").write_text("unit: sm-2\nbased_on: small-2\ntitle: Second\n")
    for name, marked in (("sm-1", False), ("sm-2", True)):
        pages = PdfReader(io.BytesIO(asker.get(f"/paper/{name}/stickers.pdf").data)).pages
        assert pages
        for page in pages:
            assert ("PREVIEW, NOT FOR USE" in page.extract_text()) == marked
    assert (asker.root / "units" / "register.csv").read_bytes() == register


def test_what_is_not_there_is_told(asker: Asker) -> None:
    """No such unit, page or paper."""
    for path in ("/guide/sm-7/index.html", "/guide/sm-1/nothing.html", "/paper/sm-1/bill.pdf"):
        assert asker.get(path).status_code == 404


def test_only_units_that_changed_are_read_again(
    asker: Asker, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An edit of one unit reads that one, of a model all; what is wrong is read each time."""
    read: list[object] = []
    genuine = watch.read_stock

    def noting(*arguments: Any) -> Any:
        read.append(arguments[3])
        return genuine(*arguments)

    units = asker.root / "units"
    for name in ("sm-2", "sm-3"):
        (units / f"{name}.yml").write_text(f"unit: {name}\nbased_on: small-2\ntitle: T\n")
    monkeypatch.setattr(watch, "read_stock", noting)

    def after(path: Path, old: str, new: str) -> set[str]:
        path.write_text(path.read_text().replace(old, new))
        later(asker)
        sources = asker.desk.watcher.look().sources
        return set(sources.stock.units) if sources else set()

    everyone = {"sm-1", "sm-2", "sm-3"}
    assert after(units / "sm-1.yml", "stock 1", "stock 2") == everyone
    assert after(units / "sm-2.yml", "title: T", "title: U") == everyone
    assert after(units / "sm-2.yml", "small-2", "small-9") == {"sm-1", "sm-3"}
    assert after(units / "sm-3.yml", "title: T", "title: U") == {"sm-1", "sm-3"}
    assert after(units / "sm-2.yml", "small-9", "small-2") == everyone
    assert after(units / "models" / "small-2.yml", "length_m: 4", "length_m: 4.1") == everyone
    (units / "sm-3.yml").unlink()
    assert after(units / "sm-2.yml", "title: U", "title: V") == {"sm-1", "sm-2"}
    assert read == [None, {"sm-2"}, {"sm-2"}, {"sm-2", "sm-3"}, {"sm-2"}, None, {"sm-2"}]


def test_a_workspace_without_a_library_of_its_own(tmp_path: Path) -> None:
    """A dealer's folder on the packaged library has its desk too, with what it overrides."""
    root = tmp_path / "dealer"
    given = {"title": "Dealer", "telephone": "+44 1632 960002", "address": "https://d.example"}
    make_workspace(root, given)
    (root / "site_assets" / "desk").mkdir(parents=True)
    (root / "site_assets" / "desk" / "told.html").write_text("<h1>Our own words</h1>")
    asks = open_for(root)
    before = set(root.rglob("*"))
    assert "Our own words" in asks.get("/nothing").text
    assert "heronbeck-4" in asks.get("/unit/new").text
    page = asks.get("/unit/lt-1?like=heronbeck-4").text
    text = page.split('data-text="')[1].split('"')[0].replace("&#34;", '"')
    told = {"text": text, "base": "", "digest": ""}
    assert asks.post("/unit/lt-1/save", told).status_code == 200
    later(asks)
    assert asks.get("/guide/lt-1/index.html").status_code == 200
    assert set(root.rglob("*")) - before == {root / "units" / "lt-1.yml"}
    asks.desk.server.server_close()
