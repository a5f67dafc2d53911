"""The form of a unit: what its description says, its model's words taken in, as inputs by type.

It is made from the description as written, mistakes and all, so that it can be shown while
somebody is still typing. Every input knows the keys under which its value stands in the text.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher

from generator.compose.locator import View, draw_views
from generator.problems import Problem, Problems
from generator.read.fields import LIST_TYPES, SCALAR_TYPES, Field, read_record
from generator.read.films import FILM_FIELDS
from generator.read.kinds import Kind
from generator.read.library import Library
from generator.read.measures import MEASURES, measure_of
from generator.read.sources import Sources
from generator.read.tree import Items, Node, Table, Text, parse_tree
from generator.read.units import (
    BODY_FIELDS,
    PLACE_FIELDS,
    SORTS,
    Body,
    fields_of,
    read_models,
    take_in_model,
)

_TYPES = (*SCALAR_TYPES, *LIST_TYPES)
"""What an input can hold. The rest, such as marks on a photograph, is written in the text."""
HIDDEN = "••••"
_PRIVATE_BLOCK = re.compile(
    r"^private:(?:[ \t]*\{[^}]*\}?.*|.*)(?:\n(?:[ \t#].*)?$)*", re.MULTILINE
)
_KEY = re.compile(r"\s*[\w-]+:(?=\s|$)")
_SERIAL = re.compile(r"(\bserial:\s*)(\"[^\"\n]*\"|'[^'\n]*'|[^,}\n]*)")


@dataclass(frozen=True, slots=True)
class Input:
    """One value of the form."""

    name: str
    """Its element's id in the page."""
    label: str
    help: str
    path: tuple[str, ...]
    """The keys under which it stands in the unit's description."""
    type: str
    """`text`, `number`, `numbers`, `yes-no`, `choice`, `choices` or `date`."""
    value: str
    values: tuple[str, ...]
    """Of a list."""
    choices: tuple[tuple[str, str], ...]
    """What is written, and what is shown for it."""
    fixed: str
    """The choice that goes with every other, if there is one."""
    measure: str
    own: bool
    """Whether this unit says it itself."""
    inherited: bool
    """Whether its model has a value to go back to."""
    required: bool
    secret: bool
    wrong: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """A fitting or a place of the form."""

    name: str
    title: str
    about: str
    origin: str
    """`model`, `changed` (by this unit) or `own`."""
    left_out: bool
    inputs: tuple[Input, ...]
    position: Mapping[str, str]
    """Of a place: its wall and its distances, as written."""

    @property
    def wrong(self) -> int:
        """Return how many of its inputs hold a mistake."""
        return sum(bool(one.wrong) for one in self.inputs)


@dataclass(frozen=True, slots=True)
class Form:
    """All of the form."""

    unit: str
    title: str
    basics: tuple[Input, ...]
    private: tuple[Input, ...]
    film: tuple[Input, ...]
    """None where there is no film that it could name."""
    vehicle: tuple[Input, ...]
    body: tuple[Input, ...]
    fitted: tuple[tuple[str, tuple[Row, ...]], ...]
    """By area."""
    places: tuple[Row, ...]
    kinds: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    """What may be added, by area: kind and title."""
    views: tuple[View, ...]


def make_form(sources: Sources, unit: str, text: str, told: Sequence[Problem]) -> Form | None:
    """Return the form of a description; None where it cannot even be taken apart.

    Args:
        sources: The library and the models' folder.
        unit: The unit's name.
        text: Its description.
        told: What was found wrong with it.
    """
    ignored = Problems()
    shown = f"units/{unit}.yml"
    own = parse_tree(text, shown, ignored)
    if own is None:
        return None
    models = read_models(sources.root, ignored)
    based_on = own.get("based_on")
    name = based_on.value if isinstance(based_on, Text) else ""
    base = take_in_model(models[name], models, ignored) if name in models else None
    merged = take_in_model(own, models, ignored) if name in models or not name else own
    return _Maker(sources, shown, told).form(
        unit, own, base or Table((), own.at), merged or own, sorted(models)
    )


