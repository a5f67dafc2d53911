"""What a unit's own fittings say for each figure. The rest is the reader's, and stays missing.

Loads are found by what each kind declares, so a new kind needs nothing here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from generator.figures.battery import BatteryInput, DcLoad
from generator.figures.dates import OwnDate
from generator.figures.figure import Given, Origin
from generator.figures.gas import GasAppliance, GasInput, gas_kg
from generator.figures.hot_water import HotWaterInput
from generator.figures.loading import LoadingInput
from generator.figures.masses import MassesInput
from generator.figures.pitch import MainsLoad, PitchInput
from generator.figures.tyres import TyresInput
from generator.figures.water import WaterInput
from generator.figures.weather import WeatherInput
from generator.figures.wiring import WiringInput
from generator.read.kinds import Kind
from generator.read.units import Fitting, Unit

_KEEPS_POWER = frozenset({"battery-charger", "microwave", "inverter"})
"""Kinds that take more current from a low voltage, as a heating element does not."""
_HEATS_WATER = {
    "water-heater": "capacity_l",
    "combined-heater": "capacity_l",
    "radiant-heating": "hot_water_l",
}
"""By kind: the attribute that says how much tap water it holds."""
LIVES = ("_months", "_years")
"""How an attribute ends that says how long a thing lasts: `life_months`, `fluid_years`."""
_WATER_KG_L = 1.0
"""Near enough for a load: between 0 and 30 °C a litre weighs from 0.996 to 1.000 kg."""
_ALWAYS_HEATS_WATER = frozenset({"water-heater", "combined-heater"})
"""Radiant heating only does where the unit states its tap water."""


@dataclass(frozen=True, slots=True)
class Store:
    """A store of the vehicle itself: what it holds when full, and where it lies."""

    name: str
    label: str
    holds: str
    """`water` or `gas`."""
    item_kg: float
    place: str
    """Empty where only its filler or its drain is known, not where it lies."""


@dataclass(frozen=True, slots=True)
class OwnInputs:
    """For each figure what the unit says; None where it has nothing of the sort."""

    pitch: PitchInput | None
    gas: tuple[GasInput, ...]
    """One for cylinders, one for a fixed tank."""
    hot_water: tuple[HotWaterInput, ...]
    """One for each heater and each temperature that can be chosen."""
    battery: BatteryInput | None
    wiring: WiringInput | None
    water: WaterInput | None
    masses: MassesInput
    loading: LoadingInput
    stores: tuple[Store, ...]
    tyres: TyresInput | None
    weather: WeatherInput
    dates: tuple[OwnDate, ...]


def own_inputs(unit: Unit, kinds: Mapping[str, Kind]) -> OwnInputs:
    """Return what a unit's fittings say for each figure."""
    return OwnInputs(
        pitch=_pitch(unit, kinds),
        gas=tuple(_gas(unit, kinds)),
        hot_water=tuple(_hot_water(unit)),
        battery=_battery(unit, kinds),
        wiring=_wiring(unit),
        water=_water(unit),
        masses=_masses(unit),
        loading=_loading(unit),
        stores=tuple(_stores(unit)),
        tyres=_tyres(unit),
        weather=_weather(unit),
        dates=tuple(_dates(unit, kinds)),
    )


def _first(unit: Unit, *kinds: str) -> Fitting | None:
    return next((f for f in unit.fitted if f.kind in kinds), None)


def _number(fitting: Fitting | None, key: str) -> float | None:
    value = fitting.values.get(key) if fitting else None
    return None if isinstance(value, bool) or not isinstance(value, int | float) else float(value)


def _numbers(fitting: Fitting, key: str) -> tuple[float, ...]:
    value = fitting.values.get(key, ())
    many = value if isinstance(value, tuple) else (value,)
    return tuple(float(n) for n in many if isinstance(n, int | float) and not isinstance(n, bool))


def _of_vehicle(unit: Unit, key: str) -> float | None:
    """Return an attribute of the vehicle as a whole, if its library has one of that name."""
    value = unit.vehicle.get(key)
    return None if isinstance(value, bool) or not isinstance(value, int | float) else float(value)


def _text(fitting: Fitting | None, key: str) -> str | None:
    value = fitting.values.get(key) if fitting else None
    return value if isinstance(value, str) else None


def _from_unit(given: type[Given]) -> dict[str, Origin]:
    """Return the unit as the origin of every key; the page overrides what a reader puts in."""
    return {key: Origin.UNIT for key in given.__dataclass_fields__ if key != "origins"}


def _loads(unit: Unit, kinds: Mapping[str, Kind], supply: str) -> Iterator[tuple[Fitting, str]]:
    for fitting in unit.fitted:
        kind = kinds.get(fitting.kind)
        for load in kind.loads if kind else ():
            if load.supply == supply and load.attribute in fitting.values:
                yield fitting, load.attribute


