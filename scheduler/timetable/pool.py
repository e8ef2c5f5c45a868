"""Where the pieces are between loadings: which are ready for which stage, and from when."""

from __future__ import annotations

import heapq
from collections.abc import Iterable

from scheduler.instance import Instance, Task


class PiecePool:
    """Pieces of each line by stage. Pieces are numbers within the line, from 1."""

    def __init__(self, instance: Instance) -> None:
        self._coming: dict[tuple[int, int], list[tuple[int, int]]] = {}
        self._here: dict[tuple[int, int], list[int]] = {}
        self._before: dict[tuple[int, int], int] = {}
        self.waiting = 0  # piece-loadings not yet begun
        for line, stages in enumerate(instance.stages):
            count = instance.quantity(line)
            self.waiting += count * len(stages)
            for task in stages:
                key = (line, task.stage)
                self._coming[key] = sorted(instance.lots[line].pieces) if task.stage == 0 else []
                self._here[key] = []
                self._before[key] = 0 if task.stage == 0 else count

    def ready(self, task: Task, now: int) -> int:
        """How many pieces may be loaded for this task now."""
        key = (task.line, task.stage)
        coming, here = self._coming[key], self._here[key]
        while coming and coming[0][0] <= now:
            heapq.heappush(here, heapq.heappop(coming)[1])
        return len(here)

    def coming(self, task: Task) -> int:
        """How many more pieces will be ready for this task later."""
        key = (task.line, task.stage)
        return self._before[key] + len(self._coming[key])

    def take(self, task: Task, count: int) -> tuple[int, ...]:
        """The pieces with the lowest numbers among those ready."""
        here = self._here[(task.line, task.stage)]
        self.waiting -= count
        return tuple(heapq.heappop(here) for _ in range(count))

    def finish(self, task: Task, pieces: Iterable[int], at: int) -> None:
        """The pieces have done this stage and are free for the next one from `at`."""
        key = (task.line, task.stage + 1)
        if key in self._coming:
            for piece in pieces:
                heapq.heappush(self._coming[key], (at, piece))
                self._before[key] -= 1
