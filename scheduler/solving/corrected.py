"""Searching on the estimate, and again from what was played: its answers are put right where they are."""

from __future__ import annotations

import random
from collections.abc import Callable

from scheduler.solving.efforts import Effort
from scheduler.solving.incumbent import Incumbent
from scheduler.solving.local import ENDLESS, HOT, WARM, clock, finalists
from scheduler.solving.moves import Sequences
from scheduler.solving.steps import by_steps
from scheduler.solving.view import View

# shares by which due times are drawn in, search by search: where paces are played, and where a formula gives them
_CLOSE, _ROUGH = (0.0, 0.015, 0.0), (0.06, 0.12, 0.0)
_SHORTER = 4  # a search that corrects takes a share of the moves
_BRIEFER = 5  # by the clock it takes a share of the seconds
_ONCE = 1  # correction by the clock where paces are played: the estimate is near, and another search worth more
_POOR = 1.1  # times the best one's work: what is mended only so is given up


def margin(view: View, number: int = 0) -> float:
    """The share by which the due times of a view are drawn in, in the search of this number."""
    margins = _CLOSE if view.estimator.paces.played else _ROUGH
    return margins[(number + number // 3) % len(margins)]


def corrected(
    view: View,
    best: Incumbent,
    effort: Effort,
    now: Sequences,
    rng: random.Random,
    stop: Callable[[], bool],
    seconds: float | None = None,
) -> None:
    """Search, play the finalists, let the estimate learn from the best of them, and search on from there: what was
    to be in time by the estimate and is not when it is played is mended. With many jobs it goes on by small steps. The
    view and the incumbent keep what is best.

    `seconds`: by the clock, what the first search takes, and each of the others a share of, whatever the moves.
    """
    view.estimator.forget()
    if view.many:
        by_steps(view, best, effort, now, rng, stop, seconds)
        return
    moves_once = effort.moves * len(view.work.jobs)
    once = seconds is not None and view.estimator.paces.played
    for again in range(1 + (_ONCE if once else effort.corrections)):
        moves, passed = moves_once // _SHORTER if again else moves_once, None
        if seconds is not None:
            moves, passed = ENDLESS, clock(seconds / _BRIEFER if again else seconds)
        hot = WARM if again else HOT
        found = finalists(view.estimator, now, moves, rng, effort.finalists, stop, passed, hot)
        tables = [view.play(best, "search", sequences, alone=True) for sequences in found]
        table, now = min(zip(tables, found, strict=True), key=lambda played: played[0].value)
        assert best.table is not None
        if stop() or table.work > _POOR * best.table.work:
            break
        view.estimator.learn(now, table)
