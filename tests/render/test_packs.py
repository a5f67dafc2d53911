"""The packs of a guide hold it, line for line, and one of them is that of every alike unit."""

from __future__ import annotations

import gzip
import json
import re
from collections.abc import Callable, Mapping
from dataclasses import replace

import pytest

from generator.flow import finish_guides
from generator.plugin import asset_files
from generator.read.sources import Sources
from generator.render.packs import Pack, PackStart, pack_common, pack_own, read_common, read_own
from generator.render.pages import HtmlPage
from generator.render.site import Rendered, SiteRenderer

Damage = Callable[[bytes], bytes]

LD = re.compile(r'<script type="application/ld\+json">.*?</script>', re.DOTALL)


def render(sources: Sources, name: str) -> Rendered:
    """Return a unit's guide as files."""
    (done,) = finish_guides(sources, sources.register, [name])
    return SiteRenderer(sources).render(done.composed)


def packs_of(files: Mapping[str, bytes]) -> list[bytes]:
    """Return the packs that a guide's worker names: the common one, and the unit's own."""
    first = files["worker.js"].decode().partition("\n")[0]
    return [files[part["file"]] for part in told(first)["parts"]]


def told(first: str) -> dict:
    """Return what the first line of a worker tells."""
    return json.loads(first.removeprefix("const PACK = ").removesuffix(";"))


class Unpacked:
    """A guide as its packs tell it, read by nothing of the program."""

    def __init__(self, common: bytes, own: bytes, revision: str) -> None:
        """Take both packs apart."""
        self.revision = revision
        self.lines, self.heads = [], []
        for pack in (common, own):
            *lines, head = gzip.decompress(pack).decode().split("\n")
            assert len(lines) == len(set(lines)), "a line is there twice"
            self.lines.append(lines)
            self.heads.append(json.loads(head))

    def text(self, part: int, runs: list[int]) -> str:
        """Return what runs of a part's lines tell."""
        pairs = zip(runs[::2], runs[1::2], strict=True)
        return "\n".join(line for at, many in pairs for line in self.lines[part][at : at + many])

    def files(self) -> dict[str, str]:
        """Return every page and text."""
        common, own = self.heads
        found = {name: self.text(1, runs) for name, runs in own["files"].items()}
        for path, page in own["pages"].items():
            frame, slots, part = (
                (page, common["pages"][path], 0) if isinstance(page, int) else (*page, 1)
            )
            pieces = []
            for index, piece in enumerate(own["frames"][frame]):
                if index % 2 == 0:
                    pieces.append(self.text(1, piece))
                elif piece == "revision":
                    pieces.append(self.revision)
                else:
                    value = slots[piece]
                    pieces.append(value if isinstance(value, str) else self.text(part, value))
            found[path] = "".join(pieces)
        return found


@pytest.mark.slow
@pytest.mark.parametrize("name", ["pv-5001", "lt-2107"])
def test_packs_are_the_guide(demo: Sources, name: str) -> None:
    """Every page, in every language, and every text; what only machines read is left out."""
    files = render(demo, name).files
    revision = told(files["worker.js"].decode().partition("\n")[0])["revision"]
    assert revision in files["index.html"].decode()
    unpacked = Unpacked(*packs_of(files), revision).files()
    texts = {
        path: content.decode()
        for path, content in files.items()
        if path.endswith((".html", ".js", ".svg", ".ics", ".xml")) and path != "worker.js"
    }
    assert unpacked.keys() == texts.keys()
    for path, text in texts.items():
        assert unpacked[path] == LD.sub("", text), path


@pytest.mark.slow
def test_alike_units_have_one_pack_in_common(demo: Sources) -> None:
    """It tells nothing of a unit's own, so whoever has one guide's has the other's."""
    unit = demo.stock.units["cv-3004"]
    other = replace(unit, name="cv-9", title="Another name altogether")
    stock = replace(demo.stock, units={**demo.stock.units, "cv-9": other})
    sources = replace(demo, stock=stock)
    (common, own), (common_9, own_9) = (
        packs_of(render(sources, name).files) for name in ("cv-3004", "cv-9")
    )
    assert common == common_9
    assert own != own_9
    whole = gzip.decompress(common).decode()
    assert unit.title not in whole
    assert "Another name altogether" in gzip.decompress(own_9).decode()


def test_a_common_pack_is_read_back() -> None:
    """With what goes into each frame; the order in which pages come does not matter."""
    pages = {
        "b.html": {"title": "B", "guard": "", "content": "one\ntwo\n\none"},
        "a.html": {"title": "A & b", "guard": "12", "content": "two\nthree"},
    }
    pack = pack_common(pages)
    assert read_common(pack) == pages
    assert pack == pack_common(dict(reversed(pages.items())))
    assert Pack.of(pack).file == f"pack.{Pack.of(pack).digest[:8]}.bin"


@pytest.mark.parametrize(
    "damage",
    [
        lambda pack: pack[:-9],
        lambda pack: pack[:20] + b"\0\0\0" + pack[23:],
        lambda pack: b"no pack",
        lambda pack: gzip.compress(b"no head"),
        lambda pack: gzip.compress(b'{"pages": [1]}'),
        lambda pack: gzip.compress(b'{"pages": {"a.html": [7]}, "frames": []}'),
    ],
)
@pytest.mark.parametrize("read", [read_common, read_own])
def test_a_damaged_pack_is_refused(damage: Damage, read: Callable[[bytes], object]) -> None:
    """It is said in one way, whatever is wrong."""
    pack = pack_common({"a.html": {"title": "A", "content": "one"}})
    with pytest.raises(ValueError, match=r"."):
        read(damage(pack))


def test_own_pack_has_frames_once_and_begins_with_what_all_have() -> None:
    """A page of the common pack is told by its frame alone; a start is not used up."""
    frame = ("<html>\n<title>", "title", "</title>\n<main>\n", "content", "\n</main>")
    slots = {"title": "A", "content": "x\ny", "revision": "12ab"}
    pages = [HtmlPage("a.html", frame, slots, True), HtmlPage("b.html", frame, slots, False)]
    start = PackStart(["<main>\nnever used"])
    others = {"p.webp": b"\x00", "c.js": b"one\r\n\n", "film/a.vtt": b""}
    pack = pack_own(pages, others, start)
    *lines, head = gzip.decompress(pack).decode().split("\n")
    assert lines[:2] == ["<main>", "never used"]
    shown = json.loads(head)
    assert len(shown["frames"]) == 1
    assert shown["pages"]["a.html"] == 0
    assert shown["pages"]["b.html"][0] == 0
    assert "12ab" not in head
    assert shown["pictures"] == ["p.webp"]
    unpacked = Unpacked(pack_common({"a.html": slots}), pack, "").files()
    assert unpacked["c.js"] == "one\r\n\n"
    assert unpacked["a.html"] == unpacked["b.html"] == "".join(pages[0].pieces)
    assert pack == pack_own(pages, others, start), "the start was used up"


@pytest.mark.slow
@pytest.mark.parametrize("name", ["pv-5001", "lt-2107"])
def test_an_own_pack_is_read_back(demo: Sources, name: str) -> None:
    """What was read makes the same pack again, byte for byte."""
    (done,) = finish_guides(demo, demo.register, [name])
    rendered = SiteRenderer(demo).render(done.composed)
    told = read_own(rendered.packs[1].content)
    styles = [f"<style>{style}</style>" for style in (demo.assets.style, demo.assets.number_style)]
    start = PackStart([*asset_files(demo.assets).values(), *styles])
    assert pack_own(told.every_page(), told.others(), start) == rendered.packs[1].content
