"""The scenario folders are sound and show what their notes say; read without the program's own intake."""

from __future__ import annotations

import re
from collections import Counter
from itertools import combinations

import openpyxl
import pytest
from shapely import Polygon, box

from models.catalog import Film, Garment
from models.design import Layer
from models.shop import WEEKDAYS, Press
from models.units import inward
from tests.scenarios.folders import COLUMNS, NAMES, SCENARIOS, Folder, folder


@pytest.fixture(params=NAMES)
def any_folder(request: pytest.FixtureRequest) -> Folder:
    return folder(request.param)


def shape(layer: Layer) -> Polygon:
    if layer.box is not None:
        x, y, width, height = layer.box
        return box(x, y, x + width, y + height)
    return Polygon(layer.outline)


def overlap(a: Layer, b: Layer) -> bool:
    return bool(shape(a).intersection(shape(b)).area > 1e-9)


def fits(size: tuple[float, float], press: Press) -> bool:
    return any(w <= press.platen[0] and h <= press.platen[1] for w, h in (size, size[::-1]))


def takes(press: Press, garment: str, placement: str) -> bool:
    return (press.garments is None or garment in press.garments) and (
        press.placements is None or placement in press.placements
    )


def common_degrees(film: Film, garment: Garment, unit: str, press: Press) -> bool:
    limit = garment.limit(unit)  # type: ignore[arg-type]
    top = min(film.temperature.hi, press.temperature[1], limit if limit is not None else press.temperature[1])
    return inward(max(film.temperature.lo, press.temperature[0]), top) is not None


def test_every_folder_is_listed() -> None:
    """No scenario lies about untested."""
    assert sorted(NAMES) == sorted(p.name for p in SCENARIOS.iterdir() if (p / "shop.toml").exists())


def test_files_read_with_the_models(any_folder: Folder) -> None:
    """Every file of a scenario is valid, and a day has between 60 and 260 pieces for each day it opens."""
    assert any_folder.shop.press and any_folder.shop.person
    assert any_folder.films and any_folder.garments and any_folder.designs
    pieces = sum(line.quantity for line in any_folder.lines)
    days = len({line.due.date() for line in any_folder.lines if line.due is not None})
    assert 60 <= pieces / days <= 260


def test_the_start_is_written_and_in_december_2026(any_folder: Folder) -> None:
    """A scenario gives the same plan whenever it is run: it says where planning begins."""
    assert any_folder.shop.start is not None
    assert (any_folder.shop.start.year, any_folder.shop.start.month) == (2026, 12)


def test_ids_stand_once_and_refer_to_something(any_folder: Folder) -> None:
    """Orders name garments and designs that exist, layers name films, presses and people name what is there."""
    for line in any_folder.lines:
        assert line.garment in any_folder.garments and line.design in any_folder.designs
    placed = [place for design in any_folder.designs.values() for place in design.placement]
    assert {layer.film for place in placed for layer in place.layer} <= set(any_folder.films)
    at = {place.at for place in placed}
    presses = [press.id for press in any_folder.shop.press]
    assert len(set(presses)) == len(presses)
    for press in any_folder.shop.press:
        assert set(press.garments or ()) <= set(any_folder.garments)
        assert set(press.placements or ()) <= at
    for person in any_folder.shop.person:
        assert set(person.presses or ()) <= set(presses)


def test_everything_in_the_catalogue_is_used(any_folder: Folder) -> None:
    """A film, garment or design that nothing uses would only confuse whoever reads the folder."""
    designs = [any_folder.designs[line.design] for line in any_folder.lines]
    assert {line.garment for line in any_folder.lines} == set(any_folder.garments)
    assert {line.design for line in any_folder.lines} == set(any_folder.designs)
    assert {layer.film for d in designs for place in d.placement for layer in place.layer} == set(any_folder.films)


