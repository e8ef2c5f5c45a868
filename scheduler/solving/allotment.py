"""A first plan from the ordered problem (`stretches`): which press stands at which setting, what goes where, and which
way each line goes for that (`courses`).

It knows what changes of setting cost and what they save, over the whole day at once, as no rule that goes forward in
time does. Within a stretch the work goes in the order of due times.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from scheduler import calendar
from scheduler.instance import Chain, Instance, Routes
from scheduler.solving.axis import Axis
from scheduler.solving.bounds import allowed, finish_floor
from scheduler.solving.bundles import Place
from scheduler.solving.courses import courses
from scheduler.solving.loads import Part, least_parts
from scheduler.solving.relaxation import opening_days
from scheduler.solving.stretches import Stretches, Taken
from scheduler.solving.view import Operation

_MOST_CHANGES = 5
_SHARE = 0.5  # of the effort that is left, for each number of changes
_KEPT, _NEAR = 5, 1.05  # so many of those on the way to the cheapest, and how many times its cost they may have
_FLOOR_WORTH = 0.5  # deterministic seconds from which it is worth proving when no plan ends, which guides the search
_LEAST_EFFORT = 0.05  # deterministic seconds: less finds nothing

_Places = dict[Operation, list[Place]]


@dataclass(frozen=True)
class Allotment:
    """Where the pieces of each operation go, by when they are begun (a place's key, seconds), and each line's chain."""

    places: Mapping[Operation, Sequence[Place]]
    chains: tuple[Chain, ...]


def allotments(instance: Instance, routes: Routes, known: float, effort: float, loss: float = 1.0) -> list[Allotment]:
    """Where everything might go with 0, 1, 2... changes of setting, the cheapest first.

    None for days on which the shop opens more than once. `known`: the second goal of a plan in hand, seconds; nothing
    dearer is looked for, and nothing that is late. `effort`: deterministic seconds for all of them. `loss`: how many
    times longer than they must pieces are taken to lie on platens, for want of hands or of pieces.
    """
    if instance.standing is not None or opening_days(instance, known) > 1:
        return []
    parts, found = least_parts(instance, routes), list[tuple[float, list[Taken]]]()
    axis = Axis(calendar.shop_windows(instance.day))
    floor = axis.work(instance.begins)
    if effort >= _FLOOR_WORTH:
        floor, _ = finish_floor(instance, parts, known, floor, effort)
    due = allowed(instance, parts, axis, 0.0)
    for most in range(_MOST_CHANGES + 1):
        ordered = Stretches(instance, parts, known, floor, most, due, loss)
        met = ordered.cheapest(_SHARE * effort, known)
        effort -= ordered.spent
        if met:
            known = met[-1][0] - 1
            found += [plan for plan in met[-_KEPT:] if plan[0] <= _NEAR * met[-1][0]]
        if (found and not met) or effort < _LEAST_EFFORT:
            break
    return [_allotment(instance, routes, parts, axis, taken) for _, taken in sorted(found, key=lambda plan: plan[0])]


def _allotment(
    instance: Instance, routes: Routes, parts: Sequence[Part], axis: Axis, taken: Sequence[Taken]
) -> Allotment:
    opened = _places(instance, parts, [(axis.real(item.opens), item) for item in taken])
    chains = courses(instance.day, routes, parts, taken, opened)
    return Allotment(_places(instance, parts, _begun(instance, parts, axis, taken)), chains)


def _places(instance: Instance, parts: Sequence[Part], begun: Iterable[tuple[int, Taken]]) -> _Places:
    """Each line's share of its part, in the order in which the pieces are begun."""
    shares: dict[tuple[int, int], list[Place]] = defaultdict(list)
    for begins, item in sorted(begun, key=lambda begun: begun[0]):
        for number in range(item.run.first, item.run.last + 1):
            shares[item.part, number].append(Place(begins, item.press, item.pieces))
    return {
        (line, part.placement, number + 1): _first(shares[index, number], instance.quantity(line), before)
        for index, part in enumerate(parts)
        for number in range(part.operations)
        for line, before in _before(instance, part.lines)
    }


def _begun(
    instance: Instance, parts: Sequence[Part], axis: Axis, taken: Iterable[Taken]
) -> Iterable[tuple[int, Taken]]:
    """When each would begin, seconds, if the work of a stretch went by due time."""

    def urgency(item: Taken) -> tuple[float, int, int, int]:
        part = parts[item.part]
        return math.inf if part.due is None else part.due, part.ready, item.part, item.run.first

    free: dict[int, float] = defaultdict(float)
    for item in sorted(taken, key=lambda item: (item.opens, urgency(item))):
        begins = max(free[item.press], axis.real(item.opens), parts[item.part].ready)
        free[item.press] = begins + item.pieces * item.seconds / instance.presses[item.press].stations
        yield int(begins), item


def _before(instance: Instance, lines: Sequence[int]) -> Iterable[tuple[int, int]]:
    """Each line with how many pieces of its part the lines before it have."""
    count = 0
    for line in lines:
        yield line, count
        count += instance.quantity(line)


def _first(places: Sequence[Place], pieces: int, skip: int) -> list[Place]:
    """The places of so many pieces after the first `skip`."""
    found: list[Place] = []
    for place in places:
        mine = min(max(0, place.pieces - skip), pieces)
        skip = max(0, skip - place.pieces)
        pieces -= mine
        if mine:
            found.append(Place(place.key, place.press, mine))
    return found
