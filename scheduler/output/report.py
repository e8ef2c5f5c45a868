"""A plan in words: what was planned, what is late, what each press does when, and how good it is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Literal

from models.day import Day
from models.plan import Finish, GoalFigures, Plan, Row
from scheduler import calendar
from scheduler.output.cautions import CAUTIONS
from scheduler.output.layout import clip, columns, counted, date_words, lasting, number, on_the_minute, pad, wrapped
from scheduler.output.likely_words import likely_lines, likely_sentences
from scheduler.output.page_tables import rivals
from scheduler.output.report_changes import told_changes
from scheduler.output.runs import Run, runs_of

Style = Literal["", "title", "head", "late", "change", "warning", "caution"]
_TIME = 15  # columns before what runs: "  08:08-08:27  "


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the report and what it is."""

    text: str
    style: Style = ""


def report(day: Day, plan: Plan, rows: Sequence[Row], width: int) -> list[Line]:
    """The whole report in lines of at most `width` columns (80 at least)."""
    width, runs = max(80, width), runs_of(rows)
    parts = [
        _summary(day, plan, width),
        _changes(plan, width),
        _orders(plan, width),
        _likely(plan, width),
        *(_press(day, plan, rows, [run for run in runs if run.press == press], press, width) for press in day.presses),
        _people(day, plan, width),
        _goals(day, plan, width),
        _listed("Warnings", plan.warnings, width, "warning"),
        _listed("Cautions", CAUTIONS, width, "caution"),
    ]
    lines: list[Line] = []
    for part in parts:
        block = list(part)
        lines += [Line(""), *block] if lines and block else block
    return lines


def _text(text: str, width: int, style: Style = "", indent: int = 2, first: str = "") -> Iterator[Line]:
    return (Line(line, style) for line in wrapped(text, width, indent, first))


def _summary(day: Day, plan: Plan, width: int) -> Iterator[Line]:
    shop = f"{day.shop.name}: plan" if day.shop.name else "Plan"
    yield from _text(f"{shop} from {date_words(plan.start)} {plan.start:%H:%M}", width, "title")
    pieces = counted(sum(order.pieces for order in plan.orders), "piece")
    orders, presses = counted(len(plan.orders), "order"), counted(len(plan.presses), "press", "presses")
    people = counted(len(plan.people), "person", "people")
    done = _moment(plan.finish, plan, up=True)
    yield from _text(f"{pieces} in {orders} on {presses} with {people}; the last piece is done {done}.", width)
    late = sum(1 for order in plan.orders if order.late_min)
    if late:
        yield from _text(f"LATE: {late} of {counted(len(plan.orders), 'order')}.", width, "late")
    elif any(order.due for order in plan.orders):
        yield from _text("Nothing is late.", width)


def _changes(plan: Plan, width: int) -> Iterator[Line]:
    if plan.changes:
        yield Line("What changed", "head")
    for said, late in told_changes(plan):
        yield from _text(said, width, "late" if late else "", 4, "  ")


def _orders(plan: Plan, width: int) -> Iterator[Line]:
    yield Line("Orders", "head")
    names = min(24, max((columns(clip(order.order, 24)) for order in plan.orders), default=0))
    for order in sorted(plan.orders, key=_urgency):
        style: Style = "late" if order.late_min else ""
        first = f"  {pad(_verdict(order), 17)} {pad(order.order, names)}  "
        times = f"done {_moment(order.finish, plan, up=True)}"
        times += f", due {_moment(order.due, plan)}" if order.due else ""
        rest = f"{counted(order.pieces, 'piece')}, {times}"
        who = f"{order.customer}, " if order.customer else ""
        whole = f"({order.order}) " if columns(order.order) > names else ""
        yield from _text(f"{whole}{who}{rest}", width, style, columns(first), first)


def _likely(plan: Plan, width: int) -> Iterator[Line]:
    if plan.likely is None:
        return
    yield Line("What is likely", "head")
    yield from (Line(line) for line in likely_lines(plan, width))
    for sentence in likely_sentences(plan.likely):
        yield from _text(sentence, width, "", 2, "  ")


def _urgency(order: Finish) -> tuple[float, datetime]:
    """Late ones first, the latest before all; then by what they have to spare, those without due time last."""
    spare = order.slack_min if order.slack_min is not None else float("inf")
    return (spare, order.finish)


def _verdict(order: Finish) -> str:
    """LATE by 12 min; 45 min to spare; nothing where there is no due time. A late minute begun counts."""
    if order.late_min:
        return f"LATE by {_minutes(-(-order.late_min // 1))}"
    if order.slack_min is None:
        return "no due time"
    return f"{_minutes(order.slack_min // 1)} to spare"


def _minutes(minutes: float) -> str:
    return f"{minutes:.0f} min" if minutes < 600 else f"{minutes / 60:.0f} h"


