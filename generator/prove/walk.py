"""Order a plan as a sensible walk: round the vehicle outside, then inside, with no way twice.

Only actions that do not touch each other's states change places, so every order that comes out
is as good a plan as the one that went in.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from generator.prove.model import Action
from generator.read.units import Body, Spot, Unit

GOING_IN_M = 6.0
"""What going in or out counts for: shoes, steps and a door are worth a walk round the corner."""

Point = tuple[float, float, bool]
"""Metres from the front, metres from the nearside edge, and whether it is inside."""


def order_walk(
    plan: Sequence[Action],
    unit: Unit,
    early: Collection[str] = (),
    late: Collection[str] = (),
) -> tuple[Action, ...]:
    """Return the plan's actions in an order that walks least, taking the nearest that is free.

    Distances in metres. An action without a place is done wherever one stands. Areas in `early`
    come as soon as they are free, those in `late` when nothing else is.
    """
    before = {
        j: {i for i in range(j) if _must_keep_order(plan[i], plan[j])} for j in range(len(plan))
    }
    points = [_point_of(action, unit) for action in plan]
    here: Point = (0.0, unit.body.width_m / 2, False)
    done: set[int] = set()
    ordered: list[Action] = []
    while len(ordered) < len(plan):
        free = [i for i in before if i not in done and before[i] <= done]

        def cost(i: int, here: Point = here) -> tuple[int, float, int]:
            point = points[i]
            task = plan[i].task
            area = task.task.area if task else ""
            turn = 0 if area in early else 2 if area in late else 1
            return (turn, 0.0 if point is None else distance_m(here, point, unit.body), i)

        chosen = min(free, key=cost)
        done.add(chosen)
        ordered.append(plan[chosen])
        point = points[chosen]
        if point is not None:
            here = point
    return tuple(ordered)


def _must_keep_order(first: Action, second: Action) -> bool:
    """Return whether two actions touch the same states, so that their order matters."""
    first_needs = {need.key for need in first.needs}
    second_needs = {need.key for need in second.needs}
    return bool(
        first.sets.keys() & second_needs
        or first.sets.keys() & second.sets.keys()
        or first_needs & second.sets.keys()
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
    return (along, across, spot.wall == "inside")


def distance_m(a: Point, b: Point, body: Body) -> float:
    """Return the way from one point to another on foot, in metres."""
    door = _door(body)
    if a[2] and b[2]:
        return abs(a[0] - b[0]) + abs(a[1] - b[1])
    if a[2] != b[2]:
        inner, outer = (a, b) if a[2] else (b, a)
        inside = abs(inner[0] - door[0]) + abs(inner[1] - door[1])
        return GOING_IN_M + inside + _round_m(outer, door, body)
    return _round_m(a, b, body)


def _door(body: Body) -> Point:
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
