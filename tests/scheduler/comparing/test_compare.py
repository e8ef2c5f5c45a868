"""`pressday compare` and what would help late orders, on real folders."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from typer.testing import CliRunner

from models.plan import WhatIf
from models.problem import BadInput
from scheduler.cli import app
from scheduler.comparing import changes as make
from scheduler.comparing import commands
from scheduler.comparing.changes import Variant, add_person, add_press, variants_of
from scheduler.comparing.commands import quiet
from scheduler.comparing.figures import Outcome, figures_of
from scheduler.comparing.late import helps
from scheduler.comparing.page import compare_page
from scheduler.comparing.run import Work, come_of, run
from scheduler.comparing.words import comparison_json, comparison_text, saving
from scheduler.intake import read_day, write_starter
from scheduler.output.layout import columns
from scheduler.output.page_whatif import what_if_section, what_if_text
from tests.scheduler.output.planned import ROOT, planned


def commanded(*words: str | Path) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of a command."""
    done = CliRunner().invoke(app, [str(word) for word in words])
    return done.exit_code, done.stdout, done.stderr


def copied(name: str, place: Path) -> Path:
    """A copy of a scenario without what was written into it."""
    return Path(
        shutil.copytree(ROOT / "scenarios" / name, place, ignore=shutil.ignore_patterns("plan*", ".*", "compare*"))
    )


@pytest.fixture(scope="module")
def answer(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, object], str]:
    """The mixed peels with one more person and without a press: the folder, the JSON and the page."""
    folder = copied("mixed-peels", tmp_path_factory.mktemp("compare") / "day")
    code, out, err = commanded(
        "compare",
        folder,
        "--add-person",
        "cy<i>",
        "--film-window",
        "foil-copper=600:610",
        "--effort",
        "quick",
        "--json",
    )
    assert code == 0, err
    return folder, json.loads(out), (folder / "compare.html").read_text(encoding="utf-8")


def named(answer: dict[str, object], name: str) -> dict[str, object]:
    """The variant of this name."""
    return next(one for one in answer["variants"] if one["name"] == name)  # type: ignore[attr-defined]


def test_more_hands_are_never_worse(answer: tuple[Path, dict[str, object], str]) -> None:
    """One more person makes neither the day nor what is proven of it worse: late no more, the work no more, and the
    bound no higher than the work of the day as it is."""
    base, more = named(answer[1], "as it is"), named(answer[1], "+ cy<i>")
    assert more["late_weighted"] <= base["late_weighted"]
    assert more["late_weighted"] < base["late_weighted"] or more["work_min"] <= base["work_min"]
    assert more["late_bound"] <= base["late_bound"] + 0.01
    assert more["work_bound"] <= base["work_min"]


def test_one_that_cannot_be_planned_says_why_and_stops_no_other(answer: tuple[Path, dict[str, object], str]) -> None:
    """A film too hot for every press leaves that variant without a plan, with the reason, and the others planned."""
    hot = next(one for one in answer[1]["variants"] if "foil-copper" in one["name"])  # type: ignore[attr-defined]
    assert not hot["planned"] and "foil-copper" in " ".join(hot["reasons"])
    assert named(answer[1], "as it is")["planned"] and named(answer[1], "by habit")["planned"]


def test_the_plan_is_left_alone(answer: tuple[Path, dict[str, object], str]) -> None:
    """A comparison writes its page and nothing else."""
    source = {path.name for path in (ROOT / "scenarios" / "mixed-peels").iterdir() if path.is_file()}
    assert {path.name for path in answer[0].iterdir()} == {p for p in source if p[0] != "."} | {"compare.html"}


def test_the_page_has_every_colour_it_draws_with(answer: tuple[Path, dict[str, object], str]) -> None:
    """No colour of the page is left undefined: for want of them bars were empty and late ones looked like the rest."""
    page = answer[2]
    used, given = set(re.findall(r"var\((--[a-z]+)\)", page)), set(re.findall(r"(--[a-z]+):", page))
    assert "--late" in used and used <= given


def test_the_page_is_whole_and_no_name_breaks_out(answer: tuple[Path, dict[str, object], str]) -> None:
    """The page asks no network for anything, holds every variant and the cautions, and escapes what people typed."""
    page = answer[2]
    assert "default-src 'none'" in page and "http" not in page.replace("http-equiv", "")
    assert "cy&lt;i&gt;" in page and "cy<i>" not in page
    assert "gloves" in page and "by habit" in page


