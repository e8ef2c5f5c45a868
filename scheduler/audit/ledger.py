"""finish.csv and plan.json held against the timetable and the inputs they were made from."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator
from datetime import datetime
from pathlib import Path

from pydantic import ValidationError

from models.day import Day
from models.plan import FORMAT, Busy, Campaign, Finish, GoalFigures, Plan, Row
from models.problem import BadInput, in_plain_words
from scheduler.audit.day_log import Continued, read_entries
from scheduler.audit.figures import Figures, figures
from scheduler.audit.files import Sheet, read_finish, read_timetable, text_of
from scheduler.audit.finding import Finding
from scheduler.audit.pieces import Recipes
from scheduler.audit.rules import check
from scheduler.audit.table import Loading, Table

_MINUTES = 0.01  # minutes are written to a hundredth
_LOCAL = "a time with a zone; times are local, as 2026-12-01T08:00:00"
_LOG = "log.csv"  # grows after the plan is made, so its bytes may differ from those planned from


def folder_findings(folder: Path) -> list[Finding]:
    """Everything wrong with the plan in a folder. A folder that is itself wrong gives its problems."""
    plan = _plan(folder / "plan" / "plan.json")
    sheet = read_timetable(folder / "plan" / "timetable.csv")
    began = plan.start if isinstance(plan, Plan) else min((row.start for row in sheet.rows), default=None)
    try:
        day = _day(folder, began)
    except BadInput as bad:
        return [Finding("input", problem.file, str(problem)) for problem in bad.problems]
    finish = read_finish(folder / "plan" / "finish.csv")
    found = [*sheet.damage, *finish.damage, *([] if isinstance(plan, Plan) else plan)]
    if sheet.rows or not sheet.damage:
        continued, lost = _continued(folder, day, plan)
        found += [*lost, *_held_against_rows(Table(day, sheet.rows, sheet.lines, continued), finish, plan)]
    return found + (list(_inputs(folder, day, plan.inputs)) if isinstance(plan, Plan) else [])


def _continued(folder: Path, day: Day, plan: Plan | list[Finding]) -> tuple[Continued | None, list[Finding]]:
    """Of a plan made again: the log and the plan before, found among those kept by its timetable's sha256."""
    if not isinstance(plan, Plan) or plan.changes is None:
        return None, []
    entries, found = read_entries(folder / _LOG, day)
    kept = sorted((folder / "plans-before").glob("*/timetable.csv"))
    same = [path for path in kept if hashlib.sha256(path.read_bytes()).hexdigest() == plan.changes.before]
    old: tuple[Row, ...] = ()
    if same:
        sheet = read_timetable(same[-1])
        old, found = tuple(sheet.rows), [*found, *sheet.damage]
    else:
        text = "the plan this one goes on from is not there any more, so what was worked cannot be held against it"
        found = [*found, Finding("plan-before", "plans-before", text)]
    return Continued(plan.changes.at, tuple(entries), old, plan.changes.logged), found


def _held_against_rows(table: Table, finish: Sheet[Finish], plan: Plan | list[Finding]) -> list[Finding]:
    """The rules, and what the other files tell of the same rows."""
    recipes = Recipes(table)
    right = figures(table, recipes)
    found = [*check(table, recipes), *_finishes(table.day, right, finish)]
    return found + (list(_plan_findings(table, right, plan)) if isinstance(plan, Plan) else [])


def _day(folder: Path, now: datetime | None) -> Day:
    """The day folder; where it names no start, planning began when the plan says, or with the first row."""
    from scheduler.intake import read_day

    return read_day(folder, now=now)


def _plan(path: Path) -> Plan | list[Finding]:
    text = text_of(path)
    if isinstance(text, Finding):
        return [text]
    try:
        plan = Plan.model_validate(json.loads(text))
        return [Finding("file-damaged", f"{path.name}, {name}", _LOCAL) for name in _zoned(plan)] or plan
    except ValidationError as error:
        return [
            Finding(
                "file-damaged", f"{path.name}, {'.'.join(map(str, e['loc'])) or 'whole file'}", in_plain_words(e["msg"])
            )
            for e in error.errors(include_url=False)
        ]
    except (ValueError, RecursionError) as error:
        return [Finding("file-damaged", path.name, f"not JSON: {error}")]


def _zoned(plan: Plan) -> Iterator[str]:
    """The places of times that carry a zone."""
    parts: list[tuple[str, Plan | Finish | Campaign]] = [("", plan)]
    parts += [(f"orders {number}, ", order) for number, order in enumerate(plan.orders, 1)]
    parts += [(f"campaigns {number}, ", campaign) for number, campaign in enumerate(plan.campaigns, 1)]
    for place, part in parts:
        for name in type(part).model_fields:
            value = getattr(part, name)
            if isinstance(value, datetime) and value.tzinfo is not None:
                yield f"{place}{name}"


