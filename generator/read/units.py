"""Units, models and the dealer: what a vehicle is and what is fitted where, as written."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

from generator.problems import Mark, Problems, one_of
from generator.read.fields import NAME, Field, Record, Value, read_record, schema_of
from generator.read.films import FILM_FIELDS, Film, read_film
from generator.read.kinds import Kind
from generator.read.layers import layers_of, name_of
from generator.read.notices import Notice, read_notices
from generator.read.pictures import (
    CALLOUT_FIELDS,
    Callout,
    Picture,
    read_callouts,
    read_picture,
)
from generator.read.tree import (
    Items,
    Node,
    Table,
    Text,
    decode_source,
    parse_tree,
    read_source,
)

V = TypeVar("V")

SORTS = ("caravan", "campervan", "motorhome")
WALLS = ("front", "rear", "nearside", "offside", "roof", "floor", "inside")
SIDES = ("nearside", "offside", "rear")

BODY_FIELDS = (
    Field(name="length_m", type="number", min=2, max=12, help="Body length", required=True),
    Field(name="width_m", type="number", min=1.2, max=3, help="Body width", required=True),
    Field(name="height_m", type="number", min=1.2, max=4, help="Overall height", required=True),
    Field(
        name="entrance",
        type="choice",
        choices=SIDES,
        help="Side of the entrance door",
        required=True,
    ),
    Field(name="entrance_along_m", type="number", min=0, max=12, help="Door from the front"),
    Field(name="axle_along_m", type="number", min=0, max=12, help="Rear or only axle, from front"),
    Field(name="drawbar_m", type="number", min=0, max=3, help="Coupling ahead of the body"),
)
PLACE_FIELDS = (
    Field(name="title", type="text", help="What the owner calls it", required=True),
    Field(name="wall", type="choice", choices=WALLS, help="Where it is", required=True),
    Field(
        name="along_m",
        type="number",
        min=0,
        max=12,
        help="From the front; on the front and rear walls from the nearside edge",
        required=True,
    ),
    Field(name="across_m", type="number", min=0, max=3, help="From the nearside edge"),
    Field(name="up_m", type="number", min=0, max=4, help="Height above the ground"),
    Field(name="hint", type="text", help="How to find it, in a sentence"),
    Field(name="stowage", type="yes-no", help="Things are packed here; usual inside only"),
    Field(name="picture", type="text", help="A file in units/pictures/"),
    Field(
        name="marks",
        type="tables",
        help="What is numbered on the picture",
        fields=CALLOUT_FIELDS,
    ),
    Field(name="caution", type="name", help="The caution for its sticker, if not the gravest"),
)
_FITTING_FIELDS = (
    Field(name="id", type="name", help="A name within the unit", required=True),
    Field(name="kind", type="name", help="A kind of equipment", required=True),
    Field(name="place", type="name", help="A place of this unit", required=True),
    Field(name="title", type="text", help="What the owner calls it, if not as its kind"),
    Field(name="parts", type="pairs", help="Places of its parts, such as {flue: rear-wall}"),
    Field(name="serial", type="text", own=True, help="Its serial number, which is never shown"),
)
_WORDS_FIELDS = (
    Field(name="title", type="text", help="What its guide is called"),
    Field(
        name="places",
        type="map",
        help="By place",
        fields=(
            Field(name="title", type="text", help="What the owner calls it"),
            Field(name="hint", type="text", help="How to find it, in a sentence"),
            Field(name="marks", type="texts", help="What its picture's numbers say, in order"),
        ),
    ),
    Field(name="fitted", type="any", help="By fitting: its title, and attributes that are texts"),
)
_UNIT_FIELDS = (
    Field(name="unit", type="name", help="The unit's name, as the file's"),
    Field(name="model", type="name", help="The model's name, as the file's"),
    Field(name="based_on", type="name", help="The model that it is like"),
    Field(name="title", type="text", help="What its guide is called", required=True),
    Field(name="sort", type="choice", choices=SORTS, help="Sort of vehicle", required=True),
    Field(name="private", type="any", help="What never leaves the dealer's machine"),
    Field(name="delivered", type="date", help="Day of handover"),
    Field(name="body", type="table", help="Its size", fields=BODY_FIELDS, required=True),
    Field(name="vehicle", type="any", help="Attributes of the vehicle as a whole"),
    Field(
        name="places",
        type="map",
        help="Lockers, hatches, panels",
        fields=PLACE_FIELDS,
        required=True,
    ),
    Field(name="fitted", type="any", help="Equipment", required=True),
    Field(
        name="prefer", type="names", help="Tasks that its routines choose where several would do"
    ),
    Field(name="staff_only", type="names", help="Tasks that only the dealer's staff may do"),
    Field(name="without", type="names", help="Fittings and places of the model that it lacks"),
    Field(name="languages", type="names", help="Languages of its guide, the library's own first"),
    Field(name="translated", type="map", help="Its own words, by language", fields=_WORDS_FIELDS),
    Field(name="film", type="table", help="The film of the walk round it", fields=FILM_FIELDS),
)
_DEALER_FIELDS = (
    Field(name="title", type="text", help="The dealer's name", required=True),
    Field(name="telephone", type="text", help="As it is dialled", required=True),
    Field(name="hours", type="text", help="When it is answered"),
    Field(name="address", type="text", help="Base address of the guides", required=True),
    Field(name="emergency", type="text", help="Emergency number", required=True),
    Field(name="label", type="name", help="Label stock for stickers", required=True),
    Field(name="unguessable", type="yes-no", help="New units get an address nobody can guess"),
    Field(name="preview", type="name", help="The unit that a preview shows"),
    Field(
        name="translated",
        type="map",
        help="Its own words, by language",
        fields=(Field(name="hours", type="text", help="When it is answered"),),
    ),
)


@dataclass(frozen=True, slots=True)
class Body:
    """The size of a vehicle, in metres. Distances along are from the front of the body."""

    length_m: float
    width_m: float
    height_m: float
    entrance: str
    entrance_along_m: float
    axle_along_m: float
    drawbar_m: float
    stated: frozenset[str] = frozenset()
    """Keys that the unit gives. The others are usual for its length: enough to draw it."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place as written: a locker, hatch, panel or point of one unit, with its position."""

    name: str
    title: str
    wall: str
    along_m: float
    across_m: float
    up_m: float
    hint: str
    picture: Picture | None
    caution: str
    at: Mark
    stowage: bool = False
    """Whether things are packed here."""
    callouts: tuple[Callout, ...] = ()
    """What is numbered on its picture."""

    def from_front_m(self, body: Body) -> float:
        """Return how far behind the front of the body it is; walls have no depth."""
        return {"front": 0.0, "rear": body.length_m}.get(self.wall, self.along_m)


