"""Pages of a booklet put on sheets so that the sheets, printed on both sides, fold into it."""

from __future__ import annotations

from io import BytesIO

from pypdf import PageObject, PdfReader, PdfWriter
from pypdf.generic import (
    ArrayObject,
    DecodedStreamObject,
    DictionaryObject,
    FloatObject,
    IndirectObject,
    NameObject,
    PdfObject,
    StreamObject,
)

MOST_SHEETS = 10
"""In one fold. More sheets than about this spring open and their inner pages stand out, so a
thicker booklet is folded in several sections, one behind the other (common practice)."""

_PAGES = 4
"""On one sheet: two on each side."""


def fold_booklet(pdf: bytes) -> bytes:
    """Return the booklet on sheets of twice its page, for duplex printing on the short edge.

    The sheets are for print only: tags, links and bookmarks stay behind in the booklet itself.
    """
    reader = PdfReader(BytesIO(pdf))
    width, height = (float(length) for length in reader.pages[0].mediabox[2:])
    writer = PdfWriter()
    for sides in fold_order(len(reader.pages)):
        sheet = writer.add_blank_page(2 * width, height)
        forms, drawn = DictionaryObject(), []
        for number, shift in zip(sides, (0.0, width), strict=True):
            if number is not None:
                name = f"/P{number}"
                forms[NameObject(name)] = _form(reader.pages[number - 1], writer)
                drawn.append(f"q 1 0 0 1 {shift:.4f} 0 cm {name} Do Q\n")
        sheet[NameObject("/Resources")] = DictionaryObject({NameObject("/XObject"): forms})
        content = DecodedStreamObject()
        content.set_data("".join(drawn).encode())
        sheet[NameObject("/Contents")] = writer._add_object(content)
    title = reader.metadata.title if reader.metadata else None
    writer.metadata = {"/Title": title} if title else None
    written = BytesIO()
    writer.write(written)
    return written.getvalue()


def count_pages(pdf: bytes) -> int:
    """Return how many pages a PDF has."""
    return len(PdfReader(BytesIO(pdf)).pages)


def _form(page: PageObject, writer: PdfWriter) -> IndirectObject:
    """Return a page as a drawing that a sheet can show, its content taken over unread."""
    contents: PdfObject | None = page["/Contents"].get_object()
    parts = contents if isinstance(contents, ArrayObject) else (contents,)
    streams = [s for part in parts if part and isinstance(s := part.get_object(), StreamObject)]
    plain = DecodedStreamObject()
    plain.set_data(b"\n".join(stream.get_data() for stream in streams))
    form = plain.flate_encode()
    form[NameObject("/Type")] = NameObject("/XObject")
    form[NameObject("/Subtype")] = NameObject("/Form")
    form[NameObject("/BBox")] = ArrayObject(FloatObject(side) for side in page.mediabox)
    form[NameObject("/Resources")] = page["/Resources"].clone(writer)
    return writer._add_object(form)


def fold_sections(pages: int) -> tuple[int, ...]:
    """Return the sheets of each section, as even as can be, for so many pages."""
    sheets = -(-pages // _PAGES)
    count = -(-sheets // MOST_SHEETS)
    return tuple(sheets // count + (1 if n < sheets % count else 0) for n in range(count))


def fold_order(pages: int) -> tuple[tuple[int | None, int | None], ...]:
    """Return the (left, right) page numbers of each side of each sheet, from 1; None is blank.

    Sheet by sheet, front then back, section by section.
    """
    sides: list[tuple[int | None, int | None]] = []
    first = 1
    for sheets in fold_sections(pages):
        last = first + _PAGES * sheets - 1
        for n in range(sheets):
            low, high = first + 2 * n, last - 2 * n
            sides += [(high, low), (low + 1, high - 1)]
        first = last + 1
    return tuple(
        (
            left if left is not None and left <= pages else None,
            right if right is not None and right <= pages else None,
        )
        for left, right in sides
    )
