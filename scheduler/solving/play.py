"""The incumbent played in the campaign model's own terms, so that it can be hinted whole."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from scheduler.instance import Instance, Setting
from scheduler.solving.bundles import Work
from scheduler.solving.settings import Settings


class Rules(Protocol):
    """What the campaign model lays down: see `CampaignModel`, which is one."""

    instance: Instance
    work: Work
    settings: Settings
    paces: Sequence[Mapping[int, int]]
    incumbent: Sequence[Sequence[int]]
    home: dict[int, tuple[int, int]]
    used: list[list[Setting]]
    count: list[int]

    def earliest(self, job: int) -> int:
        """When the blanks of a job are there."""

    def lags(self, job: int) -> tuple[int, int]:
        """Least seconds from the start before to this start, and from the end before to this end."""

    def away(self, press: int) -> list[tuple[int, int]]:
        """When a press is away."""


@dataclass(frozen=True, slots=True)
class Played:
    """Starts and ends of jobs, and (setting, start, end) of each campaign, in working seconds."""

    starts: list[int]
    ends: list[int]
    spans: list[list[tuple[Setting, int, int]]]


def play(model: Rules) -> Played:
    """Earliest times of the incumbent under the model's rules."""
    return _Play(model).run()


class _Play:
    def __init__(self, model: Rules) -> None:
        self.m = model
        jobs = len(model.work.jobs)
        self.starts, self.ends = [-1] * jobs, [-1] * jobs
        self.free = [0] * len(model.incumbent)
        self.stretch = [-1] * len(model.incumbent)
        self.spans: list[list[tuple[Setting, int, int]]] = [[] for _ in model.incumbent]

    def run(self) -> Played:
        at = [0] * len(self.m.incumbent)
        left = sum(len(jobs) for jobs in self.m.incumbent)
        while left:
            moved = False
            for press, jobs in enumerate(self.m.incumbent):
                while at[press] < len(jobs) and self._ready(jobs[at[press]]):
                    self._place(press, jobs[at[press]])
                    at[press] += 1
                    left -= 1
                    moved = True
            if not moved:
                raise ValueError("the incumbent's jobs wait for each other")
        return Played(self.starts, self.ends, self._all_spans())

    def _ready(self, job: int) -> bool:
        before = self.m.work.jobs[job].before
        return before < 0 or self.ends[before] >= 0

    def _place(self, press: int, job: int) -> None:
        m, item = self.m, self.m.work.jobs[job]
        k = m.home[job][1]
        if k != self.stretch[press]:
            self._next_stretch(press, k)
        earliest = max(self.free[press], m.earliest(job))
        seconds = m.paces[job][press]
        if item.before >= 0:
            first, last = m.lags(job)
            earliest = max(earliest, self.starts[item.before] + first, self.ends[item.before] + last - seconds)
        for a, b in m.away(press):
            if earliest < b and earliest + seconds > a:
                earliest = b
        self.starts[job], self.ends[job] = earliest, earliest + seconds
        self.free[press] = earliest + seconds
        setting, opens, _ = self.spans[press][-1]
        self.spans[press][-1] = (setting, opens, earliest + seconds)

    def _next_stretch(self, press: int, k: int) -> None:
        instance, setting = self.m.instance, self.m.used[press][k]
        if k == 0:
            self.free[press] = instance.warm_up(press, instance.presses[press].at_start, setting)
        else:
            self.free[press] += instance.set_seconds(press, self.m.used[press][k - 1], setting)
        self.stretch[press] = k
        self.spans[press].append((setting, self.free[press], self.free[press]))

    def _all_spans(self) -> list[list[tuple[Setting, int, int]]]:
        """Unused campaigns stand at the end, without a change."""
        for press, spans in enumerate(self.spans):
            options = self.m.settings.candidates(press)
            if not spans and options:
                warm = self.m.instance.warm_up(press, self.m.instance.presses[press].at_start, options[0])
                spans.append((options[0], warm, warm))
            while spans and len(spans) < self.m.count[press]:
                setting, _, closes = spans[-1]
                spans.append((setting, closes, closes))
        return self.spans
