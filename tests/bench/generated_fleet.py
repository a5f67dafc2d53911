"""A dealer's stock for measuring: many units of some distinct fits, in a workspace of its own."""

from __future__ import annotations

import random
import shutil
import sys
from pathlib import Path

import yaml

sys.path.insert(0, str(Path(__file__).parents[1]))

from site_checks import copy_workspace

OPTIONAL = (
    "aerial", "air-conditioner", "alarm", "awning", "awning-light", "bike-rack", "blown-air",
    "camera", "dc-charger", "extractor", "filter", "gas-alarm", "gas-point", "inverter",
    "microwave", "mover", "oven", "roof-rack", "shower", "solar", "spare-wheel",
    "television", "tracker",
)  # fmt: skip
"""Fittings that a dealer leaves out of one unit or another."""


MARKED = {
    "co-alarm": "replace_by", "gas-cylinder": "hose_marked_until", "gas-regulator": "replace_by",
    "smoke-alarm": "replace_by",
}  # fmt: skip
"""Kinds of equipment on which a day is marked, and how it is called."""


def write_fleet(repository: Path, to: Path, units: int, fits: int, seed: int = 1) -> Path:
    """Return a workspace with that many units of that many distinct fits.

    Each fit is a model of its own: one of the demo's, some of its equipment left out. Units of a
    fit differ in title, keys, the days of handover and checks and those marked on equipment, and
    serial numbers; every tenth is for two persons only.
    """
    draw = random.Random(seed)
    copy_workspace(repository, to)
    for path in (to / "units").glob("*.yml"):
        if path.name != "dealer.yml":
            path.unlink()
    (to / "units" / "register.csv").unlink(missing_ok=True)
    shutil.rmtree(to / "units" / "pictures", ignore_errors=True)
    bases = sorted(path.stem for path in (to / "units" / "models").glob("*.yml"))
    names: list[str] = []
    marked: list[list[tuple[str, str]]] = []
    for number in range(fits):
        base = bases[number % len(bases)]
        names.append(f"fit-{number}")
        model: dict[str, object] = {"model": names[-1], "based_on": base, "title": f"Fit {number}"}
        optional = _optional(to / "units" / "models", base)
        without = draw.sample(optional, draw.randint(0, min(4, len(optional))))
        if without:
            model["without"] = sorted(without)
        marked.append(_marked(to / "units" / "models", base))
        _write(to / "units" / "models" / f"{names[-1]}.yml", model)
    for number in range(units):
        unit: dict[str, object] = {
            "unit": f"gf-{number:05}",
            "based_on": names[number % fits],
            "title": f"Stock {number}",
            "private": {"vin": f"SPECIMEN{number:09}", "keys": draw.randint(1, 3)},
            "delivered": f"2026-{draw.randint(1, 12):02}-{draw.randint(1, 28):02}",
        }
        vehicle: dict[str, object] = {
            key: f"2027-{draw.randint(1, 12):02}-{draw.randint(1, 28):02}"
            for key in ("habitation_check_by", "gas_check_by")
        }
        if draw.randrange(10) == 0:
            vehicle["persons"] = 2
        unit["vehicle"] = vehicle
        unit["fitted"] = [
            {"id": name, MARKED[kind]: f"20{draw.randint(30, 35)}-06-01", "serial": f"S{number}"}
            for name, kind in marked[number % fits]
        ]
        _write(to / "units" / f"{unit['unit']}.yml", unit)
    dealer = to / "units" / "dealer.yml"
    lines = dealer.read_text("utf-8").splitlines()
    kept = [line for line in lines if not line.startswith("preview:")]
    dealer.write_text("\n".join([*kept, "preview: gf-00000", ""]), "utf-8")
    return to


def _optional(models: Path, base: str) -> list[str]:
    """Return the fittings of a model, its own models' included, that may be left out."""
    model = yaml.safe_load((models / f"{base}.yml").read_text("utf-8"))
    below = _optional(models, model["based_on"]) if "based_on" in model else []
    names = [*below, *(item["id"] for item in model.get("fitted", ()))]
    gone = (*model.get("without", ()), *model.get("places", ()))
    return [name for name in dict.fromkeys(names) if name in OPTIONAL and name not in gone]


def _marked(models: Path, base: str) -> list[tuple[str, str]]:
    """Return the fittings of a model, its own models' included, on which a day is marked."""
    model = yaml.safe_load((models / f"{base}.yml").read_text("utf-8"))
    below = _marked(models, model["based_on"]) if "based_on" in model else []
    own = [(item["id"], item["kind"]) for item in model.get("fitted", ()) if item.get("kind")]
    every = dict([*below, *((name, kind) for name, kind in own if kind in MARKED)])
    return [(name, kind) for name, kind in every.items() if name not in model.get("without", ())]


def _write(path: Path, content: dict[str, object]) -> None:
    path.write_text(yaml.safe_dump(content, sort_keys=False), "utf-8")
