"""One writer at a time in a day folder: a lock the system takes back when its holder dies."""

from __future__ import annotations

import errno
import fcntl
import os
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from models.problem import BadInput, Problem

LOCK = ".pressday.lock"


class Busy(Exception):
    """Another run is at work in the folder: `pid` and `since` tell which, None where that cannot be told."""

    def __init__(self, folder: Path, pid: int | None, since: datetime | None) -> None:
        self.folder, self.pid, self.since = folder, pid, since
        who = "Another run of pressday" + (f" (process {pid})" if pid is not None else "")
        when = f" since {since:%Y-%m-%d %H:%M:%S}" if since is not None else ""
        super().__init__(f"{who} has been at work in {folder}{when}. Wait until it is done, or end it.")


def refused(folder: Path, error: OSError) -> BadInput:
    """The system's refusal to write in the folder, as a problem of it."""
    if not folder.exists():
        return BadInput(
            [Problem(str(folder), "", "", "", "there is no such folder", "Make one with: pressday new DIR.")]
        )
    wrong = f"the plan cannot be written here ({error.strerror or type(error).__name__})"
    full = error.errno in (errno.ENOSPC, errno.EDQUOT)
    right = "Make room on the disk." if full else "Check the folder and your rights to write in it."
    return BadInput([Problem(str(folder), "", "", "", wrong, right)])


# What is held, by process (a fork holds nothing), device and inode: the thread that holds it and how many times over.
_held: dict[tuple[int, int, int], tuple[int, int]] = {}


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold the folder for writing. Raises Busy at once where another process or thread does,
    BadInput where the folder cannot be written.

    The same thread may enter again. The lock is the system's own (flock), so a run that was killed holds
    nothing; its file stays behind, as taking it away would let two runs lock two files of one name.
    """
    try:
        handle = os.open(folder / LOCK, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW, 0o666)
    except OSError as error:
        raise refused(folder, error) from error
    try:
        status = os.fstat(handle)
        key, me = (os.getpid(), status.st_dev, status.st_ino), threading.get_ident()
        owner, depth = _held.get(key, (me, 0))
        if owner != me:
            raise Busy(folder, *_holder(handle))
        if not depth:
            _take(handle, folder)
        _held[key] = (me, depth + 1)
        try:
            yield
        finally:
            if depth:
                _held[key] = (me, depth)
            else:
                del _held[key]
    finally:
        os.close(handle)


def _take(handle: int, folder: Path) -> None:
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        raise Busy(folder, *_holder(handle)) from None
    except OSError as error:
        raise refused(folder, error) from error
    os.ftruncate(handle, 0)
    os.pwrite(handle, f"{os.getpid()} {datetime.now():%Y-%m-%dT%H:%M:%S}\n".encode(), 0)


def _holder(handle: int) -> tuple[int | None, datetime | None]:
    """Who wrote the lock's file and when; None where it says nothing that can be read."""
    text = os.pread(handle, 100, 0).decode("ascii", "replace")
    match = re.fullmatch(r"(\d{1,9}) (\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d)\n", text)
    if match is None:
        return None, None
    try:
        return int(match[1]), datetime.fromisoformat(match[2])
    except ValueError:
        return int(match[1]), None
