"""What has been worked or is in hand, as the timetable's own loadings and changes, so that it counts in the figures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from models.day import Day
from models.operation import Operation
from models.plan import CLOSED_ROWS, Row
from scheduler.instance import Step, Task
from scheduler.logbook.spans import Out
from scheduler.logbook.state import Taken
from scheduler.timetable.acts import FAR, Act, Script
from scheduler.timetable.record import Change, Loading

Operations = Mapping[tuple[str, str], Mapping[tuple[str, int], Operation]]  # by order line, then placement and number


class Worked:
    """Turns rows that stand into loadings and changes. `history`: the lot of each order line that they belong to."""

    def __init__(self, day: Day, operations: Operations, history: Mapping[tuple[str, str], int]) -> None:
        self.day, self.operations, self.history = day, operations, history
        self.press = {name: index for index, name in enumerate(day.presses)}
        self.person = {name: index for index, name in enumerate(day.people)}
        self.number = {piece: n for line in day.lines for n, piece in enumerate(line.pieces, 1)}

    def loading(self, item: Taken, later: bool) -> Loading:
        """One loading. `later`: its pieces, or some of them, had been in a loading before, with the same blank."""
        on_press = sorted((r for r in item.rows if r.press is not None), key=lambda r: (r.start, r.end))
        acts, done, opens = self._hands(on_press)
        first = item.loading.rows[0]
        setting = (first.temperature or 0, first.pressure or "")
        task = self._task(item, on_press, later)
        script = Script(task, len(item.pieces), True, acts, (), (), None, (), 0)
        dwells = [row.end for row in on_press if row.what == "dwell"]
        peel = next((row for row in item.rows if row.press is None), None)
        end = max(self._at(row, end=True) for row in on_press)
        return Loading(
            number=item.loading.number,
            press=self.press[item.loading.press],
            pieces=tuple(self.number[piece] for piece in item.pieces),
            setting=setting,
            script=script,
            limit=FAR,
            opened=self.day.seconds(dwells[-1]) if dwells else end,
            done=done,
            opens=opens,
            peel=None if peel is None else (*self._span(peel), self.person[peel.person or ""]),
            cut=end,
        )

    def changes(self, rows: Sequence[Row]) -> list[Change]:
        """Changes that stand; the first of each date on a press is its warm-up."""
        made, warmed = [], set()
        for row in sorted(rows, key=lambda r: (r.start, r.end)):
            key = (row.press, row.start.date())
            setting = (row.temperature or 0, row.pressure or "")
            made.append(Change(self.press[row.press or ""], *self._span(row), setting, key not in warmed))
            warmed.add(key)
        return made

    def _hands(self, on_press: Sequence[Row]) -> tuple[tuple[Act, ...], list[tuple[int, int, int]], list[int]]:
        acts: list[Act] = []
        done: list[tuple[int, int, int]] = []
        opens: list[int] = []
        before: Row | None = None
        for row in on_press:
            if row.what not in CLOSED_ROWS:
                closed = before is not None and before.what in CLOSED_ROWS
                if closed and before is not None:
                    opens.append(self._at(before, end=True))
                pre = before is not None and before.what == "prepress"
                acts.append(Act(row.what, 0, 0.0, 0, FAR, closed=int(closed), pre=pre))
                done.append((*self._span(row), self.person[row.person or ""]))
            before = row
        return tuple(acts), done, opens

    def _task(self, item: Taken, on_press: Sequence[Row], later: bool) -> Task:
        """The last closing that it had tells how its pieces cool; without one nothing does."""
        key = (item.loading.order, item.loading.line)
        dwells = [row for row in on_press if row.what == "dwell"]
        known = self.operations[key]
        operation = known.get((dwells[-1].placement or "", dwells[-1].operation or 0)) if dwells else None
        steps = (Step(operation, 0, 0, 0.0, 0, 0, 0.0),) if operation else ()
        return Task(-1, self.history[key], int(later), item.loading.placement, steps, 0.0, 0.0, {}, not steps)

    def _at(self, row: Row, end: bool = False) -> int:
        return self.day.seconds(row.end if end else row.start)

    def _span(self, row: Row) -> tuple[int, int]:
        return self._at(row), self._at(row, end=True)


def changes_that_stand(rows: Sequence[Row], downs: Mapping[str, Sequence[Out]], at: Row | None = None) -> list[Row]:
    """The change rows given, as far as they took place: not begun while down, cut where the press went down."""
    found = []
    for row in rows:
        outs = downs.get(row.press or "", ())
        if any(out.holds(row.start) for out in outs):
            continue
        cut = min((out.start for out in outs if row.start < out.start < row.end), default=row.end)
        found.append(row if cut == row.end else replace(row, end=cut))
    return found
