"""The rules in the order they are checked."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from models.day import Day
from models.plan import Row
from scheduler.audit import closings, continued, fewest, hands, limits, pieces, presses
from scheduler.audit.day_log import Continued
from scheduler.audit.finding import Finding
from scheduler.audit.pieces import Recipes
from scheduler.audit.table import Table

Rule = Callable[[Table, Recipes], Iterator[Finding]]

RULES: tuple[Rule, ...] = (
    limits.rows_make_sense,
    pieces.rows_name_their_line,
    pieces.placements_exist,
    # 1: every operation of every piece once, in a legal order, no piece in two places
    pieces.every_piece_is_there,
    pieces.every_layer_once,
    pieces.closings_are_legal,
    pieces.operations_are_numbered,
    pieces.no_needless_closings,
    fewest.no_way_with_fewer,
    pieces.prepress_is_due,
    pieces.one_place_at_once,
    # 2: one closing at a time, stations, the grammar of loadings
    presses.loadings_are_whole,
    presses.loadings_stay_the_same,
    presses.rows_tell_their_operation,
    presses.ends_tell_their_operation,
    presses.one_closing_at_a_time,
    presses.no_more_than_its_stations,
    # 3: settings and changes
    presses.changes_belong_to_no_loading,
    presses.settings_are_possible,
    presses.rows_show_the_setting,
    presses.closings_suit_the_setting,
    presses.nothing_on_it_while_it_changes,
    presses.warm_ups_are_there,
    presses.changes_take_their_time,
    # 4: dwells, openings, closings
    closings.dwells_are_right,
    closings.someone_opens,
    closings.someone_closes,
    # 5: peels
    closings.peels_are_there,
    closings.peels_are_in_time,
    pieces.peel_before_the_next,
    # 6: people and hours
    hands.hands_have_a_person,
    hands.one_thing_at_a_time,
    hands.people_know_their_presses,
    hands.people_are_there,
    limits.loadings_in_opening_hours,
    limits.changes_in_opening_hours,
    # 7: hand times, ready times, platens, rack
    hands.hands_take_their_time,
    limits.within_the_plans_days,
    limits.nothing_before_ready,
    limits.presses_take_the_work,
    limits.the_rack_holds,
    # a plan made again: what was worked, what the log says nobody can work with
    continued.worked_as_planned,
    continued.nothing_on_a_press_that_is_down,
    continued.nothing_by_somebody_absent,
    continued.nothing_for_a_cancelled_order,
    continued.blanks_are_there,
    continued.presses_are_set_again,
)


def broken(day: Day, rows: Sequence[Row], continued: Continued | None = None) -> list[Finding]:
    """Every finding in a timetable, rule by rule."""
    table = Table(day, rows, continued=continued)
    return check(table, Recipes(table))


def check(table: Table, recipes: Recipes) -> list[Finding]:
    """The same, of rows already grouped."""
    return [finding for rule in RULES for finding in rule(table, recipes)]