@dataclass(frozen=True, slots=True)
class Fitting:
    """An item of a kind, installed in a unit at a place, with its values."""

    name: str
    kind: str
    place: str
    title: str
    parts: Mapping[str, str]
    """Places of parts that are not at `place`, by the part's name."""
    values: Mapping[str, Value]
    at: Mark
    serial: str = ""
    """Its serial number, by which a notice may reach it."""


@dataclass(frozen=True, slots=True)
class UnitWords:
    """A unit's own words in another language; what is not there stays as it is."""

    title: str = ""
    places: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    """By place: `title` and `hint`."""
    callouts: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    """By place: what the numbers on its picture say."""
    fitted: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    """By fitting: `title`, and attributes that are texts."""


@dataclass(frozen=True, slots=True)
class Unit:
    """One vehicle, complete: what it is based on has been taken in."""

    name: str
    title: str
    sort: str
    delivered: date | None
    body: Body
    vehicle: Mapping[str, Value]
    places: Mapping[str, Spot]
    fitted: tuple[Fitting, ...]
    prefer: tuple[str, ...]
    staff_only: tuple[str, ...]
    private: frozenset[str]
    """The texts that must never reach output."""
    private_keys: frozenset[str]
    """What they are called, such as `buyer.name`; those that are empty left out."""
    film: Film | None
    files: tuple[str, ...]
    """The files that it was read from, with its models, photographs and film, below the workspace.
    """
    at: Mark
    languages: tuple[str, ...] = ()
    """Of its guide, the library's own first; empty where that is the only one."""
    translated: Mapping[str, UnitWords] = field(default_factory=dict)
    """By language."""

    @property
    def days(self) -> tuple[tuple[str, str, date], ...]:
        """Return every day that it states: of what, called how, and which."""
        return tuple(
            (whose, name, value)
            for whose, values in (("", self.vehicle), *((f.name, f.values) for f in self.fitted))
            for name, value in values.items()
            if isinstance(value, date)
        )

    def as_equipped(self) -> Unit:
        """Return the unit without what only it has; units that are equipped alike are then equal.

        The title goes, the day of handover, all that is private, serial numbers, in which file
        something stands, and of a day all but that it is stated.
        """
        nowhere = Mark("")
        return replace(
            self,
            name="",
            title="",
            delivered=date.min if self.delivered else None,
            vehicle=_without_days(self.vehicle),
            places={name: replace(spot, at=nowhere) for name, spot in self.places.items()},
            fitted=tuple(
                replace(one, values=_without_days(one.values), at=nowhere, serial="")
                for one in self.fitted
            ),
            private=frozenset(),
            private_keys=frozenset(),
            files=(),
            at=nowhere,
            translated={lang: replace(words, title="") for lang, words in self.translated.items()},
        )


