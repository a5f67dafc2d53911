"""Further languages of the library: a second `Library`, its texts translated, nothing else changed.

`docs_src/languages/<language>/` holds words only. States, needs, conditions, signal words and all
else that a proof rests on come from the source, so that a translation cannot change what was
proven. What is not translated stays in the source's language and is marked so; what was translated
from an older source is marked too.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TypeVar

from generator.problems import Mark, Problems, one_of
from generator.read.expressions import check_template
from generator.read.fields import Field, Record, read_record
from generator.read.kinds import Kind, State
from generator.read.layers import Layers, layers_of
from generator.read.library import (
    MOST_STICKER_CHARACTERS,
    Caution,
    Library,
    Reader,
    Routine,
    Situation,
    named_tables,
)
from generator.read.made_from import source_digests
from generator.read.outline import first_difference
from generator.read.symptoms import Answer, Check, Symptom
from generator.read.tasks import Task, check_text, known_names, split_task
from generator.read.translated import (
    as_foreign,
    as_stale,
    body_as_foreign,
    body_as_stale,
)
from generator.read.tree import Items, Table, Text

FOLDER = "languages"
MOST_TITLE_CHARACTERS = 80
"""More than a source's title may have: other languages need more room."""

_REVIEW = Field(name="review", type="text", help="Who has reviewed it, or none", required=True)
_ABOUT_FIELDS = (
    Field(name="title", type="text", help="The language in its own words", required=True),
    _REVIEW,
)
_TASK_FIELDS = (
    _REVIEW,
    Field(name="title", type="text", help="What the reader does", required=True),
    Field(name="purpose", type="text", help="What the reader gets", required=True),
    Field(name="tools", type="texts", help="Things to have at hand"),
    Field(name="called", type="texts", help="Words that a customer uses"),
    Field(name="licensed", type="text", help="Who may do this work"),
)
_CAUTION_FIELDS = tuple(
    Field(name=name, type="text", help=help_, required=True)
    for name, help_ in (
        ("hazard", "What the hazard is"),
        ("consequence", "What it can do"),
        ("avoidance", "How to avoid it"),
        ("sticker", "The same for a hatch, short"),
    )
)
_KIND_FIELDS = (
    _REVIEW,
    Field(name="title", type="text", help="What the owner calls it", required=True),
    Field(name="about", type="text", help="One sentence: what it does", required=True),
    Field(name="called", type="texts", help="Words that a customer uses for it"),
    Field(name="attributes", type="pairs", help="What each attribute is"),
    Field(name="choices", type="any", help="By attribute: a word for each choice"),
    Field(name="says", type="any", help="By state: a sentence for each value"),
)
_SYMPTOM_FIELDS = (
    _REVIEW,
    Field(name="title", type="text", help="What the customer notices", required=True),
    Field(name="said", type="texts", help="How a customer says it"),
    Field(
        name="checks",
        type="tables",
        help="The questions, in the source's order",
        required=True,
        fields=(
            Field(name="ask", type="text", help="A question for yes or no", required=True),
            Field(name="yes", type="text", help="What to do on yes"),
            Field(name="no", type="text", help="What to do on no"),
        ),
    ),
    Field(name="ends", type="text", help="What to do when nothing helped", required=True),
)
_ROUTINE_FIELDS = (
    _REVIEW,
    Field(name="title", type="text", help="What it achieves", required=True),
    Field(name="purpose", type="text", help="One sentence", required=True),
    Field(name="called", type="texts", help="Words that a customer uses"),
    Field(name="any", type="pairs", help="The title of each alternative"),
)
_GAP = re.compile(r"\{[a-z_]+\}")
_TITLE = re.compile(r"<title>(.*?)</title>", re.DOTALL)

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Gap:
    """A text that a language lacks, or has from an older source."""

    name: str
    """As `sort/name`."""
    stale: bool
    at: Mark


