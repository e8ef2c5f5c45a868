"""What a dispatch leaves behind: loadings with the times of their hand rows, peels, changes, and the figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from scheduler.instance import Setting
from scheduler.timetable.acts import Script


@dataclass(slots=True, eq=False)
class Loading:
    """One dressing of a platen. `done` holds (start, end, person) of each hand row that has begun.

    It has to be off the press by `limit`. `lo` and `hi` bound the start of
    the next hand row; `opened` is when the press last opened; `peel` is the
    off-press peel once it has begun, `peel_lo` and `peel_hi` its bounds. Pieces are numbers within the line.
    `cut`: the end of its last row on the press, where it was given up before it was unloaded.
    """

    number: int
    press: int
    pieces: tuple[int, ...]
    setting: Setting
    script: Script
    limit: int
    owner: int = -1
    lo: int = 0
    hi: int = 0
    opened: int = 0
    done: list[tuple[int, int, int]] = field(default_factory=list)
    opens: list[int] = field(default_factory=list)  # when the press opened, closing by closing, prepresses included
    peel: tuple[int, int, int] | None = None
    peel_lo: int = 0
    peel_hi: int = 0
    cut: int | None = None

    @property
    def start(self) -> int:
        """When dressing begins."""
        return self.done[0][0]

    @property
    def off(self) -> int:
        """When it is off the press."""
        return self.done[-1][1] if self.cut is None else self.cut

    @property
    def finish(self) -> int:
        """When its pieces are free for what comes next."""
        return max(self.off, self.peel[1]) if self.peel else self.off


@dataclass(frozen=True, slots=True)
class Change:
    """A press takes on a setting, [start, end); `warm_up` where it is the day's first."""

    press: int
    start: int
    end: int
    setting: Setting
    warm_up: bool


@dataclass(slots=True)
class Timetable:
    """A timed programme and its figures, in seconds. `unplaced` pieces found no time, `broken` promises were missed.

    `worked` and `changed` stood before it was planned; they count in the figures.
    """

    loadings: list[Loading]
    changes: list[Change]
    unplaced: int = 0
    broken: int = 0
    order_finish: list[int] = field(default_factory=list)
    late: float = 0.0
    work: float = 0.0
    finish: int = 0
    change_count: int = 0
    change_seconds: int = 0
    peel_wait: int = 0
    worked: Sequence[Loading] = ()
    changed: Sequence[Change] = ()

    @property
    def all_loadings(self) -> list[Loading]:
        """What stood before and what is planned."""
        return [*self.worked, *self.loadings]

    @property
    def all_changes(self) -> list[Change]:
        """The changes that stood before and those planned."""
        return [*self.changed, *self.changes]

    @property
    def value(self) -> tuple[int, float, float]:
        """What is minimised, in order: what failed, late (priority x seconds), work (section 5, seconds)."""
        return (self.unplaced + self.broken, round(self.late, 6), round(self.work, 6))
