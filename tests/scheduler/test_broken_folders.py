"""Malformed folders by the hundred through the whole command: exit 1, a place and a reason, nothing written.

`tests/scheduler/intake/test_malformed.py` throws anything at the reading alone; here each folder is surely wrong, is
counted, and goes through `pressday plan` as a person would run it.
"""

from __future__ import annotations

import re
import resource
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

import pytest
from typer.testing import CliRunner

from scheduler.cli import app
from scheduler.intake.begin import starter_texts
from scheduler.output.lock import LOCK

Files = dict[str, bytes | None]  # None: a directory in the file's place
SOUND: Files = {name: text.encode() for name, text in starter_texts(datetime(2026, 12, 1, 7)).items()}
TOMLS = sorted(name for name in SOUND if name.endswith(".toml"))
TABLES = sorted(name for name in SOUND if name.endswith(".csv"))
LEAST = 300  # folders that have to be refused
ROOT = Path(__file__).parents[2]
# What no field of a day folder may be, in TOML's spelling; a name may be "x", so that is not here.
NEVER = ("{ a = 1 }", "[[[1]]]", "nan", "2026-13-45", '"\\u0000"', "99999999999999999999", '"=1+1;"')
FREE = ("name", "kind", "fabric")  # free texts, in which a formula is harmless where it stands
FORMULAS = ("=1+1", "+A1", "-2+3", "@SUM(A1)", "=cmd|' /C calc'!A0", '=HYPERLINK("http://x")')
WRONG_CELLS = {
    "orders.csv": {
        "order": ("", *FORMULAS, "a;b", "x" * 90, "\u202e1"),
        "line": (*FORMULAS, "a;b"),
        "garment": ("", "no-such-garment", *FORMULAS[:2]),
        "quantity": ("", "0", "-1", "1.5", "many", "1e9", "99999999999999999999", *FORMULAS[:1]),
        "design": ("", "no-such-design", *FORMULAS[:2]),
        "ready": ("tomorrow", "2026-02-30T08:00", "2026-12-01T08:00Z", "1999-01-01T08:00"),
        "due": ("soon", "25:00", "2026-12-01T24:61", "9999-99-99T00:00"),
        "priority": ("0", "-1", "nan", "inf", "high", "1e99"),
    },
    "names.csv": {
        "order": ("", "no-such-order"),
        "piece": ("", "0", "-1", "1.5", "first", "99999"),
    },
}


def text_of(name: str) -> str:
    """A sound file's text."""
    data = SOUND[name]
    assert data is not None
    return data.decode()


def with_text(name: str, text: str) -> Files:
    """The sound folder with one file's text changed."""
    return {**SOUND, name: text.encode()}


