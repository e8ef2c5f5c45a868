"""`pressday estimate --accept`: the order goes into orders.csv and a plan into plan/, both or neither."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from models.day import Day
from models.problem import Faulted, NoPlan
from scheduler import __version__
from scheduler.estimating.answer import Asking, Estimated, estimate_folder
from scheduler.estimating.goals import limits_of
from scheduler.holding import held
from scheduler.intake import read_day
from scheduler.intake.append import with_lines
from scheduler.likely import foresee
from scheduler.output.terminal import Progress
from scheduler.planning import Planned, day_time, plan_day
from scheduler.replanning.commands import proven
from scheduler.replanning.replan import replan_day, with_changes
from scheduler.solving.efforts import EffortName
from scheduler.timetable.summary import plan_of
from scheduler.writing import refuse_broken, write

_READ = ("shop.toml", "catalog.toml", "designs.toml", "names.csv", "log.csv")


def accept(
    folder: Path,
    asking: Asking,
    effort: EffortName,
    seed: int,
    silent: bool,
    now: datetime | None = None,
    at: datetime | None = None,
) -> tuple[Estimated, Planned]:
    """Estimate, add the lines to orders.csv, plan and write as `plan` does, or as `replan` does on a day that has
    begun: all or nothing.

    The plan written is the best of the estimate's own and a new one, of those that keep what the estimate promised.
    Raises BadInput, NoPlan, Faulted, Busy.
    """
    with held(folder):
        found = estimate_folder(folder, asking, now, at)
        _refuse_harm(found)
        text = with_lines(folder, found.asked.more)
        day = _read_back(folder, text, found)
        with Progress(silent=silent) as progress:
            plan = _begun if found.today.begun else _whole
            planned = plan(found, day, effort, seed, progress)
        write(folder, planned, {"orders.csv": text})
    return found, planned


def _whole(found: Estimated, day: Day, effort: EffortName, seed: int, progress: Progress) -> Planned:
    """The day planned from its start."""
    fresh = plan_day(day, effort, None, seed, progress, progress.bound)
    planned = _better(found, fresh, _own(found, day, fresh, effort, seed))
    refuse_broken(planned.day, planned.rows)
    return replace(planned, plan=foresee(planned.day, planned.plan, planned.rows))


def _begun(found: Estimated, day: Day, effort: EffortName, seed: int, progress: Progress) -> Planned:
    """What is left of the day planned again."""
    begun = found.today.begun
    assert begun is not None
    fresh = replan_day(day, begun.old, begun.entries, begun.at, effort, None, seed, progress)
    own = _own(found, found.instance.day, fresh, effort, seed)
    carried = replace(begun.carried, day=found.instance.day)
    own = with_changes(carried, begun.old, begun.entries, own.plan, own.rows)
    return proven(_better(found, fresh, own), day, begun.running.rows, begun.entries)


def _refuse_harm(found: Estimated) -> None:
    """An order that breaks a promise, its own included, is not taken by this command."""
    answer = found.answer
    out = "Ask for less, for later, or add the row to the orders yourself and plan."
    if not answer.kept:
        late = ", ".join(f'"{one.order}"' for one in answer.others if (one.late_min or 0) > (one.late_today_min or 0))
        raise NoPlan([f"no plan was found that leaves every promise as it is; order {late} would be later. {out}"])
    if answer.late_min:
        done = day_time(answer.finish)
        raise NoPlan([f"it would be done {done} at the earliest found, {answer.late_min:g} min after it is due. {out}"])


def _read_back(folder: Path, text: bytes, found: Estimated) -> Day:
    """The folder as it will be, read whole before anything is written: names of pieces must be there by now."""
    with tempfile.TemporaryDirectory(prefix="pressday-") as place:
        for name in _READ:
            if (folder / name).is_file():
                shutil.copyfile(folder / name, Path(place) / name)
        (Path(place) / "orders.csv").write_bytes(text)
        day = read_day(Path(place), found.today.day.start)
    before = found.today.begun.running.day if found.today.begun else found.today.day
    if day.lines != (*before.lines, *found.asked.more):
        raise Faulted(["orders.csv: with the order added it does not read back as what was asked"])
    return day


def _own(found: Estimated, day: Day, fresh: Planned, effort: str, seed: int) -> Planned:
    """The estimate's own plan, under the fresh one's bounds."""
    goals = fresh.plan.goals
    later = found.table.late / 60 > goals.late_min + 0.01  # the work bound holds among plans as good on the first goal
    bounds = (60 * goals.late_bound, 0.0 if later else 60 * goals.work_bound)
    plan = plan_of(found.instance, found.table, bounds, seed, effort, __version__, _warnings(found))
    return Planned(day, plan.model_copy(update={"inputs": dict(fresh.plan.inputs)}), found.rows)


def _better(found: Estimated, fresh: Planned, own: Planned) -> Planned:
    """The fresh plan where it is better and keeps what the estimate said, else the estimate's own."""
    mine, other = own.plan.goals, fresh.plan.goals
    better = (other.late_min, other.work_min) < (mine.late_min, mine.work_min)
    return fresh if better and _keeps(found, fresh) else own


def _warnings(found: Estimated) -> list[str]:
    """The plan's warnings, as planning words them."""
    instance = found.instance
    late = [
        f"order {order} is late: done {day_time(instance.day.at(done))}, due {day_time(instance.day.at(due))}"
        for order, done, due in zip(instance.order_ids, found.table.order_finish, instance.due, strict=True)
        if due is not None and done > due
    ]
    remarks = [warning for chain in instance.chains for warning in chain.route.warnings]
    return list(dict.fromkeys([*late, *remarks]))


def _keeps(found: Estimated, fresh: Planned) -> bool:
    """Whether the new lines are done by what was said and nobody gets later than their promise for it."""
    day = found.today.day
    limits = {order: day.at(limit) for order, limit in limits_of(found.today).items()}
    mine = {line.order for line in found.asked.more}
    return all(
        one.finish <= (found.answer.finish if one.order in mine else limits.get(one.order, one.finish))
        for one in fresh.plan.orders
    )
