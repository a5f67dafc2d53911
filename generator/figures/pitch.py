"""What a pitch can run: every largest set of this unit's mains loads that its supply carries.

Loads are compared in amperes at the nominal 230 V. A resistance takes less current from a low
voltage and gives less heat, so rated watts added up against a low voltage would be too strict.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

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
)
from generator.figures.wiring import (
    FLEX_A,
    FLEX_MV_A_M,
    IEC_60228,
    TABLE_4F3B,
    lead_drop_v,
    run_drop_v,
)

NOMINAL_V = 230.0
LOW_V, HIGH_V = 207.0, 253.0
"""Ten percent below and above nominal: where a supply stays nearly all the time."""
USUAL_RATINGS_A = (5.0, 6.0, 10.0, 16.0)
HOLDS, TRIPS = 1.13, 1.45
"""A breaker carries the first multiple of its rating for an hour; at the second it opens within
the hour. Between the two, either may happen."""

MOST_LOADS = 14
MOST_SETS = 2_000
_AMP = 1e-9  # ampere; far below what anybody can switch, far above rounding

RATING_A = Quantity("rating_a", "rating of the pitch's breaker", 1, 63)
INLET_A = Quantity("inlet_a", "rating of the mains inlet", 6, 32)
SUPPLY_V = Quantity("supply_v", "voltage at the inlet", 180, 260)
LEAD_M = Quantity("lead_m", "length of the mains lead", 1, 100)
LEAD_MM2 = Quantity("lead_mm2", "copper section of the mains lead", 1, 16)
STAGE_W = Quantity("stages_w", "power of a stage", 1, 15_000)

IEC_60898 = Source(
    "IEC 60898-1: 1.13 and 1.45 of the rating, as printed by a breaker maker", Sure.PUBLISHED
)
EN_50160 = Source("EN 50160: 230 V, 10 % either way", Sure.SECOND_HAND)
PITCH_RATINGS = Source("pitches of 5, 6, 10 and 16 A", Sure.PRACTICE)


@dataclass(frozen=True, slots=True)
class MainsLoad:
    """A mains appliance. Only one of its stages runs at a time."""

    name: str
    label: str
    stages_w: tuple[float, ...]
    origin: Origin = Origin.UNIT
    own: bool = False
    """Brought by the reader, as a kettle is, and not fitted."""
    resistive: bool = True
    """A heater is; a charger keeps its power and takes more current from a low voltage."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PitchInput(Given):
    """A pitch, this unit's mains loads, and its lead."""

    rating_a: float | None
    loads: tuple[MainsLoad, ...]
    supply_v: float | None = None
    """Measured; if absent, nominal."""
    inlet_a: float | None = None
    lead_m: float | None = None
    lead_mm2: float | None = None


@dataclass(frozen=True, slots=True)
class Running:
    """Loads that run together, by name with the watts of their stage, and what they take."""

    on: Mapping[str, float]
    amps: float
    watts: float


@dataclass(frozen=True, slots=True)
class Beside:
    """What can run beside one load at full power."""

    load: str
    watts: float
    fits: bool
    """Whether it runs on this pitch at all."""
    sets: tuple[Running, ...]
    must_be_off: tuple[str, ...]
    """The loads that are off in every one of the sets."""


@dataclass(frozen=True, slots=True)
class Pitch:
    """What the pitch can run."""

    limit_a: float | None
    """The lesser of the pitch's breaker and the unit's inlet."""
    sets: tuple[Running, ...]
    """Every largest set: nothing can be added to it or turned up. Most watts first."""
    beside: tuple[Beside, ...]
    """For each load that the reader brings."""
    stage_beside_rest: Mapping[str, float]
    """For each fitted load with stages, the highest watts beside all other fitted loads on their
    lowest stage; 0 if none fits."""
    holds_a: float | None
    trips_a: float | None
    drop_v: float | None
    figures: tuple[Figure, ...]


def pitch(given: PitchInput) -> Pitch:
    """Return what a pitch can run of this unit's mains loads, and what its lead loses."""
    inputs, asked = look(given, (RATING_A,))
    if not given.loads:
        asked += (Ask("loads", "mains appliances", "one or more, each with its watts"),)
    more, _ = look(given, (INLET_A, SUPPLY_V))
    _check_loads(given.loads)
    inputs += more + tuple(
        Input(f"{load.name}.mains_w", load.label, load.stages_w, load.origin)
        for load in given.loads
    )
    drop, lead_figure = _lead(given)
    if given.rating_a is None or not given.loads:
        figure = replace(
            _figure("pitch-budget", "What this pitch can run", inputs, ()), asked=asked
        )
        return Pitch(None, (), (), {}, None, None, drop, (figure, lead_figure))
    limit = min(given.rating_a, given.inlet_a or given.rating_a)
    volts = min(given.supply_v or NOMINAL_V, NOMINAL_V)
    sets = largest_sets(given.loads, limit, volts)
    beside = tuple(_beside(load, sets, given.loads) for load in given.loads if load.own)
    stages = {
        load.name: _stage_beside_rest(load, given.loads, limit, volts)
        for load in given.loads
        if len(load.stages_w) > 1 and not load.own
    }
    holds, trips = given.rating_a * HOLDS, given.rating_a * TRIPS
    labels = {load.name: load.label for load in given.loads}
    figures = (
        _figure("pitch-budget", "What this pitch can run", inputs, _set_rows(limit, sets, labels)),
        _figure("pitch-own", "What must be off", inputs, _beside_rows(beside, stages, labels)),
        _breaker(inputs[:1], holds, trips),
        _voltage(inputs, given.loads),
        lead_figure,
    )
    return Pitch(limit, sets, beside, stages, holds, trips, drop, figures)


