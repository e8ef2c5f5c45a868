"""The crew's rules of serving that a programme may be played in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Manner:
    """The crew's rule of serving: what a free person turns to first, whether idle presses help others.

    `serve`: among presses the one with most left to do, the one that has waited longest, or the one whose
    order is due first. `keep_order`: a press waits for the work that comes next in its programme, although
    other work of the same setting is there. `patience`: seconds a platen waits before no other is begun whose
    peels and openings would make it wait again.
    """

    serve: Literal["most", "longest", "due"] = "most"
    load_first: bool = False
    share: bool = True
    keep_order: bool = False
    patience: int = 30


MANNERS = (
    Manner("longest"),
    Manner("most"),
    Manner("due"),
    Manner("longest", keep_order=True),
    Manner("most", load_first=True),
)
