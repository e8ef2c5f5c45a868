"""The hand rows of a loading and how they hang together (contract, section 3.2, 3.4, 3.5)."""

from __future__ import annotations

from dataclasses import dataclass
from weakref import WeakKeyDictionary

from models.plan import What
from scheduler.instance import Instance, PressSide, Step, Task, hand

FAR = 1 << 40

_Key = tuple[int, int, int, int]


@dataclass(frozen=True, slots=True)
class Act:
    """One hand row of a loading. It starts [lo, hi] seconds after the hand row before it ends.

    `step` is the closing it belongs to; `closed` the shortest seconds under heat that pass before it
    starts (0: the platen stays open) and `pre` whether that is a prepress.
    """

    what: What
    step: int
    seconds: float
    lo: int
    hi: int
    closed: int = 0
    pre: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Script:
    """A loading's hand rows with their times for each person.

    `times[person][i]` is row i's length, `rest[i]` the least time from its start until the platen is free at
    the slowest pace. `peel` bounds the off-press peel's start from the opening (None: no such peel), and
    `peel_times` is its length for each person.

    What a dispatch asks again and again, laid out for it: `spans[i]` is row i's (lo, hi, rest), `lengths[person]`
    their times with the off-press peel as the last, `heats[i]` whether the platen is under heat before row i, with
    two more that are not, and `whole[i]` the time from row i's start until nothing of the loading is due any more,
    at the slowest pace and without waits, the off-press peel's own as the last.
    """

    task: Task
    pieces: int
    auto_open: bool
    acts: tuple[Act, ...]
    times: tuple[tuple[int, ...], ...]
    rest: tuple[int, ...]
    peel: tuple[int, int] | None
    peel_times: tuple[int, ...]
    occupied: int
    spans: tuple[tuple[int, int, int], ...] = ()
    lengths: tuple[tuple[int, ...], ...] = ()
    heats: tuple[bool, ...] = ()
    whole: tuple[int, ...] = ()


_written: WeakKeyDictionary[Instance, dict[_Key, Script]] = WeakKeyDictionary()


def scripts_of(instance: Instance) -> dict[_Key, Script]:
    """The scripts written for a day so far, by task, press, pieces and set-point: it is dispatched many times."""
    return _written.setdefault(instance, {})


def script_of(instance: Instance, task: Task, press: PressSide, pieces: int, setpoint: int) -> Script:
    """The hand rows of one loading of so many pieces on a press at a set-point."""
    acts = _acts(instance, task, press, pieces, setpoint)
    times = tuple(tuple(hand(who.pace, pieces, act.seconds) for act in acts) for who in instance.people)
    slowest = max(who.pace for who in instance.people if press.index in who.presses)
    rest, total = [], 0
    for act in reversed(acts):
        total += hand(slowest, pieces, act.seconds)
        rest.append(total)
        total += act.lo
    peel = _off_press_peel(instance, task, press.index, pieces, setpoint)
    peel_times = tuple(hand(who.pace, pieces, task.steps[-1].peel) for who in instance.people)
    occupied = instance.timing(task, press.index, pieces, setpoint).occupied
    rest.reverse()
    peeling = 0 if peel is None or peel[1] >= FAR else peel[0] + max(peel_times)
    return Script(
        task,
        pieces,
        press.auto_open,
        acts,
        times,
        tuple(rest),
        peel,
        peel_times,
        occupied,
        spans=tuple((act.lo, act.hi, left) for act, left in zip(acts, rest, strict=True)),
        lengths=tuple((*mine, last) for mine, last in zip(times, peel_times, strict=True)),
        heats=(*(act.closed > 0 for act in acts), False, False),
        whole=(*(left + peeling for left in rest), max(peel_times)),
    )


def _acts(instance: Instance, task: Task, press: PressSide, pieces: int, setpoint: int) -> tuple[Act, ...]:
    acts = [Act("load", 0, task.load, 0, FAR)]
    heat: tuple[int, int] | None = None  # shortest and longest time under heat that is still to pass
    for number, step in enumerate(task.steps):
        if step.operation.layers:
            acts.append(_align(step, number, heat, press.auto_open))
        heat = (step.dwell, FAR if press.auto_open else step.dwell_hi)
        if instance.peels_on_press(task, number, press.index, pieces, setpoint):
            acts.append(_peel(instance, step, number, setpoint, press.auto_open))
            heat = None
    lo, hi = heat or (0, FAR)
    if heat and press.auto_open:
        hi = _unload_before_peel(instance, task, press, pieces, setpoint)
    acts.append(Act("unload", len(task.steps) - 1, task.unload, lo, hi, closed=heat[0] if heat else 0))
    return tuple(acts)


def _align(step: Step, number: int, heat: tuple[int, int] | None, auto_open: bool) -> Act:
    if step.prepress:
        hi = FAR if auto_open else step.prepress_hi
        return Act("align", number, step.align, step.prepress, hi, closed=step.prepress, pre=True)
    lo, hi = heat or (0, FAR)
    return Act("align", number, step.align, lo, hi, closed=heat[0] if heat else 0)


def _peel(instance: Instance, step: Step, number: int, setpoint: int, auto_open: bool) -> Act:
    window = instance.peel_window(step, setpoint)
    assert window is not None
    if not auto_open:
        return Act("peel", number, step.peel, step.dwell, step.dwell_hi, closed=step.dwell)
    hi = FAR if window.hi is None else step.dwell + window.hi
    return Act("peel", number, step.peel, step.dwell + window.lo, hi, closed=step.dwell)


def _off_press_peel(instance: Instance, task: Task, press: int, pieces: int, setpoint: int) -> tuple[int, int] | None:
    last = len(task.steps) - 1
    window = instance.peel_window(task.steps[last], setpoint)
    if window is None or instance.peels_on_press(task, last, press, pieces, setpoint):
        return None
    return window.lo, FAR if window.hi is None else window.hi


def _unload_before_peel(instance: Instance, task: Task, press: PressSide, pieces: int, setpoint: int) -> int:
    """On a press that opens by itself: the latest start of the unloading so that the peel is not too late."""
    peel = _off_press_peel(instance, task, press.index, pieces, setpoint)
    if peel is None or peel[1] >= FAR:
        return FAR
    pace = max(who.pace for who in instance.people if press.index in who.presses)
    return task.steps[-1].dwell + peel[1] - hand(pace, pieces, task.unload)