def load_amps(load: MainsLoad, watts: float, volts: float = NOMINAL_V) -> float:
    """Return the amperes to count for a load at a stage.

    A resistance counts at nominal voltage whatever the supply, because the supply may recover. A
    load that keeps its power counts at the supply's voltage.
    """
    return watts / (NOMINAL_V if load.resistive else volts)


def largest_sets(
    loads: tuple[MainsLoad, ...], limit_a: float, volts: float = NOMINAL_V
) -> tuple[Running, ...]:
    """Return every set of loads that fits and to which nothing can be added or turned up."""
    names = [load.name for load in loads]
    options = [
        sorted((load_amps(load, watts, volts), watts) for watts in (0.0, *load.stages_w))
        for load in loads
    ]
    found: list[Running] = []
    for chosen in _search(options, limit_a):
        if len(found) == MOST_SETS:
            raise FigureInputError(
                "loads", f"make more than {MOST_SETS} sets", "fewer loads or fewer stages"
            )
        on = {
            name: option[stage][1]
            for name, option, stage in zip(names, options, chosen, strict=True)
            if stage
        }
        amps = sum(option[stage][0] for option, stage in zip(options, chosen, strict=True))
        found.append(Running(on, amps, sum(on.values())))
    return tuple(sorted(found, key=lambda one: (-one.watts, sorted(one.on.items()))))


def _search(options: list[list[tuple[float, float]]], limit: float) -> Iterator[tuple[int, ...]]:
    """Yield the largest choices of one option a load, as option indices.

    `step` is the least increase that was forgone so far. A choice is a largest one if even that
    would not fit; a branch is left when all that can still be added leaves room for it.
    """
    most_left = [0.0]
    for option in reversed(options):
        most_left.append(most_left[-1] + option[-1][0])
    most_left.reverse()

    def go(
        index: int, amps: float, step: float, chosen: tuple[int, ...]
    ) -> Iterator[tuple[int, ...]]:
        if amps + most_left[index] + step <= limit + _AMP:
            return
        if index == len(options):
            yield chosen
            return
        option = options[index]
        for stage in range(len(option) - 1, -1, -1):
            here = amps + option[stage][0]
            if here <= limit + _AMP:
                last = stage == len(option) - 1
                forgone = step if last else min(step, option[stage + 1][0] - option[stage][0])
                yield from go(index + 1, here, forgone, (*chosen, stage))

    # With nothing forgone everything runs: no step is endless, so that such a choice is kept.
    yield from go(0, 0.0, float("inf"), ())


def _check_loads(loads: tuple[MainsLoad, ...]) -> None:
    if len(loads) > MOST_LOADS:
        raise FigureInputError("loads", f"are {len(loads)}", f"at most {MOST_LOADS} loads")
    names = [load.name for load in loads]
    for load in loads:
        if names.count(load.name) > 1:
            raise FigureInputError("loads", f"have '{load.name}' twice", "a name of its own each")
        if not load.stages_w or len(set(load.stages_w)) < len(load.stages_w):
            raise FigureInputError(
                f"{load.name}.stages_w", "is empty or repeats", "one or more different powers"
            )
        for watts in load.stages_w:
            checked(STAGE_W, watts, key=f"{load.name}.stages_w")


def _beside(load: MainsLoad, sets: tuple[Running, ...], loads: tuple[MainsLoad, ...]) -> Beside:
    watts = max(load.stages_w)
    with_it = tuple(one for one in sets if one.on.get(load.name) == watts)
    return Beside(
        load.name,
        watts,
        bool(with_it),
        with_it,
        tuple(
            other.name
            for other in loads
            if other is not load and with_it and all(other.name not in s.on for s in with_it)
        ),
    )


def _stage_beside_rest(
    load: MainsLoad, loads: tuple[MainsLoad, ...], limit: float, volts: float
) -> float:
    rest = sum(
        load_amps(other, min(other.stages_w), volts)
        for other in loads
        if other is not load and not other.own
    )
    fitting = [w for w in load.stages_w if rest + load_amps(load, w, volts) <= limit + _AMP]
    return max(fitting, default=0.0)


def _said(running: Running, labels: Mapping[str, str], without: str = "") -> str:
    parts = [f"{labels[n]} {w:g} W" for n, w in running.on.items() if n != without]
    return ", ".join(parts) or ("nothing else" if without else "none of these")


