"""A whole small day put right to the second, its order kept: what the dispatch's rules of serving left over."""

from __future__ import annotations

from dataclasses import replace

from scheduler.instance import Instance
from scheduler.timetable.measure import measure
from scheduler.timetable.record import Change, Loading, Timetable

MOST = 80  # loadings an exact model of the whole takes in its stride


def polish(instance: Instance, table: Timetable, effort: float, seed: int) -> Timetable:
    """A timetable no worse than the one given, the same one where nothing better was found.

    `effort`: deterministic seconds; days of more than `MOST` loadings come back as they are.
    """
    from scheduler.timetable.exact import retime

    if not effort or not 0 < len(table.loadings) <= MOST:
        return table
    rest = [0] * len(instance.presses)
    found = retime(instance, table.loadings, (), table.changes, rest, effort, seed)
    if found is None:
        return table
    changes = [_moved(instance, change, table, found) for change in table.changes]
    better = measure(instance, Timetable(found, sorted(changes, key=lambda c: (c.start, c.press))))
    return better if better.value < table.value else table


def _moved(instance: Instance, change: Change, table: Timetable, found: list[Loading]) -> Change:
    """A change begins when what lay on the press before it is off; warm-ups stay."""
    if change.warm_up:
        return change
    new = {loading.number: loading for loading in found}
    before = [x for x in table.loadings if x.press == change.press and x.off <= change.start]
    start = max((new[x.number].off for x in before), default=change.start)
    opens = max((a for a, _ in instance.presses[change.press].open if a <= change.start), default=0)
    start = max(start, min(opens, change.start))
    return replace(change, start=start, end=start + change.end - change.start)
