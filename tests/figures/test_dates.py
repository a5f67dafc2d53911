"""Due dates and the calendar file."""

# ruff: noqa: D103 - a test here is named by the sentence that it proves
from __future__ import annotations

from datetime import date, timedelta

import icalendar
import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from generator.figures.dates import (
    Dates,
    DatesInput,
    Due,
    OwnDate,
    calendar_text,
    dates,
    months_after,
)
from generator.figures.figure import FigureInputError

HOSE = OwnDate("cylinder-hose", "Gas hose: replace by the date marked", due=date(2030, 6, 1))
CHECK = OwnDate(
    "habitation-check", "Habitation check", since=date(2026, 4, 11), months=12, note="Book early"
)
REVISED = date(2026, 4, 11)
TEXTS = st.text(max_size=200)


def plan(*own: OwnDate) -> Dates:
    return dates(DatesInput(code="7K3Q", host="wdl.example", revised=REVISED, own=own))


def events(text: str) -> list[icalendar.Component]:
    return list(icalendar.Calendar.from_ical(text.encode()).walk("VEVENT"))


def test_an_independent_reader_reads_it_back() -> None:
    # Checked against: icalendar 7.3.2, an independent reader of RFC 5545.
    result = plan(HOSE, CHECK)
    read = icalendar.Calendar.from_ical(result.calendar.encode())
    assert read["VERSION"] == "2.0"
    assert read.errors == []
    first, second = events(result.calendar)
    assert first.decoded("DTSTART") == date(2027, 4, 11)
    assert str(first["SUMMARY"]) == "Habitation check"
    assert str(first["DESCRIPTION"]) == "Book early"
    assert str(first["UID"]) == "habitation-check.7K3Q@wdl.example"
    assert second.decoded("DTSTART") == date(2030, 6, 1)
    (alarm,) = first.walk("VALARM")
    assert alarm.decoded("TRIGGER") == timedelta(days=-14)
    assert {"UID", "DTSTAMP", "DTSTART", "SUMMARY"} <= set(first)


@given(TEXTS, TEXTS)
def test_any_text_reads_back_and_no_line_is_too_long(label: str, note: str) -> None:
    # Checked against: icalendar 7.3.2; RFC 5545 3.1: lines of at most 75 octets, ended by CR LF.
    text = calendar_text([Due("x", label, REVISED, note)], "7K3Q", "wdl.example", REVISED)
    lines = text.split("\r\n")
    assert lines[-1] == ""
    assert all(len(line.encode()) <= 75 for line in lines)
    assert "\n" not in text.replace("\r\n", "")
    assert "\r" not in text.replace("\r\n", "")
    (event,) = events(text)
    kept = "\n".join(label.splitlines()).replace("\t", " ")
    kept = "".join(c for c in kept if c == "\n" or c.isprintable() or ord(c) >= 160)
    assert str(event["SUMMARY"]) == kept


def test_marks_and_long_texts() -> None:
    # Checked against: RFC 5545 3.3.11: backslash, semicolon, comma and new line are escaped.
    label = "Tyres, spare; \\ both\nand é" + "ü" * 100
    text = calendar_text([Due("tyres", label, REVISED, "")], "7K3Q", "wdl.example", REVISED)
    assert "SUMMARY:Tyres\\, spare\\; \\\\ both\\nand é" in text
    assert "\r\n ü" in text
    assert str(events(text)[0]["SUMMARY"]) == label


def test_a_text_cannot_add_a_line_of_its_own() -> None:
    evil = "X\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nUID:evil"
    text = calendar_text([Due("x", evil, REVISED, evil)], "7K3Q", "wdl.example", REVISED)
    assert len(events(text)) == 1
    assert text.count("BEGIN:VEVENT\r\n") == 1
    half = "bad \ud800 half"
    text = calendar_text([Due("x", half, REVISED, "")], "7K3Q", "wdl.example", REVISED)
    assert str(events(text)[0]["SUMMARY"]) == "bad  half"


def test_an_event_keeps_its_identity_when_its_day_moves() -> None:
    later = OwnDate("cylinder-hose", "Hose", due=date(2036, 1, 1))
    first, second = (events(plan(one).calendar)[0] for one in (HOSE, later))
    assert first["UID"] == second["UID"]
    assert first.decoded("DTSTART") != second.decoded("DTSTART")


def test_the_same_unit_makes_the_same_file() -> None:
    assert plan(HOSE, CHECK).calendar == plan(CHECK, HOSE).calendar


def test_nothing_else_goes_in() -> None:
    """No organiser, attendee, contact, place or other property that could hold a person."""
    names = {name for event in events(plan(HOSE, CHECK).calendar) for name in event}
    assert names == {"UID", "DTSTAMP", "DTSTART", "SUMMARY", "DESCRIPTION", "TRANSP"}


def test_soonest_first_and_what_is_missing_is_asked_for() -> None:
    result = plan(HOSE, CHECK, OwnDate("co-alarm", "Alarm: replace"))
    assert [one.name for one in result.due] == ["habitation-check", "cylinder-hose"]
    assert [a.key for a in result.figures[0].asked] == ["co-alarm"]
    assert [str(row) for row in result.figures[0].rows] == ["2027-04-11", "2030-06-01"]


def test_an_empty_calendar_is_still_one() -> None:
    assert events(plan().calendar) == []
    assert plan().calendar.startswith("BEGIN:VCALENDAR\r\nVERSION:2.0\r\n")


def test_a_marked_day_comes_before_a_counted_one() -> None:
    both = OwnDate("x", "X", due=date(2028, 1, 1), since=date(2026, 1, 1), months=12)
    assert plan(both).due[0].day == date(2028, 1, 1)


@given(st.dates(date(1990, 1, 1), date(2100, 1, 1)), st.integers(1, 240))
def test_months_agree_with_another_library(day: date, months: int) -> None:
    # Checked against: python-dateutil 4.0.0, relativedelta.
    assert months_after(day, months) == day + relativedelta(months=months)


@pytest.mark.parametrize("months", [0, -1, 241, 1.5, True, float("nan"), "12"])
def test_months_that_cannot_be_are_refused(months: int) -> None:
    with pytest.raises(FigureInputError, match="1 to 240"):
        months_after(REVISED, months)


def test_other_inputs_that_cannot_be_are_refused() -> None:
    with pytest.raises(FigureInputError, match="year 10000"):
        months_after(date(9999, 6, 1), 12)
    with pytest.raises(FigureInputError, match="name: is"):
        plan(HOSE, HOSE)
    with pytest.raises(FigureInputError, match="name: is"):
        plan(OwnDate("a b", "X", due=REVISED))
    for code, host in (("7k3q", "wdl.example"), ("7K3Q\r\nX", "wdl.example"), ("7K3Q", "x y")):
        with pytest.raises(FigureInputError):
            calendar_text([], code, host, REVISED)