class _Maker:
    """Makes inputs from what a description and its model say."""

    def __init__(self, sources: Sources, shown: str, told: Sequence[Problem]) -> None:
        self.library: Library = sources.library
        self.languages = sources.languages
        self.films = sources.root / "units" / "films"
        self.shown = shown
        self.wrong: dict[str, list[str]] = {}
        for problem in told:
            key = re.sub(r"(?<=\w)\[[0-9]+\]$", "", problem.key)
            self.wrong.setdefault(key, []).append(f"{problem.wrong}; right: {problem.right}")

    def form(
        self, unit: str, own: Table, base: Table, merged: Table, models: Sequence[str]
    ) -> Form:
        title = merged.get("title")
        kinds = self.library.kinds
        places = _entries(merged.get("places"))
        model = Field(name="based_on", type="choice", help="Its model", choices=tuple(models))
        basics = [
            self._input(model, own.get("based_on"), None, ("based_on",), "based_on"),
            self._text("title", "Title", "What its guide is called", own, base, True),
            self._text("delivered", "Delivered", "Day of handover", own, base, False, "date"),
        ]
        if self.languages:
            basics.append(self._languages(merged, base))
        if "based_on" not in {key.value for key, _ in own}:
            sort = Field(name="sort", type="choice", help="Sort of vehicle", choices=SORTS)
            basics.append(self._input(sort, own.get("sort"), None, ("sort",), "sort"))
        return Form(
            unit=unit,
            title=title.value if isinstance(title, Text) else unit,
            basics=tuple(basics),
            private=tuple(self._private(own.get("private"), ("private",))),
            film=tuple(self._film(merged, base)),
            vehicle=tuple(self._table("vehicle", kinds["vehicle"].attributes, merged, base)),
            body=tuple(self._table("body", BODY_FIELDS, merged, base)),
            fitted=self._fitted(merged, base, own, tuple(places)),
            places=tuple(self._places(merged, base, own)),
            kinds=self._kinds(),
            views=_views(merged),
        )

    def _languages(self, merged: Table, base: Table) -> Input:
        """Return the languages of a guide; the library's own is the first of all of them."""
        wording = self.library.wording
        first = wording.get("lang", "en")
        titles = {name: language.title for name, language in self.languages.items()}
        field = Field(name="languages", type="choices", help="Of its guide")
        return self._input(
            field,
            merged.get("languages"),
            base.get("languages"),
            ("languages",),
            "languages",
            choices={first: wording.get("language", first), **titles},
            fixed=first,
        )

    def _film(self, merged: Table, base: Table) -> Iterator[Input]:
        """Yield what is said of a film; what it shows when is written in the text."""
        there = sorted(path.name for path in self.films.glob("[!.]*"))
        now, before = _entries(merged.get("film")), _entries(base.get("film"))
        if not there and not now:
            return
        for field in FILM_FIELDS:
            if field.type not in _TYPES:
                continue
            ends = {"file": (".webm", ".mp4"), "captions": (".vtt",)}.get(field.name)
            files = {name: name for name in there if ends and name.lower().endswith(ends)}
            yield self._input(
                replace(
                    field,
                    type="choice" if ends else field.type,
                    required=field.required and bool(now),
                ),
                now.get(field.name),
                before.get(field.name),
                ("film", field.name),
                f"film.{field.name}",
                choices=files if ends else None,
            )

    def _text(
        self,
        name: str,
        label: str,
        help_: str,
        own: Table,
        base: Table,
        required: bool,
        type_: str = "text",
    ) -> Input:
        field = Field(name=name, type=type_, help=help_, required=required)
        node = own.get(name) or base.get(name)
        return self._input(field, node, None, (name,), name, label=label)

    def _input(
        self,
        field: Field,
        node: Node | None,
        model: Node | None,
        path: tuple[str, ...],
        key: str,
        *,
        label: str = "",
        choices: Mapping[str, str] | None = None,
        fixed: str = "",
        secret: bool = False,
    ) -> Input:
        listed = field.type in LIST_TYPES
        values = _values(node)
        type_ = {"whole": "number", "name": "text", "names": "texts"}.get(field.type, field.type)
        shown = choices if choices is not None else {one: one for one in field.choices}
        measure = measure_of(field.name)
        return Input(
            name="--".join(path).replace(" ", "_"),
            label=label or _label(field.name),
            help=field.help,
            path=path,
            type=type_,
            value=", ".join(values) if listed or len(values) != 1 else values[0],
            values=values,
            choices=tuple(shown.items()),
            fixed=fixed,
            measure=measure.symbol if measure else "",
            own=node is not None and node.at.path == self.shown,
            inherited=model is not None,
            required=field.required,
            secret=secret,
            wrong=tuple(self.wrong.get(key, ())),
        )

    def _private(self, node: Node | None, path: tuple[str, ...]) -> Iterator[Input]:
        for key, value in node if isinstance(node, Table) else ():
            inner = (*path, key.value)
            if isinstance(value, Table):
                yield from self._private(value, inner)
            elif isinstance(value, Text):
                label = _label(" ".join(inner[1:])).replace("Vin", "VIN")
                field = Field(name="private", type="text", help="")
                yield self._input(
                    field, value, None, inner, ".".join(inner), label=label, secret=True
                )

    def _table(
        self, name: str, fields: Sequence[Field], merged: Table, base: Table
    ) -> Iterator[Input]:
        now, before = _entries(merged.get(name)), _entries(base.get(name))
        for field in fields:
            yield self._input(
                field,
                now.get(field.name),
                before.get(field.name),
                (name, field.name),
                f"{name}.{field.name}",
            )

    def _places(self, merged: Table, base: Table, own: Table) -> Iterator[Row]:
        before = _entries(base.get("places"))
        said = _entries(own.get("places"))
        for name, node in _entries(merged.get("places")).items():
            now, model = _entries(node), _entries(before.get(name))
            inputs = tuple(
                self._input(
                    field,
                    now.get(field.name),
                    model.get(field.name),
                    ("places", name, field.name),
                    f"places.{name}.{field.name}",
                )
                for field in PLACE_FIELDS
                if field.type in _TYPES
            )
            position = {key: _word(now.get(key)) for key in ("wall", "along_m", "across_m", "up_m")}
            title = _word(now.get("title")) or name
            about = f"{name}, {position['wall']}" if position["wall"] else name
            yield Row(name, title, about, _origin(name, before, said), False, inputs, position)
        yield from self._left_out(own, before)

    def _left_out(self, own: Table, before: Mapping[str, Node]) -> Iterator[Row]:
        for name in _values(own.get("without")):
            if name in before:
                node = _entries(before[name])
                title = _word(node.get("title"))
                if not title and (kind := self.library.kinds.get(_word(node.get("kind")))):
                    title = kind.title
                yield Row(name, title or name, name, "model", True, (), {})

    def _fitted(
        self, merged: Table, base: Table, own: Table, places: Sequence[str]
    ) -> tuple[tuple[str, tuple[Row, ...]], ...]:
        before, said = _by_id(base.get("fitted")), _by_id(own.get("fitted"))
        titles = {
            name: _word(_entries(node).get("title")) or name
            for name, node in _entries(merged.get("places")).items()
        }
        areas: dict[str, list[Row]] = {area: [] for area in self.library.areas.values()}
        items = merged.get("fitted")
        for index, node in enumerate(items.items if isinstance(items, Items) else ()):
            row = self._fitting(index, node, before, said, titles)
            kind = self.library.kinds.get(_word(_entries(node).get("kind")))
            areas.setdefault(self._area(kind), []).append(row)
        for row in self._left_out(own, before):
            kind = self.library.kinds.get(_word(_entries(before[row.name]).get("kind")))
            areas.setdefault(self._area(kind), []).append(row)
        return tuple((area, tuple(rows)) for area, rows in areas.items() if rows)

    def _area(self, kind: Kind | None) -> str:
        return self.library.areas[kind.area] if kind else "Without a known kind"

    def _fitting(
        self,
        index: int,
        node: Node,
        before: Mapping[str, Node],
        said: Mapping[str, Node],
        titles: Mapping[str, str],
    ) -> Row:
        now = _entries(node)
        name = _word(now.get("id"))
        if not name:  # then no key leads to it
            return Row(str(index), f"Entry {index + 1}", "has no id", "own", False, (), {})
        model = _entries(before.get(name))
        kind = self.library.kinds.get(_word(now.get("kind")))
        inputs = []
        for field in fields_of(kind):
            if field.name in ("id", "kind", "parts") or field.type not in _TYPES:
                continue
            at_place = field.name == "place"
            inputs.append(
                self._input(
                    field if not at_place else Field(name="place", type="choice", help=field.help),
                    now.get(field.name),
                    model.get(field.name),
                    ("fitted", name, field.name),
                    f"fitted[{index}].{field.name}",
                    choices=titles if at_place else None,
                    secret=field.name == "serial",
                )
            )
        parts, model_parts = _entries(now.get("parts")), _entries(model.get("parts"))
        for part, help_ in (kind.parts if kind else {}).items():
            inputs.append(
                self._input(
                    Field(name=part, type="choice", help=f"{help_}, if it is elsewhere"),
                    parts.get(part),
                    model_parts.get(part),
                    ("fitted", name, "parts", part),
                    f"fitted[{index}].parts.{part}",
                    choices=titles,
                    label=f"Place of: {help_[:1].lower()}{help_[1:]}",
                )
            )
        title = _word(now.get("title")) or (kind.title if kind else name)
        place = titles.get(_word(now.get("place")), _word(now.get("place")))
        about = f"{name}, {place}" if place else name
        wrong = self.wrong.get(f"fitted[{index}].id", [])
        if wrong:
            about = f"{about}: {wrong[0]}"
        return Row(name, title, about, _origin(name, before, said), False, tuple(inputs), {})

    def _kinds(self) -> tuple[tuple[str, tuple[tuple[str, str], ...]], ...]:
        areas: dict[str, list[tuple[str, str]]] = {a: [] for a in self.library.areas.values()}
        for name, kind in self.library.kinds.items():
            if name != "vehicle":
                areas.setdefault(self._area(kind), []).append((name, kind.title))
        return tuple(
            (area, tuple(sorted(kinds, key=lambda kind: kind[1])))
            for area, kinds in areas.items()
            if kinds
        )


