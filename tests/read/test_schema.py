"""`lockerleaf schema`: JSON Schema (2020-12) that an independent validator accepts and applies."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml
from jsonschema import Draft202012Validator

from generator.read.sources import Sources
from generator.read.units import unit_schema

BAD = Path(__file__).resolve().parent.parent / "bad" / "units"


class CoreLoader(yaml.SafeLoader):
    """YAML 1.2's core schema (yaml.org/spec/1.2.2, 10.3.2), as editors read a unit."""

    yaml_implicit_resolvers: dict[str, Any] = {}  # noqa: RUF012 - so PyYAML wants it


for _tag, _pattern, _first in (
    ("null", r"~|null|Null|NULL|", ["~", "n", "N", ""]),
    ("bool", r"true|True|TRUE|false|False|FALSE", list("tTfF")),
    ("int", r"[-+]?[0-9]+", list("-+0123456789")),
    ("float", r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?", list("-+.0123456789")),
):
    CoreLoader.add_implicit_resolver(
        f"tag:yaml.org,2002:{_tag}", re.compile(f"^(?:{_pattern})$"), _first
    )
CoreLoader.add_constructor("tag:yaml.org,2002:int", lambda loader, node: int(node.value))


def load(path: Path) -> Any:
    """Return a YAML file as an editor reads it."""
    return yaml.load(path.read_text("utf-8"), CoreLoader)


def complaints(schema: Any, value: Any) -> list[str]:
    """Return what an independent validator says against a value."""
    validator = Draft202012Validator(schema, format_checker=Draft202012Validator.FORMAT_CHECKER)
    return sorted(f"{error.json_path}: {error.message}" for error in validator.iter_errors(value))


@pytest.fixture(scope="module")
def schema(small: Sources) -> Any:
    """Return the small library's schema as it is written out."""
    return json.loads(json.dumps(unit_schema(small.library.kinds)))


def test_command_writes_it(lockerleaf: Callable[..., str], schema: Any) -> None:
    """The command prints the schema as JSON."""
    assert json.loads(lockerleaf("schema")) == schema


def test_valid_against_its_metaschema(schema: Any) -> None:
    """The schema is one, by the JSON Schema project's own description of schemas."""
    assert complaints(Draft202012Validator.META_SCHEMA, schema) == []


def test_small_units_are_valid(small: Sources, schema: Any) -> None:
    """What `check` accepts, an editor does not mark."""
    files = sorted((small.root / "units").rglob("s*.yml"))
    assert {file.name: complaints(schema, load(file)) for file in files} == {
        "small-2.yml": [],
        "sm-1.yml": [],
    }


@pytest.mark.slow
def test_demo_units_are_valid(demo: Sources) -> None:
    """The same holds for the demo fleet, under a schema that is valid itself."""
    schema = json.loads(json.dumps(unit_schema(demo.library.kinds)))
    units = demo.root / "units"
    files = [file for file in units.rglob("*.yml") if file.name != "dealer.yml"]
    files = [file for file in files if file.parent.name != "notices"]
    assert len(files) >= 5
    assert complaints(Draft202012Validator.META_SCHEMA, schema) == []
    assert {file.name: told for file in files if (told := complaints(schema, load(file)))} == {}


@pytest.mark.parametrize(
    "name",
    [
        "attributes",
        "no-body",
        "unknown-keys",
        "unknown-kind",
        "vehicle-attributes",
        "wrong-shapes",
        "wrong-values",
        "climbing-out",
    ],
)
def test_bad_units_are_not(schema: Any, name: str) -> None:
    """What `check` refuses for one file alone, an editor marks too."""
    assert complaints(schema, load(BAD / f"{name}.yml")) != []


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"sort": "boat"}, "$.sort: 'boat' is not one of ['caravan', 'campervan', 'motorhome']"),
        ({"delivered": "11.4.2026"}, "$.delivered: '11.4.2026' is not a 'date'"),
        (
            {"fitted": [{"id": "lamp", "kind": "reading-lamp", "bulb_w": 500}]},
            "$.fitted[0].bulb_w: 500 is greater than the maximum of 50.0",
        ),
        (
            {"fitted": [{"id": "lamp", "kind": "lamp"}]},
            "$.fitted[0].kind: 'lamp' is not one of ['cassette-toilet', 'entrance-door', "
            "'fresh-water', 'gas-cylinder', 'reading-lamp', 'water-heater']",
        ),
        ({"fitted": [{"kind": "reading-lamp"}]}, "$.fitted[0]: 'id' is a required property"),
        (
            {"serial": "000123"},
            "$: Additional properties are not allowed ('serial' was unexpected)",
        ),
        (
            {"vehicle": {"travels_with_gas": "on"}},
            "$.vehicle.travels_with_gas: 'on' is not one of ['yes', 'no', True, False]",
        ),
    ],
)
def test_what_is_marked(schema: Any, change: dict[str, Any], told: str) -> None:
    """A slip is marked where it stands, and nothing else is."""
    unit = {"unit": "sm-2", "based_on": "small-2", "title": "Two", **change}
    assert complaints(schema, unit) == [told]


def test_whole_unit_needs_all(schema: Any) -> None:
    """A unit that is based on no model must say all that a model would."""
    assert complaints(schema, {"unit": "sm-2"}) == [
        f"$: '{key}' is a required property"
        for key in ("body", "fitted", "places", "sort", "title")
    ]


def test_kind_added_as_data(
    lockerleaf: Callable[..., str], write: Callable[[str, str], Path]
) -> None:
    """A new kind of equipment is known to editors without any Python."""
    write(
        "docs_src/kinds/wood-stove.yml",
        "kind: wood-stove\ntitle: Wood stove\narea: living\nabout: Burns logs.\n"
        "attributes:\n"
        "  log_mm: {type: number, min: 100, max: 500, required: yes, help: Longest log}\n",
    )
    schema = json.loads(lockerleaf("schema"))
    unit = {"unit": "sm-2", "based_on": "small-2", "title": "Two"}
    stove = {"id": "stove", "kind": "wood-stove", "place": "bed", "log_mm": 250}
    assert complaints(schema, {**unit, "fitted": [stove]}) == []
    assert complaints(schema, {**unit, "fitted": [{**stove, "log_mm": 50}]}) == [
        "$.fitted[0].log_mm: 50 is less than the minimum of 100.0"
    ]
