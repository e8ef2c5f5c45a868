"""What a sequence of jobs on each press comes to, roughly and fast: the search's guide, never the plan's figure.

Jobs run one after another on their press at the pace the hands allow: where the presses at work ask for more hands
than are there they slow down, as their rhythm has it (`paces`).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

from scheduler.calendar import Spans, common, shop_windows, union
from scheduler.instance import Instance, PressSide
from scheduler.solving.ahead import Row, row
from scheduler.solving.axis import Axis
from scheduler.solving.bundles import Job, Work
from scheduler.solving.lean import leaning
from scheduler.solving.paces import Paces, Rhythms
from scheduler.solving.rhythm import Beat
from scheduler.solving.rough import ANY, Cycle, Estimate, Limit, Run
from scheduler.solving.settings import Settings
from scheduler.solving.states import Record
from scheduler.timetable.acts import FAR
from scheduler.timetable.record import Timetable

Sequences = Sequence[Sequence[int]]  # job indices for each press, in order

_SMOOTH, _ROUGH = 0.9, 1.4  # the least and the most that friction is believed to be
_NONE = 1e-9  # a person, where no hands are asked for at all
_BELIEF = 0.5  # how much of what was last seen goes into it: a power


class Estimator:
    """Rough times for sequences of one day's jobs."""

    def __init__(self, instance: Instance, work: Work, settings: Settings, rhythms: Rhythms | None = None) -> None:
        self.instance, self.work, self.settings = instance, work, settings
        tasks = instance.tasks
        self.before = [job.before for job in work.jobs]
        self.orders = [instance.order_of[tasks[job.task].line] for job in work.jobs]
        self.ready = [instance.ready[tasks[job.task].line] for job in work.jobs]
        self.fits = [tasks[job.task].fits for job in work.jobs]
        self.kinds = [{press: settings.kind(fit) for press, fit in fits.items()} for fits in self.fits]
        self._stretches()
        self.axis = Axis(shop_windows(instance.day))
        self.paces = Paces(instance, self.crews, rhythms or Rhythms())
        self.cycle = [{p: self._cycle(job, p) for p in tasks[job.task].fits} for job in work.jobs]
        self.hands = sum(min(c.share * c.seconds for c in cycles.values()) for cycles in self.cycle)
        self.first_piece = [min(c.occupied + c.tail for c in cycles.values()) for cycles in self.cycle]
        self.occupied = [max(c.occupied for c in cycles.values()) for cycles in self.cycle]
        self.friction = 1.0  # how much longer work takes than hands and presses alone would need
        self.lean = [1.0] * len(instance.presses)  # and how much longer on each press than on the others
        # working seconds by which each order is done later than it would seem
        self.slip = [0] * len(instance.order_ids)
        self.margin = 0.0  # the share by which due times are drawn in
        self._look_ahead()

    def _cycle(self, job: Job, press: int) -> Cycle:
        instance, task = self.instance, self.instance.tasks[job.task]
        fit = task.fits[press]
        loads = -(-job.pieces // fit.capacity)
        pieces = min(job.pieces, fit.capacity)
        one = instance.timing(task, press, pieces, fit.lo)
        side = instance.presses[press]
        each = one.occupied
        if side.stations > 1:
            each = max(one.closed + (0 if side.auto_open else 4), -(-one.occupied // side.stations))
        share = one.hands / each or _NONE
        asks = self.paces.number(Beat(press, task, pieces, (fit.lo, fit.pressures[0]), each, share))
        return Cycle(each * loads, share, one.occupied, one.tail, each, asks)

    def _windows(self, press: PressSide) -> Spans:
        """When a press and somebody who runs it are both there."""
        hands = union(span for who in self.instance.people if press.index in who.presses for span in who.windows)
        return common(press.windows, hands)

    def _stretches(self) -> None:
        """Stretches of time in which nobody comes or goes and no press opens or shuts: their `edges`, who is there
        (`crews`; where nobody is, those who come next), and which presses are open."""
        people = self.instance.people
        windows = [self._windows(press) for press in self.instance.presses]
        spans = [*(who.windows for who in people), *windows]
        self.edges = sorted({0, *(edge for mine in spans for span in mine for edge in span)})
        self.crews = [tuple(w.index for w in people if any(a <= t < b for a, b in w.windows)) for t in self.edges]
        for at in range(len(self.crews) - 2, -1, -1):
            self.crews[at] = self.crews[at] or self.crews[at + 1]
        everybody = tuple(who.index for who in people)
        self.crews = [crew or everybody for crew in self.crews]
        self.opened = [[any(a <= t < b for a, b in mine) for mine in windows] for t in self.edges]
        self.opened[-1] = [True] * len(windows)  # what does not fit the calendar runs on
        self.all_open = [all(open_) for open_ in self.opened]
        self.edges.append(FAR)

    def learn(self, sequences: Sequences, table: Timetable) -> None:
        """Correct the pace, and when each order is done, by what these sequences came to when they were played.

        Compared in working time: a night between the two is no slowness.
        """
        self.compare(sequences, table)
        guess, work = self.run(sequences), self.axis.work
        if guess is None or not work(guess.finish):
            return
        played = [work(finish) for finish in table.order_finish]
        ratio = sum(played) / sum(map(work, guess.order_finish))
        if not self.paces.played:  # presses that seem to end together don't: the last order is the worst guessed
            ratio = math.sqrt(ratio * max(played) / work(guess.finish))
        self.friction = min(_ROUGH, max(_SMOOTH, self.friction * ratio**_BELIEF))
        self._look_ahead()
        self.anchor(sequences, table)

    def anchor(self, sequences: Sequences, table: Timetable) -> None:
        """Take every order to be done as much later than it would seem as it was when these sequences were played."""
        guess, work = self.run(sequences), self.axis.work
        assert guess is not None
        played = [work(finish) for finish in table.order_finish]
        self.slip = [seconds - work(rough) for seconds, rough in zip(played, guess.order_finish, strict=True)]
        self._look_ahead()

    def compare(self, sequences: Sequences, table: Timetable) -> None:
        """Correct the pace of each press beside the others, where a formula gives it, which knows of no press that
        others are served before."""
        guess = None if self.paces.played else self.run(sequences)
        if guess is not None:
            self.lean = leaning(self, sequences, guess, table)
            self._look_ahead()

    def believe(self, other: Estimator) -> None:
        """Take over the paces that another estimate of the same shop has learnt, where both have a formula's."""
        if not self.paces.played and not other.paces.played:
            self.friction, self.lean = other.friction, other.lean
            self._look_ahead()

    def forget(self) -> None:
        """Take every order to be done when it would seem, as before anything was played."""
        self.slip = [0] * len(self.slip)
        self._look_ahead()

    def draw_in(self, margin: float) -> None:
        """Draw due times in by a share while searching, since the estimate is rough."""
        self.margin = margin
        self._look_ahead()

    def lateness(self, order: int, end: int) -> int:
        """Seconds by which an order that seems done at `end` would be late, later by the margin and its slip.

        It is its end that moves, not its due time: minutes past a due time in the morning are no night.
        """
        due, shift, axis = self.instance.due[order], self.slip[order], self.axis
        if due is None:
            return 0
        if self.margin or shift:
            end = axis.real(int((axis.work(end) + shift) / (1 - self.margin)))
        return max(0, end - due)

    def _look_ahead(self) -> None:
        """Each order's weight and when it has to seem done (`promised`); how many times longer work takes on each press
        than hands and presses alone would need (`drag`); before when hands cannot be done (`floor`)."""
        self.promised = [
            (weight, FAR if due is None else self.axis.real(int(self.axis.work(due) * (1 - self.margin)) - slip))
            for weight, due, slip in zip(self.instance.priority, self.instance.due, self.slip, strict=True)
        ]
        self.drag = [self.friction * lean for lean in self.lean]
        left = self.hands * self.friction / self._most_hands()
        self.floor = 0.0
        for (start, end), open_ in zip(itertools.pairwise(self.edges), self.opened, strict=True):
            if any(open_):
                self.floor = start + min(left, end - start)
                left -= end - start
                if left <= 0:
                    break

    def _most_hands(self) -> float:
        """People of pace 1 that are there at once at the most."""
        return max((sum(1 / self.instance.people[who].pace for who in crew) for crew in self.crews), default=0) or 1.0

    def run(self, sequences: Sequences, limit: Limit = ANY, record: Record | None = None) -> Estimate | None:
        """Play the sequences; None where some job waits for one that comes after it for ever, or where it is sure that
        they pass the limit. `record`: of a playing since it last learnt, from which it may go on."""
        return Run(self, sequences, limit, record).play() if self._follow(sequences) else None

    def record(self, sequences: Sequences, before: Record | None = None) -> Record:
        """Play sequences in which no job waits for ever, so that others like them need not be played whole; nor need
        they, where there is a record of others since it last learnt."""
        run = Run(self, sequences, ANY, before)
        record = Record(run.rows) if before is None else before.branch(run.rows, run.event)
        run.play(record)
        return record

    def row(self, press: int, jobs: Sequence[int]) -> Row:
        """What is known of a press's jobs before they are played."""
        chosen = self.settings.choose_kinds(press, [self.kinds[j][press] for j in jobs])
        return row(self.instance, press, jobs, chosen, sum(self.cycle[j][press].seconds for j in jobs))

    def _follow(self, sequences: Sequences) -> bool:
        """Whether no job waits for ever: presses in turn do what they can, whatever time it takes."""
        done = [False] * len(self.before) + [True]  # the last stands for no job before
        at = [0] * len(sequences)
        left = moved = sum(map(len, sequences))
        while left and moved:
            moved = 0
            for press, jobs in enumerate(sequences):
                place = begun = at[press]
                while place < len(jobs) and done[self.before[jobs[place]]]:
                    done[jobs[place]] = True
                    place += 1
                at[press] = place
                moved += place - begun
            left -= moved
        return not left
