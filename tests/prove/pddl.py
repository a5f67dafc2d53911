"""A unit's model as PDDL, the open format of planning problems (STRIPS subset), for tests.

Every state of every fitting is a proposition. A need that several values meet is a proposition
of its own, which each action that sets the state keeps true or false.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Sequence
from pathlib import Path

from pyperplan.planner import HEURISTICS, SEARCHES, search_plan

from generator.fit.guide import Need
from generator.prove.model import Action, Model, State


def export_domain(model: Model, wanted: Sequence[Need]) -> str:
    """Return the model's actions as a PDDL domain; `wanted` are needs of goals to come."""
    either = _several(model, wanted)
    facts = [(key, value) for key, v in model.variables.items() for value in v.state.values]
    predicates = [_fact(*fact) for fact in facts] + [_either(need) for need in either]
    actions = "".join(
        _export_action(number, action, model, either)
        for number, action in enumerate(model.actions)
        if action.sets  # what changes nothing helps no plan, and PDDL has no empty effect
    )
    return (
        "(define (domain unit) (:requirements :strips)\n"
        f"(:predicates {' '.join(f'({name})' for name in predicates)})\n{actions})\n"
    )


def export_problem(model: Model, start: State, goal: Sequence[Need], wanted: Sequence[Need]) -> str:
    """Return a start and a goal as a PDDL problem."""
    either = _several(model, wanted)
    true = [_fact(*fact) for fact in start.items()]
    true += [_either(need) for need in either if start[need.key] in need.values]
    return (
        "(define (problem routine) (:domain unit)\n"
        f"(:init {' '.join(f'({name})' for name in sorted(true))})\n"
        f"(:goal (and {' '.join(f'({_name(need)})' for need in goal)})))\n"
    )


def solve(model: Model, start: State, goal: Sequence[Need]) -> tuple[Action, ...] | None:
    """Return the plan of an independent planner (pyperplan), or None if it finds that none is."""
    with tempfile.TemporaryDirectory() as folder:
        domain, problem = Path(folder) / "domain.pddl", Path(folder) / "problem.pddl"
        domain.write_text(export_domain(model, goal), "utf-8")
        problem.write_text(export_problem(model, start, goal, goal), "utf-8")
        found = search_plan(str(domain), str(problem), SEARCHES["gbf"], HEURISTICS["hff"])
    if found is None:
        return None
    numbers = [re.fullmatch(r"\(a(\d+)\s*\)", step.name) for step in found]
    return tuple(model.actions[int(number[1])] for number in numbers if number)


def _several(model: Model, wanted: Sequence[Need]) -> list[Need]:
    """Return each need that several values meet, once."""
    needs = [need for action in model.actions for need in action.needs] + list(wanted)
    return list({_either(need): need for need in needs if len(need.values) > 1}.values())


def _export_action(number: int, action: Action, model: Model, either: Sequence[Need]) -> str:
    needs = " ".join(f"({_name(need)})" for need in action.needs)
    effects = []
    for key, value in action.sets.items():
        effects += [
            f"(not ({_fact(key, other)}))"
            for other in model.variables[key].state.values
            if other != value
        ]
        effects.append(f"({_fact(key, value)})")
        effects += [
            f"({_either(need)})" if value in need.values else f"(not ({_either(need)}))"
            for need in either
            if need.key == key
        ]
    return (
        f"(:action a{number} :parameters () :precondition (and {needs}) "
        f":effect (and {' '.join(effects)}))\n"
    )


def _name(need: Need) -> str:
    return _fact(need.key, need.values[0]) if len(need.values) == 1 else _either(need)


def _either(need: Need) -> str:
    return "--or--".join(_fact(need.key, value) for value in sorted(need.values))


def _fact(key: str, value: str) -> str:
    return f"{key.replace('.', '--')}--is--{value}"
