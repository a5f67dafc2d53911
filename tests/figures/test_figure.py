"""What every figure carries: units of measure, rounding, asking, and refusing."""

# ruff: noqa: D103 - a test here is named by the sentence that it proves
from __future__ import annotations

import ast
import importlib
import re
from dataclasses import FrozenInstanceError, fields, is_dataclass
from pathlib import Path

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

import generator.figures
from generator.figures import imperial
from generator.figures.figure import (
    FigureInputError,
    Quantity,
    Row,
    Source,
    Sure,
    between,
    checked,
    honest,
    measure,
    symbol,
)

ROOM = Path(generator.figures.__file__).parent
MODULES = sorted(path.stem for path in ROOM.glob("*.py") if path.stem != "__init__")
CAUTIONS = ROOM.parents[1] / "docs_src" / "cautions"
UNITS = pint.UnitRegistry()
WEIGHT = Quantity("item_kg", "a thing", 0, 100)


def test_conversions_agree_with_pint() -> None:
    # Checked against: pint 0.25.3.
    cases = [
        (imperial.psi_to_bar(1), UNITS("1 psi").to("bar")),
        (imperial.bar_to_psi(3.8), UNITS("3.8 bar").to("psi")),
        (imperial.bar_to_kpa(0.03), UNITS("30 mbar").to("kPa")),
        (imperial.nm_to_lbf_ft(88), UNITS("88 N m").to("lbf ft")),
        (imperial.km_to_miles(96.56064), UNITS("96.56064 km/h").to("mph")),
    ]
    for ours, theirs in cases:
        assert ours == pytest.approx(theirs.magnitude, rel=1e-9)


def test_conversions_agree_with_the_values_in_print() -> None:
    # Checked against: pint 0.25.3 as noted in reference.md G: 1 psi = 68.9476 mbar,
    # 88 N m = 64.9055 lbf ft, 60 mph = 96.56064 km/h, 30 mbar = 3.0 kPa.
    assert imperial.psi_to_bar(1) * 1_000 == pytest.approx(68.9476, rel=1e-6)
    assert imperial.nm_to_lbf_ft(88) == pytest.approx(64.9055, rel=1e-6)
    assert imperial.km_to_miles(96.56064) == pytest.approx(60, rel=1e-9)
    assert imperial.bar_to_kpa(0.030) == pytest.approx(3.0, rel=1e-9)


@pytest.mark.parametrize(
    ("key", "printed"),
    [
        ("capacity_l", "litres"),
        ("waste_l_day", "litres/day"),
        ("pump_l_min", "litres/min"),
        ("dose_mg_l", "mg/l"),
        ("gas_g_h", "g/h"),
        ("rating_a", "A"),
        ("capacity_ah", "Ah"),
        ("use_ah_day", "Ah/day"),
        ("lead_mm2", "mm²"),
        ("support_n", "N"),
        ("torque_nm", "N m"),
        ("speed_km_h", "km/h"),
        ("retorque_km", "km"),
        ("limit_kg", "kg"),
        ("energy_kwh", "kWh"),
        ("power_kw", "kW"),
        ("liquid_c", "°C"),
        ("outlet_mbar", "mbar"),
        ("sun_psh", "sun hours"),
        ("count", ""),
    ],
)
def test_the_suffix_of_a_key_names_its_unit_of_measure(key: str, printed: str) -> None:
    assert symbol(key) == printed


def test_a_bound_stays_true_when_rounded() -> None:
    assert str(Row("", 36.93, "time_min", 0, "at least")) == "at least 36 min"
    assert str(Row("", 6.01, "time_h", 1, "at most")) == "at most 6.1 h"
    assert str(Row("", 6.0, "time_h", 1, "at most")) == "at most 6.0 h"
    assert str(Row("", 2.5, "count")) == "3"
    assert str(Row("", -0.001, "temp_c", 1)) == "0.0 °C"


def test_imperial_stands_beside_where_both_are_used() -> None:
    assert str(Row("", 3.8, "pressure_bar", 1)) == "3.8 bar (55 psi)"
    assert str(Row("", 88.0, "torque_nm")) == "88 N m (65 lbf ft)"
    assert str(Row("", 80.0, "retorque_km")) == "80 km (50 miles)"
    assert "(" not in str(Row("", 50.0, "dose_mg_l"))
    assert "(" not in str(Row("", 50.0, "outlet_mbar"))


@given(st.floats(-1e6, 1e6), st.integers(0, 3))
def test_rounding_never_breaks_a_bound(value: float, digits: int) -> None:
    step = 10.0**-digits
    assert honest(value, digits, "at least") <= value + 1e-6
    assert honest(value, digits, "at most") >= value - 1e-6
    assert abs(honest(value, digits) - value) <= step / 2 + 1e-6
    assert abs(honest(value, digits, "at least") - value) <= step + 1e-6