def test_order_columns_are_the_documented_ones(any_folder: Folder) -> None:
    """orders.csv and orders.xlsx have the ten columns, in the order in which they are described."""
    sheet = any_folder.path / "orders.xlsx"
    if sheet.exists():
        header = list(next(openpyxl.load_workbook(sheet).active.iter_rows(values_only=True, max_row=1)))
    else:
        header = (any_folder.path / "orders.csv").read_text(encoding="utf-8").splitlines()[0].split(",")
    assert header == COLUMNS


def test_times_lie_in_opening_hours(any_folder: Folder) -> None:
    """Orders are wanted on days the shop opens, after planning begins and after their blanks have come."""
    hours, start = any_folder.shop.hours, any_folder.shop.start
    assert start is not None
    for line in any_folder.lines:
        for at in (line.ready, line.due):
            if at is not None:
                assert at >= start
                assert hours.days is None or WEEKDAYS[at.weekday()] in hours.days
                assert hours.open <= at.hour * 3600 + at.minute * 60 <= hours.close
        assert line.ready is None or line.due is None or line.ready < line.due


def test_some_press_takes_each_layer(any_folder: Folder) -> None:
    """For each layer of each order some press takes the placement and shares a degree with film and garment.

    Ironing dots by ISO 3758:2023: 110, 150 and 200 °C at most.
    """
    unit = any_folder.shop.units.temperature
    for line in any_folder.lines:
        garment = any_folder.garments[line.garment]
        for place in any_folder.designs[line.design].placement:
            for layer in place.layer:
                film = any_folder.films[layer.film]
                assert any(
                    takes(press, line.garment, place.at)
                    and fits(place.size or (1, 1), press)
                    and common_degrees(film, garment, unit, press)
                    for press in any_folder.shop.press
                ), (line.order, place.at, layer.film)


def test_nothing_lies_over_a_film_that_goes_last(any_folder: Folder) -> None:
    """Glitter, flock, foil and puff bond badly under another film, so they go on last (common practice)."""
    for film in any_folder.films.values():
        assert film.top_only == (film.kind in {"glitter", "flock", "foil", "puff"})
    for design in any_folder.designs.values():
        for place in design.placement:
            for lower, upper in combinations(place.layer, 2):
                assert not (any_folder.films[lower.film].top_only and overlap(lower, upper)), design.id


def test_cooling_is_known_where_a_peel_waits_for_it(any_folder: Folder) -> None:
    """A film peeled below a temperature lies only on garments whose cooling is known, and above the room's."""
    for line in any_folder.lines:
        for place in any_folder.designs[line.design].placement:
            for layer in place.layer:
                below = any_folder.films[layer.film].peel_below
                if below is not None:
                    assert any_folder.garments[line.garment].cooling_tau_s is not None
                    assert below > any_folder.shop.room_temperature


def test_each_personal_piece_has_its_own_row(any_folder: Folder) -> None:
    """names.csv has one row for each piece with a personal cut and none besides."""
    wanted = {
        (line.order, line.line, number)
        for line in any_folder.lines
        if any_folder.designs[line.design].personal
        for number in range(1, line.quantity + 1)
    }
    found = Counter((row.order, row.line, row.piece) for row in any_folder.names)
    assert set(found) == wanted and max(found.values(), default=1) == 1


def test_the_note_counts_right(any_folder: Folder) -> None:
    """The note says how many pieces the folder holds, and names every order it describes rightly."""
    counted = re.search(r"(\d+) pieces", any_folder.note)
    assert counted is not None
    assert int(counted[1]) == sum(line.quantity for line in any_folder.lines)
    quantities: Counter[str] = Counter()
    for line in any_folder.lines:
        quantities[line.order] += line.quantity
    for order, pieces in re.findall(r"^\| ([A-Z]*-?\d+) [^|]*\| (\d+) \|", any_folder.note, re.MULTILINE):
        assert quantities[order] == int(pieces), order