@dataclass(frozen=True, slots=True)
class Language:
    """A further language, with the library and the drawings in it."""

    name: str
    title: str
    library: Library
    pictures: Mapping[str, str]
    phrases: Mapping[str, str]
    """Texts that are computed, by the source's text; `{name}` stands for what differs."""
    reviewed: bool
    """Whether somebody has reviewed every text of it."""
    gaps: tuple[Gap, ...]
    made_from: Mapping[str, str]
    """The digest that each translation was made from, by `sort/name`, as the file says."""
    translated: frozenset[str]
    """What has a translation, stale or not."""


def read_languages(
    root: Path, library: Library, pictures: Mapping[str, str], problems: Problems
) -> dict[str, Language]:
    """Return every further language of the library, by name, noting what does not fit."""
    layers = layers_of(root)
    return {
        name: _Overlay(name, layers, library, pictures, problems).language()
        for name in layers.folders(f"docs_src/{FOLDER}")
    }


def picture_titles(pictures: Mapping[str, str]) -> dict[str, str]:
    """Return the text alternatives of drawings, by name."""
    return {
        name: " ".join(found[1].split())
        for name, drawing in pictures.items()
        if (found := _TITLE.search(drawing))
    }


class _Overlay:
    """Reads one language and lays it over the library."""

    def __init__(
        self,
        name: str,
        layers: Layers,
        library: Library,
        pictures: Mapping[str, str],
        problems: Problems,
    ) -> None:
        self.name = name
        self.library = library
        self.pictures = pictures
        self.problems = problems
        self.reader = Reader(layers, f"docs_src/{FOLDER}/{name}", problems)
        self.sources = source_digests(library, picture_titles(pictures))
        self.gaps: list[Gap] = []
        self.translated: set[str] = set()
        self.reviewed = True
        self.made_from = self.flat("made_from.yml")

    def language(self) -> Language:
        source = self.library
        about = read_record(self.file("language.yml"), _ABOUT_FIELDS, self.problems)
        self.note_review(about)
        wording = self.wording()
        library = replace(
            source,
            areas=self.texts("area", "areas.yml", source.areas),
            kinds=self.kinds(),
            cautions=self.cautions(),
            tasks=self.tasks(),
            symptoms=self.symptoms(),
            routines=self.routines(),
            situations={
                name: Situation(name, title, source.situations[name].states)
                for name, title in self.texts(
                    "situation",
                    "situations.yml",
                    {name: one.title for name, one in source.situations.items()},
                ).items()
            },
            snippets=self.snippets(),
            wording=wording,
            synonyms=self.synonyms(),
        )
        return Language(
            name=self.name,
            title=about.text("title"),
            library=library,
            pictures=self.drawings(),
            phrases=self.flat("phrases.yml"),
            reviewed=self.reviewed,
            gaps=tuple(self.gaps),
            made_from=self.made_from,
            translated=frozenset(self.translated),
        )

    # What is read, and how it stands to its source.

    def file(self, name: str) -> Table:
        path = self.reader.path(name)
        table = self.reader.table(path) if path.is_file() else None
        return table or Table((), Mark(self.reader.shown(path)))

    def flat(self, name: str) -> dict[str, str]:
        return self.reader.read_flat(name) if self.reader.path(name).is_file() else {}

    def note_review(self, record: Record) -> None:
        self.reviewed = self.reviewed and record.text("review") not in ("", "none")

    def is_fresh(self, name: str) -> bool:
        """Return whether a translation was made from its source as that is now."""
        return self.made_from.get(name) == self.sources[name]

    def lacks(self, name: str, at: Mark, *, stale: bool = False) -> None:
        self.gaps.append(Gap(name, stale, at))

    def settle(
        self,
        sort: str,
        found: Mapping[str, tuple[Mark, Callable[[Problems], T | None]]],
        source: Mapping[str, T],
        foreign: Callable[[T], T],
        stale: Callable[[T], T],
    ) -> dict[str, T]:
        """Return each text of a sort: translated, marked as stale, or as not translated.

        A translation that does not fit its source is a mistake where it was made from that source;
        where the source has changed since, it is left out until someone has looked at it.
        """
        settled = {}
        for name, (at, _) in found.items():
            if name not in source:
                self.problems.add(at, name, f"no {sort} '{name}'", one_of(source, name))
        for name, one in source.items():
            key = f"{sort}/{name}"
            if name not in found:
                self.lacks(key, Mark(self.reader.base))
                settled[name] = foreign(one)
                continue
            at, read = found[name]
            self.translated.add(key)
            if self.is_fresh(key):
                settled[name] = read(self.problems) or foreign(one)
                continue
            self.lacks(key, at, stale=True)
            quiet = Problems()
            old = read(quiet)
            settled[name] = foreign(one) if old is None or quiet.found else stale(old)
        return settled

    # Sorts of text.

    def texts(self, sort: str, file: str, source: Mapping[str, str]) -> dict[str, str]:
        """Return a file of `name: text` lines over its source."""
        table = self.file(file)
        found = {
            key.value: (key.at, _constantly(value.value))
            for key, value in table
            if isinstance(value, Text) and value.value and key.value != "review"
        }
        self.note_review(Record(table.at, _plain(table)))
        return self.settle(sort, found, source, as_foreign, lambda text: text)

    def wording(self) -> dict[str, str]:
        source = {key: text for key, text in self.library.wording.items() if key != "lang"}
        table = self.file("wording.yml")
        for key, value in table:
            if key.value in source and isinstance(value, Text):
                self.want_gaps(key.value, value, source[key.value])
        named = {"lang": self.name}
        given = _plain(table).get("lang", self.name)
        if given != self.name:
            self.problems.add(table.key_mark("lang"), "lang", f"is '{given}'", f"'{self.name}'")
        found = {
            key.value: (key.at, _constantly(value.value))
            for key, value in table
            if isinstance(value, Text) and value.value and key.value not in ("lang", "review")
        }
        self.note_review(Record(table.at, _plain(table)))
        return named | self.settle("wording", found, source, as_foreign, lambda text: text)

    def want_gaps(self, key: str, value: Text, source: str) -> None:
        wanted, given = set(_GAP.findall(source)), set(_GAP.findall(value.value))
        if given - wanted and key not in self.made_from:
            right = ", ".join(sorted(wanted)) or "no gap"
            self.problems.add(
                value.at, key, f"has {', '.join(sorted(given - wanted))}", f"{right}, as the source"
            )
        for gap in sorted(wanted - given) if self.is_fresh(f"wording/{key}") else ():
            self.problems.add(value.at, key, f"lacks {gap}", "every gap of the source")

    def synonyms(self) -> dict[str, tuple[str, ...]]:
        synonyms = {}
        for key, value in self.file("synonyms.yml"):
            others = value.items if isinstance(value, Items) else (value,)
            words = tuple(word.value for word in others if isinstance(word, Text) and word.value)
            if len(words) < len(others) or not words:
                self.problems.add(value.at, key.value, "is no list of words", "[word, another]")
            synonyms[key.value] = words
        return synonyms

    def drawings(self) -> dict[str, str]:
        titles = self.texts("drawing", "drawings.yml", picture_titles(self.pictures))
        return {
            name: _titled(drawing, titles[name]) if name in titles else drawing
            for name, drawing in self.pictures.items()
        }

    def cautions(self) -> dict[str, Caution]:
        for _, table in self.reader.tables("cautions"):
            self.note_review(Record(table.at, _plain(table)))
        found = {
            name: (at, partial(self.caution, table, name))
            for name, at, table in named_tables(self.reader, "cautions", self.problems, ("review",))
        }
        return self.settle(
            "caution", found, self.library.cautions, _foreign_caution, _stale_caution
        )

    def caution(self, table: Table, name: str, problems: Problems) -> Caution | None:
        record = read_record(table, _CAUTION_FIELDS, problems, within=name)
        if len(record.text("sticker")) > MOST_STICKER_CHARACTERS:
            problems.add(
                record.mark("sticker"),
                f"{name}.sticker",
                f"has {len(record.text('sticker'))} characters",
                f"at most {MOST_STICKER_CHARACTERS}",
            )
        return replace(
            self.library.cautions[name],
            hazard=record.text("hazard"),
            consequence=record.text("consequence"),
            avoidance=record.text("avoidance"),
            sticker=record.text("sticker"),
        )

    def snippets(self) -> dict[str, str]:
        found = {}
        for path in self.reader.files("snippets", ".md"):
            text = self.reader.source(path)
            at = Mark(self.reader.shown(path))
            if text is not None:
                found[path.stem] = (at, partial(self.snippet, text, path.stem, at))
        return self.settle("snippet", found, self.library.snippets, body_as_foreign, body_as_stale)

    def snippet(self, text: str, name: str, at: Mark, problems: Problems) -> str | None:
        return text if self.fits(self.library.snippets[name], text, at, problems) else None

    def fits(self, source: str, body: str, at: Mark, problems: Problems) -> bool:
        """Return whether a translated text has its source's outline, noting where it has not."""
        before = len(problems.found)
        check_text(body, at, problems)
        different = first_difference(source, body)
        if different is not None:
            line, wrong, right = different
            problems.add(Mark(at.path, at.line + line - 1), "(text)", wrong, right)
        return len(problems.found) == before

    def tasks(self) -> dict[str, Task]:
        found = {}
        for path in self.reader.files("tasks", ".md", deep=True):
            text = self.reader.source(path)
            shown = self.reader.shown(path)
            if text is not None:
                found[path.stem] = (Mark(shown), partial(self.task, text, path.stem, shown))
        return self.settle("task", found, self.library.tasks, _foreign_task, _stale_task)

    def task(self, text: str, name: str, shown: str, problems: Problems) -> Task | None:
        source = self.library.tasks[name]
        parts = split_task(text, shown, problems)
        if parts is None:
            return None
        table, body, body_at = parts
        record = read_record(table, _TASK_FIELDS, problems)
        self.note_review(record)
        title = record.text("title")
        if len(title) > MOST_TITLE_CHARACTERS:
            right = f"{MOST_TITLE_CHARACTERS} at most"
            problems.add(record.mark("title"), "title", f"has {len(title)} characters", right)
        if len(record.texts("tools")) != len(source.tools):
            right = f"{len(source.tools)} things, as the source"
            problems.add(record.mark("tools"), "tools", f"has {len(record.texts('tools'))}", right)
        if bool(record.text("licensed")) != bool(source.licensed):
            right = "who may do it" if source.licensed else "nothing: the source has none"
            problems.add(record.mark("licensed"), "licensed", "differs from the source", right)
        owners = {"subject": source.subject} | {role.name: role.kind for role in source.roles}
        known = known_names(owners, self.library.kinds)
        snippets = self.library.snippets
        good = check_template(body, body_at, "(text)", known, snippets, problems)
        if not (good and self.fits(source.body, body, body_at, problems)):
            return None
        return replace(
            source,
            title=title,
            purpose=record.text("purpose"),
            tools=record.texts("tools"),
            called=record.texts("called"),
            licensed=record.text("licensed"),
            body=body,
            body_at=body_at,
        )

    def kinds(self) -> dict[str, Kind]:
        found = {
            path.stem: (table.at, partial(self.kind, table, path.stem))
            for path, table in self.reader.tables("kinds")
        }
        return self.settle("kind", found, self.library.kinds, _foreign_kind, _stale_kind)

    def kind(self, table: Table, name: str, problems: Problems) -> Kind | None:
        source = self.library.kinds[name]
        record = read_record(table, _KIND_FIELDS, problems)
        self.note_review(record)
        helps = {key: " ".join(texts) for key, texts in record.pairs("attributes").items()}
        at = record.mark("attributes")
        _want_all([f.name for f in source.attributes], helps, "attributes", at, problems)
        chosen = {f.name: f.choices for f in source.attributes if f.choices}
        labels = _two_levels(record, "choices", chosen, problems)
        says = _two_levels(
            record, "says", {s.name: s.values for s in source.states.values()}, problems
        )
        return replace(
            source,
            title=record.text("title"),
            about=record.text("about"),
            called=record.texts("called"),
            attributes=tuple(
                replace(field, help=helps.get(field.name, field.help))
                for field in source.attributes
            ),
            labels=labels,
            states={
                state.name: replace(state, says=says.get(state.name, state.says))
                for state in source.states.values()
            },
        )

    def symptoms(self) -> dict[str, Symptom]:
        found = {
            path.stem: (table.at, partial(self.symptom, table, path.stem))
            for path, table in self.reader.tables("symptoms")
        }
        return self.settle(
            "symptom", found, self.library.symptoms, _foreign_symptom, _stale_symptom
        )

    def symptom(self, table: Table, name: str, problems: Problems) -> Symptom | None:
        source = self.library.symptoms[name]
        record = read_record(table, _SYMPTOM_FIELDS, problems)
        self.note_review(record)
        asked = record.tables("checks")
        if len(asked) != len(source.checks):
            right = f"{len(source.checks)}, as the source"
            problems.add(record.mark("checks"), "checks", f"has {len(asked)} questions", right)
            return None
        checks = []
        for index, (check, given) in enumerate(zip(source.checks, asked, strict=True)):
            path = f"checks[{index}]"
            checks.append(
                replace(
                    check,
                    ask=given.text("ask"),
                    yes=_answer(check.yes, given, "yes", path, problems),
                    no=_answer(check.no, given, "no", path, problems),
                )
            )
        return replace(
            source,
            title=record.text("title"),
            said=record.texts("said"),
            checks=tuple(checks),
            ends=record.text("ends"),
        )

    def routines(self) -> dict[str, Routine]:
        found = {
            path.stem: (table.at, partial(self.routine, table, path.stem))
            for path, table in self.reader.tables("routines")
        }
        return self.settle(
            "routine", found, self.library.routines, _foreign_routine, lambda one: one
        )

    def routine(self, table: Table, name: str, problems: Problems) -> Routine | None:
        record = read_record(table, _ROUTINE_FIELDS, problems)
        self.note_review(record)
        source = self.library.routines[name]
        titles = {way: " ".join(texts) for way, texts in record.pairs("any").items()}
        for way in {one.name for one in source.any} ^ titles.keys():
            problems.add(
                record.mark("any"), f"any.{way}", "is not in both", "the source's alternatives"
            )
        return replace(
            source,
            title=record.text("title"),
            purpose=record.text("purpose"),
            called=record.texts("called"),
            any=tuple(replace(one, title=titles.get(one.name, one.title)) for one in source.any),
        )


