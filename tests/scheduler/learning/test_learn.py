"""What is learnt from made-up days whose true values are known, and what is not said for want of evidence."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import timedelta
from functools import cache

import numpy as np
import pytest

from models.day import Day
from models.log import Entry
from models.plan import Row
from scheduler.learning import Lesson, learn
from scheduler.learning.hands import FEWEST
from scheduler.learning.ticks import stretches
from tests.scheduler.breakdown.days import PRESS, film, pile
from tests.scheduler.days import day as day_of
from tests.scheduler.learning.made_up import drawn_log, shop_day, timetable
from tests.scheduler.output.planned import loading, planned, row

STEADY = {"spread": {"pace": 0.0}}  # the crew's pace does not differ between days
TRUE = {"load": 1.3, "unload": 1.3, "align": 0.8, "peel": 0.8}
SEEDS = range(12)


@cache
def two_presses() -> tuple[Day, list[Row]]:
    made = shop_day(**STEADY)
    return made, timetable(made)


def said(lesson: Lesson) -> dict[str, tuple[float, float, float]]:
    """Each figure's name with its value and bounds."""
    return {p.name: (p.value, p.low, p.high) for p in lesson.proposals}


def truths(made: Day, kinds: Mapping[str, float]) -> dict[str, float]:
    """The true hand times."""
    return {f"hands.{kind}_s": getattr(made.shop.hands, f"{kind}_s") * factor for kind, factor in kinds.items()}


def misses(lessons: Sequence[Lesson], true: Mapping[str, float]) -> list[str]:
    """Figures whose stated bounds do not hold the truth, rounding of the written figure aside."""
    return [
        f"{name}: {true[name]:.2f} is not in {low:g} to {high:g}"
        for lesson in lessons
        for name, (_, low, high) in said(lesson).items()
        if name in true and not low - 0.05 <= true[name] <= high + 0.05
    ]


def most_misses(figures: int) -> int:
    """So many of 95-in-100 bounds may miss by chance (binomial, three standard deviations)."""
    return math.ceil(0.05 * figures + 3 * math.sqrt(figures * 0.05 * 0.95))


def test_hand_times_come_back_within_their_stated_uncertainty() -> None:
    """Over a dozen drawn days the bounds hold the true hand times as often as they say, and they are narrow."""
    made, rows = two_presses()
    lessons = [learn(made, rows, drawn_log(made, rows, TRUE, {}, seed)) for seed in SEEDS]
    true = truths(made, TRUE)
    assert all(set(true) <= set(said(lesson)) for lesson in lessons)
    missed = misses(lessons, true)
    assert len(missed) <= most_misses(2 * len(lessons)) * 2, missed  # kinds told together miss together
    assert all((high - low) / value < 0.25 for x in lessons for value, low, high in said(x).values() if value > 1.5)
    means = {name: np.mean([said(lesson)[name][0] for lesson in lessons]) for name in true}
    assert all(abs(means[name] / true[name] - 1) < 0.04 for name in true), means


def test_kinds_that_always_come_together_are_told_together() -> None:
    """A load has always its unload, a layer laid its peel: the log cannot tell them apart, and says so."""
    made, rows = two_presses()
    lesson = learn(made, rows, drawn_log(made, rows, TRUE, {}, 1))
    groups = {p.name: set(p.group) for p in lesson.proposals if p.name.startswith("hands.")}
    assert groups["hands.load_s"] == {"hands.unload_s"}
    assert groups["hands.align_s"] == {"hands.peel_s"}
    assert all(p.differs for p in lesson.proposals if p.name.startswith("hands."))


def test_paces_come_back_within_their_stated_uncertainty() -> None:
    """Who is slower and who is quicker comes back, beside the hand times of the crew as a whole."""
    made, rows = two_presses()
    real = {"ada": 1.2, "ben": 0.9}
    work = {who: sum(r.seconds for r in rows if r.person == who) for who in real}
    mean = sum(real[who] * work[who] for who in real) / sum(work.values())
    true = {f'person "{who}" pace': real[who] / mean for who in real}
    true |= truths(made, dict.fromkeys(TRUE, mean))
    lessons = [learn(made, rows, drawn_log(made, rows, {}, real, seed)) for seed in SEEDS]
    missed = misses(lessons, true)
    assert len(missed) <= most_misses(3 * len(lessons)) * 2, missed
    assert all(said(x)['person "ada" pace'][0] > 1.05 > 0.95 > said(x)['person "ben" pace'][0] for x in lessons)


def test_a_days_pace_is_part_of_the_uncertainty() -> None:
    """People have slow days and quick ones; one day cannot tell them from a wrong hand time, so the bounds allow it."""
    made = shop_day(spread={"pace": 0.08})
    rows, random = timetable(made), np.random.default_rng(77)
    lessons = [
        learn(
            made, rows, drawn_log(made, rows, {}, {who: float(random.normal(1, 0.08)) for who in ("ada", "ben")}, seed)
        )
        for seed in SEEDS
    ]
    missed = misses(lessons, truths(made, dict.fromkeys(TRUE, 1.0)))
    assert len(missed) <= most_misses(2 * len(lessons)) * 2, missed


def test_forgotten_and_late_lines_do_not_mislead() -> None:
    """One line in seven forgotten, one in twenty written with the next: the figures come back all the same."""
    made, rows = two_presses()
    lessons = []
    for seed in SEEDS:
        random = np.random.default_rng([seed, 5])
        log = [e for e in drawn_log(made, rows, TRUE, {}, seed) if random.random() > 1 / 7]
        late = [
            e.model_copy(update={"at": e.at + timedelta(seconds=70)}) if random.random() < 1 / 20 else e for e in log
        ]
        lessons.append(learn(made, rows, late))
    missed = misses(lessons, truths(made, TRUE))
    assert len(missed) <= most_misses(2 * len(lessons)) * 2, missed


