"""How the tests look at a printed paper: with pypdf, pikepdf (qpdf) and pypdfium2."""

from __future__ import annotations

import io
import random
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import pikepdf
import pypdf
import pypdfium2

from generator.compose.context import Context, Drawings
from generator.fit.codes import mint_codes, with_entries
from generator.fit.fit import fit_unit, wanted_codes
from generator.flow import Finished, finish_guides
from generator.problems import Problems
from generator.read.sources import Sources

POINTS_PER_MM = 72 / 25.4


def finish(sources: Sources, name: str) -> Finished:
    """Return a unit's finished guide with a code for each place, the same in every run."""
    register = sources.register
    unit = sources.stock.units[name]
    bare = fit_unit(sources.library, unit, sources.stock.dealer, register)
    new = mint_codes(
        register, {name: wanted_codes(bare)}, "2026-01-01", random.Random(name).randrange
    )
    return finish_guides(sources, with_entries(register, new), [name])[0]


def context_of(sources: Sources, done: Finished) -> Context:
    """Return what papers are composed from."""
    drawings = Drawings(sources.assets.signs, sources.assets.pictures)
    return Context(done.guide, done.proof, sources.library, drawings, Problems())


def bare(text: str) -> str:
    """Return only the letters and digits of a text: line ends and quotation marks fall away."""
    return "".join(c for c in text.casefold() if c.isalnum())


@dataclass(frozen=True)
class Paper:
    """A PDF that was made, and what other programs read of it."""

    pdf: bytes

    @cached_property
    def reader(self) -> pypdf.PdfReader:
        """The document as pypdf reads it."""
        return pypdf.PdfReader(io.BytesIO(self.pdf))

    @cached_property
    def pages(self) -> list[str]:
        """The text of each page, as PDFium reads it."""
        document = pypdfium2.PdfDocument(self.pdf)
        texts = [page.get_textpage().get_text_range() for page in document]
        document.close()
        return texts

    @cached_property
    def text(self) -> str:
        """Letters and digits of all pages, headers and footers among them."""
        return bare("".join(self.pages))

    def size_mm(self, number: int) -> tuple[int, int]:
        """Return width and height of a page."""
        box = self.reader.pages[number].mediabox
        return round(box.width / POINTS_PER_MM), round(box.height / POINTS_PER_MM)

    def bookmarks(self) -> list[tuple[str, int]]:
        """Return each bookmark's title with the index of its page, chapters and all below."""

        def walk(entries: list[object]) -> Iterator[tuple[str, int]]:
            for entry in entries:
                if isinstance(entry, list):
                    yield from walk(entry)
                else:
                    yield entry.title, self.reader.get_destination_page_number(entry)

        return list(walk(self.reader.outline))

    def links(self) -> Iterator[tuple[str, int | None]]:
        """Yield the text under each link with the index of the page that it leads to."""
        document = pypdfium2.PdfDocument(self.pdf)
        places = {page.indirect_reference.idnum: n for n, page in enumerate(self.reader.pages)}
        for number, page in enumerate(self.reader.pages):
            seen = document[number].get_textpage()
            for annotation in page.get("/Annots", ()):
                link = annotation.get_object()
                target = link.get("/Dest") or link.get("/A", {}).get("/D")
                quads = [float(n) for n in link.get("/QuadPoints", ())]
                boxes = [
                    (min(q[::2]), min(q[1::2]), max(q[::2]), max(q[1::2]))
                    for q in zip(*[iter(quads)] * 8, strict=True)
                ] or [tuple(float(side) for side in link["/Rect"])]
                text = " ".join(seen.get_text_bounded(*box) for box in boxes)
                if target is None:
                    yield text, None
                    continue
                if isinstance(target, str | bytes):
                    target = self.reader.named_destinations[target].dest_array
                yield text, places[target[0].idnum]
        document.close()


def unembedded_fonts(pdf: bytes) -> list[str]:
    """Return the fonts that are not in the document themselves."""
    with pikepdf.open(io.BytesIO(pdf)) as document:
        described = [
            thing
            for thing in document.objects
            if isinstance(thing, pikepdf.Dictionary) and thing.get("/Type") == "/FontDescriptor"
        ]
        assert described
        return [
            str(thing.FontName)
            for thing in described
            if not {"/FontFile", "/FontFile2", "/FontFile3"} & set(thing.keys())
        ]


def accessibility_faults(pdf: bytes) -> list[str]:
    """Return what PDF/UA-1 asks for and the document lacks, as far as qpdf can see."""
    faults = []
    with pikepdf.open(io.BytesIO(pdf)) as document:
        if not document.Root.get("/MarkInfo", {}).get("/Marked"):
            faults.append("not marked as tagged")
        if "/StructTreeRoot" not in document.Root:
            faults.append("no structure tree")
        if not str(document.Root.get("/Lang", "")):
            faults.append("no language")
        if not document.Root.get("/ViewerPreferences", {}).get("/DisplayDocTitle"):
            faults.append("does not show its title")
        with document.open_metadata() as metadata:
            if metadata.get("pdfuaid:part") != "1":
                faults.append("does not say that it is PDF/UA-1")
        for thing in document.objects:
            if not isinstance(thing, pikepdf.Dictionary):
                continue
            if thing.get("/S") == "/Figure" and not str(thing.get("/Alt", "")):
                faults.append("a figure without a text")
            if thing.get("/Subtype") == "/Link" and not str(thing.get("/Contents", "")):
                faults.append("a link without a text")
        faults += document.check_pdf_syntax()
    return sorted(set(faults))


def drawn_sizes(page: pypdf.PageObject) -> dict[float, int]:
    """Return how many characters of a page are set in each size, in points."""
    sizes: dict[float, int] = {}

    def visit(text: str, matrix: list[float], within: list[float], _: object, size: float) -> None:
        scale = abs(matrix[3] * within[3]) or 1.0
        key = round(size * scale, 1)
        if shown := re.sub(r"\s", "", text):
            sizes[key] = sizes.get(key, 0) + len(shown)

    page.extract_text(visitor_text=visit)
    return sizes
