"""Orders become operations: layers to closings, closings to routes, and the presses that can take them."""

from __future__ import annotations

from collections.abc import Mapping

from models.catalog import Garment
from models.day import Day
from models.design import Design
from models.operation import Route
from models.problem import BadInput, Problem
from scheduler.breakdown.deadlock import no_order
from scheduler.breakdown.faults import design_faults, film_faults, garment_faults, remarks
from scheduler.breakdown.fit import Fit, check_fits, fits, loading_window, why_not
from scheduler.breakdown.geometry import Stack, stack
from scheduler.breakdown.routes import routes
from scheduler.breakdown.work import assemble, films_of

__all__ = ["Fit", "break_down", "check_fits", "fits", "loading_window", "why_not"]


def break_down(day: Day) -> dict[tuple[str, str], tuple[Route, ...]]:
    """The legal routes of each (garment, design) ordered, in the order they first stand in the orders.

    First the preferred route (placements as the design lists them, where that is legal), then up to 23
    others. Raises BadInput with every problem of every pair.
    """
    pairs = list(dict.fromkeys((line.garment, line.design) for line in day.lines))
    designs = dict.fromkeys(design for _, design in pairs)
    stacks = {name: _stacks(day, day.design[name]) for name in designs}
    faults = {name: _design_problems(day, day.design[name], stacks[name]) for name in designs}
    problems = [problem for found in faults.values() for problem in found]
    made: dict[tuple[str, str], tuple[Route, ...]] = {}
    for garment, name in pairs:
        found = _pair(day, day.garments[garment], day.design[name], stacks[name], sound=not faults[name])
        if isinstance(found, list):
            problems += found
        else:
            made[garment, name] = found
    if problems:
        raise BadInput(list(dict.fromkeys(problems)))
    return made


def _pair(
    day: Day, garment: Garment, design: Design, stacks: Mapping[str, Stack], sound: bool
) -> tuple[Route, ...] | list[Problem]:
    """The routes of one garment with one design, or what is wrong with them together."""
    problems = list(garment_faults(garment, design, day))
    if problems or not sound:
        return problems
    work = assemble(day, garment, design, stacks)
    return routes(work, tuple(remarks(design, day))) or no_order(work)


def _design_problems(day: Day, design: Design, stacks: Mapping[str, Stack]) -> list[Problem]:
    """What is wrong with a design and its films on any garment."""
    films = [problem for film in films_of(design) for problem in film_faults(day.films[film], day)]
    return films + list(design_faults(design, day, stacks))


def _stacks(day: Day, design: Design) -> dict[str, Stack]:
    return {
        place.at: stack(place.layer, [day.films[layer.film].carrier for layer in place.layer])
        for place in design.placement
    }
