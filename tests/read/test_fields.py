"""Fields: what a key may hold, and the words of an error line."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from generator.problems import Problems, one_of
from generator.read.fields import Field, Record, read_record
from generator.read.measures import MEASURES, measure_of
from generator.read.tree import parse_tree


def read(text: str, *fields: Field) -> tuple[Record, list[str]]:
    """Return a text read by fields, and its error lines."""
    problems = Problems()
    tree = parse_tree(text, "a.yml", problems)
    assert tree is not None
    record = read_record(tree, fields, problems)
    return record, [str(problem) for problem in problems.found]


def key(type_: str, name: str = "key", **more: Any) -> Field:
    """Return a field of a type."""
    return Field(name=name, type=type_, help="Help", **more)


@pytest.mark.parametrize(
    ("type_", "written", "value"),
    [
        ("text", "000123", "000123"),
        ("text", "no", "no"),
        ("text", "12:30", "12:30"),
        ("text", "2026-04-11", "2026-04-11"),
        ("text", "'  spaced '", "spaced"),
        ("name", "gas-locker-2", "gas-locker-2"),
        ("number", "2.50", 2.5),
        ("number", "-7", -7),
        ("number", "007", 7),
        ("whole", "3", 3),
        ("whole", "3.0", 3),
        ("yes-no", "yes", True),
        ("yes-no", "no", False),
        ("yes-no", "true", True),
        ("yes-no", "false", False),
        ("date", "2028-02-29", date(2028, 2, 29)),
        ("texts", "one", ("one",)),
        ("texts", "[one, no, 08]", ("one", "no", "08")),
        ("numbers", "[500, 1.5]", (500, 1.5)),
        ("numbers", "850", (850,)),
    ],
)
def test_values(type_: str, written: str, value: object) -> None:
    """Each type gives an author's text the value that it means, and nothing else."""
    assert read(f"key: {written}\n", key(type_)) == (
        Record(*_record(value)),
        [],
    )


def _record(value: object) -> tuple[Any, ...]:
    from generator.problems import Mark

    at = Mark("a.yml", 1, 1)
    return at, {"key": value}, {"key": at}


@pytest.mark.parametrize(
    ("wanted", "written", "told"),
    [
        (key("text"), "", "1:5: key: is empty; right: a text"),
        (key("text"), "[a]", "1:6: key: is a list; right: a text"),
        (key("text"), "{a: b}", "1:6: key: is a table; right: a text"),
        (
            key("text"),
            "x" * 2001,
            f"1:6: key: is '{'x' * 37}...'; right: a text",
        ),
        (
            key("name"),
            "Gas Locker",
            "1:6: key: is 'Gas Locker'; right: a name: lower case, words joined by -",
        ),
        (
            key("name"),
            "../secret",
            "1:6: key: is '../secret'; right: a name: lower case, words joined by -",
        ),
        (
            key("name"),
            "a" * 61,
            f"1:6: key: is '{'a' * 37}...'; right: a name: lower case, words joined by -",
        ),
        (key("number"), "much", "1:6: key: is 'much'; right: a number"),
        (key("number"), "1e3", "1:6: key: is '1e3'; right: a number"),
        (key("number"), "1,5", "1:6: key: is '1,5'; right: a number"),
        (key("number"), "nan", "1:6: key: is 'nan'; right: a number"),
        (key("number"), ".inf", "1:6: key: is '.inf'; right: a number"),
        (key("number"), "٣", "1:6: key: is '٣'; right: a number"),
        (key("number"), "9" * 10, "1:6: key: is '9999999999'; right: a number"),
        (key("number", min=1, max=4), "5", "1:6: key: is '5'; right: a number from 1 to 4"),
        (key("number", min=1), "0", "1:6: key: is '0'; right: a number from 1 up"),
        (key("whole"), "1.5", "1:6: key: is '1.5'; right: a whole number"),
        (key("yes-no"), "on", "1:6: key: is 'on'; right: yes or no"),
        (key("yes-no"), "Yes", "1:6: key: is 'Yes'; right: yes or no"),
        (key("date"), "2026-02-30", "1:6: key: is '2026-02-30'; right: a date such as 2026-04-11"),
        (key("date"), "11.4.2026", "1:6: key: is '11.4.2026'; right: a date such as 2026-04-11"),
        (key("date"), "20260411", "1:6: key: is '20260411'; right: a date such as 2026-04-11"),
        (key("date"), "2026-W15-6", "1:6: key: is '2026-W15-6'; right: a date such as 2026-04-11"),
        (
            key("choice", choices=("gas", "mains")),
            "manis",
            "1:6: key: is 'manis'; right: did you mean mains?",
        ),
        (
            key("choice", choices=("gas", "mains")),
            "wood",
            "1:6: key: is 'wood'; right: one of gas, mains",
        ),
        (
            key("choices", choices=("gas", "mains")),
            "[gas, Mains]",
            "1:12: key[1]: is 'Mains'; right: did you mean mains?",
        ),
        (key("numbers"), "[1, x]", "1:10: key[1]: is 'x'; right: a list of numbers"),
        (key("texts"), "[[a]]", "1:7: key[0]: is a list; right: a list of texts"),
        (key("table"), "words", "1:6: key: is not a table; right: keys of its own, indented"),
        (
            key("tables"),
            "words",
            "1:6: key: is not a list; right: a list of entries that start with -",
        ),
        (key("tables"), "[a]", "1:7: key[0]: is not a table; right: `key: value` lines"),
        (
            key("map"),
            "{Gas Locker: {}}",
            "1:7: key.Gas Locker: is 'Gas Locker'; right: a name: lower case, words joined by -",
        ),
        (key("map"), "{gas: x}", "1:12: key.gas: is not a table; right: `key: value` lines"),
        (key("pairs"), "words", "1:6: key: is not a table; right: `name: value` pairs"),
        (
            key("pairs"),
            "{a: {b: c}}",
            "1:10: key.a: is not a text; right: a text or a list of texts",
        ),
    ],
)
def test_refused(wanted: Field, written: str, told: str) -> None:
    """What a field cannot take is told where it stands, with what would be right."""
    _, lines = read(f"key: {written}\n", wanted)
    assert lines == [f"a.yml:{told}"]