def _without_days(values: Mapping[str, Value]) -> Mapping[str, Value]:
    return {name: date.min if isinstance(value, date) else value for name, value in values.items()}


@dataclass(frozen=True, slots=True)
class Dealer:
    """The dealership, as its guides show it."""

    title: str
    telephone: str
    hours: str
    address: str
    emergency: str
    label: str
    preview: str
    at: Mark
    address_at: Mark
    hours_in: Mapping[str, str] = field(default_factory=dict)
    """By language."""
    unguessable: bool = False
    """Whether a new unit gets an address that nobody can guess."""
    notices: tuple[Notice, ...] = ()
    """All safety notices, the newest first."""


@dataclass(frozen=True, slots=True)
class Stock:
    """All units of a dealer."""

    dealer: Dealer
    units: Mapping[str, Unit]
    """Those that were read."""
    names: frozenset[str]
    """The names of all, also of those that were not asked for."""


def unit_names(root: Path) -> frozenset[str]:
    """Return the names of all units that have a file."""
    return frozenset(path.stem for path in (root / "units").glob("*.yml")) - {"dealer"}


def read_stock(
    root: Path,
    kinds: Mapping[str, Kind],
    problems: Problems,
    only: Collection[str] | None = None,
    drafts: Mapping[str, str] | None = None,
) -> Stock:
    """Return the dealer and the units under `root/units`, noting all that is wrong with them.

    With `only`, of the units just these are read, and no more than their models are looked at.
    `drafts` are texts of units by name, read in place of their files or as if they had one.
    """
    base = root / "units"
    drafts = drafts or {}
    models = read_models(root, problems)
    dealer = _read_dealer(base / "dealer.yml", root, problems)
    names = unit_names(root) | drafts.keys()
    dealer = replace(dealer, notices=read_notices(root, kinds, names, problems))

    def read(name: str, table: Table) -> Unit | None:
        merged = take_in_model(table, models, problems)
        files = (table.at.path, *_models_of(table, models)) if merged else ()
        return _read_unit(merged, name, files, root, kinds, problems) if merged else None

    for name, table in models.items() if only is None else ():
        read(name, table)
    units: dict[str, Unit] = {}
    sharing = _Sharing()
    for name, table in _read_tables(
        base, root, "unit", problems, skip=("dealer",), only=only, drafts=drafts
    ):
        before = len(problems.found)
        if name in models:
            problems.add(table.at, "unit", f"'{name}' is also a model", "another name")
        unit = read(name, table)
        if unit is not None and len(problems.found) == before:
            units[name] = sharing.shared(unit)
    if dealer.preview and dealer.preview not in names:
        problems.add(
            dealer.at, "preview", f"no unit '{dealer.preview}'", one_of(names, dealer.preview)
        )
    return Stock(dealer, units, names)