def _views(merged: Table) -> tuple[View, ...]:
    """Return the vehicle's views, as far as its size can be read."""
    node, sort = merged.get("body"), _word(merged.get("sort"))
    if not isinstance(node, Table) or sort not in SORTS:
        return ()
    ignored = Problems()
    read = read_record(node, BODY_FIELDS, ignored)
    sizes = ("length_m", "width_m", "height_m")
    if ignored.found or not all(read.has(name) for name in sizes):
        return ()
    length = read.number("length_m")

    def given(key: str, usual: float) -> float:
        return read.number(key) if read.has(key) else usual

    body = Body(
        length_m=length,
        width_m=read.number("width_m"),
        height_m=read.number("height_m"),
        entrance=read.text("entrance"),
        entrance_along_m=given("entrance_along_m", length / 2),
        axle_along_m=given("axle_along_m", length * 0.55),
        drawbar_m=given("drawbar_m", 0),
    )
    return draw_views(sort, body)


def _entries(node: Node | None) -> dict[str, Node]:
    return {key.value: value for key, value in node} if isinstance(node, Table) else {}


def _by_id(node: Node | None) -> dict[str, Node]:
    items = node.items if isinstance(node, Items) else ()
    return {_word(item.get("id")): item for item in items if isinstance(item, Table)}


