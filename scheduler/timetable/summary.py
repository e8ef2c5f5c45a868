"""The plan beside its rows: finishes, campaigns, busy minutes and goals (contract, section 7)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from models.plan import Busy, Campaign, Finish, GoalFigures, Plan
from scheduler.calendar import length, union
from scheduler.instance import Instance
from scheduler.timetable.record import Timetable


def plan_of(
    instance: Instance,
    table: Timetable,
    bounds: tuple[float, float],
    seed: int,
    effort: str,
    version: str,
    warnings: Sequence[str] = (),
) -> Plan:
    """The plan.json of a timed programme. `bounds` are (late, work), in the unit of the goals, seconds."""
    goals = _goals(table, bounds)
    proven = goals.late_min - goals.late_bound < 0.01 and goals.work_min - goals.work_bound < 0.02
    status: Literal["optimal", "feasible"] = "optimal" if proven else "feasible"
    day = instance.day
    return Plan(
        start=day.start,
        finish=day.at(table.finish),
        status=status,
        goals=goals,
        presses=_press_minutes(instance, table),
        people=_people_minutes(instance, table),
        orders=_finishes(instance, table),
        campaigns=_campaigns(instance, table),
        warnings=tuple(warnings),
        inputs=dict(day.inputs),
        seed=seed,
        effort=effort,
        version=version,
    )


def minutes(seconds: float) -> float:
    """Seconds as minutes, to a hundredth."""
    return round(seconds / 60, 2)


def _goals(table: Timetable, bounds: tuple[float, float]) -> GoalFigures:
    late, work = minutes(table.late), minutes(table.work)
    late_bound, work_bound = min(late, int(bounds[0] / 0.6) / 100), min(work, int(bounds[1] / 0.6) / 100)
    return GoalFigures(
        late_min=late,
        late_bound=late_bound,
        work_min=work,
        work_bound=work_bound,
        gap=round((work - work_bound) / work, 4) if work > 0 else 0.0,
        changes=table.change_count,
        change_min=minutes(table.change_seconds),
        peel_wait_min=minutes(table.peel_wait),
    )


def _press_minutes(instance: Instance, table: Timetable) -> tuple[Busy, ...]:
    found = []
    for press in instance.presses:
        spans = [(x.start, x.off) for x in table.all_loadings if x.press == press.index]
        spans += [(c.start, c.end) for c in table.all_changes if c.press == press.index]
        found.append(Busy(id=press.id, busy_min=minutes(length(union(spans)))))
    return tuple(found)


def _people_minutes(instance: Instance, table: Timetable) -> tuple[Busy, ...]:
    busy = [0] * len(instance.people)
    for loading in table.all_loadings:
        for start, end, person in [*loading.done, *([loading.peel] if loading.peel else [])]:
            busy[person] += end - start
    return tuple(Busy(id=who.id, busy_min=minutes(busy[who.index])) for who in instance.people)


def _finishes(instance: Instance, table: Timetable) -> tuple[Finish, ...]:
    day, found = instance.day, []
    for index, order in enumerate(day.orders.values()):
        done, due = table.order_finish[index], instance.due[index]
        if not done:
            continue  # cancelled before anything was done
        found.append(
            Finish(
                order=order.id,
                customer=order.customer,
                pieces=order.quantity,
                ready=order.ready,
                due=order.due,
                finish=day.at(done),
                late_min=None if due is None else minutes(max(0, done - due)),
                slack_min=None if due is None else minutes(due - done),
            )
        )
    return tuple(found)


def _campaigns(instance: Instance, table: Timetable) -> tuple[Campaign, ...]:
    found = []
    for press in instance.presses:
        changes = sorted((c for c in table.all_changes if c.press == press.index), key=lambda c: c.end)
        loadings = sorted((x for x in table.all_loadings if x.press == press.index), key=lambda x: x.start)
        for number, change in enumerate(changes):
            until = changes[number + 1].start if number + 1 < len(changes) else None
            mine = [x for x in loadings if x.start >= change.end and (until is None or x.start < until)]
            if mine:
                found.append(
                    Campaign(
                        press=press.id,
                        temperature=change.setting[0],
                        pressure=change.setting[1],
                        start=instance.day.at(mine[0].start),
                        end=instance.day.at(max(x.off for x in mine)),
                        pieces=sum(len(x.pieces) for x in mine),
                    )
                )
    return tuple(sorted(found, key=lambda c: (c.start, c.press)))
