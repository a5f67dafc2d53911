"""Masses: payload, its least value, and where things lie: nose load and axle load by moments.

Distances are from the axle, or from the middle of a pair of axles: forward is positive. A support
carries the front: the coupling of a caravan, the front axle of a motor vehicle.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

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

SORTS = ("caravan", "campervan", "motorhome")
SEAT_KG = 75.0
"""Mass that a motor vehicle's payload sets aside for each passenger. Second-hand."""
NOSE_PCT = (5.0, 7.0)
"""The usual window of the nose load, in percent of the laden caravan."""
GRAVITY = 9.80665
"""Newtons for each kilogram."""

MTPLM_KG = Quantity("mtplm_kg", "greatest laden mass on the plate", 200, 7_500)
MIRO_KG = Quantity("miro_kg", "mass in running order on the plate", 100, 7_500)
PASSENGERS = Quantity("passengers", "passengers beside the driver", 0, 8, whole=True)
PERSONS = Quantity("persons", "berths, or in a motor vehicle the people aboard", 1, 9, whole=True)
LENGTH_M = Quantity("length_m", "length: body of a caravan, overall of a motor vehicle", 2, 12)
SUPPORT_M = Quantity("support_m", "from the axle forward to the coupling or front axle", 1, 8)
SUPPORT_KG = Quantity("support_kg", "weighed at the coupling or front axle, unladen", 0, 5_000)
UNLADEN_KG = Quantity("unladen_kg", "whole mass when that was weighed", 100, 7_500)
AXLE_MAX_KG = Quantity("axle_max_kg", "greatest axle load on the plate", 100, 7_500)
ITEM_KG = Quantity("item_kg", "mass of a thing", 0, 2_000)
ITEM_M = Quantity("item_m", "place of a thing forward of the axle", -8, 10)
LIMIT_KG = Quantity("limit_kg", "a nose-load limit", 1, 500)

EN_1645_2 = Source("EN 1645-2: 10 kg a berth, 10 kg a metre of body, and 30 kg", Sure.SECOND_HAND)
EN_1646_2 = Source("EN 1646-2: 10 kg a person and 10 kg a metre", Sure.SECOND_HAND)
SEATS = Source("75 kg for each passenger, the driver being in running order", Sure.SECOND_HAND)
PAYLOAD = Source("Towsafe glossary: greatest laden mass less mass in running order", Sure.PUBLISHED)
NOSE = Source(
    "NCC towing guide, page 11: nose load of 5 to 7 percent, lowest of the limits", Sure.PUBLISHED
)
MOMENTS = Source("balance of moments", Sure.ARITHMETIC)


@dataclass(frozen=True, slots=True)
class Item:
    """A thing that is loaded, and where: metres forward of the axle, behind it negative."""

    label: str
    item_kg: float
    item_m: float
    origin: Origin = Origin.READER


@dataclass(frozen=True, slots=True, kw_only=True)
class MassesInput(Given):
    """The plate of a unit, how it was weighed, and what is loaded where."""

    sort: str
    mtplm_kg: float | None = None
    miro_kg: float | None = None
    passengers: float | None = None
    persons: float | None = None
    length_m: float | None = None
    support_m: float | None = None
    support_kg: float | None = None
    unladen_kg: float | None = None
    axle_max_kg: float | None = None
    nose_limits_kg: Mapping[str, float] = field(default_factory=dict)
    """By what sets it: coupling, tow bar, car."""
    items: tuple[Item, ...] = ()


@dataclass(frozen=True, slots=True)
class Masses:
    """Kilograms; None where an input is missing."""

    payload_kg: float | None
    least_payload_kg: float | None
    total_kg: float | None
    left_kg: float | None
    """Of the greatest laden mass; negative if overloaded."""
    support_kg: float | None
    """At the coupling or the front axle; negative if the front lifts."""
    axle_kg: float | None
    window_kg: tuple[float, float] | None
    """The usual nose load of the laden caravan."""
    nose_limit_kg: float | None
    """The lowest of the limits."""
    warnings: tuple[str, ...]
    figures: tuple[Figure, ...]


def masses(given: MassesInput) -> Masses:
    """Return payload, loads at the supports, and what of it is over a limit."""
    one_choice("sort", given.sort, SORTS)
    payload, payload_figure = _payload(given)
    least, least_figure = _least(given)
    plan, plan_figure = _plan(given)
    return Masses(
        payload_kg=payload,
        least_payload_kg=least,
        total_kg=plan.total,
        left_kg=plan.left,
        support_kg=plan.support,
        axle_kg=plan.axle,
        window_kg=plan.window,
        nose_limit_kg=plan.limit,
        warnings=plan.warnings,
        figures=(payload_figure, least_figure, plan_figure),
    )


