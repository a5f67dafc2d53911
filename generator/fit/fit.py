"""Match every task, symptom and routine of the library to the equipment of one unit."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date
from typing import Any

from generator.fit.codes import HIDDEN_SYMBOLS, UNIT_SYMBOLS
from generator.fit.guide import VEHICLE, BoundSymptom, BoundTask, Guide, Need, Variable
from generator.fit.landings import find_landings, tell_holding
from generator.fit.notices import reach_unit
from generator.read.expressions import Facts, StatedDay
from generator.read.fields import Value
from generator.read.library import Caution, Library
from generator.read.register import Register
from generator.read.tasks import Role, StateRef, Task
from generator.read.units import Dealer, Fitting, Spot, Unit


def fit_unit(
    library: Library, unit: Unit, dealer: Dealer, register: Register, like: Guide | None = None
) -> Guide:
    """Return the guide of one unit: what fits it, bound, with slugs and codes.

    Codes come from the register; a place that has none there gets none here. `like` is the guide
    of a unit that is equipped alike, by the same library: what fits that one fits this one.
    """
    if like is None:
        fitted = _fit_equipment(library, unit, dealer)
    else:
        fitted = _with_own(like, unit, fittings_of(library, unit))
    names = common_names(unit, fitted.fittings.values())
    places, tasks = fitted.places, fitted.tasks
    codes = {
        place.name: code
        for place in places
        if (code := register.code_for(unit.name, "place", place.name)) is not None
    }
    task_codes = {
        task.slug: code
        for task in tasks
        if (code := register.code_for(unit.name, "task", task.slug)) is not None
    }
    kept = {*codes.values(), *task_codes.values()}
    return replace(
        fitted,
        unit=unit,
        code=register.code_for(unit.name, "unit", "") or "",
        place_codes=codes,
        task_codes=task_codes,
        landings=find_landings(library, unit, places, tasks, register, kept),
        notices=reach_unit(
            dealer.notices,
            unit,
            fitted.fittings,
            {
                name: text_scope(unit, fitting, (), {}, names)
                for name, fitting in fitted.fittings.items()
            }
            if dealer.notices
            else {},
        ),
    )


def _fit_equipment(library: Library, unit: Unit, dealer: Dealer) -> Guide:
    """Return what fits a unit's equipment, still without codes and notices."""
    fittings = fittings_of(library, unit)
    names = common_names(unit, fittings.values())
    variables = _declare_variables(library, unit, fittings, names)
    tasks = _bind_tasks(library, unit, fittings, variables, names)
    used = {task.place for task in tasks}
    for fitting in fittings.values():
        used |= {fitting.place, *fitting.parts.values()}
    return Guide(
        unit=unit,
        dealer=dealer,
        code="",
        fittings=fittings,
        places=tuple(
            sorted((spot for spot in unit.places.values() if spot.name in used), key=walk_key(unit))
        ),
        place_codes={},
        task_codes={},
        landings=(),
        variables=variables,
        tasks=tasks,
        symptoms=_bind_symptoms(library, unit, fittings, names),
        routines=tuple(
            routine
            for routine in sorted(library.routines.values(), key=lambda r: (r.order, r.name))
            if routine.when is None or routine.when.holds(names)
        ),
    )


def fittings_of(library: Library, unit: Unit) -> dict[str, Fitting]:
    """Return a unit's equipment by name, the vehicle itself included."""
    title = library.kinds[VEHICLE].title
    vehicle = Fitting(VEHICLE, VEHICLE, "", title, {}, unit.vehicle, unit.at)
    return {VEHICLE: vehicle} | {fitting.name: fitting for fitting in unit.fitted}


def _with_own(like: Guide, unit: Unit, fittings: Mapping[str, Fitting]) -> Guide:
    """Return what fits a unit that is equipped alike, about its own equipment.

    What is equal stays the very same; days and serial numbers may differ.
    """
    places = tuple(unit.places[spot.name] for spot in like.places)
    own = replace(like, fittings=fittings, places=places)
    others = (fitting for name, fitting in fittings.items() if name != VEHICLE)
    if fittings[VEHICLE].values == like.fittings[VEHICLE].values and all(
        fitting == like.fittings[fitting.name] for fitting in others
    ):
        return own
    return replace(
        own,
        tasks=tuple(
            replace(
                task,
                subject=fittings[task.subject.name],
                roles={role: fittings[fitting.name] for role, fitting in task.roles.items()},
            )
            for task in like.tasks
        ),
        symptoms=tuple(
            replace(symptom, subject=fittings[symptom.subject.name]) for symptom in like.symptoms
        ),
    )


def unit_symbols(dealer: Dealer) -> int:
    """Return how many symbols the codes of a dealer's new units have."""
    return HIDDEN_SYMBOLS if dealer.unguessable else UNIT_SYMBOLS


