"""The forms of the number pages: the script computes what the figures do, and says what is wrong.

The page's own functions are called over grids of inputs with the definition that stands in the
page, and held against the Python modules that made the page's tables.
"""

from __future__ import annotations

import json
import math
import random
import re
from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from browser.conftest import Site, Windows
from generator.figures.battery import DcLoad, battery
from generator.figures.figure import FigureInputError, Quantity, checked, honest
from generator.figures.gas import gas
from generator.figures.gather import OwnInputs, own_inputs
from generator.figures.hot_water import hot_water
from generator.figures.imperial import psi_to_bar
from generator.figures.loading import Thing, loading
from generator.figures.pitch import MainsLoad, largest_sets, load_amps, pitch
from generator.figures.tyres import TyresInput, tyres
from generator.figures.water import water
from generator.figures.weather import WeatherInput, weather
from generator.figures.wiring import WiringInput, wiring
from generator.read.sources import Sources

pytestmark = pytest.mark.slow

DATA = "JSON.parse(document.querySelector('script.number-form').textContent)"
CLOSE = 1e-12
"""Relative: both compute in the same doubles, in the same order."""


@pytest.fixture(scope="module")
def page(chromium: Browser) -> Iterator[Page]:
    """Return a window for all grids."""
    page = chromium.new_page()
    yield page
    page.close()


@pytest.fixture(scope="module", params=["cv-3004", "lt-2107", "lt-2118", "lt-2140", "mh-4001"])
def unit(request: pytest.FixtureRequest, demo: Sources) -> tuple[str, OwnInputs]:
    """Return each demo unit's code with what it says for the figures."""
    code = demo.register.code_for(request.param, "unit", "")
    assert code
    return code, own_inputs(demo.stock.units[request.param], demo.library.kinds)


def opened(page: Page, site: Site, unit: tuple[str, OwnInputs], name: str) -> dict[str, Any]:
    """Open a page of numbers and return the definition of its form."""
    page.goto(f"{site.origin}/{unit[0]}/numbers/{name}.html")
    data = page.evaluate(DATA)
    assert data["page"] == name
    return data


def ask(page: Page, function: str, cases: list[list[Any]]) -> list[Any]:
    """Return what a function of the page's script answers to each case of arguments."""
    script = f"(cases) => {{ const data = {DATA}; return JSON.stringify(cases.map((case_) => "
    script += f"lockerleafNumbers.{function}(data, ...case_)), (key, value) => "
    script += "value === Infinity ? 'endless' : value); }"
    return json.loads(page.evaluate(script, cases))


def same(ours: float | str | None, theirs: float | None) -> bool:
    """Return whether the script's number is the figure's."""
    if ours is None or theirs is None:
        return ours is theirs
    if ours == "endless" or math.isinf(theirs):
        return ours == "endless" and math.isinf(theirs)
    return math.isclose(float(ours), theirs, rel_tol=CLOSE, abs_tol=1e-12)


def test_pitch(site: Site, page: Page, unit: tuple[str, OwnInputs]) -> None:
    """The same largest sets for every rating and voltage; the same verdict on what is ticked."""
    opened(page, site, unit, "pitch")
    own = unit[1].pitch
    assert own is not None
    grid = list(product((1.5, 3, 5, 6, 7.3, 8, 10, 13, 16, 20, 32), (None, 207, 216.2, 230, 250)))
    cases = [[{"rating_a": amps, "supply_v": volts}] for amps, volts in grid]
    for (amps, volts), found in zip(grid, ask(page, "largestSets", cases), strict=True):
        limit = min(amps, own.inlet_a or amps)
        sets = largest_sets(own.loads, limit, min(volts or 230, 230))
        assert sorted(map(sorted, (one.items() for one in found))) == sorted(
            sorted(one.on.items()) for one in sets
        ), (amps, volts)
    draw = random.Random(11)
    cases = []
    for amps, volts in grid:
        on = {load.name: draw.choice((0.0, *load.stages_w)) for load in own.loads}
        kettle = draw.choice((None, 1000, 2000))
        lead = {"lead_m": draw.choice((None, 10, 25)), "lead_mm2": draw.choice((None, 1.5, 2.5))}
        cases.append([{"rating_a": amps, "supply_v": volts, "kettle_w": kettle, **lead}, on])
    for (given, on), found in zip(cases, ask(page, "pitch", cases), strict=True):
        volts = min(given["supply_v"] or 230, 230)
        limit = min(given["rating_a"], own.inlet_a or given["rating_a"])
        kettle = MainsLoad("kettle", "Kettle", (given["kettle_w"] or 1,), own=True)
        total = sum(load_amps(load, on[load.name], volts) for load in own.loads)
        total += load_amps(kettle, given["kettle_w"] or 0, volts)
        assert same(found["amps"], total)
        lead = {key: given[key] for key in ("lead_m", "lead_mm2")}
        wired = replace(own, loads=(), rating_a=given["rating_a"], **lead)
        assert same(found["drop_v"], pitch(wired).drop_v), given
        assert found["fits"] == (total <= limit + 1e-9)
        addable = {
            load.name: max(stages)
            for load in own.loads
            if not on[load.name]
            and (
                stages := [
                    w for w in load.stages_w if total + load_amps(load, w, volts) <= limit + 1e-9
                ]
            )
        }
        assert dict(found["add"]) == addable


