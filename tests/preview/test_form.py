"""The form puts what it changes into the text, keeps all else, and never writes over anybody."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from generator.preview.drafts import difference, join
from generator.preview.form import HIDDEN, mask
from preview.conftest import Asker

UNIT = """# The small unit, described by hand.
unit: sm-1
based_on: small-2
title: Small 2, stock 1   # as on the window
private: {vin: SPECIMEN000000001, keys: 2}
delivered: 2026-04-11

# It has been refitted.
fitted:
  # a bigger one
  - {id: heater, capacity_l: 14, mains_w: [500, 850]}
  - {id: lamp-left, kind: reading-lamp, place: bed, title: Left lamp, bulb_w: 3.5}  # new
without: [lamp]
"""


def saved(asker: Asker, text: str, base: str, digest: str, unit: str = "sm-1") -> Any:
    """Return the answer to keeping a text."""
    return asker.post(f"/unit/{unit}/save", {"text": text, "base": base, "digest": digest})


def digest_of(asker: Asker, unit: str = "sm-1") -> str:
    """Return the digest that the form of a unit was loaded with."""
    page = asker.get(f"/unit/{unit}").text
    return page.split('data-digest="')[1].split('"')[0]


@pytest.mark.parametrize(
    ("edit", "before", "after"),
    [
        ({"set": ["title"], "to": "Small 2, sold"}, "Small 2, stock 1 ", "Small 2, sold "),
        ({"set": ["fitted", "heater", "capacity_l"], "to": "9"}, "capacity_l: 14", "capacity_l: 9"),
        (
            {"set": ["fitted", "heater", "mains_w"], "to": ["850", ""]},
            "mains_w: [500, 850]",
            "mains_w: [850]",
        ),
        (
            {"set": ["fitted", "heater", "energy"], "to": ["mains"]},
            "850]}",
            "850], energy: [mains]}",
        ),
        (
            {"set": ["fitted", "toilet", "cassette_l"], "to": "17"},
            "  # new\n",
            "  # new\n  - {id: toilet, cassette_l: 17}\n",
        ),
        ({"clear": ["fitted", "heater", "mains_w"]}, ", mains_w: [500, 850]", ""),
        ({"leave": "door"}, "[lamp]", "[lamp, door]"),
        ({"keep": "lamp"}, "without: [lamp]\n", ""),
        ({"set": ["private", "keys"], "to": "3"}, "keys: 2", "keys: 3"),
        (
            {"set": ["places", "bed", "along_m"], "to": "3"},
            "without: [lamp]\n",
            "without: [lamp]\nplaces: {bed: {along_m: 3}}\n",
        ),
        ({"set": ["delivered"], "to": ""}, "delivered: 2026-04-11\n", ""),
    ],
)
def test_an_edit_changes_what_it_is_about(
    asker: Asker, edit: dict[str, object], before: str, after: str
) -> None:
    """All comments, spaces and other values of the text stay as they are."""
    assert UNIT.count(before) == 1
    assert asker.draft("sm-1", UNIT, edit)["text"] == UNIT.replace(before, after)


def test_an_entry_is_taken_out_with_its_line(asker: Asker) -> None:
    """What the unit itself added goes again, and the comments of others stay."""
    (line,) = [line for line in UNIT.split("\n") if "lamp-left" in line]
    told = asker.draft("sm-1", UNIT, {"drop": ["fitted", "lamp-left"]})
    assert told["text"] == UNIT.replace(f"{line}\n", "")


def test_several_edits_make_a_fitting(asker: Asker) -> None:
    """Equipment is added with its kind, its place and its values."""
    told = asker.draft(
        "sm-1",
        UNIT,
        {"set": ["fitted", "lamp-door", "kind"], "to": "reading-lamp"},
        {"set": ["fitted", "lamp-door", "place"], "to": "entrance"},
    )
    assert "  - {id: lamp-door, kind: reading-lamp, place: entrance}\n" in str(told["text"])


def test_problems_are_told_while_typing(asker: Asker) -> None:
    """File, line, key, what is wrong and what is right, beside the field and in the list."""
    told = asker.draft("sm-1", UNIT, {"set": ["fitted", "heater", "capacity_l"], "to": "999"})
    assert told["wrong"] == 1
    parts: Any = told["parts"]
    assert "units/sm-1.yml:11:" in parts["told"]
    assert "litres from 1 to 40" in parts["told"]
    assert "is &#39;999&#39;; right: litres from 1 to 40" in parts["form"]
    assert parts["form"].count('aria-invalid="true"') == 1
    assert 'class="wrong new"' in parts["text"]
    mended = asker.draft("sm-1", str(told["text"]), {"clear": ["fitted", "heater", "capacity_l"]})
    assert mended["wrong"] == 0


def test_a_text_that_is_no_yaml_is_told(asker: Asker) -> None:
    """The form waits, and the problem says where."""
    told = asker.draft("sm-1", "unit: sm-1\ntitle: {broken\n")
    parts: Any = told["parts"]
    assert "form" not in parts
    assert "units/sm-1.yml:" in parts["told"]
    answer = asker.post(
        "/unit/sm-1/draft", {"text": "unit: {", "base": "", "edits": [{"clear": ["title"]}]}
    )
    assert answer.status_code == 422


def test_the_guide_is_checked_on_request(asker: Asker) -> None:
    """What only the finished guide shows is told too, when the form asks for it."""
    text = UNIT.replace(
        "without: [lamp]\n", "places:\n  shelf: {title: Shelf, wall: inside, along_m: 1}\n"
    )
    quick, whole = asker.draft("sm-1", text), asker.draft("sm-1", text, proof=True)
    told: list[Any] = [quick["parts"], whole["parts"]]
    assert "is being checked" in told[0]["told"]
    assert "nothing is fitted at shelf" not in told[0]["told"]
    assert "nothing is fitted at shelf" in told[1]["told"]


def test_what_is_private_is_masked_until_asked(asker: Asker) -> None:
    """The text beside the form hides it; the fields hide it on the screen."""
    parts: Any = asker.draft("sm-1", UNIT)["parts"]
    assert "SPECIMEN" not in parts["text"]
    assert 'class="secret" type="text" value="SPECIMEN000000001"' in parts["form"]
    shown: Any = asker.draft("sm-1", UNIT, shown=True)["parts"]
    assert "SPECIMEN" in shown["text"]
    assert 'class="secret"' not in shown["form"]


@pytest.mark.parametrize(
    "text",
    [
        "private: {vin: SECRET, keys: 2}\n",
        "private:\n  vin: SECRET\n  more:\n    - SECRET\n    # SECRET\n",
        "private:\n  note: |\n    SECRET and\n\n    SECRET\n  keys: SECRET\n",
        "private: {\n  vin: SECRET,\nkeys: SECRET}\n",
        "private:\n  vin: {SECRET\n",
        "private: SECRET\n",
        'fitted:\n  - {id: a, serial: SECRET, kind: b}\n  - {id: c, serial: "SECRET, 2"}\n',
        "fitted:\n  - id: a\n    serial: 'SECRET'\n",
    ],
)
def test_masking(text: str) -> None:
    """However it is written, and however broken it is, line by line."""
    hidden = mask(f"unit: a\n{text}title: b\n")
    assert "SECRET" not in hidden
    assert HIDDEN in hidden
    assert hidden.count("\n") == text.count("\n") + 2
    assert hidden.startswith("unit: a\n")
    assert hidden.endswith("title: b\n")


def test_saving_writes_the_file_whole(asker: Asker) -> None:
    """What was loaded, changed and kept is what stands in the file."""
    path = asker.root / "units" / "sm-1.yml"
    base = path.read_text()
    text = base.replace("stock 1", "stock 10")
    answer = saved(asker, text, base, digest_of(asker))
    assert answer.status_code == 200
    assert path.read_text() == text
    assert answer.get_json()["digest"] == digest_of(asker)
    assert [p.name for p in path.parent.iterdir() if p.name.startswith(".")] == []


def test_line_ends_and_mark_of_the_file_stay(asker: Asker) -> None:
    """A file that another program wrote keeps its line ends and its byte order mark."""
    path = asker.root / "units" / "sm-1.yml"
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    base = path.read_bytes().decode("utf-8-sig").replace("\r\n", "\n")
    text = base.replace("stock 1", "stock 10")
    assert saved(asker, text, base, digest_of(asker)).status_code == 200
    raw = path.read_bytes()
    assert raw.startswith(b"\xef\xbb\xbf#")
    assert raw.count(b"\r\n") == raw.count(b"\n") == text.count("\n")


def test_a_text_with_a_mistake_is_not_kept(asker: Asker) -> None:
    """As with every command, nothing is written while there is one."""
    path = asker.root / "units" / "sm-1.yml"
    base = path.read_text()
    answer = saved(asker, base.replace("small-2", "small-3"), base, digest_of(asker))
    assert answer.status_code == 422
    assert "no model 'small-3'; right: did you mean small-2?" in answer.get_json()["refused"]
    assert path.read_text() == base


def test_another_persons_change_is_never_written_over(asker: Asker) -> None:
    """The difference is told, the text that was sent is not lost, and both can be joined."""
    path = asker.root / "units" / "sm-1.yml"
    base, digest = path.read_text(), digest_of(asker)
    theirs = base.replace("bulb_w: 3.5", "bulb_w: 4")
    path.write_text(theirs)
    mine = base.replace("stock 1", "stock 10")
    answer = saved(asker, mine, base, digest)
    assert answer.status_code == 409
    told = answer.get_json()
    assert path.read_text() == theirs
    assert told["theirs"]["text"] == theirs
    assert "bulb_w: 3.5" in told["conflict"]
    assert "bulb_w: 4" in told["conflict"]
    assert "changed at " in told["conflict"]
    assert told["joined"] == theirs.replace("stock 1", "stock 10")
    again = saved(asker, told["joined"], theirs, told["theirs"]["digest"])
    assert again.status_code == 200
    assert path.read_text() == told["joined"]


def test_changes_of_the_same_lines_are_left_to_people(asker: Asker) -> None:
    """Nothing is joined by guessing."""
    path = asker.root / "units" / "sm-1.yml"
    base, digest = path.read_text(), digest_of(asker)
    path.write_text(base.replace("stock 1", "stock 11"))
    answer = saved(asker, base.replace("stock 1", "stock 12"), base, digest)
    assert answer.status_code == 409
    assert answer.get_json()["joined"] is None
    assert "one of you has to decide" in answer.get_json()["conflict"]


def test_a_file_that_went_is_not_made_again(asker: Asker) -> None:
    """A unit that somebody removed meanwhile is a conflict as well."""
    path = asker.root / "units" / "sm-1.yml"
    base, digest = path.read_text(), digest_of(asker)
    path.unlink()
    answer = saved(asker, base, base, digest)
    assert answer.status_code == 409
    assert not path.exists()


def test_a_new_unit_asks_what_differs(asker: Asker) -> None:
    """Its title is its own, what is private is empty, and it is written when it is saved."""
    path = asker.root / "units" / "sm-2.yml"
    page = asker.get("/unit/sm-2?like=sm-1").text
    assert "SPECIMEN" not in page
    text = page.split('data-text="')[1].split('"')[0].replace("&#34;", '"')
    assert "title: Small 2, stock 2\n" in text
    assert not path.exists()
    assert saved(asker, text, "", "", "sm-2").status_code == 200
    assert path.read_text() == text
    other = saved(asker, text, "", "", "sm-2")
    assert other.status_code == 409
    assert asker.get("/unit/sm-3").status_code == 404
    assert asker.get("/unit/sm-3?like=nothing").status_code == 422
    assert "there is a unit" in asker.get("/unit/sm-2?like=sm-1").text


@pytest.mark.parametrize(
    ("mine", "theirs", "joined"),
    [
        ("a\nB\nc\nd\n", "a\nb\nc\nD\n", "a\nB\nc\nD\n"),
        ("a\nb\nc\nd\n", "x\na\nb\nc\nd\n", "x\na\nb\nc\nd\n"),
        ("a\nb\nc\nd\ne\n", "A\nb\nc\nd\n", "A\nb\nc\nd\ne\n"),
        ("a\nB\nc\nd\n", "a\nB\nc\nd\n", "a\nB\nc\nd\n"),
        ("a\nB\nc\nd\n", "a\nX\nc\nd\n", None),
        ("a\nB\nc\nd\n", "a\nb\nC\nd\n", None),
        ("a\nb\nc\nd\nm\n", "a\nb\nc\nd\nt\n", None),
        ("a\nd\n", "a\nb\nC\nd\n", None),
    ],
)
def test_joining(mine: str, theirs: str, joined: str | None) -> None:
    """Changes apart are joined, those that touch are not; the order of people does not matter."""
    base = "a\nb\nc\nd\n"
    assert join(base, mine, theirs) == joined
    assert join(base, theirs, mine) == joined


def test_a_difference_shows_what_stands_around() -> None:
    """Lines that went, came and stayed are told apart; what begins with a sign is no sign."""
    told = difference("a\n- b\nc\n", "a\n+ B\nc\n")
    assert [sort for sort, _ in told] == ["gap", "same", "gone", "new", "same", "same"]
    assert [line for _, line in told][2:4] == ["- b", "+ B"]
    assert difference("a\n", "a\n") == ()


def test_a_difference_hides_what_is_private(asker: Asker) -> None:
    """That a private value was changed is told, and not to what."""
    path = asker.root / "units" / "sm-1.yml"
    base, digest = path.read_text(), digest_of(asker)
    path.write_text(base.replace("SPECIMEN000000001", "SPECIMEN000000009"))
    conflict = saved(asker, base + "# Mine.\n", base, digest).get_json()["conflict"]
    assert "SPECIMEN" not in conflict
    assert conflict.count(f"private: {HIDDEN}") == 2


def test_hostile_values_are_inert(asker: Asker) -> None:
    """Markup in a title, a key or a problem is text on every part of the page."""
    bad = '"><script>alert(1)</script>{{ 7*1911 }}'
    text = UNIT.replace("Small 2, stock 1 ", f"'{bad}' ").replace("keys: 2", f"keys: '{bad}'")
    for shown in (False, True):
        parts: Any = asker.draft("sm-1", text, shown=shown, proof=True)["parts"]
        for part in parts.values():
            assert "<script" not in part
            assert "13377" not in part
    Path(asker.root / "units" / "sm-1.yml").write_text(text)
    page = asker.get("/unit/sm-1").text
    assert page.count("<script") == 1
    assert asker.get("/fleet").text.count("<script") == 0


def test_what_no_input_can_hold_is_left_to_the_text(asker: Asker) -> None:
    """Marks on a photograph have no field, so that no field can spoil them."""
    marks = "places: {bed: {marks: [{at: [0.5, 0.5], says: Pillow}]}}\n"
    told = asker.draft("sm-1", UNIT + marks, {"set": ["places", "bed", "along_m"], "to": "3"})
    parts: Any = told["parts"]
    assert "places--bed--along_m" in parts["form"]
    assert "places--bed--marks" not in parts["form"]
    assert str(told["text"]).endswith("says: Pillow}], along_m: 3}}\n")


def test_a_film_is_chosen_where_there_is_one(asker: Asker) -> None:
    """Files of the folder are offered; without any, and none named, there is nothing to choose."""
    assert "more-film" not in asker.get("/unit/sm-1").text
    films = asker.root / "units" / "films"
    films.mkdir()
    for name in ("walk.webm", "Walk.mp4", "walk.vtt", "notes.txt", ".hidden.webm"):
        (films / name).write_bytes(b"x")
    page = asker.get("/unit/sm-1").text
    for name in ("walk.webm", "Walk.mp4"):
        assert f'<option value="{name}">' in page
    assert page.count('value="walk.vtt"') == 1
    assert "notes.txt" not in page
    assert ".hidden" not in page
    told = asker.draft(
        "sm-1",
        UNIT,
        {"set": ["film", "file"], "to": "walk.webm"},
        {"set": ["film", "ends"], "to": "12:40"},
    )
    assert str(told["text"]).endswith('film: {file: walk.webm, ends: "12:40"}\n')
    parts: Any = told["parts"]
    # The form's own fields tell what is wrong with them; chapters are the text's.
    assert "film.chapters" in parts["told"] or "chapters" in parts["told"]
    assert parts["form"].count('aria-invalid="true"') == 1
    for path in films.iterdir():
        path.unlink()
    gone: Any = asker.draft("sm-1", str(told["text"]))["parts"]
    assert '<option value="walk.webm" selected>' in gone["form"]


def test_languages_are_offered_where_there_are_any(asker: Asker) -> None:
    """The small workspace has none; one that a unit names all the same is told."""
    assert "languages-en" not in asker.get("/unit/sm-1").text
    told = asker.draft("sm-1", f"{UNIT}languages: [en, fr]\n")
    assert told["wrong"] == 1
