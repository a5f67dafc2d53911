"""What a unit says for each figure, on the demo units and in small."""

# ruff: noqa: D103 - a test here is named by the sentence that it proves
from __future__ import annotations

from dataclasses import replace
from datetime import date

from generator.figures.battery import battery
from generator.figures.dates import DatesInput, dates
from generator.figures.figure import Figure, Origin
from generator.figures.gas import gas
from generator.figures.gather import OwnInputs, own_inputs
from generator.figures.hot_water import hot_water
from generator.figures.loading import loading
from generator.figures.masses import masses
from generator.figures.pitch import pitch
from generator.figures.tyres import tyres
from generator.figures.water import water
from generator.figures.weather import weather
from generator.figures.wiring import wiring
from generator.problems import Mark
from generator.read.fields import Field, Value
from generator.read.kinds import Kind, Load
from generator.read.sources import Sources
from generator.read.units import Body, Fitting, Unit

AT = Mark("units/x.yml")


def kind(name: str, *loads: Load, attributes: tuple[Field, ...] = ()) -> Kind:
    return Kind(
        name=name, title=name, area="a", about="", called=(), attributes=attributes, parts={},
        hazards=(), loads=loads, states={}, at=AT,
    )  # fmt: skip


KINDS = {
    one.name: one
    for one in (
        kind("space-heater", Load("mains", "mains_w"), Load("gas", "gas_g_h")),
        kind("battery-charger", Load("mains", "mains_w")),
        kind("water-pump", Load("12v", "draw_a")),
        kind("fridge", Load("12v", "dc_w"), Load("mains", "mains_w")),
        kind("kite", Load("mains", "tail_w")),
        kind(
            "co-alarm",
            attributes=(
                Field(name="replace_by", type="date", help="Date marked on it"),
                Field(name="life_months", type="whole", help="Its life"),
            ),
        ),
    )
}


def unit(*fitted: tuple[str, dict[str, Value]], sort: str = "caravan") -> Unit:
    return Unit(
        name="x",
        title="X",
        sort=sort,
        delivered=date(2026, 4, 11),
        body=Body(5.85, 2.26, 2.6, "nearside", 3.0, 3.2, 1.3),
        vehicle={"mtplm_kg": 1500, "miro_kg": 1320},
        places={},
        fitted=tuple(
            Fitting(
                name=f"{name}-1", kind=name, place="p", title=name, parts={}, values=values, at=AT
            )
            for name, values in fitted
        ),
        prefer=(),
        staff_only=(),
        private=frozenset({"SECRET"}),
        private_keys=frozenset(),
        film=None,
        files=(),
        at=AT,
    )


def of(*fitted: tuple[str, dict[str, Value]], sort: str = "caravan") -> OwnInputs:
    return own_inputs(unit(*fitted, sort=sort), KINDS)


def test_loads_are_found_by_what_their_kinds_declare() -> None:
    own = of(
        ("space-heater", {"mains_w": (2000, 500), "gas_g_h": 270}),
        ("battery-charger", {"mains_w": 300, "output_a": 18}),
        ("kite", {"tail_w": 5}),
        ("fridge", {"dc_w": 45}),
        ("water-pump", {"draw_a": 4}),
        ("leisure-battery", {"capacity_ah": 100, "chemistry": "AGM", "count": 2}),
        ("gas-cylinder", {"gas": "propane", "size_kg": 6, "count": 2}),
        ("gas-regulator", {"outlet_mbar": 30}),
    )
    assert own.pitch is not None
    assert [(load.name, load.stages_w, load.resistive) for load in own.pitch.loads] == [
        ("space-heater-1", (500, 2000), True),
        ("battery-charger-1", (300,), False),
        ("kite-1", (5,), True),
    ]
    assert own.battery is not None
    assert [(one.name, one.draw_a, one.draw_w) for one in own.battery.loads] == [
        ("fridge-1", None, 45),
        ("water-pump-1", 4, None),
    ]
    assert (own.battery.count, own.battery.output_a) == (2, 18)
    (cylinder,) = own.gas
    assert [(a.name, a.gas_g_h) for a in cylinder.appliances] == [("space-heater-1", 270)]
    assert (cylinder.gas, cylinder.size_kg, cylinder.count, cylinder.outlet_mbar) == (
        "propane", 6, 2, 30,
    )  # fmt: skip


def test_a_life_in_years_falls_due_after_so_many_months() -> None:
    fields = (Field(name="fluid_years", type="number", help="How long its fluid lasts"),)
    kinds = {"heating": kind("heating", attributes=fields)}
    (due,) = own_inputs(unit(("heating", {"fluid_years": 2.5})), kinds).dates
    assert (due.label, due.months) == ("heating: renew the fluid after 2.5 years", 30)


def test_what_only_a_reader_knows_stays_missing() -> None:
    own = of(("hookup-inlet", {"inlet_a": 16, "lead_m": 25, "lead_mm2": 2.5}))
    assert own.pitch is not None
    assert own.pitch.rating_a is None
    assert own.pitch.inlet_a == 16
    assert own.loading.support_m is None
    assert own.loading.axle_m is None
    assert own.battery is None
    assert own.weather.drain_c is None


def test_a_tank_is_a_mixture_by_its_kind_and_not_by_the_unit() -> None:
    (filled,) = of(("refillable-cylinder", {"capacity_l": 14, "count": 2})).gas
    assert (filled.gas, filled.capacity_l, filled.count) == ("mixture", 14, 2)
    (tank,) = of(("gas-tank", {"capacity_l": 40})).gas
    assert (tank.gas, tank.capacity_l, tank.origin("gas")) == ("mixture", 40, Origin.KIND)


