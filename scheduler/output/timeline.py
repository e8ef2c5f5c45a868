"""The day as pictures: one HTML file that holds all it needs and asks no network for anything."""

from __future__ import annotations

import json
from collections.abc import Sequence
from html import escape
from importlib.resources import files
from typing import Any

from models.day import Day
from models.plan import Plan, Row
from scheduler.output.layout import counted, on_the_minute
from scheduler.output.likely_words import likely_table
from scheduler.output.page_changes import changes_section
from scheduler.output.page_chart import chart_data, temperatures
from scheduler.output.page_colour import heat, ink_on
from scheduler.output.page_library import drawing_library
from scheduler.output.page_names import names_section
from scheduler.output.page_tables import (
    busy_table,
    campaign_table,
    caution_list,
    finish_table,
    first_words,
    fold,
    goal_words,
    lateness,
    run_table,
    warning_list,
)
from scheduler.output.page_whatif import what_if_section

# Nothing may leave the page, whatever a name in it says.
_POLICY = "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data: blob:"


def timeline_page(day: Day, plan: Plan, rows: Sequence[Row]) -> str:
    """The plan as a self-contained HTML page: pictures by date, finishes, goals, campaigns, warnings, cautions."""
    data = chart_data(day, plan, rows)
    name = day.shop.name or "The shop"
    title = f"{name}: plan from {plan.start:%Y-%m-%d}"
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{_POLICY}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{escape(title)}</title>
<style>{_resource("common.css")}{_resource("page.css")}</style>
</head>
<body>
<header>
<h1>{escape(name)}</h1>
<p class="when">{escape(_when(plan))}</p>
<p class="verdict{" late" if plan.goals.late_min else ""}">{escape(_verdict(plan))}</p>
{first_words(plan)}
</header>
<main>
{changes_section(plan)}
<section aria-labelledby="h-orders"><h2 id="h-orders">Orders</h2>
<div class="pair">
{fold(f"When each of the {counted(len(plan.orders), 'order')} is done", finish_table(plan))}
{fold("When they are likely to be done", likely_table(plan))}
</div>
</section>
<section aria-labelledby="h-pictures" id="pictures"><h2 id="h-pictures">The presses by time</h2>
{_legend(day, rows)}
<noscript><p>The pictures need JavaScript; the tables hold the same plan.</p></noscript>
{_pictures(data)}
<details><summary>The same work as a table</summary>
{run_table(day, rows)}
</details>
</section>
{names_section(day, rows)}
<section aria-labelledby="h-goals"><h2 id="h-goals">How good the plan is</h2>
{"".join(f"<p>{escape(said)}</p>" for said in goal_words(day, plan.goals, plan.status, plan))}
</section>
{what_if_section(plan)}
<div class="pair even">
<section aria-labelledby="h-campaigns"><h2 id="h-campaigns">Settings</h2>
{campaign_table(day, plan)}
</section>
<section aria-labelledby="h-busy"><h2 id="h-busy">Presses and people</h2>
{busy_table(plan)}
</section>
</div>
</main>
<div class="end">
<section aria-labelledby="h-warnings"><h2 id="h-warnings">Warnings</h2>
{warning_list(plan)}
</section>
<footer><h2>Before anyone presses</h2>
{caution_list()}
<p class="made">{escape(_made(plan))}</p>
</footer>
</div>
<script type="application/json" id="data">{_json(data)}</script>
<script>{_resource("page_tables.js")}</script>
<script>{drawing_library()}</script>
<script>{_program()}</script>
</body>
</html>
"""


def _resource(name: str) -> str:
    return files("scheduler.output").joinpath(name).read_text(encoding="utf-8")


def _program() -> str:
    """The page's own program: its parts in one block, so that they share names and nothing leaks."""
    parts = "\n".join(_resource(f"page{name}.js") for name in ("_words", "_ground", "_bars", "_marks", "_picture", ""))
    return f'"use strict";\n{{\n{parts}}}\n'


def _json(data: Any) -> str:
    """JSON that no name can break out of: < > & and the line separators stand as escapes."""
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return text


def _when(plan: Plan) -> str:
    start, finish = plan.start, on_the_minute(plan.finish, up=True)
    last = "" if start.date() == finish.date() else f"{finish:%A} {finish.day} {finish:%B}, "
    begin = f"{start:%A} {start.day} {start:%B %Y}, {start:%H:%M}"
    return f"Planned from {begin}. The last piece is done {last}{finish:%H:%M}."


def _verdict(plan: Plan) -> str:
    late = [order.late_min for order in plan.orders if order.late_min]
    pieces = sum(order.pieces for order in plan.orders)
    work = f"{counted(len(plan.orders), 'order')}, {counted(pieces, 'piece')}."
    if not late:
        return f"{work} Every promise holds."
    worst = f"the latest by {lateness(max(late))}" if len(late) > 1 else f"by {lateness(late[0])}"
    return f"{work} {counted(len(late), 'order')} late, {worst}."


def _legend(day: Day, rows: Sequence[Row]) -> str:
    coolest, hottest = temperatures(rows)
    found = sorted({row.temperature for row in rows if row.temperature is not None and row.loading is not None})
    keys = "".join(
        f'<li><span class="swatch" style="background:{fill};color:{ink_on(fill)}">'
        f"{degrees} °{escape(day.shop.units.temperature)}</span></li>"
        for degrees, fill in ((d, heat(d, coolest, hottest)) for d in found)
    )
    return (
        f'<ul class="legend" aria-label="Set-points, light is cool and dark is hot">{keys}'
        '<li><span class="swatch hatch" aria-hidden="true"></span>changing or warming up</li>'
        '<li><span class="swatch shut" aria-hidden="true"></span>closed, seen from near</li>'
        '<li><span class="duekey" aria-hidden="true"></span>due</li>'
        '<li><span class="duekey late" aria-hidden="true"></span>due, and late</li></ul>'
    )


def _pictures(data: Any) -> str:
    parts = []
    for number, one in enumerate(data["days"]):
        idle = f'<p class="idle">Without work on this day: {escape(one["idle"])}.</p>' if one["idle"] else ""
        parts.append(
            f'<figure class="picture" aria-labelledby="p{number}-title"><figcaption id="p{number}-title">'
            f'{escape(one["title"])}</figcaption><div class="tools" data-picture="{number}"></div>'
            f'<div class="plot" id="plot{number}" role="img" aria-label="Presses and people by time on '
            f'{escape(one["title"])}; the tables hold the same plan"></div>{idle}</figure>'
        )
    return "\n".join(parts)


def _made(plan: Plan) -> str:
    proven = "proven best" if plan.status == "optimal" else "feasible"
    return f"pressday {plan.version}, effort {plan.effort}, seed {plan.seed}, {proven}. Times are local, 24 hours."