def _constantly(value: T) -> Callable[[Problems], T]:
    return lambda _: value


def _titled(drawing: str, title: str) -> str:
    return _TITLE.sub(lambda _: f"<title>{title}</title>", drawing, count=1)


def _plain(table: Table) -> dict[str, str]:
    return {key.value: value.value for key, value in table if isinstance(value, Text)}


def _want_all(
    wanted: Iterable[str], given: Mapping[str, str], path: str, at: Mark, problems: Problems
) -> None:
    """Note what is missing of the names that a source has, and what is more than it has."""
    names = list(wanted)
    for name in names:
        if not given.get(name):
            problems.add(at, f"{path}.{name}", "missing", "a text for it, as the source has one")
    for name in given:
        if name not in names:
            problems.add(at, f"{path}.{name}", "is not in the source", one_of(names, name))


def _two_levels(
    record: Record, key: str, wanted: Mapping[str, Iterable[str]], problems: Problems
) -> dict[str, dict[str, str]]:
    """Return texts by two names each, such as the sentences of a kind's states."""
    node = record.values.get(key)
    outer = {k.value: v for k, v in node if isinstance(v, Table)} if isinstance(node, Table) else {}
    at = record.mark(key)
    levels = {}
    for name in outer:
        if name not in wanted:
            problems.add(outer[name].at, f"{key}.{name}", "is not in the source", one_of(wanted))
    for name, inner in wanted.items():
        table = outer.get(name)
        given = _plain(table) if table else {}
        _want_all(inner, given, f"{key}.{name}", table.at if table else at, problems)
        levels[name] = given
    return levels


