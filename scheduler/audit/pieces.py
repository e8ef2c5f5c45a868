"""Every operation of every piece exactly once, in a legal order, and no piece in two places."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from functools import cached_property
from itertools import pairwise

from models.design import Design
from models.order import OrderLine
from scheduler.audit.finding import Finding
from scheduler.audit.recipe import Need, Recipe, Step, recipe
from scheduler.audit.table import FILE, Closing, Entry, Loading, Table

_FEW = 5  # names told of a longer list


class Recipes:
    """The recipe of each piece's closings, worked out once for all pieces pressed alike."""

    def __init__(self, table: Table) -> None:
        self.table = table
        self.known: dict[tuple[str, str, tuple[Step, ...]], Recipe] = {}
        self.alike: dict[tuple[str, str, tuple[Step, ...]], list[str]] = {}
        self.of: dict[str, tuple[Recipe, list[Closing]]] = {}
        for piece, closings in table.closings_of.items():
            line = table.line_of.get(piece)
            if line is not None:
                self._learn(piece, line, closings)

    def _learn(self, piece: str, line: OrderLine, closings: list[Closing]) -> None:
        day = self.table.day
        design, garment = day.design[line.design], day.garments[line.garment]
        counts = {place.at: len(place.layer) for place in design.placement}
        good = [c for c in closings if c.loading.placement in counts]
        steps = tuple((c.loading.placement, _real(c.layers, counts[c.loading.placement])) for c in good)
        key = (garment.id, design.id, steps)
        if key not in self.known:
            self.known[key] = recipe(day, garment, design, steps)
        self.alike.setdefault(key, []).append(piece)
        self.of[piece] = (self.known[key], good)

    @cached_property
    def needs(self) -> dict[int, list[Need]]:
        """What each closing (by id) needs, once for all its pieces that are alike."""
        needs: dict[int, list[Need]] = {}
        for made, closings in self.of.values():
            for need, closing in zip(made.needs, closings, strict=True):
                held = needs.setdefault(id(closing), [])
                if not any(need is other for other in held):
                    held.append(need)
        return needs

    def once(self, closing: Closing) -> list[Need]:
        """What a closing needed when it was made, also one on a blank that was lost or is not wanted any more."""
        known = self.needs.get(id(closing))
        if known is not None:
            return known
        found = []
        for piece in closing.loading.pieces[:1]:
            line = self.table.line_of.get(piece)
            blank = self.table.blank(piece, closing.loading)
            mine = [c for c in self.table.every_closing[piece] if self.table.blank(piece, c.loading) == blank]
            if line is not None:
                design, garment = self.table.day.design[line.design], self.table.day.garments[line.garment]
                counts = {place.at: len(place.layer) for place in design.placement}
                good = [c for c in mine if c.loading.placement in counts]
                steps = tuple((c.loading.placement, _real(c.layers, counts[c.loading.placement])) for c in good)
                made = recipe(self.table.day, garment, design, steps)
                found = [n for n, c in zip(made.needs, good, strict=True) if c is closing]
        return found

    def need(self, closing: Closing) -> list[Need]:
        """What a closing needs; empty where its pieces are not known."""
        return self.needs.get(id(closing), [])


def _real(layers: tuple[int, ...], count: int) -> tuple[int, ...]:
    return tuple(dict.fromkeys(n for n in layers if 1 <= n <= count))


def few(names: list[str]) -> str:
    """The first few names and how many more."""
    rest = len(names) - _FEW
    return ", ".join(names[:_FEW]) + (f" and {rest} more" if rest > 0 else "")