def read_models(root: Path, problems: Problems) -> dict[str, Table]:
    """Return every model as written, by name."""
    return dict(_read_tables(root / "units" / "models", root, "model", problems))


def _read_tables(
    folder: Path,
    root: Path,
    key: str,
    problems: Problems,
    skip: tuple[str, ...] = (),
    only: Collection[str] | None = None,
    drafts: Mapping[str, str] | None = None,
) -> Iterator[tuple[str, Table]]:
    """Yield each described unit or model as it is read, in the order of their names."""
    drafted = {folder / f"{name}.yml": text for name, text in (drafts or {}).items()}
    layers = layers_of(root)
    paths = layers.files("units/models", "*.yml") if key == "model" else folder.glob("*.yml")
    for path in sorted({*paths, *drafted}):
        if path.stem in skip or (only is not None and path.stem not in only):
            continue
        shown = layers.shown(path)
        if not layers.is_inside(path, folder.relative_to(root).as_posix()):
            problems.add(Mark(shown), "(file)", "leads out of the units", "a plain file")
            continue
        if path in drafted:
            text = decode_source(drafted[path].encode("utf-8", "replace"), shown, problems)
        else:
            text = read_source(path, shown, problems)
        table = parse_tree(text, shown, problems) if text is not None else None
        if table is None:
            continue
        named = table.get(key)
        if not NAME.fullmatch(path.stem) or len(path.stem) > 60:
            problems.add(
                Mark(shown),
                "(file)",
                f"is named '{path.name}'",
                "lower case, words joined by -, then .yml",
            )
        elif not isinstance(named, Text) or named.value != path.stem:
            given = f"is '{named.value}'" if isinstance(named, Text) else "missing"
            problems.add(table.key_mark(key), key, given, f"'{path.stem}', as the file")
        else:
            yield path.stem, table


class _Sharing:
    """Lets units that are equipped alike share what is equal: thousands then take little room."""

    def __init__(self) -> None:
        self._known: dict[object, Any] = {}

    def shared(self, unit: Unit) -> Unit:
        """Return the unit, made of values of earlier units where they are equal."""
        models = unit.files[1:2]
        fitted = tuple(self._same((one.at, one.name), one) for one in unit.fitted)
        return replace(
            unit,
            fitted=self._same((models, "fitted"), fitted),
            vehicle=self._same((models, "vehicle"), unit.vehicle),
            places=self._same((models, "places"), unit.places),
        )

    def _same(self, key: object, value: V) -> V:
        known: V | None = self._known.get(key)
        if known == value and known is not None:
            return known
        self._known[key] = value
        return value


def _read_dealer(path: Path, root: Path, problems: Problems) -> Dealer:
    shown = path.relative_to(root).as_posix()
    text = read_source(path, shown, problems)
    table = parse_tree(text, shown, problems) if text is not None else None
    record = (
        read_record(table, _DEALER_FIELDS, problems)
        if table is not None
        else Record(Mark(shown), {})
    )
    address = record.text("address").rstrip("/")
    if address and not _is_base_address(address):
        problems.add(
            record.mark("address"),
            "address",
            f"is '{address}'",
            "https:// and a host, perhaps with folders, in letters, digits, '-', '.' and '/'",
        )
    telephone = record.text("telephone")
    if telephone and not set(telephone) <= set("+0123456789 ()-"):
        problems.add(
            record.mark("telephone"), "telephone", f"is '{telephone}'", "digits, spaces and +"
        )
    return Dealer(
        title=record.text("title"),
        telephone=telephone,
        hours=record.text("hours"),
        address=address,
        emergency=record.text("emergency"),
        label=record.text("label"),
        unguessable=record.flag("unguessable"),
        preview=record.text("preview"),
        at=record.at,
        address_at=record.mark("address"),
        hours_in={name: words.text("hours") for name, words in record.map("translated").items()},
    )


