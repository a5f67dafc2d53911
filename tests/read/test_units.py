"""Units and models: what is taken in from a model, and where paths may lead."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from PIL import Image

from generator.problems import ProblemsFound
from generator.read.pictures import Callout
from generator.read.sources import Sources, read_sources
from generator.read.units import Unit

UNIT = "units/sm-1.yml"


def unit_of(root: Path, name: str = "sm-1") -> Unit:
    """Return a unit of a workspace that must be in order."""
    return read_sources(root).stock.units[name]


def told(root: Path) -> list[str]:
    """Return the error lines of a workspace."""
    with pytest.raises(ProblemsFound) as caught:
        read_sources(root)
    return [str(problem) for problem in caught.value.problems]


def test_values_survive(small: Sources) -> None:
    """A serial number keeps its noughts, and a date is the day as written."""
    unit = small.stock.units["sm-1"]
    heater = next(fitting for fitting in unit.fitted if fitting.name == "heater")
    assert (heater.values["serial"], unit.delivered) == ("000123", date(2026, 4, 11))


def test_laid_over_the_model(small: Sources) -> None:
    """A fitting with a model's id changes only what it says; a new one comes last."""
    unit = small.stock.units["sm-1"]
    heater = next(fitting for fitting in unit.fitted if fitting.name == "heater")
    assert dict(heater.values) == {
        "energy": ("gas", "mains"),
        "capacity_l": 14,
        "mains_w": (500, 850),
        "gas_g_h": 120,
        "flue_cover": False,
        "serial": "000123",
    }
    assert [fitting.name for fitting in unit.fitted] == [
        "cylinder",
        "fresh-water",
        "heater",
        "toilet",
        "door",
        "lamp",
        "lamp-left",
    ]


def test_models_are_not_units(small: Sources) -> None:
    """A model is never published itself."""
    assert list(small.stock.units) == ["sm-1"]


def test_private_texts(small: Sources) -> None:
    """All that stands under `private` is known as what must never leave."""
    assert small.stock.units["sm-1"].private == {"SPECIMEN000000001", "2"}


def test_without(workspace: Path, change: Callable[[str, str, str], None]) -> None:
    """A unit may leave out a fitting and a place of its model."""
    change(UNIT, "delivered:", "without: [toilet, toilet-hatch]\ndelivered:")
    unit = unit_of(workspace)
    assert "toilet-hatch" not in unit.places
    assert "toilet" not in {fitting.name for fitting in unit.fitted}


def test_another_kind_replaces(workspace: Path, change: Callable[[str, str, str], None]) -> None:
    """A fitting of another kind takes nothing over from the model's of the same id."""
    change(
        UNIT,
        "fitted:\n",
        "fitted:\n  - {id: toilet, kind: reading-lamp, place: bed, bulb_w: 9}\n",
    )
    toilet = next(f for f in unit_of(workspace).fitted if f.name == "toilet")
    assert (toilet.kind, toilet.place, dict(toilet.values), dict(toilet.parts)) == (
        "reading-lamp",
        "bed",
        {"bulb_w": 9},
        {},
    )


def test_places_are_merged(workspace: Path, change: Callable[[str, str, str], None]) -> None:
    """A unit may move one place and keep the rest of what the model says of it."""
    change(UNIT, "fitted:\n", "places: {seat: {along_m: 1.4}}\nfitted:\n")
    seat = unit_of(workspace).places["seat"]
    assert (seat.along_m, seat.title, seat.hint) == (1.4, "Seat locker", "Lift the cushion.")


def test_model_on_a_model(
    workspace: Path,
    change: Callable[[str, str, str], None],
    write: Callable[[str, str], Path],
) -> None:
    """Models may be based on models, each saying what differs."""
    write(
        "units/models/small-2-plus.yml",
        "model: small-2-plus\nbased_on: small-2\ntitle: Small 2 Plus\n"
        "fitted:\n  - {id: heater, capacity_l: 12}\n",
    )
    change(UNIT, "based_on: small-2", "based_on: small-2-plus")
    change(UNIT, "capacity_l: 14, ", "")
    heater = next(f for f in unit_of(workspace).fitted if f.name == "heater")
    assert heater.values["capacity_l"] == 12


