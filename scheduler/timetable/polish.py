"""A day put right to the second, its order kept: what the dispatch's rules of serving left over."""

from __future__ import annotations

from collections.abc import Callable

from scheduler.instance import Instance
from scheduler.timetable.measure import measure
from scheduler.timetable.record import Timetable

MOST = 80  # loadings an exact model of the whole takes in its stride
_WINDOWS = 0.8  # how much of the effort windows get: they are many, and each is soon done


def polish(
    instance: Instance,
    table: Timetable,
    effort: float,
    seed: int,
    stop: Callable[[], bool] = lambda: False,
    workers: int = 2,
) -> Timetable:
    """A timetable no worse than the one given, the same one where nothing better was found.

    `effort`: deterministic seconds; days of more than `MOST` loadings are put right in windows, so many at once as
    there are `workers`. `stop` ends it before.
    """
    from scheduler.timetable.exact import retime
    from scheduler.timetable.rolling import put_in, rolled

    if not effort or not table.loadings or stop():
        return table
    if len(table.loadings) > MOST or table.worked:
        return rolled(instance, table, _WINDOWS * effort, seed, stop, workers)
    rest = [0] * len(instance.presses)
    found = retime(instance, table.loadings, (), table.changes, rest, effort, seed)
    if found is None:
        return table
    better = measure(instance, put_in(instance, table, found))
    return better if better.value < table.value else table