def _is_base_address(address: str) -> bool:
    scheme, _, rest = address.lower().partition("://")
    allowed = set("abcdefghijklmnopqrstuvwxyz0123456789-./:")
    return scheme == "https" and bool(rest) and set(rest) <= allowed and not rest.startswith("/")


def take_in_model(
    table: Table, models: Mapping[str, Table], problems: Problems, depth: int = 0
) -> Table | None:
    """Return the table with all that its model says and it does not."""
    named = table.get("based_on")
    if named is None:
        return table
    at = table.key_mark("based_on")
    name = named.value if isinstance(named, Text) else ""
    if name not in models:
        problems.add(at, "based_on", f"no model '{name}'", one_of(models, name))
        return None
    if depth > 8:
        problems.add(at, "based_on", "goes round in a circle", "a model that is based on none")
        return None
    base = take_in_model(models[name], models, problems, depth + 1)
    return None if base is None else _merge_unit(base, table, problems)


def _models_of(table: Table, models: Mapping[str, Table]) -> Iterator[str]:
    """Yield the files of the models that a unit is based on, one upon the other."""
    named = table.get("based_on")
    while isinstance(named, Text):
        model = models[named.value]
        yield name_of(model.at.path)
        named = model.get("based_on")


def _merge_unit(base: Table, over: Table, problems: Problems) -> Table:
    without = over.get("without")
    nodes = without.items if isinstance(without, Items) else (without,) if without else ()
    gone = {item.value: item.at for item in nodes if isinstance(item, Text)}
    merged = _merge_tables(base, over, skip=("model", "unit", "based_on", "without"))
    entries: list[tuple[Text, Node]] = []
    for key, value in merged:
        if key.value == "places" and isinstance(value, Table):
            kept = tuple((k, v) for k, v in value if k.value not in gone)
            for k, _ in value:
                gone.pop(k.value, None) if k.value in gone else None
            value = Table(kept, value.at)
        entries.append((key, value))
    fitted, lacking = _merge_fitted(base.get("fitted"), over.get("fitted"), set(gone))
    for name in sorted(set(gone) - lacking):
        problems.add(gone[name], "without", f"'{name}' is not in the model", "leave it out")
    final = [(k, fitted if k.value == "fitted" and fitted else v) for k, v in entries]
    final += [(k, v) for k, v in over if k.value in ("unit", "model", "based_on")]
    return Table(tuple(final), over.at)


def _merge_tables(base: Table, over: Table, skip: tuple[str, ...] = ()) -> Table:
    """Return base's entries, each replaced or (tables) merged by over's of the same key."""
    entries: list[tuple[Text, Node]] = []
    changes = {key.value: (key, value) for key, value in over}
    for key, value in base:
        if key.value in skip:
            continue
        new_key, new = changes.get(key.value, (key, value))
        if isinstance(value, Table) and isinstance(new, Table) and new is not value:
            new = _merge_tables(value, new)
        entries.append((new_key, new))
    known = {key.value for key, _ in entries}
    entries += [(k, v) for k, v in over if k.value not in known and k.value not in skip]
    return Table(tuple(entries), over.at)


def _merge_fitted(
    base: Node | None, over: Node | None, gone: set[str]
) -> tuple[Items | None, set[str]]:
    """Return the fittings of both by id, and which of `gone` were there to leave out.

    An entry with the id of a model's fitting is laid over it; with another kind it replaces it.
    """
    if not isinstance(base, Items):
        return (over if isinstance(over, Items) else None), set()

    def word(item: Node, key: str) -> str:
        node = item.get(key) if isinstance(item, Table) else None
        return node.value if isinstance(node, Text) else ""

    waiting = list(over.items) if isinstance(over, Items) else []
    items: list[Node] = []
    left_out: set[str] = set()
    for item in base.items:
        name = word(item, "id")
        if name in gone:
            left_out.add(name)
            continue
        change = next((new for new in waiting if name and word(new, "id") == name), None)
        if change is None:
            items.append(item)
            continue
        waiting.remove(change)
        if isinstance(item, Table) and isinstance(change, Table):
            same = word(change, "kind") in ("", word(item, "kind"))
            items.append(_merge_tables(item, change) if same else change)
    items.extend(waiting)
    return Items(tuple(items), over.at if isinstance(over, Items) else base.at), left_out


