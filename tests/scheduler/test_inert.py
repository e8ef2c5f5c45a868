"""Texts made to run, as formulas in spreadsheets or as markup in pages, through the whole road: inert in every file.

Formulas: OWASP, "CSV injection". Markup: HTML Living Standard, 13.2 (parsed here by Python's own html.parser). What a
browser makes of it is in tests/browser.
"""

from __future__ import annotations

import csv
import itertools
import json
import shutil
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from tempfile import mkdtemp

from typer.testing import CliRunner

from scheduler.cli import app
from tests.scenarios.folders import SCENARIOS

WICKED = (
    '=HYPERLINK("http://x")',
    "+1+1",
    "-2+3",
    "@SUM(A1)",
    "=cmd|' /C calc'!A0",
    "<script>hit()</script>",
    "</script><img src=x onerror=hit()>",
    "</title><svg onload=hit()>",
    "\"' onmouseover=hit() x='",
    "</style><b>hit</b>",
    "<!-- hit",
    "]]><hit/>",
    "{{hit}} ${hit} %{hit}",
)
SIGNS = ("=", "+", "-", "@", "\t", "\r")


class Seen(HTMLParser):
    """What a page is made of: the names of its tags and attributes, and its texts."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.attributes: set[tuple[str, str]] = set()
        self.text: list[str] = []
        self.script = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes |= {(name, value or "") for name, value in attrs}
        self.script = tag == "script"

    def handle_endtag(self, tag: str) -> None:
        self.script = False

    def handle_data(self, data: str) -> None:
        if not self.script:
            self.text.append(data)


@cache
def written(texts: tuple[str, ...]) -> Path:
    """A planned folder with its sheets: each text the customer of an order of a piece; shop, kinds, fabrics too."""
    folder = Path(mkdtemp()) / "day"
    shutil.copytree(SCENARIOS / "two-presses", folder, ignore=shutil.ignore_patterns("plan", "sheets"))
    for name, key in (("shop.toml", "name"), ("catalog.toml", "kind"), ("catalog.toml", "fabric")):
        lines = (folder / name).read_text(encoding="utf-8").splitlines()
        of = itertools.cycle(map(json.dumps, texts))
        lines = [f"{key} = {next(of)}" if line.startswith(f"{key} =") else line for line in lines]
        (folder / name).write_text("\n".join(lines) + "\n", encoding="utf-8")
    with (folder / "orders.csv").open(encoding="utf-8", newline="") as stream:
        sample = next(csv.DictReader(stream))
    one = {"line": "1", "quantity": "1"}
    rows = [{**sample, **one, "order": f"{n}", "customer": text, "size": text} for n, text in enumerate(texts)]
    with (folder / "orders.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(sample))
        writer.writeheader()
        writer.writerows(rows)
    for words in (["plan", str(folder), "--effort", "quick"], ["sheets", str(folder)]):
        done = CliRunner().invoke(app, words)
        assert done.exit_code == 0, done.stderr
    return folder


def test_no_cell_of_a_plan_starts_a_formula() -> None:
    """In timetable.csv and finish.csv no cell but a number begins with a sign a spreadsheet acts on."""
    tables = list((written(WICKED) / "plan").glob("*.csv"))
    assert {path.name for path in tables} == {"timetable.csv", "finish.csv"}
    cells = []
    for path in tables:
        with path.open(encoding="utf-8", newline="") as stream:
            cells += [cell for row in csv.reader(stream, strict=True) for cell in row]
    for text in WICKED:
        assert any(text in cell for cell in cells)
    assert not [c for c in cells if c.startswith(SIGNS) and not c.lstrip("-").replace(".", "").isdigit()]


def test_no_page_or_sheet_takes_a_text_for_markup() -> None:
    """Every page has the same tags and attributes as with harmless texts, and the texts as they were typed."""
    folder, plain = written(WICKED), written(tuple(f"Plain and Sons {n}" for n in range(len(WICKED))))
    pages = [path.relative_to(folder) for path in sorted(folder.rglob("*.html"))]
    assert len(pages) > len(WICKED)
    said = ""
    for page in pages:
        one, other = Seen(), Seen()
        one.feed((folder / page).read_text(encoding="utf-8"))
        other.feed((plain / page).read_text(encoding="utf-8"))
        assert one.tags == other.tags
        assert {name for name, _ in one.attributes} == {name for name, _ in other.attributes}
        said += "".join(one.text)
    assert all(text in said for text in WICKED)


def named(texts: tuple[str, ...]) -> Path:
    """The personalised scenario, planned, with its sheets; every piece's name is one of these texts."""
    folder = Path(mkdtemp()) / "day"
    shutil.copytree(SCENARIOS / "team-shirts", folder, ignore=shutil.ignore_patterns("plan", "sheets"))
    with (folder / "names.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    with (folder / "names.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(rows[0]))
        writer.writeheader()
        writer.writerows({**row, "name": text} for row, text in zip(rows, itertools.cycle(texts), strict=False))
    for words in (["plan", str(folder), "--effort", "quick"], ["sheets", str(folder)]):
        done = CliRunner().invoke(app, words)
        assert done.exit_code == 0, done.stderr
    return folder


def test_names_on_shirts_are_inert_in_sheets() -> None:
    """What somebody wants on the back of a shirt stands in the sheets as it was written, and is no markup."""
    folder = named(WICKED)
    said = ""
    for page in sorted(folder.rglob("*.html")):
        seen = Seen()
        seen.feed(page.read_text(encoding="utf-8"))
        assert not seen.tags & {"hit", "img"}
        assert not {name for name, _ in seen.attributes if name.startswith("on")}
        said += "".join(seen.text)
    assert all(text in said for text in WICKED)
