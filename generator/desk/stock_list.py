"""A stock list as a dealer's other program wrote it: a table of texts, from CSV or a workbook.

Nothing in a cell is ever computed: what looks like a formula in a text is a text.
"""

from __future__ import annotations

import csv
import io
import re
import warnings
import zipfile
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

from generator.problems import Mark, Problems, RefusedError, one_of

LARGEST_LIST_BYTES = 20_000_000
LARGEST_UNPACKED_BYTES = 150_000_000
"""Of a workbook, which is a packed archive: a larger one is a mistake or an attack."""
MOST_ROWS = 20_000
MOST_COLUMNS = 400
_LONGEST_CELL = 2_000

_CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f\ufeff\ufffe\uffff]")
_CELL = "[A-Z]{1,3}[0-9]{1,7}"
_MERGED = re.compile(rf"""mergeCell\s[^>]*?ref=["']({_CELL}(?::{_CELL})?)["']""".encode())
_SEPARATORS = (",", ";", "\t", "|")


@dataclass(frozen=True, slots=True)
class Cell:
    """A text of the list, white space trimmed, and where it stands, counted from 1."""

    text: str
    row: int
    column: int

    @property
    def name(self) -> str:
        """Return the cell's name in a spreadsheet, such as C7."""
        letters, column = "", self.column
        while column:
            column, rest = divmod(column - 1, 26)
            letters = chr(ord("A") + rest) + letters
        return f"{letters}{self.row}"


@dataclass(frozen=True, slots=True)
class StockList:
    """A stock list: its headings, and the rows below that are not empty."""

    shown: str
    headings: tuple[Cell, ...]
    rows: tuple[tuple[Cell, ...], ...]
    """Each as long as the headings."""

    def at(self, cell: Cell) -> Mark:
        """Return where a cell stands: row and column take the place of line and column."""
        return Mark(self.shown, cell.row, cell.column)

    def column(self, heading: str) -> int | None:
        """Return the index of a column by its heading, however that is spaced or capitalised."""
        wanted = tidy(heading).casefold()
        for index, cell in enumerate(self.headings):
            if cell.text.casefold() == wanted:
                return index
        return None


def tidy(text: str) -> str:
    """Return a text with every run of white space as one space, and none around it."""
    return " ".join(text.split())


def read_list(
    path: Path,
    shown: str,
    wanted: Collection[str],
    heading_row: int,
    sheet: str,
    problems: Problems,
) -> StockList:
    """Return a stock list; what is wrong with single cells is noted.

    Args:
        path: A `.csv`, `.tsv`, `.txt` or `.xlsx` file.
        shown: The path as the author knows it.
        wanted: Headings that are asked for; they tell which separator a CSV has.
        heading_row: The row that holds the headings, from 1.
        sheet: The sheet of a workbook; empty for its first.
        problems: Where mistakes are noted.

    Raises:
        RefusedError: the file as a whole cannot be read.
    """
    suffix = path.suffix.lower()
    if suffix not in (".csv", ".tsv", ".txt", ".xlsx"):
        raise RefusedError(f"{shown} is no stock list", "a .csv or .xlsx file")
    size = path.stat().st_size
    if size > LARGEST_LIST_BYTES:
        raise RefusedError(
            f"{shown} is {size / 1e6:.0f} MB", f"at most {LARGEST_LIST_BYTES / 1e6:.0f} MB"
        )
    if suffix == ".xlsx":
        table = _rows_of_workbook(path, shown, sheet, heading_row, problems)
    else:
        table = _rows_of_text(path, shown, wanted, heading_row)
    cells = [
        tuple(Cell(tidy(text), number, index) for index, text in enumerate(texts, 1))
        for number, texts in enumerate(table, 1)
    ]
    if len(cells) > MOST_ROWS + heading_row:
        raise RefusedError(f"{shown} has {len(cells)} rows", f"at most {MOST_ROWS} at once")
    headings = cells[heading_row - 1] if len(cells) >= heading_row else ()
    while headings and not headings[-1].text:
        headings = headings[:-1]
    if not headings:
        raise RefusedError(f"{shown} has no headings in row {heading_row}", "a row of headings")
    rows = [row for row in cells[heading_row:] if any(cell.text for cell in row)]
    found = StockList(shown, headings, tuple(_fit(row, len(headings)) for row in rows))
    for row in rows:
        for cell in row:
            _check(found, cell, problems)
    return found


def _fit(row: tuple[Cell, ...], width: int) -> tuple[Cell, ...]:
    number = row[0].row
    missing = tuple(Cell("", number, column) for column in range(len(row) + 1, width + 1))
    return (*row[:width], *missing)


def _check(found: StockList, cell: Cell, problems: Problems) -> None:
    if cell.column > len(found.headings) and cell.text:
        right = "as many cells as headings; quote a text that holds the separator"
        problems.add(found.at(cell), cell.name, "stands beyond the headings", right)
    elif control := _CONTROL.search(cell.text):
        wrong = f"holds a control character (U+{ord(control[0]):04X})"
        problems.add(found.at(cell), cell.name, wrong, "plain text")
    elif len(cell.text) > _LONGEST_CELL:
        wrong = f"holds {len(cell.text)} characters"
        problems.add(found.at(cell), cell.name, wrong, f"at most {_LONGEST_CELL}")


