"""log.csv: read whole, every wrong line named; added to whole or not at all."""

from __future__ import annotations

import os
import random
import stat
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

from models.problem import BadInput, Problem
from scheduler.logbook import append, book, read_log
from scheduler.output.lock import Busy, locked
from tests.scheduler.logbook.cases import DAY, ROWS, line
from tests.scheduler.output.children import in_child
from tests.scheduler.output.planned import at

HEADER = "at,what,press,person,order,line,pieces,until,note"


def write(folder: Path, *lines: str) -> None:
    """A log.csv of these lines under the header."""
    (folder / "log.csv").write_text("\n".join([HEADER, *lines, ""]), encoding="utf-8")


def problems(folder: Path) -> list[Problem]:
    """What is wrong with the folder's log."""
    with pytest.raises(BadInput) as caught:
        read_log(folder, DAY, ROWS)
    return list(caught.value.problems)


def test_no_log_is_an_empty_log(tmp_path: Path) -> None:
    """A folder without log.csv, and a log without lines, hold no entry."""
    assert read_log(tmp_path, DAY, ROWS) == ()
    write(tmp_path)
    assert read_log(tmp_path, DAY, ROWS) == ()


EVERY = [
    line(10.5, "down", 12, press="window", note="the regulator, again"),
    line(11.5, "up", press="window"),
    line(24, "done", pieces=[1, 2]),
    line(24, "done", press="window", pieces=["G2-1-001"]),
    line(21, "spoiled", 60, person="ben", pieces=[3]),
    line(9, "absent", 9.6, person="ada"),
    line(9.5, "back", person="ada"),
    line(9, "rush", 90, order="G1", line="1", note="priority 2.5; =they called"),
    line(9, "ready", 15, order="G2"),
    line(50, "cancel", order="G2"),
]


def test_every_event_comes_back_as_it_was_added(tmp_path: Path) -> None:
    """What is added is read back the same, in the order it was added, whatever its time."""
    for entry in EVERY:
        assert append(tmp_path, DAY, ROWS, entry) == tmp_path / "log.csv"
    assert read_log(tmp_path, DAY, ROWS) == tuple(EVERY)
    assert (tmp_path / "log.csv").read_bytes().startswith(HEADER.encode() + b"\r\n2026-12-01T08:10:30,down,window,")


def test_a_loading_is_logged_with_its_pieces(tmp_path: Path) -> None:
    """What lay under a press that went down is named when it is logged done, so that a new plan changes nothing."""
    append(tmp_path, DAY, ROWS, line(11.6, "down", press="window"))
    append(tmp_path, DAY, ROWS, line(11.9, "done", press="window"))
    assert read_log(tmp_path, DAY, ROWS)[-1].pieces == ("G1-1-002",)


def test_lines_from_before_a_new_plan_stay_good(tmp_path: Path) -> None:
    """When the rest was planned again and lost work has left the rows, the lines up to then are not faulted for it."""
    append(tmp_path, DAY, ROWS, line(11.6, "down", 20, press="window"))
    append(tmp_path, DAY, ROWS, line(11.7, "spoiled", pieces=[2]))
    rows = [row for row in ROWS if row.loading != 2]
    with pytest.raises(BadInput, match="not begun by"):
        read_log(tmp_path, DAY, rows)
    assert len(read_log(tmp_path, DAY, rows, settled=at(12))) == 2
    with pytest.raises(BadInput, match="not begun by"):
        append(tmp_path, DAY, rows, line(20, "spoiled", pieces=[2]), settled=at(12))


