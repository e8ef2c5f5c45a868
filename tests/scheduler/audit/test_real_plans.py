"""Plans as the planner makes them, of day folders people can run: passed as they are, found out when spoiled."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable
from dataclasses import fields, replace
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from models.plan import Finish, Row
from scheduler.audit import audit_folder, audit_rows, measure
from scheduler.planning import Planned, plan_folder
from tests.scheduler.audit.bench import in_order

SCENARIOS = Path(__file__).parents[3] / "scenarios"
NAMES = ("team-shirts", "two-presses", "fair-weekend", "mixed-peels", "celsius-studio")
SECOND = timedelta(seconds=1)
INPUTS = ("shop.toml", "catalog.toml", "designs.toml", "orders.csv", "orders.xlsx", "names.csv")

Rows = list[Row]


@cache
def planned(name: str) -> Planned:
    """A quick plan of one scenario, made once."""
    return plan_folder(SCENARIOS / name, effort="quick")


@pytest.mark.parametrize("name", NAMES)
def test_a_real_plan_has_no_finding(name: str) -> None:
    """What the planner writes for a scenario is within every rule."""
    plan = planned(name)
    assert [str(finding) for finding in audit_rows(plan.day, plan.rows)] == []


@pytest.mark.parametrize("name", NAMES)
def test_the_goals_are_measured_alike(name: str) -> None:
    """The figures of a plan are what its rows come to, to the hundredth of a minute."""
    plan = planned(name)
    figures, goals = measure(plan.day, plan.rows), plan.plan.goals
    assert figures.finish == plan.plan.finish
    assert figures.changes == goals.changes
    for field in ("late_min", "work_min", "change_min", "peel_wait_min"):
        assert getattr(figures, field) == pytest.approx(getattr(goals, field), abs=0.0051), field


def written(name: str, folder: Path) -> Path:
    """The scenario's files and its plan, written here by the contract and no code of the project."""
    plan = planned(name)
    for file in INPUTS:
        if (SCENARIOS / name / file).exists():
            (folder / file).write_bytes((SCENARIOS / name / file).read_bytes())
    (folder / "plan").mkdir()
    _table(folder / "plan" / "timetable.csv", [f.name for f in fields(Row)], plan.rows)
    _table(folder / "plan" / "finish.csv", list(Finish.model_fields), plan.plan.orders)
    (folder / "plan" / "plan.json").write_text(plan.plan.model_dump_json(), encoding="utf-8")
    return folder


def _table(path: Path, columns: list[str], items: Iterable[Any]) -> None:
    with path.open("w", newline="", encoding="utf-8") as stream:
        csv.writer(stream).writerows([columns, *([_cell(getattr(item, c)) for c in columns] for item in items)])


def _cell(value: object) -> str:
    if isinstance(value, datetime):
        return value.isoformat()
    return ";".join(map(str, value)) if isinstance(value, tuple) else "" if value is None else str(value)


@pytest.mark.parametrize("name", NAMES)
def test_a_written_plan_has_no_finding(name: str, tmp_path: Path) -> None:
    """Timetable, finishes, goals, campaigns, busy minutes and hashes of a written plan agree."""
    assert [str(finding) for finding in audit_folder(written(name, tmp_path))] == []


def test_an_order_changed_after_planning_is_told(tmp_path: Path) -> None:
    """A piece ordered after the plan was made is missing from it, and the file's hash says why."""
    folder = written("mixed-peels", tmp_path)
    file = folder / "orders.csv"
    lines = file.read_text(encoding="utf-8").splitlines()
    columns = lines[0].split(",")
    cells = lines[1].split(",")
    cells[columns.index("quantity")] = str(int(cells[columns.index("quantity")]) + 1)
    file.write_text("\n".join([lines[0], ",".join(cells), *lines[2:]]) + "\n", encoding="utf-8")
    assert {"piece-missing", "inputs", "finish"} <= {finding.rule for finding in audit_folder(folder)}


def first(rows: Rows, what: str) -> int:
    """The place of the first row of a kind."""
    return next(i for i, row in enumerate(rows) if row.what == what)


def row_edited(what: str, **changes: Any) -> Callable[[Rows], Rows]:
    """A spoiler that edits the first row of a kind."""

    def spoil(rows: Rows) -> Rows:
        place = first(rows, what)
        return in_order([*rows[:place], replace(rows[place], **changes), *rows[place + 1 :]])

    return spoil


def row_moved(what: str, start: int = 0, end: int = 0) -> Callable[[Rows], Rows]:
    """A spoiler that moves the ends of the first row of a kind by seconds."""

    def spoil(rows: Rows) -> Rows:
        row = rows[first(rows, what)]
        return row_edited(what, start=row.start + start * SECOND, end=row.end + end * SECOND)(rows)

    return spoil


def row_lost(what: str) -> Callable[[Rows], Rows]:
    """A spoiler that loses the first row of a kind."""
    return lambda rows: [row for i, row in enumerate(rows) if i != first(rows, what)]