def truncated() -> Iterator[tuple[str, Files]]:
    """TOML cut in the middle of a value, of a table's head, of a text."""
    for name in TOMLS:
        text = text_of(name)
        spots = [m.start(2) for m in re.finditer(r"^( *[a-z_]+ = )([^#\n]*)", text, re.MULTILINE)]
        yield from ((f"{name} cut at {at}", with_text(name, text[:at])) for at in spots[:: max(1, len(spots) // 20)])


def wrong_values() -> Iterator[tuple[str, Files]]:
    """Values of no sort that any field takes."""
    for name in TOMLS:
        text = text_of(name)
        spots = list(re.finditer(r"^( *[a-z_]+ = )([^#\n]*[^#\s])", text, re.MULTILINE))
        for n, spot in enumerate(spot for spot in spots if spot[1].split()[0] not in FREE):
            value = NEVER[n % len(NEVER)]
            yield (
                f"{name} {spot[1].strip()} {value}",
                with_text(name, text[: spot.start(2)] + value + text[spot.end(2) :]),
            )


def misspelt() -> Iterator[tuple[str, Files]]:
    """Keys and tables with a letter more."""
    for name in TOMLS:
        text = text_of(name)
        for spot in re.finditer(r"^( *)([a-z_]+)( = )|^(\[+)([a-z.]+)(\]+)", text, re.MULTILINE):
            at = spot.end(2) if spot[2] else spot.end(5)
            yield f"{name} misspelt at {at}", with_text(name, text[:at] + "x" + text[at:])


def no_text() -> Iterator[tuple[str, Files]]:
    """NUL bytes, bytes of no encoding, nothing at all, a directory in the file's place, the file not there."""
    for name in (*TOMLS, *TABLES):
        data = SOUND[name]
        assert data is not None
        for junk in (b"\0", b"\xff\xfe\x00", b"\x81\x8d\x00", b"\xc3\x28\x00"):
            for at in (0, len(data) // 2, len(data)):
                yield f"{name} {junk!r} at {at}", {**SOUND, name: data[:at] + junk + data[at:]}
        yield f"{name} is a directory", {**SOUND, name: None}
        if name != "names.csv":
            yield f"{name} is empty", {**SOUND, name: b""}
            yield f"{name} is missing", {other: held for other, held in SOUND.items() if other != name}


def tables() -> Iterator[tuple[str, Files]]:
    """Cells that are wrong, a hundred columns, a column twice, a row too long, quotes left open."""
    for name, columns in WRONG_CELLS.items():
        head, first, *rest = text_of(name).splitlines()
        names = head.split(",")
        for column, values in columns.items():
            for value in values:
                cells = first.split(",")
                cells[names.index(column)] = '"' + value.replace('"', '""') + '"'
                yield f"{name} {column} {value!r}", with_text(name, "\n".join([head, ",".join(cells), *rest]))
        wide = "\n".join([",".join(f"c{n}" for n in range(100)), ",".join("1" * 100)])
        yield f"{name} of a hundred columns", with_text(name, wide)
        yield f"{name} with a column twice", with_text(name, "\n".join([f"{head},{names[0]}", first + ",1", *rest]))
        yield f"{name} with a row too long", with_text(name, "\n".join([head, first + ",1,2,3", *rest]))
        yield f"{name} with a quote left open", with_text(name, "\n".join([head, '"' + first, *rest]))
        yield f"{name} without its head", with_text(name, "\n".join([first, *rest]))


def twice() -> Iterator[tuple[str, Files]]:
    """Every table with an id written a second time, and an order line that stands twice."""
    for name in TOMLS:
        text = text_of(name)
        blocks = re.split(r"(?m)^(?=\[\[(?:press|person|film|garment|design)\]\])", text)
        for n, block in enumerate(blocks[1:], 1):
            yield f"{name}, table {n} twice", with_text(name, "".join([*blocks, "\n", block]))
    head, first, *rest = text_of("orders.csv").splitlines()
    cells = first.split(",")
    cells[head.split(",").index("line")] = "1"
    line = ",".join(cells)
    yield "an order line twice", with_text("orders.csv", "\n".join([head, line, line, *rest]))


def folders() -> dict[str, Files]:
    """All of them by what is wrong."""
    kinds: tuple[Callable[[], Iterator[tuple[str, Files]]], ...] = (
        truncated,
        wrong_values,
        misspelt,
        no_text,
        tables,
        twice,
    )
    return {what: files for kind in kinds for what, files in kind()}


ALL = folders()


def laid(folder: Path, files: Files) -> Path:
    """The files written to a folder."""
    folder.mkdir()
    for name, data in files.items():
        if data is None:
            (folder / name).mkdir()
        else:
            (folder / name).write_bytes(data)
    return folder


def refused(folder: Path) -> str:
    """What is wrong with one folder's refusal; nothing where it is as it should be."""
    before = sorted(path.name for path in folder.iterdir())
    done = CliRunner().invoke(app, ["plan", str(folder), "--effort", "quick"])
    said = done.stderr
    if done.exit_code != 1:
        return f"exit {done.exit_code}: {said[:200]} {done.exception!r}"
    if "Traceback" in said or not isinstance(done.exception, SystemExit):
        return f"not said in words: {said[:200]} {done.exception!r}"
    if not re.search(r"(shop|catalog|designs)\.toml|(orders|names)\.(csv|xlsx)", said):
        return f"no place: {said[:200]}"
    if any(not ch.isprintable() and ch != "\n" for ch in said):
        return f"not fit for a terminal: {said[:200]!r}"
    after = sorted(path.name for path in folder.iterdir() if path.name != LOCK)  # which stays (output/lock.py)
    return "" if after == before else f"left behind: {after}"


def test_there_are_hundreds_of_malformed_folders() -> None:
    """Three hundred at least, each another."""
    assert len(ALL) >= LEAST
    assert len({tuple(sorted(files.items(), key=lambda f: f[0])) for files in ALL.values()}) >= LEAST


def test_the_folder_they_are_made_from_is_sound(tmp_path: Path) -> None:
    """Without a fault it is read; so what is refused is refused for its fault."""
    assert CliRunner().invoke(app, ["check", str(laid(tmp_path / "day", SOUND))]).exit_code == 0


def test_every_malformed_folder_is_refused(tmp_path: Path) -> None:
    """Exit 1, a file's name and a reason, no traceback, nothing written, whatever is wrong."""
    wrong = {}
    for n, (what, files) in enumerate(ALL.items()):
        fault = refused(laid(tmp_path / str(n), files))
        if fault:
            wrong[what] = fault
    assert wrong == {}


def test_a_folder_nobody_may_read(tmp_path: Path) -> None:
    """A file without permission is told by its name; where everybody may read everything, it is read."""
    folder = laid(tmp_path / "day", SOUND)
    (folder / "shop.toml").chmod(0)
    try:
        (folder / "shop.toml").read_bytes()
    except PermissionError:
        assert refused(folder) == ""
    else:
        pytest.skip("this user may read every file")
    finally:
        (folder / "shop.toml").chmod(0o600)


HUGE = {
    "brackets a hundred thousand deep": lambda: with_text("shop.toml", "a = " + "[" * 100_000),
    "tables ten thousand deep": lambda: with_text("shop.toml", "[" + ".".join("a" * 10_000) + "]"),
    "a line of twenty million letters": lambda: with_text("catalog.toml", 'name = "' + "x" * 20_000_000 + '"'),
    "a table of a million rows of nothing": lambda: with_text(
        "orders.csv", text_of("orders.csv") + ",,,\n" * 1_000_000
    ),
    "one cell of twenty million letters": lambda: with_text("orders.csv", text_of("orders.csv") + "x" * 20_000_000),
    "a number of a million digits": lambda: with_text("shop.toml", "start = " + "9" * 1_000_000),
}


@pytest.mark.parametrize("what", HUGE)
def test_huge_files_are_refused_within_memory(what: str, tmp_path: Path) -> None:
    """A process that may have one gigabyte of data says what is wrong, and does not die of it."""
    folder = laid(tmp_path / "day", HUGE[what]())
    giga = 1_000_000_000
    done = subprocess.run(
        [sys.executable, "-c", "from scheduler.cli import main; main()", "check", str(folder)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=120,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_DATA, (giga, giga)),
    )
    assert done.returncode == 1, done.stderr[-500:]
    assert "Traceback" not in done.stderr
    assert re.search(r"(shop|catalog)\.toml|orders\.csv", done.stderr)
    assert len(done.stderr) < 100_000
