"""A new unit is described like another; what is private or its own is never carried over."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from generator.cli import desk, main
from generator.desk.new_unit import pattern_for
from generator.read.sources import read_sources

Run = Callable[..., str]

OTHER = """\
# The small unit: with a second lamp.  It is like no other.
unit: sm-7   # as the file
based_on: small-2
title: Small 2, stock 7

private:           # for us alone
  vin: SPECIMEN000000007  # checked
  buyer: {name: A. Person, phone: "07700 900123"}
  notes: [collects late, pays cash]
# The buyer is A. Person.
# Heater 000123 is from the shelf.
delivered: 2026-04-11   # in the morning
vehicle: {habitation_check_by: 2027-04-11}
fitted:
  # A bigger heater.
  - {id: heater, serial: 000123, capacity_l: 14, mains_w: [500, 850]}   # from the shelf
  - id: cylinder
    hose_marked_until: 2030-01-01
"""


@pytest.fixture
def other(workspace: Path) -> Path:
    """Return a workspace with a unit that has all sorts of private and own values."""
    vehicle = workspace / "docs_src" / "vehicle.yml"
    own = "attributes:\n  habitation_check_by: {type: date, help: Yearly check}\n"
    vehicle.write_text(vehicle.read_text("utf-8").replace("attributes:\n", own), "utf-8")
    (workspace / "units" / "sm-7.yml").write_text(OTHER, "utf-8")
    return workspace


def test_like_a_unit(other: Path, lockerleaf: Run) -> None:
    """Differences and their comments are copied; private values, days and dates are not."""
    told = lockerleaf("new", "sm-8", "--like", "sm-7", "--set", "private.vin=SPECIMEN000000008")
    assert (other / "units" / "sm-8.yml").read_text() == (
        "# The small unit: with a second lamp.  It is like no other.\n"
        "unit: sm-8   # as the file\n"
        "based_on: small-2\n"
        "title: Small 2, stock 8\n"
        "\n"
        "private: {vin: SPECIMEN000000008}\n"
        "fitted:\n"
        "  # A bigger heater.\n"
        "  - {id: heater, capacity_l: 14, mains_w: [500, 850]}   # from the shelf\n"
    )
    assert told.splitlines() == [
        "units/sm-8.yml is written",
        "  delivered is left out",
        "  private.buyer.name is left out",
        "  private.buyer.phone is left out",
        "  private.notes is left out",
        "  vehicle.habitation_check_by is left out; sm-7 has 2027-04-11",
        "  fitted.heater.serial is left out",
        "  fitted.cylinder.hose_marked_until is left out; sm-7 has 2030-01-01",
        "Next: say in it what else differs, then lockerleaf check sm-8",
        "      lockerleaf build gives it its codes, its guide and its papers",
    ]
    assert "sm-8" in read_sources(other).stock.units


def test_words_and_pictures_of_its_own(other: Path) -> None:
    """Its film is not carried over, and its title in other languages is its own."""
    path = other / "units" / "sm-7.yml"
    more = "film: {file: walk.mp4}\ntranslated:\n  de: {title: 'Klein 2, Nr. 7'}\n"
    path.write_text(path.read_text() + more, "utf-8")
    draft = pattern_for(other, "sm-8", "sm-7").draft
    assert "film" not in draft
    assert draft.endswith('translated:\n  de: {title: "Klein 2, Nr. 8"}\n')


def test_with_all_answers(other: Path, lockerleaf: Run) -> None:
    """Options answer everything, nested and listed values among it."""
    lockerleaf(
        "new", "sm-8", "--like", "sm-7", "--title", "Our: eighth", "--delivered", "2026-08-01",
        "--set", "private.buyer.name=Else", "--set", "vehicle.habitation_check_by=2027-08-01",
        "--set", "fitted.heater.mains_w=[500]", "--set", "fitted.toilet.cassette_l=17",
        "--set", "fitted.cylinder.hose_marked_until=2031-01-01",
    )  # fmt: skip
    unit = read_sources(other).stock.units["sm-8"]
    assert (unit.title, str(unit.delivered)) == ("Our: eighth", "2026-08-01")
    values = {fitting.name: fitting.values for fitting in unit.fitted}
    assert values["heater"]["mains_w"] == (500,)
    assert values["toilet"]["cassette_l"] == 17
    assert str(values["cylinder"]["hose_marked_until"]) == "2031-01-01"
    assert str(unit.vehicle["habitation_check_by"]) == "2027-08-01"
    assert unit.private == {"Else"}


def test_like_a_model(workspace: Path, lockerleaf: Run) -> None:
    """A model's unit is based on it, and asks for what its other units keep private."""
    told = lockerleaf("new", "sm-2", "--like", "small-2", "--set", "private.keys=2")
    assert (workspace / "units" / "sm-2.yml").read_text() == (
        "# Small 2, as it comes.\nunit: sm-2\nbased_on: small-2\n"
        "title: Small 2, sm-2\nprivate: {keys: 2}\n"
    )
    assert "private.vin is left out" in told
    assert "sm-2" in read_sources(workspace).stock.units


