"""The plan in words."""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys
from datetime import datetime, timedelta

import pytest

from models.plan import Plan
from scheduler.output import terminal
from scheduler.output.cautions import CAUTIONS
from scheduler.output.layout import columns
from scheduler.output.runs import runs_of
from scheduler.output.terminal import plan_json, plan_text, print_plan
from tests.scheduler.output.planned import NAMES, ROOT, finish, planned, with_orders


def _words(text: str) -> str:
    """The text as one line, however it was wrapped."""
    return " ".join(text.split())


class _Stream(io.TextIOWrapper):
    def __init__(self, terminal: bool, encoding: str = "utf-8") -> None:
        super().__init__(io.BytesIO(), encoding=encoding, newline="")
        self.terminal = terminal

    def isatty(self) -> bool:
        return self.terminal

    @property
    def text(self) -> str:
        self.flush()
        assert isinstance(self.buffer, io.BytesIO)
        return self.buffer.getvalue().decode(self.encoding)


def _printed(monkeypatch: pytest.MonkeyPatch, stream: _Stream, json: bool = False, plan: Plan | None = None) -> str:
    made = planned("celsius-studio")
    monkeypatch.setattr(sys, "stdout", stream)
    print_plan(made.day, plan or made.plan, made.rows, json)
    return stream.text


@pytest.mark.parametrize("name", NAMES)
def test_everything_stands_in_it(name: str) -> None:
    """Every press, person, order, run, setting and caution of a real plan is in its text."""
    made = planned(name)
    text = _words(plan_text(made.day, made.plan, made.rows))
    for press in made.day.presses:
        assert f"Press {press}: busy" in text
    for person in made.day.people:
        assert f"{person}: busy" in text
    for run in runs_of(made.rows):
        end = run.end + timedelta(seconds=-run.end.second % 60)  # a begun minute counts whole, as on page and sheets
        assert f"{run.start:%H:%M}-{end:%H:%M} {run.order} line {run.line} {run.placement}, " in text
    unit = made.day.shop.units.temperature
    for change in (r for r in made.rows if r.what == "change"):
        assert f"{change.start:%H:%M} >>> " in text and f"to {change.temperature} °{unit} {change.pressure}, " in text
    for order in made.plan.orders:
        assert re.search(rf" {re.escape(order.order)} .*?{order.pieces} pieces, done ", text)
    for sentence in CAUTIONS + made.plan.warnings:
        assert sentence in text
    assert f"{sum(o.pieces for o in made.plan.orders)} pieces in {len(made.plan.orders)} orders" in text


@pytest.mark.parametrize("width", [80, 100, 133])
@pytest.mark.parametrize("name", NAMES)
def test_no_line_is_too_long(name: str, width: int) -> None:
    """No line is wider than it may be, nor ends in blanks."""
    made = planned(name)
    lines = plan_text(made.day, made.plan, made.rows, width).splitlines()
    assert all(columns(line) <= width and line == line.rstrip() for line in lines)


def test_eighty_columns_hold_with_long_names() -> None:
    """Names as long as the models allow, wide characters and what a terminal would obey break no line."""
    made = planned("two-presses")
    long, wide = "x" * 80, "漢字" * 40
    plan = with_orders(
        made.plan,
        [finish(long, wide, -3), finish(wide, "\x1b[31mred\x1b[0m\r\n\u202eabc"), finish("G1", "é" * 200, 5)],
    )
    plan = plan.model_copy(update={"warnings": (wide * 5, "w" * 300)})
    rows = [row.__class__(**{**_fields(row), "order": long, "placement": wide}) for row in made.rows]
    text = plan_text(made.day, plan, rows)
    assert max(map(columns, text.splitlines())) <= 80
    assert "\x1b" not in text and "\u202e" not in text and "\r" not in text
    assert long in text.replace("\n", "").replace(" ", "")
    assert text.count("é") == 200, "a customer's name was cut"


def _fields(row: object) -> dict[str, object]:
    return {name: getattr(row, name) for name in row.__dataclass_fields__}  # type: ignore[attr-defined]