def _pitch(unit: Unit, kinds: Mapping[str, Kind]) -> PitchInput | None:
    inlet = _first(unit, "hookup-inlet")
    loads = tuple(
        MainsLoad(
            fitting.name,
            fitting.title,
            tuple(sorted(set(_numbers(fitting, attribute)))),
            resistive=fitting.kind not in _KEEPS_POWER,
        )
        for fitting, attribute in _loads(unit, kinds, "mains")
    )
    if inlet is None and not loads:
        return None
    return PitchInput(
        rating_a=None,
        loads=loads,
        inlet_a=_number(inlet, "inlet_a"),
        lead_m=_number(inlet, "lead_m"),
        lead_mm2=_number(inlet, "lead_mm2"),
        origins=dict.fromkeys(("inlet_a", "lead_m", "lead_mm2"), Origin.UNIT),
    )


def _gas(unit: Unit, kinds: Mapping[str, Kind]) -> Iterator[GasInput]:
    appliances = tuple(
        GasAppliance(fitting.name, fitting.title, gas_g_h=_number(fitting, attribute))
        for fitting, attribute in _loads(unit, kinds, "gas")
    )
    outlet = _number(_first(unit, "gas-regulator"), "outlet_mbar")
    origins = _from_unit(GasInput)
    for fitting in unit.fitted:
        if fitting.kind == "gas-cylinder":
            yield GasInput(
                gas=_text(fitting, "gas"),
                appliances=appliances,
                label=fitting.title,
                size_kg=_number(fitting, "size_kg"),
                count=_number(fitting, "count") or 1,
                outlet_mbar=outlet,
                origins=origins,
            )
        elif fitting.kind in ("gas-tank", "refillable-cylinder"):
            yield GasInput(
                gas="mixture",
                appliances=appliances,
                label=fitting.title,
                capacity_l=_number(fitting, "capacity_l"),
                count=_number(fitting, "count") or 1,
                outlet_mbar=outlet,
                origins={**origins, "gas": Origin.KIND},
            )


def _hot_water(unit: Unit) -> Iterator[HotWaterInput]:
    store = _first(unit, "gas-cylinder", "gas-tank", "refillable-cylinder")
    gas = None if store is None else (_text(store, "gas") or "mixture")
    for fitting in unit.fitted:
        holds = _HEATS_WATER.get(fitting.kind)
        if holds and (fitting.kind in _ALWAYS_HEATS_WATER or holds in fitting.values):
            # Where no temperature is stated, it stays missing and is asked for.
            for hot in _numbers(fitting, "hot_c") or (None,):
                burner = _number(fitting, "gas_g_h")
                yield HotWaterInput(
                    capacity_l=_number(fitting, holds),
                    hot_c=hot,
                    mains_w=_numbers(fitting, "mains_w"),
                    gas_g_h=burner,
                    gas=gas if burner is not None else None,
                    origins=_from_unit(HotWaterInput),
                )


def _battery(unit: Unit, kinds: Mapping[str, Kind]) -> BatteryInput | None:
    battery = _first(unit, "leisure-battery")
    if battery is None:
        return None
    loads = tuple(
        DcLoad(
            fitting.name,
            fitting.title,
            draw_a=None if attribute.endswith("_w") else _number(fitting, attribute),
            draw_w=_number(fitting, attribute) if attribute.endswith("_w") else None,
        )
        for fitting, attribute in _loads(unit, kinds, "12v")
    )
    return BatteryInput(
        capacity_ah=_number(battery, "capacity_ah"),
        chemistry=_text(battery, "chemistry"),
        count=_number(battery, "count") or 1,
        loads=loads,
        power_wp=_number(_first(unit, "solar-panel"), "power_wp"),
        output_a=_number(_first(unit, "battery-charger"), "output_a"),
        feed_a=_number(_first(unit, "dc-charger"), "output_a"),
        origins=_from_unit(BatteryInput),
    )


def _wiring(unit: Unit) -> WiringInput | None:
    box = _first(unit, "fuse-box")
    if box is None:
        return None
    return WiringInput(
        fuses=_text(box, "fuses"), design=_text(box, "design"), origins=_from_unit(WiringInput)
    )


def _water(unit: Unit) -> WaterInput | None:
    fresh = _first(unit, "fresh-water")
    if fresh is None:
        return None
    return WaterInput(
        fresh_l=_number(fresh, "capacity_l"),
        waste_l=_number(_first(unit, "waste-water"), "capacity_l"),
        origins=_from_unit(WaterInput),
    )


