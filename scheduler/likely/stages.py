"""The kinds of loadings of a line in their order, what one of them costs, and at which settings it can be run."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from models.day import Day
from models.operation import Route
from scheduler.breakdown import Fit, loading_window
from scheduler.likely.draws import Counts
from scheduler.likely.hours import Times
from scheduler.likely.network import Dressing
from scheduler.likely.rooms import Setting

Key = tuple[str, str]  # order, line


@dataclass(frozen=True, slots=True, eq=False)
class Stage:
    """One kind of loading of a line. Seconds: `hands` a piece, `shut` a loading, `tail` from its end to the peel's."""

    key: Key
    steps: tuple[tuple[str, int], ...]
    press: int
    setting: Setting
    capacity: int
    hands: float
    shut: float
    tail: float
    final: Dressing

    @property
    def one(self) -> float:
        """Seconds until one piece is through."""
        return self.hands + self.shut + self.tail

    def seconds(self, pieces: Counts) -> Times:
        """Press seconds of so many pieces, loaded as many at once as the plan does."""
        loadings = -(-pieces // self.capacity)
        return np.asarray(pieces * self.hands + loadings * self.shut, dtype=float)


def stages_of(dressings: Sequence[Dressing]) -> dict[Key, list[Stage]]:
    """Each line's kinds of whole loadings in the order in which its most pressed piece goes through them."""
    lines: dict[Key, list[Dressing]] = defaultdict(list)
    for dressing in sorted((x for x in dressings if x.whole), key=lambda x: x.load.start):
        lines[dressing.key].append(dressing)
    return {
        key: [_stage([x for x in mine if x.steps == steps]) for steps in _course(mine)] for key, mine in lines.items()
    }


def _course(dressings: Sequence[Dressing]) -> list[tuple[tuple[str, int], ...]]:
    """The ways of the pieces, each that of its last blank: the longest."""
    through: dict[str, list[tuple[tuple[str, int], ...]]] = defaultdict(list)
    for dressing in dressings:
        for piece in dressing.pieces:
            gone = {step for steps in through[piece] for step in steps}
            if gone.intersection(dressing.steps):
                through[piece].clear()
            through[piece].append(dressing.steps)
    return max(through.values(), key=len)


def _stage(dressings: Sequence[Dressing]) -> Stage:
    final = max(dressings, key=lambda x: (x.off.start, x.number))
    count = len(final.pieces)
    on_press = [node for node in final.nodes if not node.off_press]
    off = [node.after + node.seconds / count for node in final.nodes if node.off_press]
    return Stage(
        key=final.key,
        steps=final.steps,
        press=final.press,
        setting=final.setting,
        capacity=max(len(x.pieces) for x in dressings if x.press == final.press),
        hands=sum(node.seconds for node in on_press) / count,
        shut=float(sum(node.timer + (node.after if node.opens else 0) for node in on_press)),
        tail=max(off, default=0.0),
        final=final,
    )


class Suits:
    """Whether a stage can be run on a press as it is set: windows, pressures and platens, by the breakdown."""

    def __init__(self, day: Day, ways: Mapping[tuple[str, str], Sequence[Route]]) -> None:
        self._day = day
        self._presses = list(day.presses)
        self._ways = {line.key: ways[line.garment, line.design] for line in day.lines}
        self._fits: dict[tuple[Key, tuple[tuple[str, int], ...], int], Fit | None] = {}

    def __call__(self, stage: Stage, press: int, setting: Setting) -> bool:
        if (press, setting) == (stage.press, stage.setting):
            return True
        key = (stage.key, stage.steps, press)
        if key not in self._fits:
            self._fits[key] = self._fit(stage, press)
        fit = self._fits[key]
        return fit is not None and setting[0] in fit.temperature and setting[1] in fit.pressures

    def _fit(self, stage: Stage, press: int) -> Fit | None:
        for route in self._ways[stage.key]:
            numbers = {(op.placement, op.number): op for op in route.operations}
            group = [numbers[step] for step in stage.steps if step in numbers]
            fit = loading_window(self._day, route, group, self._presses[press])
            if fit is not None and len(group) == len(stage.steps):
                return fit
        return None