def _right(day: Day, right: Figures) -> dict[str, Finish]:
    """Each order's line of finish.csv as the rows and orders.csv give it."""
    made = {}
    for key, order in day.orders.items():
        done = right.finishes.get(key)
        if done is None:
            continue
        slack = None if order.due is None else (order.due - done).total_seconds() / 60
        made[key] = Finish(
            order=key,
            customer=order.customer,
            pieces=order.quantity,
            ready=order.ready,
            due=order.due,
            finish=done,
            late_min=None if slack is None else max(0.0, -slack),
            slack_min=slack,
        )
    return made


def _finishes(day: Day, right: Figures, sheet: Sheet[Finish]) -> Iterator[Finding]:
    places = [f"finish.csv row {line}" for line in sheet.lines]
    if sheet.lines or not sheet.damage:
        yield from _orders(_right(day, right), "finish.csv", zip(places, sheet.rows, strict=True))


def _orders(right: dict[str, Finish], file: str, found: Iterable[tuple[str, Finish]]) -> Iterator[Finding]:
    left = dict(right)
    for where, row in found:
        known = left.pop(row.order, None)
        if known is None:
            why = "stands twice" if row.order in right else "has no work in the timetable"
            yield Finding("finish", where, f'order "{row.order}" {why}')
            continue
        for name in ("customer", "pieces", "ready", "due", "finish"):
            is_, should = getattr(row, name), getattr(known, name)
            if is_ != should:
                yield Finding(
                    "finish", where, f'order "{row.order}", {name}: {_told(is_)} is written, right: {_told(should)}'
                )
        yield from _minutes(row, known, where)
    for order in left:
        yield Finding("finish", file, f'order "{order}" is missing')


def _minutes(row: Finish, known: Finish, where: str) -> Iterator[Finding]:
    """Late is 0 or blank without a due time; slack of a late order is 0 or how much it is late, negative."""
    late = row.late_min if known.late_min is not None else (row.late_min or None)
    if not _same(late, known.late_min):
        yield _minute_finding(row.order, where, "late_min", late, known.late_min)
    clipped = None if known.slack_min is None else max(0.0, known.slack_min)
    if not (_same(row.slack_min, known.slack_min) or _same(row.slack_min, clipped)):
        yield _minute_finding(row.order, where, "slack_min", row.slack_min, known.slack_min)


def _minute_finding(order: str, where: str, name: str, found: float | None, right: float | None) -> Finding:
    told = ["blank" if value is None else f"{value:.2f}" for value in (found, right)]
    return Finding("finish", where, f'order "{order}", {name}: {told[0]} is written, right: {told[1]}')


def _same(found: float | None, right: float | None) -> bool:
    if found is None or right is None:
        return found is right
    return abs(found - right) <= _MINUTES + 1e-6


def _told(value: object) -> str:
    if value is None:
        return "blank"
    return f"{value:%Y-%m-%dT%H:%M:%S}" if isinstance(value, datetime) else f'"{value}"'


def _plan_findings(table: Table, right: Figures, plan: Plan) -> Iterator[Finding]:
    day = table.day
    if plan.format != FORMAT:
        yield Finding("plan-format", "plan.json, format", f'"{plan.format}" is written, right: "{FORMAT}"')
    for name, found, should in (("start", plan.start, day.start), ("finish", plan.finish, right.finish)):
        if found != should:
            yield Finding("plan-times", f"plan.json, {name}", f"{_told(found)} is written, right: {_told(should)}")
    yield from _goals(plan.goals, right)
    yield from _status(plan)
    yield from _busy("presses", plan.presses, right.press_min)
    yield from _busy("people", plan.people, right.person_min)
    places = [f"plan.json, orders {number}" for number in range(1, len(plan.orders) + 1)]
    yield from _orders(_right(day, right), "plan.json, orders", zip(places, plan.orders, strict=True))
    yield from _campaigns(table, plan.campaigns)