def loading_lost(rows: Rows) -> Rows:
    """The first loading is lost."""
    number = rows[first(rows, "load")].loading
    return [row for row in rows if row.loading != number]


def loading_twice(rows: Rows) -> Rows:
    """The first loading is made a second time, a day later under a number of its own."""
    number = rows[first(rows, "load")].loading
    day = timedelta(days=1)
    again = [replace(r, loading=90_000, start=r.start + day, end=r.end + day) for r in rows if r.loading == number]
    return in_order([*rows, *again])


def all_hotter(rows: Rows) -> Rows:
    """Every set-point is 40 degrees higher."""
    return [replace(row, temperature=row.temperature + 40) if row.temperature else row for row in rows]


def all_sooner(rows: Rows) -> Rows:
    """Everything but the changes is three hours sooner."""
    by = timedelta(hours=3)
    return in_order(
        row if row.what == "change" else replace(row, start=row.start - by, end=row.end - by) for row in rows
    )


def one_hand(rows: Rows) -> Rows:
    """One person does everything that anybody does."""
    name = rows[first(rows, "load")].person
    return [row if row.person is None else replace(row, person=name) for row in rows]


def pieces_swapped(rows: Rows) -> Rows:
    """The pieces of the first loading and the last of another line change places."""
    loads = [row for row in rows if row.what == "load"]
    first, last = loads[0], [row for row in loads if (row.order, row.line) != (loads[0].order, loads[0].line)][-1]
    swap = {first.loading: last.pieces, last.loading: first.pieces}
    return [replace(row, pieces=swap.get(row.loading, row.pieces)) for row in rows]


SPOILED: dict[str, tuple[Callable[[Rows], Rows], str]] = {
    "a dwell opens early": (row_moved("dwell", 0, -30), "dwell-length"),
    "a dwell opens before it closes": (row_moved("dwell", 0, -600), "row-times"),
    "a dwell closes a second later": (row_moved("dwell", 1, 0), "late-closing"),
    "a load in a second less": (row_moved("load", 1, 0), "hand-time"),
    "an align in a second more": (row_moved("align", -1, 0), "hand-time"),
    "an unload in a second more": (row_moved("unload", 0, 1), "hand-time"),
    "nobody lays": (row_edited("align", person=None), "person-missing"),
    "an unknown hand": (row_edited("unload", person="nobody-here"), "unknown-person"),
    "an unknown press": (row_edited("load", press="no-such-press"), "unknown-press"),
    "an unknown piece": (row_edited("load", pieces=("no-such-piece",)), "unknown-piece"),
    "another order": (row_edited("load", order="no-such-order"), "wrong-line"),
    "another placement": (row_edited("dwell", placement="no-such-place"), "loading-mixed"),
    "another operation": (row_edited("dwell", operation=9), "operation-number"),
    "unheard-of layers": (row_edited("dwell", layers=(59,)), "layer-unknown"),
    "layers on a load": (row_edited("load", layers=(59,)), "row-operation"),
    "a warm-up a second short": (row_moved("change", 1, 0), "change-too-short"),
    "a warm-up lost": (row_lost("change"), "warm-up-missing"),
    "a change with pieces": (row_edited("change", pieces=("a",)), "change-row"),
    "a change of a loading": (row_edited("change", loading=1), "change-row"),
    "a load lost": (row_lost("load"), "loading-grammar"),
    "an align lost": (row_lost("align"), "align-missing"),
    "a dwell lost": (row_lost("dwell"), "loading-grammar"),
    "a peel lost": (row_lost("peel"), "peel-missing"),
    "an unload lost": (row_lost("unload"), "loading-grammar"),
    "a loading lost": (loading_lost, "piece-missing or layer-missing"),
    "a loading made twice": (loading_twice, "layer-twice"),
    "all hotter": (all_hotter, "set-point"),
    "all three hours sooner": (all_sooner, "person-hours"),
    "pieces swapped": (pieces_swapped, "wrong-line"),
    "rows shuffled": (lambda rows: rows[::-1], "row-order"),
    "a pressure of no press": (row_edited("change", pressure="hydraulic"), "press-pressure"),
}


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("fault", SPOILED)
def test_a_spoiled_real_plan_is_found_out(name: str, fault: str) -> None:
    """Each fault put into a scenario's plan is found under its own rule."""
    plan = planned(name)
    spoil, rule = SPOILED[fault]
    found = {finding.rule for finding in audit_rows(plan.day, spoil(plan.rows))}
    assert found & set(rule.split(" or ")), found


@pytest.mark.parametrize("name", [name for name in NAMES if name != "mixed-peels"])
def test_one_person_cannot_do_it_all(name: str) -> None:
    """Where several people work, their hand rows do not fit into one day of one of them."""
    plan = planned(name)
    found = {finding.rule for finding in audit_rows(plan.day, one_hand(plan.rows))}
    assert "person-in-two-places" in found
