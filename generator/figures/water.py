"""Water: how long a fill lasts, how long it takes, what comes out, and how much disinfectant."""

from __future__ import annotations

import math
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
)

FRESH_L = Quantity("fresh_l", "usable fresh water", 1, 1_000)
WASTE_L = Quantity("waste_l", "waste water that its tank or container holds", 1, 1_000)
USE_L_DAY = Quantity("use_l_day", "fresh water used by all of you", 0.1, 1_000)
KEPT_L_DAY = Quantity("kept_l_day", "of that drunk, boiled away or flushed", 0, 1_000)
SYSTEM_L = Quantity("system_l", "heater and pipes to fill", 0.1, 200)
PUMP_L_MIN = Quantity("pump_l_min", "flow of the pump", 0.5, 50)
TREATED_L = Quantity("treated_l", "water to be disinfected", 0.1, 1_000)
STRENGTH_PCT = Quantity("strength_pct", "chlorine that the label states", 0.01, 20)
DOSE_MG_L = Quantity("dose_mg_l", "free chlorine that is wanted", 0.1, 100)

BS_8558_MG_L = 50.0
"""Free chlorine for an hour, then flushed out; milligrams a litre. Second-hand."""
MOST_ML = 5_000.0

BS_8558 = Source("BS 8558: 50 mg/l of free chlorine for 1 hour, then flush", Sure.SECOND_HAND)


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterInput(Given):
    """The stores of a unit, a day's use, and the disinfectant in the reader's hand."""

    fresh_l: float | None
    waste_l: float | None = None
    use_l_day: float | None = None
    kept_l_day: float | None = None
    system_l: float | None = None
    pump_l_min: float | None = None
    treated_l: float | None = None
    strength_pct: float | None = None
    dose_mg_l: float | None = None
    """As the label or the maker's handbook says; it is asked for, never assumed."""


@dataclass(frozen=True, slots=True)
class Water:
    """Days, minutes, litres and millilitres; None where an input is missing."""

    days: float | None
    """Of fresh water in one fill."""
    waste_l_day: float | None
    waste_days: float | None
    """Until the waste store is full; infinite if nothing runs into it."""
    fill_min: float | None
    dose_ml: float | None
    figures: tuple[Figure, ...]


def water(given: WaterInput) -> Water:
    """Return how long the water lasts, and the disinfectant for it."""
    days, waste, waste_days, lasting = _lasting(given)
    fill, filling = _filling(given)
    dose, dosing = _dosing(given)
    return Water(days, waste, waste_days, fill, dose, (lasting, filling, dosing))


def disinfectant_ml(litres: float, mg_l: float, strength_pct: float) -> float:
    """Return the millilitres of a liquid with so many grams of chlorine in 100 ml."""
    return litres * mg_l / (10 * strength_pct)


def _lasting(
    given: WaterInput,
) -> tuple[float | None, float | None, float | None, Figure]:
    inputs, asked = look(given, (FRESH_L, WASTE_L, USE_L_DAY, KEPT_L_DAY))
    use, kept = given.use_l_day, given.kept_l_day
    days = waste = waste_days = None
    rows: list[Row] = []
    if use is not None and kept is not None and kept > use:
        raise FigureInputError("kept_l_day", f"is {kept:g}", f"at most the {use:g} litres used")
    if given.fresh_l is not None and use is not None:
        days = given.fresh_l / use
        rows.append(Row("One fill lasts", days, "time_days", 1, "about"))
    if use is not None and kept is not None:
        waste = use - kept
        rows.append(Row("Waste water", waste, "waste_l_day", 0, "about"))
        if given.waste_l is not None:
            waste_days = given.waste_l / waste if waste else math.inf
            label = "The waste store is full after"
            rows.append(
                Row(label, waste_days, "time_days", 1, "about")
                if waste
                else Row(label, "never: nothing runs into it")
            )
    figure = Figure(
        name="water-days",
        title="How long the water lasts",
        inputs=inputs,
        asked=asked,
        formula="The fresh water divided by a day's use. Waste is what was used less what was "
        "drunk, boiled away or flushed.",
        rows=tuple(rows),
        cautions=("water-hygiene", "lifting"),
    )
    return days, waste, waste_days, figure


def _filling(given: WaterInput) -> tuple[float | None, Figure]:
    inputs, asked = look(given, (SYSTEM_L, PUMP_L_MIN))
    minutes: float | None = None
    rows: tuple[Row, ...] = ()
    if given.system_l is not None and given.pump_l_min is not None:
        minutes = given.system_l / given.pump_l_min
        rows = (Row("The pump runs", minutes, "fill_min", 1, "at least"),)
    figure = Figure(
        name="pump-time",
        title="How long the pump runs to fill the system",
        inputs=inputs,
        asked=asked,
        formula="The volume of the heater and the pipes divided by the pump's flow.",
        rows=rows,
        notes=("A pump that lifts water or pushes it through a filter gives less than stated.",),
        cautions=("pump-dry",),
    )
    return minutes, figure


def _dosing(given: WaterInput) -> tuple[float | None, Figure]:
    inputs, asked = look(given, (TREATED_L, STRENGTH_PCT, DOSE_MG_L))
    dose: float | None = None
    rows: tuple[Row, ...] = ()
    if (
        given.treated_l is not None
        and given.strength_pct is not None
        and given.dose_mg_l is not None
    ):
        dose = disinfectant_ml(given.treated_l, given.dose_mg_l, given.strength_pct)
        if dose > MOST_ML:
            raise FigureInputError(
                "strength_pct",
                f"is {given.strength_pct:g}, which makes {dose:,.0f} ml",
                f"a strength and a dose that make at most {MOST_ML:,.0f} ml",
            )
        rows = (Row("Disinfectant", dose, "dose_ml", 1, ""),)
    figure = Figure(
        name="disinfectant",
        title="How much disinfectant",
        inputs=inputs,
        asked=asked,
        formula="Litres times milligrams a litre, divided by ten times the percent on the label "
        "(grams in 100 ml).",
        rows=rows,
        notes=(
            "Building practice is 50 mg/l for an hour, then a flush; it was not written for "
            "vehicles.",
            "Never mix it with an acid or another cleaner.",
            "If the product's label gives a dose, the label comes first.",
        ),
        sources=(BS_8558,),
        cautions=("cleaning-chemicals", "water-hygiene"),
        defer="What the maker of the heater and the tank allows comes first.",
    )
    return dose, figure
