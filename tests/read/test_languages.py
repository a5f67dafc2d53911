"""A further language: laid over the library, its gaps and its age noticed, its outline compared."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from generator.read.languages import Language
from generator.read.outline import first_difference
from generator.read.sources import Sources, read_sources
from generator.read.translated import CLOSE, OPEN, STALE
from generator.read.unit_words import unit_in

Write = Callable[[str, str], Path]
Change = Callable[[str, str, str], None]
Run = Callable[..., str]

FILL = """---
review: none
title: Wasseranlage füllen
purpose: Wasser läuft aus jedem Hahn.
tools: [Ein Schlauch]
---
{% if subject.store == "tank" %}
1. Füllen Sie {{ subject.capacity_l }} Liter in den Tank.
{% else %}
1. Füllen Sie {{ subject.capacity_l }} Liter in den Kanister.
{% endif %}
2. Öffnen Sie jeden Hahn.
   Then: Das Wasser läuft ohne Spritzen.
{% if boiler %}

## Result
{{ boiler.title }} ist voll.
{% endif %}
"""
HEAT = """---
review: none
title: Wasser mit Gas erwärmen
purpose: Warmes Wasser ohne Netzstrom.
---
Der Kamin wird heiß.

1. Drücken Sie den Schalter für Gas.
   Caution: dry-heater
   Then: Eine kleine Lampe leuchtet.
   If not: Warten Sie eine Minute. Versuchen Sie es noch einmal.
{% include "wait-for-hot-water" %}

## Result
Aus dem warmen Hahn läuft warmes Wasser.

## Trouble
- Die Lampe blinkt: Sehen Sie nach der Gasflasche.

## Afterwards
Schalten Sie den Boiler aus, bevor Sie fahren.
"""
SCALD = """review: none
scald:
  hazard: Das Wasser ist heiß.
  consequence: Es verbrüht.
  avoidance: Mischen Sie zuerst kaltes Wasser dazu.
  sticker: Heißes Wasser verbrüht.
"""
HEATER = """review: none
title: Warmwasserboiler
about: Erwärmt das Wasser für die Hähne.
attributes:
  energy: Womit er heizt
  capacity_l: Wasserinhalt
  mains_w: Leistung jeder Netzstufe
  gas_g_h: Gasverbrauch
  flue_cover: Der Kamin hat eine Abdeckung
  serial: Seriennummer
choices:
  energy: {gas: Gas, mains: Netzstrom}
says:
  water: {drained: Der Boiler ist leer., filled: Der Boiler ist voll.}
  burner: {off: Der Gasbrenner ist aus., on: Der Gasbrenner ist an.}
  element: {off: Der Heizstab ist aus., on: Der Heizstab ist an.}
  flue: {covered: Die Abdeckung ist auf dem Kamin., uncovered: Der Kamin ist frei.}
"""
TASK = "docs_src/languages/de/tasks/water/fill-water.md"


@pytest.fixture
def german(workspace: Path, write: Write) -> Callable[[], Language]:
    """Return a function that reads the small workspace's German, a few texts of which are there."""
    base = "docs_src/languages/de/"
    write(f"{base}language.yml", "title: Deutsch\nreview: none\n")
    write(f"{base}wording.yml", 'review: none\nlang: de\nminutes: "Etwa {count} Minuten"\n')
    write(TASK, FILL)
    write(f"{base}tasks/water/heat-water-gas.md", HEAT)
    write(f"{base}cautions/water.yml", SCALD)
    write(f"{base}kinds/water-heater.yml", HEATER)
    return lambda: read_sources(workspace).languages["de"]


def read(workspace: Path) -> Sources:
    """Return the workspace as read."""
    return read_sources(workspace)


def test_only_words_change(
    german: Callable[[], Language], workspace: Path, lockerleaf: Run
) -> None:
    """Needs, conditions, states and signal words are those of the source, whatever is written."""
    lockerleaf("translated", "de", "--all")
    source, over = read(workspace).library, german().library
    assert over.tasks["fill-water"].title == "Wasseranlage füllen"
    assert over.cautions["scald"].avoidance == "Mischen Sie zuerst kaltes Wasser dazu."
    assert over.kinds["water-heater"].states["water"].says["filled"] == "Der Boiler ist voll."
    for name, task in source.tasks.items():
        mine = over.tasks[name]
        assert (mine.needs, mine.sets, mine.during, mine.when, mine.cautions) == (
            task.needs,
            task.sets,
            task.during,
            task.when,
            task.cautions,
        )
    assert {n: c.word for n, c in over.cautions.items()} == {
        n: c.word for n, c in source.cautions.items()
    }
    assert {n: s.values for n, s in over.kinds["water-heater"].states.items()} == {
        n: s.values for n, s in source.kinds["water-heater"].states.items()
    }


