"""The handover pack of one unit as typed pieces: what to prepare, what to show, what falls due."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from generator.compose.context import Context
from generator.compose.place_page import shown_value
from generator.compose.print_guide import print_routine
from generator.compose.print_pieces import which_of
from generator.compose.printed import PrintedRoutine
from generator.compose.runs import curl
from generator.figures.dates import due_day
from generator.figures.gather import own_inputs
from generator.fit.fit import facts_of
from generator.fit.guide import BoundTask
from generator.prove.tour import shortest_tour
from generator.read.expressions import Expression
from generator.read.handover import SIGNERS, Handover
from generator.read.units import Fitting, Spot


@dataclass(frozen=True, slots=True)
class PackCheck:
    """A check of the preparation list; `recorded` is the unit's own value, perhaps empty."""

    fitting: str
    place: str
    check: str
    note: str
    measure: str
    recorded: str


@dataclass(frozen=True, slots=True)
class PackList:
    """The checks that one sort of person may sign."""

    who: str
    checks: tuple[PackCheck, ...]


@dataclass(frozen=True, slots=True)
class PackTask:
    """A task to be done or shown at a stop."""

    title: str
    minutes: int


@dataclass(frozen=True, slots=True)
class PackStop:
    """A stop of the walk; the last one is at no place in particular, and has no number."""

    number: int
    title: str
    code: str
    inside: bool
    do: tuple[PackTask, ...]
    show: tuple[PackTask, ...]

    @property
    def minutes(self) -> int:
        """Return how long all of it takes."""
        return sum(task.minutes for task in (*self.do, *self.show))


@dataclass(frozen=True, slots=True)
class PackRecord:
    """A value to be written down."""

    note: str
    measure: str
    recorded: str


@dataclass(frozen=True, slots=True)
class PackBox:
    """A box of the first-trip card: lines with the title of a task to read, perhaps empty."""

    title: str
    lines: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class PackDue:
    """Something that falls due; `day` is empty where it is not known yet."""

    what: str
    day: str


@dataclass(frozen=True, slots=True)
class Pack:
    """All that the dealer prints for the day."""

    lists: tuple[PackList, ...]
    tour: tuple[Spot, ...]
    stops: tuple[PackStop, ...]
    minutes: int
    records: tuple[PackRecord, ...]
    papers: tuple[str, ...]
    card: tuple[PackBox, ...]
    first_trip: PrintedRoutine | None
    """The routine that stands first in the guide: arriving."""
    due: tuple[PackDue, ...]


def plan_pack(ctx: Context, handover: Handover) -> Pack:
    """Return the handover pack of a unit."""
    shown = [t for t in ctx.guide.tasks if t.task.name in (*handover.do, *handover.show)]
    used = {task.place for task in shown}
    tour = shortest_tour([s for s in ctx.guide.places if s.name in used], ctx.guide.unit.body)
    stops = [
        _stop(ctx, handover, number, spot, [t for t in shown if t.place == spot.name])
        for number, spot in enumerate(tour, 1)
    ]
    anywhere = [task for task in shown if task.place not in ctx.spots]
    if anywhere:
        stops.append(_stop(ctx, handover, 0, None, anywhere))
    routines = ctx.proof.routines
    return Pack(
        lists=_lists(ctx, handover),
        tour=tour,
        stops=tuple(stops),
        minutes=sum(stop.minutes for stop in stops),
        records=_records(ctx, handover),
        papers=tuple(curl(line.text) for line in handover.papers if _holds(line.when, ctx)),
        card=_card(ctx, handover),
        first_trip=print_routine(ctx, routines[0]) if routines else None,
        due=_due(ctx),
    )


def _holds(when: Expression | None, ctx: Context) -> bool:
    return when is None or when.holds(ctx.names)


def _lists(ctx: Context, handover: Handover) -> tuple[PackList, ...]:
    """Return the checks of everything that is fitted, by signer, in walk-round order."""
    order = {spot.name: index for index, spot in enumerate(ctx.guide.places)}
    fittings = sorted(ctx.guide.fittings.values(), key=lambda f: order.get(f.place, -1))
    by_who: dict[str, list[PackCheck]] = {who: [] for who in SIGNERS}
    for fitting in fittings:
        names = {**ctx.names, "it": facts_of(fitting, ctx.guide.unit)}
        for check in handover.prepare.get(fitting.kind, ()):
            if check.when is None or check.when.holds(names):
                spot = ctx.spots.get(fitting.place)
                by_who[check.who].append(
                    PackCheck(
                        fitting=fitting.title,
                        place=spot.title if spot else "",
                        check=curl(check.check),
                        note=curl(check.note),
                        measure=check.measure,
                        recorded=_recorded(ctx, fitting, check.recorded),
                    )
                )
    return tuple(PackList(who, tuple(checks)) for who, checks in by_who.items() if checks)


def _recorded(ctx: Context, fitting: Fitting, name: str) -> str:
    kind = ctx.library.kinds[fitting.kind]
    wanted = next((field for field in kind.attributes if field.name == name), None)
    if wanted is None or name not in fitting.values:
        return ""
    return shown_value(ctx, wanted, fitting.values[name])


def _stop(
    ctx: Context, handover: Handover, number: int, spot: Spot | None, tasks: Sequence[BoundTask]
) -> PackStop:
    def chosen(names: tuple[str, ...], minutes: int) -> tuple[PackTask, ...]:
        mine = sorted(
            (t for t in tasks if t.task.name in names), key=lambda t: names.index(t.task.name)
        )
        return tuple(
            PackTask(
                f"{curl(t.title)} {which_of(ctx, t.subject)}".strip(), minutes or t.task.minutes
            )
            for t in mine
        )

    return PackStop(
        number=number,
        title=spot.title if spot else ctx.say("handover_anywhere"),
        code=ctx.guide.place_codes.get(spot.name, "") if spot else "",
        inside=spot is not None and spot.wall == "inside",
        do=chosen(handover.do, 0),
        show=chosen(handover.show, handover.minutes_shown),
    )


def _records(ctx: Context, handover: Handover) -> tuple[PackRecord, ...]:
    records = []
    for line in handover.records:
        if not _holds(line.when, ctx):
            continue
        owners = [f for f in ctx.guide.fittings.values() if f.kind == line.kind]
        if not line.kind:
            records.append(PackRecord(curl(line.note), line.measure, ""))
        for fitting in owners:
            note = f"{curl(line.note)} {which_of(ctx, fitting)}".strip()
            records.append(PackRecord(note, line.measure, _recorded(ctx, fitting, line.recorded)))
    return tuple(records)


def _card(ctx: Context, handover: Handover) -> tuple[PackBox, ...]:
    titles = {task.task.name: curl(task.title) for task in ctx.guide.tasks}
    boxes = (
        PackBox(
            curl(box.title),
            tuple(
                (curl(line.text), titles.get(line.task, ""))
                for line in box.lines
                if _holds(line.when, ctx)
            ),
        )
        for box in handover.card
    )
    return tuple(box for box in boxes if box.lines)


def _due(ctx: Context) -> tuple[PackDue, ...]:
    """Return what falls due, soonest first; what has no date yet last."""
    dated: list[tuple[date | None, str]] = [
        (due_day(own), curl(own.label))
        for own in own_inputs(ctx.guide.unit, ctx.library.kinds).dates
    ]
    dated.sort(key=lambda one: (one[0] is None, one[0] or date.min, one[1]))
    return tuple(PackDue(label, ctx.tongue.date(day) if day else "") for day, label in dated)