def wanted_codes(guide: Guide) -> tuple[tuple[str, str], ...]:
    """Return the targets that stickers lead to: every place at which a task is done."""
    return tuple(("place", place.name) for place in guide.places if guide.tasks_at(place.name))


def holdings(guide: Guide) -> dict[tuple[str, str, str], str]:
    """Return what the register keeps of each place when its code is minted, by whole target."""
    return {
        (guide.unit.name, "place", place.name): tell_holding(guide.fittings_at(place.name))
        for place in guide.places
    }


def walk_key(unit: Unit) -> Any:
    """Return a sort key that walks round the vehicle from the front nearside corner, then in.

    Clockwise as seen from above would pass the road side first; this goes front, nearside, rear,
    offside, then under, on top, and at last through the inside from front to back.
    """
    walls = ("front", "nearside", "rear", "offside", "floor", "roof", "inside")

    def key(spot: Spot) -> tuple[int, float, str]:
        backwards = spot.wall in ("offside",)
        return (walls.index(spot.wall), -spot.along_m if backwards else spot.along_m, spot.name)

    return key


def common_names(unit: Unit, fittings: Iterable[Fitting]) -> dict[str, Any]:
    """Return the names that every condition and text of a unit may use."""
    of_kind: dict[str, list[Fitting]] = {}
    for fitting in fittings:
        of_kind.setdefault(fitting.kind, []).append(fitting)

    def has(kind: str, **facts: Value) -> bool:
        return any(
            all(_is_so(fitting.values.get(name), wanted) for name, wanted in facts.items())
            for fitting in of_kind.get(kind, ())
        )

    vehicle = Facts(_told(unit.vehicle))
    return {"unit": Facts({"sort": unit.sort}), "has": has, "vehicle": vehicle}


def _is_so(value: Value | None, wanted: Value) -> bool:
    """Return whether an attribute has a value, or has it among its values."""
    return wanted in value if isinstance(value, tuple) else value == wanted


def facts_of(fitting: Fitting, unit: Unit) -> Facts:
    """Return what a condition or text may ask of a fitting."""
    facts: dict[str, Any] = {"title": fitting.title, "id": fitting.name, "kind": fitting.kind}
    if fitting.kind == VEHICLE:
        facts |= {"sort": unit.sort}
    return Facts(facts | _told(fitting.values))


def _told(values: Mapping[str, Value]) -> dict[str, Any]:
    """Return values as content may use them."""
    return {
        name: StatedDay(value) if isinstance(value, date) else value
        for name, value in values.items()
    }


def variable_key(fitting: str, state: str) -> str:
    """Return the key of a state of a fitting of this unit."""
    return state if fitting == VEHICLE else f"{fitting}.{state}"


def _declare_variables(
    library: Library, unit: Unit, fittings: Mapping[str, Fitting], names: Mapping[str, Any]
) -> dict[str, Variable]:
    variables = {}
    for fitting in fittings.values():
        for state in library.kinds[fitting.kind].states.values():
            if state.when is None or state.when.holds({**names, "it": facts_of(fitting, unit)}):
                key = variable_key(fitting.name, state.name)
                variables[key] = Variable(key, fitting.name, state)
    return variables


def ground_states(
    refs: Iterable[StateRef],
    owners: Mapping[str, Fitting],
    fittings: Mapping[str, Fitting],
    variables: Mapping[str, Variable],
) -> tuple[Need, ...]:
    """Return states over this unit's variables; those of equipment that it lacks fall away.

    `kind.state` means every fitting of that kind. A state that is named twice, of the kind and of
    one fitting, must suit both.
    """
    needs: dict[str, tuple[str, ...]] = {}
    for ref in refs:
        if not ref.owner:
            named = [VEHICLE]
        elif ref.owner in owners:
            named = [owners[ref.owner].name]
        else:
            named = [f.name for f in fittings.values() if f.kind == ref.owner]
        for name in named:
            key = variable_key(name, ref.state)
            if key in variables:
                both = tuple(value for value in needs.get(key, ref.values) if value in ref.values)
                needs[key] = both or ref.values
    return tuple(Need(key, values) for key, values in needs.items())


def _single(needs: Iterable[Need]) -> dict[str, str]:
    return {need.key: need.values[0] for need in needs}


def _asked(refs: Iterable[StateRef], scope: Mapping[str, Any]) -> list[StateRef]:
    """Return the states that a task asks for, or leaves, in this unit."""
    return [ref for ref in refs if ref.when is None or ref.when.holds(scope)]