WRONG = {
    "2026-12-01 08:10,dwn,window,,,,,,": ("what", "dwn", 'Did you mean "down"?'),
    ",down,window,,,,,,": ("at", "", "2026-12-01T10:15"),
    "08:10,down,window,,,,,,": ("at", "08:10", "2026-12-01T10:15"),
    "2026-12-01 07:59:59,down,window,,,,,,": ("at", "07:59:59", "from 2026-12-01T08:00 on"),
    "2027-12-01 08:10,down,window,,,,,,": ("at", "2027", "from 2026-12-01T08:00 on"),
    "2026-12-01 08:10,down,windw,,,,,,": ("press", "windw", 'Did you mean "window"?'),
    "2026-12-01 08:10,down,,,,,,,": ("press", "", "Write which press"),
    "2026-12-01 08:10,down,window,ada,,,,,": ("person", "ada", "Leave it blank"),
    "2026-12-01 08:10,down,window,,,,,2026-12-01 08:10,": ("until", "08:10", "a later time"),
    "2026-12-01 08:10,up,window,,,,,,": ("what", "up", 'Log "down" first'),
    "2026-12-01 08:10,back,,ben,,,,,": ("what", "back", 'Log "absent" first'),
    "2026-12-01 08:10,absent,,bob,,,,,": ("person", "bob", 'Known: "ada", "ben"'),
    "2026-12-01 08:10,done,,,,,,,": ("pieces", "", "the press whose loading is done"),
    "2026-12-01 08:10,done,wall,,,,,,": ("press", "wall", "Write the pieces that are done"),
    "2026-12-01 08:10,done,wall,,G1,,1,,": ("pieces", "G1-1-001", "Leave press blank"),
    "2026-12-01 08:09:59,spoiled,,,G1,1,1,,": ("pieces", "G1-1-001", "on a press by then"),
    "2026-12-01 08:10,spoiled,,,G1,,,,": ("pieces", "", "Write which pieces"),
    "2026-12-01 08:10,spoiled,,,G1,1,4,,": ("pieces", "4", "within that"),
    "2026-12-01 08:10,rush,,,G1,,,,soon": ("until", "", "priority 3"),
    "2026-12-01 08:10,rush,,,G1,,,,priority 0": ("note", "priority 0", "after the word priority"),
    "2026-12-01 08:10,rush,,,G3,,,,priority 2": ("order", "G3", 'Known: "G1", "G2"'),
    "2026-12-01 08:10,rush,,,,1,,,priority 2": ("order", "", "Write which order"),
    "2026-12-01 08:10,cancel,,,G1,2,,,": ("line", "2", '"1"'),
}


@pytest.mark.parametrize("text", WRONG)
def test_a_wrong_line_is_refused(text: str, tmp_path: Path) -> None:
    """A line that cannot be right is named by file, row and field, with the value and what would be right."""
    write(tmp_path, "2026-12-01 08:09,absent,,ada,,,,,fine", text)
    field, value, right = WRONG[text]
    found = [p for p in problems(tmp_path) if p.field == field]
    assert found and all((p.file, p.where) == ("log.csv", "row 3") for p in found)
    assert value in found[0].value and found[0].wrong and right in found[0].right


def test_everything_wrong_is_told_at_once(tmp_path: Path) -> None:
    """All rows are looked at before anything is refused, and told in the order of the rows."""
    write(tmp_path, *WRONG)
    assert {p.where for p in problems(tmp_path)} == {f"row {n}" for n in range(2, 2 + len(WRONG))}


@pytest.mark.parametrize(
    ("lines", "fault"),
    [
        (["08:20,down,window,,,,,08:30,", "08:31,up,window,,,,,,"], "that ended 2026-12-01 08:30"),
        (["08:20,down,window,,,,,,", "08:30,up,window,,,,,,", "08:40,up,window,,,,,,"], "that ended 2026-12-01 08:30"),
        (["08:20,cancel,,,G1,,,,", "08:30,rush,,,G1,,,,priority 2"], "was cancelled 2026-12-01 08:20"),
        (["08:20,cancel,,,G1,,,,", "08:30,cancel,,,G1,1,,,"], "was cancelled 2026-12-01 08:20"),
        (["08:10:50,spoiled,,,G1,1,1,,", "08:10:55,spoiled,,,G1,1,1,,"], "not begun by"),
        (["08:09,down,window,,,,,,", "08:10:50,spoiled,,,G1,1,1,,"], "not begun by"),
    ],
)
def test_lines_that_cannot_follow_each_other(lines: list[str], fault: str, tmp_path: Path) -> None:
    """A line is judged by those before it in time, wherever they stand in the file."""
    dated = [f"2026-12-01 {text}".replace(",08:30,", ",2026-12-01 08:30,") for text in lines]
    for order in (dated, dated[::-1]):
        write(tmp_path, *order)
        (problem,) = problems(tmp_path)
        assert fault in problem.wrong
    write(tmp_path, *dated[:-1])
    assert len(read_log(tmp_path, DAY, ROWS)) == len(dated) - 1


