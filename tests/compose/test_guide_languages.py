"""A guide in German beside the English one: whole, marked, and nothing of it in English unseen."""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from generator.compose.page import Page, fill_html, fill_plain, mark_languages
from generator.compose.phrases import Phrases
from generator.compose.spoken import Tongue
from generator.flow import Finished, finish_guides
from generator.read.sources import Sources
from generator.read.translated import CLOSE, OPEN, STALE, without_marks

UNIT = "pv-5001"
GOLDEN = Path(__file__).resolve().parents[1] / "golden" / "german"

ENGLISH = re.compile(r"\b(the|and|of|is|with|your|not|or|from|to|it|this|that|does|has)\b")
"""Words without which hardly any English sentence does; none of them is a German word."""


@pytest.fixture(scope="module")
def guide(demo: Sources) -> Finished:
    """Return the finished guide of the unit that is in two languages."""
    (done,) = finish_guides(demo, demo.register, [UNIT])
    return done


@pytest.fixture(scope="module")
def german(guide: Finished) -> dict[str, Page]:
    """Return its German pages by their file."""
    return {page.uri: page for page in guide.composed.pages if page.lang == "de"}


def visible(page: Page) -> str:
    """Return what a reader of a page can read, link targets and the forms' data left out."""
    markup = re.sub(r"\]\([^)]*\)", "]", page.text)
    told = html.unescape(fill_html(f"{page.title}\n{page.description}\n{markup}", page.values))
    told = re.sub(r"<script.*?</script>", "", told, flags=re.DOTALL)
    return re.sub(r"<[^>]*>|\{:[^}]*\}", " ", told)


def test_every_page_has_its_other(guide: Finished, german: dict[str, Page]) -> None:
    """The same pages in both languages, each with a link to its other."""
    english = {page.uri: page for page in guide.composed.pages if page.lang == "en"}
    assert set(german) == {f"de/{uri}" for uri in english}
    for uri, page in english.items():
        assert [(v.lang, v.title, v.uri) for v in page.versions] == [("de", "Deutsch", f"de/{uri}")]
        assert [(v.lang, v.title, v.uri) for v in german[f"de/{uri}"].versions] == [
            ("en", "English", uri)
        ]
        assert page.notices == ()
        assert page.sort == german[f"de/{uri}"].sort


def test_the_panel_van_is_whole(german: dict[str, Page]) -> None:
    """Nothing of it is left in English, and nothing is behind its source."""
    for page in german.values():
        assert page.notices == ("translation_draft",), page.uri
        texts = [page.title, page.text, page.description, *map(str, page.values.values())]
        for text in texts:
            assert OPEN not in text, (page.uri, text[text.index(OPEN) :][:60])
            assert STALE not in text, page.uri


def test_no_english_is_left(demo: Sources, german: dict[str, Page]) -> None:
    """No phrase of the English wording, and no small English word, stands on a German page."""
    wording, ours = demo.library.wording, demo.languages["de"].library.wording
    phrases = [
        text
        for key, text in wording.items()
        if "{" not in text and len(text) > 6 and text != ours[key] and text != "English"
    ]
    for page in german.values():
        shown = visible(page)
        assert [phrase for phrase in phrases if phrase in shown] == [], page.uri
        assert ENGLISH.findall(shown) == [], page.uri
        assert re.findall(r"/day\b|\b\d,\d{3} W", shown) == [], page.uri


def test_the_same_steps_and_cautions(guide: Finished, german: dict[str, Page]) -> None:
    """Steps, cautions and sections are as many and in the same order as in English."""
    shape = re.compile(
        r"^ *\{: \.(?:do|then|ifnot|note|mind \.\w+) \}|^<(?:section|div) class.*", re.M
    )
    for page in guide.composed.pages:
        if page.lang == "en":
            there = german[f"de/{page.uri}"]
            assert shape.findall(there.text) == shape.findall(page.text), page.uri


def test_values_are_those_of_the_unit(german: dict[str, Page]) -> None:
    """Numbers are the same, written as the language writes them; choices have German words."""
    wheels = fill_plain(german["de/kit/wheels.md"].text, german["de/kit/wheels.md"].values)
    assert "| Druck kalt | 4,2 bar |" in wheels
    assert "| Was das Rad hält | Radschrauben |" in wheels
    where = german["de/task/say-where-you-are.md"]
    assert "in einem Campingbus sind" in fill_plain(where.text, where.values)
    dates = german["de/numbers/tyres.md"]
    assert re.search(r"\d\. [A-Z]\w+ 20\d\d", fill_plain(dates.text, dates.values))


