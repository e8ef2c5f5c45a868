"""What changed in a plan made again, in words and on the page."""

from __future__ import annotations

from datetime import datetime

from models.plan import Changes, Errand, OrderChange, PersonChange, Plan, PressChange, WorkChange
from scheduler.output.page_changes import changes_section
from scheduler.output.report_changes import told_changes
from tests.scheduler.output.planned import planned

AT = datetime(2026, 12, 8, 10, 42)


def remade() -> Plan:
    """A real plan with changes of our own: one order later, three pieces moved, two people, one as before."""
    load = Errand(start=AT, what="load", press="west", order="2104", line="2", placement="front")
    moved = WorkChange(order="2104", line="2", placement="front", operation=2, pieces=3, press="west")
    order = OrderChange(
        order="2104",
        customer="",
        due=AT.replace(hour=16),
        was=AT.replace(hour=13, minute=36, second=37),
        now=AT.replace(hour=15, minute=8, second=59),
        holds=True,
    )
    changes = Changes(
        at=AT,
        before="",
        moments=(AT,),
        log=(),
        orders=(order,),
        presses=(PressChange(press="east", kept=0, added=(), dropped=(), moved=(moved,)),),
        people=(
            PersonChange(person="ines", was=load, now=load.model_copy(update={"line": "3"})),
            PersonChange(person="tobi", was=load, now=load),
        ),
        kept=1,
        left=2,
    )
    return planned("team-shirts").plan.model_copy(update={"changes": changes})


def test_old_and_new_finish_are_told_as_everywhere_else() -> None:
    """The page gives minutes, a begun one whole, as the terminal and the orders' own table do."""
    page, words = changes_section(remade()), " ".join(text for text, _ in told_changes(remade()))
    assert ">13:37</td>" in page and ">15:09</td>" in page and "13:36:37</td>" not in page
    assert "done 15:09, was 13:37" in words


def test_only_who_goes_elsewhere_is_told() -> None:
    """Another line is another errand and said with its line; the same errand is no news."""
    words = [text for text, _ in told_changes(remade())]
    assert "ines goes 10:42 to load 2104 line 3 front on west; before: 10:42 to load 2104 line 2 front on west" in words
    assert not any(text.startswith("tobi") for text in words)
    assert "the same" in changes_section(remade())


def test_work_is_told_by_its_pressing() -> None:
    """A later closing of a placement is told as the pressing it is."""
    words = " ".join(text for text, _ in told_changes(remade()))
    assert "3 pieces of 2104 line 2 front from pressing 2 on (was on west)" in words
