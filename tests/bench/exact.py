"""Small days beside a long CP-SAT of the whole, order and press of each loading kept: `python -m tests.bench.exact`.

Prints the table of EXACT.md: the finish as dispatched, as put right by a normal effort, and the long answer's, which is
the best found and not proven the best.
"""

from __future__ import annotations

from dataclasses import replace
from statistics import median

from scheduler.breakdown import break_down
from scheduler.solving.efforts import EFFORTS
from scheduler.solving.solve import solve
from scheduler.timetable.polish import MOST, polish
from tests.bench.days import Size, make

DAYS = tuple((Size(pieces, 2, people, 4, 4), seed) for pieces in (30, 36, 44) for people in (1, 2) for seed in (0, 1))
LONG = 2.0  # deterministic seconds of the long answer


def main() -> None:
    """Plan each day, put it right as `normal` does and then with far more effort; print what came."""
    print("| pieces, people, seed | loadings | dispatched s | normal s | long s | dispatched over | normal over |")
    print("|---|---|---|---|---|---|---|")
    bare, short = [], []
    for size, seed in DAYS:
        day = make(size, seed).day
        effort = replace(EFFORTS["normal"], chains=0, rounds=0, polish=0.0)
        found = solve(day, break_down(day), effort)
        played = found.table
        if len(played.loadings) > MOST:
            continue
        normal = polish(found.instance, played, EFFORTS["normal"].polish, 0)
        exact = min((polish(found.instance, start, LONG, 1) for start in (played, normal)), key=lambda t: t.value)
        bare.append(played.finish / exact.finish - 1)
        short.append(normal.finish / exact.finish - 1)
        print(
            f"| {size.pieces}, {size.people}, {seed} | {len(played.loadings)} | {played.finish} | {normal.finish} "
            f"| {exact.finish} | {bare[-1]:.1%} | {short[-1]:.1%} |",
            flush=True,
        )
    print(f"\nMedian over the long answer: dispatched {median(bare):.1%}, normal {median(short):.1%}.")


if __name__ == "__main__":
    main()