def _word(node: Node | None) -> str:
    return node.value.strip() if isinstance(node, Text) else ""


def _values(node: Node | None) -> tuple[str, ...]:
    if isinstance(node, Text):
        return (node.value.strip(),) if node.value.strip() else ()
    return tuple(_word(item) for item in node.items) if isinstance(node, Items) else ()


def _origin(name: str, before: Mapping[str, Node], said: Mapping[str, Node]) -> str:
    return "own" if name not in before else "changed" if name in said else "model"


def _label(name: str) -> str:
    """Return a key as words, without its unit of measure: `pressure_bar` is shown as `Pressure`."""
    ending = next((one for one in MEASURES if name.endswith(f"_{one}")), "")
    words = name.removesuffix(f"_{ending.removeprefix('max_')}") if ending else name
    words = words.replace("_", " ").replace("-", " ")
    return f"{words[:1].upper()}{words[1:]}"


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the description as it would be written."""

    number: int
    text: str
    new: bool
    """Whether the file does not have it so."""
    wrong: bool


def lines_of(text: str, before: str, told: Sequence[Problem], *, shown: bool) -> list[Line]:
    """Return a description line by line, what is private in it masked unless it is `shown`."""
    lines, old = text.split("\n"), before.split("\n")
    if lines and not lines[-1]:
        lines.pop()
    visible = lines if shown else mask(text).split("\n")
    new: set[int] = set()
    for tag, _, _, start, end in SequenceMatcher(None, old, lines, autojunk=False).get_opcodes():
        if tag != "equal":
            new.update(range(start, end))
    wrong = {problem.at.line for problem in told if problem.at.path.startswith("units/")}
    return [
        Line(number + 1, visible[number], number in new, number + 1 in wrong)
        for number in range(len(lines))
    ]


def mask(text: str) -> str:
    """Return a description with its private values hidden, line for line, however broken it is."""

    def hide(found: re.Match[str]) -> str:
        return "\n".join(_hide_line(line) for line in found[0].split("\n"))

    return _SERIAL.sub(rf"\g<1>{HIDDEN}", _PRIVATE_BLOCK.sub(hide, text))


def _hide_line(line: str) -> str:
    key = _KEY.match(line)
    kept = key[0] if key else line[: len(line) - len(line.lstrip())]
    return f"{kept} {HIDDEN}" if line[len(kept) :].strip() else line
