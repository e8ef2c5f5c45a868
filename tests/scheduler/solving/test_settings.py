"""Settings of a sequence: the dynamic programme against every choice there is."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterable, Sequence
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.day import Day
from scheduler.instance import Instance, PressFit, Setting
from scheduler.planning import plan_day
from scheduler.solving.settings import Settings
from tests.scheduler.breakdown.days import PRESS, film, pile
from tests.scheduler.days import day, instance_of

Windows = Sequence[tuple[int, int]]


def windows_day(windows: Windows, words: Sequence[Sequence[str]] = (), change: float = 10, **more: Any) -> Day:
    """A day with one piece for each temperature window, on one press; `more` goes to the press."""
    films = [
        film(f"f{n}", temperature=list(window), **({"pressure": list(words[n])} if words else {}))
        for n, window in enumerate(windows)
    ]
    designs = {f"d{n}": {"front": [pile(f"f{n}")]} for n in range(len(windows))}
    used = sorted({word for group in words for word in group})
    press = {**PRESS, "settle_s": 45, **({"pressures": used, "pressure_change_s": 40} if words else {}), **more}
    return day(films, designs, [(name, 1) for name in designs], presses=[press], goals={"change": change})


def fits_of(instance: Instance) -> list[PressFit]:
    """What the press asks of each order in turn."""
    return [task.fits[0] for task in instance.tasks]


def total(instance: Instance, settings: Settings, chosen: Sequence[Setting]) -> float:
    """Warm-up and changes of settings in turn, as the second goal sees them."""
    warm = instance.day.shop.goals.finish * instance.warm_up(0, instance.presses[0].at_start, chosen[0])
    return warm + sum(settings.change_cost(0, a, b) for a, b in itertools.pairwise(chosen))


def cheapest(instance: Instance, settings: Settings, options: Iterable[Sequence[Setting]]) -> float:
    """The least total over every way to choose one option for each in turn."""
    return min(total(instance, settings, chosen) for chosen in itertools.product(*options))


def drawn(seed: int) -> tuple[Windows, list[list[str]], dict[str, Any]]:
    """Three to five narrow windows, sometimes with pressures, on a press cold, warm or measured."""
    rng = random.Random(seed)
    lows = [rng.randint(300, 308) for _ in range(rng.randint(3, 4))]
    windows = [(lo, lo + rng.randint(0, 4)) for lo in lows]
    words = [rng.sample(["light", "firm"], rng.randint(1, 2)) for _ in windows] if rng.random() < 0.5 else []
    more: dict[str, Any] = {"at_start": rng.choice([72, 300, 303, 305.5, 312])}
    return windows, words, more


@pytest.mark.parametrize("seed", range(12))
def test_the_dynamic_programme_is_as_cheap_as_any_choice_of_candidates(seed: int) -> None:
    """A random sequence with repeats: nothing cheaper among all combinations of the settings that suffice."""
    windows, words, more = drawn(seed)
    instance = instance_of(windows_day(windows, words, **more))
    settings, rng = Settings(instance), random.Random(seed)
    fits = [rng.choice(fits_of(instance)) for _ in range(5)]
    chosen = settings.choose(0, fits)
    options = [
        [s for s in settings.candidates(0) if fit.lo <= s[0] <= fit.hi and s[1] in fit.pressures] for fit in fits
    ]
    assert all(s in allowed for s, allowed in zip(chosen, options, strict=True))
    assert total(instance, settings, chosen) == pytest.approx(cheapest(instance, settings, options))


@pytest.mark.parametrize("seed", range(12))
def test_the_candidates_suffice(seed: int) -> None:
    """No whole degree between them would make the sequence cheaper, but for a second of rounding up a change."""
    windows, words, more = drawn(seed)
    instance = instance_of(windows_day(windows, words, **more))
    settings, fits = Settings(instance), fits_of(instance)
    every = [[(t, word) for t in range(fit.lo, fit.hi + 1) for word in fit.pressures] for fit in fits]
    mine = total(instance, settings, settings.choose(0, fits))
    least = cheapest(instance, settings, every)
    assert least <= mine <= least + 2 * (len(fits) - 1)


@given(st.lists(st.tuples(st.integers(250, 400), st.integers(0, 40)), min_size=1, max_size=9))
def test_prohibitive_changes_give_the_fewest_set_points(drawn: list[tuple[int, int]]) -> None:
    """Interval stabbing: in the order of upper ends there are as many settings as the textbook greedy takes.

    The lowest upper end, again and again, stabs a set of intervals with the fewest points (textbook greedy).
    """
    windows = sorted({(lo, lo + width) for lo, width in drawn}, key=lambda w: (w[1], w[0]))
    instance = instance_of(windows_day(windows, change=10_000))
    chosen = Settings(instance).choose(0, fits_of(instance))
    assert len(set(chosen)) == len(stabbing(windows))


def stabbing(windows: Iterable[tuple[int, int]]) -> list[int]:
    """The textbook greedy: the lowest upper end, until every window holds a point."""
    left, points = list(windows), []
    while left:
        points.append(min(hi for _, hi in left))
        left = [(lo, hi) for lo, hi in left if not lo <= points[-1] <= hi]
    return points


@pytest.mark.parametrize("seed", range(4))
def test_a_plan_has_the_fewest_changes_where_a_change_is_dear(seed: int) -> None:
    """Through the whole road: changes on one press are the greedy's points but one."""
    rng = random.Random(seed)
    windows = [(lo, lo + rng.randint(5, 30)) for lo in rng.sample(range(250, 380), 7)]
    goals = plan_day(windows_day(windows, change=10_000), "quick").plan.goals
    assert goals.changes == len(stabbing(windows)) - 1


def test_a_change_costs_its_worth_its_minutes_and_the_finish_put_off() -> None:
    """Ten minutes' worth, and each second twice: once spent changing, once later done."""
    instance = instance_of(windows_day([(300, 300), (325, 325)]))
    settings = Settings(instance)
    assert settings.change_cost(0, (300, "medium"), (325, "medium")) == 600 + 2 * (60 + 45)
    assert settings.change_cost(0, (300, "medium"), (300, "medium")) == 0
