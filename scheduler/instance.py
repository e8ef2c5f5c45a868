"""The day as the solver sees it: presses, people, and the tasks (kinds of loadings) of each line."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from models.day import Day
from models.operation import Operation, Route
from models.order import OrderLine
from models.units import Window
from scheduler import calendar, thermal
from scheduler.breakdown import loading_window
from scheduler.calendar import Spans

if TYPE_CHECKING:  # what stands is only handed through
    from scheduler.timetable.record import Change, Loading

Setting = tuple[int, str]  # set-point in whole degrees, pressure
Routes = Mapping[tuple[str, str], Sequence[Route]]


@dataclass(frozen=True, slots=True)
class Step:
    """One closing inside a loading. Hand times a piece, other times whole seconds after closing or opening."""

    operation: Operation
    prepress: int
    prepress_hi: int
    align: float
    dwell: int
    dwell_hi: int
    peel: float


@dataclass(frozen=True, slots=True)
class PressFit:
    """How one press takes a task: set-points [lo, hi], pressures, pieces a loading."""

    lo: int
    hi: int
    pressures: tuple[str, ...]
    capacity: int


@dataclass(frozen=True, slots=True, eq=False)
class Task:
    """One kind of loading: a stage of a line's pieces. `stage` counts from 0 within the line's chain."""

    index: int
    line: int
    stage: int
    placement: str
    steps: tuple[Step, ...]
    load: float
    unload: float
    fits: dict[int, PressFit]
    last: bool


@dataclass(frozen=True, slots=True)
class Timing:
    """Press and hand seconds of one loading of `pieces` pieces, at a pace of 1.

    `occupied` is from load to unload when hands are there at once, `closed` the time under heat,
    `hands` all hand rows with the peels, `tail` from the press's opening to the last peel's end.
    """

    pieces: int
    occupied: int
    closed: int
    hands: int
    tail: int


@dataclass(frozen=True)
class Chain:
    """How a line goes: a route, and its operations cut into loadings."""

    route: Route
    groups: tuple[tuple[Operation, ...], ...]


@dataclass(frozen=True)
class Lot:
    """Pieces of an order line that have the same way before them, as (earliest start, number within the line).

    `fresh`: their blanks have not been pressed yet.
    """

    line: OrderLine
    pieces: tuple[tuple[int, int], ...]
    fresh: bool = True

    @property
    def ready(self) -> int:
        """When the first of them may be taken up."""
        return min((at for at, _ in self.pieces), default=0)


@dataclass(frozen=True)
class PressStands:
    """How a press stands when planning begins, in seconds from the day's start.

    It takes no change and no loading before `free`. `setting`: what it is set to, None where it has to be set.
    `warmed`: the opening day, by index, of its last warm-up. `off_since`: since when it has been cooling, switched
    off; `temperature` is what it showed then, or shows. `lying`: when what lies on it comes off; `shut_until`: the
    last opening of that.
    """

    temperature: float
    free: int = 0
    setting: Setting | None = None
    pressure: str | None = None
    warmed: int = -1
    off_since: int | None = None
    lying: tuple[int, ...] = ()
    shut_until: int = 0


@dataclass(frozen=True)
class Standing:
    """Where planning takes the day up: the moment, presses by index, and what stands already.

    `busy`: each person's time that is taken or lost; `down`: each press's. `rack`: pieces that lie on the rack
    until a moment, as (until, pieces). `loadings` and `changes` are those that stand, for the figures; the lines of
    their tasks are lots of the instance.
    """

    at: int
    presses: tuple[PressStands, ...]
    busy: tuple[Spans, ...]
    down: tuple[Spans, ...]
    rack: tuple[tuple[int, int], ...] = ()
    loadings: tuple[Loading, ...] = ()
    changes: tuple[Change, ...] = ()


@dataclass(frozen=True)
class PressSide:
    """A press, its calendar and its settings, by index."""

    index: int
    id: str
    stations: int
    auto_open: bool
    windows: Spans  # when loadings may lie on it
    open: Spans  # when its setting may be changed
    at_start: float
    stands: PressStands = field(default_factory=lambda: PressStands(0.0))


@dataclass(frozen=True)
class PersonSide:
    """A person, their hours, the presses they run, by index."""

    index: int
    id: str
    windows: Spans
    presses: frozenset[int]
    pace: float


class Instance:
    """Presses, people and tasks of a day under one choice of chains; nothing in it changes.

    Planned from the day's start its lines are the day's. Taken up at a moment (`lots` and `standing`), its lines are
    lots of pieces with the same way before them, and the chains are what is left of it.
    """

    def __init__(
        self,
        day: Day,
        chains: Sequence[Chain],
        lots: Sequence[Lot] | None = None,
        standing: Standing | None = None,
    ) -> None:
        self.day = day
        self.room = day.shop.room_temperature
        self.lots = tuple(_whole_lines(day) if lots is None else lots)
        self.lines = tuple(lot.line.model_copy(update={"quantity": len(lot.pieces)}) for lot in self.lots)
        self.standing = standing
        self.chains = tuple(chains)
        self.presses = tuple(_press_side(self, index) for index in range(len(day.shop.press)))
        self.people = tuple(_person_side(self, index) for index in range(len(day.shop.person)))
        self.open_hours = calendar.open_hours(day)
        self.ready = [lot.ready for lot in self.lots]
        ids = list(day.orders)
        self.order_ids = tuple(ids)
        self.order_of = [ids.index(ln.order) for ln in self.lines]
        orders = [day.orders[i] for i in ids]
        self.due = [None if o.due is None else day.seconds(o.due) for o in orders]
        self.priority = [o.priority for o in orders]
        self.rack = day.shop.rules.rack
        self.tasks: list[Task] = []
        self.stages: list[list[Task]] = []
        for line, chain in enumerate(self.chains):
            self._add_line(line, chain)
        self._settings: dict[tuple[int, Setting, Setting], int] = {}
        self._timings: dict[tuple[int, int, int, int], Timing] = {}

    def _add_line(self, line: int, chain: Chain) -> None:
        stages: list[Task] = []
        for stage, group in enumerate(chain.groups):
            steps = tuple(_step(op) for op in group)
            task = Task(
                len(self.tasks),
                line,
                stage,
                group[0].placement,
                steps,
                chain.route.load_s,
                chain.route.unload_s,
                self._fits(chain.route, group),
                stage == len(chain.groups) - 1,
            )
            self.tasks.append(task)
            stages.append(task)
        self.stages.append(stages)

    def _fits(self, route: Route, group: Sequence[Operation]) -> dict[int, PressFit]:
        found: dict[int, PressFit] = {}
        at_work: list[int] = []  # where nobody is ever there nothing goes, as long as it can go elsewhere
        for press in self.presses:
            hands = [who for who in self.people if press.index in who.presses]
            manned = bool(press.windows) and any(who.windows for who in hands)
            if not hands or (self.standing and not manned):
                continue
            fit = loading_window(self.day, route, group, press.id)
            if fit is None:
                continue
            capacity = self._peelable(route, group[-1], press, fit.capacity)
            if capacity:
                assert fit.temperature.hi is not None
                found[press.index] = PressFit(fit.temperature.lo, fit.temperature.hi, fit.pressures, capacity)
                at_work += [press.index] if manned else []
        return {index: found[index] for index in at_work or found}

    def _peelable(self, route: Route, last: Operation, press: PressSide, capacity: int) -> int:
        """Pieces a loading so that the unloading is over before the latest moment to peel off the press."""
        if last.peel_after is None or last.peel_after.hi is None or last.peel_after.lo == 0 or press.auto_open:
            return capacity
        pace = max(who.pace for who in self.people if press.index in who.presses)
        while capacity and math.ceil(pace * capacity * route.unload_s - 1e-9) > last.peel_after.hi:
            capacity -= 1
        return capacity

    @cached_property
    def horizon(self) -> int:
        """The last second of the planning horizon's opening hours."""
        return self.open_hours[-1][1] if self.open_hours else 0

    @property
    def begins(self) -> int:
        """The second from which it plans."""
        return self.standing.at if self.standing else 0

    def quantity(self, line: int) -> int:
        """Pieces of a line."""
        return len(self.lots[line].pieces)

    @property
    def loads(self) -> int:
        """How many loadings of a single piece there are."""
        return sum(self.quantity(task.line) for task in self.tasks)

    def set_seconds(self, press: int, a: Setting, b: Setting) -> int:
        """Seconds from one setting to another on a press."""
        key = (press, a, b)
        if key not in self._settings:
            self._settings[key] = thermal.setting_seconds(self.day.shop.press[press], a, b, self.room)
        return self._settings[key]

    def warm_up(self, press: int, temperature: float, b: Setting) -> int:
        """Seconds from a press's present temperature to its first setting of a day."""
        return thermal.change_seconds(self.day.shop.press[press], temperature, b[0], self.room)

    def overnight(self, press: int, temperature: float, seconds: int) -> float:
        """What a press shows after `seconds` switched off."""
        return thermal.resting(self.day.shop.press[press], temperature, seconds, self.room)

    def peel_window(self, step: Step, setpoint: int) -> Window | None:
        """The step's peel window at a set-point, seconds after opening."""
        return step.operation.peel_window(setpoint, self.room)

    def peels_on_press(self, task: Task, step: int, press: int, pieces: int, setpoint: int) -> bool:
        """Whether this step's peel is done on the platen: before another step, at once, or it could not wait."""
        window = self.peel_window(task.steps[step], setpoint)
        if window is None:
            return False
        if step < len(task.steps) - 1 or window.lo == 0:
            return True
        pace = max(who.pace for who in self.people if press in who.presses)
        unload = math.ceil(pace * pieces * task.unload - 1e-9)
        return window.hi is not None and unload > window.hi

    def timing(self, task: Task, press: int, pieces: int, setpoint: int) -> Timing:
        """How long one loading takes on a press when hands are always there."""
        key = (task.index, press, pieces, setpoint)
        found = self._timings.get(key)
        if found is None:
            found = self._timings[key] = self._time(task, press, pieces, setpoint)
        return found

    def _time(self, task: Task, press: int, pieces: int, setpoint: int) -> Timing:
        load, unload = hand(1, pieces, task.load), hand(1, pieces, task.unload)
        occupied, closed, hands, tail = load + unload, 0, load + unload, unload
        for number, step in enumerate(task.steps):
            align, peel = hand(1, pieces, step.align), hand(1, pieces, step.peel)
            closed += step.prepress + step.dwell
            occupied += step.prepress + align + step.dwell
            hands += align
            window = self.peel_window(step, setpoint)
            if window is None:
                continue
            hands += peel
            if self.peels_on_press(task, number, press, pieces, setpoint):
                occupied += window.lo + peel
                tail = window.lo + peel + unload
            else:
                tail = max(window.lo, unload) + peel
        return Timing(pieces, occupied, closed, hands, tail)


