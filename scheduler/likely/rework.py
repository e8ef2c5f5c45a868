"""Spoiled pieces made again, at what that costs.

A spoiled piece wants a new blank and is made again from its first operation, as the log has it. It is spoiled in one
of its line's stages (kinds of loadings), each as likely. Where the press stands at the setting of every stage up to
that one, it is made again right after the line's last loading of that stage, and holds up the line's last loading
of the next. Else, once everything planned is done: the press changes to the setting, and back for the next. One
person stays with it. What was planned for the spoiled piece is taken by another blank, so nothing planned falls away.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scheduler.likely.draws import Counts
from scheduler.likely.hours import Times
from scheduler.likely.network import Dressing, Node
from scheduler.likely.rooms import Setting

if TYPE_CHECKING:
    from scheduler.likely.play import Play

Key = tuple[str, str]


@dataclass(frozen=True, slots=True, eq=False)
class Stage:
    """One kind of loading of a line. Seconds: `hands` a piece, `shut` a loading, `tail` from its end to the peel's."""

    key: Key
    press: int
    setting: Setting
    capacity: int
    hands: float
    shut: float
    tail: float
    final: Dressing

    def seconds(self, pieces: Counts) -> Times:
        """Press seconds of so many pieces, loaded as many at once as the plan does."""
        loadings = -(-pieces // self.capacity)
        return np.asarray(pieces * self.hands + loadings * self.shut, dtype=float)


class Rework:
    """What is spoiled on each day, and the work of making it again."""

    def __init__(self, play: Play, dressings: Sequence[Dressing]) -> None:
        self.play = play
        self.finish: dict[Key, Times] = {}
        self.pieces = np.zeros(play.draws.days)
        self.left: dict[Key, Counts] = {}
        self.lines = {key: _stages(mine) for key, mine in _by_line(dressings).items()}
        self.holds: dict[int, Times] = {}
        self.after: dict[int, tuple[Key, int, Counts]] = {}
        self.settings: list[Setting] = []
        for key, stages in self.lines.items():
            self._draw(key, stages)

    def _draw(self, key: Key, stages: Sequence[Stage]) -> None:
        quantity = sum(len(x.pieces) for x in self.play.network.dressings if x.key == key and _same(x, stages[0]))
        spoiled = self.play.draws.spoiled(quantity)
        self.pieces = self.pieces + spoiled
        for number, counts in enumerate(self.play.draws.shared_out(spoiled, len(stages))):
            if counts.any() and _in_place(stages, number):
                self.after[stages[number].final.off.row] = (key, number, counts)
            elif counts.any():
                self.left[key] = self.left.get(key, 0) + counts

    def follow(self, node: Node) -> None:
        """Make again what was spoiled in the run that this row ends, where that is done in place."""
        if node.row not in self.after:
            return
        key, number, counts = self.after[node.row]
        stages = self.lines[key]
        last = stages[number]
        lasts = sum((stage.seconds(counts) for stage in stages[: number + 1]), np.zeros(len(counts)))
        done = self._block(last, counts, lasts, self.play.end[node.row]) + last.tail
        if number + 1 < len(stages):
            self.holds[stages[number + 1].final.load.row] = np.where(counts > 0, done, 0.0)
        self._finished(key, counts, done)

    def rest(self) -> None:
        """Make the others again after everything planned, line by line in the order in which they were to finish."""
        rooms = self.play.presses
        self.settings = list(dict.fromkeys(x.setting for x in self.play.network.dressings))
        now = [np.full(self.play.draws.days, self._index(room.setting)) for room in rooms]
        for key in sorted(self.left, key=lambda k: self.lines[k][-1].final.last.start):
            counts, there = self.left[key], np.zeros(self.play.draws.days)
            for stage in self.lines[key]:
                change = self._changes(stage, now[stage.press]) * self.play.draws.change()
                lasts = stage.seconds(counts) + change
                there = self._block(stage, counts, lasts, there) + stage.tail
                wanted = self._index(stage.setting)
                now[stage.press] = np.where(counts > 0, wanted, now[stage.press])
            self._finished(key, counts, there)

    def _index(self, setting: Setting | None) -> int:
        return self.settings.index(setting) if setting in self.settings else 0

    def _changes(self, stage: Stage, now: Counts) -> Times:
        room, lasts = self.play.presses[stage.press], np.zeros(self.play.draws.days)
        for index in np.unique(now):
            lasts = np.where(now == index, room.between(self.settings[int(index)], stage.setting), lasts)
        return lasts

    def _finished(self, key: Key, counts: Counts, done: Times) -> None:
        self.finish[key] = np.maximum(self.finish.get(key, np.zeros(len(done))), np.where(counts > 0, done, 0.0))

    def _block(self, stage: Stage, counts: Counts, lasts: Times, at: Times) -> Times:
        """The work on the press by the person who is free first; when it ends. No work, no time."""
        room, crew, where = self.play.presses[stage.press], self.play.crew, counts > 0
        at = np.maximum(at, room.free)
        who = self.play.running[stage.press]
        starts = np.array([self.play.hours.together(stage.press, p).fit(np.maximum(at, crew.free[p]), 1) for p in who])
        first, start = starts.argmin(axis=0), starts.min(axis=0)
        cold = room.cold(start, where)
        if cold.any():
            start = room.warmed(stage.setting, start, cold)
        done = at
        noise = self.play.draws.hand(int(np.ceil(max(1.0, counts.mean()))))
        for n, p in enumerate(who):
            mine = where & (first == n)
            if mine.any():
                end = self.play.hours.together(stage.press, p).advance(start, lasts * noise * crew.factors[p])
                done = np.where(mine, end, done)
                crew.free[p] = np.where(mine, end, crew.free[p])
        room.free = np.where(where, np.maximum(room.free, done), room.free)
        return done


def _by_line(dressings: Sequence[Dressing]) -> dict[Key, list[Dressing]]:
    found: dict[Key, list[Dressing]] = defaultdict(list)
    for dressing in dressings:
        found[dressing.key].append(dressing)
    return found


def _stages(dressings: Sequence[Dressing]) -> list[Stage]:
    """A line's kinds of loadings in the order in which its most pressed piece goes through them."""
    through: dict[str, list[Dressing]] = defaultdict(list)
    for dressing in sorted(dressings, key=lambda x: x.load.start):
        for piece in dressing.pieces:
            through[piece].append(dressing)
    course = dict.fromkeys(x.steps for x in max(through.values(), key=len))
    return [_stage([x for x in dressings if x.steps == steps]) for steps in course]


def _stage(dressings: Sequence[Dressing]) -> Stage:
    final = max(dressings, key=lambda x: (x.off.start, x.number))
    count = len(final.pieces)
    on_press = [node for node in final.nodes if not node.off_press]
    shut = sum(node.timer + (node.after if node.opens else 0) for node in on_press)
    off = [node.after + node.seconds / count for node in final.nodes if node.off_press]
    return Stage(
        key=final.key,
        press=final.press,
        setting=final.setting,
        capacity=max(len(x.pieces) for x in dressings if x.press == final.press),
        hands=sum(node.seconds for node in on_press) / count,
        shut=float(shut),
        tail=max(off, default=0.0),
        final=final,
    )


def _same(dressing: Dressing, stage: Stage) -> bool:
    return dressing.steps == stage.final.steps


def _in_place(stages: Sequence[Stage], number: int) -> bool:
    """Whether all stages up to this one run at this press's setting now, and the later ones are still to end."""
    here = stages[number]
    alike = all((s.press, s.setting) == (here.press, here.setting) for s in stages[:number])
    over = here.final.off.start + here.final.off.seconds
    return alike and all(s.final.load.start >= over for s in stages[number + 1 :])