def test_models_in_a_circle(
    workspace: Path,
    change: Callable[[str, str, str], None],
    write: Callable[[str, str], Path],
) -> None:
    """Models that are based on each other are told, not followed for ever."""
    write("units/models/a.yml", "model: a\nbased_on: b\n")
    write("units/models/b.yml", "model: b\nbased_on: a\n")
    change(UNIT, "based_on: small-2", "based_on: a")
    assert told(workspace) == [
        f"units/models/{name}.yml:2:1: based_on: goes round in a circle; "
        "right: a model that is based on none"
        for name in ("a", "b")
    ]


def test_defaults_of_the_body(small: Sources) -> None:
    """What a body need not say is worked out from its length."""
    body = small.stock.units["sm-1"].body
    assert (body.entrance_along_m, body.axle_along_m, body.drawbar_m) == (2.5, 2.2, 0)


@pytest.mark.parametrize("stem", ["../up", "Sm-2", "sm_2", "sm--2", "sm 2", "-sm", "a" * 61])
def test_unit_name_that_is_no_name(
    workspace: Path, write: Callable[[str, str], Path], stem: str
) -> None:
    """The name of a unit, which becomes the name of a folder, can only be a plain word."""
    write("units/sm-2.yml", f"unit: '{stem}'\nbased_on: small-2\ntitle: Two\n")
    assert told(workspace) == [f"units/sm-2.yml:1:1: unit: is '{stem}'; right: 'sm-2', as the file"]


@pytest.mark.parametrize("stem", ["Sm-2", "sm_2", "sm 2", "..", "a" * 61])
def test_file_name_that_is_no_name(
    workspace: Path, write: Callable[[str, str], Path], stem: str
) -> None:
    """The same holds for the name of its file."""
    write(f"units/{stem}.yml", f"unit: '{stem}'\nbased_on: small-2\ntitle: Two\n")
    assert told(workspace) == [
        f"units/{stem}.yml:1:1: (file): is named '{stem}.yml'; "
        "right: lower case, words joined by -, then .yml"
    ]


@pytest.mark.parametrize(
    "picture",
    [
        "../dealer.yml",
        "/etc/passwd",
        "a/../../models/small-2.yml",
        "..\\\\dealer.jpg",
        "link.jpg",
        "linked/inner.jpg",
    ],
)
def test_picture_that_climbs_out(
    workspace: Path, change: Callable[[str, str, str], None], tmp_path: Path, picture: str
) -> None:
    """A picture's path, and what a link at it leads to, stay inside the folder for pictures."""
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "inner.jpg").write_bytes(b"x")
    folder = workspace / "units" / "pictures"
    folder.mkdir()
    (folder / "link.jpg").symlink_to(outside / "inner.jpg")
    (folder / "linked").symlink_to(outside)
    change(UNIT, "fitted:\n", f'places: {{seat: {{picture: "{picture}"}}}}\nfitted:\n')
    shown = picture.replace("\\\\", "\\")
    assert told(workspace) == [
        f"units/sm-1.yml:7:17: places.seat.picture: '{shown}' leads out of its folder; "
        "right: a file in units/pictures/"
    ]


@pytest.mark.parametrize(
    ("picture", "wrong", "right"),
    [
        ("seat.svg", "'seat.svg' is no picture", "a .jpg, .png or .webp file"),
        ("seat", "'seat' is no picture", "a .jpg, .png or .webp file"),
        ("seat.jpg", "no file 'seat.jpg'", "a file in units/pictures/"),
    ],
)
def test_picture_that_is_none(
    workspace: Path,
    change: Callable[[str, str, str], None],
    picture: str,
    wrong: str,
    right: str,
) -> None:
    """A picture is a file of a picture's sort that is there."""
    change(UNIT, "fitted:\n", f"places: {{seat: {{picture: {picture}}}}}\nfitted:\n")
    assert told(workspace) == [f"units/sm-1.yml:7:17: places.seat.picture: {wrong}; right: {right}"]


def test_picture(workspace: Path, change: Callable[[str, str, str], None]) -> None:
    """A picture in a folder of its own is taken."""
    (workspace / "units" / "pictures" / "small").mkdir(parents=True)
    Image.new("RGB", (40, 30)).save(workspace / "units" / "pictures" / "small" / "seat.JPG")
    change(UNIT, "fitted:\n", "places: {seat: {picture: small/seat.JPG}}\nfitted:\n")
    assert unit_of(workspace).places["seat"].picture is not None


def put_marks(workspace: Path, change: Callable[[str, str, str], None], marks: str) -> None:
    """Give the seat a picture with marks."""
    (workspace / "units" / "pictures").mkdir()
    Image.new("RGB", (40, 30)).save(workspace / "units" / "pictures" / "seat.png")
    change(UNIT, "fitted:\n", f"places: {{seat: {{picture: seat.png, marks: {marks}}}}}\nfitted:\n")


