"""Variants planned side by side, two at a time, each in a process of its own."""

from __future__ import annotations

import multiprocessing
import time
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from dataclasses import dataclass, replace

from models.day import Day
from models.plan import Busy, Plan, Row
from models.problem import BadInput, NoPlan
from scheduler import __version__
from scheduler.audit import audit_rows
from scheduler.breakdown import break_down, check_fits
from scheduler.comparing import habit as by_rule
from scheduler.comparing.changes import Variant
from scheduler.comparing.figures import Figures, Outcome, figures_of
from scheduler.instance import Instance
from scheduler.planning import Planned, plan_day
from scheduler.solving.chains import default_chains
from scheduler.solving.efforts import EffortName
from scheduler.timetable.rows import rows_of
from scheduler.timetable.shortage import shortages
from scheduler.timetable.summary import plan_of

AT_ONCE = 2
HABIT = "by habit"
_HABIT_WORDS = "orders one after another by due time, each wholly on the press that is free first"

Tell = Callable[[Outcome, int, int], None]  # an outcome, how many are done, of how many


@dataclass(frozen=True)
class Work:
    """One thing to plan: a variant, or the base day by habit."""

    variant: Variant
    effort: EffortName
    habit: bool = False


@dataclass(frozen=True)
class Came:
    """An outcome with its plan, None where there is none."""

    outcome: Outcome
    plan: Plan | None = None
    rows: Sequence[Row] = ()


def run(
    variants: Sequence[Variant], effort: EffortName, tell: Tell, habit: bool = True, known: Planned | None = None
) -> list[Outcome]:
    """The outcomes in the variants' order, then the habit's where it is wanted. None that fails stops the others.

    The first variant is the day as it is; `known` is its plan where there is one already. That plan stands for every
    other variant that it holds for (by the audit) and that came out worse, so that more of something is never told
    as worse for want of searching.
    """
    work = [Work(variant, effort) for variant in variants]
    if habit:
        work.append(Work(replace(variants[0], name=HABIT, words=_HABIT_WORDS), effort, habit=True))
    came = _side_by_side(work, tell) if known is None else [_known(variants[0], known), *_afresh(work[1:], tell)]
    base = came[0]
    return [
        base.outcome,
        *(_no_worse(base, came[number], variants[number]) for number in range(1, len(variants))),
        *(one.outcome for one in came[len(variants) :]),
    ]


def _known(variant: Variant, planned: Planned) -> Came:
    figures = figures_of(planned.day, planned.plan, planned.rows)
    return Came(Outcome(variant.name, variant.words, figures), planned.plan, planned.rows)


def _afresh(work: Sequence[Work], tell: Tell) -> list[Came]:
    """In processes that begin anew: one that has had the solver at work is not for forking."""
    return _side_by_side(work, tell, "spawn") if work else []


def _side_by_side(work: Sequence[Work], tell: Tell, begin: str = "fork") -> list[Came]:
    found: dict[int, Came] = {}
    context = multiprocessing.get_context(begin if begin in multiprocessing.get_all_start_methods() else "spawn")
    with ProcessPoolExecutor(AT_ONCE, context) as pool:
        futures: dict[Future[Came], int] = {pool.submit(come_of, one): number for number, one in enumerate(work)}
        try:
            for future in as_completed(futures):
                found[futures[future]] = future.result()
                tell(found[futures[future]].outcome, len(found), len(work))
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            for child in multiprocessing.active_children():  # one that plans would be waited for
                child.terminate()
                child.join()
            raise
    return [found[number] for number in range(len(work))]


def come_of(work: Work) -> Came:
    """Plan one and sum it up; what keeps it from being planned is said in the shop's words."""
    began, variant = time.monotonic(), work.variant
    try:
        day, plan, rows = by_habit(variant.day) if work.habit else _planned(variant.day, work.effort)
        reasons: tuple[str, ...] = tuple(f"{f.rule}: {f.where}: {f.message}" for f in audit_rows(day, rows)[:3])
    except NoPlan as error:
        reasons = error.reasons
    except BadInput as error:
        reasons = tuple(str(problem) for problem in error.problems)
    if reasons:
        return Came(Outcome(variant.name, variant.words, None, reasons, time.monotonic() - began))
    outcome = Outcome(variant.name, variant.words, figures_of(day, plan, rows), (), time.monotonic() - began)
    return Came(outcome, plan, rows)


def _no_worse(base: Came, came: Came, variant: Variant) -> Outcome:
    """The outcome, or the base plan's where that holds for the variant's day too and is better."""
    if base.plan is None or base.plan.start != variant.day.start:
        return came.outcome
    plan = came.plan
    if plan is not None and not _better(base.plan, plan, variant.day):
        return came.outcome
    if audit_rows(variant.day, base.rows):
        return came.outcome
    return replace(came.outcome, figures=_standing(base, came.plan, variant.day), reasons=(), as_before=True)


def _standing(base: Came, plan: Plan | None, day: Day) -> Figures:
    """The base plan's figures on this day, with the bounds that were proven for it."""
    assert base.plan is not None
    known = {busy.id: busy for busy in (*base.plan.presses, *base.plan.people)}
    bounds = (plan.goals.late_bound, plan.goals.work_bound) if plan else (0.0, 0.0)
    goals = {"late_min": _late(base.plan, day), "late_bound": bounds[0], "work_bound": bounds[1]}
    parts = {
        "presses": tuple(known.get(press, Busy(id=press, busy_min=0)) for press in day.presses),
        "people": tuple(known.get(who, Busy(id=who, busy_min=0)) for who in day.people),
        "goals": base.plan.goals.model_copy(update=goals),
    }
    return figures_of(day, base.plan.model_copy(update=parts), base.rows)


def _better(base: Plan, plan: Plan, day: Day) -> bool:
    """Whether the base plan is better by this day's own priorities."""
    return (_late(base, day), base.goals.work_min) < (_late(plan, day), plan.goals.work_min)


def _late(plan: Plan, day: Day) -> float:
    return round(sum(day.orders[one.order].priority * (one.late_min or 0) for one in plan.orders), 2)


def _planned(day: Day, effort: EffortName) -> tuple[Day, Plan, Sequence[Row]]:
    planned = plan_day(day, effort)
    return planned.day, planned.plan, planned.rows


def by_habit(day: Day) -> tuple[Day, Plan, Sequence[Row]]:
    """The day as a shop does it without a plan. Raises BadInput, NoPlan."""
    instance = Instance(day, default_chains(day, check_fits(day, break_down(day))))
    table = by_rule.habit(instance)
    if table.unplaced or table.broken:
        raise NoPlan(shortages(instance, table))
    return day, plan_of(instance, table, (0.0, 0.0), 0, "habit", __version__), rows_of(instance, table)
