"""One press as a programme is played: its setting, what lies on it, what it still has to run."""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.instance import Instance, PressSide, Setting, Task
from scheduler.timetable.pool import PiecePool
from scheduler.timetable.programme import Stretch
from scheduler.timetable.record import Change, Loading


class PressState:
    """The press at the present moment of a dispatch."""

    def __init__(self, instance: Instance, side: PressSide, stretches: tuple[Stretch, ...]) -> None:
        self.instance = instance
        self.side = side
        self.queue: list[tuple[Setting, list[list[int]]]] = [
            (s.setting, [[b.task, b.pieces] for b in s.blocks if b.pieces]) for s in stretches
        ]
        self.at = 0
        stands = side.stands
        self.setting: Setting | None = stands.setting
        self.live: list[Loading] = []
        self.clearing: list[int] = list(stands.lying)  # when platens now being unloaded will be free
        self.changes: list[Change] = []
        self.idle_since = max([stands.free, *stands.lying])  # when a platen was last free
        self.busy_until = stands.free  # the end of a change
        self.heat_until = 0  # the end of the closing under way, as far as it is known
        self.closed: Loading | None = None
        self.warm_day = stands.warmed
        self.shuts = (
            -1 if stands.warmed < 0 else instance.open_hours[stands.warmed][1]
        )  # closing time of the day it was last warmed up on
        self.shut_day = -1  # a day on which a further change is not worth while
        self._window = 0  # the first window that is not over at the last question
        self.partial = False
        self.wants: set[tuple[int, int]] = set()
        self.passes_left = 2 * len(self.queue) + 6
        self.left = sum(self._cost(task, n) for _, blocks in self.queue for task, n in blocks)

    def _cost(self, task: int, pieces: int) -> int:
        kind = self.instance.tasks[task]
        fit = kind.fits[self.side.index]
        one = self.instance.timing(kind, self.side.index, min(fit.capacity, pieces), fit.lo).occupied
        return one * -(-pieces // fit.capacity)

    @property
    def blocks(self) -> list[list[int]]:
        """What is left of the present stretch, as [task, pieces]."""
        return self.queue[self.at][1] if self.at < len(self.queue) else []

    @property
    def next_task(self) -> Task | None:
        """The task of its next block, None where nothing is left."""
        return self.instance.tasks[self.blocks[0][0]] if self.blocks else None

    @property
    def _target(self) -> Setting | None:
        return self.queue[self.at][0] if self.at < len(self.queue) else None

    @property
    def over(self) -> bool:
        """Whether its own programme has been begun to the last loading."""
        return self.at >= len(self.queue) or (self.at == len(self.queue) - 1 and not self.blocks)

    def window_end(self, now: int) -> int:
        """The end of the working window that holds `now`, or -1 outside; asked with times that do not fall."""
        windows = self.side.windows
        while self._window < len(windows) and windows[self._window][1] <= now:
            self._window += 1
        if self._window < len(windows) and windows[self._window][0] <= now:
            return windows[self._window][1]
        return -1

    def taken(self, now: int) -> int:
        """How many platens are dressed or still being unloaded."""
        if self.clearing:
            self.clearing = [end for end in self.clearing if end > now]
        return len(self.live) + len(self.clearing)

    def settle(self, now: int) -> int | None:
        """Warm up or take the next setting when it is time; the moment it will be ready, or None."""
        if self.live or self.busy_until > now or (self.blocks and self.setting == self._target and now < self.shuts):
            return None
        today = next((i for i, (a, b) in enumerate(self.instance.open_hours) if a <= now < b), -1)
        if today < 0 or self.taken(now):
            return None
        while self.at < len(self.queue) - 1 and not self.blocks:
            self.at += 1
        if self.over or self.shut_day == today or not any(a <= now < b for a, b in self.side.open):
            return None
        target = self.queue[self.at][0]
        warm_up = self.warm_day != today
        if not warm_up and target == self.setting:
            return None
        closes = self.instance.open_hours[today][1]
        seconds = self._warm_up(now, target) if warm_up else self._change(now, target)
        if not self._worth_while(now + seconds, closes):
            self.shut_day = today
            return None
        self.changes.append(Change(self.side.index, now, now + seconds, target, warm_up))
        self.setting, self.warm_day, self.shuts = target, today, closes
        self.busy_until = self.idle_since = now + seconds
        return now + seconds

    def _change(self, now: int, target: Setting) -> int:
        if self.setting is None:  # it was down since it was last set
            stands, press = self.side.stands, self.instance.day.shop.press[self.side.index]
            again = press.pressure_change_s if stands.pressure != target[1] else 0
            return self._warm_up(now, target) + again
        return self.instance.set_seconds(self.side.index, self.setting, target)

    def _warm_up(self, now: int, target: Setting) -> int:
        instance, press, shown = self.instance, self.side.index, self.side.at_start
        if self.setting is not None:
            off = now - instance.open_hours[self.warm_day][1]
            return instance.warm_up(press, instance.overnight(press, float(self.setting[0]), off), target)
        since = self.side.stands.off_since
        if since is not None:
            return instance.warm_up(press, instance.overnight(press, shown, now - since), target)
        fresh = instance.warm_up(press, shown, target)
        off = now - instance.open_hours[0][1]
        if off <= 0:
            return fresh
        return max(fresh, instance.warm_up(press, instance.overnight(press, shown, off), target))

    def _worth_while(self, ready: int, closes: int) -> bool:
        """Whether a loading still fits between the moment the press is ready and closing time."""
        shortest = min((self._one(task, n) for task, n in self.blocks), default=0)
        blanks = min((self.instance.ready[self.instance.tasks[task].line] for task, _ in self.blocks), default=0)
        return any(
            max(start, ready, blanks) + shortest <= min(end, closes)
            for start, end in self.side.windows
            if start < closes
        )

    def _one(self, task: int, pieces: int) -> int:
        kind = self.instance.tasks[task]
        fit = kind.fits[self.side.index]
        return self.instance.timing(kind, self.side.index, min(fit.capacity, pieces), fit.lo).occupied

    def may_load(self, now: int) -> bool:
        """Whether a platen is free, the setting stands and the press is at work."""
        return (
            len(self.live) < self.side.stations
            and self.setting is not None
            and self.busy_until <= now
            and self.taken(now) < self.side.stations
            and self.side.stands.shut_until <= now
            and self.window_end(now) > now
            and self.shuts > now
            and (self.over or self._target == self.setting)
        )

    def choose(self, now: int, pool: PiecePool, keep_order: bool = False) -> tuple[Task, int] | None:
        """The first block of the present stretch whose pieces are here (only the first, to keep the order), and how
        many to load."""
        self.wants.clear()
        for block in self.blocks[:1] if keep_order else self.blocks:
            task = self.instance.tasks[block[0]]
            want = min(task.fits[self.side.index].capacity, block[1])
            here = pool.ready(task, now)
            if here >= want:
                return task, want
            if here and (self.partial or not pool.coming(task)):
                return task, here
            self.wants.add((task.line, task.stage))
        return None

    def put_on(self, loading: Loading, task: Task, pieces: int) -> None:
        """A loading is on the press; its pieces leave the programme."""
        self.live.append(loading)
        for block in self.blocks:
            if block[0] == task.index:
                block[1] -= pieces
                self.left -= loading.script.occupied
                if block[1] <= 0:
                    self.blocks.remove(block)
                break
        if not self.blocks and self.at == len(self.queue) - 1:
            self.left = 0

    def later_tasks(self) -> list[tuple[int, int]]:
        """(task, pieces) still to do, the last first."""
        return [(b[0], b[1]) for _, blocks in reversed(self.queue[self.at :]) for b in reversed(blocks)]

    def ahead(self) -> Iterator[tuple[int, int]]:
        """(task, seconds of a platen) of each block that is left, in order."""
        for _, blocks in self.queue[self.at :]:
            for task, pieces in blocks:
                yield task, self._cost(task, pieces)

    def give_away(self, task: int, pieces: int) -> None:
        """Another press takes pieces of the last block of this task."""
        for _, blocks in reversed(self.queue[self.at :]):
            for block in reversed(blocks):
                if block[0] == task:
                    taken = min(pieces, block[1])
                    self.left -= self._cost(task, taken)
                    block[1] -= taken
                    pieces -= taken
                    if not block[1]:
                        blocks.remove(block)
                    if not pieces:
                        return

    def accept(self, task: int, pieces: int) -> None:
        """Take pieces of a task into the present stretch."""
        self.blocks.append([task, pieces])
        self.left += self._cost(task, pieces)

    def awaits_blanks(self, pool: PiecePool, ahead: int | None = None) -> bool:
        """Whether blanks that are not there yet are all it waits for; `ahead`: in so many blocks to come."""
        tasks = [self.instance.tasks[block[0]] for block in self.blocks[:ahead]]
        return any(task.stage == 0 and pool.coming(task) for task in tasks)

    def pass_over(self, pool: PiecePool) -> bool:
        """Put the present stretch, whose pieces do not come, behind the others; whether that changes anything."""
        if self.awaits_blanks(pool):
            return False
        self.passes_left -= 1
        if self.passes_left < 0:
            return False
        if not self.partial:
            self.partial = True
            return True
        if self.at >= len(self.queue) - 1 or not self.blocks:
            return False
        self.queue.append(self.queue[self.at])
        self.at += 1
        return True
