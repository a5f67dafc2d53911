"""Tyres and wheel fixings: what the sidewall says, how old the tyre is, pressure and torque."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

from generator.figures.figure import (
    Ask,
    Figure,
    FigureInputError,
    Given,
    Input,
    Quantity,
    Row,
    Source,
    Sure,
    look,
)
from generator.figures.imperial import bar_to_kpa, psi_to_bar

LOAD_INDEX_KG = dict(
    zip(
        range(75, 120),
        (
            387, 400, 412, 425, 437, 450, 462, 475, 487, 500, 515, 530, 545, 560, 580,
            600, 615, 630, 650, 670, 690, 710, 730, 750, 775, 800, 825, 850, 875, 900,
            925, 950, 975, 1000, 1030, 1060, 1090, 1120, 1150, 1180, 1215, 1250, 1285, 1320, 1360,
        ),
        strict=True,
    )
)  # fmt: skip
"""By load index: what one tyre carries at its stated pressure, kg."""

LOAD_INDEX_SECOND_HAND_KG = {
    120: 1400, 121: 1450, 122: 1500, 123: 1550, 124: 1600, 125: 1650, 126: 1700,
}  # fmt: skip
"""No published page was at hand for these, only programs that agree with each other."""

SPEED_KM_H = {
    "N": 140, "P": 150, "Q": 160, "R": 170, "S": 180, "T": 190, "U": 200, "H": 210, "V": 240,
    "W": 270, "Y": 300,
}  # fmt: skip
SPEED_FROM_MEMORY_KM_H = {"J": 100, "K": 110, "L": 120, "M": 130}
"""No published table was at hand for these: not to be printed as sourced."""

IDEAL_YEARS, MOST_YEARS = 5, 7
"""Age at which to replace a caravan's tyre ideally, and which it must never pass."""

AXLE_MAX_KG = Quantity("axle_max_kg", "greatest axle load on the plate", 100, 7_500)
TYRES = Quantity("tyres", "tyres on that axle", 2, 4, whole=True)
LOAD_INDEX = Quantity(
    "load_index", "load index on the sidewall, of single wheels", 75, 126, whole=True
)
WEEK = Quantity("week", "week", 1, 53, whole=True)
YEAR = Quantity("year", "year, last two figures", 0, 99, whole=True)
PRESSURE_BAR = Quantity("pressure_bar", "cold pressure", 1, 8)
GAUGE_PSI = Quantity("gauge_psi", "what your gauge shows", 0, 120)
TORQUE_NM = Quantity("torque_nm", "tightening torque of these wheels", 30, 400)
RETORQUE_KM = Quantity("retorque_km", "distance after which to check the fixings again", 1, 500)

LOAD_TABLE = Source(
    "load index tables of two tyre guides (after UNECE R54 Annex IV)", Sure.PUBLISHED
)
LOAD_SECOND_HAND = Source("load indices from 120, as several programs have them", Sure.SECOND_HAND)
SPEED_TABLE = Source("speed symbol tables of two tyre dealers", Sure.PUBLISHED)
SPEED_MEMORY = Source("speed symbols J to M", Sure.MEMORY)
AGE = Source("caravan service guides: ideally at 5 years, never over 7", Sure.PUBLISHED)
CODE = Source("NCC: four figures, week and year", Sure.PUBLISHED)

