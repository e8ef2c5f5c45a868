"""Why a day has no plan: which lines find no time, and what there is too little of."""

from __future__ import annotations

from collections import Counter

from scheduler.calendar import HORIZON_DAYS, length
from scheduler.instance import Instance, Task
from scheduler.timetable.record import Timetable

UNPROVEN = (
    "no plan was found, which does not prove that there is none; more hours, another press or person, "
    "or fewer pieces would make room"
)


def shortages(instance: Instance, table: Timetable, proven: bool = False) -> list[str]:
    """One sentence for each line that found no place, with the hours it needs and the hours there are; and where it is
    not `proven` that no other plan does better, that as well."""
    placed: Counter[int] = Counter()
    for loading in table.loadings:
        placed[loading.script.task.index] += len(loading.pieces)
    reasons = []
    for task in instance.tasks:
        line = instance.lines[task.line]
        missing = line.quantity - placed[task.index]
        if missing > 0:
            reasons.append(_sentence(instance, task, missing))
    if not reasons:
        reasons.append(
            "some work found no time without breaking a rule: nobody was there when a press had to be opened"
        )
    return reasons if proven else [*reasons, UNPROVEN]


def _sentence(instance: Instance, task: Task, missing: int) -> str:
    line = instance.lines[task.line]
    presses = [instance.presses[p] for p in task.fits]
    hours = sum(length(press.windows) for press in presses) / 3600
    needed = min(
        instance.timing(task, p, fit.capacity, fit.lo).occupied * -(-line.quantity // fit.capacity)
        for p, fit in task.fits.items()
    )
    names = ", ".join(f'"{press.id}"' for press in presses)
    hands = max(
        (length(who.windows) for who in instance.people if any(press.index in who.presses for press in presses)),
        default=0,
    )
    return (
        f'order "{line.order}" line {line.line}: {missing} of {line.quantity} pieces find no time for '
        f'"{task.placement}" within {HORIZON_DAYS} days; the line needs {needed / 3600:.1f} press hours of {names}, '
        f"which work {hours:.1f} h in that time, and whoever runs them is there {hands / 3600:.1f} h at most"
        + _ready_note(instance, task)
    )


def _ready_note(instance: Instance, task: Task) -> str:
    ready = instance.ready[task.line]
    if ready > instance.horizon:
        return f"; its blanks are ready only at {instance.day.at(ready):%Y-%m-%d %H:%M}, after the last of those hours"
    return ""
