"""What is written to plan/ and how it is read back."""

from __future__ import annotations

import csv
import errno
import json
import os
import re
from pathlib import Path

import pytest

from models.problem import BadInput
from scheduler.output import swap
from scheduler.output.cells import as_written, harmless
from scheduler.output.files import finish_csv, plan_json, read_plan, read_timetable, recover, timetable_csv, write_plan
from tests.scheduler.output.children import hidden, kept, mark_of, write
from tests.scheduler.output.planned import FILES, NAMES, at, finish, loading, planned, row, with_orders

CONTRACT_TIMETABLE = (
    "start,end,what,press,person,loading,pieces,order,line,placement,operation,layers,temperature,pressure"
)
EVIL = [
    '=HYPERLINK("http://example.invalid","click")',
    "+1+1",
    "-2+3",
    "@SUM(A1)",
    "\t=1+1",
    "\r=1+1",
    "\n=1",
    "'=1",
    "''@x",
    "＝1+1",
    "<script>alert(1)</script>",
    'a "quoted", comma',
    "two\r\nlines",
    "'quoted'",
    "Ærø ☕ 漢字",
]


@pytest.mark.parametrize("name", NAMES)
def test_round_trip(name: str, tmp_path: Path) -> None:
    """What is written of a real plan is read back the same."""
    made = planned(name)
    plan = write_plan(tmp_path, made.plan, made.rows, "<!doctype html>é")
    assert plan == tmp_path / "plan" and {path.name for path in plan.iterdir()} == FILES
    assert read_timetable(plan / "timetable.csv") == made.rows
    assert read_plan(plan / "plan.json") == made.plan
    assert (plan / "timeline.html").read_bytes() == "<!doctype html>é".encode()


def test_timetable_as_the_contract_has_it() -> None:
    """timetable.csv has the contract's columns, times to the second, lists joined by ';', blanks where nothing fits."""
    rows = [row(0, 5, "change"), *loading(1, 5, pieces=("G1-1-001", "G1-1-002"))]
    lines = timetable_csv(rows).split("\r\n")
    assert lines[0] == CONTRACT_TIMETABLE
    assert lines[1] == "2026-12-01T08:00:00,2026-12-01T08:05:00,change,window,,,,,,,,,300,medium"
    assert lines[3] == (
        "2026-12-01T08:05:15,2026-12-01T08:05:30,align,window,ada,1,G1-1-001;G1-1-002,G1,1,front,1,1,300,medium"
    )
    assert lines[-1] == "" and len(lines) == 7


def test_finish_as_the_contract_has_it() -> None:
    """finish.csv has the contract's columns, then what is likely; minutes have at most two decimals."""
    text = finish_csv(
        [finish("G1", "Gull", -13.934, due=at(46)), finish("G2"), finish("G3", slack_min=-0.001, due=at(60))]
    )
    assert text.split("\r\n")[:4] == [
        "order,customer,pieces,ready,due,finish,late_min,slack_min,holds_50,holds_80,holds_95,on_time",
        "G1,Gull,3,,2026-12-01T08:46:00,2026-12-01T09:00:00,13.93,-13.93,,,,",
        "G2,,3,,,2026-12-01T09:00:00,,,,,,",
        "G3,,3,,2026-12-01T09:00:00,2026-12-01T09:00:00,0,0,,,,",
    ]


def test_plan_json_as_the_contract_has_it() -> None:
    """plan.json is indented and holds every key of the contract, its times without zone or parts of a second."""
    text = plan_json(planned("celsius-studio").plan)
    data = json.loads(text)
    assert text.startswith('{\n  "format": "pressday-plan/1",\n') and text.endswith("}\n")
    wanted = "format start finish status goals presses people orders campaigns warnings inputs seed effort version"
    assert set(wanted.split()) <= set(data)
    goals = "late_min late_bound work_min work_bound gap changes change_min peel_wait_min"
    assert set(goals.split()) <= set(data["goals"])
    assert {"press", "temperature", "pressure", "start", "end", "pieces"} <= set(data["campaigns"][0])
    times = re.findall(r'"(?:start|finish|end|ready|due)": (".*?"|null)', text)
    assert len(times) > 20 and all(re.fullmatch(r'"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d"|null', t) for t in times)


@pytest.mark.parametrize("customer", EVIL)
def test_no_cell_is_a_formula(customer: str, tmp_path: Path) -> None:
    """No cell begins as a formula does (OWASP, CSV injection), and the customer's own words come back whole."""
    made = planned("two-presses")
    plan = with_orders(made.plan, [finish("G1", customer, -3)])
    write_plan(tmp_path, plan, made.rows[:9], "")
    with (tmp_path / "plan" / "finish.csv").open(encoding="utf-8", newline="") as stream:
        (read,) = csv.DictReader(stream, strict=True)
    assert not read["customer"].startswith(("=", "+", "-", "@", "\t", "\r", "\n", "＝"))
    assert as_written(read["customer"]) == customer
    assert float(read["slack_min"]) == -3
    assert read_plan(tmp_path / "plan" / "plan.json").orders[0].customer == customer


