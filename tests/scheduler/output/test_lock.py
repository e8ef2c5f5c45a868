"""One writer at a time."""

from __future__ import annotations

import os
import re
import threading
from datetime import datetime
from pathlib import Path

import pytest

from models.problem import BadInput
from scheduler.output.files import recover
from scheduler.output.lock import LOCK, Busy, locked
from tests.scheduler.output.children import hidden, in_child, kept, mark_of, write
from tests.scheduler.output.planned import planned


def test_a_second_run_is_told_who_is_at_work(tmp_path: Path) -> None:
    """While one process holds the folder another is refused at once, told the other's process and since when."""
    before = datetime.now().replace(microsecond=0)

    def other(pipe: int) -> None:
        try:
            with locked(tmp_path):
                os.write(pipe, b"got in")
        except Busy as busy:
            assert busy.pid == os.getppid() and busy.since is not None and before <= busy.since <= datetime.now()
            os.write(pipe, str(busy).encode())

    with locked(tmp_path):
        code, told = in_child(other)
    pattern = rf"Another run of pressday \(process {os.getpid()}\) has been at work in .* since \d{{4}}-.*\. Wait.*"
    assert code == 0 and re.fullmatch(pattern, told.decode())
    assert in_child(other) == (0, b"got in")


def test_nothing_is_written_while_another_is_at_work(tmp_path: Path) -> None:
    """A plan is not written, nor leftovers touched, in a folder that another thread holds."""
    write(tmp_path, 1)
    (tmp_path / ".plan-new-0").mkdir()
    faults: list[Exception] = []

    def other() -> None:
        for work in (lambda: write(tmp_path, 2), lambda: recover(tmp_path)):
            try:
                work()
            except Busy as busy:
                faults.append(busy)

    with locked(tmp_path):
        thread = threading.Thread(target=other)
        thread.start()
        thread.join()
    assert len(faults) == 2 and mark_of(tmp_path / "plan") == 1 and hidden(tmp_path) == [".plan-new-0"]
    recover(tmp_path)
    assert not hidden(tmp_path)


def test_the_holder_may_write(tmp_path: Path) -> None:
    """Who holds the folder may write its plan, and holds it until the outermost block ends."""
    with locked(tmp_path):
        write(tmp_path, 1)
        with pytest.raises(ZeroDivisionError), locked(tmp_path):
            raise ZeroDivisionError
        assert in_child(lambda _: write(tmp_path, 2))[0] == 99
    assert mark_of(tmp_path / "plan") == 1
    assert in_child(lambda _: write(tmp_path, 2))[0] == 0 and mark_of(tmp_path / "plan") == 2


def test_a_killed_holder_holds_nothing(tmp_path: Path) -> None:
    """The lock of a run that was killed is free at once."""

    def hold(pipe: int) -> None:
        with locked(tmp_path):
            os.write(pipe, b"held")
            threading.Event().wait(60)

    assert in_child(hold, kill_after=0.3) == (-9, b"held")
    with locked(tmp_path):
        assert (tmp_path / LOCK).read_text().startswith(f"{os.getpid()} ")


def test_two_writers_at_once(tmp_path: Path) -> None:
    """Of two runs that write over and over each gets in or is refused and comes again; every plan is kept whole."""
    planned("two-presses")
    told: dict[int, bytes] = {}

    def writer(first: int) -> None:
        def work(pipe: int) -> None:
            for mark in range(first, first + 8):
                while True:
                    try:
                        write(tmp_path, mark)
                        break
                    except Busy:
                        threading.Event().wait(0.01)
                os.write(pipe, f"{mark} ".encode())

        code, told[first] = in_child(work)
        assert code == 0

    threads = [threading.Thread(target=writer, args=(first,)) for first in (100, 200)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    written = sorted(int(mark) for marks in told.values() for mark in marks.split())
    assert written == [*range(100, 108), *range(200, 208)]
    assert sorted([*kept(tmp_path), mark_of(tmp_path / "plan")]) == written and not hidden(tmp_path)


@pytest.mark.parametrize("text", ["", "no sense", "12 2026-99-99T00:00:00\n", "\0" * 50])
def test_a_lock_file_without_sense(text: str, tmp_path: Path) -> None:
    """Whatever stands in the lock's file, the folder can be held, and is refused to others in a whole sentence."""
    (tmp_path / LOCK).write_text(text)

    def other(pipe: int) -> None:
        try:
            with locked(tmp_path):
                pass
        except Busy as busy:
            os.write(pipe, str(busy).encode())

    with locked(tmp_path):
        (tmp_path / LOCK).write_text(text)
        assert re.match(r"Another run of pressday .*has been at work in .*\. Wait", in_child(other)[1].decode())


def test_a_link_is_not_followed(tmp_path: Path) -> None:
    """A link in the lock's place is refused and what it points to stays as it is."""
    (tmp_path / "precious").write_text("mine")
    (tmp_path / LOCK).symlink_to(tmp_path / "precious")
    with pytest.raises(BadInput, match="cannot be written"), locked(tmp_path):
        pass
    assert (tmp_path / "precious").read_text() == "mine"
