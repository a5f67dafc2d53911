"""Units are made and updated from a stock list; what is wrong is told by row and column."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook

from generator.read.sources import read_sources

Run = Callable[..., str]
Write = Callable[[str, str], Path]

MAPPING = """\
columns:
  unit: Stock No
  based_on: Model
  delivered: Handover
  private.vin: VIN
  fitted.heater.mains_w: Heater W
  fitted.lamp.bulb_w: Bulb
  fitted.spare.kind: Spare lamp
  without: Not fitted
constants:
  title: "{Model}, stock {Stock No}"
  private.keys: 2
  fitted.spare.place: bed
  fitted.spare.bulb_w: 4
values:
  based_on: {Small Two: small-2}
  fitted.spare.kind: {"yes": reading-lamp, "no": ""}
dates: [day/month/year, day monthname yy]
prefix: sm-
separator: /
decimal_comma: yes
"""
HEADINGS = ["Stock No", "Model", "Handover", "VIN", "Heater W", "Bulb", "Spare lamp", "Not fitted"]
ROWS = [
    ["1", "Small Two", "11/04/2026", "SPECIMEN000000001", "", "", "", ""],
    ["", "", "", "", "", "", "", ""],
    ["2", "Small Two", "2 May 26", "=SPEC+2", "500/850", "3,5", "yes", "toilet"],
    ["3", "small-2", "", "", "850", "", "no", ""],
]


@pytest.fixture
def mapped(workspace: Path) -> Path:
    """Return a workspace with the mapping file."""
    (workspace / "list.yml").write_text(MAPPING, "utf-8")
    return workspace


def csv_text(rows: list[list[str]], separator: str = ";") -> str:
    """Return rows below the headings as CSV."""
    return "".join(separator.join(row) + "\n" for row in [HEADINGS, *rows])


def imported(workspace: Path, lockerleaf: Run, content: bytes, *options: str) -> str:
    """Import a CSV file, and return what is told."""
    (workspace / "stock.csv").write_bytes(content)
    return lockerleaf("import", "stock.csv", "--mapping", "list.yml", *options)


def contents(workspace: Path) -> dict[str, bytes]:
    """Return all that stands below units/."""
    return {p.name: p.read_bytes() for p in (workspace / "units").rglob("*") if p.is_file()}


def test_units_are_made_and_updated(mapped: Path, lockerleaf: Run) -> None:
    """New units are written, one that is there says what the list says, with its comments."""
    told = imported(mapped, lockerleaf, csv_text(ROWS).encode())
    assert (mapped / "units" / "sm-2.yml").read_text() == (
        "unit: sm-2\nbased_on: small-2\ntitle: Small Two, stock 2\n"
        'private: {vin: "=SPEC+2", keys: 2}\ndelivered: 2026-05-02\n'
        "fitted:\n  - {id: heater, mains_w: [500, 850]}\n  - {id: lamp, bulb_w: 3.5}\n"
        "  - {id: spare, kind: reading-lamp, place: bed, bulb_w: 4}\nwithout: [toilet]\n"
    )
    assert (mapped / "units" / "sm-3.yml").read_text() == (
        "unit: sm-3\nbased_on: small-2\ntitle: small-2, stock 3\nprivate: {keys: 2}\n"
        "fitted:\n  - {id: heater, mains_w: 850}\n"
    )
    assert told.splitlines()[-2:] == [
        "2 new, 0 changed, 1 as the list says",
        "Next: lockerleaf check",
    ]
    assert {"sm-1", "sm-2", "sm-3"} <= set(read_sources(mapped).stock.units)


def test_a_second_import_changes_nothing(mapped: Path, lockerleaf: Run) -> None:
    """Not a byte, and hand edits that the list does not speak of stay."""
    content = csv_text(ROWS).encode()
    imported(mapped, lockerleaf, content)
    path = mapped / "units" / "sm-2.yml"
    by_hand = path.read_text().replace("keys: 2}", "keys: 3}  # one is lost")
    path.write_text(f"# Ours.\n{by_hand}", "utf-8")
    before = contents(mapped)
    told = imported(mapped, lockerleaf, content)
    assert contents(mapped) == before
    assert "0 new, 0 changed, 3 as the list says" in told


def test_an_update_keeps_all_else(mapped: Path, lockerleaf: Run) -> None:
    """Byte order mark, line ends, comments, layout and quotes are the author's."""
    path = mapped / "units" / "sm-1.yml"
    text = "\ufeff" + path.read_text().replace("\n", "\r\n").replace("26-04-11", "26-04-10  # c")
    path.write_bytes(text.encode())
    rows = [["1", "Small Two", "12/04/2026", "SPECIMEN000000009", "700", "4", "", ""]]
    told = imported(mapped, lockerleaf, csv_text(rows).encode())
    assert path.read_bytes().decode() == (
        text.replace("2026-04-10", "2026-04-12")
        .replace("vin: SPECIMEN000000001", "vin: SPECIMEN000000009")
        .replace("mains_w: [500, 850]", "mains_w: [700]")
        .replace("bulb_w: 3.5}\r\n", "bulb_w: 3.5}\r\n  - {id: lamp, bulb_w: 4}\r\n")
    )
    assert "  delivered: 2026-04-10 → 2026-04-12\n" in told
    assert "  fitted.heater.mains_w: [500, 850] → [700]\n" in told