def _set_rows(
    limit: float, sets: tuple[Running, ...], labels: Mapping[str, str]
) -> tuple[Row, ...]:
    return (
        Row("Current that may flow", limit, "limit_a", 1, "at most"),
        Row("That is, at 230 V", limit * NOMINAL_V, "limit_w", 0, "at most"),
        *(Row(_said(one, labels), f"{one.watts:,.0f} W, {one.amps:.1f} A") for one in sets),
    )


def _beside_rows(
    beside: tuple[Beside, ...], stages: Mapping[str, float], labels: Mapping[str, str]
) -> tuple[Row, ...]:
    rows: list[Row] = []
    for one in beside:
        what = f"{labels[one.load]}, {one.watts:g} W"
        if not one.fits:
            rows.append(Row(what, "takes more than this pitch gives: leave it off"))
            continue
        if one.must_be_off:
            rows.append(Row(f"{what}: off first", ", ".join(labels[n] for n in one.must_be_off)))
        rows += [
            Row(f"{what}: may stay on", _said(running, labels, one.load)) for running in one.sets
        ]
    for name, watts in stages.items():
        rows.append(
            Row(
                f"{labels[name]}, all else that is fitted on its lowest stage",
                f"up to {watts:g} W" if watts else "off",
            )
        )
    return tuple(rows)


def _figure(name: str, title: str, inputs: tuple[Input, ...], rows: tuple[Row, ...]) -> Figure:
    return Figure(
        name=name,
        title=title,
        inputs=inputs,
        asked=(),
        formula="The rated watts of each appliance, divided by 230 V, added up: at most the "
        "breaker's amperes.",
        rows=rows,
        notes=(
            "A motor, a charger or a microwave takes more for a moment when it starts.",
            "An appliance that is warm and off by its thermostat starts again by itself.",
        ),
        sources=(PITCH_RATINGS,),
        cautions=("electric-shock", "lead-overheats"),
        defer="The rating at the pitch's post comes first. If it still trips, ask the site.",
    )


def _breaker(inputs: tuple[Input, ...], holds: float, trips: float) -> Figure:
    return Figure(
        name="breaker",
        title="When the pitch's breaker opens",
        inputs=inputs,
        asked=(),
        formula="1.13 and 1.45 times the breaker's rating.",
        rows=(
            Row("Carries for an hour", holds, "holds_a", 2),
            Row("Opens within an hour", trips, "trips_a", 2),
        ),
        notes=(
            "Between the two it may open or not: do not count on either.",
            "In hot sun a breaker opens sooner. An old or different device may differ.",
        ),
        sources=(IEC_60898,),
        cautions=("electric-shock",),
    )


def _voltage(inputs: tuple[Input, ...], loads: tuple[MainsLoad, ...]) -> Figure:
    rows = tuple(
        Row(
            f"{load.label}, rated {watts:g} W, at {volts:g} V",
            f"{(volts / NOMINAL_V) ** 2 * watts:,.0f} W, {volts / NOMINAL_V**2 * watts:.2f} A",
        )
        for load in loads
        if load.resistive
        for watts in load.stages_w
        for volts in (LOW_V, HIGH_V)
    )
    return Figure(
        name="low-voltage",
        title="What a low or a high voltage does",
        inputs=inputs,
        asked=(),
        formula="A heating element's power goes with the square of the voltage; its current goes "
        "with the voltage.",
        rows=rows,
        notes=("At a low voltage heating takes longer. A charger takes more current instead.",),
        sources=(EN_50160,),
        cautions=("electric-shock",),
    )


def _lead(given: PitchInput) -> tuple[float | None, Figure]:
    inputs, asked = look(given, (RATING_A, LEAD_M, LEAD_MM2))
    drop: float | None = None
    rows: list[Row] = []
    notes = ["Uncoil the whole lead: coiled, it heats itself."]
    source = TABLE_4F3B
    if not asked and given.rating_a and given.lead_m and given.lead_mm2:
        mm2 = float(given.lead_mm2)
        amps = min(given.rating_a, given.inlet_a or given.rating_a)
        bound = ""
        if mm2 in FLEX_MV_A_M:
            drop = lead_drop_v(mm2, amps, given.lead_m)
        else:
            # No tabulated drop at working temperature is at hand: cold copper is a lower bound.
            drop = run_drop_v(mm2, amps, given.lead_m, key="lead_mm2")
            source, bound = IEC_60228, "at least"
        rows = [
            Row("Lost in the lead at full load", drop, "drop_v", 2, bound),
            Row("Share of 230 V", 100 * drop / NOMINAL_V, "drop_pct", 2, bound),
        ]
        if amps > FLEX_A.get(mm2, amps):
            notes.append(f"This lead carries at most {FLEX_A[mm2]:g} A: do not load it fully.")
    figure = Figure(
        name="lead-drop",
        title="What the mains lead loses",
        inputs=inputs,
        asked=asked,
        formula="Millivolts for each ampere and metre of this section, times amperes, times "
        "metres of lead.",
        rows=tuple(rows),
        notes=tuple(notes),
        sources=(source,),
        cautions=("lead-overheats", "electric-shock"),
        defer="Ask a qualified electrician about a lead that gets warm.",
    )
    return drop, figure
