"""Sticker sheets, read back by programs that had no part in printing them.

pypdf and qpdf (through pikepdf) read the PDF; pypdfium2 prints it to pixels at 300 dpi; zxing-cpp
and OpenCV decode what is there.
"""

from __future__ import annotations

import io
import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pikepdf
import pypdf
import pytest

from generator.problems import ProblemsFound
from generator.read.labels import LabelStock
from generator.render.qr import MOST_DOTS, QUIET_MODULES, make_symbol
from generator.render.stickers import Sticker, plan_task_stickers
from render.paper import (
    PIXELS_PER_MM,
    Damage,
    Ready,
    ink_box,
    label_crops,
    photograph,
    printed,
    read_with_opencv,
    read_with_zxing,
    sheets,
)

STOCKS = sorted(
    path.stem for path in (Path(__file__).parents[2] / "docs_src" / "labels").glob("*.yml")
)

SMALL_STOCK = "a4-21-of-63x38"
LARGE_STOCK = "a4-8-of-99x67"


@pytest.fixture(params=STOCKS)
def stock(request: pytest.FixtureRequest, ready: Ready) -> LabelStock:
    """Return each label stock of the library in turn."""
    return ready.sources.library.labels[request.param]


@pytest.fixture
def small_stock(ready: Ready) -> LabelStock:
    """Return the sheet with the least room for a symbol."""
    return ready.sources.library.labels[SMALL_STOCK]


@pytest.fixture
def a_unit(ready: Ready) -> str:
    """Return the unit that the dealer previews."""
    return ready.sources.stock.dealer.preview


def test_three_layouts_by_measurements_and_single_labels(ready: Ready) -> None:
    """The library has at least three sheets and a roll, all told by their measurements."""
    stocks = ready.sources.library.labels.values()
    assert sum(stock.columns * stock.rows > 1 for stock in stocks) >= 3
    assert any(stock.columns * stock.rows == 1 for stock in stocks)
    assert all("mm" in stock.title for stock in stocks)


def test_every_place_with_tasks_has_its_sticker(ready: Ready) -> None:
    """Stickers are the guide's own and one for each place at which a task is done, in order."""
    for guide in ready.guides.values():
        wanted = [spot.name for spot in guide.places if guide.tasks_at(spot.name)]
        assert list(guide.place_codes) == wanted
        assert len(wanted) == len(set(guide.place_codes.values()))


def test_address_is_short_upper_case_and_ends_in_a_slash(ready: Ready, a_unit: str) -> None:
    """An address is alphanumeric and fits version 2 at level Q, at most 29 characters.

    ISO/IEC 18004:2015, table 7.
    """
    stock = ready.sources.library.labels[LARGE_STOCK]
    for sticker in printed(ready, a_unit, stock)[0]:
        assert sticker.address == sticker.address.upper()
        assert sticker.address.endswith(f"/{sticker.code.replace('-', '/')}/")
        assert len(sticker.address) <= 29
        assert make_symbol(sticker.address).version == 2