def _answer(
    answer: Answer | None, given: Record, key: str, path: str, problems: Problems
) -> Answer | None:
    wanted = answer.do if answer else ""
    if bool(wanted) != bool(given.text(key)):
        right = "what to do" if wanted else "nothing: the source says nothing there"
        problems.add(given.mark(key), f"{path}.{key}", "differs from the source", right)
    return replace(answer, do=given.text(key)) if answer else None


# What is not translated, and what is stale.


def _each(texts: Iterable[str], mark: Callable[[str], str]) -> tuple[str, ...]:
    return tuple(mark(text) for text in texts)


def _foreign_caution(one: Caution) -> Caution:
    return replace(
        one,
        hazard=as_foreign(one.hazard),
        consequence=as_foreign(one.consequence),
        avoidance=as_foreign(one.avoidance),
    )


def _stale_caution(one: Caution) -> Caution:
    return replace(one, hazard=as_stale(one.hazard))


def _foreign_task(task: Task) -> Task:
    return replace(
        task,
        title=as_foreign(task.title),
        purpose=as_foreign(task.purpose),
        tools=_each(task.tools, as_foreign),
        licensed=as_foreign(task.licensed),
        body=body_as_foreign(task.body),
    )


def _stale_task(task: Task) -> Task:
    return replace(task, body=body_as_stale(task.body))