def test_a_dry_run_writes_nothing(mapped: Path, lockerleaf: Run) -> None:
    """What would change is told, value by value."""
    before = contents(mapped)
    told = imported(mapped, lockerleaf, csv_text(ROWS).encode(), "--dry-run")
    assert contents(mapped) == before
    assert "sm-2: new\n  based_on: small-2\n  title: Small Two, stock 2\n" in told
    assert "2 new, 0 changed, 1 as the list says; nothing written (--dry-run)" in told


@pytest.mark.parametrize(
    "encode",
    [
        lambda text: text.encode("utf-8-sig"),
        lambda text: text.encode("utf-16"),
        lambda text: text.encode("cp1252"),
        lambda text: text.replace(";", ",").replace("3,5", '"3,5"').encode(),
        lambda text: text.replace(";", "\t").encode(),
        lambda text: ("sep=;\n" + text).encode(),
        lambda text: text.replace("\n", "\r\n").encode(),
        lambda text: text.replace("Stock No", "  STOCK  no ").encode(),
    ],
    ids=["mark", "utf-16", "windows", "comma", "tab", "sep", "crlf", "spaced"],
)
def test_any_usual_text(encode: Callable[[str], bytes], mapped: Path, lockerleaf: Run) -> None:
    """Separators and encodings that spreadsheets write are told apart."""
    rows = [*ROWS, ["4", "Small Two", "", "Zoë", "", "3,5", "", ""]]
    told = imported(mapped, lockerleaf, encode(csv_text(rows)))
    assert "3 new, 0 changed, 1 as the list says" in told
    assert 'vin: "Zoë"' in (mapped / "units" / "sm-4.yml").read_text("utf-8")


