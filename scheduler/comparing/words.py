"""A comparison in words and as JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from datetime import datetime
from typing import Any

from scheduler.comparing.figures import Figures, Outcome, Share
from scheduler.comparing.limits import RULE
from scheduler.comparing.run import HABIT
from scheduler.output.cautions import SHORT_CAUTION
from scheduler.output.layout import counted, lasting, number, on_the_minute, tabled, wrapped

HEADS = ("", "done", "late min", "changes", "peel wait", "limits")
_WIDTH = 80


def comparison_text(outcomes: Sequence[Outcome], effort: str, width: int = _WIDTH) -> str:
    """The comparison as plain lines of at most `width` columns (80 at least)."""
    width = max(80, width)
    rows = [HEADS, *(_cells(outcome, outcomes) for outcome in outcomes)]
    lines = list(tabled(rows, width, range(1, len(HEADS) - 1)))
    for text in _said(outcomes, effort):
        indent = len(text) - len(text.lstrip())
        lines += wrapped(text.strip(), width, indent + 2, " " * indent) if text else [""]
    return "".join(f"{line}\n" for line in lines)


def _cells(outcome: Outcome, outcomes: Sequence[Outcome]) -> tuple[str, ...]:
    f = outcome.figures
    if f is None:
        return (outcome.name, "no plan", "", "", "", "")
    return (
        outcome.name,
        moment_words(f.finish, outcomes),
        number(f.late_min),
        f"{f.changes} ({number(f.change_min)} min)",
        f"{number(f.peel_wait_min)} min",
        f.limit.limits or "no one thing",
    )


def moment_words(at: datetime, outcomes: Sequence[Outcome]) -> str:
    """The time of day, up to the minute, with its date where the plans don't all end on one."""
    at = on_the_minute(at, up=True)
    dates = {outcome.figures.finish.date() for outcome in outcomes if outcome.figures}
    return f"{at:%H:%M}" if len(dates) == 1 else f"{at:%a} {at.day} {at:%b} {at:%H:%M}"


def _said(outcomes: Sequence[Outcome], effort: str) -> Iterator[str]:
    base = outcomes[0].figures
    for outcome in outcomes:
        yield ""
        yield f"{outcome.name}: {outcome.words}"
        if outcome.figures is None:
            yield from (f"  No plan: {reason}" for reason in outcome.reasons)
            continue
        if outcome is not outcomes[0] and base is not None:
            yield f"  {difference(outcome, base)}"
        yield f"  Busy until the last piece: {shares(outcome.figures)}."
        yield f"  {limit_words(outcome.figures)}"
        if outcome is outcomes[0]:
            yield from (f"  {said}" for said in outcome.figures.balance)
    yield ""
    yield RULE
    yield f"Each was planned with effort {effort}; small differences may be the search's. {SHORT_CAUTION}"


def difference(outcome: Outcome, base: Figures) -> str:
    """What is other than in the day as it is, in one sentence."""
    f = outcome.figures
    assert f is not None
    if outcome.as_before:
        return "No better plan was found than the day's as it is, which can be kept to here."
    parts = [
        _more(f.finish_min - base.finish_min, "the last piece is done {} of working time", "earlier", "later"),
        _more(f.late_min - base.late_min, "{} of lateness", "less", "more"),
        _count(f.changes - base.changes, "change of setting", "changes of setting"),
        _more(f.peel_wait_min - base.peel_wait_min, "{} of waiting for peels", "less", "more"),
    ]
    said = [part for part in parts if part]
    whole = f"Beside the day as it is: {', '.join(said)}." if said else "Nothing is other than in the day as it is."
    return f"{whole} {saving(f, base)}" if outcome.name == HABIT else whole


def saving(habit: Figures, base: Figures) -> str:
    """What planning saves beside the shop's habit, in minutes."""
    late, finish = habit.late_min - base.late_min, habit.finish_min - base.finish_min
    changes = habit.change_min - base.change_min
    parts = []
    if finish >= 1:
        parts.append(f"{number(finish)} min of the day")
    if late >= 1:
        parts.append(f"{number(late)} min of lateness")
    if changes >= 1:
        parts.append(f"{number(changes)} min of changing settings")
    return f"Planning saves {', '.join(parts)}." if parts else "Planning saves nothing here."


def _more(value: float, form: str, less: str, more: str) -> str:
    if abs(value) < 0.5:
        return ""
    return form.format(f"{lasting(60 * abs(round(value)))} {less if value < 0 else more}")


def _count(value: int, one: str, many: str) -> str:
    return f"{counted(abs(value), one, many)} {'fewer' if value < 0 else 'more'}" if value else ""


def shares(figures: Figures) -> str:
    """Each press's and person's busy share: window 81 %, ada 92 %."""
    return ", ".join(f"{one.id} {100 * one.share:.0f} %" for one in (*figures.presses, *figures.people))


def limit_words(figures: Figures) -> str:
    """What limits this day, and how much easing it would bring."""
    limit = figures.limit
    if not limit.limits:
        return "No one thing limits it: easing any of presses, hands, heat, cooling or blanks alone brings nothing."
    eased = ", ".join(f"{what} {number(gain)}" for what, gain in limit.eased_min.items() if gain >= 1)
    return f"Limited by {limit.limits}. Minutes that easing each alone could bring at most: {eased}."


def comparison_json(outcomes: Sequence[Outcome], effort: str) -> dict[str, Any]:
    """The comparison for --json; minutes, shares from 0 to 1."""
    return {"effort": effort, "rule": RULE, "variants": [outcome_json(outcome) for outcome in outcomes]}


def outcome_json(outcome: Outcome) -> dict[str, Any]:
    """One variant."""
    f = outcome.figures
    found: dict[str, Any] = {"name": outcome.name, "words": outcome.words, "planned": f is not None}
    if f is None:
        return found | {"reasons": list(outcome.reasons)}
    figures = asdict(f) | {"finish": f.finish.isoformat()}
    figures |= {"presses": [_share(one) for one in f.presses], "people": [_share(one) for one in f.people]}
    return found | {"as_before": outcome.as_before} | figures


def _share(one: Share) -> dict[str, Any]:
    return asdict(one)
