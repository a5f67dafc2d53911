"""What is private reaches no output, and what is hostile does nothing there."""

from __future__ import annotations

import getpass
import gzip
import re
import socket
from collections.abc import Callable, Iterator
from pathlib import Path

import feedparser
import html5lib
import icalendar
import pypdf
import pytest
from PIL import Image

Run = Callable[..., str]

SECRETS = ("MARKER-VIN-1", "MARKER-BUYER-2", "MARKER-KEY-3", "MARKER-SERIAL-4", "MARKER-GPS-5")

DATA = ("application/json", "application/ld+json")
"""Scripts of these types are never run (WHATWG HTML, data block)."""

HOSTILE = (
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "\" onmouseover='alert(1)' x=\"",
    "[press](javascript:alert(1))",
    "{{ 7*7 }}{% include 'x' %}",
    "]]></text>&lt;&amp;",
    "=HYPERLINK(0)",
    "**bold** `code` {: .danger }",
    "#let x = sys.version",
    "\\n BEGIN:VEVENT",
)
"""One line each, since a text that spans lines is something that an author may write."""

UNIT = """\
unit: sm-1
based_on: small-2
title: {quoted}
private: {{vin: MARKER-VIN-1, buyer: {{name: MARKER-BUYER-2}}, keys: [MARKER-KEY-3]}}
delivered: 2026-04-11
places:
  seat: {{title: {quoted}, hint: {quoted}, picture: seat.jpg}}
fitted:
  - {{id: heater, title: {quoted}}}
  - {{id: lamp, title: {quoted}, serial: MARKER-SERIAL-4}}
"""
NOTICE = """\
notice: n
title: {quoted}
word: warning
about: water-heater
issued: 2026-05-01
hazard: {quoted}
consequence: {quoted}
avoidance: {quoted}
source: s
"""


def quoted(text: str) -> str:
    """Return a text as a YAML scalar that stands for just that text."""
    return "'" + text.replace("'", "''") + "'"


def fill_workspace(workspace: Path, hostile: str) -> None:
    """Put a hostile text into every field that a guide shows, and markers into what it must not."""
    units = workspace / "units"
    (units / "sm-1.yml").write_text(UNIT.format(quoted=quoted(hostile)), "utf-8")
    (units / "notices").mkdir()
    (units / "notices" / "n.yml").write_text(NOTICE.format(quoted=quoted(hostile)), "utf-8")
    dealer = (units / "dealer.yml").read_text("utf-8")
    dealer = re.sub(r"(?m)^(title|hours): .*$", lambda m: f"{m[1]}: {quoted(hostile)}", dealer)
    (units / "dealer.yml").write_text(dealer, "utf-8")
    (units / "pictures").mkdir(exist_ok=True)
    picture = Image.effect_noise((800, 600), 40).convert("RGB")
    exif = Image.Exif()
    exif[0x010E] = "MARKER-GPS-5"  # ImageDescription, Exif 2.3
    exif[0x013B] = "MARKER-GPS-5"  # Artist
    picture.save(units / "pictures" / "seat.jpg", exif=exif)


def unpacked(path: Path) -> bytes:
    """Return a file's bytes, unpacked where it is packed."""
    raw = path.read_bytes()
    return gzip.decompress(raw) if raw[:2] == b"\x1f\x8b" else raw


def outputs(workspace: Path) -> Iterator[tuple[Path, str]]:
    """Yield all that was made, as text: files as they are and unpacked, PDFs as they are read."""
    for folder in (workspace / "public", workspace / "print"):
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                yield path, unpacked(path).decode("latin-1")
                if path.suffix == ".pdf":
                    reader = pypdf.PdfReader(path)
                    yield path, " ".join(page.extract_text() for page in reader.pages)
                    yield path, str(reader.metadata)