@pytest.mark.parametrize("dress", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_a_spreadsheets_dress_is_read_and_kept_to_the_letter(dress: str, separator: str, tmp_path: Path) -> None:
    """Saved by a spreadsheet in another encoding or with other separators, the lines stay and one more is added."""
    text = f"{HEADER}\r\n2026-12-01 08:10,DOWN,window,,,,,,größer\r\n".replace(",", separator)
    (tmp_path / "log.csv").write_bytes(text.encode(dress))
    append(tmp_path, DAY, ROWS, line(20, "up", press="window"))
    down, up = read_log(tmp_path, DAY, ROWS)
    assert (down.what, down.note, down.at) == ("down", "größer", at(10)) and up == line(20, "up", press="window")
    if dress.startswith("utf-8") and separator == ",":
        assert (tmp_path / "log.csv").read_bytes().startswith(text.encode(dress))


def test_columns_may_stand_in_any_order(tmp_path: Path) -> None:
    """A hand-made log may leave columns out and order them its own way; a missing last line break is no harm."""
    (tmp_path / "log.csv").write_text("What,Press,At\ndown,window,2026-12-01 8:10", encoding="utf-8")
    append(tmp_path, DAY, ROWS, line(20, "up", press="window"))
    (tmp_path / "log.csv").write_bytes((tmp_path / "log.csv").read_bytes().rstrip())
    append(tmp_path, DAY, ROWS, line(30, "absent", person="ben"))
    assert [entry.what for entry in read_log(tmp_path, DAY, ROWS)] == ["down", "up", "absent"]


DAMAGED = {
    "a quote never closed": f'{HEADER}\n2026-12-01 08:10,down,window,,,,,,"so\n'.encode(),
    "a NUL": f"{HEADER}\n2026-12-01 08:10,down,window,,,,,,\0\n".encode(),
    "cut off": f"{HEADER}\n2026-12-01 08:10,do".encode(),
    "emptied": b"",
    "no header": b"2026-12-01 08:10,down,window,,,,,,\n",
    "a column too many": f"{HEADER}\n2026-12-01 08:10,down,window,,,,,,,more\n".encode(),
}


@pytest.mark.parametrize("name", DAMAGED)
def test_a_damaged_log_is_never_overwritten(name: str, tmp_path: Path) -> None:
    """What cannot be read is told and left as it is, byte for byte, however good the new line."""
    (tmp_path / "log.csv").write_bytes(DAMAGED[name])
    with pytest.raises(BadInput) as caught:
        append(tmp_path, DAY, ROWS, line(20, "absent", person="ben"))
    assert all(p.file == "log.csv" for p in caught.value.problems)
    assert (tmp_path / "log.csv").read_bytes() == DAMAGED[name]


def test_a_refused_line_leaves_the_log_as_it_was(tmp_path: Path) -> None:
    """A line that cannot be right is told as the new one, and nothing is written."""
    with pytest.raises(BadInput) as caught:
        append(tmp_path, DAY, ROWS, line(20, "up", press="window"))
    assert caught.value.problems[0].where == "row 2 (new)" and not (tmp_path / "log.csv").exists()


def test_a_link_is_not_replaced(tmp_path: Path) -> None:
    """Where log.csv is a link, adding a line would cut it off, so it is refused."""
    (tmp_path / "elsewhere.csv").write_text(HEADER + "\n", encoding="utf-8")
    (tmp_path / "log.csv").symlink_to("elsewhere.csv")
    with pytest.raises(BadInput, match="link"):
        append(tmp_path, DAY, ROWS, line(20, "absent", person="ben"))
    assert (tmp_path / "log.csv").is_symlink()


def test_the_files_rights_stay(tmp_path: Path) -> None:
    """A log that others may read stays readable to them, and one that is private stays private."""
    for mode in (0o600, 0o664):
        write(tmp_path)
        (tmp_path / "log.csv").chmod(mode)
        append(tmp_path, DAY, ROWS, line(20, "absent", person="ben"))
        assert stat.S_IMODE((tmp_path / "log.csv").stat().st_mode) == mode


def test_a_full_disk_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the system refuses to write, that is told, the log is as it was and nothing is left behind."""
    write(tmp_path)

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(BadInput, match="Make room on the disk"):
        append(tmp_path, DAY, ROWS, line(20, "absent", person="ben"))
    assert (tmp_path / "log.csv").read_text() == HEADER + "\n"
    assert not list(tmp_path.glob(".log-new-*"))


def notes(folder: Path) -> list[str]:
    """The notes of the folder's log, which is whole."""
    return [entry.note for entry in read_log(folder, DAY, ROWS)]


def add(folder: Path, note: str) -> None:
    """Add a line that bears this note."""
    append(folder, DAY, ROWS, line(20, "absent", person="ben", note=note))


def test_killed_at_random(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Forty times killed at a random moment: the log is the old or the new one, whole, and no line is lost."""
    monkeypatch.setattr(os, "fsync", lambda handle: None)  # a killed process loses nothing the system has; it is slow
    chance, finished = random.Random(11), 0
    add(tmp_path, "0")
    for turn in range(1, 41):
        start = len(notes(tmp_path))

        def work(pipe: int, start: int = start) -> None:
            for number in range(start, start + 500):
                add(tmp_path, str(number))
                os.write(pipe, f"{number} ".encode())

        code, told = in_child(work, kill_after=chance.uniform(0, 0.06))
        assert code == -9, turn
        sure = [int(word) for word in told.split()]
        now = notes(tmp_path)
        assert now == [str(n) for n in range(len(now))]
        assert len(now) - (sure[-1] + 1 if sure else start) in (0, 1)
        finished += len(sure)
    add(tmp_path, "last")
    assert notes(tmp_path)[-1] == "last" and not list(tmp_path.glob(".log-new-*")) and finished > 10


def dying_at(step: int, work: Callable[[], None]) -> Callable[[int], None]:
    """The work, cut off dead before the so-many-th line of the writing that it runs."""

    def until(_: int) -> None:
        seen = 0

        def trace(frame: FrameType, event: str, _: Any) -> Any:
            nonlocal seen
            if frame.f_code.co_filename != book.__file__ or frame.f_code.co_name not in ("append_cells", "_replace"):
                return None
            seen += event == "line"
            if seen == step:
                os._exit(9)
            return trace

        sys.settrace(trace)
        work()

    return until


def test_killed_at_every_step(tmp_path: Path) -> None:
    """Dead before any line of the writing: the log is the old or the new one, and the next line clears up."""
    add(tmp_path, "0")
    old, step, code, outcomes = (tmp_path / "log.csv").read_bytes(), 0, 9, set()
    while code == 9:
        step += 1
        (tmp_path / "log.csv").write_bytes(old)
        code, _ = in_child(dying_at(step, lambda: add(tmp_path, "1")))
        outcomes.add(tuple(notes(tmp_path)))
    assert code == 0 and step > 15 and outcomes == {("0",), ("0", "1")}
    add(tmp_path, "2")
    assert notes(tmp_path) == ["0", "1", "2"] and not list(tmp_path.glob(".log-new-*"))


def test_lines_added_at_once_all_land(tmp_path: Path) -> None:
    """Two processes that log at the same time wait for each other: every line of both is there, each's in its order."""
    children = []
    for who in ("a", "b"):
        child = os.fork()
        if child == 0:
            try:
                for n in range(8):
                    add(tmp_path, f"{who}{n}")
            except BaseException:
                os._exit(99)
            os._exit(0)
        children.append(child)
    assert [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children] == [0, 0]
    assert len(notes(tmp_path)) == 16
    for who in ("a", "b"):
        assert [note for note in notes(tmp_path) if note[0] == who] == [f"{who}{n}" for n in range(8)]


def test_threads_that_log_at_once_wait_too(tmp_path: Path) -> None:
    """Lines from two threads of one process all land."""
    threads = [
        threading.Thread(target=lambda who=who: [add(tmp_path, f"{who}{n}") for n in range(5)]) for who in ("a", "b")
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(notes(tmp_path)) == [f"{who}{n}" for who in ("a", "b") for n in range(5)]


def test_who_waits_too_long_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """While a plan is being written for long, a line is refused and it is said who is at work."""
    monkeypatch.setattr(book, "PATIENCE_S", 0.05)

    def other(_: int) -> None:
        try:
            add(tmp_path, "x")
        except Busy:
            os._exit(7)

    with locked(tmp_path):
        assert in_child(other)[0] == 7
    assert notes(tmp_path) == []
