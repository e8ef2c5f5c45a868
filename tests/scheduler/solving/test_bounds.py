"""No bound is above what some plan reaches: on scenarios, on drawn days, and against every sequence of tiny ones."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Any

import pytest

from models.day import Day
from models.problem import NoPlan
from scheduler import calendar
from scheduler.breakdown import break_down, check_fits
from scheduler.instance import Instance
from scheduler.intake import read_day
from scheduler.planning import plan_day
from scheduler.solving.axis import Axis
from scheduler.solving.bounds import work_bound
from scheduler.solving.bundles import Work, cut
from scheduler.solving.chains import alternatives, default_chains
from scheduler.solving.efforts import EFFORTS
from scheduler.solving.incumbent import programme_of
from scheduler.solving.late_bound import late_bound
from scheduler.solving.late_flow import flow_bound
from scheduler.solving.least import least_operations
from scheduler.solving.loads import least_parts
from scheduler.solving.settings import Settings
from scheduler.solving.solve import solve
from scheduler.solving.stretches import Stretches
from scheduler.timetable.dispatch import dispatch
from scheduler.timetable.manner import MANNERS
from tests.scenarios.folders import NAMES, SCENARIOS
from tests.scheduler.breakdown.days import PRESS, film, pile
from tests.scheduler.days import at, day, faults, random_day

LONG = pytest.mark.thorough
MOST_LOADINGS = 5


def sound(goals: Any) -> bool:
    """Bounds lie at or below what the plan reaches, and the gap is reckoned from them."""
    gap = (goals.work_min - goals.work_bound) / goals.work_min if goals.work_min else 0.0
    below = 0 <= goals.late_bound <= goals.late_min and 0 <= goals.work_bound <= goals.work_min
    return below and goals.gap == pytest.approx(gap, abs=1e-3)


@pytest.mark.parametrize("name", NAMES)
def test_a_scenarios_bounds_are_no_more_than_its_figures(name: str) -> None:
    """Both goals' bounds as they were proven, before plan.json cuts them off at the value found."""
    made = read_day(SCENARIOS / name, None)
    solution = solve(made, check_fits(made, break_down(made)), EFFORTS["quick"])
    assert solution.bounds[0] <= solution.table.late + 0.5
    assert solution.bounds[1] <= solution.table.work + 0.5


@pytest.mark.parametrize("seed", range(5))
def test_a_plans_gap_is_reckoned_from_its_bounds(seed: int) -> None:
    """plan.json's bounds lie at or below its figures, and the gap is theirs."""
    assert sound(plan_day(random_day(seed, tiny=True), "quick").plan.goals)


@pytest.mark.parametrize("seed", range(30))
def test_a_drawn_days_bounds_are_no_more_than_its_figures(seed: int) -> None:
    """The bounds as they were proven, on days of every kind."""
    made = random_day(seed)
    solution = solve(made, check_fits(made, break_down(made)), EFFORTS["quick"])
    assert not faults(solution.instance, solution.table)
    assert solution.bounds[0] <= solution.table.late + 0.5
    assert solution.bounds[1] <= solution.table.work + 0.5


def tiny_days() -> Iterator[int]:
    """Seeds of days with at most five loadings over all lines."""
    for seed in itertools.count():
        made = random_day(seed, tiny=True)
        try:
            routes = check_fits(made, break_down(made))
        except NoPlan:
            continue
        instance = Instance(made, default_chains(made, routes))
        if len(cut(instance, 100).jobs) <= MOST_LOADINGS:
            yield seed


def sequences(instance: Instance, work: Work) -> Iterator[list[list[int]]]:
    """Every way to put the jobs on presses that take them, in every order."""
    jobs = range(len(work.jobs))
    takes = [list(instance.tasks[work.jobs[j].task].fits) for j in jobs]
    for order in itertools.permutations(jobs):
        for presses in itertools.product(*(takes[j] for j in order)):
            found: list[list[int]] = [[] for _ in instance.presses]
            for job, press in zip(order, presses, strict=True):
                found[press].append(job)
            yield found


