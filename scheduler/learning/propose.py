"""What a log teaches, as figures to put into shop.toml, each with its uncertainty and what it rests on."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from models.day import Day
from models.log import Entry
from models.plan import Row
from scheduler.learning.hands import Factor, Learnt, learn_hands
from scheduler.learning.heat import Heat, learn_heat
from scheduler.learning.ticks import stretches, ticks_of

FEWEST_PIECES = 50  # pieces begun, below which nothing is said of spoilage
_Z = 1.96
Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Proposal:
    """A figure of shop.toml: what is written, what the log says, and in 95 of 100 cases between what it lies.

    `path` leads to it: ("hands", "load_s"), ("person", 0, "pace"). `group`: figures that the log only tells
    together, changed in proportion. `differs`: what is written lies outside, so that a change is proposed.
    """

    path: Path
    name: str
    written: float
    value: float
    low: float
    high: float
    seen: str
    group: tuple[str, ...] = ()

    @property
    def differs(self) -> bool:
        """Whether a change is proposed."""
        return not self.low <= self.written <= self.high and self.value != self.written


@dataclass(frozen=True)
class Lesson:
    """All that a log teaches: proposals, what there is too little of, and what to change elsewhere by hand."""

    proposals: tuple[Proposal, ...]
    thin: tuple[str, ...]
    elsewhere: tuple[str, ...]


def learn(day: Day, rows: Sequence[Row], log: Sequence[Entry]) -> Lesson:
    """What the log of a day teaches about the shop."""
    spread = day.shop.spread
    found = stretches(day, rows, log)
    hands = learn_hands(found, {name: who.pace for name, who in day.people.items()}, spread.pace)
    heat, thin_heat = learn_heat(day, rows, log, hands, spread.change)
    spoiled, thin_spoiled = _spoilage(day, rows, log)
    proposals = [*_hands(day, hands), *_paces(day, hands), *_heats(day, heat), *spoiled]
    thin = [*_thin_hands(hands, rows, log, len(found)), *thin_heat, *thin_spoiled]
    return Lesson(tuple(proposals), tuple(thin), tuple(_elsewhere(day, hands)))


def _hands(day: Day, hands: Learnt) -> Iterator[Proposal]:
    for kinds, factor in hands.kinds.items():
        for kind in kinds:
            key = f"{kind}_s"
            others = tuple(f"hands.{other}_s" for other in kinds if other != kind)
            written = float(getattr(day.shop.hands, key))
            if written > 0:
                seen = f"{factor.seen} stretches between lines"
                yield _scaled(("hands", key), f"hands.{key}", written, factor, 1, seen, others)


def _paces(day: Day, hands: Learnt) -> Iterator[Proposal]:
    for number, (name, who) in enumerate(day.people.items()):
        if name in hands.people:
            factor = hands.people[name]
            seen = f"{factor.seen} stretches with {name}"
            yield _scaled(("person", number, "pace"), f'person "{name}" pace', who.pace, factor, 2, seen)


def _heats(day: Day, heat: Sequence[Heat]) -> Iterator[Proposal]:
    for one in heat:
        number, press = list(day.presses).index(one.press), day.presses[one.press]
        table, rate = ("heating", press.heat_up) if one.way == "up" else ("cooling", press.cool_down)
        seen = f"{one.factor.seen} changes"
        if rate is not None:
            key = "heat_up" if one.way == "up" else "cool_down"
            yield _scaled(("press", number, key), f'press "{one.press}" {key}', rate, _inverse(one.factor), 1, seen)
        else:
            response = press.heating if one.way == "up" else press.cooling
            assert response is not None
            path, name = ("press", number, table, "tau_min"), f'press "{one.press}" {table}.tau_min'
            yield _scaled(path, name, response.tau_min, one.factor, 1, seen)


def _inverse(factor: Factor) -> Factor:
    """Of a time, as that of a rate."""
    low = max(factor.low, 1e-3)
    return Factor(1 / factor.value, 1 / factor.high, 1 / low, factor.seen)


def _scaled(
    path: Path, name: str, written: float, factor: Factor, digits: int, seen: str, group: tuple[str, ...] = ()
) -> Proposal:
    value, low, high = (round(written * part, digits) for part in (factor.value, factor.low, factor.high))
    return Proposal(path, name, written, value, max(0.0, low), high, seen, group)


def _spoilage(day: Day, rows: Sequence[Row], log: Sequence[Entry]) -> tuple[list[Proposal], list[str]]:
    """The share of blanks spoiled, with Wilson's interval (E. B. Wilson 1927, JASA 22)."""
    if not log:
        return [], []
    last = max(entry.at for entry in log)
    pieces = {piece for row in rows if row.what == "load" and row.start < last for piece in row.pieces}
    bad = sum(len(entry.pieces) for entry in log if entry.what == "spoiled")
    blanks = len(pieces) + bad
    if len(pieces) < FEWEST_PIECES:
        return [], [f"spoilage: {len(pieces)} pieces begun, {FEWEST_PIECES} are wanted"]
    if not bad:
        return [], [
            f"spoilage: nothing is logged as spoiled in {blanks} pieces; whether nothing was, the log cannot tell"
        ]
    share, z2 = bad / blanks, _Z * _Z
    middle = (share + z2 / (2 * blanks)) / (1 + z2 / blanks)
    half = _Z * math.sqrt(share * (1 - share) / blanks + z2 / (4 * blanks * blanks)) / (1 + z2 / blanks)
    low, high = max(0.0, round(middle - half, 4)), round(middle + half, 4)
    seen = f"{bad} of {blanks} blanks"
    written = day.shop.spread.spoil
    return [Proposal(("spread", "spoil"), "spread.spoil", written, round(share, 3), low, high, seen)], []