@pytest.mark.parametrize(
    "bad",
    [float("nan"), float("inf"), -float("inf"), -1, 101, 1e308, 10**400, True, "7", None, [7], 7j],
)
def test_a_value_that_cannot_be_is_refused_in_one_clear_line(bad: object) -> None:
    with pytest.raises(FigureInputError) as caught:
        checked(WEIGHT, bad)
    error = caught.value
    assert isinstance(error, ValueError)
    assert error.key == "item_kg"
    assert error.right == "kilograms from 0 to 100"
    assert str(error).startswith("item_kg: is ")
    assert "\n" not in str(error)
    assert len(str(error)) < 120


def test_the_limits_themselves_are_allowed() -> None:
    assert checked(WEIGHT, 0) == 0.0
    assert checked(WEIGHT, 100) == 100.0


def test_a_count_must_be_whole() -> None:
    quantity = Quantity("count", "cylinders", 1, 4, whole=True)
    assert checked(quantity, 2.0) == 2
    with pytest.raises(FigureInputError, match="a whole number from 1 to 4"):
        checked(quantity, 1.5)


def test_between_joins_points_and_refuses_the_rest() -> None:
    assert between(((0, 0), (10, 100)), 2.5) == 25
    assert between(((0, 0), (10, 100)), 10) == 100
    with pytest.raises(ValueError, match="outside"):
        between(((0, 0), (10, 100)), 10.1)


def test_a_source_says_how_sure_it_is() -> None:
    assert str(Source("X", Sure.SECOND_HAND)) == "X (second-hand, as restated by others)"
    assert str(Source("X 1.0", Sure.COMPUTED)) == "computed with X 1.0"


@pytest.mark.parametrize("name", MODULES)
def test_every_value_of_the_room_is_frozen(name: str) -> None:
    module = importlib.import_module(f"generator.figures.{name}")
    for thing in vars(module).values():
        if isinstance(thing, type) and is_dataclass(thing) and thing.__module__ == module.__name__:
            assert thing.__dataclass_params__.frozen, thing  # type: ignore[attr-defined]


def test_frozen_means_frozen() -> None:
    with pytest.raises(FrozenInstanceError):
        WEIGHT.low = 5  # type: ignore[misc]


@pytest.mark.parametrize("name", MODULES)
def test_the_room_imports_only_what_stands_before_it(name: str) -> None:
    allowed = ("generator.problems", "generator.read", "generator.fit", "generator.figures")
    touching = {"os", "pathlib", "io", "socket", "subprocess", "time", "random", "urllib", "sys"}
    for node in ast.walk(ast.parse((ROOM / f"{name}.py").read_text("utf-8"))):
        names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
        names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
        for one in names:
            assert not one.startswith("generator") or one.startswith(allowed), one
            assert one.split(".")[0] not in touching, one
        called = node.func if isinstance(node, ast.Call) else None
        if isinstance(called, ast.Name):
            assert called.id not in ("open", "print", "input")
        if isinstance(called, ast.Attribute):
            assert called.attr not in ("today", "now", "utcnow")


@pytest.mark.parametrize("name", MODULES)
def test_every_quantity_has_a_unit_of_measure_or_counts(name: str) -> None:
    module = importlib.import_module(f"generator.figures.{name}")
    bare = {"count", "tyres", "persons", "passengers", "peukert_k", "load_index", "week", "year"}
    for thing in vars(module).values():
        if isinstance(thing, Quantity):
            assert measure(thing.key) or thing.key in bare, thing
            assert thing.low < thing.high
            assert thing.label == thing.label.strip() != ""


@pytest.mark.parametrize("name", MODULES)
def test_every_quantity_that_is_looked_up_is_a_field(name: str) -> None:
    """`look` takes values by key, so a wrong key would ask for ever."""
    module = importlib.import_module(f"generator.figures.{name}")
    inputs = [
        thing
        for thing in vars(module).values()
        if isinstance(thing, type)
        and thing.__name__.endswith("Input")
        and is_dataclass(thing)
        and thing.__module__ == module.__name__
    ]
    known = {f.name for one in inputs for f in fields(one)}
    source = (ROOM / f"{name}.py").read_text("utf-8")
    for call in re.findall(r"look\(\s*given,\s*\(([A-Z_0-9, \n]+)\)", source):
        for word in re.findall(r"[A-Z_0-9]+", call):
            assert getattr(module, word).key in known, word


def test_every_caution_that_a_figure_names_is_in_the_library() -> None:
    known = {
        match[1]
        for path in CAUTIONS.glob("*.yml")
        for match in re.finditer(r"(?m)^([a-z][a-z0-9-]*):", path.read_text("utf-8"))
    }
    named: set[str] = set()
    for name in MODULES:
        for node in ast.walk(ast.parse((ROOM / f"{name}.py").read_text("utf-8"))):
            if isinstance(node, ast.keyword) and node.arg == "cautions":
                named |= {
                    leaf.value
                    for leaf in ast.walk(node.value)
                    if isinstance(leaf, ast.Constant)
                    and isinstance(leaf.value, str)
                    and leaf.value != "caravan"
                }
    assert len(named) > 10
    assert named | {"battery-acid"} <= known
