"""The crew's rules of serving that a programme may be played in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Manner:
    """The crew's rule of serving: what a free person turns to first, whether idle presses help others.

    `serve`: among presses the one that has waited longest, the one whose order is due first, or the one with the least
    slack; then the day ends at `ease` times the longest press's work (`turns`). `keep_order`: a press waits for the
    work that comes next in its programme, although other work of the same setting is there. `patience`: seconds a
    platen waits before no other is begun whose peels and openings would make it wait again.
    """

    serve: Literal["longest", "due", "slack"] = "longest"
    ease: float = 1.0
    load_first: bool = False
    share: bool = True
    keep_order: bool = False
    patience: int = 30


MANNERS = (
    Manner("longest"),
    Manner("slack"),
    Manner("due"),
    Manner("longest", keep_order=True),
    Manner("slack", load_first=True),
    Manner("slack", ease=2.0),
)
