"""What the forms of the number pages are built from, as JSON in the page.

The script builds a form from it and works the numbers out anew as the reader types. Limits, labels
and constants come from the figures themselves, so that the page and the script have one
definition. Without JavaScript there is no form, and the tables stand for themselves.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from markupsafe import Markup

from generator.compose.context import Context
from generator.compose.markdown import paragraph
from generator.compose.number_parts import NumberPage
from generator.figures import battery, gas, hot_water, loading, pitch, tyres, water, weather, wiring
from generator.figures.figure import Quantity, symbol
from generator.figures.imperial import KPA_PER_PSI

DAY_AH = Quantity("day_ah", "all else that is on, a day", 0, 500)
NIGHTS = 7
"""Nights to come that the form asks for."""
KETTLE_W = Quantity("kettle_w", "what you plug in yourself", 1, 15_000)

_EVERY = ("wrong", "wanted", "off", "optional", "and")
_WORDS = {
    "pitch": (
        "fits", "over", "can_add", "nothing_more", "sets", "other", "up_to", "lead",
    ),
    "gas": ("gas_one", "gas_all", "gas_none", "gas_season", "gas_cold"),
    "hot-water": ("heats", "mixed", "shower", "mix_order", "fill_order", "scald"),
    "battery": (
        "day_use", "usable", "nights", "endless", "sun_month", "nights_sun", "heavy", "charge",
        "feed", "run",
    ),
    "tyres": (
        "gauge", "gauge_right", "gauge_low", "gauge_high", "carry", "carry_enough", "carry_weak",
        "made", "replace", "no_week",
    ),
    "weather": ("dew", "condenses", "stays_dry", "may", "may_not", "drain", "drain_not"),
    "masses": (
        "thing", "thing_kg", "thing_where", "thing_typed", "thing_choose", "thing_add",
        "thing_remove", "thing_adds", "thing_incomplete", "thing_open", "thing_clear",
        "thing_sum", "thing_none", "load_within", "load_over", "load_under", "load_lifts",
        "load_unlimited", "load_usual_within", "load_usual_under", "load_usual_over",
    ),
    "water": (
        "fill_lasts", "waste", "waste_full", "waste_never", "kept_more", "fill_min", "dose",
        "dose_most",
    ),
}  # fmt: skip
"""By page: the phrases of its results, each `form_<name>` of the wording."""

Data = Mapping[str, Any]


def form(page: NumberPage, data: Data) -> str:
    """Return the element from which the script builds a form."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")
    script = Markup(  # noqa: S704 - JSON without any "<", so that no text can end the element
        f'<script type="application/json" class="number-form">{text}</script>'
    )
    return paragraph(page.token(script), "model") + "\n"


def pitch_form(ctx: Context, given: pitch.PitchInput) -> Data:
    """Return the form for a typed rating and voltage, and appliances to tick."""
    loads = [
        {
            "name": load.name,
            "label": load.label,
            "stages": load.stages_w,
            "resistive": load.resistive,
        }
        for load in given.loads
    ]
    return _form(
        ctx,
        "pitch",
        [
            _field(ctx, pitch.RATING_A),
            _field(ctx, pitch.SUPPLY_V, optional=True),
            _field(ctx, KETTLE_W, optional=True),
            _field(ctx, pitch.LEAD_M, optional=True, value=given.lead_m),
            _field(
                ctx,
                pitch.LEAD_MM2,
                optional=True,
                value=given.lead_mm2 if given.lead_mm2 in wiring.FLEX_MV_A_M else None,
                choices=list(wiring.FLEX_MV_A_M),
            ),
        ],
        loads=loads,
        inlet_a=given.inlet_a,
        nominal_v=pitch.NOMINAL_V,
        flex_mv_a_m=list(wiring.FLEX_MV_A_M.items()),
    )


def gas_form(ctx: Context, several: Sequence[gas.GasInput]) -> Data | None:
    """Return the form for two days of use side by side; None where too little is known."""
    told = [(given, gas.gas(given)) for given in several]
    known = [(given, result) for given, result in told if result.mass_kg is not None]
    if not known or not known[0][1].g_h:
        return None
    g_h = known[0][1].g_h
    fields = [
        _field(
            ctx,
            replace(gas.HOURS_H_DAY, key=f"{one.name}.{season}"),
            label=ctx.say(f"season_{season}"),
            optional=True,
            key="hours_h_day",
            group=one.label,
        )
        for one in several[0].appliances
        if one.name in g_h
        for season in gas.SEASONS
    ]
    # What stops feeding first in the cold; a warm summer day needs no such note.
    cold = [
        {"label": given.label, "fluid": fluid, "lowest_c": lowest}
        for given, result in known
        for fluid, lowest in sorted(result.lowest_feed_c.items(), key=lambda one: -one[1])[:1]
    ]
    return _form(
        ctx,
        "gas",
        fields,
        stores=[
            {"label": given.label, "mass_kg": result.mass_kg, "count": given.count}
            for given, result in known
        ],
        g_h=dict(g_h),
        cold=cold,
        seasons=[[season, ctx.say(f"season_{season}")] for season in gas.SEASONS],
    )


