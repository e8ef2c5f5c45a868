"""How hard to think: counted in moves and deterministic time, so that the same effort gives the same plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

EffortName = Literal["quick", "normal", "thorough"]


@dataclass(frozen=True, slots=True)
class Effort:
    """`jobs`: grain of the search; `moves` for each job and `starts` of the local search,
    `finalists` of each are played, and `corrections` of it made where they are, or `steps` where there are many jobs;
    `rounds` of CP-SAT of `slice` deterministic seconds each; `chains`: other ways a line may go that are tried;
    `plays`: loadings of single pieces that are played in climbing; `polish`: deterministic seconds all windows of the
    exact timetable may take (0: none), `bound` those of the bounds, `allot` those of first plans by the ordered
    problem; `rhythms`: whether the rhythms of presses are played; `lighter`: efforts spent before it, so that more
    effort never gives a worse plan."""

    jobs: int
    moves: int
    starts: int
    bound: float
    finalists: int = 1
    corrections: int = 0
    steps: int = 0
    rounds: int = 0
    slice: float = 0.0
    chains: int = 0
    plays: int = 0
    polish: float = 0.0
    allot: float = 0.0
    rhythms: bool = True
    lighter: tuple[Effort, ...] = ()


_QUICK = Effort(jobs=50, moves=9, starts=3, corrections=1, steps=6, bound=0.5, allot=0.2, rhythms=False)
_NORMAL = Effort(
    jobs=70,
    moves=50,
    starts=4,
    finalists=2,
    corrections=5,
    steps=10,
    rounds=1,
    slice=0.1,
    chains=1,
    plays=4000,
    polish=0.5,
    bound=1.0,
    allot=4.0,
    lighter=(_QUICK,),
)
_THOROUGH = Effort(
    jobs=100,
    moves=100,
    starts=10,
    finalists=3,
    corrections=6,
    steps=16,
    rounds=16,
    slice=0.6,
    chains=16,
    plays=150_000,
    polish=2.0,
    bound=8.0,
    allot=8.0,
    lighter=(_QUICK, _NORMAL),
)
EFFORTS: dict[EffortName, Effort] = {"quick": _QUICK, "normal": _NORMAL, "thorough": _THOROUGH}
