"""Safety notices: what a maker or the dealer has found out about units that are already away."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from generator.problems import Mark, Problems, one_of
from generator.read.expressions import Expression, read_expression
from generator.read.fields import NAME, Field, Record, read_record
from generator.read.kinds import Kind
from generator.read.layers import model_names
from generator.read.tasks import known_names
from generator.read.tree import Table, parse_tree, read_source

_WORDS = ("danger", "warning", "caution", "notice")
_SAID = (
    Field(name="title", type="text", help="What to do about what", required=True),
    Field(name="hazard", type="text", help="What was found", required=True),
    Field(name="consequence", type="text", help="What it can do", required=True),
    Field(name="avoidance", type="text", help="What to do until it is seen to", required=True),
)
_NOTICE_FIELDS = (
    Field(name="notice", type="name", help="The notice's name, as the file's", required=True),
    *_SAID,
    Field(name="word", type="choice", help="Signal word", required=True, choices=_WORDS),
    Field(name="sign", type="text", help="ISO 7010 code of the sign's meaning"),
    Field(name="issued", type="date", help="Day of the notice", required=True),
    Field(name="source", type="text", help="Who found it, and where it is said", required=True),
    Field(name="about", type="name", help="The kind of equipment that it is about"),
    Field(name="when", type="text", help="A condition; `subject` is the equipment"),
    Field(name="models", type="names", help="Only units that are based on one of these"),
    Field(name="units", type="names", help="Only these units"),
    Field(name="serials", type="texts", help="First and last serial number of the equipment"),
    Field(name="task", type="name", help="A task that helps until then"),
    Field(name="cleared", type="pairs", help="Units in which it has been seen to, and the day"),
    Field(
        name="translated",
        type="map",
        help="Its words by language",
        fields=tuple(Field(name=f.name, type=f.type, help=f.help) for f in _SAID),
    ),
)
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


@dataclass(frozen=True, slots=True)
class Notice:
    """A safety notice, and which units it reaches."""

    name: str
    title: str
    hazard: str
    consequence: str
    avoidance: str
    word: str
    sign: str
    issued: date
    source: str
    about: str
    when: Expression | None
    models: tuple[str, ...]
    units: tuple[str, ...]
    serials: tuple[str, str] | None
    task: str
    cleared: Mapping[str, str]
    """The day, by unit."""
    at: Mark
    translated: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    """Title, hazard, consequence and avoidance, by language."""


def read_notices(
    root: Path, kinds: Mapping[str, Kind], units: frozenset[str], problems: Problems
) -> tuple[Notice, ...]:
    """Return the notices in `units/notices/`, the newest first, noting what is wrong with them."""
    folder = root / "units" / "notices"
    models = model_names(root)
    notices = []
    for path in sorted(folder.glob("*.yml")):
        shown = path.relative_to(root).as_posix()
        text = read_source(path, shown, problems)
        table = parse_tree(text, shown, problems) if text is not None else None
        if table is not None:
            before = len(problems.found)
            notice = _read_notice(table, path.stem, kinds, models, units, problems)
            if notice is not None and len(problems.found) == before:
                notices.append(notice)
    return tuple(sorted(notices, key=lambda n: (-n.issued.toordinal(), n.name)))


def _read_notice(
    table: Table,
    name: str,
    kinds: Mapping[str, Kind],
    models: frozenset[str],
    units: frozenset[str],
    problems: Problems,
) -> Notice | None:
    record = read_record(table, _NOTICE_FIELDS, problems)
    issued = record.day("issued")
    if record.has("notice") and (record.text("notice") != name or not NAME.fullmatch(name)):
        wrong = f"is '{record.text('notice')}'"
        problems.add(record.mark("notice"), "notice", wrong, f"'{name}', as the file")
    about = record.text("about")
    if about and about not in kinds:
        problems.add(record.mark("about"), "about", f"is '{about}'", one_of(kinds, about))
        return None
    for key, known in (("models", models), ("units", units)):
        for one in record.texts(key):
            if one not in known:
                problems.add(record.mark(key), key, f"no {key[:-1]} '{one}'", one_of(known, one))
    subject = about or "vehicle"
    when = read_expression(
        record.text("when"),
        record.mark("when"),
        "when",
        known_names({"subject": subject}, kinds),
        problems,
    )
    serials = record.texts("serials")
    if record.has("serials") and (len(serials) != 2 or not about):
        problems.add(
            record.mark("serials"),
            "serials",
            f"has {len(serials)} numbers" if about else "is of no equipment",
            "the first and the last, such as [A100, A199]; `about` says of what",
        )
    cleared = _read_cleared(table, record, problems)
    if issued is None:
        return None
    return Notice(
        name=name,
        title=record.text("title"),
        hazard=record.text("hazard"),
        consequence=record.text("consequence"),
        avoidance=record.text("avoidance"),
        word=record.text("word"),
        sign=record.text("sign"),
        issued=issued,
        source=record.text("source"),
        about=about,
        when=when,
        models=record.texts("models"),
        units=record.texts("units"),
        serials=(serials[0], serials[1]) if len(serials) == 2 else None,
        task=record.text("task"),
        cleared=cleared,
        at=record.at,
        translated={
            language: {key: str(value) for key, value in words.values.items()}
            for language, words in record.map("translated").items()
        },
    )


def _read_cleared(table: Table, record: Record, problems: Problems) -> dict[str, str]:
    """Return the days on which units were cleared. A unit that has left may still be named."""
    cleared = {}
    node = table.get("cleared")
    for unit, texts in record.pairs("cleared").items():
        day = " ".join(texts)
        at = node.key_mark(unit) if isinstance(node, Table) else record.mark("cleared")
        if not _DAY.fullmatch(day):
            problems.add(at, f"cleared.{unit}", f"is '{day}'", "a date such as 2026-04-11")
        cleared[unit] = day
    return cleared


def in_range(serial: str, serials: tuple[str, str]) -> bool:
    """Return whether a serial number lies from the first to the last of two, both included.

    Numbers in it are compared as numbers, the rest as text, capitals or not.
    """
    first, last = serials
    return _order(first) <= _order(serial) <= _order(last)


def _order(serial: str) -> tuple[tuple[int, str], ...]:
    parts = re.findall(r"\d+|[^\W\d]+", serial.casefold())
    return tuple((int(part), "") if part.isdecimal() else (-1, part) for part in parts)