def test_gas(site: Site, page: Page, unit: tuple[str, OwnInputs]) -> None:
    """The same grams, days and hours for every day of use, of every store of gas."""
    data = opened(page, site, unit, "gas")
    draw = random.Random(12)
    cases = [[dict.fromkeys(data["g_h"], 0)]]
    for _ in range(60):
        cases.append([{name: draw.choice((0, 0.1, 0.5, 1, 3.5, 24)) for name in data["g_h"]}])
    answers = list(zip(cases, ask(page, "gas", cases), strict=True))
    assert len(data["stores"]) == len(unit[1].gas)
    for (own, index), ((hours,), found) in product(
        [(own, index) for index, own in enumerate(unit[1].gas)], answers
    ):
        store = found["stores"][index]
        told = gas(
            replace(
                own,
                appliances=tuple(
                    replace(one, summer_h_day=hours[one.name], winter_h_day=hours[one.name])
                    for one in own.appliances
                ),
            )
        )
        assert same(found["g_day"], told.g_day["winter"])
        assert same(store["days"], told.days["winter"])
        assert same(store["one_days"], told.one_days["summer"])
        assert same(store["one_hours"], told.one_days["summer"] * 24)


def test_hot_water(site: Site, page: Page, unit: tuple[str, OwnInputs]) -> None:
    """The same minutes, litres and scald time for every fill, choice and voltage."""
    data = opened(page, site, unit, "hot-water")
    own = unit[1].hot_water[0]
    (hot,) = [field for field in data["fields"] if field["key"] == "hot_c"]
    choices = hot["choices"] or [35, 49, 54, 60, 66, 85]
    grid = product((0, 3.3, 10, 15, 25, 39.5), choices, (None, 207, 245), (None, 30, 38), (None, 4))
    cases = [
        [{"fill_c": fill, "hot_c": hot, "supply_v": volts, "mix_c": mix, "flow_l_min": flow}]
        for fill, hot, volts, mix, flow in grid
        if fill < hot and (mix is None or fill < mix <= hot)
    ]
    assert len(cases) > 50
    for (given,), found in zip(cases, ask(page, "hotWater", cases), strict=True):
        told = hot_water(replace(own, **given))
        assert found["minutes"].keys() == told.minutes.keys()
        for way, minutes in told.minutes.items():
            assert same(found["minutes"][way], minutes), (given, way)
        assert same(found["mixed_l"], told.mixed_l), given
        assert same(found["shower_min"], told.shower_min), given
        assert same(found["scald_s"], told.scald_s), given