def test_a_wrong_option_is_refused_before_anything_is_planned(tmp_path: Path) -> None:
    """A press nobody knows is exit code 1 with the option's name, and no page is written."""
    folder = copied("mixed-peels", tmp_path / "day")
    code, _, err = commanded("compare", folder, "--without", "nowhere", "--pace", "edda=x")
    assert code == 1 and "--pace edda=x" in err and not (folder / "compare.html").exists()
    code, _, err = commanded("compare", folder, "--without", "nowhere")
    assert code == 1 and "--without nowhere" in err


def test_words_keep_to_eighty_columns() -> None:
    """At a width of 80 no line is wider, whatever the variants are called, and the caution stands below."""
    made = planned("team-shirts")
    figures = figures_of(made.day, made.plan, made.rows)
    outcomes = [Outcome("as it is", "the folder", figures), Outcome("w" * 60, "x" * 200, figures)]
    text = comparison_text([*outcomes, Outcome("none", "nothing", None, ("because " * 30,))], "quick", 80)
    assert max(map(columns, text.splitlines())) <= 80
    assert "Platens and fresh work burn" in text


def test_a_worse_plan_gives_way_to_one_that_holds() -> None:
    """Where searching the variant came out worse, the plan of the day as it is stands for it if it keeps its rules."""
    made = planned("team-shirts")
    shop = made.day.shop
    more = shop.model_copy(update={"person": (*shop.person, shop.person[0].model_copy(update={"id": "more"}))})
    base = Variant("as it is", "", made.day)
    slow = made.plan.goals.model_copy(update={"work_min": made.plan.goals.work_min / 2})
    known = replace(made, plan=made.plan.model_copy(update={"goals": slow}))
    outcome = run([base, Variant("more", "", replace(made.day, shop=more))], "quick", quiet, False, known)[1]
    assert outcome.as_before and outcome.figures is not None
    assert outcome.figures.finish == made.plan.finish
    assert [one.id for one in outcome.figures.people] == [who.id for who in more.person]


def test_what_planning_saves_is_the_habit_less_the_plan() -> None:
    """What planning saves is told in minutes of the day and of changing, beside the shop's habit."""
    day = read_day(ROOT / "scenarios" / "two-presses")
    made = planned("two-presses")
    base = figures_of(made.day, made.plan, made.rows)
    came = come_of(Work(Variant("by habit", "", day), "quick", habit=True)).outcome.figures
    assert came is not None
    assert came.change_min > base.change_min
    assert f"{came.change_min - base.change_min:.1f} min of changing" in saving(came, base)


def test_a_late_day_is_tried_with_what_could_help() -> None:
    """A late order: one more person, a press like the busiest, its priority raised, an hour more. None late: none."""
    made = planned("celsius-studio")
    assert any(one.late_min for one in made.plan.orders)
    busiest = max(made.plan.presses, key=lambda busy: busy.busy_min).id
    late = next(one.order for one in made.plan.orders if one.late_min)
    options = [change.option for change in helps(made.day, made.plan)]
    assert options == [
        "--add-person one-more",
        f"--add-press second-{busiest}={busiest}",
        f"--priority {late}=1000",
        "--overtime 60",
    ]
    assert len(variants_of(ROOT / "scenarios" / "celsius-studio", helps(made.day, made.plan))) == 4
    assert helps(planned("team-shirts").day, planned("team-shirts").plan) == []


def test_what_helps_is_told_by_how_much() -> None:
    """The page's table and the words give what each change takes off the lateness, and say where one helps nothing."""
    made = planned("celsius-studio")
    late = sum(one.late_min or 0 for one in made.plan.orders)
    tried = (
        WhatIf(name="a", words="one <more>", finish=made.plan.finish, late_min=late - 5, late_orders=("W-14",)),
        WhatIf(name="b", words="an hour", finish=made.plan.finish, late_min=late),
        WhatIf(name="c", words="a press", finish=None, late_min=None, reasons=("no room",)),
    )
    plan = made.plan.model_copy(update={"what_if": tried})
    page, words = what_if_section(plan), what_if_text(plan)
    assert "one &lt;more&gt;" in page and "5 min" in page and "helps nothing" in page and "no room" in page
    assert "5 min less" in words and "an hour: helps nothing" in words
    assert what_if_section(made.plan) == what_if_text(made.plan) == ""


