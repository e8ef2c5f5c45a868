"""compare.html: the variants beside each other, one self-contained page that asks no network for anything."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from importlib.resources import files

from models.day import Day
from scheduler.comparing.figures import Figures, Outcome
from scheduler.comparing.limits import RULE
from scheduler.comparing.words import difference, limit_words, moment_words, saving
from scheduler.output.page_tables import Cell, Line, caution_list, lateness, minutes, table

_POLICY = "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'"
_STYLE = """
.bars { list-style: none; padding: 0; max-width: 62rem; }
.bars li { display: grid; grid-template-columns: 12rem 1fr 11rem; gap: .2rem .8rem; padding: .25rem 0; }
.bars li > * { align-self: center; }
.bars .bar { height: 1.1rem; background: #8b8175; border: 1px solid #0003; }
.bars li.base .bar { background: var(--ink); }
.bars li.late .bar { background: repeating-linear-gradient(135deg, var(--late) 0 6px, #d98a8d 6px 9px); }
.bars li.late .said { color: var(--late); font-weight: 600; }
section > p { margin-top: .8rem; }
table { overflow-wrap: break-word; }
thead th { white-space: normal; }
#ways td:not(:last-child), #busy td { white-space: nowrap; }
h3 { font-size: 1.1rem; margin: 1.2rem 0 .3rem; }
@media (max-width: 700px) { .bars li { grid-template-columns: 1fr; } }
@media print { .bars .bar { -webkit-print-color-adjust: exact; print-color-adjust: exact; } }
"""


def compare_page(day: Day, outcomes: Sequence[Outcome], effort: str) -> str:
    """The page. `outcomes`: the day as it is first."""
    name = day.shop.name or "The shop"
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{_POLICY}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{escape(name)}: ways to run {day.start:%Y-%m-%d}</title>
<style>{_resource("common.css")}{_resource("page.css")}{_STYLE}</style>
</head>
<body>
<header>
<h1>{escape(name)}: what if</h1>
<p class="when">{day.start:%A} {day.start.day} {day.start:%B %Y}, each way planned with effort {escape(effort)}.</p>
<p class="verdict">{escape(_verdict(outcomes))}</p>
</header>
<main>
<section aria-labelledby="h-ends"><h2 id="h-ends">When the last piece is done</h2>
{_bars(outcomes)}
</section>
<section aria-labelledby="h-ways"><h2 id="h-ways">Side by side</h2>
{ways_table(outcomes)}
</section>
<section aria-labelledby="h-busy"><h2 id="h-busy">How busy presses and people are</h2>
{_busy_table(outcomes)}
</section>
<section aria-labelledby="h-limits"><h2 id="h-limits">What limits the day</h2>
{_limits_table(outcomes)}
<p>{escape(RULE)}</p>
</section>
<section aria-labelledby="h-balance"><h2 id="h-balance">How the work divides</h2>
{_balance(outcomes)}
</section>
</main>
<footer><h2>Before anyone presses</h2>
{caution_list()}
<p class="made">Small differences may be the search's. Times are local, 24 hours.</p>
</footer>
<script>{_resource("page_tables.js")}</script>
</body>
</html>
"""


def ways_table(outcomes: Sequence[Outcome]) -> str:
    """Every variant with its figures and what is other than in the day as it is."""
    heads = ("Way", "Done", "Late", "Changes", "Changing", "Peel waits", "Limited by", "What is other")
    return table(
        "ways", "The day as it is first; minutes of working time", heads, [_way(o, outcomes) for o in outcomes]
    )


def _way(outcome: Outcome, outcomes: Sequence[Outcome]) -> Line:
    f, base = outcome.figures, outcomes[0].figures
    if f is None:
        reasons = " ".join(outcome.reasons)
        return Line((Cell(outcome.name), Cell("no plan", "9999"), *(Cell("", "") for _ in range(5)), Cell(reasons)))
    other = difference(outcome, base) if base is not None and outcome is not outcomes[0] else ""
    cells = (
        Cell(outcome.name),
        Cell(moment_words(f.finish, outcomes), f.finish.isoformat()),
        Cell(lateness(f.late_min) if f.late_min else "none", f.late_min),
        Cell(str(f.changes), f.changes),
        Cell(minutes(f.change_min), f.change_min),
        Cell(minutes(f.peel_wait_min), f.peel_wait_min),
        Cell(f.limit.limits or "no one thing"),
        Cell(f"{outcome.words}. {other}" if other else outcome.words),
    )
    worse = base is not None and f.late_min > base.late_min + 0.5
    return Line(cells, "late" if worse else "")


def _bars(outcomes: Sequence[Outcome]) -> str:
    longest = max((o.figures.finish_min for o in outcomes if o.figures), default=1.0) or 1.0
    items = []
    for number, outcome in enumerate(outcomes):
        f = outcome.figures
        if f is None:
            items.append(f'<li><span>{escape(outcome.name)}</span><span>no plan</span><span class="said"></span></li>')
            continue
        kind = " ".join(word for word, on in (("base", number == 0), ("late", bool(f.late_min))) if on)
        late = f", late {lateness(f.late_min)}" if f.late_min else ""
        said = f"{moment_words(f.finish, outcomes)}{late}"
        width = max(0.5, 100 * f.finish_min / longest)
        items.append(
            f'<li class="{kind}"><span>{escape(outcome.name)}</span>'
            f'<span class="bar" style="width:{width:.1f}%"></span><span class="said">{escape(said)}</span></li>'
        )
    return f'<ul class="bars" aria-label="Working time until the last piece, by way">{"".join(items)}</ul>'


def _busy_table(outcomes: Sequence[Outcome]) -> str:
    planned = [(o.name, o.figures) for o in outcomes if o.figures]
    ids = list(dict.fromkeys(one.id for _, f in planned for one in (*f.presses, *f.people)))
    lines = []
    for name in ids:
        cells = [Cell(name)]
        for _, f in planned:
            one = next((one for one in (*f.presses, *f.people) if one.id == name), None)
            cells.append(Cell("", "") if one is None else Cell(f"{100 * one.share:.0f} %", one.share))
        lines.append(Line(tuple(cells)))
    caption = "Busy share of the working time until the last piece"
    return table("busy", caption, ("Who or what", *(name for name, _ in planned)), lines)


def _limits_table(outcomes: Sequence[Outcome]) -> str:
    planned = [(o.name, o.figures) for o in outcomes if o.figures]
    heads = ("Way", "Limited by", *(f"{what} eased" for what in ("Presses", "Hands", "Heat", "Cooling", "Blanks")))
    lines = [
        Line(
            (
                Cell(name),
                Cell(f.limit.limits or "no one thing"),
                *(Cell(minutes(gain) if gain >= 1 else "", gain) for gain in f.limit.eased_min.values()),
            )
        )
        for name, f in planned
    ]
    return table("limits", "Minutes that easing each alone could bring at most", heads, lines)


def _balance(outcomes: Sequence[Outcome]) -> str:
    parts = [
        f"<h3>{escape(o.name)}</h3>" + "".join(f"<p>{escape(said)}</p>" for said in o.figures.balance)
        for o in outcomes
        if o.figures and o.figures.balance
    ]
    return "".join(parts) or "<p>There is one press.</p>"


def _verdict(outcomes: Sequence[Outcome]) -> str:
    base: Figures | None = outcomes[0].figures
    if base is None:
        return "The day as it is has no plan."
    habit = next((o.figures for o in outcomes[1:] if o.name == "by habit" and o.figures), None)
    saved = f" {saving(habit, base)}" if habit else ""
    return f"As it is, the last piece is done {moment_words(base.finish, outcomes)}. {limit_words(base)}{saved}"


def _resource(name: str) -> str:
    return files("scheduler.output").joinpath(name).read_text(encoding="utf-8")