def test_battery(site: Site, page: Page, unit: tuple[str, OwnInputs]) -> None:
    """The same nights, sun and hours for every day of use and share to use."""
    data = opened(page, site, unit, "battery")
    own = unit[1].battery
    assert own is not None
    draw = random.Random(13)
    cases = []
    for _ in range(120):
        hours = {name: draw.choice((0, 0.2, 1, 5, 24)) for name in data["amps"]}
        given = {
            "day_ah": draw.choice((0, 1.5, 12, 60)),
            "usable_pct": draw.choice((20, 50, 80, 100)),
            "heavy_a": draw.choice((None, 2, 9, 80)),
            "peukert_k": draw.choice((None, 1, 1.1, 1.3)),
            f"sun_psh_{draw.randrange(1, 13)}": draw.choice((None, 0, 1.2, 4.5)),
            "output_a": draw.choice((None, 18)),
            "feed_a": draw.choice((None, 8, 30)),
            "drive_h": draw.choice((None, 0, 2.5)),
            "run_a": draw.choice((None, 7)),
            "run_m": draw.choice((None, 4.5)),
            "run_mm2": draw.choice((None, 1.5, 2.5, 10)),
            "solar_pct": draw.choice((None, 70)),
            "charge_v": draw.choice((None, 12.8)),
        }
        cases.append([given, hours])
    for (given, hours), found in zip(cases, ask(page, "battery", cases), strict=True):
        runs = {key: given[key] for key in ("run_a", "run_m", "run_mm2")}
        suns = [given[key] for key in given if key.startswith("sun_psh")]
        taken = ("usable_pct", "heavy_a", "peukert_k", "solar_pct", "charge_v", "output_a")
        more = {key: given[key] for key in (*taken, "feed_a", "drive_h")}
        told = battery(
            replace(
                own,
                loads=(
                    *(replace(one, h_day=hours[one.name]) for one in own.loads),
                    DcLoad("else", "Else", draw_a=given["day_ah"], h_day=1),
                ),
                sun_psh=tuple(sun for sun in suns if sun is not None),
                **more,
            )
        )
        assert same(found["usable_ah"], told.usable_ah)
        assert math.isclose(found["use_ah_day"], told.use_ah_day or 0, rel_tol=1e-9, abs_tol=1e-12)
        ours = found["nights"] if found["nights"] != "endless" else math.inf
        assert math.isclose(ours, told.nights or 0, rel_tol=1e-9)
        assert same(found["heavy_h"], told.heavy_h), given
        assert same(found["charge_h"], told.charge_h)
        assert same(found["feed_ah"], told.feed_ah)
        assert same(found["drop_v"], wiring(WiringInput(**runs)).drop_v), runs
        assert len(found["months"]) == len(told.solar_ah_day)
        for (month, brings, sunny), sun, nights in zip(
            found["months"], told.solar_ah_day, told.nights_with_sun, strict=True
        ):
            assert f"sun_psh_{month + 1}" in given
            assert same(brings, sun)
            assert math.isclose(sunny if sunny != "endless" else math.inf, nights, rel_tol=1e-9)


def test_water(site: Site, page: Page, unit: tuple[str, OwnInputs]) -> None:
    """The same days, minutes and dose, and the same refusal of a dose that cannot be right."""
    data = opened(page, site, unit, "water")
    own = unit[1].water
    assert own is not None
    keys = [field["key"] for field in data["fields"]]
    draw = random.Random(14)
    amounts = {
        "use_l_day": (None, 8, 33.5), "kept_l_day": (None, 0, 8), "system_l": (None, 16),
        "pump_l_min": (None, 7.5), "treated_l": (None, 0.5, 44, 900),
        "strength_pct": (None, 0.02, 1, 12.5), "dose_mg_l": (None, 0.2, 50, 100),
    }  # fmt: skip
    assert set(amounts) == set(keys)
    cases = [[{key: draw.choice(amounts[key]) for key in keys}] for _ in range(200)]
    refused = 0
    for (given,), found in zip(cases, ask(page, "water", cases), strict=True):
        try:
            told = water(replace(own, **given))
        except FigureInputError:
            refused += 1
            assert (found["dose_ml"] or 0) > data["most_ml"], given
            continue
        assert (found["dose_ml"] or 0) <= data["most_ml"]
        for key in ("days", "waste_l_day", "waste_days", "fill_min", "dose_ml"):
            assert same(found[key], getattr(told, key)), (given, key)
    assert refused


