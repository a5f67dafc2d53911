"""Loading planner: what each thing does to the nose load or the front axle, and to the axle.

Things lie so many metres back from the front of the body, as the places of a unit do; what is on
the drawbar lies ahead of it. A support carries the front: the coupling of a caravan, the front
axle of a motor vehicle. Both ends of the sum are a balance of moments about the axle.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from generator.figures.figure import (
    Ask,
    Figure,
    FigureInputError,
    Given,
    Input,
    Origin,
    Quantity,
    Row,
    Source,
    Sure,
    checked,
    look,
    one_choice,
)
from generator.figures.masses import MIRO_KG, MTPLM_KG, SORTS

NOSE_PCT = (5.0, 7.0)
"""The usual window of the nose load, in percent of the laden caravan."""
GRAVITY = 9.80665
"""Newtons for each kilogram."""
MOST_THINGS = 40
_KG = 1e-6  # kilogram; far below what any scale shows, far above rounding

WEIGHED_KG = Quantity(
    "weighed_kg", "whole mass when it was weighed, before these things", 100, 7500
)
ITEM_KG = Quantity("item_kg", "mass of a thing", 0, 2_000)
FROM_FRONT_M = Quantity("from_front_m", "from the front of the body back to a thing", -4, 14)
TOW_MAX_KG = Quantity("tow_max_kg", "lower of the nose-load limits of car and tow bar", 1, 500)
AXLE_M = Quantity("axle_m", "from the front of the body back to the axle", 0.5, 12)
AXLE_MAX_KG = Quantity("axle_max_kg", "greatest axle load on the plate", 100, 7_500)

CARAVAN = (
    WEIGHED_KG,
    Quantity("weighed_front_kg", "nose load at that weighing", 0, 5_000),
    AXLE_M,
    Quantity("support_m", "from the axle forward to the coupling", 1, 10),
    MTPLM_KG,
    AXLE_MAX_KG,
)
"""What a caravan's plan needs, beside its limits of nose load."""
NOSELOAD_MIN_KG = Quantity("noseload_min_kg", "least nose load that the maker allows", 0, 500)
SUPPORT_MAX_KG = Quantity("support_max_kg", "greatest nose load marked on the coupling", 1, 500)

MOTOR = (
    WEIGHED_KG,
    Quantity("weighed_front_kg", "load of the front axle at that weighing", 1, 5_000),
    Quantity("axle_m", "from the front of the body back to the rear axle", 0.5, 12),
    Quantity("support_m", "from the rear axle forward to the front axle", 1, 8),
    MTPLM_KG,
    Quantity("axle_max_kg", "greatest load of the rear axle on the plate", 100, 7_500),
    Quantity("support_max_kg", "greatest load of the front axle on the plate", 100, 5_000),
)
"""What the plan of a motorhome or a campervan needs."""

NOSE = Source(
    "NCC towing guide, page 11: nose load of 5 to 7 percent, lowest of the limits", Sure.PUBLISHED
)
MOMENTS = Source("balance of moments", Sure.ARITHMETIC)


@dataclass(frozen=True, slots=True)
class Thing:
    """A thing that is loaded: its mass, and how far behind the front of the body it lies."""

    label: str
    item_kg: float
    from_front_m: float
    origin: Origin = Origin.READER


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadingInput(Given):
    """A unit's geometry and limits, how it was weighed, and what is loaded where."""

    sort: str
    mtplm_kg: float | None = None
    miro_kg: float | None = None
    axle_m: float | None = None
    """Of a motor vehicle, its rear axle."""
    support_m: float | None = None
    weighed_kg: float | None = None
    weighed_front_kg: float | None = None
    axle_max_kg: float | None = None
    noseload_min_kg: float | None = None
    support_max_kg: float | None = None
    """Of the coupling, or of a motor vehicle's front axle."""
    tow_max_kg: float | None = None
    things: tuple[Thing, ...] = ()


@dataclass(frozen=True, slots=True)
class Effect:
    """What one thing adds: to the nose load or the front axle, and to the axle; kilograms."""

    support_kg: float
    axle_kg: float


@dataclass(frozen=True, slots=True)
class Check:
    """A load against its limits."""

    key: str
    """`laden`, `support`, `axle`, or `usual`: the nose load that most towing guides advise."""
    value: float
    low: float | None = None
    high: float | None = None

    @property
    def verdict(self) -> str:
        """Return `lifts`, `under`, `over` or `within`. Exactly at a limit is within."""
        if self.key in ("support", "axle") and self.value <= 0:
            return "lifts"
        if self.low is not None and self.value < self.low - _KG:
            return "under"
        if self.high is not None and self.value > self.high + _KG:
            return "over"
        return "within"


@dataclass(frozen=True, slots=True)
class Loading:
    """Kilograms; None where an input is missing."""

    things_kg: float
    total_kg: float | None
    """From the weighing, or from the plate's mass in running order."""
    support_kg: float | None
    """Negative if the front lifts."""
    axle_kg: float | None
    effects: tuple[Effect, ...]
    """For each thing; empty where the distances are not known."""
    checks: tuple[Check, ...]
    figures: tuple[Figure, ...]