def test_what_is_not_translated_says_so(german: Callable[[], Language], lockerleaf: Run) -> None:
    """Each line that a reader sees stands between marks; the format's own lines do not."""
    lockerleaf("translated", "de", "--all")
    language = german()
    task = language.library.tasks["drain-water"]
    assert task.title == f"{OPEN}Drain the water system{CLOSE}"
    assert task.body.strip() == f"1. {OPEN}Open the drain.{CLOSE}"
    assert language.library.wording["skip"].startswith(OPEN)
    assert language.library.cautions["dry-heater"].hazard.startswith(OPEN)
    missing = {gap.name for gap in language.gaps}
    assert "task/drain-water" in missing
    assert "task/fill-water" not in missing
    assert not any(gap.stale for gap in language.gaps)


def test_a_new_translation_counts_as_old_until_compared(german: Callable[[], Language]) -> None:
    """Nobody has said that it fits its source, so it is shown with the mark of a changed source."""
    language = german()
    assert {gap.name for gap in language.gaps if gap.stale} >= {"task/fill-water", "caution/scald"}
    assert STALE in language.library.tasks["fill-water"].body


def test_a_changed_source_makes_it_stale(
    german: Callable[[], Language], change: Change, lockerleaf: Run
) -> None:
    """The steps carry the mark; what other tasks say stays as it is."""
    lockerleaf("translated", "de", "--all")
    change("docs_src/tasks/water/fill-water.md", "Open every tap.", "Open every tap slowly.")
    change("docs_src/cautions/water.yml", "can need hospital", "can need a hospital")
    language = german()
    stale = {gap.name for gap in language.gaps if gap.stale}
    assert stale == {"task/fill-water", "caution/scald"}
    assert f"2. {STALE}Öffnen Sie jeden Hahn." in language.library.tasks["fill-water"].body
    assert language.library.cautions["scald"].hazard == f"{STALE}Das Wasser ist heiß."
    assert STALE not in language.library.tasks["heat-water-gas"].body
    told = lockerleaf("check", "--stale")
    assert "2 out of date; not reviewed" in told
    assert f"  {TASK}:1: task/fill-water out of date" in told


def test_a_source_with_another_outline_is_not_followed(
    german: Callable[[], Language], change: Change, lockerleaf: Run
) -> None:
    """Steps that no longer match are not shown at all: the source stands in their place."""
    lockerleaf("translated", "de", "--all")
    change(
        "docs_src/tasks/water/fill-water.md",
        "2. Open every tap.",
        "2. Shut the drain.\n3. Open every tap.",
    )
    language = german()
    assert f"2. {OPEN}Shut the drain.{CLOSE}" in language.library.tasks["fill-water"].body
    assert "task/fill-water" in {gap.name for gap in language.gaps if gap.stale}


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (
            "   Then: Das Wasser läuft ohne Spritzen.\n",
            "",
            f"{TASK}:13:1: (text): has `{{% if boiler %}}`; right: `Then:`, as the source",
        ),
        (
            "2. Öffnen",
            "2. Schließen Sie den Ablass.\n3. Öffnen",
            f"{TASK}:13:1: (text): has step 4; right: `Then:`, as the source",
        ),
        (
            "{{ subject.capacity_l }} Liter in den Kanister",
            "Wasser in den Kanister",
            f"{TASK}:10:1: (text): step 2 holds no value or link; "
            "right: {{ subject.capacity_l }}, as the source",
        ),
        (
            "{% if boiler %}",
            "{% if not boiler %}",
            f"{TASK}:14:1: (text): has `{{% if not boiler %}}`; "
            "right: `{% if boiler %}`, as the source",
        ),
        (
            "tools: [Ein Schlauch]\n",
            "",
            f"{TASK}:2:1: tools: has 0; right: 1 things, as the source",
        ),
        (
            "purpose:",
            "needs: {journey: driving}\npurpose:",
            f"{TASK}:4:1: needs: unknown key; right: one of called, licensed, purpose, review, "
            "title, tools",
        ),
    ],
)
def test_what_does_not_fit_its_source(
    german: Callable[[], Language], change: Change, lockerleaf: Run, old: str, new: str, told: str
) -> None:
    """One clear line for each way in which a translation leaves its source."""
    lockerleaf("translated", "de", "--all")
    change(TASK, old, new)
    assert lockerleaf("check") == f"{told}\n1 problem; nothing written\n"


def test_a_caution_line_cannot_be_lost(
    german: Callable[[], Language], change: Change, lockerleaf: Run
) -> None:
    """The caution before a step is part of the outline."""
    lockerleaf("translated", "de", "--all")
    change("docs_src/languages/de/tasks/water/heat-water-gas.md", "   Caution: dry-heater\n", "")
    assert "has `Then:`; right: `Caution: dry-heater`, as the source" in lockerleaf("check")


def test_names_that_are_not_there(
    german: Callable[[], Language], write: Write, change: Change, lockerleaf: Run
) -> None:
    """A translation of nothing, and a language that is not there, are told."""
    write("docs_src/languages/de/snippets/no-such.md", "Text.")
    assert "no snippet 'no-such'; right: one of wait-for-hot-water" in lockerleaf("check")
    (write("docs_src/languages/de/snippets/no-such.md", "")).unlink()
    change("units/sm-1.yml", "unit: sm-1", "unit: sm-1\nlanguages: [en, fr]")
    assert "languages: no language 'fr'; right: one of de" in lockerleaf("check")