def brute_force(made: Day) -> tuple[float, float]:
    """The two goals in seconds, lateness first, of the best of any sequence of any chains in any manner."""
    routes = check_fits(made, break_down(made))
    base = default_chains(made, routes)
    trials = [
        base,
        *([c if n in lines else b for n, b in enumerate(base)] for lines, c in alternatives(made, routes, base)),
    ]
    best = (float("inf"), float("inf"))
    for chains in trials:
        instance = Instance(made, chains)
        work, settings = cut(instance, 100), Settings(instance)
        for plan in {programme_of(settings, work, s) for s in sequences(instance, work)}:
            for manner in MANNERS:
                table = dispatch(instance, plan, manner)
                if not table.unplaced and not table.broken:
                    best = min(best, (table.late, table.work))
    return best


TINY = list(itertools.islice(tiny_days(), 30))


@pytest.mark.parametrize("seed", [*TINY[:10], *(pytest.param(s, marks=LONG) for s in TINY[10:])])
def test_a_tiny_days_bounds_are_no_more_than_the_best_of_all_sequences(seed: int) -> None:
    """Every order on every press, every way to share loadings: none is better than what is said to be unbeatable."""
    made = random_day(seed, tiny=True)
    solution = solve(made, check_fits(made, break_down(made)), EFFORTS["normal"])
    late, work = brute_force(made)
    assert solution.bounds[0] <= late + 1e-6
    assert solution.bounds[1] <= work + 1e-6


@pytest.mark.parametrize("effort", [0.05, 1.0])
@pytest.mark.parametrize("seed", range(100, 112))
def test_no_relaxation_passes_a_plan_that_is_as_good_on_the_first_goal(seed: int, effort: float) -> None:
    """The plan in hand, and what is known of it, may be worse than the best: the bounds hold for that one too."""
    made = random_day(seed)
    routes = check_fits(made, break_down(made))
    best = solve(made, routes, EFFORTS["quick"])
    if best.table.unplaced or best.table.broken:
        return
    instance = Instance(made, default_chains(made, routes))
    parts = least_parts(instance, routes)
    for known, late in ((best.table.work, best.table.late), (3 * best.table.work, 2 * best.table.late + 600)):
        bound = work_bound(instance, parts, known, effort, late)
        assert 0 <= bound.work <= best.table.work + 0.5
        assert bound.finish <= best.table.finish
        assert work_bound(instance, parts, known, effort).work <= best.table.work + 0.5


@pytest.mark.parametrize("seed", range(100, 112))
def test_a_plan_solves_the_ordered_problem(seed: int) -> None:
    """As many changes as the plan has, and its due times: no plan that changes no more costs less than is proven."""
    made = random_day(seed)
    routes = check_fits(made, break_down(made))
    table = solve(made, routes, EFFORTS["quick"]).table
    instance = Instance(made, default_chains(made, routes))
    days = sum(opens < table.finish for opens, _ in instance.open_hours)
    if table.unplaced or table.broken or days > 1 or table.late:
        return
    parts, axis = least_parts(instance, routes), Axis(calendar.shop_windows(made))
    due = [None if part.due is None else axis.work(max(0, part.due)) for part in parts]
    ordered = Stretches(instance, parts, 2 * table.work + 60, 0, table.change_count, due)
    assert ordered.least_cost(2.0, 2 * table.work + 60) <= table.work + 0.5


@pytest.mark.parametrize("seed", TINY[:10])
def test_a_tiny_days_plan_is_as_little_late_as_the_best_of_all_sequences(seed: int) -> None:
    """With so few loadings the search finds the least lateness that any sequence has."""
    made = random_day(seed, tiny=True)
    solution = solve(made, check_fits(made, break_down(made)), EFFORTS["normal"])
    assert solution.table.late <= brute_force(made)[0] + 1e-6


def one_press(jobs: list[tuple[int, int, int]]) -> Day:
    """(dwell seconds, due seconds, priority) of orders of one piece on one warm press with hands of no length."""
    films = [film(f"f{n}", dwell_s=[p, p]) for n, (p, _, _) in enumerate(jobs)]
    return day(
        films,
        {f"d{n}": {"front": [pile(f"f{n}")]} for n in range(len(jobs))},
        [(f"d{n}", 1, {"due": at(d / 60), "priority": w}) for n, (_, d, w) in enumerate(jobs)],
        presses=[{**PRESS, "at_start": 310}],
        hands={"load_s": 0, "align_s": 0, "unload_s": 0, "peel_s": 0},
        rules={"late_open_s": 0},
    )


