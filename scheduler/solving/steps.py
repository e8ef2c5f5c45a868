"""Where there are many jobs: a few long searches, and from the best of them many small steps.

What an estimate of many jobs thinks best is what it errs about most. Near what was played it is right, because it has
learnt from that, and so each step is a short cold search from the best played so far, and is played itself: a trust
region, as in continuous optimisation (Conn, Gould and Toint 2000, Trust-Region Methods).
"""

from __future__ import annotations

import random
from collections.abc import Callable

from scheduler.solving.efforts import Effort
from scheduler.solving.incumbent import Incumbent
from scheduler.solving.local import ENDLESS, clock, cost, finalists
from scheduler.solving.moves import Sequences
from scheduler.solving.view import View
from scheduler.timetable.record import Timetable

# by the clock, and by effort: they end far from each other, and which to go on from matters more than their length
_SEARCHES, _BY_EFFORT = 3, 2
LARGE = 3000  # pressings of a piece: of so many one long search is worth more
_FAIR = 200.0  # seconds of work, the heat they begin at: little enough to keep the settings they begin with
_LATE = 1.0  # seconds of work that a weighted late second counts where one is chosen: steps take it away
_SHORTER, _LEAST = 8, 300  # a step takes a share of the moves, but so many at the least
_MOVES, _STEPPING = 2000, 4.0  # by the clock: moves a step takes, and times a search's seconds that all of them take
_MILD = 20.0  # seconds of work, the heat of a step
_DEAR = (20.0, 200.0)  # seconds of work that a weighted late second counts in the first steps, and in the last
_CLEAR = 0.005  # the share by which due times are drawn in, once, twice or three times

_Played = tuple[Timetable, Sequences]


def by_steps(
    view: View,
    best: Incumbent,
    effort: Effort,
    start: Sequences,
    rng: random.Random,
    stop: Callable[[], bool],
    seconds: float | None = None,
) -> None:
    """Search from `start`, and step on from what it found. `seconds`: by the clock, what one of the searches takes."""
    moves = effort.moves * len(view.work.jobs)
    table, now = _searched(view, best, start, ENDLESS if seconds else moves, rng, stop, seconds)
    view.estimator.learn(now, table)
    passed = clock(_STEPPING * seconds) if seconds else None
    few, number = (_MOVES if seconds else max(_LEAST, moves // _SHORTER)), 0
    while (share := passed() if passed else number / max(1, effort.steps)) < 1 and not stop():
        dear = _DEAR[int(share * len(_DEAR))]
        view.estimator.draw_in(_CLEAR * (1 + number % 3))
        (new,) = finalists(view.estimator, now, few, rng, 1, stop, hot=_MILD, dear=dear)
        played = view.play(best, "step", new, alone=True)
        if cost(played, dear) <= cost(table, dear):
            table, now = played, new
            view.estimator.anchor(now, table)
        number += 1


def _searched(
    view: View,
    best: Incumbent,
    start: Sequences,
    moves: int,
    rng: random.Random,
    stop: Callable[[], bool],
    seconds: float | None,
) -> _Played:
    """The best of a few searches, as they are when they are played."""
    found: list[_Played] = []
    count = _SEARCHES if seconds else _BY_EFFORT
    for _ in range(1 if view.loads > LARGE else count):
        passed = clock(seconds) if seconds else None
        (new,) = finalists(view.estimator, start, moves, rng, 1, stop, passed, _FAIR)
        found.append((view.play(best, "search", new, alone=True), new))
        if stop():
            break
    return min(found, key=lambda played: cost(played[0], _LATE))