def _press(day: Day, plan: Plan, rows: Sequence[Row], runs: Sequence[Run], press: str, width: int) -> Iterator[Line]:
    busy = next((b.busy_min for b in plan.presses if b.id == press), 0.0)
    spans = calendar.press_windows(day, press)
    yield from _text(f"Press {press}: {_share(day, plan, busy, spans)}", width, "head")
    changes = sorted((row for row in rows if row.what == "change" and row.press == press), key=lambda row: row.start)
    if not changes and not runs:
        yield Line("  nothing to do")
    both: list[Run | Row] = sorted([*changes, *runs], key=lambda item: (item.start, isinstance(item, Run)))
    several = plan.finish.date() != plan.start.date()
    for date, items in groupby(both, key=lambda item: item.start.date()):
        today = list(items)
        if several:
            yield Line(f"  {date_words(today[0].start)}")
        for item in today:
            if isinstance(item, Run):
                yield from _run(item, width)
            else:
                first_today = next(c for c in changes if c.start.date() == date)
                yield from _change(day, item, item is first_today, width)


def _change(day: Day, row: Row, warm_up: bool, width: int) -> Iterator[Line]:
    words = f"to {row.temperature} °{day.shop.units.temperature} {row.pressure}"
    lasts = f", {lasting(row.seconds)}" if row.seconds else ", it is there already"
    first = f"  {row.start:%H:%M}  >>>   "
    yield from _text(f"{'warm up ' if warm_up else ''}{words}{lasts}", width, "change", _TIME, first)


def _run(run: Run, width: int) -> Iterator[Line]:
    first = f"  {on_the_minute(run.start):%H:%M}-{on_the_minute(run.end, up=True):%H:%M}  "
    shortest, longest = run.dwell_s
    laid = f"layer{'s' * (len(run.layers) > 1)} {', '.join(map(str, run.layers))}" if run.layers else "press again"
    parts = [
        counted(run.pieces, "piece"),
        *([counted(run.loadings, "loading")] if run.loadings != run.pieces else []),
        f"dwell {shortest} s" if shortest == longest else f"dwell {shortest} to {longest} s",
        *([f"peel {run.peel}"] if run.peel else []),
    ]
    who = f" ({', '.join(run.people)})" if run.people else ""
    text = f"{run.order} line {run.line} {run.placement}, {laid}: {', '.join(parts)}{who}"
    yield from _text(text, width, "", _TIME, first)


def _people(day: Day, plan: Plan, width: int) -> Iterator[Line]:
    yield Line("People", "head")
    for person in plan.people:
        known = person.id in day.people
        spans = calendar.person_windows(day, person.id) if known else ()
        text = f"{person.id}: {_share(day, plan, person.busy_min, spans)} ({number(person.busy_min)} min of hand work)"
        yield from _text(text, width, "", 4, "  ")


def _share(day: Day, plan: Plan, busy_min: float, spans: calendar.Spans) -> str:
    """Busy minutes as a share of the working time until the last piece."""
    there = calendar.length(spans, day.seconds(plan.finish)) / 60
    if there <= 0:
        return f"busy {number(busy_min)} min"
    return f"busy {min(100, 100 * busy_min / there):.0f} % of the working time until the last piece"


def _goals(day: Day, plan: Plan, width: int) -> Iterator[Line]:
    goals, weights = plan.goals, day.shop.goals
    yield Line("How good it is", "head")
    changes = f"{counted(goals.changes, 'change')} of setting after warm-up, {number(goals.change_min)} min"
    waits = f"{number(goals.peel_wait_min)} press-minutes of waiting for peels"
    yield from _text(f"{changes}; {waits}.", width, "", 2, "  ")
    if plan.status == "optimal":
        yield from _text("Proven: no plan does better by the goals set.", width, "", 2, "  ")
    yield from _text(_late_words(goals), width, "", 2, "  ")
    counts = [
        f"{weights.finish:g} for each minute to the last piece",
        f"{weights.change:g} for each change",
        "the minutes spent changing",
        f"{weights.peel_wait:g} for each press-minute of waiting",
    ]
    yield from _text(f"Time and trouble: {number(goals.work_min)} ({', '.join(counts)}).", width, "", 2, "  ")
    yield from _text(_work_words(goals), width, "", 2, "  ")


def _late_words(goals: GoalFigures) -> str:
    if goals.late_min <= 0:
        return "Late minutes: none."
    late = f"Late minutes, times priority: {number(goals.late_min)}."
    if goals.late_min - goals.late_bound < 0.01:
        return f"{late} Proven: no plan has fewer."
    if goals.late_bound > 0:
        return (
            f"{late} No plan could have fewer than {number(goals.late_bound)}; whether one comes nearer is not known."
        )
    return f"{late} Whether a plan with fewer exists is not known."


def _work_words(goals: GoalFigures) -> str:
    if goals.work_min - goals.work_bound < 0.02:
        return f"No plan {rivals(goals)} could do better in this."
    could = f"No plan {rivals(goals)} could do better than {number(goals.work_bound)}"
    return f"{could}: at most {100 * goals.gap:.1f} % of this plan's could still be saved, and perhaps nothing."


def _listed(title: str, sentences: Sequence[str], width: int, style: Style) -> Iterator[Line]:
    if sentences:
        yield Line(title, "head")
    for sentence in sentences:
        yield from _text(sentence, width, style, 4, "  - ")


def _moment(at: datetime, plan: Plan, up: bool = False) -> str:
    """A time of day, with its date where that is not the plan's first."""
    at = on_the_minute(at, up)
    one_day = at.date() == plan.start.date() == plan.finish.date()
    return f"{at:%H:%M}" if one_day else f"{at:%a} {at.day} {at:%b} {at:%H:%M}"
