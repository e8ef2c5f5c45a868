"""Plan folders damaged by hand or by chance: told where, once, and never a crash."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from scheduler.audit import Finding, audit_folder
from scheduler.audit.finding import LONGEST
from tests.scheduler.audit.test_real_plans import written


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A scenario's folder with its plan."""
    return written("mixed-peels", tmp_path)


def spoil_plan(folder: Path, spoil: Callable[[dict[str, Any]], Any]) -> list[Finding]:
    """The findings after plan.json went through `spoil`."""
    file = folder / "plan" / "plan.json"
    plan = json.loads(file.read_text(encoding="utf-8"))
    spoil(plan)
    file.write_text(json.dumps(plan), encoding="utf-8")
    return audit_folder(folder)


def spoil_table(folder: Path, spoil: Callable[[str], str]) -> list[Finding]:
    """The findings after timetable.csv went through `spoil`."""
    file = folder / "plan" / "timetable.csv"
    file.write_text(spoil(file.read_text(encoding="utf-8")), encoding="utf-8")
    return audit_folder(folder)


ZONED: dict[str, Callable[[dict[str, Any]], Any]] = {
    "start": lambda plan: plan.update(start=plan["start"] + "Z"),
    "finish": lambda plan: plan.update(finish=plan["finish"] + "+02:00"),
    "orders 1, finish": lambda plan: plan["orders"][0].update(finish=plan["orders"][0]["finish"] + "Z"),
    "campaigns 2, end": lambda plan: plan["campaigns"][1].update(end=plan["campaigns"][1]["end"] + "Z"),
}


@pytest.mark.parametrize("place", ZONED)
def test_times_with_a_zone_are_told(place: str, folder: Path) -> None:
    """Times in plan.json are local; one with a zone is told by its place, and the rows are still checked."""
    found = spoil_plan(folder, ZONED[place])
    assert [(f.rule, f.where) for f in found] == [("file-damaged", f"plan.json, {place}")]


@pytest.mark.parametrize("name", ["start", "end"])
def test_campaigns_begin_and_end_with_their_loadings(name: str, folder: Path) -> None:
    """A campaign that is told longer than its loadings last is found."""
    longer = {"start": "2026-12-14T08:00:00", "end": "2026-12-14T16:59:59"}[name]
    last = {"start": 0, "end": -1}[name]
    found = spoil_plan(folder, lambda plan: plan["campaigns"][last].update({name: longer}))
    assert [(f.rule, name in f.message) for f in found] == [("campaigns", True)]


@pytest.mark.parametrize("content", ["", "[1]", "{", "[" * 100_000])
def test_without_plan_json_the_rows_are_judged_all_the_same(content: str, folder: Path) -> None:
    """Where shop.toml gives no start and plan.json is broken, planning is taken to begin with the first row."""
    shop = folder / "shop.toml"
    lines = shop.read_text(encoding="utf-8").splitlines()
    shop.write_text("\n".join(line for line in lines if not line.startswith("start")), encoding="utf-8")
    (folder / "plan" / "plan.json").write_text(content, encoding="utf-8")
    (finding,) = audit_folder(folder)
    assert (finding.rule, finding.where[:9]) == ("file-damaged", "plan.json")


@pytest.mark.parametrize("spoil", [lambda text: text.replace(",", ";"), lambda text: "x" * 200_000, lambda text: ""])
def test_one_damage_is_told_once(spoil: Callable[[str], str], folder: Path) -> None:
    """A timetable that cannot be read at all is one finding, not one for each thing it should have held."""
    (finding,) = spoil_table(folder, spoil)
    assert (finding.rule, finding.where[:13]) == ("file-damaged", "timetable.csv")


def test_an_empty_timetable_lacks_every_piece(folder: Path) -> None:
    """A timetable with its first line alone is sound as a table, and lacks the pieces of every order line."""
    found = spoil_table(folder, lambda text: text.splitlines()[0] + "\n")
    lines = len((folder / "orders.csv").read_text(encoding="utf-8").splitlines()) - 1
    assert sum(finding.rule == "piece-missing" for finding in found) == lines


def test_nothing_a_terminal_would_act_on(folder: Path) -> None:
    """Control characters from a spoiled file are shown as a mark, and endless cells are cut."""
    found = spoil_table(folder, lambda text: text.replace(",medium", ",\x1b[31mred" + "x" * 3000, 1))
    assert any("red" in finding.message for finding in found)
    assert all(f.message.isprintable() and f.where.isprintable() and len(f.message) <= LONGEST + 1 for f in found)


@pytest.mark.parametrize("line", [2, 40, 400])
@pytest.mark.parametrize("year", ["0001", "9999"])
def test_times_at_the_ends_of_the_calendar(line: int, year: str, folder: Path) -> None:
    """A row in an absurd year is a finding."""

    def far(text: str) -> str:
        lines = text.splitlines()
        lines[line - 1] = lines[line - 1].replace("2026", year)
        return "\n".join(lines) + "\n"

    found = spoil_table(folder, far)
    assert any(f"row {line}," in finding.where for finding in found)
