"""A guide's content as typed pieces for paper: what a template sets, decided once."""

from __future__ import annotations

from dataclasses import dataclass

from generator.compose.runs import Block, Runs


@dataclass(frozen=True, slots=True)
class Reference:
    """A title and the anchor of its page; `which` tells several fittings of a kind apart."""

    title: str
    anchor: str
    which: str = ""


@dataclass(frozen=True, slots=True)
class PrintedCaution:
    """A safety message; `word` is the signal word, `sign` the name of a drawing."""

    word: str
    sign: str
    hazard: Runs
    consequence: Runs
    avoidance: Runs


@dataclass(frozen=True, slots=True)
class PrintedStep:
    """One action and what belongs to it; `picture` is the name of a drawing, or empty."""

    cautions: tuple[PrintedCaution, ...]
    command: Runs
    notes: tuple[Runs, ...]
    then: tuple[Runs, ...]
    if_not: tuple[Runs, ...]
    picture: str


@dataclass(frozen=True, slots=True)
class PrintedNeed:
    """What must be so before the first step, and the tasks that bring it about."""

    says: str
    ways: tuple[Reference, ...]


@dataclass(frozen=True, slots=True)
class PrintedNext:
    """A routine that a task is part of, and the task after it there; None after the last."""

    routine: Reference
    task: Reference | None


@dataclass(frozen=True, slots=True)
class PrintedTask:
    """A task in the order of OASIS DITA's task."""

    anchor: str
    title: str
    which: str
    purpose: str
    minutes: int
    place: Reference | None
    code: str
    """Of the task's own sticker, else of its place's."""
    tools: str
    licensed: str
    cautions: tuple[PrintedCaution, ...]
    before: tuple[PrintedNeed, ...]
    context: tuple[Block, ...]
    steps: tuple[PrintedStep, ...]
    result: tuple[Block, ...]
    trouble: tuple[Block, ...]
    see_also: tuple[Reference, ...]
    afterwards: tuple[Block, ...]
    next: tuple[PrintedNext, ...]


@dataclass(frozen=True, slots=True)
class PrintedPlanStep:
    """A step of a routine: a task at a place, or (`task` is None) what is done by hand."""

    task: Reference | None
    place: str
    by_hand: str


@dataclass(frozen=True, slots=True)
class PrintedPlan:
    """A routine's steps from one situation."""

    situation: str
    minutes: int
    steps: tuple[PrintedPlanStep, ...]


@dataclass(frozen=True, slots=True)
class PrintedRoutine:
    """A routine with its plans."""

    anchor: str
    title: str
    purpose: str
    plans: tuple[PrintedPlan, ...]


@dataclass(frozen=True, slots=True)
class PrintedPlace:
    """A place with what is done there and what is fitted there."""

    anchor: str
    name: str
    title: str
    number: int
    inside: bool
    hint: str
    code: str
    where: str
    """In words, for those who cannot see the drawing."""
    tasks: tuple[Reference, ...]
    holds: tuple[Reference, ...]


@dataclass(frozen=True, slots=True)
class PrintedAnswer:
    """What yes or no leads to."""

    do: Runs
    leads: tuple[Reference, ...]
    stop: bool


@dataclass(frozen=True, slots=True)
class PrintedCheck:
    """A question and where its answers lead; None leads on to the next question."""

    ask: Runs
    yes: PrintedAnswer | None
    no: PrintedAnswer | None


@dataclass(frozen=True, slots=True)
class PrintedExpectation:
    """A task that has to work, and what should be so for it."""

    task: Reference
    says: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PrintedSymptom:
    """Something that a customer notices, with its questions in order."""

    anchor: str
    title: str
    which: str
    said: tuple[str, ...]
    cautions: tuple[PrintedCaution, ...]
    expects: tuple[PrintedExpectation, ...]
    checks: tuple[PrintedCheck, ...]
    ends: Runs


@dataclass(frozen=True, slots=True)
class PrintedFitting:
    """A fitting with its values as (what, value)."""

    anchor: str
    title: str
    about: str
    place: Reference | None
    facts: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class PrintedArea:
    """An area of the library with what this unit has of it."""

    name: str
    title: str
    tasks: tuple[PrintedTask, ...]
    symptoms: tuple[PrintedSymptom, ...]
    fittings: tuple[PrintedFitting, ...]


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of an index: words and the anchors of their pages."""

    words: str
    main: bool
    """Whether the words are a page's own title, not what people also say."""
    anchors: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PrintedPiece:
    """A piece of a figure: `answer`, `text`, `hint`, `licensed`, `subtitle`, `bullets`, `table`.

    `items` are its paragraph, its bullets, or a table's head, which may be empty.
    """

    kind: str
    items: tuple[Runs, ...]
    rows: tuple[tuple[Runs, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class PrintedFigure:
    """A figure with its answer, its tables, and where its values come from."""

    title: Runs
    pieces: tuple[PrintedPiece, ...]
    sources: str


@dataclass(frozen=True, slots=True)
class PrintedNumbers:
    """A page of numbers."""

    anchor: str
    title: str
    figures: tuple[PrintedFigure, ...]


@dataclass(frozen=True, slots=True)
class PrintedGuide:
    """All of a guide, in the order in which it is printed."""

    emergencies: tuple[PrintedTask, ...]
    routines: tuple[PrintedRoutine, ...]
    places: tuple[PrintedPlace, ...]
    areas: tuple[PrintedArea, ...]
    numbers: tuple[PrintedNumbers, ...]
    symptom_index: tuple[Entry, ...]
    task_index: tuple[Entry, ...]
