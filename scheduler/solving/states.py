"""Where a rough playing stands from event to event, so that another can begin where it first differs from it."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from typing import TYPE_CHECKING

from scheduler.instance import Setting
from scheduler.solving.ahead import Row

if TYPE_CHECKING:
    from scheduler.solving.estimate import Estimator


class State:
    """Where a playing stands before an event; lists are by press, or else by job or order."""

    __slots__ = (
        "asks", "at", "change_seconds", "changes", "ends", "finish", "free", "late", "now", "rest", "running",
        "segment", "setting", "starts", "until", "worked",
    )  # fmt: skip

    def __init__(self, estimator: Estimator) -> None:
        stands = [side.stands for side in estimator.instance.presses]
        hours = estimator.instance.open_hours
        self.at = [0] * len(stands)
        self.free = [max([press.free, *press.lying]) for press in stands]
        self.setting: list[Setting | None] = [press.setting for press in stands]
        # the closing time of the day a press was last warmed up for
        self.until = [-1 if press.setting is None or press.warmed < 0 else hours[press.warmed][1] for press in stands]
        self.running = [-1] * len(stands)  # each press's present job
        self.asks = [-1] * len(stands)  # what it asks of the crew; nothing where it only waits for the job before it
        self.rest = [0.0] * len(stands)  # seconds of it that are left, with hands enough
        self.worked = [0] * len(stands)  # seconds of the jobs that are done, with hands enough
        self.starts = [-1] * len(estimator.work.jobs)
        self.ends = [-1] * len(estimator.work.jobs)
        self.finish = [0] * len(estimator.instance.order_ids)
        self.late = 0.0
        self.changes = self.change_seconds = 0
        self.segment = 0
        self.now: float = min(self.free)

    def copy(self) -> State:
        """The same, to go on from."""
        new = State.__new__(State)
        new.at, new.free, new.setting, new.until = self.at[:], self.free[:], self.setting[:], self.until[:]
        new.running, new.asks, new.rest, new.worked = self.running[:], self.asks[:], self.rest[:], self.worked[:]
        new.starts, new.ends, new.finish = self.starts[:], self.ends[:], self.finish[:]
        new.late, new.changes, new.change_seconds = self.late, self.changes, self.change_seconds
        new.segment, new.now = self.segment, self.now
        return new


class Record:
    """What a playing went through: its rows, the state before each event, and before which of them each press was
    first free for each of its jobs."""

    def __init__(self, rows: Sequence[Row]) -> None:
        self.rows = rows
        self.states: list[State] = []
        self.turns: list[list[int]] = [[] for _ in rows]

    def note(self, state: State) -> None:
        """Another event is about to be."""
        for turns, at, running in zip(self.turns, state.at, state.running, strict=True):
            if running < 0 and len(turns) <= at:
                turns.append(len(self.states))
        self.states.append(state.copy())

    def parting(self, rows: Sequence[Row]) -> int:
        """The last of its states, by number, that a playing of other rows goes through as well."""
        event = len(self.states) - 1
        for mine, theirs, turns in zip(self.rows, rows, self.turns, strict=True):
            if mine is not theirs:
                same = mine.alike(theirs)
                if same < len(turns):
                    event = min(event, turns[same])
        return event

    def branch(self, rows: Sequence[Row], event: int) -> Record:
        """The record of a playing of other rows, up to an event before which they do not part."""
        new = Record(rows)
        new.states = self.states[:event]
        new.turns = [turns[: bisect_left(turns, event)] for turns in self.turns]
        return new
