"""Nobody's platen starves: what has waited long is served although another press always offers something quicker."""

from __future__ import annotations

from dataclasses import replace

from scheduler.breakdown import break_down
from scheduler.instance import Instance
from scheduler.solving.chains import default_chains
from scheduler.timetable.dispatch import dispatch
from scheduler.timetable.manner import Manner
from scheduler.timetable.programme import Block, Programme, Stretch
from tests.bench.days import named
from tests.scheduler.days import faults


def beside() -> tuple[Instance, Programme]:
    """One person between a press opened by hand with quick shirts and hoods of four layers on a press that opens by
    itself: laying them takes longer than a shirt is under heat, and a shirt's peel has its last moment."""
    whole = named("d500").day
    day = replace(whole, lines=(whole.lines[7], whole.lines[3]))
    instance = Instance(day, default_chains(day, break_down(day)))

    def stretch(line: int, press: int) -> Stretch:
        fits = [task.fits[press] for task in instance.stages[line]]
        setting = max(fit.lo for fit in fits), fits[0].pressures[0]
        return Stretch(setting, tuple(Block(task.index, instance.quantity(line)) for task in instance.stages[line]))

    return instance, ((stretch(0, 0),), (stretch(1, 1),))


def longest_wait(instance: Instance, programme: Programme, patience: int) -> int:
    """Seconds the longest-waiting platen of the hoods lay between two hand rows, dwells included."""
    table = dispatch(instance, programme, Manner("longest", share=False, patience=patience))
    assert not faults(instance, table)
    hoods = [loading for loading in table.loadings if loading.press == 1]
    return max(b[0] - a[1] for loading in hoods for a, b in zip(loading.done, loading.done[1:], strict=False))


def test_a_dressed_platen_does_not_starve() -> None:
    """Without patience the hoods wait for every shirt to be done; with it none waits two minutes."""
    instance, programme = beside()
    assert longest_wait(instance, programme, patience=1 << 30) > 300
    assert longest_wait(instance, programme, patience=30) < 120