def test_hands_are_as_fast_as_real_ones(any_folder: Folder) -> None:
    """One press with one person turns out 40 to 70 one-layer pieces an hour (common practice).

    Prepress of 4 s and dwell of 12 s, as common as any; each hand time in its common range.
    """
    hands = any_folder.shop.hands
    assert 5 <= hands.load_s <= 15 and 8 <= hands.align_s <= 20
    assert 3 <= hands.unload_s <= 5 and 3 <= hands.peel_s <= 6
    assert 40 <= 3600 / (hands.load_s + 4 + hands.align_s + 12 + hands.unload_s + hands.peel_s) <= 70


def test_team_shirts_is_one_big_order_among_small_ones() -> None:
    """64 jerseys with names and numbers by 16:00, the other orders a third of that or less, on two presses."""
    team = folder("team-shirts")
    pieces: Counter[str] = Counter()
    for line in team.lines:
        pieces[line.order] += line.quantity
    (bulk, most), *rest = pieces.most_common()
    due = {line.due for line in team.lines if line.order == bulk}
    assert most == 64 and all(quantity <= 64 / 3 for _, quantity in rest)
    assert {at.strftime("%H:%M") for at in due if at} == {"16:00"}
    assert len(team.shop.press) == len(team.shop.person) == 2
    assert {row.order for row in team.names} == {bulk}
    assert all(row.name and row.number for row in team.names)
    assert len({row.number for row in team.names}) == len(team.names)


def test_team_shirts_ends_the_jerseys_front_with_glitter() -> None:
    """The jersey is polyester with a limit under 300 °F, its films are cool ones, and the glitter lies on top."""
    team = folder("team-shirts")
    jersey = team.garments["harrier-jersey"]
    front, back = team.designs["harriers-home"].placement
    limit = jersey.limit("F")
    assert jersey.fabric == "polyester" and limit is not None and limit < 300
    assert all(team.films[layer.film].temperature.hi <= 285 for layer in (*front.layer, *back.layer))
    *below, last = front.layer
    assert team.films[last.film].kind == "glitter" and all(overlap(layer, last) for layer in below)
    assert all(layer.personal for layer in back.layer) and len(back.layer) == 2


def test_two_presses_are_unlike_and_want_different_settings() -> None:
    """One press is big and slow, the other small, quick and with two stations; films share no one set-point."""
    day = folder("two-presses")
    big, quick = day.shop.press
    assert big.platen[0] * big.platen[1] > 2 * quick.platen[0] * quick.platen[1]
    assert big.heat_up and quick.heat_up and big.heat_up * 2 <= quick.heat_up
    assert (big.auto_open, quick.auto_open, quick.stations) == (False, True, 2)
    films = day.films.values()
    assert max(f.temperature.lo for f in films) > min(f.temperature.hi for f in films)
    only_big = [d for d in day.designs.values() for p in d.placement if p.size and not fits(p.size, quick)]
    assert [d.id for d in only_big] == ["regatta-back"] and fits((14, 17), big)


def test_two_presses_need_three_set_points() -> None:
    """Two presses cannot serve the day on one set-point each: the fewest that meet every window are three.

    Interval stabbing: take the lowest upper end, again and again (textbook greedy).
    """
    day = folder("two-presses")
    windows = set()
    for line in day.lines:
        limit = day.garments[line.garment].limit("F") or 400
        for place in day.designs[line.design].placement:
            for layer in place.layer:
                heat = day.films[layer.film].temperature
                windows.add((heat.lo, min(heat.hi, limit)))
    points: list[float] = []
    for lo, hi in sorted(windows, key=lambda window: window[1]):
        if not points or points[-1] < lo:
            points.append(hi)
    assert len(points) == 3 > len(day.shop.press)