def test_weather(site: Site, page: Page, unit: tuple[str, OwnInputs]) -> None:
    """The same dew point, wet surfaces and cold nights."""
    opened(page, site, unit, "weather")
    draw = random.Random(16)
    cases: list[list[dict[str, Any]]] = []
    for _ in range(150):
        given = {
            "cabin_c": draw.choice((None, -5, 0, 12.5, 20, 31)),
            "humidity_pct": draw.choice((None, 1, 45, 80.5, 100)),
            "surface_c": draw.choice((None, -3, 9.2)),
            "outside_c": draw.choice((None, -10, 15)),
            "drain_c": draw.choice((None, 0, 3.5)),
        }
        nights = {f"night_{n}": draw.choice((None, -8, 0, 3.5, 11)) for n in range(1, 8)}
        cases.append([{**given, **nights}])
    for (given,), found in zip(cases, ask(page, "weather", cases), strict=True):
        nights = [n for n in range(1, 8) if given[f"night_{n}"] is not None]
        air = {key: value for key, value in given.items() if not key.startswith("night_")}
        cold = tuple(given[f"night_{n}"] for n in nights)
        told = weather(WeatherInput(**air, night_c=cold))
        # Python's and the browser's logarithms may differ in their last digit.
        assert (found["dew_c"] is None) == (told.dew_c is None)
        assert math.isclose(found["dew_c"] or 0, told.dew_c or 0, rel_tol=1e-12, abs_tol=1e-12)
        assert (found["condenses"], found["may_condense"]) == (told.condenses, told.may_condense)
        if air["drain_c"] is None or not nights:
            assert found["frost_nights"] is None
        else:
            assert found["frost_nights"] == [nights[n - 1] for n in told.frost_nights]


def test_tyres(site: Site, page: Page, unit: tuple[str, OwnInputs]) -> None:
    """The same pressure, load and dates: for every week of a hundred years, and every index."""
    data = opened(page, site, unit, "tyres")
    empty = {"gauge_psi": None, "load_index": None, "tyres": 2, "week": None, "year": None}
    codes = [(week, year) for year in range(100) for week in (1, 2, 8, 9, 26, 52, 53)]
    cases = [[{**empty, "week": week, "year": year}] for week, year in codes]
    for (week, year), found in zip(codes, ask(page, "tyres", cases), strict=True):
        try:
            told = tyres(TyresInput(date_code=f"{week:02}{year:02}"))
        except FigureInputError:
            assert found["no_week"], (week, year)
            assert found["made"] is None
            continue
        assert not found["no_week"]
        days = (told.made, told.replace_ideally, told.replace_by)
        assert [found[key] for key in ("made", "ideally", "latest")] == [
            [day.year, day.month, day.day] for day in days if day
        ], (week, year)
    indices = [(index, many, plate) for index in range(75, 127) for many in (2, 4)
               for plate in (None, 900, 1500.5)]  # fmt: skip
    cases = [
        [{**empty, "load_index": index, "tyres": many, "axle_max_kg": plate}]
        for index, many, plate in indices
    ]
    for (index, many, plate), found in zip(indices, ask(page, "tyres", cases), strict=True):
        told = tyres(TyresInput(tyre=f"R 14 {index}", tyres=many, axle_max_kg=plate))
        assert (found["axle_kg"], found["enough"]) == (told.axle_kg, told.enough)
    gauges = [0, 14.5, 30, 55.5, 120]
    cases = [[{**empty, "gauge_psi": psi}] for psi in gauges]
    for psi, found in zip(gauges, ask(page, "tyres", cases), strict=True):
        assert same(found["gauge_bar"], psi_to_bar(psi))
    assert data["pressure_bar"] == unit[1].tyres.pressure_bar if unit[1].tyres else True


