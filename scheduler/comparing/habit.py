"""The shop's habit: orders one after another by due time, each wholly on the press that is free first.

Every operation is run in the middle of its window at the first pressure it allows. Played by the same dispatch as
a plan, so that what differs is the programme alone.
"""

from __future__ import annotations

from scheduler.instance import Instance, Setting, Task
from scheduler.timetable.dispatch import dispatch
from scheduler.timetable.manner import MANNERS
from scheduler.timetable.programme import Block, Programme, Stretch
from scheduler.timetable.record import Timetable


def habit(instance: Instance) -> Timetable:
    """The habit's day, in the manner of serving that suits it best."""
    programme = habit_programme(instance)
    return min((dispatch(instance, programme, manner) for manner in MANNERS), key=lambda table: table.value)


def habit_programme(instance: Instance) -> Programme:
    """What each press runs by habit."""
    free = [0.0] * len(instance.presses)
    runs: list[list[tuple[Setting, Block]]] = [[] for _ in instance.presses]
    for order in _by_due(instance):
        tasks = [t for line, of in enumerate(instance.order_of) if of == order for t in instance.stages[line]]
        for together in _together(tasks):
            fits = set.intersection(*(set(task.fits) for task in together))
            press = min(fits, key=lambda p: (free[p], p))
            for task in together:
                setting = middle(task, press)
                free[press] += _seconds(instance, task, press, runs[press], setting)
                runs[press].append((setting, Block(task.index, instance.quantity(task.line))))
    return tuple(_stretches(run) for run in runs)


def middle(task: Task, press: int) -> Setting:
    """The middle of the task's window, and the first pressure it allows."""
    fit = task.fits[press]
    return (fit.lo + fit.hi + 1) // 2, fit.pressures[0]


def _by_due(instance: Instance) -> list[int]:
    return sorted(range(len(instance.order_ids)), key=lambda o: (instance.due[o] is None, instance.due[o] or 0, o))


def _together(tasks: list[Task]) -> list[list[Task]]:
    """The order whole where one press takes all of it, else operation by operation."""
    return [tasks] if set.intersection(*(set(task.fits) for task in tasks)) else [[task] for task in tasks]


def _seconds(instance: Instance, task: Task, press: int, run: list[tuple[Setting, Block]], setting: Setting) -> float:
    capacity, pieces = task.fits[press].capacity, instance.quantity(task.line)
    each = instance.timing(task, press, min(pieces, capacity), setting[0]).occupied
    change = instance.set_seconds(press, run[-1][0], setting) if run else 0
    return change + each * -(-pieces // capacity)


def _stretches(run: list[tuple[Setting, Block]]) -> tuple[Stretch, ...]:
    """Neighbours at one setting are one stretch."""
    made: list[Stretch] = []
    for setting, block in run:
        if made and made[-1].setting == setting:
            made[-1] = Stretch(setting, (*made[-1].blocks, block))
        else:
            made.append(Stretch(setting, (block,)))
    return tuple(made)
