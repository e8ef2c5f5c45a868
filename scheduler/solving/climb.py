"""Climbing on played timetables: the rough estimate only proposes, what a dispatch comes to decides.

Late acceptance (Burke and Bykov 2017, European Journal of Operational Research 258): a move is kept when it is no worse
than what stood some moves ago. How much is played is counted in loadings of single pieces, so that it is repeatable and
a large day is not played for ever.
"""

from __future__ import annotations

import random
from collections.abc import Callable

from scheduler.solving.incumbent import Incumbent
from scheduler.solving.local import cost
from scheduler.solving.moves import Moves, Sequences
from scheduler.solving.view import View
from scheduler.timetable.record import Timetable

_DRAWN = 12  # moves the estimate is asked about before one is played
_MEMORY = 12
_TIRED = 40  # moves in vain before it is over


def climb(
    view: View,
    best: Incumbent,
    plays: int,
    rng: random.Random,
    stop: Callable[[], bool],
    start: Sequences | None = None,
) -> None:
    """Play so many piece-loadings of moves of `start`, or else of the view's sequences; what is better the view and the
    incumbent keep."""
    _Climb(view, best, rng, start or view.sequences).run(plays, stop)


def _cost(table: Timetable) -> float:
    """One figure for a timetable, seconds."""
    return 1e9 * table.value[0] + cost(table)


class _Climb:
    def __init__(self, view: View, best: Incumbent, rng: random.Random, start: Sequences) -> None:
        self.view, self.best, self.rng = view, best, rng
        self.moves = Moves(view.estimator, rng)
        self.now = start
        table = view.play(best, "climb", self.now)
        view.estimator.draw_in(0.0)  # it learns of every step
        view.estimator.learn(self.now, table)
        self.now_cost = _cost(table)
        self.memory = [self.now_cost] * _MEMORY
        self.seen: set[tuple[tuple[int, ...], ...]] = set()

    def run(self, plays: int, stop: Callable[[], bool]) -> None:
        for count in range(plays // self.view.loads):
            if stop():
                return
            new = self._proposed()
            if new is None:
                return
            table = self.view.play(self.best, "climb", new, alone=True)
            value = _cost(table)
            slot = count % _MEMORY
            if value <= self.now_cost or value <= self.memory[slot]:
                self.now, self.now_cost = new, value
                self.view.estimator.learn(new, table)
            self.memory[slot] = self.now_cost

    def _proposed(self) -> Sequences | None:
        """Of some moves not played yet the one the estimate thinks best; None where there is none."""
        found: list[tuple[float, Sequences]] = []
        for _ in range(_TIRED * _DRAWN):
            new = self.moves.draw(self.now)
            if new is None or self._key(new) in self.seen:
                continue
            guess = self.view.estimator.run(new)
            if guess is None:
                continue
            found.append((cost(guess), new))
            if len(found) == _DRAWN:
                break
        if not found:
            return None
        new = min(found, key=lambda f: f[0])[1]
        self.seen.add(self._key(new))
        return new

    def _key(self, sequences: Sequences) -> tuple[tuple[int, ...], ...]:
        """Sequences by task and size: like bundles are one another's equals."""
        jobs = self.view.work.jobs
        return tuple(tuple(jobs[j].task * 4096 + jobs[j].pieces for j in press) for press in sequences)