def test_nothing_private_is_in_any_output(workspace: Path, lockerleaf: Run) -> None:
    """Private fields, serial numbers, picture metadata, this machine's paths and names."""
    fill_workspace(workspace, "Quite harmless")
    told = lockerleaf("build", "--jobs", "1")
    assert "1 guide built" in told, told
    own = [str(workspace), str(Path.home()), socket.gethostname()]
    own += [f"/{getpass.getuser()}/"]
    seen = 0
    for path, text in outputs(workspace):
        seen += 1
        for secret in (*SECRETS, *(word for word in own if len(word) > 4)):
            assert secret not in text, f"{secret} in {path}"
    assert seen > 60


@pytest.mark.parametrize("hostile", HOSTILE)
def test_hostile_texts_do_nothing(hostile: str, workspace: Path, lockerleaf: Run) -> None:
    """In pages, feed, calendar, stickers and papers each is the text that it is."""
    fill_workspace(workspace, hostile)
    told = lockerleaf("build", "--jobs", "1")
    assert "1 guide built" in told, told
    pages = list((workspace / "public").rglob("*.html"))
    scripts = set()
    for page in pages:
        tree = html5lib.parse(page.read_text("utf-8"), namespaceHTMLElements=False)
        for element in tree.iter():
            names = {str(name) for name in element.attrib}
            assert not any(name.startswith("on") for name in names), f"{page}: {names}"
            for name in ("href", "src", "action"):
                value = element.get(name, "")
                assert not value.strip().lower().startswith("javascript:"), f"{page}: {value}"
            if element.tag == "script" and element.get("type") not in DATA:
                assert not (element.text or "").strip()
                scripts.add(element.get("src", ""))
            assert element.tag != "img" or "pictures/" in element.get("src", "")
    assert all("assets/" in src for src in scripts)
    (home,) = (workspace / "public").glob("*/index.html")
    tree = html5lib.parse(home.read_text("utf-8"), namespaceHTMLElements=False)
    heading = next(tree.iter("h1"))
    assert "".join(heading.itertext()) == hostile
    feed = feedparser.parse((home.parent / "notices.xml").read_bytes())
    assert not feed.bozo
    assert len(feed.entries) == 1
    calendar = icalendar.Calendar.from_ical((home.parent / "due.ics").read_bytes())
    summaries = [str(event.get("summary")) for event in calendar.walk("VEVENT")]
    assert summaries
    assert len(summaries) == (home.parent / "due.ics").read_text("utf-8").count("\nBEGIN:VEVENT")
    for name in ("stickers", "booklet", "handover"):
        reader = pypdf.PdfReader(workspace / "print" / "sm-1" / f"{name}.pdf")
        text = "".join(page.extract_text() for page in reader.pages)
        squeezed = re.sub(r"\W", "", hostile)
        assert squeezed[:12] in re.sub(r"\W", "", text), f"{name} lost it"
        for page in reader.pages:
            for link in page.get("/Annots") or ():
                action = link.get_object().get("/A", {})
                assert not str(action.get("/URI", "")).startswith("javascript:")


@pytest.mark.parametrize("mark", ["\u202a", "\u202e", "\u2066", "\u0000", "\u0007"])
def test_marks_that_turn_text_round_are_refused(
    mark: str, workspace: Path, lockerleaf: Run
) -> None:
    """A title that reads otherwise than it is written is told by line and column."""
    path = workspace / "units" / "sm-1.yml"
    path.write_text(path.read_text("utf-8").replace("stock 1", f"stock {mark}1"), "utf-8")
    told = lockerleaf("check")
    assert re.search(r"^units/sm-1\.yml:4:\d+: \(file\): a control character", told, re.MULTILINE)


def test_marks_of_values_are_refused(workspace: Path, lockerleaf: Run) -> None:
    """What stands for a value in a page until it is rendered can stand in nobody's text."""
    path = workspace / "units" / "sm-1.yml"
    path.write_text(path.read_text("utf-8").replace("stock 1", "stock ⟦unit⟧"), "utf-8")
    told = lockerleaf("check")
    assert "units/sm-1.yml:4:23: (file): '⟦', which stands for values; right: other bra" in told