def _goals(goals: GoalFigures, right: Figures) -> Iterator[Finding]:
    where = "plan.json, goals"
    if goals.changes != right.changes:
        yield Finding("goals", where, f"changes: {goals.changes} is written, right: {right.changes}")
    for name in ("late_min", "work_min", "change_min", "peel_wait_min"):
        found, should = getattr(goals, name), getattr(right, name)
        if not _same(found, should):
            yield Finding("goals", where, f"{name}: {found:g} is written, right: {should:.2f}")
    for value, bound in (("late_min", "late_bound"), ("work_min", "work_bound")):
        found, most = getattr(goals, bound), getattr(goals, value)
        if not 0 <= found <= most + 1e-6:
            text = f"{bound}: {found:g} is written; a lower bound lies between 0 and {value}, {most:g}"
            yield Finding("bounds", where, text)
    gap = (goals.work_min - goals.work_bound) / goals.work_min if goals.work_min else 0.0
    if abs(goals.gap - gap) > 1e-3:
        yield Finding("bounds", where, f"gap: {goals.gap:g} is written, right: {gap:.4f}")


def _status(plan: Plan) -> Iterator[Finding]:
    """Only a plan that meets both its bounds is optimal."""
    goals = plan.goals
    for name, value, bound in (
        ("late_min", goals.late_min, goals.late_bound),
        ("work_min", goals.work_min, goals.work_bound),
    ):
        if plan.status == "optimal" and value - bound > max(0.1, 1e-3 * value):
            text = f'"optimal" is written, but {name} {value:g} lies above its bound {bound:g}'
            yield Finding("bounds", "plan.json, status", text)


def _busy(kind: str, listed: tuple[Busy, ...], right: dict[str, float]) -> Iterator[Finding]:
    left = dict(right)
    for entry in listed:
        should = left.pop(entry.id, None)
        if should is None:
            yield Finding("busy", f"plan.json, {kind}", f'"{entry.id}" is not in shop.toml, or stands twice')
        elif not _same(entry.busy_min, should):
            text = f'"{entry.id}": {entry.busy_min:g} busy minutes are written, right: {should:.2f}'
            yield Finding("busy", f"plan.json, {kind}", text)
    for name, minutes in left.items():
        if minutes > 0:
            yield Finding("busy", f"plan.json, {kind}", f'"{name}" is missing, with {minutes:.2f} busy minutes')


def _campaigns(table: Table, listed: tuple[Campaign, ...]) -> Iterator[Finding]:
    """Every loading lies in one campaign, at its setting."""
    left = {press: list(loadings) for press, loadings in table.on.items()}
    for number, campaign in enumerate(listed, 1):
        where = f'plan.json, campaigns {number}, press "{campaign.press}"'
        held: list[Loading] = []
        rest: list[Loading] = []
        for loading in left.get(campaign.press, []):
            inside = campaign.start <= table.day.at(loading.start) and table.day.at(loading.end) <= campaign.end
            (held if inside else rest).append(loading)
        left[campaign.press] = rest
        yield from _campaign(table.day, campaign, held, where)
    for press, loadings in left.items():
        if loadings:
            names = ", ".join(str(loading.number) for loading in loadings[:5])
            yield Finding(
                "campaigns", f'plan.json, campaigns, press "{press}"', f"loading {names} lies in none of them"
            )


def _campaign(day: Day, campaign: Campaign, held: list[Loading], where: str) -> Iterator[Finding]:
    for loading in held:
        if loading.setting not in (None, (campaign.temperature, campaign.pressure)):
            text = f"{campaign.temperature}, {campaign.pressure} is written; loading {loading.number} is at"
            yield Finding("campaigns", where, f"{text} {loading.setting}")
    if held:
        first, last = day.at(min(loading.start for loading in held)), day.at(max(loading.end for loading in held))
        for name, found, right in (("start", campaign.start, first), ("end", campaign.end, last)):
            if found != right:
                text = f"{name} {_told(found)} is written, its loadings {name} {_told(right)}"
                yield Finding("campaigns", where, text)
    pieces = [piece for loading in held for piece in loading.pieces]
    if campaign.pieces not in (len(pieces), len(set(pieces))):
        text = f"{campaign.pieces} pieces are written, right: {len(set(pieces))} (in {len(held)} loadings)"
        yield Finding("campaigns", where, text)


def _inputs(folder: Path, day: Day, listed: dict[str, str]) -> Iterator[Finding]:
    """The plan was made from the files as they are now."""
    for name in sorted({*day.inputs, *listed} - {_LOG}):
        where = f"plan.json, inputs, {name}"
        if name not in listed:
            yield Finding("inputs", where, "the file is read now, but the plan was made without it; plan again")
        elif Path(name).name != name or not (folder / name).is_file():
            yield Finding("inputs", where, "the plan was made from a file that is not in the folder; plan again")
        elif hashlib.sha256((folder / name).read_bytes()).hexdigest() != listed[name].lower():
            yield Finding("inputs", where, "the file has changed since the plan was made; plan again")
