"""The shortest walk past given places: round the vehicle first, then through it."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from generator.prove.walk import Point, distance_m, door_of, point_of
from generator.read.units import Body, Spot

MOST_EXACT = 12
"""Up to so many places outside, and as many inside, the walk is the shortest there is. With more
it is improved from the nearest neighbour's by turning stretches round, and nearly the shortest."""


def shortest_tour(spots: Sequence[Spot], body: Body) -> tuple[Spot, ...]:
    """Return the places in the order of the shortest walk, in metres.

    It begins in front of the vehicle, passes all places outside, ends at the door, and goes from
    there through all places inside.
    """
    front: Point = (0.0, body.width_m / 2, False)
    door = door_of(body)
    outside = [spot for spot in spots if spot.wall != "inside"]
    inside = [spot for spot in spots if spot.wall == "inside"]
    return (*_shortest(outside, front, door, body), *_shortest(inside, door, None, body))


def _shortest(spots: list[Spot], start: Point, end: Point | None, body: Body) -> tuple[Spot, ...]:
    points = [point_of(spot, body) for spot in spots]
    first = [distance_m(start, point, body) for point in points]
    last = [distance_m(point, end, body) if end else 0.0 for point in points]
    way = [[distance_m(a, b, body) for b in points] for a in points]
    order = _exact(first, last, way) if len(spots) <= MOST_EXACT else _improved(first, last, way)
    return tuple(spots[index] for index in order)


def _exact(first: list[float], last: list[float], way: list[list[float]]) -> list[int]:
    """Return the best order, found over all sets of places (M. Held and R. Karp, 1962)."""
    count = len(first)
    if not count:
        return []
    best = {(1 << i, i): (first[i], -1) for i in range(count)}
    for seen in range(1, 1 << count):
        for i in range(count):
            here = best.get((seen, i))
            if here is None:
                continue
            for j in range(count):
                if not seen >> j & 1:
                    length = here[0] + way[i][j]
                    known = best.get((seen | 1 << j, j))
                    if known is None or length < known[0] - 1e-9:
                        best[seen | 1 << j, j] = (length, i)
    seen = (1 << count) - 1
    at = min(range(count), key=lambda i: best[seen, i][0] + last[i])
    order: list[int] = []
    while at >= 0:
        order.append(at)
        seen, at = seen & ~(1 << at), best[seen, at][1]
    return order[::-1]


def _improved(first: list[float], last: list[float], way: list[list[float]]) -> list[int]:
    left = set(range(len(first)))
    order: list[int] = []
    while left:
        costs = way[order[-1]] if order else first
        order.append(min(left, key=lambda i: (costs[i], i)))
        left.discard(order[-1])

    def length(walk: list[int]) -> float:
        between = sum(way[a][b] for a, b in itertools.pairwise(walk))
        return first[walk[0]] + between + last[walk[-1]]

    better = True
    while better:
        better = False
        for i in range(len(order)):
            for j in range(i + 2, len(order) + 1):
                turned = order[:i] + order[i:j][::-1] + order[j:]
                if length(turned) < length(order) - 1e-9:
                    order, better = turned, True
    return order
