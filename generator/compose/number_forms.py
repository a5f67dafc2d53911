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
from generator.figures import battery, gas, hot_water, loading, pitch, water
from generator.figures.figure import Quantity, symbol

DAY_AH = Quantity("day_ah", "all else that is on, a day", 0, 500)
KETTLE_W = Quantity("kettle_w", "what you plug in yourself", 1, 15_000)

_EVERY = ("wrong", "wanted", "off", "optional", "and")
_WORDS = {
    "pitch": ("fits", "over", "can_add", "nothing_more", "sets", "other", "up_to"),
    "gas": ("gas_day", "gas_one", "gas_all", "gas_none"),
    "hot-water": ("heats", "mixed", "shower", "mix_order", "fill_order", "scald"),
    "battery": ("day_use", "usable", "nights", "endless", "sun", "nights_sun", "heavy"),
    "masses": (
        "thing", "thing_kg", "thing_where", "thing_typed", "thing_choose", "thing_add",
        "thing_remove", "thing_adds", "thing_incomplete", "thing_clear", "thing_sum", "thing_none",
        "load_within", "load_over", "load_under", "load_lifts", "load_unlimited",
        "load_usual_within", "load_usual_under", "load_usual_over",
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
            _field(pitch.RATING_A),
            _field(pitch.SUPPLY_V, optional=True),
            _field(KETTLE_W, optional=True),
        ],
        loads=loads,
        inlet_a=given.inlet_a,
        nominal_v=pitch.NOMINAL_V,
    )


def gas_form(ctx: Context, given: gas.GasInput) -> Data | None:
    """Return the form for hours a day of each appliance; None where too little is known."""
    result = gas.gas(given)
    if result.mass_kg is None or not result.g_h:
        return None
    fields = [
        _field(
            replace(gas.HOURS_H_DAY, key=one.name, label=one.label),
            optional=True,
            key="hours_h_day",
        )
        for one in given.appliances
        if one.name in result.g_h
    ]
    return _form(
        ctx, "gas", fields, mass_kg=result.mass_kg, count=given.count, g_h=dict(result.g_h)
    )


def hot_water_form(ctx: Context, given: Sequence[hot_water.HotWaterInput]) -> Data | None:
    """Return the form for the start temperature; None where the heater's size is not known."""
    first = given[0]
    if first.capacity_l is None:
        return None
    choices = sorted({one.hot_c for one in given if one.hot_c is not None})
    hot = _field(hot_water.HOT_C, choices=choices)
    optional = (hot_water.SUPPLY_V, hot_water.MIX_C, hot_water.FLOW_L_MIN)
    return _form(
        ctx,
        "hot-water",
        [_field(hot_water.FILL_C), hot, *(_field(one, optional=True) for one in optional)],
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
    sun = (battery.SUN_PSH, battery.SOLAR_PCT, battery.CHARGE_V) if given.power_wp else ()
    heavy = (battery.HEAVY_A, battery.PEUKERT_K) if acid else (battery.HEAVY_A,)
    return _form(
        ctx,
        "battery",
        [
            *(field for _, _, field in hours),
            _field(DAY_AH, optional=True),
            _field(battery.USABLE_PCT_INPUT, value=share),
            *(_field(one, optional=True) for one in (*sun, *heavy)),
        ],
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
        [_field(one, optional=True) for one in wanted],
        fresh_l=given.fresh_l,
        waste_l=given.waste_l,
        most_ml=water.MOST_ML,
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
    weighed = ("weighed_kg", "weighed_support_kg")
    fields = [
        _field(one, value=getattr(given, one.key))
        for one in wanted
        if one.key in weighed or getattr(given, one.key) is None
    ]
    if caravan:
        fields.append(_field(loading.TOW_MAX_KG, optional=True))
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
        "support_min_kg",
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
        item_kg=_field(loading.ITEM_KG),
        from_front_m=_field(loading.FROM_FRONT_M),
        most=loading.MOST_THINGS,
        **{key: getattr(given, key) for key in known},
    )


def _field(
    quantity: Quantity,
    *,
    optional: bool = False,
    value: float | None = None,
    choices: Sequence[float] = (),
    key: str = "",
) -> dict[str, Any]:
    """Return a field. `key` names the unit of measure where the quantity's own is a name."""
    label = quantity.label
    return {
        "key": quantity.key,
        "label": f"{label[0].upper()}{label[1:]}",
        "symbol": symbol(key or quantity.key),
        "low": quantity.low,
        "high": quantity.high,
        "whole": quantity.whole,
        "right": replace(quantity, key=key or quantity.key).right,
        "optional": optional,
        "value": value,
        "choices": list(choices),
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
        **constants,
    }


def _phrase(ctx: Context, key: str) -> str:
    """Return a phrase with its gaps left open: the script fills them."""
    return ctx.library.wording[key] if key in ctx.library.wording else ctx.say(key)
