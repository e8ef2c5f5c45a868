"""Where searches begin that take the ordered problem's plans (`allotment`) up: its solutions, as they are when played.

On small days, and in a second search, every line goes as it does in the solution, in a view of its own. Where there are
many jobs the first search keeps to the default ways: solutions found in so little time play from well to very late.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from scheduler.solving.allotment import Allotment
from scheduler.solving.incumbent import Incumbent
from scheduler.solving.local import start_cost
from scheduler.solving.moves import Sequences
from scheduler.solving.view import View
from scheduler.timetable.record import Timetable

_PLAYED = 3  # solutions are played, those the estimate thinks best
# how many times longer than they must pieces are taken to lie on platens, for plans: by the first and the second search
_LOSS, _LOSS_OF_MANY = (1.2, 1.1), (1.0, 1.05)

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
