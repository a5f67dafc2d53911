"""The pages of numbers of the demo units: what is there, what is filled in, what is asked for."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import replace

import pytest
from icalendar import Calendar

from generator.compose.context import Context, Drawings
from generator.compose.number_pages import calendar_file
from generator.compose.number_pages import number_pages as compose_numbers
from generator.compose.numbers import numbers_of_unit
from generator.compose.page import Page, fill_html, fill_plain
from generator.figures.gather import own_inputs
from generator.flow import Finished, finish_guides
from generator.problems import Problems, ProblemsFound
from generator.read.fields import Field, Value
from generator.read.numbers import NUMBERS
from generator.read.sources import Sources
from generator.read.units import Fitting, Unit

SECTION = re.compile(
    r'<section class="number-([a-z0-9-]+)" markdown="1">(.*?)</section>', re.DOTALL
)
EXAMPLE = "an example: put your own here"
EXAMPLES = {"temperature of the water that is filled in", "temperature of the shower"}
"""The only inputs that a page takes as examples, each said to be one."""

EQUIPMENT = {
    "pitch": {"hookup-inlet"},
    "gas": {"gas-cylinder", "gas-tank"},
    "battery": {"leisure-battery", "fuse-box"},
    "water": {"fresh-water"},
    "tyres": {"road-wheels"},
}
"""What a page of numbers needs at least one of."""

UNSOURCED = {"charging", "pump-time", "water-days", "gas-consumption", "gas-days", "wheels"}
"""Figures that only divide what the unit and the reader state: nothing in them has a source."""


@pytest.fixture(scope="module")
def finished(demo: Sources) -> tuple[Finished, ...]:
    """Return the demo fleet's finished guides."""
    return finish_guides(demo, demo.register, sorted(demo.stock.units))


def number_pages(done: Finished) -> dict[str, Page]:
    """Return the pages of numbers of a guide by name, in its first language."""
    return {
        page.uri.removeprefix("numbers/").removesuffix(".md"): page
        for page in done.composed.pages
        if page.sort == "number" and page.uri.startswith("numbers/")
    }


def sections(page: Page) -> Iterator[tuple[str, str]]:
    """Yield the name and the text of each figure on a page, values filled in."""
    for match in SECTION.finditer(page.text):
        yield match[1], fill_plain(match[2], page.values)


def form_of(page: Page) -> Mapping[str, object] | None:
    """Return the definition of a page's form."""
    for value in page.values.values():
        if 'class="number-form"' in value:
            text = value.partition(">")[2].rpartition("</script>")[0]
            assert "<" not in text
            return json.loads(text)
    return None


def test_each_unit_has_the_pages_that_it_has_something_for(
    demo: Sources, finished: tuple[Finished, ...]
) -> None:
    """The list leads to each, the home page to the pitch; every page of numbers is known."""
    for done in finished:
        pages = number_pages(done)
        own = own_inputs(done.guide.unit, demo.library.kinds)
        kinds = {fitting.kind for fitting in done.guide.unit.fitted}
        assert sorted(pages) == sorted(numbers_of_unit(own)), done.guide.unit.name
        for name, equipment in EQUIPMENT.items():
            assert (name in pages) == bool(kinds & equipment), (done.guide.unit.name, name)
        (index,) = [page for page in done.composed.pages if page.uri == "numbers.md"]
        assert re.findall(r"\]\(numbers/([a-z-]+)\.md\)", index.text) == [
            name for name in NUMBERS if name in pages
        ]
        home = next(page for page in done.composed.pages if page.uri == "index.md")
        early = home.text.partition('class="hatches"')[0]
        assert ("](numbers/pitch.md)" in early) == ("pitch" in pages)


def test_a_unit_without_equipment_has_no_page_for_it(demo: Sources) -> None:
    """No battery, no mains inlet, no gas: no page on them, and no link to one."""
    unit = demo.stock.units["lt-2107"]
    bare = replace(
        unit, fitted=tuple(f for f in unit.fitted if f.kind in ("road-wheels", "entrance-door"))
    )
    assert numbers_of_unit(own_inputs(bare, demo.library.kinds)) == (
        "masses", "tyres", "weather", "dates",
    )  # fmt: skip


