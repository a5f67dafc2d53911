"""Single stickers as files, read back by Pillow, Chromium, two decoders and ndeflib."""

from __future__ import annotations

import io
import itertools
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree

import cv2
import ndef
import numpy as np
import pytest
from browser.conftest import FLAGS, chromium_program, in_a_thread
from PIL import Image
from playwright.sync_api import sync_playwright

from generator.render.nfc import ndef_message
from generator.render.papers import sheets_of
from generator.render.qr import make_symbol
from generator.render.singles import render_singles
from generator.render.stickers import plan_stickers
from render.paper import Ready, ink_box, read_with_opencv, read_with_zxing

Lockerleaf = Callable[..., str]
ROLLS = ("roll-62x40", "roll-70x50")


def singles(ready: Ready, stock_name: str, shape: str) -> dict[str, bytes]:
    """Return the preview unit's stickers as files."""
    sources = ready.sources
    guide = ready.guides[sources.stock.dealer.preview]
    stickers = plan_stickers(guide, sources.library)
    stock = sources.library.labels[stock_name]
    return render_singles(stickers, stock, sheets_of(sources), shape)


@pytest.mark.parametrize("stock_name", ROLLS)
@pytest.mark.parametrize("dpi", [300, 600])
def test_pictures_have_modules_of_whole_dots(ready: Ready, stock_name: str, dpi: int) -> None:
    """Each picture has a label's size, tells its dots an inch, and reads in both decoders.

    Its symbol is black and white alone, and every module the same 9 to 11 dots at 300 an inch.
    """
    sources = ready.sources
    stock = sources.library.labels[stock_name]
    guide = ready.guides[sources.stock.dealer.preview]
    stickers = {s.code: s for s in plan_stickers(guide, sources.library)}
    files = singles(ready, stock_name, f"png{dpi}")
    assert set(files) == {f"{code}.png" for code in stickers}
    for name, content in files.items():
        opened = Image.open(io.BytesIO(content))
        assert opened.info["dpi"] == pytest.approx((dpi, dpi), abs=0.01)
        size = [mm / 25.4 * dpi for mm in (stock.label_w_mm, stock.label_h_mm)]
        assert opened.size == pytest.approx(size, abs=1)
        picture = np.array(opened.convert("L"))
        address = stickers[name.removesuffix(".png")].address
        seen = read_with_zxing(picture)
        assert seen is not None
        assert (seen.text, seen.level) == (address, "Q")
        assert read_with_opencv(picture) == address
        modules = len(make_symbol(address).rows)
        ink = ink_box(picture, seen.box, 2 * dpi // 100)
        dots = ink.shape[1] // modules
        assert ink.shape == (dots * modules, dots * modules)
        assert 9 <= dots * 300 / dpi <= 11
        middle = ink[dots // 2 :: dots]
        runs = {
            len(list(run)) % dots for row in middle.tolist() for _, run in itertools.groupby(row)
        }
        assert runs == {0}
        left, top, right, bottom = seen.box
        symbol = picture[top + 2 : bottom - 2, left + 2 : right - 2]
        assert set(np.unique(symbol)) == {0, 255}


@in_a_thread
def test_vector_files_stand_alone(ready: Ready) -> None:
    """Each drawing holds its symbol itself, is a label's size, and reads as Chromium shows it."""
    sources = ready.sources
    guide = ready.guides[sources.stock.dealer.preview]
    stickers = plan_stickers(guide, sources.library)
    stock = sources.library.labels["roll-62x40"]
    files = singles(ready, "roll-62x40", "svg")
    assert set(files) == {f"{sticker.code}.svg" for sticker in stickers}
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium_program(), args=FLAGS)
        page = browser.new_page(viewport={"width": 800, "height": 600}, device_scale_factor=3)
        for sticker in stickers[:4]:
            svg = files[f"{sticker.code}.svg"].decode()
            root = ElementTree.fromstring(svg)
            assert "data:" not in svg
            assert "<image" not in svg
            width = float(root.attrib["width"].removesuffix("pt")) / 72 * 25.4
            assert width == pytest.approx(stock.label_w_mm, rel=0.001)
            page.set_content(f"<body style='margin:0'>{svg}</body>")
            shot = cv2.imdecode(np.frombuffer(page.screenshot(), np.uint8), cv2.IMREAD_GRAYSCALE)
            seen = read_with_zxing(shot)
            assert seen is not None
            assert seen.text == sticker.address
        browser.close()


def test_tag_records_open_the_page(ready: Ready) -> None:
    """An independent library reads one URI record in each, with the address, host in small."""
    for guide in ready.guides.values():
        for sticker in plan_stickers(guide, ready.sources.library):
            (record,) = ndef.message_decoder(ndef_message(sticker.address))
            assert record.type == "urn:nfc:wkt:U"
            assert record.iri == sticker.address.replace(
                "HTTPS://WDL.EXAMPLE", "https://wdl.example"
            )
            # The library writes the same bytes.
            assert b"".join(ndef.message_encoder([ndef.UriRecord(record.iri)])) == (
                ndef_message(sticker.address)
            )


def test_size_of_a_tag_record() -> None:
    """24 bytes, prefix 04, as measured when this was designed."""
    message = ndef_message("https://guide.example/7K3QF")
    assert (len(message), message[4]) == (24, 0x04)


@pytest.mark.parametrize("address", ["http://a.example/7K3Q/", "https://a.example/" + "A" * 260])
def test_no_record_for_another_sort_of_address(address: str) -> None:
    """Only short https addresses have a record."""
    with pytest.raises(ValueError, match="no short https address"):
        ndef_message(address)


def test_command(workspace: Path, lockerleaf: Lockerleaf) -> None:
    """Files are named by their code, beside them the records for tags."""
    told = lockerleaf("stickers", "sm-1", "--single", "png300", "--nfc").splitlines()
    folder = workspace / "print" / "sm-1"
    assert "print/sm-1/stickers/M9S3-461.png" in told
    assert "print/sm-1/nfc/M9S3-461.ndef" in told
    assert len(list((folder / "stickers").glob("*.png"))) == 8
    assert len(list((folder / "nfc").glob("*.ndef"))) == 8
    assert not (folder / "stickers.pdf").exists()
    assert lockerleaf("stickers", "--single", "svg", "--first", "3") == (
        "Error: --first is for sheets; right: leave it out with --single\n"
    )