def _bind_tasks(
    library: Library,
    unit: Unit,
    fittings: Mapping[str, Fitting],
    variables: Mapping[str, Variable],
    names: Mapping[str, Any],
) -> tuple[BoundTask, ...]:
    matched: list[tuple[Task, Fitting, dict[str, Fitting], dict[str, Any]]] = []
    for task in library.tasks.values():
        for subject in fittings.values():
            if subject.kind != task.subject:
                continue
            roles = _bind_roles(task.roles, subject, fittings)
            if roles is None:
                continue
            scope = text_scope(unit, subject, task.roles, roles, names)
            if task.when is None or task.when.holds(scope):
                matched.append((task, subject, roles, scope))
    times = Counter(task.name for task, *_ in matched)
    bound = []
    for task, subject, roles, scope in matched:
        owners = {"subject": subject, **roles}
        several = times[task.name] > 1
        elsewhere = task.place_when is None or task.place_when.holds(scope)
        whose, _, part = (task.place if elsewhere else "subject").partition(".")
        owner = owners.get(whose, subject)
        at = owner.parts.get(part, owner.place)
        bound.append(
            BoundTask(
                task=task,
                slug=f"{task.name}--{subject.name}" if several else task.name,
                title=task.title,
                subject=subject,
                roles=roles,
                place=at,
                needs=ground_states(_asked(task.needs, scope), owners, fittings, variables),
                sets=_single(ground_states(_asked(task.sets, scope), owners, fittings, variables)),
                during=_single(
                    ground_states(_asked(task.during, scope), owners, fittings, variables)
                ),
                cautions=_collect_cautions(library, unit, task, subject, names),
                staff_only=task.name in unit.staff_only,
            )
        )
    order = list(library.areas)
    bound.sort(key=lambda b: (order.index(b.task.area), b.task.name, b.subject.name))
    return tuple(bound)


def text_scope(
    unit: Unit,
    subject: Fitting,
    roles: tuple[Role, ...],
    bound: Mapping[str, Fitting],
    names: Mapping[str, Any],
) -> dict[str, Any]:
    """Return all names that a text about `subject` may use.

    An optional role that is not bound is None.
    """
    facts = {name: facts_of(fitting, unit) for name, fitting in bound.items()}
    absent = {role.name: None for role in roles if role.name not in bound}
    return {**names, **absent, **facts, "subject": facts_of(subject, unit)}


def _bind_roles(
    wanted: tuple[Role, ...], subject: Fitting, fittings: Mapping[str, Fitting]
) -> dict[str, Fitting] | None:
    """Return the equipment for these roles, or None where one that is not optional lacks.

    Of several fittings of a kind, the one at the subject's own place is meant, else the first.
    """
    roles: dict[str, Fitting] = {}
    for role in wanted:
        candidates = [f for f in fittings.values() if f.kind == role.kind]
        if candidates:
            near = [f for f in candidates if f.place == subject.place]
            roles[role.name] = (near or candidates)[0]
        elif not role.optional:
            return None
    return roles


def _collect_cautions(
    library: Library, unit: Unit, task: Task, subject: Fitting, names: Mapping[str, Any]
) -> tuple[Caution, ...]:
    scope = {**names, "it": facts_of(subject, unit)}
    wanted = [
        hazard.caution
        for hazard in library.kinds[subject.kind].hazards
        if hazard.when is None or hazard.when.holds(scope)
    ]
    wanted += task.cautions
    unique = dict.fromkeys(wanted)
    return tuple(sorted((library.cautions[name] for name in unique), key=lambda c: c.gravity))


def _bind_symptoms(
    library: Library, unit: Unit, fittings: Mapping[str, Fitting], names: Mapping[str, Any]
) -> tuple[BoundSymptom, ...]:
    matched = []
    for symptom in library.symptoms.values():
        for subject in fittings.values():
            if subject.kind != symptom.subject:
                continue
            roles = _bind_roles(symptom.roles, subject, fittings)
            if roles is None:
                continue
            scope = text_scope(unit, subject, symptom.roles, roles, names)
            if symptom.when is None or symptom.when.holds(scope):
                checks = tuple(
                    check
                    for check in symptom.checks
                    if check.when is None or check.when.holds(scope)
                )
                matched.append((symptom, subject, checks))
    times = Counter(symptom.name for symptom, _, _ in matched)
    order = list(library.areas)
    bound = [
        BoundSymptom(
            symptom=symptom,
            slug=f"{symptom.name}--{subject.name}" if times[symptom.name] > 1 else symptom.name,
            title=symptom.title,
            subject=subject,
            checks=checks,
            cautions=tuple(
                sorted((library.cautions[n] for n in symptom.cautions), key=lambda c: c.gravity)
            ),
        )
        for symptom, subject, checks in matched
    ]
    return tuple(sorted(bound, key=lambda b: (order.index(b.symptom.area), b.symptom.name)))