def test_loading(site: Site, page: Page, unit: tuple[str, OwnInputs]) -> None:
    """The same loads, effects and verdicts for every set of things, weighed or not."""
    data = opened(page, site, unit, "masses")
    own = unit[1].loading
    draw = random.Random(15)
    needed = [field["key"] for field in data["fields"]]
    amounts = {
        "weighed_kg": (None, 900, 1400.5, 3100), "weighed_front_kg": (None, 20, 80, 400.25),
        "tow_max_kg": (None, 75, 120), "axle_m": (None, 3.1, 5), "support_m": (None, 3.6, 4.45),
        "mtplm_kg": (None, 1500, 3500), "axle_max_kg": (None, 1450, 2000),
        "support_max_kg": (None, 100, 1700),
    }  # fmt: skip
    assert set(needed) <= set(amounts)
    cases = []
    for _ in range(200):
        given = {key: draw.choice(amounts[key]) for key in needed}
        things = [
            [draw.choice((0, 1, 7.5, 40, 300)), draw.choice((-1.2, 0, 2.25, 3.2, 5.85, 7))]
            for _ in range(draw.randrange(5))
        ]
        cases.append([given, things])
    seen = set()
    for (given, things), found in zip(cases, ask(page, "loading", cases), strict=True):
        told = loading(replace(own, **given, things=tuple(Thing("x", kg, m) for kg, m in things)))
        for key in ("things_kg", "total_kg", "support_kg", "axle_kg"):
            assert same(found[key], getattr(told, key)), (key, given, things)
        assert len(found["effects"]) == len(told.effects)
        for ours, theirs in zip(found["effects"], told.effects, strict=True):
            assert same(ours[0], theirs.support_kg)
            assert same(ours[1], theirs.axle_kg)
        assert [(one[0], one[4]) for one in found["checks"]] == [
            (check.key, check.verdict) for check in told.checks
        ], (given, things)
        for ours, check in zip(found["checks"], told.checks, strict=True):
            assert all(map(same, ours[1:4], (check.value, check.low, check.high)))
            seen.add(check.verdict)
    assert seen >= {"within", "over", "lifts"}


def test_a_load_is_planned(site: Site, windows: Windows, demo: Sources) -> None:
    """Things are added, moved and taken away; each says what it does, and every limit is held."""
    code = demo.register.code_for("lt-2107", "unit", "")
    page = windows.open().page
    page.goto(f"{site.origin}/{code}/numbers/masses.html")
    told = page.locator(".told")
    assert "Nose load: 78 kg. Within the limit of 100 kg, 22 kg are left." in told.inner_text()
    page.get_by_role("button", name="Add a thing").click()
    assert page.locator(":focus").get_attribute("id") == page.get_by_label(
        "Thing", exact=True
    ).get_attribute("id")
    lacking = "A thing lacks its kilograms or its place. Then all is added up."
    assert told.inner_text() == lacking
    page.get_by_label("Thing", exact=True).fill("Awning")
    page.get_by_label("Kilograms").fill("40")
    page.get_by_label("Where it lies").select_option("Front gas locker")
    # 40 kg at the front wall, 3.2 m ahead of the axle and 4.45 m from it to the coupling.
    assert page.locator(".adds").inner_text() == "Nose load: +28.8 kg. Axle: +11.2 kg."
    assert "Nose load: 107 kg. Too much by 7 kg, the limit is 100 kg." in told.inner_text()
    page.get_by_label("Where it lies").select_option("Type a distance")
    assert told.inner_text() == lacking
    page.get_by_label("From the front of the body back to a thing").fill("3,2")
    assert page.locator(".adds").inner_text() == "Nose load: 0 kg. Axle: +40 kg."
    page.get_by_role("button", name="+ Gas cylinder").click()
    assert page.get_by_label("Kilograms").nth(1).input_value() == "12"
    assert "Things together: 52 kg." in told.inner_text()
    assert "Laden mass: 1,444 kg. Within the limit of 1,550 kg, 106 kg" in told.inner_text()
    page.get_by_label("Lower of the nose-load limits of car and tow bar").fill("75")
    assert "Nose load: 87 kg. Too much by 12 kg, the limit is 75 kg." in told.inner_text()
    page.get_by_label("Kilograms").nth(1).fill("1e308")
    wrong = page.locator(".wrong:visible")
    assert wrong.inner_text() == "Kilograms: please give kilograms from 0 to 2000."
    assert not told.is_visible()
    # What was planned is there again after the page was left.
    page.reload()
    assert page.get_by_label("Thing", exact=True).nth(0).input_value() == "Awning"
    page.get_by_role("button", name="Remove").nth(1).click()
    assert "Things together: 40 kg." in told.inner_text()
    page.get_by_role("button", name="Clear all").click()
    assert page.get_by_text("Add a thing to see what it does.").is_visible()
    assert "Things together" not in told.inner_text()


