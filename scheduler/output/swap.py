"""A folder put in another's place whole or not at all, the one before it kept; also when killed half-way.

A new plan is built in `.plan-new-*`. When every byte is on the disk the folder is renamed to `.plan-next-<inode>`
and exchanged with `plan` in one step. What then lies under the hidden name is the plan before, told from a
plan not yet put in place by its own inode; it goes to `plans-before`.

A file beside `plan` that changes with it (log.csv, orders.csv) waits as `.beside-<inode>-<name>`, by the plan it
belongs to: it is put in place once that plan is, and thrown away where that plan never was whole.
"""

from __future__ import annotations

import ctypes
import errno
import os
import secrets
import shutil
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import MappingProxyType

NOTHING: Mapping[str, bytes] = MappingProxyType({})
PLAN = "plan"
BEFORE = "plans-before"
KEEP = 20

_BESIDE = ".beside-"
_NEW, _NEXT, _GONE = ".plan-new-", ".plan-next-", ".plan-gone-"
_AT_FDCWD, _RENAME_EXCHANGE = -100, 2  # linux/fcntl.h, linux/fs.h


def put(folder: Path, files: Mapping[str, bytes], beside: Mapping[str, bytes] = NOTHING) -> Path:
    """Write the files as `plan` in the folder, whole or not at all; the plan before is kept. `beside`: what files of
    the folder hold from then on; these and the plan are all old or all new, also when killed.

    Call it under the folder's lock. Raises OSError, with the plan as it was and nothing left behind.
    """
    tidy(folder)
    new = folder / f"{_NEW}{secrets.token_hex(4)}"
    try:
        build(new, files)
        for name, data in beside.items():
            _write(folder / f"{_waiting(new)}{name}", data)
        new = new.rename(new.with_name(f"{_NEXT}{new.stat().st_ino}"))
        sync_folder(folder)
        publish(new)
        _place_waiting(folder)
    except BaseException:
        if new.exists() and (new.name.startswith(_NEW) or _is_new(new)):
            for name in beside:
                (folder / f"{_waiting(new)}{name}").unlink(missing_ok=True)
            shutil.rmtree(new, ignore_errors=True)
        raise
    return folder / PLAN


def tidy(folder: Path) -> None:
    """Finish or clear away what a killed run left. What is whole is put in its place, what is half is removed."""
    for half in [*_hidden(folder, _NEW), *_hidden(folder, _GONE)]:
        shutil.rmtree(half, ignore_errors=True)
    for whole in _hidden(folder, _NEXT):
        publish(whole)
    _place_waiting(folder)


def leftovers(folder: Path) -> bool:
    """Whether a killed run left anything behind."""
    return any(True for prefix in (_NEW, _NEXT, _GONE) for _ in _hidden(folder, prefix)) or bool(_beside(folder))


def publish(ready: Path) -> None:
    """Bring a whole hidden folder home: into `plan` where it is new, into `plans-before` where it has been there."""
    folder = ready.parent
    if _is_new(ready):
        _into_place(ready, folder / PLAN)
        sync_folder(folder)
    if ready.is_dir():
        _keep(ready, folder / BEFORE)
        sync_folder(folder)


def before(folder: Path) -> list[Path]:
    """The plans kept from before, the oldest first."""
    kept = folder / BEFORE
    numbered = [p for p in kept.iterdir() if _is_number(p.name) and p.is_dir()] if kept.is_dir() else []
    return sorted(numbered, key=lambda path: int(path.name))


def sync_folder(folder: Path) -> None:
    """Wait until the folder's entries are on the disk."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def build(new: Path, files: Mapping[str, bytes]) -> None:
    """Write the files into a new folder and wait until every byte is on the disk."""
    new.mkdir()
    for name, data in files.items():
        _write(new / name, data)
    sync_folder(new)


def _write(path: Path, data: bytes) -> None:
    with path.open("xb") as stream:
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())


def unplaced(file: Path) -> Path:
    """Where a file that came with a plan lies, when the one it was to replace was changed by hand before it could."""
    return file.with_name(f"{file.stem}-not-added{file.suffix}")


def _waiting(plan: Path) -> str:
    return f"{_BESIDE}{plan.stat().st_ino}-"


def _beside(folder: Path) -> list[Path]:
    return sorted(path for path in folder.iterdir() if path.name.startswith(_BESIDE) and path.is_file())


def _place_waiting(folder: Path) -> None:
    """Put the files that came with the plan in their places; those whose plan never came are thrown away."""
    plan = folder / PLAN
    for new in _beside(folder):
        if not plan.is_dir() or not new.name.startswith(_waiting(plan)):
            new.unlink()
        else:
            _replace(folder / new.name.removeprefix(_waiting(plan)), new)
        sync_folder(folder)


def _replace(old: Path, new: Path) -> None:
    if not old.exists():
        new.replace(old)
    elif old.stat().st_mtime_ns > new.stat().st_mtime_ns:
        new.replace(unplaced(old))
    else:
        new.chmod(old.stat().st_mode & 0o777)
        new.replace(old)


def _is_new(ready: Path) -> bool:
    return ready.name == f"{_NEXT}{ready.stat().st_ino}"


def _into_place(ready: Path, plan: Path) -> None:
    if not plan.exists():
        ready.rename(plan)
    elif not exchange(ready, plan):
        _keep(plan, plan.parent / BEFORE)  # killed here, the next run finds no plan and puts this one in place
        ready.rename(plan)


def exchange(one: Path, other: Path) -> bool:
    """Exchange two names in one step (renameat2 of Linux); False where the system or the disk cannot."""
    try:
        renameat2 = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError, TypeError):
        return False
    if renameat2(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), _RENAME_EXCHANGE) == 0:
        return True
    code = ctypes.get_errno()
    if code in (errno.ENOSYS, errno.EINVAL, errno.ENOTSUP, errno.EPERM) or not sys.platform.startswith("linux"):
        return False
    raise OSError(code, os.strerror(code), str(other))


def _keep(old: Path, kept: Path) -> None:
    """File a plan that has had its day under the next number; only the last KEEP stay."""
    if not any(old.iterdir()):
        old.rmdir()
        return
    kept.mkdir(exist_ok=True)
    known = before(kept.parent)
    number = int(known[-1].name) + 1 if known else 1
    old.rename(kept / f"{number:04d}")
    sync_folder(kept)
    for oldest in before(kept.parent)[:-KEEP]:
        gone = kept.parent / f"{_GONE}{secrets.token_hex(4)}"
        oldest.rename(gone)  # first out of sight, so that no half of it is ever seen
        shutil.rmtree(gone, ignore_errors=True)


def _hidden(folder: Path, prefix: str) -> Iterator[Path]:
    yield from sorted(p for p in folder.iterdir() if p.name.startswith(prefix) and p.is_dir() and not p.is_symlink())


def _is_number(name: str) -> bool:
    return name.isascii() and name.isdigit() and len(name) < 10