def test_questions_on_a_terminal(other: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What differs is asked, what an option gave is not, and a bad date is asked again."""
    monkeypatch.setattr(desk, "_terminal", lambda: True)
    monkeypatch.chdir(other)
    given = ["new", "sm-8", "--like", "sm-7", "--set", "private.vin=SPECIMEN000000008"]
    answers = ["", "1.8.2026", "2026-08-01", "Else", "", "", "2027-08-01", "", ""]
    told = CliRunner().invoke(main, given, input="\n".join(answers) + "\n").output
    unit = read_sources(other).stock.units["sm-8"]
    assert (unit.title, str(unit.delivered)) == ("Small 2, stock 8", "2026-08-01")
    assert unit.private == {"SPECIMEN000000008", "Else"}
    assert str(unit.vehicle["habitation_check_by"]) == "2027-08-01"
    assert "title [Small 2, stock 8]: " in told
    assert "Error: a date such as 2026-04-11, or nothing" in told
    assert "vehicle.habitation_check_by (sm-7 has 2027-04-11) [none]: " in told
    assert "private.vin [" not in told
    assert "A. Person" not in told


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["sm-1", "--like", "sm-7"], "lockerleaf: there is a unit 'sm-1' already; right: another"),
        (["small-2", "--like", "sm-7"], "lockerleaf: there is a model 'small-2' already; right:"),
        (["SM 8", "--like", "sm-7"], "lockerleaf: 'SM 8' is no unit's name; right: lower case"),
        (["../sm-8", "--like", "sm-7"], "lockerleaf: '../sm-8' is no unit's name; right: lower"),
        (["dealer", "--like", "sm-7"], "lockerleaf: 'dealer' is no unit's name; right: lower"),
        (["sm-8", "--like", "sm7"], "lockerleaf: no unit or model 'sm7'; right: did you mean sm-7"),
        (["sm-8", "--like", "sm-7", "--set", "keys"], "Error: 'keys' sets nothing; right: such"),
        (["sm-8", "--like", "sm-7", "--set", "unit=x"], "Error: 'unit' cannot be set here; right:"),
        (
            ["sm-8", "--like", "sm-7", "--set", "title.short=x"],
            "lockerleaf: 'title' holds no keys; right: a key such as private.vin",
        ),
        (
            ["sm-8", "--like", "sm-7", "--delivered", "31/12/2026"],
            "units/sm-8.yml:6:12: delivered: is '31/12/2026'; right: a date such as 2026-04-11",
        ),
        (
            ["sm-8", "--like", "sm-7", "--set", "fitted.heater.capacity_l=lots"],
            "units/sm-8.yml:8:30: fitted[2].capacity_l: is 'lots'; right: litres",
        ),
    ],
)
def test_what_is_refused(arguments: list[str], told: str, other: Path, lockerleaf: Run) -> None:
    """Each mistake is one line, and nothing is written."""
    before = sorted(path.name for path in (other / "units").iterdir())
    assert lockerleaf("new", *arguments).startswith(told)
    assert sorted(path.name for path in (other / "units").iterdir()) == before


def test_private_values_elsewhere(other: Path, lockerleaf: Run) -> None:
    """A private value that stands elsewhere than in a comment is not carried over unseen."""
    path = other / "units" / "sm-7.yml"
    path.write_text(path.read_text().replace("stock 7", "of A. Person"), "utf-8")
    told = lockerleaf("new", "sm-8", "--like", "sm-7", "--title", "x")
    assert told == (
        "lockerleaf: sm-7 repeats a private value in its 'title'; "
        "right: keep it below private: alone\n"
    )


def test_no_private_value_is_in_a_pattern(other: Path) -> None:
    """What is asked and copied holds nothing that the other unit keeps private."""
    pattern = pattern_for(other, "sm-8", "sm-7")
    for secret in read_sources(other).stock.units["sm-7"].private:
        assert secret not in repr(pattern)
