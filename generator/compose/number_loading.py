"""The section on where things lie: what was weighed, and what each place does to the loads."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from generator.compose.context import Context
from generator.compose.markdown import block, listing, paragraph
from generator.compose.number_forms import form, loading_form
from generator.compose.number_parts import NumberPage, grid
from generator.compose.number_plots import limit_bar
from generator.figures.figure import honest
from generator.figures.gather import Store
from generator.figures.loading import Check, LoadingInput, effect, loading

SAMPLE_KG = 10.0
"""For so much the table of places says what it does; a reader takes it times."""


@dataclass(frozen=True, slots=True)
class Lying:
    """A place of the vehicle where things are packed."""

    name: str
    title: str
    from_front_m: float


def write_loading(page: NumberPage, given: LoadingInput, stores: Sequence[Store]) -> None:
    """Put the sections together: as weighed, what each place does, and the form."""
    ctx, say = page.ctx, page.ctx.say
    result = loading(given)
    (figure,) = result.figures
    checks = {check.key: check for check in result.checks}
    answer = ""
    if given.sort == "caravan" and given.support_max_kg is not None:
        answer = page.say("answer_nose", kg=f"{given.support_max_kg:g}")
    more = ""
    if "support" in checks:
        more += f"### {say('load_weighed')} {{: #as-weighed }}\n\n" + paragraph(
            say("load_weighed_lead"), "hint"
        )
        more += "\n" + block("loads", listing(_told(page, given, one) for one in result.checks))
    if given.axle_m is not None and given.support_m is not None:
        axle, support = given.axle_m, given.support_m
        head = [say(f"load_support_{_sort(given)}"), say(f"load_axle_{_sort(given)}")]
        rows = [
            [page.token(one.title), *_shares(page, SAMPLE_KG, one.from_front_m, axle, support)]
            for one in lying(ctx)
        ]
        more += f"### {say('load_places')} {{: #each-place }}\n\n"
        more += paragraph(say("load_places_lead"), "hint") + "\n"
        more += grid([say("load_ten"), *head], rows)
        carried = [
            [
                f"{page.token(_store_label(ctx, one))}: {page.token(f'{one.item_kg:.0f} kg')}",
                *_shares(page, one.item_kg, where, axle, support),
            ]
            for one in stores
            if (where := _where(ctx, one)) is not None
        ]
        if carried:
            more += f"### {say('load_stores')} {{: #each-store }}\n\n"
            more += grid([say("load_full"), *head], carried)
    page.add(figure, answer, more, rows=[])
    data = loading_form(
        ctx,
        given,
        [(one.title, one.from_front_m) for one in lying(ctx)],
        [(_store_label(ctx, one), one.item_kg, _where(ctx, one)) for one in stores],
    )
    page.text += form(page, data)


def lying(ctx: Context) -> tuple[Lying, ...]:
    """Return where things are packed, from the front to the rear."""
    body = ctx.guide.unit.body
    spots = [spot for spot in ctx.guide.places if spot.stowage]
    places = [Lying(spot.name, spot.title, spot.from_front_m(body)) for spot in spots]
    return tuple(sorted(places, key=lambda one: (one.from_front_m, one.title)))


def check_words(ctx: Context, given: LoadingInput, check: Check) -> str:
    """Return what a load comes to against its limits, in the words that the form says too."""
    verdict = check.verdict
    gaps = {"what": ctx.say(f"load_{check.key}{_which(given, check.key)}")}
    bound = {"over": "at most", "under": "at least"}.get(verdict, "about")
    gaps["kg"] = _kg(check.value, bound)
    if check.low is not None:
        gaps["least"] = _kg(check.low)
        gaps["under"] = _kg(check.low - check.value, "at most")
    if check.high is not None:
        gaps["limit"] = _kg(check.high)
        gaps["over"] = _kg(check.value - check.high, "at most")
        gaps["left"] = _kg(check.high - check.value, "at least")
    if check.key == "usual":
        verdict = f"usual_{verdict}"
    elif verdict == "within" and check.high is None:
        verdict = "unlimited"
    return ctx.say(f"form_load_{verdict}", **gaps)


def _told(page: NumberPage, given: LoadingInput, check: Check) -> str:
    words = page.token(check_words(page.ctx, given, check))
    if check.high is None:
        return words
    bad = check.verdict != "within"
    bar = limit_bar(check.value, check.low, check.high, bad=bad)
    return f"{words}\n    {page.token(bar)}"


def _shares(
    page: NumberPage, kg: float, from_front_m: float, axle_m: float, support_m: float
) -> Iterator[str]:
    one = effect(kg, from_front_m, axle_m, support_m)
    for share in (one.support_kg, one.axle_kg):
        yield page.token(f"{honest(share, 1):+.1f} kg".replace("-", "\u2212"))


def _store_label(ctx: Context, store: Store) -> str:
    return ctx.say(f"load_store_{store.holds}", store=store.label)


def _where(ctx: Context, store: Store) -> float | None:
    spot = ctx.spots.get(store.place)
    return spot.from_front_m(ctx.guide.unit.body) if spot else None


def _sort(given: LoadingInput) -> str:
    return "caravan" if given.sort == "caravan" else "motor"


def _which(given: LoadingInput, key: str) -> str:
    return f"_{_sort(given)}" if key in ("support", "axle") else ""


def _kg(value: float, bound: str = "about") -> str:
    return f"{honest(value, 0, bound):,.0f}"