def _with_says(kind: Kind, mark: Callable[[str], str]) -> dict[str, State]:
    return {
        name: replace(state, says={value: mark(text) for value, text in state.says.items()})
        for name, state in kind.states.items()
    }


def _foreign_kind(kind: Kind) -> Kind:
    return replace(
        kind,
        title=as_foreign(kind.title),
        about=as_foreign(kind.about),
        attributes=tuple(replace(f, help=as_foreign(f.help)) for f in kind.attributes),
        labels={
            f.name: {choice: as_foreign(choice.replace("-", " ")) for choice in f.choices}
            for f in kind.attributes
            if f.choices
        },
        states=_with_says(kind, as_foreign),
    )


def _stale_kind(kind: Kind) -> Kind:
    return replace(kind, states=_with_says(kind, as_stale))


def _with_checks(symptom: Symptom, mark: Callable[[str], str]) -> tuple[Check, ...]:
    def answer(one: Answer | None) -> Answer | None:
        return replace(one, do=mark(one.do)) if one else None

    return tuple(
        replace(check, ask=mark(check.ask), yes=answer(check.yes), no=answer(check.no))
        for check in symptom.checks
    )


def _foreign_symptom(symptom: Symptom) -> Symptom:
    return replace(
        symptom,
        title=as_foreign(symptom.title),
        said=_each(symptom.said, as_foreign),
        checks=_with_checks(symptom, as_foreign),
        ends=as_foreign(symptom.ends),
    )


def _stale_symptom(symptom: Symptom) -> Symptom:
    return replace(symptom, checks=_with_checks(symptom, as_stale), ends=as_stale(symptom.ends))


def _foreign_routine(routine: Routine) -> Routine:
    return replace(
        routine,
        title=as_foreign(routine.title),
        purpose=as_foreign(routine.purpose),
        any=tuple(replace(way, title=as_foreign(way.title)) for way in routine.any),
    )