def test_gaps_of_a_phrase(german: Callable[[], Language], change: Change, lockerleaf: Run) -> None:
    """A phrase keeps the gaps that its source has."""
    lockerleaf("translated", "de", "--all")
    change("docs_src/languages/de/wording.yml", "{count}", "{number}")
    told = lockerleaf("check")
    assert "minutes: has {number}; right: {count}, as the source" in told


@pytest.mark.parametrize(
    ("source", "translated", "expected"),
    [
        ("1. One.\n", "1. Eins.\n", None),
        ("1. One.\n   Picture: a\n", "1. Eins.\n   Picture: b\n", (2, "has `Picture: b`")),
        ("1. One.\n2. Two.\n", "1. Eins.\n", (1, "ends with step 1")),
        ("1. One.\n", "1. Eins.\n2. Zwei.\n", (2, "has step 2")),
        ("See [a](task:b).\n", "Siehe [a](task:c).\n", (1, "the beginning holds task:c")),
        ("- One: two.\n", "Eins: zwei.\n", (1, "ends with the beginning")),
    ],
)
def test_outlines(source: str, translated: str, expected: tuple[int, str] | None) -> None:
    """The first line at which a translation leaves its source."""
    found = first_difference(source, translated)
    assert (found and found[:2]) == expected


@pytest.mark.parametrize(
    ("block", "told"),
    [
        ("languages: [de, en]", "languages: begins with 'de'; right: 'en' first"),
        (
            "translated: {de: {places: {garage: {title: Garage}}}}",
            "translated.de.places.garage: no such place; right:",
        ),
        (
            "translated: {de: {fitted: {lift: {title: Lift}}}}",
            "translated.de.fitted.lift: nothing of that id; right:",
        ),
        (
            "translated: {de: {fitted: {heater: {capacity_l: 3}}}}",
            "translated.de.fitted.heater.capacity_l: unknown key; right: one of serial, title",
        ),
        ("translated: {fr: {title: Petit}}", "languages: no language 'fr'; right: one of de"),
    ],
)
def test_a_units_own_words(
    german: Callable[[], Language], change: Change, lockerleaf: Run, block: str, told: str
) -> None:
    """Words about nothing, of values that are no texts, or in no language are told by place."""
    change("units/sm-1.yml", "unit: sm-1", f"unit: sm-1\n{block}")
    assert f": {told}" in lockerleaf("check")


def test_a_guide_takes_a_units_words(
    german: Callable[[], Language], change: Change, workspace: Path, lockerleaf: Run
) -> None:
    """Titles of the unit where it gives them, of the kind where it has none of its own."""
    lockerleaf("translated", "de", "--all")
    change(
        "units/sm-1.yml",
        "unit: sm-1",
        "unit: sm-1\nlanguages: [en, de]\n"
        "translated: {de: {title: Klein 2, fitted: {lamp-left: {title: Leselampe links}}}}",
    )
    sources = read(workspace)
    unit = unit_in(sources.languages["de"], sources.stock.units["sm-1"], sources.library.kinds)
    titles = {fitting.name: fitting.title for fitting in unit.fitted}
    assert unit.title == "Klein 2"
    assert titles["lamp-left"] == "Leselampe links"
    assert titles["heater"] == "Warmwasserboiler"
    assert titles["lamp"].startswith(OPEN)
    heater = next(fitting for fitting in unit.fitted if fitting.name == "heater")
    energy = heater.values["energy"]
    assert energy == ("gas", "mains")  # what conditions compare
    assert isinstance(energy, tuple)
    assert [getattr(one, "shown", "") for one in energy] == ["Gas", "Netzstrom"]


def test_check_tells_how_a_guide_stands(
    german: Callable[[], Language], change: Change, lockerleaf: Run
) -> None:
    """As a line a unit and a language, and as JSON for programs."""
    lockerleaf("translated", "de", "--all")
    change("units/sm-1.yml", "unit: sm-1", "unit: sm-1\nlanguages: [en, de]")
    change("docs_src/tasks/water/fill-water.md", "Open every tap.", "Open every tap slowly.")
    told = json.loads(lockerleaf("check", "--format", "json"))
    (unit,) = told["units"]
    (standing,) = unit["languages"]
    assert standing["language"] == "de"
    assert standing["pages"] == unit["pages"] / 2
    assert standing["stale"] == 1
    assert standing["partial"] == standing["pages"]  # the frame's own phrases are not translated
    (language,) = told["languages"]
    assert language["stale"] == ["task/fill-water"]
    assert "task/drain-water" in language["missing"]
    assert (
        f"sm-1 in de: {standing['pages']} pages, {standing['partial']} not wholly translated, "
        "1 out of date"
    ) in lockerleaf("check")