def test_each_temperature_of_a_water_heater_is_a_figure_of_its_own() -> None:
    values: dict[str, Value] = {
        "capacity_l": 10, "hot_c": (50, 70), "mains_w": (850,), "gas_g_h": 120,
    }  # fmt: skip
    own = of(("water-heater", values), ("gas-cylinder", {"gas": "butane", "size_kg": 7}))
    assert [(one.hot_c, one.gas, one.mains_w) for one in own.hot_water] == [
        (50, "butane", (850,)),
        (70, "butane", (850,)),
    ]


def test_a_burner_that_needs_no_gas_asks_for_none() -> None:
    own = of(
        ("combined-heater", {"capacity_l": 10, "hot_c": (60,), "mains_w": (900,)}),
        ("gas-cylinder", {"gas": "butane", "size_kg": 7}),
    )
    assert own.hot_water[0].gas is None


def test_what_the_plate_says() -> None:
    own = of(("coupling", {"noseload_max_kg": 100}))
    assert masses(own.masses).payload_kg == 180
    assert own.masses.length_m == 5.85
    assert own.loading.support_max_kg == 100
    assert own.loading.origin("support_max_kg") == Origin.UNIT
    assert of(("coupling", {"noseload_max_kg": 9}), sort="campervan").loading.support_max_kg is None


def test_the_axle_is_where_the_unit_says_and_never_where_it_is_only_drawn() -> None:
    one = unit(("road-wheels", {"axles": 2}))
    said = replace(
        one,
        vehicle={**one.vehicle, "axle_max_kg": 800, "weighed_kg": 1350, "weighed_front_kg": 70},
        body=replace(one.body, stated=frozenset({"axle_along_m", "drawbar_m"})),
    )
    load = own_inputs(said, KINDS).loading
    assert (load.axle_m, load.support_m) == (3.2, 4.5)
    assert (load.weighed_kg, load.weighed_front_kg) == (1350, 70)
    # Two axles, each with what its plate states, count as one.
    assert load.axle_max_kg == 1600
    motor = replace(said, sort="motorhome", vehicle={**said.vehicle, "wheelbase_m": 3.6})
    assert own_inputs(motor, KINDS).loading.support_m == 3.6
    assert own_inputs(motor, KINDS).loading.axle_max_kg == 800


def test_own_stores_are_loads_where_they_lie() -> None:
    one = unit(
        ("gas-cylinder", {"gas": "propane", "size_kg": 6, "count": 2}),
        ("refillable-cylinder", {"capacity_l": 14, "count": 2}),
        ("gas-tank", {"capacity_l": 40}),
        ("fresh-water", {"capacity_l": 44, "store": "tank"}),
        ("waste-water", {"capacity_l": 25, "store": "container"}),
    )
    stores = own_inputs(one, KINDS).stores
    told = [(store.holds, round(store.item_kg, 3), store.place) for store in stores]
    # A tank's filler is not where it lies; a container of water stands outside.
    assert told == [
        ("gas", 12, "p"), ("gas", 11.368, "p"), ("gas", 16.24, ""), ("water", 44, ""),
    ]  # fmt: skip


def test_every_date_of_a_unit() -> None:
    own = of(("co-alarm", {"replace_by": date(2031, 1, 1), "life_months": 6}))
    first, second = own.dates
    assert (first.name, first.due) == ("co-alarm-1-replace-by", date(2031, 1, 1))
    assert (second.since, second.months) == (date(2026, 4, 11), 6)
    (missing,) = of(("co-alarm", {})).dates
    assert missing.due is None


def all_figures(own: OwnInputs, revised: date) -> list[Figure]:
    parts = [masses(own.masses).figures, loading(own.loading).figures, weather(own.weather).figures]
    parts += [pitch(own.pitch).figures] if own.pitch else []
    parts += [gas(one).figures for one in own.gas]
    parts += [hot_water(one).figures for one in own.hot_water]
    parts += [battery(own.battery).figures] if own.battery else []
    parts += [wiring(own.wiring).figures] if own.wiring else []
    parts += [water(own.water).figures] if own.water else []
    parts += [tyres(own.tyres).figures] if own.tyres else []
    parts += [
        dates(DatesInput(code="7K3Q", host="a.example", revised=revised, own=own.dates)).figures
    ]
    return [figure for part in parts for figure in part]


def test_every_demo_unit_has_its_figures(demo: Sources) -> None:
    assert demo.stock.units
    for one in demo.stock.units.values():
        own = own_inputs(one, demo.library.kinds)
        figures = all_figures(own, date(2026, 4, 11))
        assert {"pitch-budget", "nights", "tyre-load", "due-dates"} <= {f.name for f in figures}
        for figure in figures:
            assert figure.formula.endswith((".", ")."))
            said = " ".join(
                [str(row) + row.label for row in figure.rows] + [str(i) for i in figure.inputs]
            )
            assert "nan" not in said.split()
            for secret in one.private:
                assert len(secret) < 4 or secret not in said


def test_origins_name_keys_that_exist() -> None:
    own = of(("leisure-battery", {"capacity_ah": 100}))
    assert own.battery is not None
    assert [key for key in own.battery.origins if not hasattr(own.battery, key)] == []
    assert battery(own.battery).figures[0].inputs[0].origin == Origin.UNIT