LOADS_KG = LOAD_INDEX_KG | LOAD_INDEX_SECOND_HAND_KG
_SERVICE = re.compile(
    r"(?<![0-9R/.])(?P<single>[0-9]{2,3})(/(?P<dual>[0-9]{2,3}))? ?(?P<symbol>[A-Z])?( XL)?$"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TyresInput(Given):
    """What the sidewall, the plate and the unit's file say."""

    tyre: str | None = None
    """As on the sidewall, its load index and speed symbol last: `185/65 R14 93N`."""
    axle_max_kg: float | None = None
    tyres: float = 2
    date_code: str | None = None
    """The last figures on the sidewall: week and year, `2325`."""
    on: date | None = None
    """The day for which the age is wanted."""
    pressure_bar: float | None = None
    torque_nm: float | None = None
    retorque_km: float | None = None
    gauge_psi: float | None = None
    """What the reader's own gauge shows, if it has no bar."""


@dataclass(frozen=True, slots=True)
class Tyres:
    """What the tyres carry and how old they are; None where an input is missing."""

    load_index: int | None
    speed_symbol: str
    each_kg: float | None
    axle_kg: float | None
    """What the tyres of the axle carry together."""
    enough: bool | None
    made: date | None
    """Monday of the week of manufacture."""
    replace_ideally: date | None
    replace_by: date | None
    age_years: float | None
    figures: tuple[Figure, ...]


def tyres(given: TyresInput) -> Tyres:
    """Return what a sidewall means for this unit."""
    index, symbol, each, carried, load_figure = _load(given)
    made, age, age_figure = _age(given)
    enough = None
    if carried is not None and given.axle_max_kg is not None:
        enough = carried >= given.axle_max_kg
    return Tyres(
        load_index=index,
        speed_symbol=symbol,
        each_kg=each,
        axle_kg=carried,
        enough=enough,
        made=made,
        replace_ideally=years_after(made, IDEAL_YEARS) if made else None,
        replace_by=years_after(made, MOST_YEARS) if made else None,
        age_years=age,
        figures=(load_figure, age_figure, _wheels(given)),
    )


def read_service(tyre: str) -> tuple[int, str]:
    """Return load index and speed symbol of a sidewall's text; the symbol may be left out.

    Of two indices, as on van tyres, the first is for single wheels.
    """
    match = _SERVICE.search(" ".join(tyre.upper().split()))
    index = int(match["single"]) if match else 0
    if not match or index not in LOADS_KG:
        low, high = min(LOADS_KG), max(LOADS_KG)
        raise FigureInputError(
            "tyre",
            f"is {tyre!r:.40}",
            f"size, load index {low} to {high} and speed symbol, such as 185/65 R14 93N",
        )
    return index, match["symbol"] or ""


def read_date_code(code: str) -> date:
    """Return the Monday of the week in which a tyre was made: `1807` is week 18 of 2007."""
    right = "four figures: week 01 to 53, and year"
    if re.fullmatch(r"[0-9]{3}", code):
        raise FigureInputError(
            "date_code", f"is {code}, from before 2000", f"a newer tyre; {right}"
        )
    if not re.fullmatch(r"[0-9]{4}", code):
        raise FigureInputError("date_code", f"is {code!r:.40}", right)
    try:
        return date.fromisocalendar(2000 + int(code[2:]), int(code[:2]), 1)
    except ValueError:
        raise FigureInputError("date_code", f"is {code}", right) from None


def years_after(day: date, years: int) -> date:
    """Return the same day of a later year, 28 February for a leap day."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return day.replace(year=day.year + years, day=28)


def _load(
    given: TyresInput,
) -> tuple[int | None, str, float | None, float | None, Figure]:
    inputs, asked = look(given, (AXLE_MAX_KG, TYRES))
    if given.tyres == 3:
        raise FigureInputError("tyres", "is 3", "2 or 4")
    index: int | None = None
    symbol = ""
    each = carried = None
    rows: list[Row] = []
    notes: list[str] = []
    if given.tyre is None:
        right = "size, load index and speed symbol, such as 185/65 R14 93N"
        asked = (Ask("tyre", "what the sidewall says", right), *asked)
    else:
        inputs = (Input("tyre", "sidewall", given.tyre, given.origin("tyre")), *inputs)
        index, symbol = read_service(given.tyre)
        each = float(LOADS_KG[index])
        carried = each * given.tyres
        rows.append(Row(f"Load index {index}: each tyre carries", each, "each_kg", 0, "at most"))
        rows.append(Row("The axle's tyres together", carried, "axle_kg", 0, "at most"))
        speed = SPEED_KM_H.get(symbol) or SPEED_FROM_MEMORY_KM_H.get(symbol)
        if speed:
            rows.append(Row(f"Speed symbol {symbol}", float(speed), "speed_km_h", 0, "at most"))
        elif symbol:
            notes.append(f"Ask a tyre dealer what the speed symbol {symbol} means.")
        if symbol in SPEED_FROM_MEMORY_KM_H:
            notes.append("This speed symbol was not checked against a published table.")
        if given.axle_max_kg is not None and carried < given.axle_max_kg:
            notes.append("These tyres carry less than the axle's plate: do not drive on them.")
    memory = symbol in SPEED_FROM_MEMORY_KM_H
    figure = Figure(
        name="tyre-load",
        title="What the tyres carry",
        inputs=inputs,
        asked=asked,
        formula="The load index stands for a mass; times the tyres of the axle, it must reach the "
        "axle's plate.",
        rows=tuple(rows),
        notes=(*notes, "The towing or road speed limit is far below the tyre's own."),
        sources=(
            LOAD_SECOND_HAND if index in LOAD_INDEX_SECOND_HAND_KG else LOAD_TABLE,
            SPEED_MEMORY if memory else SPEED_TABLE,
        ),
        cautions=("wheel-loss", "overload"),
        defer="Let a tyre fitter choose tyres.",
    )
    return index, symbol, each, carried, figure


def _age(given: TyresInput) -> tuple[date | None, float | None, Figure]:
    made: date | None = None
    age: float | None = None
    inputs: tuple[Input, ...] = ()
    asked: tuple[Ask, ...] = ()
    rows: list[Row] = []
    if given.date_code is None:
        asked = (Ask("date_code", "last four figures on the sidewall", "week and year: 2325"),)
    else:
        label = "last figures on the sidewall"
        inputs = (Input("date_code", label, given.date_code, given.origin("date_code")),)
        made = read_date_code(given.date_code)
        if given.on is not None:
            if made > given.on:
                raise FigureInputError(
                    "date_code", f"is {given.date_code}, after {given.on}", "a week gone by"
                )
            age = (given.on - made).days / 365.2425
            rows.append(Row("Age", age, "age_years", 1, "about"))
        rows = [
            Row("Made in the week of", made.isoformat()),
            *rows,
            Row("Replace ideally by", years_after(made, IDEAL_YEARS).isoformat()),
            Row("Never use after", years_after(made, MOST_YEARS).isoformat()),
        ]
    figure = Figure(
        name="tyre-age",
        title="How old the tyres are",
        inputs=inputs,
        asked=asked,
        formula="The week and the year on the sidewall, and five and seven years after it.",
        rows=tuple(rows),
        notes=("Age counts from manufacture, on the spare as well, whatever the tread.",),
        sources=(CODE, AGE),
        cautions=("wheel-loss",),
    )
    return made, age, figure


def _wheels(given: TyresInput) -> Figure:
    inputs, asked = look(given, (PRESSURE_BAR, TORQUE_NM, RETORQUE_KM))
    rows: list[Row] = []
    if given.pressure_bar is not None:
        rows.append(Row("Cold pressure", given.pressure_bar, "pressure_bar", 1))
        rows.append(Row("That is", bar_to_kpa(given.pressure_bar), "pressure_kpa", 0))
    if given.gauge_psi is not None:
        inputs += look(given, (GAUGE_PSI,))[0]
        rows.append(Row("Your gauge shows", psi_to_bar(given.gauge_psi), "gauge_bar", 1))
    if given.torque_nm is not None:
        rows.append(Row("Torque of the fixings", given.torque_nm, "torque_nm", 0))
    if given.retorque_km is not None:
        rows.append(Row("Check them again after", given.retorque_km, "retorque_km", 0, "at most"))
    return Figure(
        name="wheels",
        title="Pressure and torque",
        inputs=inputs,
        asked=asked,
        formula="As this unit's file says.",
        rows=tuple(rows),
        notes=("Use a torque wrench, and check again after a wheel was off.",),
        cautions=("wheel-loss",),
        defer="The maker's handbook comes first.",
    )