def loading(given: LoadingInput) -> Loading:
    """Return what things do to a unit's loads, each load held against its limits."""
    one_choice("sort", given.sort, SORTS)
    inputs, asked = _look(given)
    things_kg = sum(thing.item_kg for thing in given.things)
    effects: tuple[Effect, ...] = ()
    if given.axle_m is not None and given.support_m is not None:
        places = [(thing.item_kg, thing.from_front_m) for thing in given.things]
        effects = tuple(effect(kg, m, given.axle_m, given.support_m) for kg, m in places)
    base = given.weighed_kg if given.weighed_kg is not None else given.miro_kg
    total = base + things_kg if base is not None else None
    support = axle = None
    if (
        given.weighed_kg is not None
        and given.weighed_front_kg is not None
        and len(effects) == len(given.things)
    ):
        support = given.weighed_front_kg + sum(one.support_kg for one in effects)
        axle = given.weighed_kg + things_kg - support
    checks = tuple(_checks(given, total, support, axle))
    figure = _figure(given, inputs, asked, total, support, axle)
    return Loading(things_kg, total, support, axle, effects, checks, (figure,))


def effect(item_kg: float, from_front_m: float, axle_m: float, support_m: float) -> Effect:
    """Return what a thing adds to the support and to the axle.

    The support lies `support_m` ahead of the axle, so a thing right above it rests on it whole, and
    one behind the axle lifts it.
    """
    support = item_kg * (axle_m - from_front_m) / support_m
    return Effect(support, item_kg - support)


def nose_window_kg(laden_kg: float) -> tuple[float, float]:
    """Return the usual least and most nose load of a caravan laden so."""
    return laden_kg * NOSE_PCT[0] / 100, laden_kg * NOSE_PCT[1] / 100


def force_n(mass_kg: float) -> float:
    """Return the weight of a mass, as a tow bar's plate may state it."""
    return mass_kg * GRAVITY


def nose_limit_kg(given: LoadingInput) -> float | None:
    """Return the lowest of the limits of coupling, tow bar and car that are known."""
    known = [one for one in (given.support_max_kg, given.tow_max_kg) if one is not None]
    return min(known, default=None)


def _look(given: LoadingInput) -> tuple[tuple[Input, ...], tuple[Ask, ...]]:
    caravan = given.sort == "caravan"
    inputs, asked = look(given, CARAVAN if caravan else MOTOR)
    if caravan:
        limits, missing = look(given, (NOSELOAD_MIN_KG, SUPPORT_MAX_KG, TOW_MAX_KG))
        inputs += limits
        # A least is stated by few makers; the lowest of the greatest decides.
        asked += tuple(ask for ask in missing if ask.key != NOSELOAD_MIN_KG.key)
    if given.weighed_kg is None:
        inputs += look(given, (MIRO_KG,))[0]
    low, high = given.noseload_min_kg, given.support_max_kg
    if low is not None and high is not None and low >= high:
        raise FigureInputError(
            "noseload_min_kg", f"is {low:g}", f"less than the greatest, {high:g}"
        )
    whole, front = given.weighed_kg, given.weighed_front_kg
    if whole is not None and front is not None and front >= whole:
        raise FigureInputError(
            "weighed_front_kg", f"is {front:g}", f"less than {whole:g}, the whole"
        )
    if len(given.things) > MOST_THINGS:
        raise FigureInputError("things", f"are {len(given.things)}", f"at most {MOST_THINGS}")
    for number, thing in enumerate(given.things):
        checked(ITEM_KG, thing.item_kg, key=f"things[{number}].item_kg")
        checked(FROM_FRONT_M, thing.from_front_m, key=f"things[{number}].from_front_m")
        inputs += (
            Input("item_kg", thing.label, thing.item_kg, thing.origin),
            Input("from_front_m", f"{thing.label}, from front", thing.from_front_m, thing.origin),
        )
    return inputs, asked


def _checks(
    given: LoadingInput, total: float | None, support: float | None, axle: float | None
) -> Iterable[Check]:
    caravan = given.sort == "caravan"
    if total is not None and given.mtplm_kg is not None:
        yield Check("laden", total, None, given.mtplm_kg)
    if support is not None:
        high = nose_limit_kg(given) if caravan else given.support_max_kg
        low = given.noseload_min_kg if caravan else None
        yield Check("support", support, low, high)
    if axle is not None and given.axle_max_kg is not None:
        yield Check("axle", axle, None, given.axle_max_kg)
    if caravan and support is not None and total is not None:
        yield Check("usual", support, *nose_window_kg(total))


def _figure(
    given: LoadingInput,
    inputs: tuple[Input, ...],
    asked: tuple[Ask, ...],
    total: float | None,
    support: float | None,
    axle: float | None,
) -> Figure:
    caravan = given.sort == "caravan"
    rows: list[Row] = []
    if total is not None:
        rows.append(Row("Laden mass", total, "total_kg", 0, "about"))
    if support is not None and axle is not None:
        label = "Nose load" if caravan else "Front axle"
        rows.append(Row(label, support, "support_kg", 0, "about"))
        if caravan and support > 0:
            rows.append(Row("Nose load as a force", force_n(support), "support_n", 0, "about"))
        rows.append(Row("Axle" if caravan else "Rear axle", axle, "axle_kg", 0, "about"))
    where = "coupling" if caravan else "front axle"
    return Figure(
        name="loading",
        title="Where things lie",
        inputs=inputs,
        asked=asked,
        formula=f"Each mass times its distance ahead of the {'axle' if caravan else 'rear axle'}, "
        f"divided by the distance of the {where}, added to what was weighed there. The axle "
        "carries the rest.",
        rows=tuple(rows),
        notes=(
            *(("Two axles close together count as one, in the middle.",) if caravan else ()),
            "A thing counts where its middle lies.",
            "Weigh the nose load before you drive." if caravan else "Weigh each axle.",
        ),
        sources=(MOMENTS, NOSE) if caravan else (MOMENTS,),
        cautions=("overload", "loose-items", "sway") if caravan else ("overload", "loose-items"),
    )