def test_every_token_is_filled_and_every_number_is_one(finished: tuple[Finished, ...]) -> None:
    """No gap, no `None`, no `nan` and no endless number stands on a page."""
    for done in finished:
        for name, page in number_pages(done).items():
            said = fill_html(page.text, page.values)
            where = f"{done.guide.unit.name} {name}"
            assert not re.search(r"[⟦⟧]", said), where
            words = html.unescape(re.sub(r"<script.*?</script>|<[^>]*>", " ", said))
            assert not re.search(r"\b(None|nan|inf|Infinity|True|False)\b|[{}]\w", words), where
            for secret in done.guide.unit.private:
                assert len(secret) < 4 or secret not in said, where


def test_a_figure_says_how_it_was_worked_out(finished: tuple[Finished, ...]) -> None:
    """Each shows its formula, the origin of each input, and its source where it has one."""
    for done in finished:
        for name, page in number_pages(done).items():
            found = [one for one in sections(page) if not one[0].startswith(("at-", "speeds"))]
            assert found
            for figure, text in found:
                where = f"{done.guide.unit.name} {name} {figure}"
                working = text.partition("<summary>How it was worked out</summary>")[2]
                assert re.search(r"\w{3}.*\.", working), where
                if re.sub(r"-\d$", "", figure) not in UNSOURCED:
                    assert "Source:" in working, where
                for line in working.split("\n"):
                    if line.startswith("| ") and "---" not in line and line != "| | |":
                        assert "<small>" in line, f"{where}: {line}"


def test_no_missing_value_is_guessed(finished: tuple[Finished, ...]) -> None:
    """What the unit does not state is asked for; only what is said to be an example is not."""
    for done in finished:
        pages = number_pages(done)
        for name, page in pages.items():
            for figure, text in sections(page):
                for line in text.split("\n"):
                    if EXAMPLE in line:
                        label = line.split("|")[1].strip()
                        assert label in EXAMPLES, f"{done.guide.unit.name} {name} {figure}: {label}"
        wanted = {
            "gas": ["Hours a day that each appliance burns"],
            "battery": ["Hours a day that each load is on", "steady current of one heavy load"],
            "water": ["fresh water used by all of you", "free chlorine that is wanted"],
            "hot-water": ["flow of the shower"],
            "weather": ["lowest temperature of each night", "relative humidity"],
            "masses": ["nose-load limits of car and tow bar"]
            if done.guide.unit.sort == "caravan"
            else [],
        }
        for name, asks in wanted.items():
            if name in pages:
                asked = fill_plain(pages[name].text, pages[name].values)
                assert all(ask in asked for ask in asks), f"{done.guide.unit.name} {name}"


def test_a_value_that_a_unit_lacks_is_asked_for(
    demo: Sources, finished: tuple[Finished, ...]
) -> None:
    """Without the heater's temperatures, the plate and the date code, the pages ask for them."""
    done = next(one for one in finished if one.guide.unit.name == "lt-2107")

    def lacking(fitting: Fitting) -> Fitting:
        gone = {"hot_c", "date_code", "lead_mm2", "size_kg", "capacity_ah"}
        return replace(fitting, values={k: v for k, v in fitting.values.items() if k not in gone})

    unit = done.guide.unit
    less = replace(unit, vehicle={}, fitted=tuple(map(lacking, unit.fitted)))
    drawings = Drawings(demo.assets.signs, demo.assets.pictures)
    guide, problems = replace(done.guide, unit=less), Problems()
    ctx = Context(guide, done.proof, demo.library, drawings, problems)
    pages = {page.uri: fill_plain(page.text, page.values) for page in compose_numbers(ctx)}
    assert problems.found == []
    for name, figure, ask in (
        ("hot-water", "heat-up", "temperature that is chosen"),
        ("tyres", "tyre-age", "last four figures on the sidewall"),
        ("masses", "payload", "greatest laden mass on the plate"),
        ("pitch", "lead-drop", "copper section of the mains lead"),
        ("gas", "gas-days", "gas in a full cylinder"),
        ("battery", "nights", "capacity of one battery"),
    ):
        (text,) = re.findall(
            rf'<section class="number-{figure}".*?</section>',
            pages[f"numbers/{name}.md"],
            re.DOTALL,
        )
        said, _, asked = text.partition("To be worked out, this needs:")
        assert ask in asked, (name, ask)
        # No result stands in its place.
        assert not re.search(r"(at least|at most|about) [0-9]", said), (name, figure)


