"""What every figure carries: inputs and their origins, formula, rows, sources, cautions.

A missing input is asked for. An input that cannot be right raises `FigureInputError`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from generator.figures.imperial import BESIDE
from generator.read.measures import MEASURES, Measure

_MEASURES = {
    **MEASURES,
    "mj_kg": Measure("MJ/kg", "megajoules a kilogram"),
    "mg_l": Measure("mg/l", "milligrams a litre"),
    "l_min": Measure("litres/min", "litres a minute"),
    "l_day": Measure("litres/day", "litres a day"),
    "ah_day": Measure("Ah/day", "ampere-hours a day"),
    "h_day": Measure("h/day", "hours a day"),
    "g_day": Measure("g/day", "grams a day"),
    "pct": Measure("%", "percent"),
    "kwh": Measure("kWh", "kilowatt-hours"),
    "kw": Measure("kW", "kilowatts"),
    "min": Measure("min", "minutes"),
    "ml": Measure("ml", "millilitres"),
    "km": Measure("km", "kilometres"),
    "km_h": Measure("km/h", "kilometres an hour"),
    "days": Measure("days", "days"),
    "nights": Measure("nights", "nights"),
    "years": Measure("years", "years"),
    "psh": Measure("sun hours", "hours of full sun a day"),
    "psi": Measure("psi", "pounds-force a square inch"),
    "s": Measure("s", "seconds"),
    "g": Measure("g", "grams"),
    "h": Measure("h", "hours"),
    "n": Measure("N", "newtons"),
}
_LONGEST_FIRST = sorted(_MEASURES, key=len, reverse=True)
"""The units of measure of results and of readers' inputs, beside those of unit files."""


class FigureInputError(ValueError):
    """An input that cannot be right: its key, what is wrong, and what would be right."""

    def __init__(self, key: str, wrong: str, right: str) -> None:
        """Keep the three parts, so that a stage can put the author's place before them."""
        self.key = key
        self.wrong = wrong
        self.right = right
        super().__init__(" ".join(f"{key}: {wrong}; right: {right}".split()))


class Origin(StrEnum):
    """Where an input came from, in the words that the reader sees."""

    UNIT = "this unit"
    KIND = "usual for its kind, not measured on this unit"
    READER = "you"
    EXAMPLE = "an example: put your own here"


class Sure(StrEnum):
    """How sure a source is, in the words that are printed with it."""

    PUBLISHED = "published"
    COMPUTED = "computed with"
    SECOND_HAND = "second-hand, as restated by others"
    PRACTICE = "common practice, no source"
    MEMORY = "from memory, not checked"
    ARITHMETIC = "arithmetic"


@dataclass(frozen=True, slots=True)
class Source:
    """Where a value or a formula comes from, and how sure that is."""

    text: str
    sure: Sure

    def __str__(self) -> str:
        """Return the source as it is printed."""
        return (
            f"{self.text} ({self.sure})"
            if self.sure != Sure.COMPUTED
            else (f"{self.sure} {self.text}")
        )


@dataclass(frozen=True, slots=True)
class Quantity:
    """An input that a figure takes: its key with the unit as suffix, and its least and most.

    The same definitions serve the check here and a form in the browser.
    """

    key: str
    label: str
    low: float
    high: float
    whole: bool = False

    @property
    def right(self) -> str:
        """Return what would be right, for an error message or a form."""
        unit = measure(self.key)
        words = unit.words if unit else "a whole number" if self.whole else "a number"
        return f"{words} from {self.low:g} to {self.high:g}"


@dataclass(frozen=True, slots=True)
class Choice:
    """An input that a figure takes as one of several words."""

    key: str
    label: str
    choices: tuple[str, ...]

    @property
    def right(self) -> str:
        """Return what would be right, for an error message or a form."""
        return _either(self.choices)


@dataclass(frozen=True, slots=True)
class Input:
    """An input as it was used."""

    key: str
    label: str
    value: float | str | tuple[float, ...]
    origin: Origin

    def __str__(self) -> str:
        """Return the value with its unit of measure."""
        if isinstance(self.value, str):
            return self.value
        numbers = self.value if isinstance(self.value, tuple) else (self.value,)
        return f"{' / '.join(f'{n:g}' for n in numbers)} {symbol(self.key)}".strip()