def tardiness(jobs: tuple[tuple[int, int, int], ...]) -> int:
    """Weighted tardiness of the jobs in this order on one machine."""
    now = total = 0
    for seconds, due, weight in jobs:
        now += seconds
        total += weight * max(0, now - due)
    return total


@pytest.mark.parametrize(
    "jobs",
    [
        [(120, 100, 1), (80, 90, 3), (300, 260, 2)],
        [(60, 60, 1), (60, 60, 5), (60, 60, 2), (60, 300, 9)],
        [(200, 150, 4), (50, 180, 1), (90, 90, 2), (400, 500, 3), (10, 20, 1)],
        [(30, 1000, 1), (40, 1000, 1)],
    ],
)
def test_on_one_machine_the_late_bound_is_the_optimum(jobs: list[tuple[int, int, int]]) -> None:
    """With one press the relaxation loses nothing: the least weighted tardiness over all orders, by trying them."""
    made = one_press(jobs)
    routes = check_fits(made, break_down(made))
    bound = late_bound(Instance(made, default_chains(made, routes)), least_operations(made, routes), 5)
    assert bound == pytest.approx(min(tardiness(order) for order in itertools.permutations(jobs)))
    assert plan_day(made, "quick").plan.goals.late_min * 60 == pytest.approx(bound, abs=0.6)


def test_equal_weights_and_one_due_time_are_done_shortest_first() -> None:
    """Smith's rule (1956), weighted shortest processing time first, is best where everything is late from the start."""
    jobs = [(90, 0, 1), (30, 0, 3), (60, 0, 1), (120, 0, 4)]
    rule = sorted(jobs, key=lambda j: j[0] / j[2])
    goals = plan_day(one_press(jobs), "quick").plan.goals
    assert goals.late_min * 60 == pytest.approx(tardiness(tuple(rule)))
    assert goals.late_bound == goals.late_min


def test_a_night_between_counts_in_the_late_bound() -> None:
    """Blanks that come at nine the next morning make an order due today late by the night, and by its first closing."""
    made = day(
        [film("f", dwell_s=[60, 60])],
        {"d": {"front": [pile("f")]}},
        [("d", 3, {"due": at(60), "ready": at(25 * 60)})],
        presses=[{**PRESS, "at_start": 310}],
        hands={"load_s": 0, "align_s": 0, "unload_s": 0, "peel_s": 0},
    )
    routes = check_fits(made, break_down(made))
    bound = late_bound(Instance(made, default_chains(made, routes)), least_operations(made, routes), 1.0)
    assert bound == pytest.approx(24 * 3600 + 3 * 60, abs=1)
    assert bound <= solve(made, routes, EFFORTS["quick"]).table.late + 1e-6


@pytest.mark.parametrize("minutes", [5, 30, 90])
def test_work_that_no_day_holds_is_late_by_the_night(minutes: int) -> None:
    """Two orders of which the first day holds one: the other, due on it, is late by more than the closed hours."""
    made = day(
        [film("f", dwell_s=[60, 60])],
        {"d": {"front": [pile("f")]}},
        [("d", 50 + minutes, {"due": at(110)}), ("d", 50 + minutes, {"due": at(110)})],
        presses=[{**PRESS, "at_start": 310}],
        hands={"load_s": 2, "align_s": 2, "unload_s": 2, "peel_s": 2},
        hours={"open": "08:00", "close": "09:40"},
    )
    routes = check_fits(made, break_down(made))
    bound = flow_bound(Instance(made, default_chains(made, routes)), least_operations(made, routes))
    assert bound >= (24 * 60 - 110) * 60 - 1
    table = solve(made, routes, EFFORTS["quick"]).table
    assert not table.unplaced and bound <= table.late + 1e-6


def test_a_break_hides_only_a_change_that_lies_in_it() -> None:
    """A break no change can lie in, since the work on either side of it is another's, costs all its fifteen minutes."""
    films = [film("a"), film("b", temperature=[380, 400])]
    designs = {name: {"front": [pile(name)]} for name in ("a", "b")}

    def bound(**hours: Any) -> float:
        ready = {**PRESS, "at_start": 310}
        opening = {"open": "08:00", "close": "18:00", **hours}
        made = day(films, designs, [("a", 80), ("b", 230)], presses=[ready], hours=opening)
        return solve(made, check_fits(made, break_down(made)), EFFORTS["quick"]).bounds[1]

    assert bound(breaks=[["10:00", "10:15"]]) >= bound() + 900
