"""Which way each order line went by the plan before, and what of it its pieces still have before them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from models.day import Day
from models.operation import Operation, Route
from models.order import OrderLine
from models.problem import BadInput, Problem
from scheduler.breakdown import loading_window
from scheduler.instance import Chain, Routes
from scheduler.logbook.history import Course
from scheduler.logbook.loadings import Loading
from scheduler.solving.chains import default_chains, share

Done = Mapping[str, int]  # placement -> operations of it that are over


def old_chains(day: Day, routes: Routes, course: Course) -> dict[tuple[str, str], Chain]:
    """Each order line's chain in the plan before; of a line that is new, or was never pressed whole, the usual one."""
    usual = default_chains(day, routes)
    found = {}
    for line, chain in zip(day.lines, usual, strict=True):
        ways = routes[line.garment, line.design]
        told = (_chain(ways, course.of_piece.get(piece, [])) for piece in line.pieces)
        found[line.key] = next((c for c in told if c is not None), chain)
    return found


def _chain(ways: Sequence[Route], loadings: Sequence[Loading]) -> Chain | None:
    """The chain by which a piece was pressed in these loadings, where they are the whole of one."""
    steps = [step for loading in loadings for step in loading.steps]
    for route in ways:
        if [(op.placement, op.number) for op in route.operations] == steps:
            ops = iter(route.operations)
            return Chain(route, tuple(tuple(next(ops) for _ in loading.steps) for loading in loadings if loading.steps))
    return None


def refuse_strange(day: Day, routes: Routes, loadings: Sequence[Loading]) -> None:
    """What was worked must be known to the folder as it is now. Raises BadInput with every piece that is not."""
    lines = {piece: line for line in day.lines for piece in line.pieces}
    problems: dict[str, Problem] = {}
    for loading in loadings:
        for piece in loading.pieces:
            line = lines.get(piece)
            if line is None:
                wrong = f"piece {piece} has been worked on (loading {loading.number}), but is not ordered any more"
                where = f"order {loading.order}, line {loading.line}"
                right = 'Put it back, and log "cancel" for what is not wanted any more'
                problems.setdefault(where, Problem("orders.csv", where, "quantity", "", wrong, right))
            elif not _knows(routes[line.garment, line.design][0], loading):
                wrong = f"its pieces have been worked on, and not by this design (loading {loading.number})"
                where, right = f"order {line.order}, line {line.line}", "Write the design they were begun with"
                problems.setdefault(where, Problem("orders.csv", where, "design", line.design, wrong, right))
    if problems:
        raise BadInput(list(problems.values()))


def _knows(route: Route, loading: Loading) -> bool:
    known = {(op.placement, op.number): op.layers for op in route.operations}
    pressed = {(r.placement, r.operation): r.layers for r in loading.rows if r.what == "dwell"}
    return all(known.get((place or "", number or 0)) == layers for (place, number), layers in pressed.items())


def chain_left(day: Day, ways: Sequence[Route], old: Chain, done: Done, presses: frozenset[str]) -> Chain:
    """What is left of a chain, shared and routed as before where the presses that are left allow it."""
    choices = _choices(day, ways, old, done)
    for chain in choices:
        if all(_takes(day, chain.route, group, presses) for group in chain.groups):
            return chain
    return choices[0]


def _choices(day: Day, ways: Sequence[Route], old: Chain, done: Done) -> list[Chain]:
    made = [Chain(old.route, _without(old.groups, done))]
    for route in [old.route, *(way for way in ways if way != old.route and _goes_on(way, done))]:
        single = tuple((op,) for op in route.operations)
        made += [Chain(route, _without(groups, done)) for groups in (share(day, route), single)]
    return made


def _without(groups: Sequence[tuple[Operation, ...]], done: Done) -> tuple[tuple[Operation, ...], ...]:
    left = (tuple(op for op in group if op.number > done.get(op.placement, 0)) for group in groups)
    return tuple(group for group in left if group)


def _goes_on(route: Route, done: Done) -> bool:
    """Whether what is done is the beginning of the route."""
    over = [op.number <= done.get(op.placement, 0) for op in route.operations]
    return over == sorted(over, reverse=True)


def _takes(day: Day, route: Route, group: Sequence[Operation], presses: frozenset[str]) -> bool:
    return any(loading_window(day, route, group, press) is not None for press in presses)


def operations_of(line: OrderLine, routes: Routes) -> Iterator[tuple[tuple[str, int], Operation]]:
    """The operations of an order line by placement and number; how they cool is the same in every route."""
    for op in routes[line.garment, line.design][0].operations:
        yield (op.placement, op.number), op