def every_piece_is_there(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """Counts match orders.csv."""
    for line in table.day.lines:
        lost = [piece for piece in line.pieces if piece not in table.closings_of and table.counts(piece)]
        if lost:
            have = line.quantity - len(lost)
            text = f"{have} of {line.quantity} pieces of orders.csv are pressed; missing: {few(lost)}"
            yield Finding("piece-missing", f'{FILE}, order "{line.order}", line "{line.line}"', text)


def every_layer_once(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """Every layer of every placement is pressed exactly once."""
    for piece, closings in table.closings_of.items():
        line = table.line_of.get(piece)
        if line is None:
            continue
        pressed: dict[tuple[str, int], list[Closing]] = defaultdict(list)
        for closing in closings:
            for layer in closing.layers:
                pressed[closing.loading.placement, layer].append(closing)
        yield from _layers(table, piece, table.day.design[line.design], pressed)


def _layers(
    table: Table, piece: str, design: Design, pressed: dict[tuple[str, int], list[Closing]]
) -> Iterator[Finding]:
    wanted = {(place.at, n) for place in design.placement for n in range(1, len(place.layer) + 1)}
    for placement, layer in sorted(wanted - pressed.keys()):
        text = f'layer {layer} of "{placement}" is never pressed on piece "{piece}"'
        yield Finding("layer-missing", f'{FILE}, piece "{piece}"', text)
    for (placement, layer), closings in pressed.items():
        entry = closings[-1].dwell
        if (placement, layer) not in wanted:
            text = f'design "{design.id}" has no layer {layer} on "{placement}"'
            yield table.find("layer-unknown", entry, text)
        elif len(closings) > 1:
            text = f'layer {layer} of "{placement}" is pressed {len(closings)} times on piece "{piece}"; once is right'
            yield table.find("layer-twice", entry, text)


def closings_are_legal(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """Overlaps in order, carriers clear, films of one closing agree, represses where films want them."""
    for key, made in recipes.known.items():
        pieces = recipes.alike[key]
        closings = recipes.of[pieces[0]][1]
        also = "" if len(pieces) == 1 else f" (so for {len(pieces)} pieces)"
        for rule, place, message in made.wrong:
            yield table.find(rule, closings[place].dwell, f'piece "{pieces[0]}": {message}{also}')


def operations_are_numbered(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """Operation numbers run from 1 in time order within each placement."""
    for piece, closings in table.closings_of.items():
        count: dict[str, int] = defaultdict(int)
        for closing in closings:
            place = closing.loading.placement
            count[place] += 1
            if closing.number != count[place]:
                text = f'operation {closing.number} of "{place}" on piece "{piece}" comes as number {count[place]}'
                yield table.find("operation-number", closing.dwell, text)


def no_needless_closings(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """No piece gets more closings on a placement than others of the same garment and design."""
    counts: dict[tuple[str, str, str], dict[str, int]] = defaultdict(dict)
    for (garment, design, steps), pieces in recipes.alike.items():
        for place in {step[0] for step in steps}:
            number = sum(step[0] == place for step in steps)
            counts[garment, design, place].update(dict.fromkeys(pieces, number))
    for (_, design, place), by_piece in counts.items():
        least = min(by_piece.values())
        more = [piece for piece, number in by_piece.items() if number > least]
        if more:
            text = f'{by_piece[more[0]]} closings on "{place}" of "{design}" where {least} do: {few(more)}'
            yield Finding("more-operations", f'{FILE}, piece "{more[0]}"', text)


def prepress_is_due(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """The first closing on a placement is a prepress where the garment wants one, and only then."""
    for closing in table.closings():
        for need in recipes.need(closing):
            if need.prepress is not None and closing.prepress is None and need.prepress.lo > 0:
                text = f'{need.prepress} s of prepress come before the first layers on "{need.step[0]}"; there is none'
                yield table.find("prepress-missing", closing.dwell, text)
            elif need.prepress is None and closing.prepress is not None:
                text = f'a prepress on "{need.step[0]}" where none is due'
                yield table.find("prepress-unwanted", closing.prepress, text)


def one_place_at_once(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """A piece is on one press or in one pair of hands at a time."""
    stays: dict[str, list[tuple[int, int, Entry]]] = defaultdict(list)
    for loading in table.loadings.values():
        for piece in dict.fromkeys(loading.pieces):
            stays[piece].append((loading.start, loading.end, loading.first))
            stays[piece].extend((e.start, e.end, e) for e in loading.off_press)
    for piece, spans in stays.items():
        spans.sort(key=lambda span: span[:2])
        for before, after in pairwise(spans):
            if after[0] < before[1]:
                text = f'piece "{piece}" is taken up at {table.clock(after[0])}, but is in {table.where(before[2])}'
                yield table.find("piece-in-two-places", after[2], f"{text} until {table.clock(before[1])}")


def rows_name_their_line(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """Pieces, order, line and placement of a row belong together."""
    for entry in table.entries:
        row = entry.row
        if entry.what == "change":
            continue
        if not row.pieces:
            yield table.find("unknown-piece", entry, f"the {entry.what} row names no piece")
        strange = [piece for piece in row.pieces if piece not in table.line_of]
        if strange:
            yield table.find("unknown-piece", entry, f"orders.csv has no piece {few(strange)}")
        if len(set(row.pieces)) < len(row.pieces):
            yield table.find("piece-twice", entry, f"a piece stands twice in {few(list(row.pieces))}")
        lines = {table.line_of[piece].key for piece in row.pieces if piece in table.line_of}
        if lines and lines != {(row.order, row.line)}:
            right = "; ".join(f'order "{order}", line "{line}"' for order, line in sorted(lines))
            yield table.find("wrong-line", entry, f'order "{row.order}", line "{row.line}" is written, right: {right}')


def placements_exist(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """A loading presses a placement that its design has."""
    for loading in table.loadings.values():
        if loading.line is not None and table.placement(loading) is None:
            text = f'design "{loading.line.design}" has no placement "{loading.placement}"'
            yield table.find("unknown-placement", loading.first, text)


def peel_before_the_next(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """The next closing of a piece begins after the peel of the one before."""
    told: set[int] = set()
    for piece, closings in table.closings_of.items():
        for before, after in pairwise(closings):
            if before.peel is None or id(after) in told:
                continue
            begins = _begins(after, before.loading)
            if begins < before.peel.end:
                told.add(id(after))
                text = f'piece "{piece}" is taken up at {table.clock(begins)}, before its peel ends at'
                yield table.find("peel-before-next", after.dwell, f"{text} {table.clock(before.peel.end)}")


def _begins(closing: Closing, before: Loading) -> int:
    return closing.begin if closing.loading is before else closing.loading.start
