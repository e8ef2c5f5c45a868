"""The rhythm of work that runs side by side: how long each press takes from one loading to the next.

It is played: some loadings of it alone, on presses that stand warm, by the people who are there, through the
timetable's own dispatch. So the search's figure and the timetable's follow the same rules of serving.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from scheduler.instance import Instance, Lot, PressStands, Setting, Task
from scheduler.timetable.dispatch import dispatch
from scheduler.timetable.programme import Block, Stretch

_LONG = 1 << 20  # seconds
_TURNS = 6  # loadings of the slowest press that are played
_SETTLED = 2  # loadings before a press has found its rhythm


Kind = tuple[object, ...]


@dataclass(frozen=True, slots=True)
class Beat:
    """One press at work: loadings of so many pieces of a task at a setting, `each` seconds apart at the least, and the
    `share` of a person they then ask for."""

    press: int
    task: Task
    pieces: int
    setting: Setting
    each: int
    share: float

    def kind(self, instance: Instance) -> Kind:
        """All of it that bears on its rhythm, so that like work of another line counts as the same."""
        task, degrees = self.task, self.setting[0]
        steps = []
        for s in task.steps:
            window = instance.peel_window(s, degrees)
            peel = (s.peel, None) if window is None else (s.peel, window.lo, window.hi)
            steps.append((s.prepress, s.prepress_hi, s.align, bool(s.operation.layers), s.dwell, s.dwell_hi, peel))
        return self.press, self.pieces, task.load, task.unload, *steps


def rhythm(instance: Instance, beats: Sequence[Beat], people: Sequence[int]) -> Mapping[int, float]:
    """Seconds from one loading to the next on each of the presses, with these people there, by index; without end
    where none of them serves the press."""
    longest = max(beat.each for beat in beats)
    counts = [_SETTLED + 1 + -(-_TURNS * longest // beat.each) for beat in beats]
    played = dispatch(_alone(instance, beats, counts, people), _programme(instance, beats, counts))
    found = {}
    starts = {b.press: sorted(x.start for x in played.loadings if x.press == b.press) for b in beats}
    until = min((mine[-1] for mine in starts.values() if mine), default=0)
    for beat in beats:
        mine = starts[beat.press]
        steady = [at for at in mine[_SETTLED:] if at <= until]
        if len(steady) < 2:
            steady = mine
        found[beat.press] = (steady[-1] - steady[0]) / (len(steady) - 1) if len(steady) > 1 else math.inf
    return found


def _programme(instance: Instance, beats: Sequence[Beat], counts: Sequence[int]) -> tuple[tuple[Stretch, ...], ...]:
    rows: list[tuple[Stretch, ...]] = [() for _ in instance.presses]
    for number, (beat, count) in enumerate(zip(beats, counts, strict=True)):
        rows[beat.press] = (Stretch(beat.setting, (Block(number, count * beat.pieces),)),)
    return tuple(rows)


def _alone(instance: Instance, beats: Sequence[Beat], counts: Sequence[int], people: Sequence[int]) -> Instance:
    """The shop with nothing but this work, for as long as it takes: no breaks, no rack, presses warm."""
    always = ((0, _LONG),)
    alone = copy.copy(instance)
    alone.__dict__.pop("horizon", None)
    alone.standing, alone.rack, alone.open_hours = None, None, always
    alone._settings, alone._timings = instance._settings, {}
    alone.tasks = [
        replace(beat.task, index=n, line=n, stage=0, last=True, fits={beat.press: beat.task.fits[beat.press]})
        for n, beat in enumerate(beats)
    ]
    alone.stages = [[task] for task in alone.tasks]
    lines = [instance.lines[beat.task.line] for beat in beats]
    alone.lots = tuple(
        Lot(line, tuple((0, n) for n in range(1, count * beat.pieces + 1)))
        for line, beat, count in zip(lines, beats, counts, strict=True)
    )
    alone.lines = tuple(lines)
    alone.ready = [0] * len(beats)
    alone.order_ids = tuple(str(n) for n in range(len(beats)))
    alone.order_of = list(range(len(beats)))
    alone.due, alone.priority = [None] * len(beats), [1.0] * len(beats)
    settings = {beat.press: beat.setting for beat in beats}
    alone.presses = tuple(
        replace(
            side, windows=always, open=always, stands=PressStands(side.at_start, 0, settings.get(side.index), None, 0)
        )
        for side in instance.presses
    )
    alone.people = tuple(replace(who, windows=always if who.index in people else ()) for who in instance.people)
    return alone
