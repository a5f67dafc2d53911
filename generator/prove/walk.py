"""Order a plan as a sensible walk: round the vehicle outside, then inside, with no way twice.

Only actions that do not touch each other's states change places, so every order that comes out
is as good a plan as the one that went in.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence

from generator.prove.model import Action, State
from generator.read.units import Body, Spot, Unit

FROM_INSIDE = ("inside", "roof")
"""Walls whose places a reader reaches from inside: vents and a roof that goes up, among others."""

GOING_IN_M = 6.0
"""What going in or out counts for: shoes, steps and a door are worth a walk round the corner."""

_OUT_OF_TURN_M = 100.0
"""What it counts for to do an early thing late: far more than any walk could save."""

Point = tuple[float, float, bool]
"""Metres from the front, metres from the nearside edge, and whether it is inside."""


def order_walk(
    plan: Sequence[Action],
    start: State,
    unit: Unit,
    early: Collection[str] = (),
    late: Collection[str] = (),
) -> tuple[Action, ...]:
    """Return the plan's actions in an order that walks least, taking the nearest that is free.

    Distances in metres. An action without a place is done wherever one stands. Areas in `early`
    come as soon as they are free, those in `late` when nothing else is.
    """
    states = [start]
    for action in plan:
        states.append(action.after(states[-1]))
    before = {
        j: {i for i in range(j) if _must_keep_order(plan[i], plan[j], states[i])}
        for j in range(len(plan))
    }
    points = [_point_of(action, unit) for action in plan]
    ways: dict[tuple[Point, Point], float] = {}

    def way_m(a: Point, b: Point) -> float:
        if (a, b) not in ways:
            ways[a, b] = distance_m(a, b, unit.body)
        return ways[a, b]

    turns = [_turn(action, early, late) for action in plan]

    # Asked a thousand times: from each action, and last from where one starts, to each action.
    stops: list[Point | None] = [*points, (0.0, unit.body.width_m / 2, False)]
    table = [[0.0 if a is None or b is None else way_m(a, b) for b in points] for a in stops]

    def cost(order: Sequence[int]) -> float:
        here, total, turn = len(points), 0.0, 0
        for i in order:
            if turns[i] < turn:
                total += _OUT_OF_TURN_M * (turn - turns[i])
            else:
                turn = turns[i]
            if points[i] is not None:
                total += table[here][i]
                here = i
        return total

    order = _shorten(_nearest_first(before, points, turns, unit, way_m), before, cost)
    return tuple(plan[i] for i in order)


def _turn(action: Action, early: Collection[str], late: Collection[str]) -> int:
    area = action.task.task.area if action.task else ""
    return 0 if area in early else 2 if area in late else 1


def _nearest_first(
    before: Mapping[int, set[int]],
    points: Sequence[Point | None],
    turns: Sequence[int],
    unit: Unit,
    way_m: Callable[[Point, Point], float],
) -> list[int]:
    """Return an order that always takes what is nearest of what is free and in turn."""
    here: Point = (0.0, unit.body.width_m / 2, False)
    order: list[int] = []
    while len(order) < len(before):
        done = set(order)
        free = [i for i in before if i not in done and before[i] <= done]

        def near(i: int, here: Point = here) -> tuple[int, float, int]:
            point = points[i]
            return (turns[i], 0.0 if point is None else way_m(here, point), i)

        chosen = min(free, key=near)
        order.append(chosen)
        here = points[chosen] or here
    return order


def _shorten(
    order: list[int], before: Mapping[int, set[int]], cost: Callable[[Sequence[int]], float]
) -> list[int]:
    """Return the order after moving single actions elsewhere for as long as that saves way."""
    best = cost(order)
    improved = True
    while improved:
        improved = False
        for start in range(len(order)):
            for end in range(len(order)):
                moved = order[:start] + order[start + 1 :]
                moved.insert(end, order[start])
                if end == start or not _keeps(moved, before):
                    continue
                further = cost(moved)
                if further < best - 0.01:
                    order, best, improved = moved, further, True
    return order


def _keeps(order: Sequence[int], before: Mapping[int, set[int]]) -> bool:
    seen: set[int] = set()
    for i in order:
        if not before[i] <= seen:
            return False
        seen.add(i)
    return True


def _must_keep_order(first: Action, second: Action, before: State) -> bool:
    """Return whether two actions of a plan could not change places.

    `before` is the state in which the plan does `first`. They can change places where neither
    sets what the other asks for, or sets it to what the other can bear and does not rely on.
    """
    asked = {need.key: need.values for need in first.needs}
    for key, value in second.sets.items():
        if key in asked and value not in asked[key]:
            return True
        if first.sets.get(key, value) != value:
            return True
    return any(
        not (before[need.key] in need.values and first.sets[need.key] in need.values)
        for need in second.needs
        if need.key in first.sets
    )


def _point_of(action: Action, unit: Unit) -> Point | None:
    spot = unit.places.get(action.task.place) if action.task else None
    return None if spot is None else point_of(spot, unit.body)


def point_of(spot: Spot, body: Body) -> Point:
    """Return where a reader stands at a place, in metres from the front and the nearside edge."""
    across = {"nearside": 0.0, "offside": body.width_m}.get(spot.wall, spot.across_m)
    along = {"front": 0.0, "rear": body.length_m}.get(spot.wall, spot.along_m)
    if spot.wall in ("front", "rear"):
        across = spot.along_m
    return (along, across, spot.wall in FROM_INSIDE)


def distance_m(a: Point, b: Point, body: Body) -> float:
    """Return the way from one point to another on foot, in metres."""
    door = door_of(body)
    if a[2] and b[2]:
        return abs(a[0] - b[0]) + abs(a[1] - b[1])
    if a[2] != b[2]:
        inner, outer = (a, b) if a[2] else (b, a)
        inside = abs(inner[0] - door[0]) + abs(inner[1] - door[1])
        return GOING_IN_M + inside + _round_m(outer, door, body)
    return _round_m(a, b, body)


def door_of(body: Body) -> Point:
    """Return where a reader stands outside the entrance door."""
    across = {"nearside": 0.0, "offside": body.width_m}.get(body.entrance, body.width_m / 2)
    along = body.length_m if body.entrance == "rear" else body.entrance_along_m
    return (along, across, False)


def _round_m(a: Point, b: Point, body: Body) -> float:
    """Return the shorter way round the vehicle between two points on its outline."""
    length, width = body.length_m, body.width_m
    whole = 2 * (length + width)

    def along_outline(point: Point) -> float:
        x, y, _ = point
        edges: Mapping[str, float] = {
            "nearside": y,
            "rear": length - x,
            "offside": width - y,
            "front": x,
        }
        nearest = min(edges, key=lambda edge: edges[edge])
        return {
            "nearside": x,
            "rear": length + y,
            "offside": length + width + (length - x),
            "front": 2 * length + width + (width - y),
        }[nearest]

    way = abs(along_outline(a) - along_outline(b))
    return min(way, whole - way)