def test_marks_on_a_picture(workspace: Path, change: Callable[[str, str, str], None]) -> None:
    """Marks keep their order, their points and their words."""
    put_marks(workspace, change, "[{at: [0.4, 0.6], says: Drain valve}, {at: [0, 1], says: Lid}]")
    assert unit_of(workspace).places["seat"].callouts == (
        Callout(0.4, 0.6, "Drain valve"),
        Callout(0.0, 1.0, "Lid"),
    )


INSIDE = "right: [0.4, 0.6]: from its left edge and from its top, as parts from 0 to 1"


@pytest.mark.parametrize(
    ("marks", "line"),
    [
        ("[{at: [0.4, 1.6], says: A}]", f"places.seat.marks[0].at: is 0.4, 1.6; {INSIDE}"),
        ("[{at: [-0.1, 0], says: A}]", f"places.seat.marks[0].at: is -0.1, 0; {INSIDE}"),
        ("[{at: [0.5], says: A}]", f"places.seat.marks[0].at: is 0.5; {INSIDE}"),
        ("[{at: [.nan, left], says: A}]", f"places.seat.marks[0].at: is .nan, left; {INSIDE}"),
        ("[{at: [], says: A}]", f"places.seat.marks[0].at: is empty; {INSIDE}"),
        (
            "[{says: A}]",
            "places.seat.marks[0].at: missing; right: How far from its left edge, then from its "
            "top, as parts of the whole (a list of texts)",
        ),
        (
            f"[{{at: [0, 0], says: {'long ' * 20}}}]",
            "places.seat.marks[0].says: has 99 characters; right: at most 80, as on a label",
        ),
        (
            f"[{', '.join(['{at: [0, 0], says: A}'] * 10)}]",
            "places.seat.marks: has 10 entries; right: at most 9",
        ),
    ],
)
def test_marks_that_cannot_be_shown(
    workspace: Path, change: Callable[[str, str, str], None], marks: str, line: str
) -> None:
    """Each is told in one line that says what would be right."""
    put_marks(workspace, change, marks)
    (problem,) = told(workspace)
    assert problem.partition(": ")[2] == line
    assert problem.startswith("units/sm-1.yml:7:")


def test_marks_want_a_picture(workspace: Path, change: Callable[[str, str, str], None]) -> None:
    """Marks without a picture would be nowhere."""
    change(
        UNIT,
        "fitted:\n",
        "places: {seat: {marks: [{at: [0, 0], says: A}]}}\nfitted:\n",
    )
    assert told(workspace) == [
        "units/sm-1.yml:7:17: places.seat.marks: has no picture to stand on; "
        "right: the picture of this place, too"
    ]


@pytest.mark.parametrize("path", ["units/sm-2.yml", "units/models/small-3.yml"])
def test_link_out_of_the_folder(workspace: Path, tmp_path: Path, path: str) -> None:
    """A description that is a link to elsewhere is refused before it is read."""
    secret = tmp_path / "secret.yml"
    secret.write_text("password: hunter2\n", "utf-8")
    (workspace / path).symlink_to(secret)
    assert told(workspace) == [f"{path}:1:1: (file): leads out of the units; right: a plain file"]


def test_all_files_at_once(workspace: Path, write: Callable[[str, str], Path]) -> None:
    """Slips of several files are told together, in the order of files and lines."""
    write("units/sm-2.yml", "unit: sm-2\nbased_on: smal-2\ntitle: Two\n")
    write("units/sm-3.yml", "unit: sm-3\nbased_on: small-2\ntitel: Three\nsort: boat\n")
    assert told(workspace) == [
        "units/sm-2.yml:2:1: based_on: no model 'smal-2'; right: did you mean small-2?",
        "units/sm-3.yml:3:1: titel: unknown key; right: did you mean title?",
        "units/sm-3.yml:4:7: sort: is 'boat'; right: one of campervan, caravan, motorhome",
    ]


def test_slip_of_a_model_is_told_once(
    workspace: Path, change: Callable[[str, str, str], None]
) -> None:
    """A model's slip is told at the model, not once more for each unit that is based on it."""
    change("units/models/small-2.yml", "capacity_l: 40", "capacity_l: 4000")
    assert told(workspace) == [
        "units/models/small-2.yml:15:87: fitted[1].capacity_l: is '4000'; "
        "right: litres from 5 to 300"
    ]