@pytest.mark.parametrize(
    ("name", "type_", "words"),
    [
        ("capacity_l", "number", "litres from 1 to 9"),
        ("mains_w", "numbers", "a list of watts from 1 to 9"),
        ("count", "whole", "a whole number from 1 to 9"),
        ("inlet_a", "whole", "whole amperes from 1 to 9"),
        ("gas_g_h", "number", "grams an hour from 1 to 9"),
        ("current_ma", "number", "milliamperes from 1 to 9"),
        ("lead_mm2", "number", "square millimetres from 1 to 9"),
        ("noseload_max_kg", "number", "kilograms from 1 to 9"),
    ],
)
def test_words_of_measures(name: str, type_: str, words: str) -> None:
    """What is expected is said in the unit of measure that the key's suffix names."""
    assert key(type_, name, min=1, max=9).expects() == words


def test_longest_suffix_wins() -> None:
    """No suffix hides a longer one: each key ends in the measure that is listed for it."""
    assert {suffix: measure_of("x_" + suffix) for suffix in MEASURES} == MEASURES


def test_unknown_and_missing() -> None:
    """An unknown key gets a hint, and a required one that lacks says what it is for."""
    _, lines = read(
        "capacity: 3\n",
        key("number", "capacity_l", required=True),
        key("text", "title"),
    )
    assert lines == [
        "a.yml:1:1: capacity: unknown key; right: did you mean capacity_l?",
        "a.yml:1:1: capacity_l: missing; right: Help (litres)",
    ]


def test_wrong_is_not_missing() -> None:
    """A required key whose value is refused is told once."""
    _, lines = read("key: [1]\n", key("text", required=True))
    assert lines == ["a.yml:1:6: key: is a list; right: a text"]


def test_paths_of_inner_tables() -> None:
    """A slip deep inside is told by its whole path."""
    inner = key("tables", "checks", fields=(key("whole", "minutes"),))
    _, lines = read("part:\n  checks:\n    - {minutes: 1}\n    - {minutes: long}\n", _table(inner))
    assert lines == ["a.yml:4:17: part.checks[1].minutes: is 'long'; right: a whole number"]


def _table(inner: Field) -> Field:
    return key("table", "part", fields=(inner,))


@pytest.mark.parametrize(
    ("words", "given", "hint"),
    [
        (["gas", "mains"], "gaz", "one of gas, mains"),
        (["water-heater", "hob"], "water-heatre", "did you mean water-heater?"),
        (["water-heater", "hob"], "oven", "one of hob, water-heater"),
        (["b", "a"], "", "one of a, b"),
        ([], "a", "nothing can stand here"),
        ("abcdefghijk", "", "one of a, b, c, d, e, f, g, h and 3 more"),
    ],
)
def test_hints(words: list[str], given: str, hint: str) -> None:
    """The nearest word is offered where one is near, else the choices, at most eight."""
    assert one_of(words, given) == hint
