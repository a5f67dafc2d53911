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
from generator.figures import battery, gas, hot_water, pitch, water
from generator.figures.figure import Quantity, symbol

DAY_AH = Quantity("day_ah", "all else that is on, a day", 0, 500)
KETTLE_W = Quantity("kettle_w", "what you plug in yourself", 1, 15_000)

_EVERY = ("wrong", "wanted", "off", "optional", "and")
_WORDS = {
    "pitch": ("fits", "over", "can_add", "nothing_more", "sets", "other", "up_to"),
    "gas": ("gas_day", "gas_one", "gas_all", "gas_none"),
    "hot-water": ("heats", "mixed", "shower", "mix_order", "fill_order", "scald"),
    "battery": ("day_use", "usable", "nights", "endless", "sun", "nights_sun", "heavy"),
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
            ctx,
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
    sun = (battery.SUN_PSH, battery.SOLAR_PCT, battery.CHARGE_V) if given.power_wp else ()
    heavy = (battery.HEAVY_A, battery.PEUKERT_K) if acid else (battery.HEAVY_A,)
    return _form(
        ctx,
        "battery",
        [
            *(field for _, _, field in hours),
            _field(ctx, DAY_AH, optional=True),
            _field(ctx, battery.USABLE_PCT_INPUT, value=share),
            *(_field(ctx, one, optional=True) for one in (*sun, *heavy)),
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
        [_field(ctx, one, optional=True) for one in wanted],
        fresh_l=given.fresh_l,
        waste_l=given.waste_l,
        most_ml=water.MOST_ML,
    )


def _field(
    ctx: Context,
    quantity: Quantity,
    *,
    optional: bool = False,
    value: float | None = None,
    choices: Sequence[float] = (),
    key: str = "",
) -> dict[str, Any]:
    """Return a field. `key` names the unit of measure where the quantity's own is a name."""
    label = ctx.phrase(quantity.label)
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