def test_fair_weekend_spans_two_days_after_a_closed_one() -> None:
    """Planning begins on a Friday that is closed; Saturday and Sunday both have work of their own."""
    fair = folder("fair-weekend")
    start = fair.shop.start
    assert start is not None and fair.shop.hours.days == ("sat", "sun") and WEEKDAYS[start.weekday()] == "fri"
    assert {WEEKDAYS[line.due.weekday()] for line in fair.lines if line.due} == {"sat", "sun"}
    assert any(line.ready and WEEKDAYS[line.ready.weekday()] == "sun" for line in fair.lines)
    assert (fair.path / "orders.xlsx").exists() and not (fair.path / "orders.csv").exists()


def test_fair_weekend_gangs_small_pieces_and_keeps_caps_apart() -> None:
    """Tags and patches go down by the platenful; caps fit the cap press alone and nothing else does."""
    fair = folder("fair-weekend")
    flat, cap = fair.shop.press
    tag, patch = (fair.garments[g].footprint for g in ("keyring-tag", "felt-patch"))
    assert tag == (1.5, 3) and patch == (3, 3) and flat.platen == (15, 15)
    for line in fair.lines:
        for place in fair.designs[line.design].placement:
            assert takes(cap, line.garment, place.at) == (line.garment == "fair-cap")
            assert takes(flat, line.garment, place.at) == (line.garment != "fair-cap")


def test_mixed_peels_has_every_peel_and_one_person() -> None:
    """Hot, warm and cold peels, a repress, tacks, a film that waits to cool, a rack, one person for two presses."""
    day = folder("mixed-peels")
    films = day.films.values()
    assert {film.peel for film in films} == {"hot", "warm", "cold"}
    assert any(f.repress_s and f.cover_sheet for f in films) and any(f.tack_s for f in films)
    assert any(f.peel_below for f in films) and {"foil", "puff", "reflective"} <= {f.kind for f in films}
    assert len(day.shop.person) == 1 and len(day.shop.press) == 2
    assert day.shop.rules.rack is not None and day.shop.rules.rack < 20


def test_celsius_studio_measures_in_celsius_and_draws_outlines() -> None:
    """A °C and cm shop: measured presses, three of them, two people unlike in hours and pace, outlines."""
    day = folder("celsius-studio")
    assert (day.shop.units.temperature, day.shop.units.length) == ("C", "cm")
    assert len(day.shop.press) == 3 and sum(bool(p.heating and p.cooling) for p in day.shop.press) == 2
    one, other = day.shop.person
    assert one.pace != other.pace and (one.open, one.close) != (other.open, other.close)
    layers = [layer for d in day.designs.values() for p in d.placement for layer in p.layer]
    assert any(layer.outline for layer in layers) and any(layer.box for layer in layers)


def test_celsius_studio_has_an_order_that_must_be_late() -> None:
    """W-14 has less time than two people's hands need for it: the sum of its hand times, everyone at work on it."""
    day = folder("celsius-studio")
    (line,) = [line for line in day.lines if line.order == "W-14"]
    assert line.ready is not None and line.due is not None
    garment, hands = day.garments[line.garment], day.shop.hands
    layers = len(day.designs[line.design].placement[0].layer)
    load, unload = garment.load_s or hands.load_s, garment.unload_s or hands.unload_s
    seconds = line.quantity * (load + unload + layers * (hands.align_s + hands.peel_s))
    speed = sum(1 / person.pace for person in day.shop.person)
    assert seconds / speed > (line.due - line.ready).total_seconds()


def test_celsius_studio_wants_placements_out_of_their_listed_order() -> None:
    """The heron's front is listed first, yet its glitter stands no later pressing, so the back comes before it."""
    day = folder("celsius-studio")
    front, back = day.designs["heron"].placement
    assert (front.at, back.at) == ("front", "back")
    assert any(day.films[layer.film].reheats == 0 for layer in front.layer)
    stretch = day.films["stretch-rust"]
    assert stretch.reheats == 2 and stretch.reheat_max is not None and stretch.reheat_max < stretch.temperature.hi
    assert len(day.designs["mill-wheel"].placement) == 3
