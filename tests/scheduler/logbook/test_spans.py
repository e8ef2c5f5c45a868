"""Times out of work, from the log's lines."""

from __future__ import annotations

from datetime import datetime, timedelta

from models.log import Entry
from scheduler.logbook.spans import with_outs
from tests.scheduler.output.planned import planned

AT = datetime(2026, 12, 8, 10, 42)


def test_who_is_out_is_shown_away() -> None:
    """A press down until then and a person absent for good are away in the day that is shown, and nobody else is."""
    day = planned("team-shirts").day
    until = AT + timedelta(hours=3)
    down = Entry(at=AT, what="down", press="east", until=until)
    shown = with_outs(day, [down, Entry(at=AT, what="absent", person="tobi")])
    assert shown.presses["east"].away[-1] == (AT, until) and shown.presses["west"] == day.presses["west"]
    (start, end) = shown.people["tobi"].away[-1]
    assert shown.down == {"east": ((AT, until),)} and shown.absent == {"tobi": ((AT, None),)}
    assert start == AT and end > AT + timedelta(days=13) and shown.people["ines"] == day.people["ines"]
