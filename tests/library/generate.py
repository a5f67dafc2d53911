"""Units with random equipment, for tests and measurements. Every choice comes from a seed."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from generator.problems import Mark
from generator.read.fields import Field, Value
from generator.read.kinds import Kind
from generator.read.units import Body, Fitting, Spot, Unit

AT = Mark("generated.yml")
BODY = Body(
    length_m=6.0,
    width_m=2.2,
    height_m=2.6,
    entrance="nearside",
    entrance_along_m=3.0,
    axle_along_m=3.5,
    drawbar_m=1.2,
)
ALWAYS = {
    "caravan": (
        "coupling",
        "road-lead",
        "parking-brake",
        "jockey-wheel",
        "corner-steadies",
        "road-wheels",
        "entrance-door",
        "control-panel",
        "leisure-battery",
        "battery-charger",
        "fuse-box",
        "co-alarm",
        "smoke-alarm",
    ),
    "campervan": (
        "parking-brake",
        "road-wheels",
        "entrance-door",
        "control-panel",
        "leisure-battery",
        "fuse-box",
        "co-alarm",
    ),
}
ALWAYS["motorhome"] = ALWAYS["campervan"]
ONLY_CARAVAN = {"coupling", "road-lead", "jockey-wheel", "motor-mover"}
OUTSIDE = {
    "entrance-door",
    "entrance-step",
    "coupling",
    "road-lead",
    "jockey-wheel",
    "corner-steadies",
    "road-wheels",
    "wheel-clamp",
}
"""What cannot be behind the entrance door."""

TOGETHER = (
    ("hookup-inlet", "consumer-unit", "mains-socket"),
    ("fresh-water", "water-pump", "water-drain", "waste-water"),
    ("gas-regulator", "gas-isolation"),
)
"""Equipment that no maker fits without the rest of its group."""


def random_unit(seed: int, kinds: Mapping[str, Kind], share: float = 0.6) -> Unit:
    """Return a unit whose equipment and values are drawn at random, yet could be a real one."""
    draw = random.Random(seed)
    sort = draw.choice(("caravan", "campervan", "motorhome"))
    chosen = {name for name in kinds if name != "vehicle" and draw.random() < share}
    chosen |= set(ALWAYS[sort])
    if sort != "caravan":
        chosen -= ONLY_CARAVAN
    for group in TOGETHER:
        if chosen & set(group):
            chosen |= set(group)
    _settle_supplies(draw, chosen)
    places = {
        f"place-{n}": Spot(
            name=f"place-{n}",
            title=f"Hatch {n}",
            wall=draw.choice(("front", "nearside", "offside", "rear", "inside", "inside")),
            along_m=round(draw.uniform(0, 2.2), 2),
            across_m=round(draw.uniform(0, 2.2), 2),
            up_m=round(draw.uniform(0.2, 2), 2),
            hint="",
            picture=None,
            caution="",
            at=AT,
        )
        for n in range(draw.randrange(6, 15))
    }
    places["outside"] = replace(places["place-0"], name="outside", wall="nearside")
    fitted = []
    for name in sorted(chosen):
        values = {
            field.name: value
            for field in kinds[name].attributes
            if (value := _random_value(field, draw)) is not None
        }
        fitted.append(
            Fitting(
                name=name,
                kind=name,
                place="outside" if name in OUTSIDE else draw.choice(sorted(places)),
                title=kinds[name].title,
                parts={},
                values=_make_sense(name, values, chosen, draw),
                at=AT,
            )
        )
    _put_pump_in_water(fitted)
    return Unit(
        name=f"g-{seed}",
        title=f"Generated {seed}",
        sort=sort,
        delivered=None,
        body=BODY,
        vehicle={},
        places=places,
        fitted=tuple(fitted),
        prefer=(),
        staff_only=(),
        private=frozenset(),
        film=None,
        private_keys=frozenset(),
        files=(),
        at=AT,
    )


def _settle_supplies(draw: random.Random, chosen: set[str]) -> None:
    """Leave one source of gas, and one heating system, as makers do."""
    chosen -= {"gas-cylinder", "gas-tank", "refillable-cylinder"}
    gas = draw.choice(("gas-cylinder", "gas-tank", "none", "gas-cylinder"))
    if gas != "none":
        chosen |= {gas, "gas-regulator", "gas-isolation"}
    else:
        chosen -= {"gas-regulator", "gas-isolation", "gas-outlet", "oven", "hob"}
    heaters = ("space-heater", "combined-heater", "radiant-heating")
    chosen -= {*heaters, "water-heater", "blown-air", "frost-valve"}
    heater = draw.choice((*heaters, "none"))
    if heater != "none":
        chosen.add(heater)
    if heater in ("space-heater", "none") and "fresh-water" in chosen and draw.random() < 0.7:
        chosen.add("water-heater")
    if heater in ("space-heater", "combined-heater"):
        chosen.add("blown-air")
    if heater in ("combined-heater", "radiant-heating"):
        chosen |= {"fresh-water", "water-pump", "water-drain", "waste-water"}
    toilets = ("cassette-toilet", "portable-toilet", "separating-toilet")
    chosen -= set(toilets)
    chosen.add(draw.choice(toilets))
    chosen -= {"awning", "awning-rail"}
    chosen.add(draw.choice(("awning", "awning-rail")))


FORMED = {
    "tyre": ("195/70 R 15 C 104/102", "185 R 14 C 102/100", "215/65 R 16 C 109/107"),
    "date_code": ("1425", "0226", "3324"),
    "lead_mm2": (1.5, 2.5),
    "fuses": ("1: 10 A water pump; 2: 5 A lights",),
    "breakers": ("6 A lights and charger; 10 A sockets",),
}
"""Values that have a form of their own, so that a random one would rightly be refused."""


def _random_value(field: Field, draw: random.Random) -> Value | None:
    if not field.required and draw.random() < 0.5:
        return None
    low = 1.0 if field.min is None else field.min
    high = 100.0 if field.max is None else field.max
    if field.name in FORMED:
        return draw.choice(FORMED[field.name])
    if field.type == "choice":
        return draw.choice(field.choices)
    if field.type == "choices":
        return tuple(draw.sample(field.choices, draw.randrange(1, len(field.choices) + 1)))
    if field.type == "yes-no":
        return draw.random() < 0.5
    if field.type == "whole":
        return draw.randrange(int(low), int(high) + 1)
    if field.type == "number":
        return round(draw.uniform(low, high), 1)
    if field.type == "numbers":
        return tuple(sorted(round(draw.uniform(low, high)) for _ in range(draw.randrange(1, 4))))
    if field.type == "date":
        return date(2030, draw.randrange(1, 13), draw.randrange(1, 28))
    return "beside the door"


def _put_pump_in_water(fitted: list[Fitting]) -> None:
    """Hang a pump into a container only where there is one, as makers do."""
    stores = {f.values["store"] for f in fitted if f.kind == "fresh-water"}
    for index, fitting in enumerate(fitted):
        hangs = fitting.kind == "water-pump" and fitting.values["design"] == "submersible"
        if hangs and stores == {"tank"}:
            fitted[index] = replace(fitting, values={**fitting.values, "design": "in-tank"})


def _make_sense(
    kind: str, values: dict[str, Value], chosen: set[str], draw: random.Random
) -> dict[str, Value]:
    """Return values that agree with each other and with the rest of the unit."""
    gas = bool(chosen & {"gas-cylinder", "gas-tank"})
    mains = "hookup-inlet" in chosen
    energy = values.get("energy")
    if isinstance(energy, tuple):
        able = [
            e
            for e in energy
            if (e != "gas" or gas) and (e != "mains" or mains) and (kind != "fridge" or e != "x")
        ]
        values["energy"] = tuple(able) or ("12v" if kind == "fridge" else "diesel",)
        if kind in ("water-heater", "radiant-heating") and "diesel" in values["energy"]:
            values["energy"] = ("gas",) if gas else ("mains",)
        if "mains" in values["energy"] and "mains_w" not in values:
            values["mains_w"] = 125 if kind == "fridge" else (1000,)
    if kind == "fridge":
        if values["design"] == "compressor":
            values |= {"energy": ("12v",), "selection": "manual", "winter_covers": False}
        elif values["selection"] == "automatic" or set(values["energy"]) == {"12v"}:
            values["energy"] = tuple(
                e
                for e in ("gas", "mains", "12v")
                if (e != "gas" or gas) and (e != "mains" or mains)
            )
    if kind == "hob" and not values["burners"]:
        values["electric_w"] = 800
    if kind == "hob" and values.get("electric_w") and not mains:
        values.pop("electric_w")
        values["burners"] = values["burners"] or 2
    if kind == "gas-regulator" and "gas-cylinder" not in chosen:
        values["changeover"] = "none"
    if kind == "fresh-water":
        values["store"] = draw.choice(("container", "tank"))
    if kind == "water-drain":
        values["drains"] = "cold-and-hot"
    if kind == "coupling" and "noseload_min_kg" in values:
        values["noseload_min_kg"] = min(values["noseload_min_kg"], values["noseload_max_kg"] / 2)
    return values