@pytest.mark.slow
def test_pdf_is_what_a_reader_and_an_archive_need(
    ready: Ready, a_unit: str, stock: LabelStock
) -> None:
    """Pages, words, tags, language, title and embedded fonts, as pypdf reads them."""
    stickers, pdf = printed(ready, a_unit, stock)
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    per_page = stock.columns * stock.rows
    labels = len(stickers) + (per_page > 1)  # the ruler takes a label of a sheet
    assert len(reader.pages) == -(-labels // per_page)
    words = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    for sticker in stickers:
        assert sticker.code in words
        assert sticker.title in words
        if sticker.caution:
            assert sticker.caution.sticker in words
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert reader.trailer["/Root"]["/StructTreeRoot"]["/K"]
    assert reader.trailer["/Root"]["/Lang"] == "en"
    assert reader.metadata.title == f"{ready.sources.stock.dealer.title}: {stock.title}"
    for page in reader.pages:
        box = page.mediabox
        assert float(box.width) == pytest.approx(stock.page_w_mm / 25.4 * 72, abs=0.05)
        assert float(box.height) == pytest.approx(stock.page_h_mm / 25.4 * 72, abs=0.05)
    fonts = [font for page in reader.pages for font in fonts_of(page)]
    assert fonts
    assert all(embedded(font) for font in fonts)


def fonts_of(page: pypdf.PageObject) -> list[pypdf.generic.DictionaryObject]:
    """Return the fonts that a page names."""
    fonts = page["/Resources"].get("/Font", {})
    return [fonts[name].get_object() for name in fonts]


def embedded(font: pypdf.generic.DictionaryObject) -> bool:
    """Return whether a font's outlines are in the file (ISO 32000-1, 9.9)."""
    inner = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
    descriptor = inner["/FontDescriptor"].get_object()
    return any(f"/FontFile{kind}" in descriptor for kind in ("", "2", "3"))


@pytest.mark.slow
def test_every_symbol_has_a_text_alternative(ready: Ready, a_unit: str, stock: LabelStock) -> None:
    """Each symbol is a tagged figure whose alternative text is its address (ISO 14289-1, 7.3)."""
    stickers, pdf = printed(ready, a_unit, stock)
    with pikepdf.open(io.BytesIO(pdf)) as document:
        told = [
            str(thing.Alt)
            for thing in document.objects
            if isinstance(thing, pikepdf.Dictionary) and thing.get("/S") == "/Figure"
        ]
    assert sorted(text for text in told if text.startswith("QR ")) == sorted(
        f"QR {sticker.address}" for sticker in stickers
    )


@pytest.mark.slow
def test_qpdf_finds_nothing_wrong(ready: Ready, a_unit: str, stock: LabelStock) -> None:
    """The structure checker qpdf, through pikepdf, has no complaint."""
    with pikepdf.open(io.BytesIO(printed(ready, a_unit, stock)[1])) as document:
        assert document.check_pdf_syntax() == []


def test_reprint_is_byte_identical(ready: Ready, a_unit: str, small_stock: LabelStock) -> None:
    """The same stickers give the same bytes: no date, no random identifier."""
    assert printed(ready, a_unit, small_stock)[1] == printed(ready, a_unit, small_stock)[1]


@pytest.mark.slow
def test_every_sticker_decodes_in_two_decoders(ready: Ready, stock: LabelStock) -> None:
    """Every sticker of every unit, printed at 300 dpi, reads as its own address in both."""
    for unit in ready.guides:
        stickers, pdf = printed(ready, unit, stock)
        crops = label_crops(sheets(pdf), stock)
        for sticker, crop in zip(stickers, crops, strict=False):
            reading = read_with_zxing(crop)
            assert reading is not None, sticker
            assert (reading.text, reading.level) == (sticker.address, "Q")
            assert read_with_opencv(crop) == sticker.address
        rest = crops[len(stickers) :]
        assert all(read_with_zxing(crop) is None for crop in rest)


@pytest.mark.slow
def test_symbol_has_its_size_on_whole_dots(ready: Ready, a_unit: str, stock: LabelStock) -> None:
    """On the printed page a symbol measures within 1 % of whole 300 dpi dots a module.

    Its quiet zone is clear: four modules (ISO/IEC 18004:2015, 6.3.8).
    """
    stickers, pdf = printed(ready, a_unit, stock)
    crops = label_crops(sheets(pdf), stock)
    for sticker, crop in zip(stickers, crops, strict=False):
        reading = read_with_zxing(crop)
        assert reading is not None
        modules = len(make_symbol(sticker.address).rows)
        ink = ink_box(crop, reading.box, 12)
        pitch = (ink.shape[0] + ink.shape[1]) / 2 / modules
        assert 9 <= round(pitch) <= MOST_DOTS
        assert pitch == pytest.approx(round(pitch), rel=0.01)
        # Nothing but the symbol is dark within its quiet zone.
        quiet = ink_box(crop, reading.box, round((QUIET_MODULES - 0.5) * pitch))
        assert quiet.shape == ink.shape


def test_edges_of_modules_fall_on_dots(ready: Ready, a_unit: str, small_stock: LabelStock) -> None:
    """Printed without smoothing, every run of dark is a whole number of equal modules."""
    stickers, pdf = printed(ready, a_unit, small_stock)
    crops = label_crops(sheets(pdf, smooth=False), small_stock)
    for sticker, crop in zip(stickers, crops, strict=False):
        reading = read_with_zxing(crop)
        assert reading is not None
        ink = ink_box(crop, reading.box, 12)
        modules = len(make_symbol(sticker.address).rows)
        dots = round(ink.shape[1] / modules)
        middle = ink[dots // 2 :: dots][:modules]
        runs = {
            len(list(run)) % dots for row in middle for _, run in itertools.groupby(row.tolist())
        }
        assert runs == {0}


def test_a_host_too_long_for_the_label_is_refused(
    ready: Ready, a_unit: str, small_stock: LabelStock
) -> None:
    """An address that would need smaller modules than can be read stops with one clear line."""
    guide = ready.guides[a_unit]
    long_host = replace(guide.dealer, address="https://owner-guides.wendle-dale-leisure.example")
    long_ready = replace(ready, guides={a_unit: replace(guide, dealer=long_host)})
    with pytest.raises(ProblemsFound) as caught:
        printed(long_ready, a_unit, small_stock)
    (problem,) = caught.value.problems
    address = f"HTTPS://OWNER-GUIDES.WENDLE-DALE-LEISURE.EXAMPLE/{guide.code}/"
    version = make_symbol(address).version
    least = (17 + 4 * version + 8) * 9 * 25.4 / 300
    assert str(problem) == (
        f"docs_src/labels/{SMALL_STOCK}.yml:1:1: label: leaves 25.3 mm for the symbol of "
        f"{address}; right: at least {least:.1f} mm: a larger label or a shorter address"
    )


def test_a_part_used_sheet_is_started_at_its_first_free_label(
    ready: Ready, a_unit: str, small_stock: LabelStock
) -> None:
    """Labels before the first free one stay blank, and the stickers follow from there."""
    stickers, pdf = printed(ready, a_unit, small_stock, first_label=5, ruler=False)
    crops = label_crops(sheets(pdf), small_stock)
    assert all(crop.min() == 255 for crop in crops[:4])
    for sticker, crop in zip(stickers, crops[4:], strict=False):
        reading = read_with_zxing(crop)
        assert reading is not None
        assert reading.text == sticker.address
    assert all(crop.min() == 255 for crop in crops[4 + len(stickers) :])


def test_cut_lines_only_when_asked_for(ready: Ready, a_unit: str, small_stock: LabelStock) -> None:
    """With cut lines, each label's four edges are drawn; without, no ink is on them."""

    def edge_ink(cut: bool) -> list[bool]:
        _, pdf = printed(ready, a_unit, small_stock, cut_lines=cut, ruler=False)
        page = sheets(pdf)[0]
        left, top = small_stock.left_mm, small_stock.top_mm
        width, height = small_stock.label_w_mm, small_stock.label_h_mm
        found = []
        for x, y in (
            (left, top + height / 2),
            (left + width, top + height / 2),
            (left + width / 2, top),
            (left + width / 2, top + height),
        ):
            column, row = round(x * PIXELS_PER_MM), round(y * PIXELS_PER_MM)
            found.append(bool(page[row - 2 : row + 3, column - 2 : column + 3].min() < 230))
        return found

    assert edge_ink(cut=True) == [True] * 4
    assert edge_ink(cut=False) == [False] * 4


@pytest.mark.slow
@pytest.mark.parametrize("name", [name for name in STOCKS if name.startswith("a4")])
def test_ruler_is_fifty_millimetres(ready: Ready, a_unit: str, name: str) -> None:
    """The ruler's longest line, in the label after the last sticker, measures 50 mm within 1 %."""
    stock = ready.sources.library.labels[name]
    stickers, pdf = printed(ready, a_unit, stock)
    crop = label_crops(sheets(pdf), stock)[len(stickers)]
    longest = max(
        sum(1 for _ in run)
        for row in (crop < 160).tolist()
        for dark, run in itertools.groupby(row)
        if dark
    )
    assert longest / PIXELS_PER_MM == pytest.approx(50, rel=0.01)
    _, without = printed(ready, a_unit, stock, ruler=False)
    bare = label_crops(sheets(without), stock)
    assert all(crop.min() == 255 for crop in bare[len(stickers) :])


@pytest.mark.slow
def test_nothing_is_printed_outside_its_label(ready: Ready, stock: LabelStock) -> None:
    """No ink stands in the margins and gaps between labels, where it would be cut or missed."""
    for unit in ready.guides:
        for page in sheets(printed(ready, unit, stock)[1]):
            rest = page.copy()
            for crop in label_crops([rest], stock):
                crop[:] = 255
            assert rest.min() == 255


@pytest.mark.slow
def test_words_stay_clear_of_the_labels_edge(ready: Ready, stock: LabelStock) -> None:
    """Two millimetres inside every label's edge stay blank, for the tolerance of sheet feeders."""
    band = int(1.8 * PIXELS_PER_MM)
    for unit in ready.guides:
        for crop in label_crops(sheets(printed(ready, unit, stock)[1]), stock):
            inner = crop.copy()
            inner[band:-band, band:-band] = 255
            assert inner.min() == 255


def test_task_stickers_say_their_task(ready: Ready, a_unit: str, small_stock: LabelStock) -> None:
    """A sticker for a task has the task's title and gravest caution, and its own code."""
    guide = ready.guides[a_unit]
    task = next(task for task in guide.tasks if task.cautions)
    (sticker,) = plan_task_stickers(guide, ready.sources.library, {task.slug: f"{guide.code}-000"})
    assert sticker == Sticker(
        f"{guide.code}-000",
        f"HTTPS://WDL.EXAMPLE/{guide.code}/000/",
        task.title,
        task.cautions[0],
    )


FAIR = (
    Damage("slight tilt and blur", tilt=10, blur=0.2),
    Damage("dusk, and light from one side", light=150, shade=0.3, blur=0.2),
    Damage("round a locker's edge, as wide as 0.4 of its radius", curve=0.4, blur=0.2),
    Damage("from a quarter of a metre", distance_mm=250),
)


@pytest.mark.slow
@pytest.mark.parametrize("fair", FAIR, ids=[damage.title for damage in FAIR])
def test_a_fair_photograph_always_decodes(
    ready: Ready, a_unit: str, small_stock: LabelStock, fair: Damage
) -> None:
    """In fair conditions the smallest symbols all read, in both decoders.

    The rates under worse damage are printed by `tests/bench/scan_rates.py`.
    """
    stickers, pdf = printed(ready, a_unit, small_stock)
    crops = label_crops(sheets(pdf), small_stock)
    for seed, (sticker, crop) in enumerate(zip(stickers, crops, strict=False)):
        reading = read_with_zxing(crop)
        assert reading is not None
        modules = len(make_symbol(sticker.address).rows)
        picture = photograph(crop, reading.box, modules, fair, seed)
        assert not np.array_equal(picture, crop)
        seen = read_with_zxing(picture)
        assert seen is not None
        assert seen.text == sticker.address
        assert read_with_opencv(picture) == sticker.address
