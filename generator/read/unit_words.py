"""A unit and its dealer in another language: the same vehicle, in other words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from generator.read.fields import Value
from generator.read.kinds import Kind
from generator.read.languages import Language
from generator.read.translated import Shown, as_foreign_words
from generator.read.units import Dealer, Fitting, Spot, Unit, UnitWords


def unit_in(language: Language, unit: Unit, kinds: Mapping[str, Kind]) -> Unit:
    """Return a unit in a language; `kinds` are those of the source.

    Names and values stay. What the unit does not say in that language is marked as foreign.
    """
    words = unit.translated.get(language.name, UnitWords())
    return replace(
        unit,
        title=words.title or as_foreign_words(unit.title),
        sort=Shown(unit.sort, language.library.wording.get(f"sort_{unit.sort}", unit.sort)),
        places={
            name: _spot(spot, words.places.get(name, {}), words.callouts.get(name, ()))
            for name, spot in unit.places.items()
        },
        vehicle=_values(unit.vehicle, {}, language.library.kinds["vehicle"]),
        fitted=tuple(
            _fitting(fitting, words.fitted.get(fitting.name, {}), language, kinds)
            for fitting in unit.fitted
        ),
    )


def dealer_in(language: Language, dealer: Dealer) -> Dealer:
    """Return the dealer in a language."""
    return replace(
        dealer, hours=dealer.hours_in.get(language.name) or as_foreign_words(dealer.hours)
    )


def _spot(spot: Spot, words: Mapping[str, str], said: tuple[str, ...]) -> Spot:
    return replace(
        spot,
        title=words.get("title") or as_foreign_words(spot.title),
        hint=words.get("hint") or as_foreign_words(spot.hint),
        callouts=tuple(
            replace(callout, says=said[index] if said else as_foreign_words(callout.says))
            for index, callout in enumerate(spot.callouts)
        ),
    )


def _fitting(
    fitting: Fitting, words: Mapping[str, str], language: Language, kinds: Mapping[str, Kind]
) -> Fitting:
    kind = language.library.kinds[fitting.kind]
    usual = fitting.title == kinds[fitting.kind].title
    own = kind.title if usual else as_foreign_words(fitting.title)
    return replace(
        fitting,
        title=words.get("title") or own,
        values=_values(fitting.values, words, kind),
    )


def _values(values: Mapping[str, Value], words: Mapping[str, str], kind: Kind) -> dict[str, Value]:
    types = {field.name: field.type for field in kind.attributes}
    shown: dict[str, Value] = {}
    for name, value in values.items():
        labels = kind.labels.get(name, {})
        if isinstance(value, tuple):
            shown[name] = tuple(
                Shown(one, labels.get(one, one)) if isinstance(one, str) else one for one in value
            )
        elif not isinstance(value, str):
            shown[name] = value
        elif types.get(name) == "text":
            shown[name] = Shown(value, words.get(name) or as_foreign_words(value))
        else:
            shown[name] = Shown(value, labels.get(value, value))
    return shown