def _rows_of_text(
    path: Path, shown: str, wanted: Collection[str], heading_row: int
) -> list[list[str]]:
    text = _decode(path.read_bytes(), shown)
    told = re.match(r"sep=(.)\r?\n", text)
    if told:
        text = text[told.end() :]
    separators = (told[1],) if told else _SEPARATORS
    names = {tidy(name).casefold() for name in wanted}

    def headings_found(separator: str) -> int:
        top = list(_first_rows(text, separator, heading_row))
        cells = top[heading_row - 1] if len(top) >= heading_row else []
        return len(names & {tidy(cell).casefold() for cell in cells})

    separator = max(separators, key=headings_found)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    rows: list[list[str]] = []
    try:
        for row in reader:
            rows.append(row)
            if len(rows) > MOST_ROWS + heading_row:
                raise RefusedError(f"{shown} has over {MOST_ROWS} rows", "fewer at once")
    except csv.Error as error:
        wrong = f"{shown}:{len(rows) + 1}: the row cannot be read ({error})"
        raise RefusedError(wrong, "a quoted text that ends, its own quotes doubled") from None
    return rows


def _first_rows(text: str, separator: str, count: int) -> Iterator[list[str]]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    try:
        for _, row in zip(range(count), reader, strict=False):
            yield row
    except csv.Error:
        return


def _decode(raw: bytes, shown: str) -> str:
    """Return a list's text: Unicode as it says or as it is, else Windows-1252."""
    marked = raw[:2] in (b"\xff\xfe", b"\xfe\xff")
    for encoding in ("utf-16",) if marked else ("utf-8-sig", "cp1252"):
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" in text:
            break
        return text
    raise RefusedError(f"{shown} is no text", "CSV, saved as UTF-8")


def _rows_of_workbook(
    path: Path, shown: str, sheet: str, heading_row: int, problems: Problems
) -> list[list[str]]:
    try:
        import openpyxl
    except ImportError:
        raise RefusedError(
            "a workbook needs openpyxl", "pip install 'lockerleaf[xlsx]', or save it as CSV"
        ) from None
    try:
        with zipfile.ZipFile(path) as archive, warnings.catch_warnings():
            unpacked = sum(info.file_size for info in archive.infolist())
            if unpacked > LARGEST_UNPACKED_BYTES:
                size = f"{shown} unpacks to {unpacked / 1e6:.0f} MB"
                raise RefusedError(size, "a smaller workbook")
            warnings.simplefilter("ignore")
            # Read row by row: loaded whole, one merged cell could fill any memory.
            book = openpyxl.load_workbook(path, read_only=True, keep_links=False)
            names = [one.title for one in book.worksheets]
            if not names or (sheet and sheet not in names):
                raise RefusedError(f"{shown} has no sheet '{sheet}'", one_of(names, sheet))
            page: Any = book[sheet or names[0]]
            _note_merged(archive.read(page._worksheet_path), shown, heading_row, problems)
            return _rows_of_sheet(page, shown, heading_row, problems)
    except RefusedError:
        raise
    except Exception as error:  # whatever a damaged archive or its XML make the parsers say
        if isinstance(error, OSError) and error.errno is not None:
            raise
        wrong = f"{shown} cannot be read as a workbook ({type(error).__name__})"
        raise RefusedError(wrong, "a whole .xlsx file without password, or CSV") from None


def _note_merged(content: bytes, shown: str, heading_row: int, problems: Problems) -> None:
    """Note cells that are merged, from the headings down."""
    for found in _MERGED.finditer(content):
        first, _, last = found[1].decode().partition(":")
        top, bottom = (int(re.sub("[A-Z]", "", name)) for name in (first, last or first))
        if bottom >= heading_row:
            column = 0
            for letter in re.sub("[0-9]", "", first):
                column = column * 26 + ord(letter) - ord("A") + 1
            right = "one cell for each value: unmerge them"
            problems.add(Mark(shown, top, column), found[1].decode(), "is merged", right)


def _rows_of_sheet(page: Any, shown: str, heading_row: int, problems: Problems) -> list[list[str]]:
    """Return the texts of a sheet; what stands above the headings is not looked at."""
    rows: list[list[str]] = []
    page.reset_dimensions()  # what the file says of its size need not be so
    for number, row in enumerate(page.rows, 1):
        if number > MOST_ROWS + heading_row or len(row) > MOST_COLUMNS:
            wrong = f"{shown} reaches beyond {MOST_ROWS} rows or {MOST_COLUMNS} columns"
            raise RefusedError(wrong, "fewer; delete empty rows and columns that are formatted")
        looked_at = row if number >= heading_row else ()
        rows.append([_text_of(cell, shown, problems) for cell in looked_at])
    return rows


def _text_of(cell: Any, shown: str, problems: Problems) -> str:
    """Return what a cell of a workbook shows, as far as a stock list needs it."""
    value = cell.value
    if value is None:
        return ""
    at = Mark(shown, cell.row, cell.column)
    if cell.data_type == "f":
        right = "its value: copy it, and paste it as a value"
        problems.add(at, cell.coordinate, "is a formula, which is not computed here", right)
        return ""
    if cell.data_type == "e":
        problems.add(at, cell.coordinate, f"shows {value}", "a value")
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.date().isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, int | float):
        return _number(value, str(cell.number_format))
    return str(value)


def _number(value: int | float, shape: str) -> str:
    """Return a number as the cell shows it: 42 without a point, 000123 with its zeros."""
    if float(value).is_integer():
        text = str(int(value))
        return text.zfill(len(shape)) if re.fullmatch("0+", shape) else text
    return f"{value:.12g}"