def payload_kg(mtplm_kg: float, miro_kg: float, passengers: float = 0) -> float:
    """Return what may be loaded; passengers of a motor vehicle are set aside."""
    return mtplm_kg - miro_kg - SEAT_KG * passengers


def least_payload_kg(sort: str, persons: float, length_m: float) -> float:
    """Return the least payload by the standard, as others restate it."""
    one_choice("sort", sort, SORTS)
    return 10 * persons + 10 * length_m + (30 if sort == "caravan" else 0)


def support_load_kg(items: Iterable[tuple[float, float]], support_m: float) -> float:
    """Return what rests on the support from (mass, metres forward of the axle)."""
    return sum(mass * metres for mass, metres in items) / support_m


def nose_window_kg(laden_kg: float) -> tuple[float, float]:
    """Return the usual least and most nose load of a caravan laden so."""
    return laden_kg * NOSE_PCT[0] / 100, laden_kg * NOSE_PCT[1] / 100


def force_n(mass_kg: float) -> float:
    """Return the weight of a mass, as a tow bar's plate may state it."""
    return mass_kg * GRAVITY


def _payload(given: MassesInput) -> tuple[float | None, Figure]:
    motor = given.sort != "caravan"
    wanted = (MTPLM_KG, MIRO_KG, PASSENGERS) if motor else (MTPLM_KG, MIRO_KG)
    inputs, asked = look(given, wanted)
    payload: float | None = None
    rows: tuple[Row, ...] = ()
    if not asked and given.mtplm_kg is not None and given.miro_kg is not None:
        if given.miro_kg >= given.mtplm_kg:
            raise FigureInputError(
                "miro_kg", f"is {given.miro_kg:g}", f"less than mtplm_kg, {given.mtplm_kg:g}"
            )
        seats = given.passengers if motor and given.passengers is not None else 0
        payload = payload_kg(given.mtplm_kg, given.miro_kg, seats)
        rows = (Row("You may load", payload, "payload_kg", 0, "at most"),)
        if payload < 0:
            rows = (Row("With these passengers it is over by", -payload, "over_kg", 0, "about"),)
    figure = Figure(
        name="payload",
        title="How much you may load",
        inputs=inputs,
        asked=asked,
        formula="The greatest laden mass less the mass in running order"
        + (", less 75 kg for each passenger." if motor else "."),
        rows=rows,
        notes=(
            "Makers count different things into running order: the handbook says which.",
            "What was fitted after it left the factory takes from this.",
            "Only a weighbridge tells the truth.",
        ),
        sources=(PAYLOAD, SEATS) if motor else (PAYLOAD,),
        cautions=("overload",),
    )
    return payload, figure


def _least(given: MassesInput) -> tuple[float | None, Figure]:
    inputs, asked = look(given, (PERSONS, LENGTH_M))
    least: float | None = None
    rows: tuple[Row, ...] = ()
    caravan = given.sort == "caravan"
    if given.persons is not None and given.length_m is not None:
        least = least_payload_kg(given.sort, given.persons, given.length_m)
        rows = (Row("For personal belongings", least, "least_kg", 1, ""),)
    figure = Figure(
        name="least-payload",
        title="The payload that the standard wants at least",
        inputs=inputs,
        asked=asked,
        formula="10 kg for each berth, 10 kg for each metre of body length, and 30 kg."
        if caravan
        else "10 kg for each person and 10 kg for each metre of length.",
        rows=rows,
        notes=("The current edition of the standard may differ.",),
        sources=(EN_1645_2,) if caravan else (EN_1646_2,),
        cautions=("overload",),
    )
    return least, figure


@dataclass(frozen=True, slots=True)
class _Plan:
    total: float | None = None
    left: float | None = None
    support: float | None = None
    axle: float | None = None
    window: tuple[float, float] | None = None
    limit: float | None = None
    warnings: tuple[str, ...] = ()