def _thin_hands(hands: Learnt, rows: Sequence[Row], log: Sequence[Entry], found: int) -> list[str]:
    said = list(hands.thin)
    ticks = sum(len(ticks) for ticks in ticks_of(rows, log).values())
    if not hands.kinds:
        said.append(
            f"{ticks} loadings have lines of their own; {found} times a press went from one straight to the next with "
            "nobody coming straight from elsewhere, and only then is the time between two lines hand work and dwell"
        )
    known = {kind for kinds in hands.kinds for kind in kinds}
    missing = [f"hands.{kind}_s" for kind in ("load", "align", "unload", "peel") if kind not in known]
    if hands.kinds and missing:
        said.append(f"{', '.join(missing)}: in too few of the stretches that can be told apart")
    return said


def _elsewhere(day: Day, hands: Learnt) -> Iterator[str]:
    """Hand times that garments, films and layers give themselves, which the same factors hold for."""
    factors = {kind: factor for kinds, factor in hands.kinds.items() for kind in kinds if factor.differs}
    garments = [day.garments[g] for g in dict.fromkeys(line.garment for line in day.lines)]
    designs = [day.design[d] for d in dict.fromkeys(line.design for line in day.lines)]
    films = [day.films[f] for f in dict.fromkeys(y.film for d in designs for p in d.placement for y in p.layer)]
    given = [(f'garment "{g.id}" load_s', g.load_s, "load") for g in garments]
    given += [(f'garment "{g.id}" unload_s', g.unload_s, "unload") for g in garments]
    given += [(f'film "{f.id}" align_s', f.align_s, "align") for f in films]
    given += [(f'film "{f.id}" peel_hand_s', f.peel_hand_s, "peel") for f in films]
    for name, written, kind in given:
        if written and kind in factors:
            yield f"catalog.toml: {name} = {written:g} would be {written * factors[kind].value:.1f}"
    for design in designs:
        for place in design.placement:
            for number, layer in enumerate(place.layer, 1):
                if layer.align_s and "align" in factors:
                    new = layer.align_s * factors["align"].value
                    where = f'design "{design.id}" {place.at} layer {number} align_s'
                    yield f"designs.toml: {where} = {layer.align_s:g} would be {new:.1f}"