@pytest.mark.parametrize("name", ["task/test-rcd", "emergency", "symptom/no-hot-water"])
def test_golden_pages(
    german: dict[str, Page], golden: Callable[[Path, str], None], name: str
) -> None:
    """Pages as they were last found good, values filled in and drawings left out."""
    page = german[f"de/{name}.md"]
    text = fill_plain(f"{page.title} | {page.description}\n\n{page.text}", page.values)
    lines = "\n".join(line.rstrip() for line in text.split("\n"))
    golden(GOLDEN / f"{name.replace('/', '-')}.md", lines.rstrip("\n") + "\n")


def test_what_is_missing_or_old_is_told(demo: Sources) -> None:
    """A page with an untranslated or stale caution or step says so at its top."""
    language = demo.languages["de"]
    library = language.library
    task, caution = library.tasks["test-rcd"], library.cautions["scald"]
    lost = replace(
        language,
        library=replace(
            library,
            tasks={**library.tasks, "test-rcd": replace(task, body=f"1. {STALE}Drücken Sie.\n")},
            cautions={
                **library.cautions,
                "scald": replace(caution, hazard=f"{OPEN}Hot water scalds.{CLOSE}"),
            },
        ),
    )
    damaged = replace(demo, languages={"de": lost})
    (done,) = finish_guides(damaged, demo.register, [UNIT])
    pages = {page.uri: page for page in done.composed.pages}
    assert pages["de/task/test-rcd.md"].notices == ("translation_stale", "translation_draft")
    assert pages["de/task/use-shower.md"].notices == ("translation_partial", "translation_draft")
    assert pages["de/task/keep-keys.md"].notices == ("translation_draft",)
    assert pages["task/test-rcd.md"].notices == ()


def test_a_units_own_words_in_a_step_count(demo: Sources) -> None:
    """A step that lists the unit's own fuses, which are not translated, says so at the top."""
    unit = demo.stock.units[UNIT]
    words = unit.translated["de"]
    fewer = {name: said for name, said in words.fitted.items() if name != "fuse-box"}
    changed = replace(unit, translated={"de": replace(words, fitted=fewer)})
    stock = replace(demo.stock, units={**demo.stock.units, UNIT: changed})
    (done,) = finish_guides(replace(demo, stock=stock), demo.register, [UNIT])
    pages = {page.uri: page for page in done.composed.pages}
    assert "translation_partial" in pages["de/task/change-12v-fuse.md"].notices
    assert "translation_partial" not in pages["de/task/test-rcd.md"].notices


@pytest.mark.parametrize(
    ("page", "shown"),
    [
        (f"<p>{OPEN}Hot.{CLOSE}</p>", '<p><span class="other" lang="en">Hot.</span></p>'),
        (f'<a title="{OPEN}Hot{CLOSE}">x</a>', '<a title="Hot">x</a>'),
        (f"<title>{OPEN}Hot{CLOSE}</title>", "<title>Hot</title>"),
        (f'<script>["{OPEN}Hot{CLOSE}"]</script>', '<script>["Hot"]</script>'),
        (f"<p>{STALE}Heiß.</p>", "<p>Heiß.</p>"),
        ("<p>Hot.</p>", "<p>Hot.</p>"),
    ],
)
def test_marks_become_lang(page: str, shown: str) -> None:
    """An element where one can stand; where none can, only the marks go."""
    assert mark_languages(page, "en") == shown


def test_hostile_values_stay_inert() -> None:
    """A value is escaped before its marks become an element."""
    filled = fill_html("<p>⟦1⟧</p>", {"1": f"{OPEN}<img src=x>{CLOSE}", "source": "en"})
    assert filled == '<p><span class="other" lang="en">&lt;img src=x&gt;</span></p>'


def phrases() -> Iterator[tuple[str, str]]:
    """Yield computed texts and what they become."""
    yield "1,150 W", "1.150 W"
    yield "at most 10.7 litres", "höchstens 10,7 Liter"
    yield "Boiler, rated 800 W, at 207 V", "Boiler, Nennleistung 800 W, bei 207 V"
    yield "computed with thing 1.5.5", f"{OPEN}computed with thing 1.5.5{CLOSE}"
    yield "\u221240 °C", "\u221240 °C"


@pytest.mark.parametrize(("text", "expected"), list(phrases()))
def test_computed_texts(text: str, expected: str) -> None:
    """By the text itself, gaps and numbers in the language; what is not there is marked."""
    known = {
        "at most {what}": "höchstens {what}",
        "{n} litres": "{n} Liter",
        "{load}, rated {n} W, at {n_v} V": "{load}, Nennleistung {n} W, bei {n_v} V",
    }
    assert Phrases(known, Tongue(decimal=","))(text, {"Boiler"}.__contains__) == expected


def test_untranslated_units_have_no_marks(demo: Sources, guide: Finished) -> None:
    """A guide in one language knows nothing of all this."""
    (done,) = finish_guides(demo, demo.register, ["lt-2107"])
    for page in done.composed.pages:
        assert (page.lang, page.under, page.versions, page.notices) == ("", "", (), ())
        assert without_marks(page.text) == page.text