def hot_water_form(ctx: Context, given: Sequence[hot_water.HotWaterInput]) -> Data | None:
    """Return the form for the start temperature; None where the heater's size is not known."""
    first = given[0]
    if first.capacity_l is None:
        return None
    choices = sorted({one.hot_c for one in given if one.hot_c is not None})
    hot = _field(ctx, hot_water.HOT_C, choices=choices)
    optional = (hot_water.SUPPLY_V, hot_water.MIX_C, hot_water.FLOW_L_MIN)
    return _form(
        ctx,
        "hot-water",
        [
            _field(ctx, hot_water.FILL_C),
            hot,
            *(_field(ctx, one, optional=True) for one in optional),
        ],
        capacity_l=first.capacity_l,
        nominal_v=hot_water.NOMINAL_V,
        mains_w=first.mains_w,
        burner_w=hot_water.burner_w(first),
        water=hot_water.WATER,
        scald_s=hot_water.SCALD_S,
    )


def battery_form(ctx: Context, given: battery.BatteryInput) -> Data | None:
    """Return the form for a day's use and the share to use; None where the battery is unknown."""
    if given.capacity_ah is None or given.chemistry is None:
        return None
    hours = [
        (
            one,
            amps,
            _field(
                ctx,
                replace(battery.LOAD_H_DAY, key=one.name, label=one.label),
                optional=True,
                key="load_h_day",
            ),
        )
        for one in given.loads
        if (amps := one.amps) is not None
    ]
    share = given.usable_pct or battery.USABLE_PCT[given.chemistry]
    acid = given.chemistry != "LiFePO4"
    months = ctx.tongue.months
    sun = [
        _field(
            ctx,
            replace(battery.SUN_PSH, key=f"sun_psh_{number}"),
            label=month,
            optional=True,
            key="sun_psh",
            group=ctx.say("form_sun_months"),
            fold=True,
        )
        for number, month in enumerate(months, 1)
    ]
    stored = [_field(ctx, one, optional=True) for one in (battery.SOLAR_PCT, battery.CHARGE_V)]
    heavy = (battery.HEAVY_A, battery.PEUKERT_K) if acid else (battery.HEAVY_A,)
    run = ctx.say("form_run_group")
    return _form(
        ctx,
        "battery",
        [
            *(field for _, _, field in hours),
            _field(ctx, DAY_AH, optional=True),
            _field(ctx, battery.USABLE_PCT_INPUT, value=share),
            *([*sun, *stored] if given.power_wp else []),
            *(_field(ctx, one, optional=True) for one in heavy),
            _field(ctx, battery.OUTPUT_A, optional=True, value=given.output_a),
            _field(ctx, battery.FEED_A, optional=True, value=given.feed_a),
            _field(ctx, battery.DRIVE_H, optional=True),
            _field(ctx, wiring.RUN_A, optional=True, group=run),
            _field(ctx, wiring.RUN_M, optional=True, group=run),
            _field(
                ctx, wiring.RUN_MM2, optional=True, choices=list(wiring.OHM_KM_AT_20_C), group=run
            ),
        ],
        months=months,
        ohm_km=list(wiring.OHM_KM_AT_20_C.items()),
        nominal_v=wiring.NOMINAL_V,
        capacity_ah=given.capacity_ah * given.count,
        rating_h=battery.RATING_H,
        acid=acid,
        power_wp=given.power_wp,
        amps={one.name: amps for one, amps, _ in hours},
    )


def water_form(ctx: Context, given: water.WaterInput) -> Data:
    """Return the form for a day's use, the pump's time and the dose of a disinfectant."""
    wanted = (
        water.USE_L_DAY, water.KEPT_L_DAY, water.SYSTEM_L, water.PUMP_L_MIN,
        water.TREATED_L, water.STRENGTH_PCT, water.DOSE_MG_L,
    )  # fmt: skip
    return _form(
        ctx,
        "water",
        [_field(ctx, one, optional=True) for one in wanted],
        fresh_l=given.fresh_l,
        waste_l=given.waste_l,
        most_ml=water.MOST_ML,
    )


def tyres_form(ctx: Context, given: tyres.TyresInput) -> Data:
    """Return the form for a gauge in psi, and for what stands on a sidewall."""
    group = ctx.say("form_code_group")
    return _form(
        ctx,
        "tyres",
        [
            _field(ctx, tyres.GAUGE_PSI, optional=True),
            _field(ctx, tyres.LOAD_INDEX, optional=True),
            _field(ctx, tyres.TYRES, value=given.tyres, choices=(2, 4)),
            _field(ctx, tyres.AXLE_MAX_KG, optional=True, value=given.axle_max_kg),
            _field(ctx, tyres.WEEK, optional=True, group=group),
            _field(ctx, tyres.YEAR, optional=True, group=group),
        ],
        pressure_bar=given.pressure_bar,
        kpa_per_psi=KPA_PER_PSI,
        load_kg=list(tyres.LOADS_KG.items()),
        ideal_years=tyres.IDEAL_YEARS,
        most_years=tyres.MOST_YEARS,
    )


