"""Small random models, and what is true of them by looking at every state there is."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping, Sequence

from hypothesis import strategies as st

from generator.fit.guide import Need, Variable
from generator.problems import Mark
from generator.prove.model import Action, Model
from generator.read.kinds import State as Declared

AT = Mark("a.yml")
State = dict[str, str]


def variable(key: str, values: Sequence[str], by_hand: Sequence[str] = ()) -> Variable:
    """Return a variable with these values."""
    declared = Declared(key, tuple(values), {}, None, frozenset(by_hand), AT)
    return Variable(key, "thing", declared)


def action(
    name: str,
    needs: Mapping[str, Sequence[str]],
    sets: Mapping[str, str],
    during: Mapping[str, str] | None = None,
) -> Action:
    """Return an action that belongs to no task."""
    return Action(name, None, as_needs(needs), dict(sets), dict(during or {}))


def as_needs(needs: Mapping[str, Sequence[str]]) -> tuple[Need, ...]:
    """Return needs by variable."""
    return tuple(Need(key, tuple(values)) for key, values in needs.items())


@st.composite
def models(draw: st.DrawFn, situations: int = 2) -> Model:
    """Return a random model of at most 81 states."""
    count = draw(st.integers(1, 4))
    values = {f"v{n}": [f"x{m}" for m in range(draw(st.integers(2, 3)))] for n in range(count)}
    states = st.fixed_dictionaries({key: st.sampled_from(v) for key, v in values.items()})
    actions = [
        action(
            f"a{number}",
            draw(some_needs(values)),
            draw(some_values(values, 2)),
            draw(some_values(values, 1)),
        )
        for number in range(draw(st.integers(0, 7)))
    ]
    return Model(
        variables={key: variable(key, v) for key, v in values.items()},
        actions=tuple(actions),
        situations={f"s{n}": draw(states) for n in range(draw(st.integers(1, situations)))},
    )


@st.composite
def some_needs(draw: st.DrawFn, values: Mapping[str, Sequence[str]], least: int = 0) -> object:
    """Return needs on at most three variables, each of one or more values."""
    keys = draw(st.lists(st.sampled_from(sorted(values)), min_size=least, max_size=3, unique=True))
    return {
        key: draw(st.lists(st.sampled_from(values[key]), min_size=1, max_size=2, unique=True))
        for key in keys
    }


@st.composite
def some_values(draw: st.DrawFn, values: Mapping[str, Sequence[str]], most: int) -> object:
    """Return values of at most so many variables."""
    keys = draw(st.lists(st.sampled_from(sorted(values)), max_size=most, unique=True))
    return {key: draw(st.sampled_from(values[key])) for key in keys}


def needs_of(model: Model) -> st.SearchStrategy[tuple[Need, ...]]:
    """Return a strategy for a goal, or for what is forbidden, in a model."""
    values = {key: v.state.values for key, v in model.variables.items()}
    return some_needs(values, 1).map(as_needs)


def meets(state: Mapping[str, str], needs: Sequence[Need]) -> bool:
    """Return whether a state meets all needs."""
    return all(state[need.key] in need.values for need in needs)


def every_state(model: Model, starts: Sequence[Mapping[str, str]]) -> Iterator[tuple[int, State]]:
    """Yield every state that can be reached, with the number of actions that it takes."""
    queue = deque((0, dict(start)) for start in starts)
    seen = set()
    while queue:
        depth, state = queue.popleft()
        key = tuple(sorted(state.items()))
        if key in seen:
            continue
        seen.add(key)
        yield depth, state
        for act in model.actions:
            if meets(state, act.needs):
                queue.append((depth + 1, {**state, **act.sets}))


def moments(model: Model) -> Iterator[tuple[int, State]]:
    """Yield every state, and what is so while an action is being done, with their depth."""
    for depth, state in every_state(model, list(model.situations.values())):
        yield depth, state
        for act in model.actions:
            if meets(state, act.needs):
                yield depth + 1, {**state, **act.during}
                yield depth + 1, {**state, **act.sets, **act.during}


def replay(start: Mapping[str, str], actions: Sequence[Action]) -> State:
    """Return the state after all actions, each of which must be allowed where it stands."""
    state = dict(start)
    for act in actions:
        assert meets(state, act.needs), f"{act.name} may not be begun here"
        state |= act.sets
    return state