def test_what_is_right_is_left_alone() -> None:
    """A log drawn from what is written proposes to change hardly anything."""
    made, rows = two_presses()
    lessons = [learn(made, rows, drawn_log(made, rows, {}, {}, seed)) for seed in SEEDS]
    proposed = [p.name for lesson in lessons for p in lesson.proposals if p.differs]
    assert len(proposed) <= 2 * most_misses(4 * len(SEEDS)), proposed


def test_a_short_log_gives_no_figure() -> None:
    """With a dozen lines nothing is said of hand times, and why is told with what would be enough."""
    made, rows = two_presses()
    lesson = learn(made, rows, drawn_log(made, rows, TRUE, {}, 3)[:12])
    assert lesson.proposals == ()
    assert any("15 are wanted" in sentence for sentence in lesson.thin)
    assert any(sentence.startswith("spoilage") for sentence in lesson.thin)


def test_time_waited_for_hands_is_not_taken_for_hand_work() -> None:
    """Where people hurry between presses a press may have waited for them: such times are left out."""
    made = planned("two-presses")
    log = [
        Entry.model_validate({"at": r.end, "what": "done", "press": r.press, "pieces": r.pieces})
        for r in made.rows
        if r.what == "unload"
    ]
    assert len(stretches(made.day, made.rows, log)) < FEWEST  # hardly any: too few to learn from
    assert any("nobody coming straight from elsewhere" in s for s in learn(made.day, made.rows, log).thin)


def changing_day() -> tuple[Day, list[Row]]:
    """A press that goes up and down between 300 and 340 degrees, with three loadings at each."""
    made = day_of(
        [film("f1"), film("f2", temperature=[340, 350])],
        {"one": {"front": [pile("f1")]}, "two": {"front": [pile("f2")]}},
        [("one", 36, {"order": "G1"}), ("two", 36, {"order": "G2"})],
        presses=[{**PRESS, "settle_s": 60}],
        people=[{"id": "ada"}, {"id": "ben"}],
        hours={"open": "08:00", "close": "20:00"},
        **STEADY,
    )
    rows, at = [row(0, 9.2, "change", temperature=300)], 9.2
    for turn in range(24):
        order, degrees = ("G1", 300) if turn % 2 == 0 else ("G2", 340)
        for n in range(3):
            number = 3 * (turn // 2) + n + 1
            own = {"pieces": (f"{order}-1-{number:03d}",), "order": order, "temperature": degrees}
            rows += loading(3 * turn + n + 1, at, **own)
            at += 1
        lasts = 2.6 if turn % 2 == 0 else 11  # 40 degrees at 25 up or 4 down a minute, and a minute to settle
        rows.append(row(at, at + lasts, "change", temperature=640 - degrees))
        at += lasts
    return made, rows


@pytest.mark.parametrize(("heat", "seeds"), [(1.0, SEEDS), (1.25, SEEDS)])
def test_heating_and_cooling_come_back_within_their_stated_uncertainty(heat: float, seeds: range) -> None:
    """Rates of a press that is slower than written come back; a settling time is not taken for heating."""
    made, rows = changing_day()
    moving = {"up": (2.6 * heat - 1) / 1.6, "down": (11 * heat - 1) / 10}
    true = {'press "window" heat_up': 25 / moving["up"], 'press "window" cool_down': 4 / moving["down"]}
    lessons = [learn(made, rows, drawn_log(made, rows, {}, {}, seed, heat, 0.1)) for seed in seeds]
    assert all(set(true) <= set(said(lesson)) for lesson in lessons)
    missed = misses(lessons, true)
    assert len(missed) <= most_misses(2 * len(lessons)), missed


def test_two_changes_are_too_few_for_a_figure() -> None:
    """A press that changed once up and once down gets no new rate, and the reason is told."""
    made, rows = changing_day()
    few = [r for r in rows if r.start < rows[0].start + timedelta(minutes=30)]
    lesson = learn(made, few, drawn_log(made, few, {}, {}, 1))
    assert not any("heat_up" in p.name or "cool_down" in p.name for p in lesson.proposals)
    assert any(sentence.startswith("cooling of press window: 1 changes timed") for sentence in lesson.thin)


def test_spoilage_has_wilsons_interval() -> None:
    """Six spoiled of 246 blanks: the interval is that of E. B. Wilson (1927), computed here by its quadratic.

    Its ends are the shares p at which (found - p) squared equals z squared times p (1 - p) / n.
    """
    made, rows = two_presses()
    log = drawn_log(made, rows, {}, {}, 4)
    bad = [
        Entry.model_validate({"at": log[-1].at, "what": "spoiled", "pieces": log[n].pieces}) for n in range(0, 60, 10)
    ]
    _, low, high = said(learn(made, rows, [*log, *bad]))["spread.spoil"]
    n, z = 246, 1.96
    for end in (low, high):
        assert abs((6 / n - end) ** 2 - z * z * end * (1 - end) / n) < 2e-5
    assert low < 6 / n < high


def test_a_log_without_spoiled_pieces_says_nothing_of_them() -> None:
    """Nothing logged may mean nothing spoiled or nothing written down."""
    made, rows = two_presses()
    lesson = learn(made, rows, drawn_log(made, rows, {}, {}, 4))
    assert "spread.spoil" not in said(lesson)
    assert any("the log cannot tell" in sentence for sentence in lesson.thin)