def test_what_helps_adds_up_as_it_is_shown() -> None:
    """Minutes shown add up, a begun one whole as in the orders' table: 13.8 is 14, 12.3 is 13: 1 min less."""
    made = planned("celsius-studio")
    (late, *_) = sorted(made.plan.orders, key=lambda one: -(one.late_min or 0))
    orders = (late.model_copy(update={"late_min": 13.8}),)
    finish = made.plan.finish.replace(hour=11, minute=1, second=5)
    tried = (WhatIf(name="a", words="one more", finish=finish, late_min=12.3, late_orders=(late.order,)),)
    plan = made.plan.model_copy(update={"orders": orders, "what_if": tried})
    assert "(14 min in all)" in what_if_text(plan) and "one more: 1 min less, still 13 min" in what_if_text(plan)
    assert "1 min<" in what_if_section(plan) and "11:02" in what_if_section(plan)


def test_a_page_that_cannot_be_written_is_told_before_the_planning(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where --page names a folder that is not there, nobody waits for plans that are thrown away."""
    monkeypatch.setattr(commands, "run", lambda *_, **__: pytest.fail("planned all the same"))
    with pytest.raises(BadInput, match=r"nowhere.*cannot be written there \(there is no such folder\)"):
        commands.compare_folder(ROOT / "scenarios" / "team-shirts", [], page=tmp_path / "nowhere" / "x.html")


def test_what_helps_is_not_told_twice(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """--late leaves out what was asked for by an option of its own, and each way has a name of its own."""
    made = planned("celsius-studio")
    figures = figures_of(made.day, made.plan, made.rows)
    monkeypatch.setattr(commands, "plan_day", lambda day, effort: made)
    monkeypatch.setattr(commands, "run", lambda tried, *_, **__: [Outcome(v.name, v.words, figures) for v in tried])
    folder = copied("celsius-studio", tmp_path / "day")
    asked = [make.overtime("60"), make.priority("W-14=5")]
    names = [outcome.name for outcome in commands.compare_folder(folder, asked, late=True, silent=True).outcomes]
    assert names.count("+ 60 min") == 1 and {"W-14 priority 5", "W-14 priority 1000"} < set(names)


def test_a_plan_carries_what_would_help(tmp_path: Path) -> None:
    """plan --what-if puts real runs into plan.json and on the page, and the plan still passes its audit."""
    folder = tmp_path / "day"
    write_starter(folder)
    soon = read_day(folder).start.replace(second=0) + timedelta(minutes=5)  # sooner than a press is warm
    orders = (folder / "orders.csv").read_text(encoding="utf-8")
    orders = re.sub(r"(?m)^(1002,.*,)[^,]*,2$", rf"\g<1>{soon.isoformat()},2", orders)
    (folder / "orders.csv").write_text(orders, encoding="utf-8")
    code, out, err = commanded("plan", folder, "--effort", "quick", "--what-if")
    assert code == 0, err
    told = json.loads((folder / "plan" / "plan.json").read_text())["what_if"]
    assert len(told) == 4 and told[0]["late_min"] == min(one["late_min"] for one in told)
    assert 'id="whatif"' in (folder / "plan" / "timeline.html").read_text() and "What would help" in out
    assert commanded("audit", folder)[0] == 0


def test_a_comparison_as_json_holds_the_figures() -> None:
    """The JSON has the figures of each variant by their names, shares from 0 to 1, and the rule."""
    made = planned("team-shirts")
    outcome = Outcome("as it is", "the folder", figures_of(made.day, made.plan, made.rows))
    found = json.loads(json.dumps(comparison_json([outcome], "quick")))
    (one,) = found["variants"]
    assert one["finish"] == made.plan.finish.isoformat() and one["changes"] == made.plan.goals.changes
    assert all(0 <= share["share"] <= 1 for share in one["presses"] + one["people"])
    assert found["rule"] and "as it is" in compare_page(made.day, [outcome], "quick")


def test_added_presses_and_people_leave_the_bound_a_bound() -> None:
    """The work bound of a day with more hands and presses is no higher than the work its own plan comes to."""
    folder = ROOT / "scenarios" / "team-shirts"
    for made in variants_of(folder, [add_person("cy"), add_press("third")]):
        figures = come_of(Work(made, "quick")).outcome.figures
        assert figures is not None and figures.work_bound <= figures.work_min