def test_every_mistake_by_row_and_column(mapped: Path, lockerleaf: Run) -> None:
    """All are told at once, cells and what the units then say alike; nothing is written."""
    before = contents(mapped)
    rows = [
        ["1", "Small Two", "31/02/2026", "", "lots", "", "", "", "more"],
        ["", "Small Two", "", "", "", "", "", ""],
        ["2", "Big One", "", "", "", "", "", ""],
        ["3", "", "", "", "", "", "", ""],
        ["4", "Small Two", "", "", "", "99999", "kettle", "nothing"],
        ["4 ", "Small Two", "", "", "", "", "", ""],
        ["§", "Small Two", "", "", "", "", "", ""],
        ["5", "Small Two", "", "a\x07b", "500/lots", "", "", ""],
    ]
    told = imported(mapped, lockerleaf, csv_text(rows).encode())
    assert contents(mapped) == before
    shown = [line.partition("; right:")[0] for line in told.splitlines()]
    assert shown == [
        "stock.csv:2:3: C2 Handover: is '31/02/2026'",
        "stock.csv:2:5: E2 Heater W: sm-1: fitted.heater.mains_w is 'lots'",
        "stock.csv:2:9: I2: stands beyond the headings",
        "stock.csv:3:1: A3 Stock No: is empty in a row that is not",
        "stock.csv:4:2: B4 Model: no model 'Big One'",
        "stock.csv:5:2: B5 Model: is empty",
        "stock.csv:6:6: F6 Bulb: sm-4: fitted.lamp.bulb_w is '99999'",
        "stock.csv:6:7: G6 Spare lamp: sm-4: fitted.spare.kind is 'kettle'",
        "stock.csv:6:8: H6 Not fitted: sm-4: without 'nothing' is not in the model",
        "stock.csv:7:1: A7 Stock No: a second row of sm-4",
        "stock.csv:8:1: A8 Stock No: is '§'",
        "stock.csv:9:4: D9: holds a control character (U+0007)",
        "stock.csv:9:5: E9 Heater W: sm-5: fitted.heater.mains_w is 'lots'",
        "13 problems; nothing written",
    ]


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "lockerleaf: stock.csv has no headings in row 1; right: a row of headings"),
        (b"\x00\x01\x02", "lockerleaf: stock.csv is no text; right: CSV, saved as UTF-8"),
        (b"\x81\x8d", "lockerleaf: stock.csv is no text; right: CSV, saved as UTF-8"),
        (
            b'Stock No;Model\n1;"open\n',
            "lockerleaf: stock.csv:2: the row cannot be read (unexpected end of data); right:",
        ),
        (b"a;b\n" + b"1;2\n" * 20_002, "lockerleaf: stock.csv has over 20000 rows; right: fewer"),
        (b"a" * 20_000_001, "lockerleaf: stock.csv is 20 MB; right: at most 20 MB"),
        (
            b"Stock;Model\n1;2\n",
            "list.yml:2:9: columns.unit: no column 'Stock No' in stock.csv; right:",
        ),
    ],
)
def test_lists_that_are_none(content: bytes, told: str, mapped: Path, lockerleaf: Run) -> None:
    """A file that is no stock list is refused in one line."""
    assert imported(mapped, lockerleaf, content).startswith(told)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("  unit: Stock No\n", "", "list.yml:1:1: columns.unit: missing; right: the heading of"),
        ("private.vin:", "secret.vin:", "list.yml:5:3: columns.secret.vin: no key of a unit;"),
        ("[day/month/year,", "['%d/m/y',", "list.yml:18:1: dates: '%d/m/y' is no form of a date"),
        ("prefix: sm-", "preffix: sm-", "list.yml:19:1: preffix: unknown key; right: did you mean"),
        ("title: ", "delivered: ", "list.yml:11:14: constants.delivered: is a column too; right:"),
        ("{Model}", "{Modell}", "list.yml:11:10: constants.title: no column 'Modell' in stock.csv"),
        ("{Small Two: small-2}", "x", "list.yml:16:13: values.based_on: is not a table; right:"),
    ],
)
def test_mappings_that_are_wrong(
    old: str, new: str, told: str, mapped: Path, lockerleaf: Run
) -> None:
    """A mistake in the mapping file is told where it stands."""
    assert old in MAPPING
    (mapped / "list.yml").write_text(MAPPING.replace(old, new), "utf-8")
    assert imported(mapped, lockerleaf, csv_text(ROWS).encode()).startswith(told)


def test_files_that_are_not_there(mapped: Path, lockerleaf: Run) -> None:
    """Each is one line."""
    told = lockerleaf("import", "none.csv", "--mapping", "list.yml")
    assert told.startswith("lockerleaf: none.csv: No such file or directory")
    told = lockerleaf("import", "none.csv", "--mapping", "none.yml")
    assert told.startswith("lockerleaf: no file none.yml; right: a mapping file")
    told = lockerleaf("import", "list.yml", "--mapping", "list.yml")
    assert told == "lockerleaf: list.yml is no stock list; right: a .csv or .xlsx file\n"


def test_a_unit_that_cannot_be_read(mapped: Path, lockerleaf: Run) -> None:
    """A file with mistakes is not touched, and its mistakes are told where they are."""
    (mapped / "units" / "sm-2.yml").write_text("unit: sm-2\n\tbased_on: small-2\n", "utf-8")
    told = imported(mapped, lockerleaf, csv_text(ROWS).encode())
    assert told.startswith("units/sm-2.yml:2:1: (file): a tab in the indentation; right: spaces")
    assert not (mapped / "units" / "sm-3.yml").exists()


