"""Sheets for paper and tablet: one file a press, a person and an order, and an index; each works without a network."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from importlib.resources import files
from typing import Literal

from models.plan import Finish
from scheduler.output.cautions import SHORT_CAUTION
from scheduler.output.layout import counted, date_words
from scheduler.output.page_tables import caution_list, warning_list
from scheduler.output.sheets_facts import Work
from scheduler.output.sheets_order import order_body
from scheduler.output.sheets_person import person_body
from scheduler.output.sheets_press import press_body
from scheduler.output.sheets_words import moment, promise, slugs

Paper = Literal["a4", "letter"]
INDEX = "index.html"
_PAGE: dict[Paper, str] = {"a4": "A4", "letter": "letter"}  # CSS Paged Media's words: ISO 216 A4, US letter
_POLICY = "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'"


def sheets(work: Work, paper: Paper = "a4") -> dict[str, str]:
    """File name -> page, for every press and person that works and every order of the plan, and the index."""
    day, plan = work.day, work.plan
    presses = slugs("press", _used([*day.presses, *(busy.id for busy in plan.presses)], (r.press for r in work.rows)))
    people = slugs("person", _used([*day.people, *(busy.id for busy in plan.people)], (r.person for r in work.rows)))
    orders = slugs("order", [order.order for order in plan.orders])
    foot, end = SHORT_CAUTION, f"<footer><h2>Before anyone presses</h2>{caution_list()}</footer>"
    made = {file: _page(work, paper, f"Press {p}", press_body(work, p, foot, end)) for p, file in presses.items()}
    made |= {file: _page(work, paper, who, person_body(work, who, foot, end)) for who, file in people.items()}
    for order in plan.orders:
        body = order_body(work, order, foot, end)
        made[orders[order.order]] = _page(work, paper, f"Order {order.order}", body)
    made[INDEX] = _page(work, paper, "Sheets", _index(work, presses, people, orders) + end, index=True)
    return made


def _used(known: Sequence[str], working: Iterable[str | None]) -> list[str]:
    """Every name once, in the shop's order, also one that only the timetable still has."""
    return list(dict.fromkeys([*known, *(name for name in working if name is not None)]))


def _page(work: Work, paper: Paper, title: str, body: str, index: bool = False) -> str:
    shop = work.day.shop.name or "The shop"
    plan = work.plan
    back = "" if index else f'<p class="back"><a href="{INDEX}">all sheets</a></p>'
    notes = "".join(f'<p class="note">{escape(note)}</p>' for note in work.notes)
    return f"""<!doctype html>
<html lang="en" data-plan="{work.mark}">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{_POLICY}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{escape(f"{title}, {shop}")}</title>
<style>@page {{ size: {_PAGE[paper]} portrait; margin: 11mm 10mm; }}
{_resource("common.css")}{_resource("sheets.css")}</style>
</head>
<body>
<header>{back}
<h1>{escape(title)}</h1>
<p class="when">{escape(f"{shop}, plan {work.mark} from {date_words(plan.start)} {plan.start:%H:%M}")}</p>
{notes}</header>
<main>
{body}
</main>
<script>{_resource("sheets.js")}</script>
</body>
</html>
"""


def _index(work: Work, presses: Mapping[str, str], people: Mapping[str, str], orders: Mapping[str, str]) -> str:
    return (
        f"<h2>Presses</h2>{_links(presses, {p: _runs_on(work, p) for p in presses})}"
        f"<h2>People</h2>{_links(people, {who: _presses_of(work, who) for who in people})}"
        f"<h2>Orders</h2>{_links(orders, {order.order: _order_words(work, order) for order in work.plan.orders})}"
        f"<h2>Warnings</h2>{warning_list(work.plan)}"
    )


def _links(targets: Mapping[str, str], words: Mapping[str, str]) -> str:
    items = (
        f'<li><a href="{file}">{escape(name)}</a> {escape(words.get(name, ""))}</li>' for name, file in targets.items()
    )
    return f'<ul class="links">{"".join(items)}</ul>'


def _runs_on(work: Work, press: str) -> str:
    count = sum(1 for run in work.runs if run.press == press)
    return counted(count, "run") if count else "nothing to do"


def _presses_of(work: Work, person: str) -> str:
    runs = [work.run_of(row.loading) for row in work.rows if row.person == person and row.loading is not None]
    presses = list(dict.fromkeys(run.press for run in runs))
    return f"at {', '.join(presses)}" if presses else "nothing to do"


def _order_words(work: Work, order: Finish) -> str:
    several = work.plan.start.date() != work.plan.finish.date()
    parts = (order.customer, counted(order.pieces, "piece"), f"done {moment(order.finish, several, up=True)}")
    return ", ".join(part for part in (*parts, promise(order)) if part)


def _resource(name: str) -> str:
    return files("scheduler.output").joinpath(name).read_text(encoding="utf-8")