def test_a_value_that_cannot_be_right_is_told(demo: Sources) -> None:
    """A sidewall that says nothing is a problem of the unit, with its key and what is right."""
    unit = demo.stock.units["lt-2107"]
    fitted = tuple(
        replace(f, values={**f.values, "tyre": "black"}) if f.kind == "road-wheels" else f
        for f in unit.fitted
    )
    units = {**demo.stock.units, "lt-2107": replace(unit, fitted=fitted)}
    wrong = replace(demo, stock=replace(demo.stock, units=units))
    with pytest.raises(ProblemsFound) as found:
        finish_guides(wrong, demo.register, ["lt-2107"])
    told = [str(problem) for problem in found.value.problems]
    # At the line of the wheels, which the unit has from its model.
    assert any(
        re.match(
            r"units/models/heronbeck-4.yml:[0-9]+:[0-9]+: numbers/tyres: tyre: is 'black'", one
        )
        for one in told
    )


NASTY = ("", "black", "0", "-1", "1e308", "NaN", "99/99", "\u0000", "1: 1e308 A x", "0000", "9999")
"""Texts for what a unit states in words: sidewall, date code, fuses."""


def extremes(field: Field) -> list[Value]:
    """Return what a unit file may give an attribute at worst: its least, its greatest, any text."""
    ends = [end for end in (field.min, field.max) if end is not None]
    if field.type == "whole":
        return [int(end) for end in ends]
    if field.type == "numbers":
        return [(end,) for end in ends] + ([tuple(ends)] if len(ends) == 2 else [])
    if field.type == "text":
        return list(NASTY)
    return [float(end) for end in ends] if field.type == "number" else []


@pytest.mark.parametrize("name", ["lt-2107", "lt-2140", "cv-3004", "pv-5001", "mh-4001"])
def test_whatever_a_unit_file_may_say_is_computed_or_told(demo: Sources, name: str) -> None:
    """Each attribute at its ends: pages, or a problem of one line with what would be right."""
    unit, kinds = demo.stock.units[name], demo.library.kinds
    done = next(iter(finish_guides(demo, demo.register, [name])))
    drawings = Drawings(demo.assets.signs, demo.assets.pictures)
    tried: list[tuple[str, Unit]] = []
    for number, fitting in enumerate(unit.fitted):
        for field in kinds[fitting.kind].attributes:
            for value in extremes(field):
                odd = replace(fitting, values={**fitting.values, field.name: value})
                fitted = (*unit.fitted[:number], odd, *unit.fitted[number + 1 :])
                tried.append(
                    (f"{fitting.name} {field.name} {value!r}", replace(unit, fitted=fitted))
                )
    for field in kinds["vehicle"].attributes:
        for value in extremes(field):
            vehicle = {**unit.vehicle, field.name: value}
            tried.append((f"{field.name} {value!r}", replace(unit, vehicle=vehicle)))
    assert len(tried) > 100
    told = 0
    for what, odd_unit in tried:
        problems = Problems()
        ctx = Context(
            replace(done.guide, unit=odd_unit), done.proof, demo.library, drawings, problems
        )
        pages = [page for page in compose_numbers(ctx) if page.sort == "number"]
        calendar_file(ctx)
        for problem in problems.found:
            line = str(problem)
            assert re.fullmatch(r"[^:\n]+:\d+:\d+: numbers/[a-z-]+: \S.*: .+; right: .+", line), (
                what, line,
            )  # fmt: skip
            told += 1
        for page in pages:
            # Nothing endless and nothing that is no number gets onto a page.
            said = re.sub(r"<[^>]*>", " ", fill_plain(page.text, page.values))
            assert not re.search(r"\b(nan|inf|Infinity|None)\b", said), (what, page.uri)
    assert told