def test_what_is_in_the_way(mapped: Path, lockerleaf: Run) -> None:
    """A hand-written text where the list wants a table is told, and stays."""
    text = "unit: sm-2\nbased_on: small-2\nprivate: all of it\n"
    (mapped / "units" / "sm-2.yml").write_text(text, "utf-8")
    told = imported(mapped, lockerleaf, csv_text(ROWS).encode())
    assert told.startswith(
        "list.yml:12:17: constants.private.keys: 'private' holds no keys; right:"
    )
    assert "stock.csv:4:4: D4 VIN: 'private' holds no keys; right: take it out of units/" in told
    assert (mapped / "units" / "sm-2.yml").read_text() == text


def book(path: Path, change: Callable[[Any], None]) -> None:
    """Write a workbook with the list in its first sheet."""
    workbook = Workbook()
    page = workbook.active
    assert page is not None
    page.append(HEADINGS)
    for row in ROWS:
        page.append([cell or None for cell in row])
    change(page)
    workbook.save(path)


def test_a_workbook(mapped: Path, lockerleaf: Run) -> None:
    """Numbers, dates and answers come as a reader of the sheet sees them."""

    def change(page: Any) -> None:
        page["A2"] = 1.0
        page["C2"] = datetime(2026, 4, 11, 9, 30)
        page["A4"] = 2
        page["A4"].number_format = "0000"
        page["C4"] = date(2026, 5, 2)
        page["D4"].data_type = "s"
        page["F4"] = 3.5
        page["G5"] = False

    book(mapped / "stock.xlsx", change)
    told = lockerleaf("import", "stock.xlsx", "--mapping", "list.yml")
    assert "2 new, 0 changed, 1 as the list says" in told
    unit = read_sources(mapped).stock.units["sm-0002"]
    assert unit.private == {"=SPEC+2", "2"}
    assert str(unit.delivered) == "2026-05-02"


def test_cells_of_a_workbook_that_say_nothing(mapped: Path, lockerleaf: Run) -> None:
    """Formulas, errors and merged cells are told by row and column."""

    def change(page: Any) -> None:
        page["D4"] = "=A4&B4"
        page["E5"] = "#REF!"
        page.merge_cells("B2:B4")

    book(mapped / "stock.xlsx", change)
    told = lockerleaf("import", "stock.xlsx", "--mapping", "list.yml").splitlines()
    assert told[0].startswith("stock.xlsx:2:2: B2:B4: is merged; right:")
    assert any(line.startswith("stock.xlsx:4:4: D4: is a formula, which is") for line in told)
    assert any(line.startswith("stock.xlsx:5:5: E5: shows #REF!; right: a value") for line in told)
    assert not (mapped / "units" / "sm-3.yml").exists()


def test_workbooks_that_are_none(mapped: Path, lockerleaf: Run) -> None:
    """Damaged, far too large, or a sheet that is not there: one line each."""
    path = mapped / "stock.xlsx"
    path.write_bytes(b"PK\x03\x04 not really")
    told = lockerleaf("import", "stock.xlsx", "--mapping", "list.yml")
    assert told.startswith("lockerleaf: stock.xlsx cannot be read as a workbook (BadZipFile);")
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b"0" * 160_000_000)
    told = lockerleaf("import", "stock.xlsx", "--mapping", "list.yml")
    assert told.startswith("lockerleaf: stock.xlsx unpacks to 160 MB; right: a smaller workbook")

    def far(page: Any) -> None:
        page.cell(1_048_576, 16_384).value = "x"

    book(path, far)
    told = lockerleaf("import", "stock.xlsx", "--mapping", "list.yml")
    assert told.startswith("lockerleaf: stock.xlsx reaches beyond 20000 rows or 400 columns; right")

    def wide(page: Any) -> None:
        page.merge_cells("A1:B2")

    book(path, wide)
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content.replace(b"A1:B2", b"A1:XFD1048576"))
    told = lockerleaf("import", "stock.xlsx", "--mapping", "list.yml")
    assert "stock.xlsx:1:1: A1:XFD1048576: is merged; right: one cell" in told
    book(path, lambda page: None)
    (mapped / "list.yml").write_text(f"{MAPPING}sheet: Other\n", "utf-8")
    told = lockerleaf("import", "stock.xlsx", "--mapping", "list.yml")
    assert told == "lockerleaf: stock.xlsx has no sheet 'Other'; right: one of Sheet\n"