def _plan(given: MassesInput) -> tuple[_Plan, Figure]:
    caravan = given.sort == "caravan"
    inputs, asked = look(given, (SUPPORT_M, SUPPORT_KG, UNLADEN_KG, MTPLM_KG, AXLE_MAX_KG))
    for number, item in enumerate(given.items):
        checked(ITEM_KG, item.item_kg, key=f"items[{number}].item_kg")
        checked(ITEM_M, item.item_m, key=f"items[{number}].item_m")
        inputs += (
            Input("item_kg", item.label, item.item_kg, item.origin),
            Input("item_m", f"{item.label}, forward of the axle", item.item_m, item.origin),
        )
    for who, most in given.nose_limits_kg.items():
        checked(LIMIT_KG, most, key=f"nose_limits_kg.{who}")
        origin = given.origin(f"nose_limits_kg.{who}")
        inputs += (Input("limit_kg", f"greatest nose load, {who}", most, origin),)
    limit = min(given.nose_limits_kg.values(), default=None) if caravan else None
    if caravan and limit is None:
        asked += (Ask("nose_limits_kg", "limits of coupling, tow bar and car", LIMIT_KG.right),)
    plan = _Plan(limit=limit)
    if (
        given.unladen_kg is not None
        and given.support_kg is not None
        and given.support_m is not None
    ):
        if given.support_kg >= given.unladen_kg:
            raise FigureInputError(
                "support_kg", f"is {given.support_kg:g}", f"less than {given.unladen_kg:g}, all"
            )
        total = given.unladen_kg + sum(item.item_kg for item in given.items)
        support = given.support_kg + support_load_kg(
            ((item.item_kg, item.item_m) for item in given.items), given.support_m
        )
        plan = _Plan(
            total=total,
            left=given.mtplm_kg - total if given.mtplm_kg is not None else None,
            support=support,
            axle=total - support,
            window=nose_window_kg(total) if caravan else None,
            limit=limit,
        )
    plan = _with_warnings(plan, given, caravan)
    figure = Figure(
        name="loading",
        title="Where things lie",
        inputs=inputs,
        asked=asked,
        formula="Each mass times its distance forward of the axle, divided by the distance of the "
        + ("coupling" if caravan else "front axle")
        + ", added to what was weighed there. The axle carries the rest.",
        rows=_plan_rows(plan, caravan),
        notes=(
            *plan.warnings,
            "With two axles close together this is an approximation.",
            "Weigh the nose load before you drive." if caravan else "Weigh each axle.",
        ),
        sources=(MOMENTS, NOSE) if caravan else (MOMENTS,),
        cautions=("overload", "loose-items", "sway") if caravan else ("overload", "loose-items"),
    )
    return plan, figure


def _with_warnings(plan: _Plan, given: MassesInput, caravan: bool) -> _Plan:
    said: list[str] = []
    if plan.left is not None and plan.left < 0:
        said.append(f"Overloaded by {-plan.left:.0f} kg: take things out.")
    if plan.axle is not None and given.axle_max_kg is not None and plan.axle > given.axle_max_kg:
        said.append(f"The axle is {plan.axle - given.axle_max_kg:.0f} kg over its limit.")
    if plan.support is not None and caravan:
        if plan.support <= 0:
            said.append("The nose lifts: this must not go on the road. Move things forward.")
        if plan.limit is not None and plan.support > plan.limit:
            said.append(f"The nose load is over the lowest limit, {plan.limit:g} kg.")
        if plan.window is not None and not plan.window[0] <= plan.support <= plan.window[1]:
            said.append(
                f"The nose load is outside {plan.window[0]:.0f} to {plan.window[1]:.0f} kg, the "
                "usual window."
            )
    if plan.window is not None and plan.limit is not None and plan.limit < plan.window[0]:
        said.append("The lowest limit is below the usual window: the limit decides.")
    return replace(plan, warnings=tuple(said))


def _plan_rows(plan: _Plan, caravan: bool) -> tuple[Row, ...]:
    rows: list[Row] = []
    if plan.total is not None:
        rows.append(Row("Laden mass", plan.total, "total_kg", 0, "about"))
    if plan.left is not None and plan.left >= 0:
        rows.append(Row("Still free", plan.left, "left_kg", 0, "about"))
    if plan.support is not None:
        label = "Nose load" if caravan else "Front axle"
        rows.append(Row(label, plan.support, "support_kg", 0, "about"))
        if caravan and plan.support > 0:
            rows.append(Row("Nose load as a force", force_n(plan.support), "support_n", 0, "about"))
    if plan.axle is not None:
        rows.append(Row("Axle" if caravan else "Rear axle", plan.axle, "axle_kg", 0, "about"))
    if plan.window is not None:
        low, high = plan.window
        rows.append(Row("Usual nose load, from", low, "nose_kg", 0))
        rows.append(Row("Usual nose load, to", high, "nose_kg", 0))
    if plan.limit is not None:
        rows.append(Row("Lowest nose-load limit", plan.limit, "limit_kg", 0, "at most"))
    return tuple(rows)
