"""Operations written out: windows, hand times and numbers of every closing of one route."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from models.operation import Operation
from models.units import Window
from scheduler.breakdown.windows import Blend, at_most, blend, least
from scheduler.breakdown.work import Unit, Work


def closings(work: Work, units: Sequence[Unit]) -> tuple[Operation, ...]:
    """The operations that lay `units` in this order, which is legal.

    A repress follows the operation whose films want it. Windows hold in this order: at most what the
    films laid before stand (rule 4), tacked where the placement is pressed again (rule 5).
    """
    made: list[Operation] = []
    stands: int | None = None
    for n, unit in enumerate(units):
        mixed = blend(work.demands(unit), work.room, work.late)
        assert mixed is not None, unit
        again = any(later.place == unit.place for later in units[n + 1 :])
        number = 1 + sum(op.placement == unit.place for op in made)
        made.extend(replace(op, number=number + i) for i, op in enumerate(_unit(work, unit, mixed, again, stands)))
        stands = least((stands, mixed.reheat_max))
    assert _reheats_hold(work, made), units
    return _prepressed(work, made)


def _unit(work: Work, unit: Unit, mixed: Blend, again: bool, stands: int | None) -> list[Operation]:
    """One operation and its repress, numbered from 0."""
    temperature = at_most(mixed.temperature, stands)
    dwell = mixed.dwell_where(again or mixed.again is not None)
    assert temperature is not None and dwell is not None, unit
    first = _laid(work, unit, mixed, temperature, dwell)
    if mixed.again is None or mixed.again_at is None:
        return [first]
    again_at = at_most(mixed.again_at, stands)
    assert again_at is not None, unit
    return [first, _repress(work, unit, mixed, again_at, mixed.again)]


def _laid(work: Work, unit: Unit, mixed: Blend, temperature: Window, dwell: Window) -> Operation:
    hands, day = work.day.shop.hands, work.day
    layers = [work.placement(unit.place).layer[number - 1] for number in unit.layers]
    films = [day.films[layer.film] for layer in layers]
    cool_to = dict.fromkeys(d.cool_to for d in work.demands(unit) if d.cool_to is not None)
    return Operation(
        placement=unit.place,
        number=0,
        layers=unit.layers,
        films=tuple(dict.fromkeys(film.id for film in films)),
        temperature=temperature,
        dwell=dwell,
        pressures=_in_order(work, mixed.pressures),
        peel=films[0].peel,
        peel_after=mixed.peel_after,
        cool_to=tuple(cool_to),
        align_s=sum(
            _first(layer.align_s, film.align_s, hands.align_s) for layer, film in zip(layers, films, strict=True)
        ),
        peel_s=sum(_first(film.peel_hand_s, hands.peel_s) for film in films),
        cover_sheet=any(film.cover_sheet for film in films),
    )


def _repress(work: Work, unit: Unit, mixed: Blend, temperature: Window, dwell: Window) -> Operation:
    """Pressed again without layers, always under a cover sheet: the art lies bare by then."""
    wanting = dict.fromkeys(d.film for d in work.demands(unit) if d.repress is not None)
    return Operation(
        placement=unit.place,
        number=0,
        layers=(),
        films=tuple(wanting),
        temperature=temperature,
        dwell=dwell,
        pressures=_in_order(work, mixed.again_pressures),
        peel=None,
        peel_after=None,
        cool_to=(),
        align_s=0,
        peel_s=0,
        cover_sheet=True,
    )


def _reheats_hold(work: Work, made: Sequence[Operation]) -> bool:
    """Whether no film is pressed more often, on any placement, than it stands."""
    allowed = [(n, work.day.films[film].reheats) for n, op in enumerate(made) if op.layers for film in op.films]
    return all(most is None or len(made) - 1 - n <= most for n, most in allowed)


def _prepressed(work: Work, made: Sequence[Operation]) -> tuple[Operation, ...]:
    """With the garment's prepress set on the first closing of each placement (rule 6)."""
    wanted = work.garment.prepress_s
    if wanted.hi <= 0:
        return tuple(made)
    window = wanted.seconds(work.late)
    prepress = Window(max(1, window.lo), window.hi)
    return tuple(replace(op, prepress=prepress) if op.number == 1 else op for op in made)


def _in_order(work: Work, pressures: frozenset[str]) -> tuple[str, ...]:
    return tuple(word for word in work.day.pressure_words if word in pressures)


def _first(*given: float | None) -> float:
    return next(value for value in given if value is not None)