def _masses(unit: Unit) -> MassesInput:
    return MassesInput(
        sort=unit.sort,
        mtplm_kg=_of_vehicle(unit, "mtplm_kg"),
        miro_kg=_of_vehicle(unit, "miro_kg"),
        persons=_of_vehicle(unit, "persons"),
        length_m=unit.body.length_m or None,
        origins=_from_unit(MassesInput),
    )


def _loading(unit: Unit) -> LoadingInput:
    caravan = unit.sort == "caravan"
    coupling = _first(unit, "coupling")
    body, stated = unit.body, unit.body.stated
    axle_max = _of_vehicle(unit, "axle_max_kg")
    axles = _number(_first(unit, "road-wheels"), "axles") or 1
    if caravan and axle_max is not None:
        axle_max *= axles  # the plate states each; the plan takes them as one
    # Where an axle is only drawn as is usual for the body, it is asked for and not computed with.
    axle = body.axle_along_m if "axle_along_m" in stated else None
    support = _of_vehicle(unit, "wheelbase_m")
    if caravan:
        support = axle + body.drawbar_m if axle is not None and "drawbar_m" in stated else None
    return LoadingInput(
        sort=unit.sort,
        mtplm_kg=_of_vehicle(unit, "mtplm_kg"),
        miro_kg=_of_vehicle(unit, "miro_kg"),
        axle_m=axle,
        support_m=support,
        weighed_kg=_of_vehicle(unit, "weighed_kg"),
        weighed_front_kg=_of_vehicle(unit, "weighed_front_kg"),
        axle_max_kg=axle_max,
        noseload_min_kg=_number(coupling, "noseload_min_kg") if caravan else None,
        support_max_kg=_number(coupling, "noseload_max_kg")
        if caravan
        else _of_vehicle(unit, "front_axle_max_kg"),
        origins=_from_unit(LoadingInput),
    )


def _stores(unit: Unit) -> Iterator[Store]:
    """Yield what the vehicle's own tanks and cylinders hold when full, as loads.

    A container of water stands outside, and is none.
    """
    for fitting in unit.fitted:
        litres = _number(fitting, "capacity_l") or 0
        count = _number(fitting, "count") or 1
        if fitting.kind in ("fresh-water", "waste-water"):
            if _text(fitting, "store") == "tank":
                place = fitting.parts.get("tank", "")
                yield Store(fitting.name, fitting.title, "water", litres * _WATER_KG_L, place)
        elif fitting.kind == "gas-cylinder":
            kg = (_number(fitting, "size_kg") or 0) * count
            yield Store(fitting.name, fitting.title, "gas", kg, fitting.place)
        elif fitting.kind in ("refillable-cylinder", "gas-tank"):
            tank = fitting.kind == "gas-tank"
            place = fitting.parts.get("tank", "" if tank else fitting.place)
            yield Store(
                fitting.name, fitting.title, "gas", gas_kg(litres, "mixture") * count, place
            )


def _tyres(unit: Unit) -> TyresInput | None:
    wheels = _first(unit, "road-wheels")
    if wheels is None:
        return None
    return TyresInput(
        tyre=_text(wheels, "tyre"),
        pressure_bar=_number(wheels, "pressure_bar"),
        torque_nm=_number(wheels, "torque_nm"),
        retorque_km=_number(wheels, "retorque_km"),
        date_code=_text(wheels, "date_code"),
        axle_max_kg=_of_vehicle(unit, "axle_max_kg"),
        origins=_from_unit(TyresInput),
    )


def _weather(unit: Unit) -> WeatherInput:
    opens = _number(_first(unit, "frost-valve"), "opens_c")
    return WeatherInput(drain_c=opens, origins={"drain_c": Origin.UNIT})


def _dates(unit: Unit, kinds: Mapping[str, Kind]) -> Iterator[OwnDate]:
    """Yield every date that a kind has an attribute for, given or not, and every life.

    A life, in months or years, is counted from the day of handover.
    """
    wanted = [(f"{f.name}-", f"{f.title}: ", kinds.get(f.kind), f.values) for f in unit.fitted]
    wanted.append(("", "", kinds.get("vehicle"), unit.vehicle))
    for begin, whose, kind, values in wanted:
        for field in kind.attributes if kind else ():
            value = values.get(field.name)
            name = f"{begin}{field.name.replace('_', '-')}"
            label = f"{whose}{field.help}"
            if field.type == "date":
                yield OwnDate(name, label, due=value if isinstance(value, date) else None)
            elif field.name.endswith(LIVES) and isinstance(value, int | float):
                what, _, measure = field.name.rpartition("_")
                renew = "renew" if what == "life" else f"renew the {what}"
                months = round(value * (12 if measure == "years" else 1))
                label = f"{whose}{renew} after {value:g} {measure}"
                yield OwnDate(name, label, since=unit.delivered, months=months)