def test_late_orders_come_first_and_loud() -> None:
    """Late orders stand before all others, the latest first, shouted; a late minute begun counts, a spare one not."""
    made = planned("celsius-studio")
    orders = [finish("A1", slack_min=30.9), finish("A2", slack_min=-12), finish("A3"), finish("A4", slack_min=-75.2)]
    text = plan_text(made.day, with_orders(made.plan, orders), made.rows)
    lines = text.split("Orders\n")[1].splitlines()[:4]
    assert [re.split("  +", line.strip())[:2] for line in lines] == [
        ["LATE by 76 min", "A4"],
        ["LATE by 12 min", "A2"],
        ["30 min to spare", "A1"],
        ["no due time", "A3"],
    ]
    assert "LATE: 2 of 4 orders." in text and "Nothing is late" not in text
    calm = plan_text(made.day, with_orders(made.plan, orders[:1]), made.rows)
    assert "Nothing is late." in calm and "LATE" not in calm


def test_done_is_never_told_too_early() -> None:
    """An order done within a minute is told as done at its end."""
    made = planned("celsius-studio")
    start = made.plan.start
    order = finish("A1", finish=start + timedelta(minutes=90, seconds=1), due=start + timedelta(minutes=95))
    assert "done 09:31, due 09:35" in plan_text(made.day, with_orders(made.plan, [order]), made.rows)


def test_settings_stand_out() -> None:
    """The day's first setting is its warm-up, later ones are changes with the time they take."""
    made = planned("celsius-studio")
    text = plan_text(made.day, made.plan, made.rows)
    changes = [line for line in text.splitlines() if ">>>" in line]
    warm = [line for line in changes if "warm up to" in line]
    assert len(warm) == len(made.day.presses)
    assert len(changes) - len(warm) == made.plan.goals.changes
    assert re.search(r"  \d\d:\d\d  >>>   to \d+ °C \w+, \d+ (min|s)", text)


def test_each_day_has_its_date_and_warm_up() -> None:
    """A plan over more than one day tells the date of each, and each begins with a warm-up."""
    made = planned("fair-weekend")
    text = plan_text(made.day, made.plan, made.rows)
    assert "\n  Sat 12 Dec 2026\n" in text and "\n  Sun 13 Dec 2026\n" in text
    mornings = {(row.press, row.start.date()) for row in made.rows if row.what == "change"}
    assert len(mornings) > 2 and len(re.findall(r"Dec 2026\n  \d\d:\d\d  >>>   warm up to", text)) == len(mornings)
    assert re.search(r"done Sun 13 Dec \d\d:\d\d, due Sun 13 Dec", _words(text))


@pytest.mark.parametrize(
    ("late", "late_bound", "words"),
    [
        (0.0, 0.0, "Late minutes: none."),
        (12.0, 12.0, "Late minutes, times priority: 12. Proven: no plan has fewer."),
        (12.0, 4.5, "12. No plan could have fewer than 4.5; whether one comes nearer is not known."),
        (12.0, 0.0, "12. Whether a plan with fewer exists is not known."),
    ],
)
def test_the_late_bound_in_plain_words(late: float, late_bound: float, words: str) -> None:
    """What is proven of the late minutes is said, and no more."""
    made = planned("celsius-studio")
    goals = made.plan.goals.model_copy(update={"late_min": late, "late_bound": late_bound})
    assert words in _words(plan_text(made.day, made.plan.model_copy(update={"goals": goals}), made.rows))


@pytest.mark.parametrize(
    ("bound", "gap", "words"),
    [
        (
            97.0,
            0.03,
            "could do better than 97: at most 3.0 % of this plan's could still be saved",
        ),
        (100.0, 0.0, "could do better in this."),
    ],
)
def test_the_work_bound_in_plain_words(bound: float, gap: float, words: str) -> None:
    """The bound of time and trouble is told with the share of this plan's that could still be saved at most."""
    made = planned("celsius-studio")
    goals = made.plan.goals.model_copy(update={"work_min": 100.0, "work_bound": bound, "gap": gap})
    text = _words(plan_text(made.day, made.plan.model_copy(update={"goals": goals}), made.rows))
    weights = made.day.shop.goals
    assert f"No plan that is no later than this one {words}" in text
    assert (
        f"Time and trouble: 100 ({weights.finish:g} for each minute to the last piece, {weights.change:g} for" in text
    )