def _whole_lines(day: Day) -> list[Lot]:
    ready = [max(0, day.seconds(line.ready)) if line.ready else 0 for line in day.lines]
    return [Lot(ln, tuple((at, n) for n in range(1, ln.quantity + 1))) for ln, at in zip(day.lines, ready, strict=True)]


def _press_side(instance: Instance, index: int) -> PressSide:
    day, standing = instance.day, instance.standing
    press = day.shop.press[index]
    stands = PressStands(thermal.at_start(press, instance.room)) if standing is None else standing.presses[index]
    closed = [] if standing is None else [(0, standing.at), *standing.down[index]]
    return PressSide(
        index,
        press.id,
        press.stations,
        press.auto_open,
        calendar.without(calendar.press_windows(day, press.id), closed),
        calendar.without(calendar.open_hours(day), [*calendar.away_spans(day, press.id), *closed]),
        stands.temperature,
        stands,
    )


def _person_side(instance: Instance, index: int) -> PersonSide:
    day, standing = instance.day, instance.standing
    who = day.shop.person[index]
    taken = [] if standing is None else [(0, standing.at), *standing.busy[index]]
    runs = frozenset(p.index for p in instance.presses if who.presses is None or p.id in who.presses)
    return PersonSide(index, who.id, calendar.without(calendar.person_windows(day, who.id), taken), runs, who.pace)


def hand(pace: float, pieces: int, seconds: float) -> int:
    """A hand row's whole seconds (contract, sections 1 and 3.7): pace times the sum, rounded up."""
    return math.ceil(pace * pieces * seconds - 1e-9)


def _step(op: Operation) -> Step:
    pre = op.prepress
    assert op.dwell.hi is not None
    return Step(
        op,
        pre.lo if pre else 0,
        (pre.hi or pre.lo) if pre else 0,
        op.align_s,
        op.dwell.lo,
        op.dwell.hi,
        op.peel_s,
    )
