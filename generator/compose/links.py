"""Where every page of a guide is, and the links between pages."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from generator.fit.guide import BoundSymptom, BoundTask, Guide
from generator.problems import Mark, Problems
from generator.read.tasks import LINK

_WORDS_LINK = re.compile(r"\[(?P<words>[^\]]*)" + LINK.pattern)

HOME = "index.md"
EMERGENCY = "emergency.md"
WRONG = "wrong.md"
ALL = "all.md"
KIT = "kit.md"
SEARCH = "search.md"
NUMBERS = "numbers.md"
DUE = "due.ics"
NOTICES = "notices.md"
FEED = "notices.xml"


def task_uri(task: BoundTask) -> str:
    """Return the file of a task's page."""
    return f"task/{task.slug}.md"


def symptom_uri(symptom: BoundSymptom) -> str:
    """Return the file of a symptom's page."""
    return f"symptom/{symptom.slug}.md"


def place_uri(place: str) -> str:
    """Return the file of a place's page."""
    return f"place/{place}.md"


def kit_uri(fitting: str) -> str:
    """Return the file of a fitting's page."""
    return f"kit/{fitting}.md"


def routine_uri(routine: str) -> str:
    """Return the file of a routine's page."""
    return f"routine/{routine}.md"


def number_uri(name: str) -> str:
    """Return the file of a page of numbers."""
    return f"numbers/{name}.md"


def code_uri(code: str) -> str:
    """Return the file of a sticker's landing page, from its code such as 7K3Q-2RK."""
    return f"{code.partition('-')[2]}/index.md"


@lru_cache(maxsize=20_000)  # many guides have the same pages
def relative(from_uri: str, to_uri: str) -> str:
    """Return the link from one Markdown file to another; both in their shortest form."""
    folder = from_uri.rpartition("/")[0]
    if not folder:
        return to_uri
    if "/" not in folder and not to_uri.startswith(f"{folder}/"):
        return f"../{to_uri}"  # most links by far
    return posixpath.relpath(to_uri, folder)


def html_link(from_uri: str, to_uri: str) -> str:
    """Return the same link between the rendered pages, for drawings and templates."""
    link = relative(from_uri, to_uri)
    return link[:-3] + ".html"


@dataclass(frozen=True, slots=True)
class Linker:
    """Resolves the links that content writes (`task:light-hob`) for one page of one guide."""

    guide: Guide
    near: str
    """The place and the fitting that the page is about decide which of several tasks is meant."""
    fitting: str = ""

    def task(self, name: str) -> BoundTask | None:
        """Return the task of this guide by its library name, the nearest of several."""
        several = [task for task in self.guide.tasks if task.task.name == name]
        several.sort(key=lambda t: (t.subject.name != self.fitting, t.place != self.near))
        return several[0] if several else None

    def symptom(self, name: str) -> BoundSymptom | None:
        """Return the symptom of this guide by its library name."""
        several = [s for s in self.guide.symptoms if s.symptom.name == name]
        several.sort(key=lambda s: s.subject.name != self.fitting)
        return several[0] if several else None

    def target(self, sort: str, name: str) -> str | None:
        """Return the file that a link leads to, or None if this guide has no such page."""
        if sort == "task":
            task = self.task(name)
            return task_uri(task) if task else None
        if sort == "symptom":
            symptom = self.symptom(name)
            return symptom_uri(symptom) if symptom else None
        if sort == "routine":
            known = any(routine.name == name for routine in self.guide.routines)
            return routine_uri(name) if known else None
        if sort == "kind":
            fitting = next((f for f in self.guide.fittings.values() if f.kind == name), None)
            return kit_uri(fitting.name) if fitting else None
        return None

    def resolve(self, at: Mark, problems: Problems) -> Callable[[str, str], str]:
        """Return a function that turns a text's links into links from a given file."""

        def resolved(text: str, from_uri: str) -> str:
            def one(match: re.Match[str]) -> str:
                target = self.target(match["sort"], match["name"])
                if target is None:
                    problems.add(
                        at,
                        "(link)",
                        f"{self.guide.unit.name} has no {match['sort']} '{match['name']}'",
                        'a condition around the text with the link, such as {% if has("…") %}',
                        self.guide.unit.name,
                    )
                    return match["words"]
                return f"[{match['words']}]({relative(from_uri, target)})"

            return _WORDS_LINK.sub(one, text)

        return resolved
