"""The page of the plan, without a browser: what stands in it and what its pictures are drawn from."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from datetime import datetime, timedelta
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from models.plan import Row
from scheduler.output.cautions import CAUTIONS
from scheduler.output.page_chart import chart_data
from scheduler.output.page_colour import heat, ink_on, mark
from scheduler.output.page_curve import curves
from scheduler.output.page_facts import loadings_of, peel_waits, span_on_press, stations_of
from scheduler.output.page_hands import stretches
from scheduler.output.page_tables import finish_table, first_words, goal_words, minutes
from scheduler.output.timeline import timeline_page
from scheduler.planning import Planned, plan_folder
from tests.scheduler.output.planned import EIGHT, finish, with_orders

ROOT = Path(__file__).parents[3]
NAMES = ("team-shirts", "fair-weekend", "celsius-studio")


@cache
def planned(name: str) -> Planned:
    return plan_folder(ROOT / "scenarios" / name, effort="quick")


@cache
def page(name: str) -> str:
    plan = planned(name)
    return timeline_page(plan.day, plan.plan, plan.rows)


@cache
def data(name: str) -> dict[str, Any]:
    plan = planned(name)
    return chart_data(plan.day, plan.plan, plan.rows)


def channels(colour: str) -> list[float]:
    """sRGB to linear light, IEC 61966-2-1."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    return [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]


def luminance(colour: str) -> float:
    return sum(w * c for w, c in zip((0.2126, 0.7152, 0.0722), channels(colour), strict=True))


def lightness(colour: str) -> float:
    """CIE 1976 L*, from relative luminance (CIE 15)."""
    y = luminance(colour)
    return 116 * y ** (1 / 3) - 16 if y > 216 / 24389 else y * 24389 / 27


def test_heat_scale_darkens_evenly() -> None:
    """Hotter is darker at every step, by about the same amount, so the scale reads without colour."""
    scale = [lightness(heat(t, 0, 20)) for t in range(21)]
    steps = [a - b for a, b in pairwise(scale)]
    assert min(steps) > 0
    assert max(steps) < 2 * min(steps)
    assert scale[0] - scale[-1] > 60


def test_ink_reads_on_every_heat() -> None:
    """Words on bars keep the contrast WCAG 2.2 (1.4.3) asks for, 4.5 to 1."""
    for t in range(101):
        fill = heat(t, 0, 100)
        lights = sorted((luminance(fill), luminance(ink_on(fill))))
        assert (lights[1] + 0.05) / (lights[0] + 0.05) >= 4.5


def test_one_setting_is_in_the_middle() -> None:
    """A plan at one set-point has one colour, neither the coldest nor the hottest."""
    assert heat(300, 300, 300) == heat(5, 0, 10)


def test_orders_marks_differ() -> None:
    """The first 168 orders have marks of their own."""
    assert len({mark(n) for n in range(168)}) == 168


@pytest.mark.parametrize("name", NAMES)
def test_page_asks_for_nothing(name: str) -> None:
    """No script, style, picture or font is fetched, and the page is below 6 MB."""
    text = page(name)
    own = re.sub(r"<script>.*?</script>", "", text, flags=re.S)
    assert not re.search(r"<(?:script|img|link|iframe|source)\b[^>]*(?:src|href)=", own)
    assert "@import" not in own and "url(" not in own
    assert "default-src 'none'" in own
    assert len(text.encode()) < 6_000_000


@pytest.mark.parametrize("name", NAMES)
def test_page_holds_the_cautions(name: str) -> None:
    """Every caution of the trade stands in the foot."""
    foot = page(name).split("<footer>")[1].split("</footer>")[0]
    for caution in CAUTIONS:
        assert caution.replace("'", "&#x27;") in foot


@pytest.mark.parametrize("name", NAMES)
def test_data_cannot_leave_its_script(name: str) -> None:
    """The data reads back as JSON and holds no < or >, whatever a name says."""
    found = re.search(r'<script type="application/json" id="data">(.*?)</script>', page(name), flags=re.S)
    assert found is not None
    assert "<" not in found[1] and ">" not in found[1] and "&" not in found[1]
    assert [run["press"] for run in json.loads(found[1])["runs"]] == [run["press"] for run in data(name)["runs"]]


