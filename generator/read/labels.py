"""Label stock: sheets and rolls of labels, described by their measurements."""

from __future__ import annotations

from dataclasses import dataclass

from generator.problems import Mark, Problems
from generator.read.fields import Field, read_record
from generator.read.tree import Table

_LABEL_FIELDS = (
    Field(name="title", type="text", help="What it is, by its measurements", required=True),
    Field(
        name="page_w_mm", type="number", min=10, max=1000, help="Width of the page", required=True
    ),
    Field(
        name="page_h_mm", type="number", min=10, max=1000, help="Height of the page", required=True
    ),
    Field(name="label_w_mm", type="number", min=10, max=1000, help="Label width", required=True),
    Field(name="label_h_mm", type="number", min=10, max=1000, help="Label height", required=True),
    Field(name="columns", type="whole", min=1, max=50, help="Labels side by side", required=True),
    Field(name="rows", type="whole", min=1, max=100, help="Labels below each other", required=True),
    Field(
        name="left_mm", type="number", min=0, max=500, help="Left edge of the first", required=True
    ),
    Field(
        name="top_mm", type="number", min=0, max=500, help="Top edge of the first", required=True
    ),
    Field(name="gap_x_mm", type="number", min=0, max=500, help="Gap between columns"),
    Field(name="gap_y_mm", type="number", min=0, max=500, help="Gap between rows"),
    Field(name="corner_mm", type="number", min=0, max=50, help="Corner radius"),
)


@dataclass(frozen=True, slots=True)
class LabelStock:
    """Where the labels lie on a page. Lengths in millimetres from the page's top left corner."""

    name: str
    title: str
    page_w_mm: float
    page_h_mm: float
    label_w_mm: float
    label_h_mm: float
    columns: int
    rows: int
    left_mm: float
    top_mm: float
    gap_x_mm: float
    gap_y_mm: float
    corner_mm: float
    at: Mark


def read_label_stock(table: Table, name: str, problems: Problems) -> LabelStock:
    """Return a label stock, noting labels that would lie outside the page."""
    record = read_record(table, _LABEL_FIELDS, problems)
    numbers = {f.name: record.number(f.name) for f in _LABEL_FIELDS if f.type == "number"}
    columns, rows = int(record.number("columns")), int(record.number("rows"))
    for axis, count, side in (("x", columns, "w"), ("y", rows, "h")):
        edge = "left_mm" if axis == "x" else "top_mm"
        needed = (edge, f"page_{side}_mm", f"label_{side}_mm", "columns" if axis == "x" else "rows")
        if not all(record.has(key) for key in needed):
            continue  # told already
        start = numbers[edge]
        extent = count * numbers[f"label_{side}_mm"] + (count - 1) * numbers[f"gap_{axis}_mm"]
        if start + extent > numbers[f"page_{side}_mm"] + 0.01:
            problems.add(
                record.mark("columns" if axis == "x" else "rows"),
                "columns" if axis == "x" else "rows",
                f"reach {start + extent:g} mm",
                f"at most {numbers[f'page_{side}_mm']:g} mm, the page",
            )
    return LabelStock(
        name=name,
        title=record.text("title"),
        columns=columns,
        rows=rows,
        at=record.at,
        **numbers,
    )