def test_without_any_number_a_plan_asks(site: Site, windows: Windows, demo: Sources) -> None:
    """A campervan that was never weighed: what is wanted is asked for, and nothing is guessed."""
    code = demo.register.code_for("cv-3004", "unit", "")
    page = windows.open().page
    page.goto(f"{site.origin}/{code}/numbers/masses.html")
    told = page.locator(".told")
    assert "Still wanted: whole mass when it was weighed, before these things and" in (
        told.inner_text()
    )
    assert "Front axle" not in told.inner_text()
    page.get_by_role("button", name="Add a thing").click()
    page.get_by_label("Kilograms").fill("30")
    page.get_by_label("Where it lies").select_option("Rear cupboard")
    # The plate's mass in running order tells the laden mass; the axles need distances.
    assert "Laden mass: 2,410 kg. Within the limit of 3,000 kg" in told.inner_text()
    page.get_by_label("From the rear axle forward to the front axle").fill("3.2")
    assert page.locator(".adds").inner_text() == "Front axle: \u22127.5 kg. Rear axle: +37.5 kg."


def test_fields_take_what_the_figures_take(site: Site, page: Page) -> None:
    """What a field refuses, a figure would refuse; words, endless and not-a-number included."""
    quantity = Quantity("x_a", "x", 1, 125)
    whole = replace(quantity, whole=True)
    page.goto(site.address(site.kinds["number"]))
    numbers = (-1, 0, 0.999, 1, 1.5, 6, 125, 125.001, 1e300)
    for wanted in (quantity, whole):
        field = {"low": 1, "high": 125, "whole": wanted.whole, "choices": []}
        for number in numbers:
            try:
                expected: float | None = checked(wanted, number)
            except FigureInputError:
                expected = None
            text = f"{number:f}".rstrip("0").rstrip(".")
            for typed in (text, f" {text} ", text.replace(".", ",")):
                found = page.evaluate("([f, t]) => lockerleafNumbers.check(f, t)", [field, typed])
                assert found == ({"wrong": True} if expected is None else {"value": expected}), (
                    typed
                )
        for typed in ("abc", "1 2", "NaN", "Infinity", "1e2", "0x10", "--3", "6A", "1.2.3", "<b>"):
            found = page.evaluate("([f, t]) => lockerleafNumbers.check(f, t)", [field, typed])
            assert found == {"wrong": True}, typed
        assert page.evaluate("(f) => lockerleafNumbers.check(f, ' ')", field) == {"value": None}


def test_rounding_is_the_same(site: Site, page: Page) -> None:
    """A bound stays true in the form as in the table."""
    page.goto(site.address(site.kinds["number"]))
    values = [0.0, 0.04, 0.05, 0.625, 1.25, 2.5, 36.863, 36.999, 1e6 / 3, 0.1 + 0.2]
    cases = [
        list(case) for case in product(values, (0, 1, 2), ("", "about", "at least", "at most"))
    ]
    found = page.evaluate("(all) => all.map((one) => lockerleafNumbers.honest(...one))", cases)
    assert found == [honest(*case) for case in cases]


def test_a_reader_with_six_amperes_finds_the_answer(
    site: Site, windows: Windows, demo: Sources
) -> None:
    """From the home page by one tap: the answer stands on the screen, without scrolling."""
    code = demo.register.code_for("lt-2107", "unit", "")
    page = windows.open().page
    page.goto(f"{site.origin}/{code}/index.html")
    asked = page.get_by_role("link", name="What can I run on this pitch?", exact=True)
    six = page.get_by_role("link", name="6 A", exact=True)
    for link in (asked, six):
        # In the upper half of a phone's screen, and large enough for a cold thumb.
        box = link.bounding_box()
        assert box
        assert box["y"] + box["height"] < 844 / 2
        assert min(box["width"], box["height"]) >= 44
    six.click()
    page.wait_for_timeout(900)
    answer = page.locator(".number-at-6-a .answer")
    box = answer.bounding_box()
    assert box
    assert 0 <= box["y"] < 500
    assert answer.inner_text() == "Together: Battery charger, Water heater and Fridge."