def _read_unit(
    table: Table,
    name: str,
    files: tuple[str, ...],
    root: Path,
    kinds: Mapping[str, Kind],
    problems: Problems,
) -> Unit | None:
    record = read_record(table, _UNIT_FIELDS, problems)
    body = _read_body(record.table("body"))
    places = {
        key: _read_place(key, place, body, root, problems)
        for key, place in record.map("places").items()
    }
    fitted = _read_fitted(record.values.get("fitted"), places, kinds, problems)
    vehicle = _read_attributes(record.values.get("vehicle"), kinds["vehicle"], "vehicle", problems)
    film = read_film(record.table("film"), root, problems) if record.has("film") else None
    return Unit(
        name=name,
        title=record.text("title"),
        sort=record.text("sort"),
        delivered=record.day("delivered"),
        body=body,
        vehicle=vehicle,
        places=places,
        fitted=fitted,
        prefer=record.texts("prefer"),
        staff_only=record.texts("staff_only"),
        private=frozenset((*_texts(record.values.get("private")), *_serials(fitted))),
        private_keys=frozenset(_text_keys(record.values.get("private"))),
        film=film,
        files=(*files, *_shown_files(places.values(), film, root)),
        at=record.at,
        languages=record.texts("languages"),
        translated={
            language: _read_words(words, f"translated.{language}", places, fitted, kinds, problems)
            for language, words in record.map("translated").items()
        },
    )


def _read_words(
    record: Record,
    path: str,
    places: Mapping[str, Spot],
    fitted: Iterable[Fitting],
    kinds: Mapping[str, Kind],
    problems: Problems,
) -> UnitWords:
    """Return a unit's own words in another language, noting those that are about nothing.

    A model's words may be about what a unit leaves out.
    """
    by_name = {fitting.name: fitting for fitting in fitted}
    for name, words in record.map("places").items():
        if name not in places and words.at.path == record.at.path:
            problems.add(words.at, f"{path}.places.{name}", "no such place", one_of(places, name))
        said_of, shown = words.texts("marks"), places[name].callouts if name in places else ()
        if said_of and name in places and len(said_of) != len(shown):
            problems.add(
                words.mark("marks"),
                f"{path}.places.{name}.marks",
                f"has {len(said_of)} entries",
                f"{len(shown)}, one for each of the picture's marks",
            )
    node = record.values.get("fitted")
    said: dict[str, dict[str, str]] = {}
    for key, table in node if isinstance(node, Table) else ():
        name = key.value
        if not isinstance(table, Table):
            problems.add(table.at, f"{path}.fitted.{name}", "is not a table", "{title: …}")
            continue
        fitting = by_name.get(name)
        if fitting is None:
            if table.at.path == record.at.path:
                hint = one_of(by_name, name)
                problems.add(table.at, f"{path}.fitted.{name}", "nothing of that id", hint)
            continue
        kind = kinds.get(fitting.kind)
        texts = tuple(f for f in kind.attributes if f.type == "text") if kind else ()
        fields = (Field(name="title", type="text", help="Its title"), *texts)
        optional = tuple(replace(f, required=False) for f in fields)
        words = read_record(table, optional, problems, within=f"{path}.fitted.{name}")
        said[name] = {key: str(value) for key, value in words.values.items()}
    return UnitWords(
        title=record.text("title"),
        places={
            name: {key: words.text(key) for key in ("title", "hint") if words.has(key)}
            for name, words in record.map("places").items()
        },
        callouts={name: words.texts("marks") for name, words in record.map("places").items()},
        fitted=said,
    )


def _shown_files(places: Iterable[Spot], film: Film | None, root: Path) -> Iterator[str]:
    base = root.resolve()
    for path in (film.path, film.captions) if film else ():
        if path:
            yield path.relative_to(base).as_posix()
    for spot in places:
        if spot.picture:
            yield spot.picture.path.relative_to(base).as_posix()