def test_optimal_is_said_only_where_proven() -> None:
    """Only a plan proven optimal is called so."""
    made = planned("celsius-studio")
    proven = made.plan.model_copy(update={"status": "optimal"})
    assert "no plan does better by the goals set" in plan_text(made.day, proven, made.rows)
    assert "no plan does better by the goals set" not in plan_text(made.day, made.plan, made.rows)


def test_busy_share() -> None:
    """A press busy for an hour of the four working hours until the last piece is busy for a quarter of them."""
    made = planned("celsius-studio")  # opens at eight
    press = made.plan.presses[0].model_copy(update={"busy_min": 60.0})
    plan = made.plan.model_copy(update={"presses": (press,), "finish": datetime(2026, 12, 16, 12)})
    assert f"Press {press.id}: busy 25 % of the working time" in plan_text(made.day, plan, made.rows)


def test_piped_text_is_plain(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where output is piped the plain text is printed, without a single escape."""
    made = planned("celsius-studio")
    assert _printed(monkeypatch, _Stream(False)) == plan_text(made.day, made.plan, made.rows)


def test_a_terminal_gets_the_same_words_in_colour(monkeypatch: pytest.MonkeyPatch) -> None:
    """On a terminal the same lines are printed, in colour unless NO_COLOR is set."""
    made = planned("celsius-studio")
    monkeypatch.setattr(terminal, "_width", lambda: 80)
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("NO_COLOR", raising=False)
    plan, a_colour = with_orders(made.plan, [finish("G1", slack_min=-12)]), r"\x1b\[[\d;]*(3[0-7]|4[0-7])[;m]"
    shown = _printed(monkeypatch, _Stream(True), plan=plan)
    assert re.search(f"{a_colour}  LATE by 12 min", shown)
    assert re.sub(r"\x1b\[[\d;]*m", "", shown) == plan_text(made.day, plan, made.rows)
    monkeypatch.setenv("NO_COLOR", "1")
    assert not re.search(a_colour, _printed(monkeypatch, _Stream(True), plan=plan))


def test_names_are_no_markup(monkeypatch: pytest.MonkeyPatch) -> None:
    """A customer called like a colour or a smiley is printed as written."""
    made = planned("celsius-studio")
    monkeypatch.setattr(terminal, "_width", lambda: 80)
    monkeypatch.setenv("TERM", "xterm-256color")
    plan = with_orders(made.plan, [finish("G1", "[red]x[/red] :smile:")])
    assert "[red]x[/red] :smile:" in _printed(monkeypatch, _Stream(True), plan=plan)


def test_json_is_the_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    """With json the plan's own file is printed and nothing else."""
    assert _printed(monkeypatch, _Stream(True), json=True) == plan_json(planned("celsius-studio").plan)


@pytest.mark.parametrize("json_too", [False, True])
@pytest.mark.parametrize("tty", [False, True])
def test_any_encoding_will_do(json_too: bool, tty: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """A stream that knows ASCII alone gets all it can take; JSON loses nothing."""
    made = planned("celsius-studio")
    plan = with_orders(made.plan, [finish("G1", "Ærø")])
    text = _printed(monkeypatch, _Stream(tty, "ascii"), json_too, plan)
    if json_too:
        assert json.loads(text)["orders"][0]["customer"] == "Ærø"
    else:
        assert "?r?" in text and re.search(r"to \d+ \?C ", text)


def test_rich_is_loaded_only_for_a_terminal() -> None:
    """Neither importing the terminal's module nor printing plain text loads rich, the solver or a data frame."""
    code = (
        "import sys, scheduler.output.terminal; "
        "print(sorted({'rich', 'ortools', 'pandas', 'plotly', 'shapely', 'openpyxl'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert (done.stdout.strip(), done.stderr) == ("[]", "")