def test_the_form_answers_and_tells_what_is_wrong(
    site: Site, windows: Windows, demo: Sources
) -> None:
    """Typed amps and ticked appliances give a verdict; a wrong value gives its limits in words."""
    code = demo.register.code_for("lt-2107", "unit", "")
    page = windows.open().page
    page.goto(f"{site.origin}/{code}/numbers/pitch.html")
    told = page.locator(".told")
    amps = page.get_by_label("Rating of the pitch's breaker")
    assert "Still wanted: rating of the pitch's breaker" in told.inner_text()
    amps.fill("6")
    assert "What fits together on this pitch:" in told.inner_text()
    page.get_by_role("checkbox", name=re.compile("^Water heater")).check()
    assert "This fits: 850 W of 1,380 W. 530 W are left." in told.inner_text()
    page.get_by_role("combobox", name="Space heater").select_option("1000")
    assert "Too much: 1,850 W of 1,380 W. Switch off at least 470 W." in told.inner_text()
    amps.fill("6,5 A")
    wrong = page.locator(".wrong:visible")
    assert wrong.inner_text() == "Rating of the pitch's breaker: please give amperes from 1 to 63."
    assert amps.get_attribute("aria-invalid") == "true"
    assert not told.is_visible()
    amps.fill("10,0")
    assert "This fits: 1,850 W of 2,300 W." in told.inner_text()
    page.keyboard.press("Enter")
    assert page.url.endswith("/numbers/pitch.html")


BAD = (
    "0",
    "-1",
    "-0,5",
    "six",
    "1e308",
    "9" * 40,
    "NaN",
    "Infinity",
    "<b>1</b>",
    "1.2.3",
    "1,000,5",
)
FORMS = ("pitch", "gas", "hot-water", "battery", "water", "masses", "tyres", "weather")


@pytest.mark.parametrize("name", FORMS)
def test_every_form_tells_what_cannot_be_right(
    site: Site, windows: Windows, demo: Sources, name: str
) -> None:
    """Each field of each form, with each bad input: within its limits, or told in words."""
    code = demo.register.code_for("mh-4001", "unit", "")
    page = windows.open().page
    page.goto(f"{site.origin}/{code}/numbers/{name}.html")
    if name == "masses":
        page.get_by_role("button", name="Add a thing").click()
        page.get_by_label("Where it lies").select_option("Type a distance")
    for details in page.locator(".work-out details").all():
        details.locator("summary").click()
    told, wrong = page.locator(".told"), page.locator(".field .wrong:visible")
    data = page.evaluate(DATA)
    fields = {field["label"]: field for field in data["fields"]}
    if name == "masses":
        fields[data["words"]["thing_kg"]] = data["item_kg"]
        fields[data["from_front_m"]["label"]] = data["from_front_m"]
    inputs = page.locator(".work-out input[inputmode]").all()
    assert inputs
    refused = 0
    for field in inputs:
        before = field.input_value()
        label = field.evaluate("(e) => e.labels[0].firstChild.textContent")
        for bad in BAD:
            field.fill(bad)
            said = told.inner_text() if told.is_visible() else ""
            assert not re.search(r"NaN|Infinity|undefined|null|\u221e|\{", said), (label, bad, said)
            number = float(bad.replace(",", ".")) if re.fullmatch(r"-?[0-9]+(,5)?", bad) else None
            limits = fields[label]
            fits = number is not None and limits["low"] <= number <= limits["high"]
            if limits["whole"] and number is not None and number != int(number):
                fits = False
            if fits:
                assert wrong.count() == 0, (label, bad)
                continue
            refused += 1
            assert wrong.inner_text() == f"{label}: please give {limits['right']}.", bad
            assert field.get_attribute("aria-invalid") == "true"
            assert not said
        field.fill(before)
        assert wrong.count() == 0
    assert refused >= 5 * len(inputs)


def test_without_javascript_there_is_no_form_and_all_tables(
    site: Site, windows: Windows, demo: Sources
) -> None:
    """Scripts off: no field, no button, and the answers are there."""
    code = demo.register.code_for("lt-2107", "unit", "")
    page = windows.open(java_script_enabled=False).page
    for name in ("pitch", "gas", "hot-water", "battery", "water", "masses", "tyres", "weather"):
        page.goto(f"{site.origin}/{code}/numbers/{name}.html")
        assert page.locator("input, select, button, form").count() == 0
        assert page.locator(".answer").count() >= 2
        assert page.locator("table").count() >= 2
        assert page.get_by_text("Other", exact=True).count() == 0
