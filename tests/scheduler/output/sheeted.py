"""Sheets of real plans, and what stands in their table rows."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import cache
from html.parser import HTMLParser

from scheduler.breakdown import break_down
from scheduler.output.sheets import sheets
from scheduler.output.sheets_facts import Work
from tests.scheduler.output.planned import planned


@cache
def work(name: str) -> Work:
    """A scenario's quick plan as the sheets see it."""
    made = planned(name)
    return Work(made.day, made.plan, made.rows, break_down(made.day))


@cache
def pages(name: str) -> dict[str, str]:
    """A scenario's sheets."""
    return sheets(work(name))


@dataclass
class Line:
    """A table row of a sheet: its class, its data- attributes and its text with blanks made single."""

    style: str
    data: dict[str, str]
    text: str = ""

    @property
    def loadings(self) -> list[int]:
        """The loadings the row stands for."""
        return [int(number) for number in self.data.get("data-loadings", "").split()]


@dataclass
class _Reader(HTMLParser):
    lines: list[Line] = field(default_factory=list)
    inside: bool = False

    def __post_init__(self) -> None:
        super().__init__()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "tr":
            known = {key: value or "" for key, value in attrs}
            self.lines.append(Line(known.get("class", ""), known))
            self.inside = True

    def handle_endtag(self, tag: str) -> None:
        if tag == "tr":
            self.inside = False
            self.lines[-1].text = re.sub(r"\s+", " ", self.lines[-1].text).strip()
        elif self.inside and tag in ("p", "td", "th", "b", "li", "span", "i"):
            self.lines[-1].text += " "

    def handle_data(self, data: str) -> None:
        if self.inside:
            self.lines[-1].text += data


def lines(page: str, style: str = "") -> list[Line]:
    """The table rows of a sheet, or those of one class, from top to bottom."""
    reader = _Reader()
    reader.feed(page)
    return [line for line in reader.lines if not style or style in line.style.split()]