def test_a_formula_as_person_comes_back(tmp_path: Path) -> None:
    """A name in the timetable that looks like a formula is written harmless and read as it was."""
    rows = loading(1, 0, order="=cmd()", press="@press", pressure="-firm", placement="'+x")
    path = tmp_path / "timetable.csv"
    path.write_text(timetable_csv(rows), encoding="utf-8", newline="")
    assert read_timetable(path) == rows
    assert not re.search(r"(^|,)[=+@-]", path.read_text(encoding="utf-8"), re.M)


def test_plain_text_is_left_alone() -> None:
    """Only what a spreadsheet would take for a formula gets an apostrophe."""
    assert [harmless(text) for text in ("", "a=b", "2-1", "'tis", "=x")] == ["", "a=b", "2-1", "'tis", "'=x"]


def test_the_plans_before_are_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The plan before is kept under the next number, the newest highest; the last ones stay, other things too."""
    monkeypatch.setattr(swap, "KEEP", 3)
    for mark in range(1, 7):
        write(tmp_path, mark)
    (tmp_path / "plans-before" / "notes").mkdir()
    write(tmp_path, 7)
    assert mark_of(tmp_path / "plan") == 7 and kept(tmp_path) == [4, 5, 6]
    assert sorted(path.name for path in (tmp_path / "plans-before").iterdir()) == ["0004", "0005", "0006", "notes"]


def test_twenty_plans_are_kept(tmp_path: Path) -> None:
    """Twenty plans before stay."""
    for mark in range(1, 24):
        write(tmp_path, mark)
    assert kept(tmp_path) == list(range(3, 23))


def test_what_someone_put_into_plan_is_kept(tmp_path: Path) -> None:
    """A note laid into plan/ goes with it to the plans before; an empty plan/ is no plan."""
    (tmp_path / "plan").mkdir()
    write(tmp_path, 1)
    assert not (tmp_path / "plans-before").exists()
    (tmp_path / "plan" / "note.txt").write_text("mine")
    write(tmp_path, 2)
    assert (tmp_path / "plans-before" / "0001" / "note.txt").read_text() == "mine"
    assert mark_of(tmp_path / "plan") == 2


def test_all_is_on_the_disk_before_the_swap(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each file, then its folder, then the day folder is forced to the disk before the new plan takes its place."""
    write(tmp_path, 1)
    seen: list[str] = []
    real, swapped = os.fsync, swap.exchange

    def fsync(handle: int) -> None:
        seen.append(Path(f"/proc/self/fd/{handle}").readlink().name)
        real(handle)

    def exchange(one: Path, other: Path) -> bool:
        seen.append("exchange")
        return swapped(one, other)

    monkeypatch.setattr(os, "fsync", fsync)
    monkeypatch.setattr(swap, "exchange", exchange)
    write(tmp_path, 2)
    assert set(seen[:4]) == FILES and seen[4].startswith(".plan-new-")
    assert seen[5:] == [tmp_path.name, "exchange", tmp_path.name, "plans-before", tmp_path.name]


@pytest.mark.parametrize("step", ["open", "rename", "fsync"])
def test_a_full_disk_leaves_the_plan(step: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the disk is full the plan stays as it was, nothing is left behind, and the message says what to do."""
    write(tmp_path, 1)

    def full(*args: object, **other: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patch:
        if step == "fsync":
            patch.setattr(os, "fsync", full)
        else:
            patch.setattr(Path, step, full)
        with pytest.raises(BadInput, match=r"cannot be written.*No space left.*Make room"):
            write(tmp_path, 2)
    assert mark_of(tmp_path / "plan") == 1 and not hidden(tmp_path) and kept(tmp_path) == []


@pytest.mark.parametrize("name", ["plan", "plans-before"])
@pytest.mark.parametrize("kind", ["file", "link", "broken link"])
def test_what_is_no_folder_is_left_alone(name: str, kind: str, tmp_path: Path) -> None:
    """A file or a link under the name of pressday's folders is told, and neither moved nor written through."""
    place, elsewhere = tmp_path / name, tmp_path / "elsewhere"
    if kind == "file":
        place.write_text("mine")
    else:
        place.symlink_to(elsewhere)
        if kind == "link":
            elsewhere.mkdir()
    with pytest.raises(BadInput, match=f"{name}: this is a {'file' if kind == 'file' else 'link'}.*move yours away"):
        write(tmp_path, 1)
    assert not hidden(tmp_path) and (place.is_symlink() or place.read_text() == "mine")
    assert not elsewhere.exists() or not list(elsewhere.iterdir())


def test_no_folder_to_write_in(tmp_path: Path) -> None:
    """A day folder that is not there is told by its name."""
    with pytest.raises(BadInput, match=r"nowhere: there is no such folder"):
        write(tmp_path / "nowhere", 1)
    with pytest.raises(BadInput, match=r"nowhere: there is no such folder"):
        recover(tmp_path / "nowhere")


def test_nothing_to_recover(tmp_path: Path) -> None:
    """Recovering a folder in order changes nothing in it, not even a lock's file."""
    recover(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_exchange_is_one_step(tmp_path: Path) -> None:
    """Two folders change places; where one is missing the system's refusal is raised."""
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    (tmp_path / "a" / "x").touch()
    if not swap.exchange(tmp_path / "a", tmp_path / "b"):
        pytest.skip("this disk cannot exchange names")
    assert (tmp_path / "b" / "x").exists() and not (tmp_path / "a" / "x").exists()
    with pytest.raises(FileNotFoundError):
        swap.exchange(tmp_path / "a", tmp_path / "c")
