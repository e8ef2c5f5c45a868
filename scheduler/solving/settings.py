"""Which setting each stretch of a press's sequence runs at.

A finite set of set-points suffices: the cost of a sequence of settings is piecewise monotone in each
set-point between its neighbours, so a best one can be moved to an end of a window of the work in it, to a
neighbour's set-point (an end as well, by induction) or to what the press shows at the start.
"""

from __future__ import annotations

import itertools
import operator
from collections.abc import Sequence

from scheduler.instance import Instance, PressFit, Setting
from scheduler.timetable.programme import Block, Programme, Stretch


class Settings:
    """Best settings for sequences of blocks, remembered by the windows they run through."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self._memo: dict[tuple[int, tuple[int, ...]], tuple[Setting, ...]] = {}
        self._kinds: dict[PressFit, int] = {}
        self._fits: list[PressFit] = []
        self._suits: dict[tuple[int, int], tuple[int, ...]] = {}
        self._costs: dict[tuple[int, int, int], list[tuple[int, list[float]]]] = {}
        self._settings = [self._candidates(press) for press in range(len(instance.presses))]

    def candidates(self, press: int) -> tuple[Setting, ...]:
        """The settings that suffice on a press."""
        return self._settings[press]

    def _candidates(self, press: int) -> tuple[Setting, ...]:
        instance = self.instance
        fits = [task.fits[press] for task in instance.tasks if press in task.fits]
        points = {fit.lo for fit in fits} | {fit.hi for fit in fits}
        shown = instance.presses[press].at_start
        if shown == int(shown) and any(fit.lo <= shown <= fit.hi for fit in fits):
            points.add(int(shown))
        words = dict.fromkeys(word for fit in fits for word in fit.pressures)
        return tuple((point, word) for point in sorted(points) for word in words)

    def change_cost(self, press: int, a: Setting, b: Setting) -> float:
        """What one change costs the second goal, in seconds: its worth, its minutes, and the finish put off."""
        if a == b:
            return 0.0
        goals = self.instance.day.shop.goals
        return goals.change * 60 + (1 + goals.finish) * self.instance.set_seconds(press, a, b)

    def kind(self, fit: PressFit) -> int:
        """A number for a fit; equal fits have the same."""
        if fit not in self._kinds:
            self._kinds[fit] = len(self._fits)
            self._fits.append(fit)
        return self._kinds[fit]

    def choose(self, press: int, fits: Sequence[PressFit]) -> tuple[Setting, ...]:
        """One setting for each of the fits in turn, least cost over the whole sequence (dynamic programme)."""
        return self.choose_kinds(press, [self.kind(fit) for fit in fits])

    def choose_kinds(self, press: int, kinds: Sequence[int]) -> tuple[Setting, ...]:
        """The same for fits given by their numbers."""
        shrunk: list[int] = []
        lengths: list[int] = []
        last = -1
        for kind in kinds:
            if kind == last:
                lengths[-1] += 1
            else:
                shrunk.append(kind)
                lengths.append(1)
                last = kind
        key = (press, tuple(shrunk))
        found = self._memo.get(key)
        if found is None:
            found = self._memo[key] = self._best(press, shrunk)
        chosen: list[Setting] = []
        for setting, length in zip(found, lengths, strict=True):
            chosen += [setting] * length
        return tuple(chosen)

    def _allowed(self, press: int, kind: int) -> tuple[int, ...]:
        """The candidates of a press that suit a kind of fit, by their place among them."""
        key = (press, kind)
        if key not in self._suits:
            fit = self._fits[kind]
            self._suits[key] = tuple(
                i for i, s in enumerate(self._settings[press]) if fit.lo <= s[0] <= fit.hi and s[1] in fit.pressures
            )
        return self._suits[key]

    def _costs_between(self, press: int, before: int, kind: int) -> list[tuple[int, list[float]]]:
        """For each candidate that suits a kind: what the change to it costs from each that suits the kind before."""
        key = (press, before, kind)
        if key not in self._costs:
            options, suits = self._settings[press], self._allowed(press, before)
            self._costs[key] = [
                (b, [self.change_cost(press, options[a], options[b]) for a in suits])
                for b in self._allowed(press, kind)
            ]
        return self._costs[key]

    def _first(self, press: int, setting: Setting) -> float:
        """What a press's first setting costs: a warm-up, or a change where it stands set already."""
        side = self.instance.presses[press]
        if side.stands.setting is not None:
            return self.change_cost(press, side.stands.setting, setting)
        weight = max(self.instance.day.shop.goals.finish, 0.01)
        return weight * self.instance.warm_up(press, side.at_start, setting)

    def _best(self, press: int, kinds: Sequence[int]) -> tuple[Setting, ...]:
        if not kinds:
            return ()
        options = self._settings[press]
        before = self._allowed(press, kinds[0])
        costs = [self._first(press, options[i]) for i in before]
        steps: list[dict[int, int]] = []
        for last, kind in itertools.pairwise(kinds):
            came: dict[int, int] = {}
            fresh: list[float] = []
            for b, changes in self._costs_between(press, last, kind):
                costs_to = list(map(operator.add, costs, changes))
                least = min(costs_to)
                came[b] = before[costs_to.index(least)]
                fresh.append(least)
            before, costs = self._allowed(press, kind), fresh
            steps.append(came)
        chosen = [min(zip(costs, before, strict=True))[1]]
        for came in reversed(steps):
            chosen.append(came[chosen[-1]])
        return tuple(options[i] for i in reversed(chosen))


def programme(settings: Settings, sequences: Sequence[Sequence[Block]]) -> Programme:
    """Sequences of blocks for each press as stretches with settings; neighbours of one task are joined."""
    tasks = settings.instance.tasks
    made: list[tuple[Stretch, ...]] = []
    for press, blocks in enumerate(sequences):
        chosen = settings.choose(press, [tasks[b.task].fits[press] for b in blocks])
        stretches: list[tuple[Setting, list[Block]]] = []
        for block, setting in zip(blocks, chosen, strict=True):
            if not stretches or stretches[-1][0] != setting:
                stretches.append((setting, []))
            run = stretches[-1][1]
            if run and run[-1].task == block.task:
                run[-1] = Block(block.task, run[-1].pieces + block.pieces)
            else:
                run.append(block)
        made.append(tuple(Stretch(setting, tuple(run)) for setting, run in stretches))
    return tuple(made)
