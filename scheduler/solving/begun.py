"""Where searches begin: at first plans, at the best, and at what the ordered problem would do (`allotment`), as it is
when it is played.

On small days, and in a second search, every line goes as it does in the solution, in a view of its own. Where there are
many jobs the first search keeps to the default ways: solutions found in so little time play from well to very late.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from typing import NamedTuple

from scheduler.solving.allotment import Allotment
from scheduler.solving.incumbent import Incumbent
from scheduler.solving.local import start_cost
from scheduler.solving.moves import Sequences
from scheduler.solving.view import View, shaken
from scheduler.timetable.record import Timetable

_PLAYED = 3  # solutions are played, those the estimate thinks best
# how many times longer than they must pieces are taken to lie on platens, for plans: by the first and the second search
_LOSS, _LOSS_OF_MANY = (1.2, 1.1), (1.0, 1.05)
_WELL = 30  # kicks that shake a plan well

Way = tuple[View, Sequences]


class Begun(NamedTuple):
    """What the ordered problem would do, as it is when it is played, and where a search may begin."""

    table: Timetable
    view: View
    sequences: Sequences


def loss_of(view: View, second: bool) -> float:
    """How many times longer than they must pieces are taken to lie on platens in a plan of the ordered problem."""
    return (_LOSS_OF_MANY if view.many else _LOSS)[second]


def begun(
    view: View, best: Incumbent, found: Sequence[Allotment], second: bool, at: Callable[[Allotment], View | None]
) -> list[Begun]:
    """Play the solutions that seem best by the estimate, and say where searches may begin, the best place first; the
    view takes them among its own starts too. `at`: the view in which every line goes as in a solution."""
    here = [(view, mine) for allotment in found if (mine := view.placed(allotment.places)) is not None]
    view.admit(mine for _, mine in here)
    own = second or not view.many
    ways: list[Way] = [(v, v.sequences) for v in map(at, found) if v is not None] if own else [*here]
    ways.sort(key=lambda way: start_cost(way[0].guess(way[1])))
    played = [
        Begun(where.play(best, "ordered problem", mine, alone=True), where, mine) for where, mine in ways[:_PLAYED]
    ]
    for table, where, mine in played:
        if view.many:
            where.estimator.compare(mine, table)
    return sorted(played, key=lambda place: (place.table.value[0], start_cost(place.table))) if own else []


def by_clock(view: View, best: Incumbent, rng: random.Random, number: int) -> Sequences:
    """Where a long search begins by the clock if not at a plan of the ordered problem: at a first plan, at the best and
    at the best well shaken in turn; where there are many jobs the first at what is nearest to being the best."""
    near = _near(view, best) if number == 0 and view.many else None
    if near is not None:
        return near
    if number % 3 == 0:
        return view.starts[number // 3 % len(view.starts)]
    return view.sequences if number % 3 == 1 else shaken(view, view.sequences, rng, _WELL)


def _near(view: View, best: Incumbent) -> Sequences | None:
    """The nearest to being the best of all that was played, in this view's jobs; None where they don't say it."""
    if best.near is None or best.near.instance.chains != view.instance.chains:
        return None
    return view.retold(best.near.table)


def by_effort(view: View, rng: random.Random, number: int, allotted: bool) -> Sequences:
    """Where a search begins by effort: twice at the best so far, then at it well shaken, then at a first plan. Where
    there are many jobs the second begins at the plan with little work, if the ordered problem gave any."""
    if view.many and allotted and number == 1:
        return view.starts[0]
    if number % 4 == 3:
        return view.first[number // 4 % len(view.first)]
    return shaken(view, view.sequences, rng) if number % 4 == 2 else view.sequences
