"""Task pages as structured data, read by a parser and an RDF library that know nothing of us."""

from __future__ import annotations

import gzip
import re
from dataclasses import replace

import extruct
import html5lib
import pytest
from markupsafe import Markup
from rdflib import RDF, Graph, Literal, Namespace
from rdflib.plugins.shared.jsonld.context import Context as JsonLdContext

from generator.compose.compose import Composed
from generator.flow import finish_guides
from generator.read.sources import Sources
from generator.render.site import SiteRenderer

UNIT = "lt-2107"

SCHEMA = Namespace("https://schema.org/")

MOST_BYTES = 650
"""What a page may weigh more, compressed with gzip as a web server does."""

KNOWN = {
    "HowTo": {"name", "description", "inLanguage", "totalTime", "tool", "step"},
    "HowToStep": {"position", "text", "itemListElement"},
    "HowToDirection": {"text"},
    "HowToTip": {"text"},
}
"""Types and those of their properties that are used (schema.org, release 28, from memory)."""

_DATA = re.compile(r'<script type="application/ld\+json">[^<]*</script>')


@pytest.fixture(scope="module")
def composed(demo: Sources) -> Composed:
    """Return one guide, composed."""
    return finish_guides(demo, demo.register, [UNIT])[0].composed


@pytest.fixture(scope="module")
def pages(demo: Sources, composed: Composed) -> dict[str, str]:
    """Return its pages about a task, landing pages among them."""
    files = SiteRenderer(demo).render(composed).files
    htmls = {path: text.decode() for path, text in files.items() if path.endswith(".html")}
    return {path: html for path, html in htmls.items() if '<body class="task"' in html}


def howto_of(html: str) -> dict[str, object]:
    """Return the one thing that extruct finds in a page's JSON-LD."""
    (found,) = extruct.extract(html, syntaxes=["json-ld"])["json-ld"]
    return found


PRINTED = str.maketrans({"\u2019": "'", "\u201c": '"', "\u201d": '"'})
"""Quotation marks and apostrophes of print, which data have, as the ones of pages."""


def words(element: object) -> str:
    """Return the words within an element."""
    return " ".join("".join(element.itertext()).split())


def seen(html: str) -> tuple[str, list[str], int]:
    """Return a page's title, its steps and how many cautions it has, as html5lib reads them."""
    tree = html5lib.parse(html, namespaceHTMLElements=False)
    steps = [words(p) for p in tree.iter("p") if p.get("class") == "do"]
    boxes = [e for e in tree.iter() if "mind" in (e.get("class") or "").split()]
    return words(tree.find(".//h1")), steps, len(boxes)


def test_every_task_with_steps_is_data_too(pages: dict[str, str]) -> None:
    """Title, steps and number of cautions are those that a reader sees."""
    checked = 0
    for path, html in pages.items():
        title, steps, cautions = seen(html)
        if not steps:
            assert not _DATA.search(html), path
            continue
        told = howto_of(html)
        assert title.startswith(str(told["name"]).translate(PRINTED)), path
        listed = [step for step in told["step"] if step["@type"] == "HowToStep"]
        assert [step["text"].translate(PRINTED) for step in listed] == steps, path
        assert [step["position"] for step in listed] == list(range(1, len(steps) + 1)), path
        inner = [tip for step in listed for tip in step.get("itemListElement", [])]
        tips = [tip for tip in (*told["step"], *inner) if tip["@type"] == "HowToTip"]
        assert len(tips) == cautions, path
        checked += 1
    assert checked > 100


def test_an_rdf_library_reads_the_same(
    pages: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Read as JSON-LD, each page holds one HowTo, and no type or property that is not known."""

    def vocabulary(self: JsonLdContext, *_: object, **__: object) -> None:
        # As schema.org's own context does for these words; it lies on the network.
        self.vocab = str(SCHEMA)

    monkeypatch.setattr(JsonLdContext, "_prep_sources", vocabulary)
    for path, html in pages.items():
        data = _DATA.search(html)
        if not data:
            continue
        graph = Graph().parse(data=data[0].partition(">")[2][: -len("</script>")], format="json-ld")
        assert len(set(graph.subjects(RDF.type, SCHEMA.HowTo))) == 1, path
        for thing, sort in graph.subject_objects(RDF.type):
            used = {str(p).removeprefix(SCHEMA) for p in graph.predicates(thing) if p != RDF.type}
            assert used <= KNOWN[str(sort).removeprefix(SCHEMA)], path
        (how,) = graph.subjects(RDF.type, SCHEMA.HowTo)
        (time,) = graph.objects(how, SCHEMA.totalTime)
        assert isinstance(time, Literal)
        assert re.fullmatch(r"PT[1-9]\d*M", str(time)), path


def test_it_weighs_little(pages: dict[str, str]) -> None:
    """The words stand on the page already, so their second telling costs a compressor little."""
    for path, html in pages.items():
        bare = _DATA.sub("", html)
        more = len(gzip.compress(html.encode(), 6)) - len(gzip.compress(bare.encode(), 6))
        assert more <= MOST_BYTES, path


def test_no_value_ends_the_element(demo: Sources) -> None:
    """A value with markup in it is text, in data too."""
    hostile = '</script><script src="x.js"></script>"]}<!--'
    unit = demo.stock.units[UNIT]
    odd = replace(
        unit,
        fitted=tuple(
            replace(one, title=hostile, values={**one.values, "isolator": hostile})
            if "isolator" in one.values
            else one
            for one in unit.fitted
        ),
    )
    stock = replace(demo.stock, units={**demo.stock.units, UNIT: odd})
    (done,) = finish_guides(replace(demo, stock=stock), demo.register, [UNIT])
    held = 0
    for page in done.composed.pages:
        for value in page.values.values():
            if isinstance(value, Markup) and "ld+json" in value:
                assert value.count("<") == 2
                held += "</script>" in str(howto_of(f"<body>{value}</body>"))
    assert held > 0