def weather_form(ctx: Context, given: weather.WeatherInput) -> Data:
    """Return the form for the dew point of a cabin, and for the nights to come."""
    air = (weather.CABIN_C, weather.HUMIDITY_PCT, weather.SURFACE_C, weather.OUTSIDE_C)
    nights = [
        _field(
            ctx,
            replace(weather.NIGHT_C, key=f"night_{number}"),
            label=ctx.say("form_night", night=number),
            optional=True,
            key="night_c",
            group=ctx.say("form_nights_group"),
        )
        for number in range(1, NIGHTS + 1)
    ]
    return _form(
        ctx,
        "weather",
        [
            *(_field(ctx, one, optional=True) for one in air),
            *nights,
            _field(ctx, weather.DRAIN_C, optional=True, value=given.drain_c),
        ],
        nights=NIGHTS,
        slope=weather.SLOPE,
        offset=weather.OFFSET,
    )


def loading_form(
    ctx: Context,
    given: loading.LoadingInput,
    places: Sequence[tuple[str, float]],
    stores: Sequence[tuple[str, float, float | None]],
) -> Data:
    """Return the loading planner. What was weighed may be weighed anew, so it can be changed."""
    caravan = given.sort == "caravan"
    wanted = loading.CARAVAN if caravan else loading.MOTOR
    weighed = ("weighed_kg", "weighed_front_kg")
    fields = [
        _field(ctx, one, value=getattr(given, one.key))
        for one in wanted
        if one.key in weighed or getattr(given, one.key) is None
    ]
    if caravan:
        fields.append(_field(ctx, loading.TOW_MAX_KG, optional=True))
    sort = "caravan" if caravan else "motor"
    called = {
        "laden": ctx.say("load_laden"),
        "support": ctx.say(f"load_support_{sort}"),
        "axle": ctx.say(f"load_axle_{sort}"),
        "usual": ctx.say("load_usual"),
    }
    known = (
        "mtplm_kg",
        "miro_kg",
        "axle_m",
        "support_m",
        "axle_max_kg",
        "support_max_kg",
        "noseload_min_kg",
    )
    return _form(
        ctx,
        "masses",
        fields,
        caravan=caravan,
        usual_pct=loading.NOSE_PCT,
        called=called,
        places=[{"title": title, "from_front_m": metres} for title, metres in places],
        stores=[{"label": label, "item_kg": kg, "from_front_m": m} for label, kg, m in stores],
        item_kg=_field(ctx, loading.ITEM_KG),
        from_front_m=_field(ctx, loading.FROM_FRONT_M),
        most=loading.MOST_THINGS,
        **{key: getattr(given, key) for key in known},
    )


def _field(
    ctx: Context,
    quantity: Quantity,
    *,
    optional: bool = False,
    value: float | None = None,
    choices: Sequence[float] = (),
    label: str = "",
    key: str = "",
    group: str = "",
    fold: bool = False,
) -> dict[str, Any]:
    """Return a field. `label` stands for the quantity's own, in the language of the page.

    `key` names the unit of measure where the quantity's own is a name.

    Fields in a row with the same `group` stand together under it; `fold` keeps them closed at
    first, and leaves the unit of measure to the group's name.
    """
    label = label or ctx.phrase(quantity.label)
    return {
        "key": quantity.key,
        "label": f"{label[0].upper()}{label[1:]}",
        "symbol": ctx.phrase(symbol(key or quantity.key)),
        "low": quantity.low,
        "high": quantity.high,
        "whole": quantity.whole,
        "right": ctx.phrase(replace(quantity, key=key or quantity.key).right),
        "optional": optional,
        "value": value,
        "choices": list(choices),
        "group": group,
        "fold": fold,
    }


def _form(ctx: Context, name: str, fields: Sequence[Data], **constants: Any) -> Data:
    words = {word: _phrase(ctx, f"form_{word}") for word in (*_EVERY, *_WORDS[name])}
    key = name.replace("-", "_")
    return {
        "page": name,
        "title": ctx.say(f"form_{key}_title"),
        "lead": ctx.say(f"form_{key}_lead"),
        "fields": list(fields),
        "words": words,
        "lower": ctx.say("lists_lower") == "yes",
        **constants,
    }


def _phrase(ctx: Context, key: str) -> str:
    """Return a phrase with its gaps left open: the script fills them."""
    return ctx.library.wording[key] if key in ctx.library.wording else ctx.say(key)
