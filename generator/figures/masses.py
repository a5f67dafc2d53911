"""Masses: payload, and the least that a standard wants of it. Where things lie: `loading`."""

from __future__ import annotations

from dataclasses import dataclass

from generator.figures.figure import (
    Figure,
    FigureInputError,
    Given,
    Quantity,
    Row,
    Source,
    Sure,
    look,
    one_choice,
)

SORTS = ("caravan", "campervan", "motorhome")
SEAT_KG = 75.0
"""Mass that a motor vehicle's payload sets aside for each passenger. Second-hand."""
MTPLM_KG = Quantity("mtplm_kg", "greatest laden mass on the plate", 200, 7_500)
MIRO_KG = Quantity("miro_kg", "mass in running order on the plate", 100, 7_500)
PASSENGERS = Quantity("passengers", "passengers beside the driver", 0, 8, whole=True)
PERSONS = Quantity("persons", "berths, or in a motor vehicle the people aboard", 1, 9, whole=True)
LENGTH_M = Quantity("length_m", "length: body of a caravan, overall of a motor vehicle", 2, 12)

EN_1645_2 = Source("EN 1645-2: 10 kg a berth, 10 kg a metre of body, and 30 kg", Sure.SECOND_HAND)
EN_1646_2 = Source("EN 1646-2: 10 kg a person and 10 kg a metre", Sure.SECOND_HAND)
SEATS = Source("75 kg for each passenger, the driver being in running order", Sure.SECOND_HAND)
PAYLOAD = Source("Towsafe glossary: greatest laden mass less mass in running order", Sure.PUBLISHED)


@dataclass(frozen=True, slots=True, kw_only=True)
class MassesInput(Given):
    """The plate of a unit, and who and how long it is."""

    sort: str
    mtplm_kg: float | None = None
    miro_kg: float | None = None
    passengers: float | None = None
    persons: float | None = None
    length_m: float | None = None


@dataclass(frozen=True, slots=True)
class Masses:
    """Kilograms; None where an input is missing."""

    payload_kg: float | None
    least_payload_kg: float | None
    figures: tuple[Figure, ...]


def masses(given: MassesInput) -> Masses:
    """Return the payload, and the least that the standard wants."""
    one_choice("sort", given.sort, SORTS)
    payload, payload_figure = _payload(given)
    least, least_figure = _least(given)
    return Masses(payload, least, (payload_figure, least_figure))


def payload_kg(mtplm_kg: float, miro_kg: float, passengers: float = 0) -> float:
    """Return what may be loaded; passengers of a motor vehicle are set aside."""
    return mtplm_kg - miro_kg - SEAT_KG * passengers


def least_payload_kg(sort: str, persons: float, length_m: float) -> float:
    """Return the least payload by the standard, as others restate it."""
    one_choice("sort", sort, SORTS)
    return 10 * persons + 10 * length_m + (30 if sort == "caravan" else 0)


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