def _serials(fitted: Iterable[Fitting]) -> Iterator[str]:
    """Yield the serial numbers that no page shows."""
    for fitting in fitted:
        if fitting.serial and "serial" not in fitting.values:
            yield fitting.serial


def _texts(node: Any) -> list[str]:
    if isinstance(node, Text):
        return [node.value]
    if isinstance(node, Items):
        return [text for item in node.items for text in _texts(item)]
    if isinstance(node, Table):
        return [text for _, value in node for text in _texts(value)]
    return []


def _text_keys(node: Any) -> Iterator[str]:
    for key, value in node if isinstance(node, Table) else ():
        if isinstance(value, Table):
            yield from (f"{key.value}.{inner}" for inner in _text_keys(value))
        elif any(_texts(value)):
            yield key.value


def _read_body(record: Record) -> Body:
    length = record.number("length_m")

    def given(key: str, default: float) -> float:
        return record.number(key) if record.has(key) else default

    return Body(
        length_m=length,
        width_m=record.number("width_m"),
        height_m=record.number("height_m"),
        entrance=record.text("entrance"),
        entrance_along_m=given("entrance_along_m", length / 2),
        axle_along_m=given("axle_along_m", length * 0.55),
        drawbar_m=given("drawbar_m", 0),
        stated=frozenset(field.name for field in BODY_FIELDS if record.has(field.name)),
    )


def _read_place(name: str, record: Record, body: Body, root: Path, problems: Problems) -> Spot:
    wall = record.text("wall")
    limit, side = (
        (body.width_m, "width") if wall in ("front", "rear") else (body.length_m, "length")
    )
    path = f"places.{name}"
    if limit and record.number("along_m") > limit:
        problems.add(
            record.mark("along_m"),
            f"{path}.along_m",
            f"is {record.number('along_m'):g}",
            f"at most {limit:g}, the body's {side}",
        )
    if body.width_m and record.number("across_m") > body.width_m:
        problems.add(
            record.mark("across_m"),
            f"{path}.across_m",
            f"is {record.number('across_m'):g}",
            f"at most {body.width_m:g}, the body's width",
        )
    picture = None
    if record.text("picture"):
        at = record.mark("picture")
        picture = read_picture(record.text("picture"), at, f"{path}.picture", root, problems)
    return Spot(
        name=name,
        title=record.text("title"),
        wall=wall,
        along_m=record.number("along_m"),
        across_m=record.number("across_m") if record.has("across_m") else body.width_m / 2,
        up_m=record.number("up_m"),
        hint=record.text("hint"),
        picture=picture,
        caution=record.text("caution"),
        at=record.at,
        stowage=record.flag("stowage") if record.has("stowage") else wall == "inside",
        callouts=read_callouts(
            record.tables("marks"),
            record.mark("marks"),
            f"{path}.marks",
            problems,
            pictured=record.has("picture"),
        ),
    )


def _read_fitted(
    node: Any, places: Mapping[str, Spot], kinds: Mapping[str, Kind], problems: Problems
) -> tuple[Fitting, ...]:
    if node is None:
        return ()
    if not isinstance(node, Items):
        problems.add(node.at, "fitted", "is not a list", "entries that start with -")
        return ()
    fitted: list[Fitting] = []
    first: dict[str, int] = {}
    for index, item in enumerate(node.items):
        path = f"fitted[{index}]"
        if not isinstance(item, Table):
            problems.add(item.at, path, "is not a table", "{id: …, kind: …, place: …}")
            continue
        named = item.get("kind")
        kind_name = named.value if isinstance(named, Text) else ""
        kind = kinds.get(kind_name) if kind_name != "vehicle" else None
        if kind is None and named is not None:
            hint = one_of(set(kinds) - {"vehicle"}, kind_name)
            problems.add(named.at, f"{path}.kind", f"is '{kind_name}'", hint)
            continue
        fields = fields_of(kind)
        record = read_record(item, fields, problems, within=path)
        name = record.text("id")
        if name in first:
            problems.add(
                record.mark("id"),
                f"{path}.id",
                f"'{name}' is given twice",
                f"once; the first is on line {first[name]}",
            )
        first.setdefault(name, record.at.line)
        if record.has("place") and record.text("place") not in places:
            problems.add(
                record.mark("place"),
                f"{path}.place",
                f"no place '{record.text('place')}'",
                one_of(places, record.text("place")),
            )
        attributes = {f.name for f in kind.attributes} if kind else set()
        fitted.append(
            Fitting(
                name=name,
                kind=kind_name,
                place=record.text("place"),
                title=record.text("title") or (kind.title if kind else ""),
                parts=_read_parts(record, kind, path, places, problems),
                values={k: v for k, v in record.values.items() if k in attributes},
                at=record.at,
                serial=record.text("serial"),
            )
        )
    return tuple(fitted)