@pytest.mark.parametrize("name", NAMES)
def test_every_row_is_drawn_once(name: str) -> None:
    """Every row of a loading is a step of one date's picture; every change that takes time is a hatched bar."""
    plan = planned(name)
    drawn = []
    for one in data(name)["days"]:
        midnight = datetime(1970, 1, 1) + timedelta(milliseconds=one["midnight"])
        for number, _, start, _, flat in one["loads"]:
            for after, seconds, code in zip(flat[0::3], flat[1::3], flat[2::3], strict=True):
                at, what = midnight + timedelta(seconds=start + after), data(name)["whats"][code % 12 // 2]
                person = one["people"][code // 12 - 1]["id"] if code >= 12 else None
                drawn.append((at, seconds, what, number, person or "", code % 2 == 1))
    rows = [
        (row.start, row.seconds, row.what, row.loading, row.person or "", row.press is not None)
        for row in plan.rows
        if row.loading is not None
    ]
    assert sorted(drawn) == sorted(rows)
    changes = sum(1 for row in plan.rows if row.what == "change" and row.seconds)
    assert sum(len(one["changes"]) for one in data(name)["days"]) == changes


@pytest.mark.parametrize("name", NAMES)
def test_runs_cover_every_loading(name: str) -> None:
    """Each loading lies under a bar of its own run, on its press."""
    days, loadings = data(name)["days"], loadings_of(planned(name).rows)
    for one in days:
        midnight = datetime(1970, 1, 1) + timedelta(milliseconds=one["midnight"])
        for number, run, *_ in one["loads"]:
            start, end = span_on_press(loadings[number])
            a, b = ((at - midnight).total_seconds() for at in (start, end))
            assert any(bar["run"] == run and bar["a"] <= a and b <= bar["b"] for bar in one["bars"])


def test_stations_hold_one_loading_each() -> None:
    """On a press with two stations loadings that overlap in time are drawn on different ones, else on the first."""
    rows = [
        row(start, end, what, press=press, loading=n)
        for n, press, first, last in (
            (1, "a", 0, 60),
            (2, "a", 30, 90),
            (3, "a", 60, 120),
            (4, "a", 95, 99),
            (5, "b", 0, 9),
        )
        for what, start, end in (("load", first, first + 2), ("unload", last - 2, last))
    ]
    rows.append(row(60, 64, "peel", loading=1))
    assert stations_of(loadings_of(rows), {"a": 2, "b": 1}) == {1: 0, 2: 1, 3: 0, 4: 1, 5: 0}


@pytest.mark.parametrize("name", NAMES)
def test_curve_meets_the_set_points(name: str) -> None:
    """When a change ends the curve is at its set-point, and it begins each day where the press has fallen to."""
    plan = planned(name)
    for press in plan.day.shop.press:
        drawn = {at: degrees for points in curves(plan.day, plan.rows, press).values() for at, degrees in points}
        for row in (r for r in plan.rows if r.press == press.id and r.what == "change"):
            assert drawn[plan.day.seconds(row.end)] == row.temperature


def test_curve_starts_the_next_day_cooler() -> None:
    """Overnight a press falls back by its cooling (contract section 4): by morning it is at the room."""
    plan = planned("fair-weekend")
    press = plan.day.presses["flat"]
    days = curves(plan.day, plan.rows, press)
    first, second = (points[0][1] for points in days.values())
    assert (first, second) == (59, 59)


def test_late_orders_come_first() -> None:
    """The finish table begins with the latest order, marked in words, and lists every order once."""
    plan = planned("celsius-studio").plan
    table = finish_table(plan)
    order = re.findall(r'<th role="rowheader"[^>]*>([^<]*)</th>', table)
    assert sorted(order) == sorted(found.order for found in plan.orders)
    assert order[0] == max(plan.orders, key=lambda found: found.late_min or 0).order
    assert table.count("LATE by") == sum(1 for found in plan.orders if found.late_min) > 0


def test_goal_words_say_what_the_bound_bounds() -> None:
    """The words carry the figures of plan.json, and say that the bound is for the whole sum."""
    plan = planned("team-shirts")
    goals = plan.plan.goals
    said = " ".join(goal_words(plan.day, goals, "feasible", plan.plan))
    assert f"{goals.work_min:.1f}" in said and f"{100 * goals.gap:.1f} %" in said
    assert "whole sum, not for the time the last piece is done" in said
    parts = re.search(
        r"one sum: ([\d.]+) .*?, (\d+) changes of setting at ([\d.]+) each, ([\d.]+) .*?, and ([\d.]+)", said
    )
    assert parts is not None
    span, changes, weight, changing, waiting = (float(part) for part in parts.groups())
    assert span + changes * weight + changing + waiting == pytest.approx(goals.work_min, abs=0.25)
    assert span == pytest.approx((plan.plan.finish - plan.plan.start).total_seconds() / 60, abs=0.1)


@pytest.mark.parametrize(("late", "whom"), [(0.0, "that keeps every promise"), (9.0, "that is no later than this one")])
def test_the_sums_bound_is_claimed_for_its_rivals_only(late: float, whom: str) -> None:
    """A later plan may have a smaller sum, so the bound is said to hold among plans that are no later."""
    plan = planned("team-shirts")
    goals = plan.plan.goals.model_copy(update={"late_min": late})
    for status in ("feasible", "optimal"):
        said = " ".join(goal_words(plan.day, goals, status, plan.plan))
        assert re.search(f"[Nn]o plan {whom} (can bring that sum below|has a smaller sum than)", said)


def test_what_matters_stands_above_all() -> None:
    """The head names late orders, the latest first and five at most; else the one with least to spare."""
    plan = planned("celsius-studio").plan.model_copy(update={"start": EIGHT})
    late = [finish(f"L{n}", f"for {n} & co", slack_min=-n) for n in range(1, 8)]
    said = first_words(with_orders(plan, late))
    assert re.findall(r"order <b>(L\d)</b>", said) == ["L7", "L6", "L5", "L4", "L3"]
    assert "for 7 &amp; co" in said and "LATE by 7 min" in said and "and 2 more" in said
    some = [finish("A", slack_min=30), finish("B", slack_min=4.5), finish("C")]
    assert "order <b>B</b>" in first_words(with_orders(plan, some)) and "4 min to spare" in first_words(
        with_orders(plan, some)
    )
    assert first_words(with_orders(plan, some[2:])) == ""


def test_proven_best_says_so() -> None:
    """A plan proven best does not speak of what could be saved."""
    plan = planned("team-shirts")
    said = " ".join(goal_words(plan.day, plan.plan.goals, "optimal", plan.plan))
    assert "proven" in said and "saved" not in said


@pytest.mark.parametrize(
    ("value", "words"), [(0.5, "30 s"), (12.4, "12 min"), (65, "1 h 05 min"), (59.9, "1 h 00 min"), (1500, "1 d 1 h")]
)
def test_minutes_as_people_say_them(value: float, words: str) -> None:
    """Minutes become seconds, hours or days where those are plainer."""
    assert minutes(value) == words


def row(start: int, end: int, what: Any, **more: Any) -> Row:
    at = datetime(2026, 12, 1, 8)
    return Row(at + timedelta(seconds=start), at + timedelta(seconds=end), what, **more)


def test_peel_waits_count_from_the_opening() -> None:
    """A peel's wait is counted from the opening of its own operation."""
    rows = [
        row(0, 15, "dwell", press="a", loading=1, operation=1),
        row(20, 24, "peel", press="a", loading=1, operation=1),
        row(30, 45, "dwell", press="a", loading=1, operation=2),
        row(105, 109, "peel", loading=1, operation=2),
    ]
    assert peel_waits(rows) == [5, 60]


def test_stretches_end_at_long_pauses() -> None:
    """Hand rows less than two minutes apart are one stretch; its busy time counts the hands only."""
    rows = [
        row(0, 10, "load", person="ada", order="A"),
        row(100, 110, "unload", person="ada", order="A"),
        row(400, 420, "load", person="ada", order="B"),
        row(50, 60, "load", person="ben", order="A"),
    ]
    found = [(n, (b - a).total_seconds(), busy, orders) for n, a, b, busy, orders in stretches(rows, ["ada", "ben"])]
    assert found == [(0, 110, 20, ("A",)), (0, 20, 20, ("B",)), (1, 10, 10, ("A",))]


def test_plotly_waits_until_it_is_needed() -> None:
    """Importing the page's module loads neither plotly nor a data frame."""
    code = (
        "import sys, scheduler.output.timeline; print([m for m in ('plotly', 'pandas', 'ortools') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True)
    assert done.stdout.strip() == "[]"