@dataclass(frozen=True, slots=True)
class Ask:
    """An input that is missing: it is asked for, never guessed."""

    key: str
    label: str
    right: str


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a result. A number is rounded so that its bound stays true."""

    label: str
    value: float | str
    key: str = ""
    """A key whose suffix names the unit of measure."""
    digits: int = 0
    bound: str = ""
    """Empty, `at least`, `at most` or `about`."""

    def __str__(self) -> str:
        """Return the result as it is printed, imperial beside where the trade uses both."""
        if isinstance(self.value, str):
            return self.value
        number = honest(self.value, self.digits, self.bound)
        said = f"{self.bound} {number:,.{self.digits}f} {symbol(self.key)}".strip()
        suffix = next((s for s in BESIDE if ("_" + self.key).endswith("_" + s)), "")
        # `mg_l` ends like `l` but is another measure: the symbols must agree.
        if suffix and symbol(suffix) == symbol(self.key):
            beside = BESIDE[suffix]
            other = honest(beside.convert(self.value), beside.digits, self.bound)
            said += f" ({other:,.{beside.digits}f} {beside.symbol})"
        return said


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A computed answer, with all that a reader needs to judge it."""

    name: str
    title: str
    inputs: tuple[Input, ...]
    asked: tuple[Ask, ...]
    """What is missing. If anything is, rows that need it are absent."""
    formula: str
    """In words."""
    rows: tuple[Row, ...]
    notes: tuple[str, ...] = ()
    sources: tuple[Source, ...] = ()
    cautions: tuple[str, ...] = ()
    """Names of cautions of the library."""
    defer: str = ""
    """Whom to ask, or whose word comes first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """The base of every figure's input. A key without an origin was given by the reader."""

    origins: Mapping[str, Origin] = field(default_factory=dict)

    def origin(self, key: str) -> Origin:
        """Return where the value of a key came from."""
        return self.origins.get(key, Origin.READER)


def measure(key: str) -> Measure | None:
    """Return the unit of measure that a key's suffix names, the longest suffix first."""
    suffix = next((s for s in _LONGEST_FIRST if ("_" + key).endswith("_" + s)), None)
    return _MEASURES[suffix] if suffix else None


def symbol(key: str) -> str:
    """Return the symbol that is printed for a key's unit of measure."""
    unit = measure(key)
    return unit.symbol if unit else ""


def honest(value: float, digits: int, bound: str = "") -> float:
    """Return a number rounded to decimals: down if it is a least, up if it is a most.

    So "at least 36 min" is still true when 36.9 was computed.
    """
    scale = 10.0**digits
    if bound == "at least":
        return math.floor(value * scale + 1e-9) / scale + 0.0
    if bound == "at most":
        return math.ceil(value * scale - 1e-9) / scale + 0.0
    # Half away from zero, as a browser does, and not half to even.
    return math.copysign(math.floor(abs(value) * scale + 0.5) / scale, value) + 0.0


def checked(quantity: Quantity, value: Any, *, key: str = "") -> float:
    """Return a value as a number, if it is one within the quantity's limits."""
    shown = f"{value!r:.40}"
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise FigureInputError(key or quantity.key, f"is {shown}", quantity.right)
    # An int may be too long for a float; comparing needs no conversion, and `nan` fails it.
    if not quantity.low <= value <= quantity.high:
        raise FigureInputError(key or quantity.key, f"is {shown}", quantity.right)
    if quantity.whole and value != int(value):
        raise FigureInputError(key or quantity.key, f"is {shown}", quantity.right)
    return float(value)


def one_choice(key: str, value: Any, choices: Iterable[str]) -> str:
    """Return a value, if it is one of the choices."""
    allowed = tuple(choices)
    if not isinstance(value, str) or value not in allowed:
        raise FigureInputError(key, f"is {value!r:.40}", _either(allowed))
    return value


def _either(choices: tuple[str, ...]) -> str:
    return " or ".join(choices) if len(choices) == 2 else "one of " + ", ".join(choices)


Looked = tuple[tuple[Input, ...], tuple[Ask, ...]]
"""Inputs that are there, and what is missing."""


def look(given: Given, wanted: Iterable[Quantity | Choice]) -> Looked:
    """Return a figure's inputs, checked, and what of them is missing.

    Each that is wanted is a field of `given`, which holds a number, a tuple of numbers, a word, or
    None.
    """
    inputs: tuple[Input, ...] = ()
    asked: tuple[Ask, ...] = ()
    for one in wanted:
        more, missing = look_at(one, getattr(given, one.key), given.origin(one.key))
        inputs, asked = inputs + more, asked + missing
    return inputs, asked


def look_at(
    wanted: Quantity | Choice, value: Any, origin: Origin, *, key: str = "", label: str = ""
) -> Looked:
    """Return one value as an input, checked, or ask for it.

    `key` and `label` stand for those of what is wanted, where it is one of many alike.
    """
    key, label = key or wanted.key, label or wanted.label
    if value is None or value == ():
        return (), (Ask(key, label, wanted.right),)
    if isinstance(wanted, Choice):
        return (Input(key, label, one_choice(key, value, wanted.choices), origin),), ()
    if not isinstance(value, tuple):
        return (Input(key, label, checked(wanted, value, key=key), origin),), ()
    numbers = tuple(
        checked(wanted, one, key=f"{key}[{n}]" if len(value) > 1 else key)
        for n, one in enumerate(value)
    )
    return (Input(key, label, numbers, origin),), ()


def between(points: Iterable[tuple[float, float]], x: float) -> float:
    """Return y at x from points in rising x, by straight lines between them."""
    before: tuple[float, float] | None = None
    for point in points:
        if before is not None and before[0] <= x <= point[0]:
            share = (x - before[0]) / (point[0] - before[0])
            return before[1] + share * (point[1] - before[1])
        before = point
    raise ValueError(f"{x} is outside the table")