def test_the_answer_for_a_six_ampere_pitch(finished: tuple[Finished, ...]) -> None:
    """The first links of the page are the ratings; each leads to what runs together there."""
    done = next(one for one in finished if one.guide.unit.name == "lt-2107")
    page = number_pages(done)["pitch"]
    jump = page.text.partition('<div class="jump"')[2].partition("</div>")[0]
    assert re.findall(r"\[([^]]+)\]\(#(at-[0-9]+-a)\)", jump) == [
        ("5 A", "at-5-a"), ("6 A", "at-6-a"), ("10 A", "at-10-a"), ("16 A", "at-16-a"),
    ]  # fmt: skip
    by_name = dict(sections(page))
    six = by_name["at-6-a"]
    assert "6 A: 1,380 W together {: #at-6-a }" in six
    # 300 + 850 + 125 W; the heater's highest stage alone takes 2,000 of 1,380 W.
    assert "Together: Battery charger, Water heater and Fridge." in six
    assert "1,275 W of 1,380 W" in six
    assert "**Space heater, 2,000 W:** too much, even alone." in six
    assert "A kettle of 2,000 W (an example):** too much, even alone." in six
    assert "Space heater, 2,000 W" not in by_name["at-10-a"]


def test_plots_have_a_text_alternative(finished: tuple[Finished, ...]) -> None:
    """Each plot tells its values in words, and has no style of its own."""
    plots = 0
    for done in finished:
        for name, page in number_pages(done).items():
            for value in page.values.values():
                if 'class="plot limit' in value:
                    # The words beside it say all that it shows.
                    assert 'aria-hidden="true"' in value
                elif 'class="plot' in value:
                    plots += 1
                    (said,) = re.findall(r'role="img" aria-label="([^"]+)"', value)
                    assert re.search(r"\d", said), name
                    assert "style=" not in value
    assert plots > 20


def test_the_calendar_file_holds_the_dates_of_its_page(finished: tuple[Finished, ...]) -> None:
    """An independent reader finds each day of the table in `due.ics`, and nothing private."""
    for done in finished:
        page = number_pages(done)["dates"]
        text = done.composed.documents["due.ics"]
        assert text.endswith("END:VCALENDAR\r\n")
        events = Calendar.from_ical(text).walk("VEVENT")
        said = fill_plain(page.text, page.values)
        assert "](../due.ics)" in page.text
        assert events
        for event in events:
            day = event["DTSTART"].dt
            assert f"| {event['SUMMARY']} | {day.day} {day:%B %Y} |" in said
            assert str(event["UID"]).endswith(f".{done.guide.code or 'GUIDE'}@wdl.example")
        assert not any(len(s) > 3 and s in text for s in done.guide.unit.private)


def test_forms_have_the_limits_of_the_figures(finished: tuple[Finished, ...]) -> None:
    """Each form is there once, asks within limits, and says what would be right."""
    for done in finished:
        pages = number_pages(done)
        for name in pages.keys() & {
            "pitch",
            "gas",
            "hot-water",
            "battery",
            "water",
            "masses",
            "tyres",
            "weather",
        }:
            data = form_of(pages[name])
            assert data is not None, (done.guide.unit.name, name)
            assert data["page"] == name
            for field in data["fields"]:
                assert field["low"] < field["high"]
                assert re.search(r"from -?[0-9.]+ to [0-9.]+", field["right"])
            assert all(data["words"].values())


def test_equipment_and_tasks_lead_to_their_numbers(finished: tuple[Finished, ...]) -> None:
    """The mains inlet leads to the pitch, the heater to pitch, gas and hot water."""
    done = next(one for one in finished if one.guide.unit.name == "lt-2107")
    pages = {page.uri: page for page in done.composed.pages}

    def leads(uri: str) -> list[str]:
        return re.findall(r"\]\(\.\./numbers/([a-z-]+)\.md\)", pages[uri].text)

    assert leads("kit/hookup.md") == ["pitch"]
    assert leads("kit/water-heater.md") == ["pitch", "gas", "hot-water"]
    assert leads("kit/wheels.md") == ["tyres"]
    assert leads("kit/co-alarm.md") == ["dates"]
    assert leads("kit/door.md") == []
    for task, number in (
        ("share-pitch-power", "pitch"), ("check-gas-level", "gas"), ("check-tyres", "tyres"),
        ("check-wheel-fixings", "tyres"), ("load-caravan", "masses"), ("sanitise-water", "water"),
    ):  # fmt: skip
        assert leads(f"task/{task}.md") == [number]