def fields_of(kind: Kind | None) -> tuple[Field, ...]:
    """Return what may be said of a fitting; an attribute of its kind goes before our own key."""
    attributes = kind.attributes if kind else ()
    own = {field.name for field in attributes}
    return (*(field for field in _FITTING_FIELDS if field.name not in own), *attributes)


def _read_parts(
    record: Record, kind: Kind | None, path: str, places: Mapping[str, Spot], problems: Problems
) -> Mapping[str, str]:
    parts = {}
    known = kind.parts if kind else {}
    for part, texts in record.pairs("parts").items():
        place = " ".join(texts)
        if part not in known:
            hint = one_of(known, part)
            problems.add(record.mark("parts"), f"{path}.parts", f"no part '{part}'", hint)
        elif place not in places:
            hint = one_of(places, place)
            problems.add(record.mark("parts"), f"{path}.parts.{part}", f"no place '{place}'", hint)
        else:
            parts[part] = place
    return parts


def _read_attributes(node: Any, kind: Kind, path: str, problems: Problems) -> Mapping[str, Value]:
    if node is None:
        return {}
    if not isinstance(node, Table):
        problems.add(node.at, path, "is not a table", "`key: value` lines")
        return {}
    return read_record(node, kind.attributes, problems, within=path).values


def own_keys(kinds: Mapping[str, Kind]) -> frozenset[str]:
    """Return the keys of fittings and of the vehicle that differ from one vehicle to its twin."""
    fields = (*_FITTING_FIELDS, *(field for kind in kinds.values() for field in kind.attributes))
    return frozenset(field.name for field in fields if field.own)


def unit_schema(kinds: Mapping[str, Kind]) -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of unit and model files, made from the kinds.

    An editor that knows it completes kinds, attributes and choices, and marks what does not fit.
    What is based on a model need not say again what the model says, so nothing but the name is
    required there.
    """
    schema = schema_of(_UNIT_FIELDS)
    properties = schema["properties"]
    items = []
    for name, kind in sorted(kinds.items()):
        if name == "vehicle":
            properties["vehicle"] = schema_of(kind.attributes)
            continue
        item = schema_of(fields_of(kind))
        item["properties"]["kind"] = {"const": name, "description": kind.about}
        items.append({"if": {"properties": {"kind": {"const": name}}}, "then": item})
    properties["fitted"] = {
        "description": "Equipment",
        "type": "array",
        "items": {
            "type": "object",
            "properties": {"kind": {"enum": sorted(set(kinds) - {"vehicle"})}},
            "required": ["id"],
        },
    }
    for part in ("body", "vehicle", "film"):
        properties[part].pop("required", None)
    properties["places"]["additionalProperties"].pop("required", None)
    required = schema.pop("required")
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A unit or a model",
        **schema,
        "if": {"not": {"required": ["based_on"]}},
        "then": {
            "required": required,
            "properties": {"fitted": {"items": {"required": ["kind", "place"], "allOf": items}}},
        },
        "else": {
            "properties": {
                "fitted": {
                    "items": {"allOf": [_without_required(item) for item in items]},
                }
            }
        },
    }


def _without_required(item: dict[str, Any]) -> dict[str, Any]:
    """Return the rule for an entry that may be laid over a model's: it says only what differs."""
    then = {key: value for key, value in item["then"].items() if key != "required"}
    return {
        "if": {"required": ["kind"], **item["if"]},
        "then": then,
    }
