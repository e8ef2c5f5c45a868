"""The CP-SAT model: jobs choose a press and a campaign, campaigns choose a setting, presses run one job at a time.

Times are working seconds (`Axis`). A campaign is a stretch at one setting; between campaigns the press
changes, at its real time up or down. Sublots flow: a bundle's next stage may start when its first piece is
ready and must not overtake its last. The objective is contract section 5's, late time first.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from scheduler.instance import Instance, Setting
from scheduler.linear import new_solver, total
from scheduler.solving.axis import Axis
from scheduler.solving.bundles import Work
from scheduler.solving.estimate import Estimator
from scheduler.solving.play import play
from scheduler.solving.settings import Settings

SCALE = 10  # goals and priorities are taken to a tenth


@dataclass(frozen=True)
class Free:
    """What a search may move: the jobs that choose anew; all others keep press, campaign and order."""

    jobs: frozenset[int]


@dataclass
class Effort:
    """How long one solve may take: deterministic time (repeatable), and a wall clock where asked for."""

    deterministic: float
    seconds: float | None = None
    workers: int = 2
    seed: int = 0


@dataclass
class Answer:
    """What a solve gave: job sequences for each press, or None; `bound` is of the model, not of the day."""

    sequences: list[list[int]] | None
    value: float
    bound: float
    optimal: bool = False


@dataclass
class CampaignModel:
    """One build of the model around an incumbent. `paces[job][press]` are working seconds."""

    instance: Instance
    work: Work
    settings: Settings
    estimator: Estimator
    paces: Sequence[Mapping[int, int]]
    incumbent: Sequence[Sequence[int]]
    free: Free
    extra_campaigns: int = 1
    late_weight: int = 200
    axis: Axis = field(init=False)

    def __post_init__(self) -> None:
        from scheduler.calendar import shop_windows

        self.axis = Axis(shop_windows(self.instance.day))
        self.model = cp_model.CpModel()
        self._read_incumbent()
        self._jobs()
        self._campaigns()
        self._assignment()
        self._no_overlap()
        self._sublots()
        self._kept_order()
        self._alike_in_order()
        self._press_work()
        self._orders()
        self._objective()
        self._hint()

    # What the incumbent says: for each job its press, campaign and place.
    def _read_incumbent(self) -> None:
        self.home: dict[int, tuple[int, int]] = {}
        self.used: list[list[Setting]] = []
        for press, jobs in enumerate(self.incumbent):
            fits = [self.instance.tasks[self.work.jobs[j].task].fits[press] for j in jobs]
            chosen = self.settings.choose(press, fits)
            runs: list[Setting] = []
            for job, setting in zip(jobs, chosen, strict=True):
                if not runs or runs[-1] != setting:
                    runs.append(setting)
                self.home[job] = (press, len(runs) - 1)
            self.used.append(runs)
        self.count = [max(1, len(runs) + self.extra_campaigns) for runs in self.used]
        self.played = play(self)
        self.horizon = 2 * max(self.played.ends, default=0) + 7200

    def earliest(self, job: int) -> int:
        """When the blanks of a job are there, working seconds."""
        item = self.work.jobs[job]
        return self.axis.work(self.instance.ready[self.instance.tasks[item.task].line]) if item.before < 0 else 0

    def lags(self, job: int) -> tuple[int, int]:
        """Least seconds from the start before to this start, and from the end before to this end."""
        before = self.work.jobs[job].before
        cycles = self.estimator.cycle
        first = min(c[2] + c[3] for c in cycles[before].values())
        last = min(c[2] for c in cycles[job].values()) + min(c[3] for c in cycles[before].values())
        return first, last

    def away(self, press: int) -> list[tuple[int, int]]:
        """When a press is away, working seconds."""
        spans = [
            (self.axis.work(self.instance.day.seconds(a)), self.axis.work(self.instance.day.seconds(b)))
            for a, b in self.instance.day.shop.press[press].away
        ]
        return [(a, b) for a, b in spans if b > a]

    def _jobs(self) -> None:
        self.start = [self.model.new_int_var(0, self.horizon, f"s{j.index}") for j in self.work.jobs]
        self.end = [self.model.new_int_var(0, self.horizon, f"e{j.index}") for j in self.work.jobs]
        for job in self.work.jobs:
            self.model.add(self.start[job.index] >= self.earliest(job.index))

    def _campaigns(self) -> None:
        """Per press: settings, starts, ends, and the change from each campaign to the next."""
        self.picks: list[list[list[cp_model.IntVar]]] = []
        self.opens: list[list[cp_model.IntVar]] = []
        self.closes: list[list[cp_model.IntVar]] = []
        self.change: list[cp_model.IntVar] = []
        self.changed: list[cp_model.IntVar] = []
        for press, count in enumerate(self.count):
            options = self.settings.candidates(press)
            picks = [[self.model.new_bool_var(f"z{press}_{k}_{i}") for i in range(len(options))] for k in range(count)]
            if options:
                for row in picks:
                    self.model.add_exactly_one(row)
            self.picks.append(picks)
            self.opens.append([self.model.new_int_var(0, self.horizon, f"o{press}_{k}") for k in range(count)])
            self.closes.append([self.model.new_int_var(0, self.horizon, f"c{press}_{k}") for k in range(count)])
            if options:
                self._changes(press, options)

    def _changes(self, press: int, options: Sequence[Setting]) -> None:
        shown = self.instance.presses[press].at_start
        index = []
        for row in self.picks[press]:
            which = self.model.new_int_var(0, len(options) - 1, "")
            self.model.add(which == sum(i * z for i, z in enumerate(row)))
            index.append(which)
        warm = [self.instance.warm_up(press, shown, s) for s in options]
        self.model.add(self.opens[press][0] >= sum(w * z for w, z in zip(warm, self.picks[press][0], strict=True)))
        table = [self.instance.set_seconds(press, a, b) for a in options for b in options]
        differs = [int(a != b) for a in options for b in options]
        for k in range(self.count[press]):
            self.model.add(self.closes[press][k] >= self.opens[press][k])
            if k + 1 == self.count[press]:
                continue
            pair = index[k] * len(options) + index[k + 1]
            seconds = self.model.new_int_var(0, max(table), "")
            changed = self.model.new_bool_var("")
            at = self.model.new_int_var(0, len(table) - 1, "")
            self.model.add(at == pair)
            self.model.add_element(at, table, seconds)
            self.model.add_element(at, differs, changed)
            self.model.add(self.opens[press][k + 1] >= self.closes[press][k] + seconds)
            self.change.append(seconds)
            self.changed.append(changed)

    def _assignment(self) -> None:
        """Each job on one press and in one campaign whose setting suits it; within the campaign's time."""
        self.on: list[dict[int, cp_model.IntVar]] = []
        self.inside: dict[tuple[int, int, int], cp_model.IntVar] = {}
        for job in self.work.jobs:
            here: dict[int, cp_model.IntVar] = {}
            fits = self.instance.tasks[job.task].fits
            home = self.home[job.index]
            moves = job.index in self.free.jobs
            for press, fit in fits.items():
                if not moves and press != home[0]:
                    continue
                options = self.settings.candidates(press)
                suits = [i for i, s in enumerate(options) if fit.lo <= s[0] <= fit.hi and s[1] in fit.pressures]
                here[press] = self.model.new_bool_var(f"b{job.index}_{press}")
                choices = []
                for k in range(self.count[press]):
                    if not moves and k != home[1]:
                        continue
                    x = self.model.new_bool_var(f"x{job.index}_{press}_{k}")
                    self.inside[job.index, press, k] = x
                    choices.append(x)
                    self.model.add(sum(self.picks[press][k][i] for i in suits) >= x)
                    self.model.add(self.start[job.index] >= self.opens[press][k]).only_enforce_if(x)
                    self.model.add(self.end[job.index] <= self.closes[press][k]).only_enforce_if(x)
                self.model.add(sum(choices) == here[press])
            self.model.add_exactly_one(here.values())
            self.on.append(here)

    def _no_overlap(self) -> None:
        lanes: list[list[cp_model.IntervalVar]] = [[] for _ in self.instance.presses]
        for job in self.work.jobs:
            for press, here in self.on[job.index].items():
                lanes[press].append(
                    self.model.new_optional_interval_var(
                        self.start[job.index], self.paces[job.index][press], self.end[job.index], here, ""
                    )
                )
        for press, lane in enumerate(lanes):
            for a, b in self.away(press):
                lane.append(self.model.new_fixed_size_interval_var(a, b - a, ""))
            self.model.add_no_overlap(lane)

    def _sublots(self) -> None:
        """The next stage starts after its first piece is ready and does not overtake the last (lot streaming)."""
        for job in self.work.jobs:
            if job.before < 0:
                continue
            first, last = self.lags(job.index)
            self.model.add(self.start[job.index] >= self.start[job.before] + first)
            self.model.add(self.end[job.index] >= self.end[job.before] + last)

    def _kept_order(self) -> None:
        """Jobs that are not free keep their order on their press."""
        for jobs in self.incumbent:
            kept = [j for j in jobs if j not in self.free.jobs]
            for a, b in itertools.pairwise(kept):
                self.model.add(self.start[b] >= self.end[a])

    def _alike_in_order(self) -> None:
        """Bundles of one line are alike: where both are free the first goes first."""
        last: dict[int, tuple[int, int]] = {}
        for job in self.work.jobs:
            if job.index not in self.free.jobs:
                continue
            key = job.task
            starts = self.played.starts
            if (
                key in last
                and last[key][1] == job.pieces
                and starts[last[key][0]] <= starts[job.index]
                and self._may_order(last[key][0], job.index)
            ):
                self.model.add(self.start[last[key][0]] <= self.start[job.index])
            last[key] = (job.index, job.pieces)

    def _may_order(self, a: int, b: int) -> bool:
        """Whether the whole bundles of both jobs are free, so that ordering them cuts off nothing."""
        bundles = (self.work.jobs[a].bundle, self.work.jobs[b].bundle)
        return all(j.index in self.free.jobs for j in self.work.jobs if j.bundle in bundles)

    def _press_work(self) -> None:
        """The finish is no earlier than the presses' work, spread evenly, allows."""
        self.finish = self.model.new_int_var(0, self.horizon, "finish")
        loads = []
        for press in range(len(self.instance.presses)):
            load = sum(
                self.paces[job.index][press] * self.on[job.index][press]
                for job in self.work.jobs
                if press in self.on[job.index]
            )
            loads.append(load)
            self.model.add(self.finish >= load)
        self.model.add(len(loads) * self.finish >= sum(loads) + sum(self.change))

    def _orders(self) -> None:
        instance, gaps = self.instance, self.axis.gaps()
        self.late: list[tuple[int, cp_model.IntVar]] = []
        ends: dict[int, list[cp_model.LinearExprT]] = {}
        for job in self.work.jobs:
            task = instance.tasks[job.task]
            if task.last:
                tail = min(c[3] for c in self.estimator.cycle[job.index].values())
                ends.setdefault(instance.order_of[task.line], []).append(self.end[job.index] + tail)
        for order, finishes in ends.items():
            for end in finishes:
                self.model.add(self.finish >= end)
            due = instance.due[order]
            if due is None:
                continue
            done = self.model.new_int_var(0, self.horizon, f"f{order}")
            for end in finishes:
                self.model.add(done >= end)
            late = self.model.new_int_var(0, 10 * self.horizon + 14 * 86_400, f"t{order}")
            self.model.add(late >= self._real(done, gaps) - due)
            self.late.append((max(1, round(SCALE * instance.priority[order])), late))

    def _real(self, work: cp_model.IntVar, gaps: Sequence[tuple[int, int]]) -> cp_model.LinearExpr:
        """A working time as a real moment: every gap it lies behind is added."""
        terms: list[cp_model.LinearExprT] = [work + (self.axis.spans[0][0] if self.axis.spans else 0)]
        for before, seconds in gaps:
            if before < self.horizon:
                past = self.model.new_bool_var("")
                self.model.add(work <= before).only_enforce_if(~past)
                terms.append(seconds * past)
        return total(terms)

    def _hint(self) -> None:
        """The incumbent, whole: a start for every job, a setting and a span for every campaign."""
        model, played = self.model, self.played
        for job in self.work.jobs:
            model.add_hint(self.start[job.index], played.starts[job.index])
            model.add_hint(self.end[job.index], played.ends[job.index])
            for press, here in self.on[job.index].items():
                model.add_hint(here, int(press == self.home[job.index][0]))
        for (job_index, press, k), x in self.inside.items():
            model.add_hint(x, int((press, k) == self.home[job_index]))
        for press, spans in enumerate(played.spans):
            options = self.settings.candidates(press)
            for k, row in enumerate(self.picks[press]):
                setting, opens, closes = spans[k]
                model.add_hint(self.opens[press][k], opens)
                model.add_hint(self.closes[press][k], closes)
                for option, z in zip(options, row, strict=True):
                    model.add_hint(z, int(option == setting))

    def _complete_hint(self) -> bool:
        """Work out what follows from the hint, so that it is a whole solution; whether it is one."""
        solver = new_solver()
        solver.parameters.num_workers = 1
        solver.parameters.fix_variables_to_their_hinted_value = True
        solver.parameters.cp_model_probing_level = 0
        if solver.solve(self.model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return False
        values = list(solver.response_proto.solution)
        self.model.proto.solution_hint.vars.clear()
        self.model.proto.solution_hint.values.clear()
        self.model.proto.solution_hint.vars.extend(range(len(values)))
        self.model.proto.solution_hint.values.extend(values)
        return True

    def _objective(self) -> None:
        goals = self.instance.day.shop.goals
        done = self._real(self.finish, self.axis.gaps())
        self.model.minimize(
            self.late_weight * total(w * late for w, late in self.late)
            + round(SCALE * goals.finish) * done
            + round(SCALE * 60 * goals.change) * total(self.changed)
            + SCALE * total(self.change)
        )

    def solve(self, effort: Effort) -> Answer:
        """The best sequences found within the effort; None where the model found nothing."""
        self._complete_hint()
        solver = new_solver()
        solver.parameters.num_workers = effort.workers
        solver.parameters.cp_model_probing_level = 0
        solver.parameters.interleave_search = effort.seconds is None and effort.workers > 1
        solver.parameters.max_deterministic_time = effort.deterministic
        solver.parameters.random_seed = effort.seed
        if effort.seconds is not None:
            solver.parameters.max_time_in_seconds = max(0.05, effort.seconds)
        status = solver.solve(self.model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return Answer(None, 0.0, 0.0)
        sequences: list[list[int]] = [[] for _ in self.instance.presses]
        order = sorted(
            (solver.value(self.start[j.index]), solver.value(self.end[j.index]), j.index) for j in self.work.jobs
        )
        for _, _, job in order:
            press = next(p for p, here in self.on[job].items() if solver.value(here))
            sequences[press].append(job)
        return Answer(sequences, solver.objective_value, solver.best_objective_bound, status == cp_model.OPTIMAL)
