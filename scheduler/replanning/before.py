"""What the plan before still had to do, press by press and in its order: where planning again starts from.

Work that has lost its place (its press is down, its blank was spoiled, it is new) is put where its time would have
been on the press that takes it with the least to do.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from scheduler.instance import PressFit, Setting, Task
from scheduler.logbook.loadings import Loading
from scheduler.replanning.standing import Carried
from scheduler.solving.bundles import Place, Work, jobs_at
from scheduler.timetable.programme import Block, Programme, Stretch

_FAR = 1 << 40


@dataclass(frozen=True, slots=True)
class Item:
    """So many pieces of a task on a press, as of `key` (seconds); `setting`: what they were to be pressed at."""

    press: int
    key: int
    task: int
    pieces: int
    setting: Setting | None


class Before:
    """The rest of the plan before under what has happened. `homeless`: pieces that had no place in it."""

    def __init__(self, carried: Carried) -> None:
        self.carried, self.instance = carried, carried.instance
        self.press = {side.id: side.index for side in self.instance.presses}
        taken = {item.loading.number for item in carried.taken}
        now = carried.state.at
        self.loadings = [x for x in carried.course.loadings if x.number not in taken and x.start >= now]
        self.load = [0] * len(self.instance.presses)
        self.covered: Counter[int] = Counter()
        kept, lost = self._kept()
        self.homeless = sum(item.pieces for item in lost) + sum(n for _, n in self._uncovered())
        self.items = sorted([*kept, *self._placed(lost)], key=lambda item: (item.key, item.task))

    def programme(self) -> Programme:
        """Its stretches as they were, with what is done taken out and the rest put in."""
        return tuple(self._stretches(press) for press in range(len(self.instance.presses)))

    def sequences(self, work: Work) -> list[list[int]]:
        """The same as jobs of the search, each where the first of its pieces was."""
        places: dict[int, list[Place]] = defaultdict(list)
        for item in self.items:
            places[item.task].append(Place(item.key, item.press, item.pieces))
        return jobs_at(work, len(self.instance.presses), places)

    def _kept(self) -> tuple[list[Item], list[Item]]:
        """What keeps its press, and what cannot."""
        kept: list[Item] = []
        lost: list[Item] = []
        seen: set[tuple[str, int]] = set()
        for loading in self.loadings:
            press, row = self.press[loading.press], loading.rows[0]
            setting = (row.temperature or 0, row.pressure or "")
            for task, pieces in self._tasks(loading, seen):
                fit = task.fits.get(press)
                suits = fit is not None and _suits(fit, setting)
                key = self.carried.day.seconds(loading.start)
                item = Item(press, key, task.index, pieces, setting if suits else None)
                self.covered[task.index] += pieces
                if suits:
                    self._count(item)
                (kept if suits else lost).append(item)
        return kept, lost

    def _tasks(self, loading: Loading, seen: set[tuple[str, int]]) -> Iterator[tuple[Task, int]]:
        """The tasks that a loading of the plan before is now, with how many of its pieces."""
        count: Counter[int] = Counter()
        for piece in loading.pieces:
            lot = self.carried.lot_of.get(piece)
            task = None if lot is None else _task_of(self.instance.stages[lot], loading)
            if task is not None and (piece, task.index) not in seen:
                seen.add((piece, task.index))
                count[task.index] += 1
        for index, pieces in count.items():
            yield self.instance.tasks[index], pieces

    def _uncovered(self) -> Iterator[tuple[Task, int]]:
        for task in self.instance.tasks:
            missing = self.instance.quantity(task.line) - self.covered[task.index]
            if missing > 0:
                yield task, missing

    def _placed(self, lost: list[Item]) -> list[Item]:
        """Work without a place, each where it can be with the least to do; new work by its due time."""
        begins = self.instance.begins
        found = []
        latest: dict[int, int] = {}
        for task, pieces in self._uncovered():
            due = self.instance.due[self.instance.order_of[task.line]]
            key = max(begins, min(_FAR if due is None else due - 3600, self._end()))
            key = max(key, latest.get(task.line, 0) + 1)
            latest[task.line] = key
            lost.append(Item(-1, key, task.index, pieces, None))
        for item in sorted(lost, key=lambda i: (i.key, i.task)):
            fits = self.instance.tasks[item.task].fits
            press = min(fits, key=lambda p: (self.load[p], p))
            found.append(Item(press, item.key, item.task, item.pieces, None))
            self._count(found[-1])
        return found

    def _end(self) -> int:
        return max((self.carried.day.seconds(x.start) for x in self.loadings), default=self.instance.begins)

    def _count(self, item: Item) -> None:
        task = self.instance.tasks[item.task]
        fit = task.fits[item.press]
        one = self.instance.timing(task, item.press, min(fit.capacity, item.pieces), fit.lo).occupied
        self.load[item.press] += one * -(-item.pieces // fit.capacity)

    def _stretches(self, press: int) -> tuple[Stretch, ...]:
        mine = [item for item in self.items if item.press == press]
        made: list[tuple[Setting, list[Block]]] = []
        for number, item in enumerate(mine):
            setting = item.setting or self._setting(press, mine, number, made[-1][0] if made else None)
            if not made or made[-1][0] != setting:
                made.append((setting, []))
            blocks = made[-1][1]
            if blocks and blocks[-1].task == item.task:
                blocks[-1] = Block(item.task, blocks[-1].pieces + item.pieces)
            else:
                blocks.append(Block(item.task, item.pieces))
        return tuple(Stretch(setting, tuple(blocks)) for setting, blocks in made)

    def _setting(self, press: int, mine: list[Item], number: int, now: Setting | None) -> Setting:
        """For work without one: what the press is at then, or is at next, or else the coolest that suits."""
        fit = self.instance.tasks[mine[number].task].fits[press]
        coming = next((item.setting for item in mine[number + 1 :] if item.setting), None)
        for setting in (now, self.instance.presses[press].stands.setting if now is None else None, coming):
            if setting is not None and _suits(fit, setting):
                return setting
        return fit.lo, fit.pressures[0]


def _suits(fit: PressFit, setting: Setting) -> bool:
    return fit.lo <= setting[0] <= fit.hi and setting[1] in fit.pressures


def _task_of(stages: list[Task], loading: Loading) -> Task | None:
    """The stage in which what a loading presses is pressed now."""
    steps = set(loading.steps)
    for task in stages:
        if any((step.operation.placement, step.operation.number) in steps for step in task.steps):
            return task
    return None
