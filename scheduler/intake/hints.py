"""What would be right, field by field. `{t}` and `{l}` stand for the shop's degree and length unit."""

from __future__ import annotations

_HAND = "Write seconds a piece, as {field} = 8"
_WINDOW = "Write {t}, one number or [lowest, highest], as temperature = [300, 315]"
_CLOCK = 'Write a time of day in 24 hours, as {field} = "08:00"'
_DAYS = 'Write days out of mon, tue, wed, thu, fri, sat, sun, as days = ["mon", "tue"]'
_BREAKS = 'Write pairs of times of day, as breaks = [["12:00", "12:30"]]'
_AWAY = 'Write pairs of local times, as away = [["2026-12-01T14:00", "2026-12-01T15:00"]]'
_WEIGHT = "Write minutes from 0 to 10000, as {field} = 10"
_BOX = "Write [x, y, width, height] in {l}, as box = [0, 0, 11, 5]"
_OUTLINE = "Write at least three points in {l}, as outline = [[0, 0], [4, 0], [2, 3]]"
_MOMENT = "Write a local date and time without a zone, as 2026-12-01T08:00"

# By table and field, as the models have them; tests hold this list against the models.
RIGHT: dict[str, str] = {
    "shop.name": 'Write the shop\'s name, as name = "Corner Press"',
    "shop.start": 'Write a local date and time without a zone, as start = "2026-12-01T08:00"',
    "shop.units": 'Write it as a table: [units], then temperature = "F"',
    "shop.hours": 'Write it as a table: [hours], then open = "08:00"',
    "shop.room": "Write it as a table: [room], then temperature = 72",
    "shop.hands": "Write it as a table: [hands], then load_s = 10",
    "shop.rules": "Write it as a table: [rules], then rack = 60",
    "shop.goals": "Write it as a table: [goals], then change = 10",
    "shop.spread": "Write it as a table: [spread], then hands = 0.25",
    "shop.press": "Write at least one press under [[press]], with two pairs of brackets",
    "shop.person": "Write at least one person under [[person]], with two pairs of brackets",
    "units.temperature": 'Write what the press displays show, temperature = "F" or temperature = "C"',
    "units.length": 'Write length = "in" or length = "cm"',
    "hours.open": _CLOCK,
    "hours.close": 'Write a time of day in 24 hours, as close = "17:00"',
    "hours.days": _DAYS,
    "hours.breaks": _BREAKS,
    "room.temperature": "Write the room's {t}, as temperature = {room}",
    "hands.load_s": _HAND,
    "hands.align_s": "Write seconds a layer and piece, as align_s = 8",
    "hands.unload_s": _HAND,
    "hands.peel_s": "Write seconds a layer and piece, as peel_s = 4",
    "rules.late_open_s": "Write whole seconds from 0 to 600, as late_open_s = 3",
    "rules.rack": "Write a whole number of pieces from 1, as rack = 60, or leave it out for no limit",
    "rules.many_layers": "Write a whole number of layers from 1 to 1000, as many_layers = 8",
    "goals.change": _WEIGHT,
    "goals.peel_wait": _WEIGHT,
    "goals.finish": _WEIGHT,
    "spread.hands": "Write how far one hand row strays as a share of its length, from 0 to 2, as hands = 0.25",
    "spread.pace": "Write how far a person's days differ as a share, from 0 to 1, as pace = 0.05",
    "spread.change": "Write how far changes of setting stray as a share of their length, from 0 to 2, as change = 0.15",
    "spread.spoil": "Write the share of pieces that are spoiled, from 0 to 0.5, as spoil = 0.02",
    "press.id": 'Write a short name, used once, as id = "window"',
    "press.platen": "Write width and length in {l}, as platen = [16, 20]",
    "press.stations": "Write a whole number of lower platens from 1 to 6, as stations = 1",
    "press.temperature": "Write what it can be set to in {t}, [lowest, highest], as temperature = [200, 430]",
    "press.heat_up": "Write {t} a minute, above 0 and at most 1000, as heat_up = 25",
    "press.cool_down": "Write {t} a minute, above 0 and at most 1000, as cool_down = 4",
    "press.heating": "Write { ceiling = {t}, tau_min = minutes }, as heating = { ceiling = 520, tau_min = 22 }",
    "press.cooling": "Write { tau_min = minutes }, as cooling = { tau_min = 60 }",
    "press.settle_s": "Write whole seconds from 0 to 7200, as settle_s = 60",
    "press.at_start": "Write {t}, as at_start = {room}, or leave it out for the room's",
    "press.auto_open": "Write true or false, as auto_open = false",
    "press.pressures": 'Write words in a list, as pressures = ["light", "medium", "firm"]',
    "press.pressure_change_s": "Write whole seconds from 0 to 7200, as pressure_change_s = 30",
    "press.garments": 'Write garments of catalog.toml in a list, as garments = ["league-tee"], or leave it out',
    "press.placements": 'Write placements of designs.toml in a list, as placements = ["front"], or leave it out',
    "press.away": _AWAY,
    "heating.ceiling": "Write the {t} the platen would climb to in the end, as ceiling = 520",
    "heating.tau_min": "Write minutes above 0 and at most 1440, as tau_min = 22",
    "cooling.tau_min": "Write minutes above 0 and at most 10000, as tau_min = 60",
    "person.id": 'Write a short name, used once, as id = "ada"',
    "person.presses": 'Write presses in a list, as presses = ["window"], or leave it out for all',
    "person.open": _CLOCK,
    "person.close": 'Write a time of day in 24 hours, as close = "17:00"',
    "person.days": _DAYS,
    "person.breaks": _BREAKS,
    "person.away": _AWAY,
    "person.pace": "Write a factor from 0.1 to 10, as pace = 1.0",
    "catalog.film": "Write at least one film under [[film]], with two pairs of brackets",
    "catalog.garment": "Write at least one garment under [[garment]], with two pairs of brackets",
    "film.id": 'Write a short name, used once, as id = "smooth-navy"',
    "film.kind": 'Write a word, as kind = "smooth"',
    "film.temperature": _WINDOW,
    "film.dwell_s": "Write seconds from 1 to 7200, one number or [shortest, longest], as dwell_s = [15, 18]",
    "film.pressure": 'Write words that presses use, as pressure = ["medium"], or leave it out for any',
    "film.peel": 'Write peel = "hot", "warm" or "cold"',
    "film.peel_after_s": "Write seconds after the press opens, [earliest, latest], as peel_after_s = [5, 30]",
    "film.peel_below": "Write {t} above the room's, as peel_below = {warm}",
    "film.top_only": "Write true or false, as top_only = true",
    "film.tack_s": "Write seconds above 0 and at most 7200, as tack_s = 5",
    "film.reheat_max": "Write {t}, as reheat_max = {hot}",
    "film.reheats": "Write a whole number from 0 to 1000, as reheats = 6",
    "film.repress_s": "Write seconds above 0 and at most 7200, as repress_s = 5",
    "film.cover_sheet": "Write true or false, as cover_sheet = true",
    "film.carrier": "Write {l} from 0 to 50, as carrier = 0.5",
    "film.align_s": "Write seconds a layer and piece, as align_s = 8",
    "film.peel_hand_s": "Write seconds a layer and piece, as peel_hand_s = 4",
    "film.roll": "Write usable width and length in {l}, as roll = [12, 180]",
    "garment.id": 'Write a short name, used once, as id = "league-tee"',
    "garment.fabric": 'Write a word, as fabric = "polyester"',
    "garment.max_temperature": "Write {t}, as max_temperature = {hot}",
    "garment.iron": "Write the care label's dots, iron = 1, 2 or 3",
    "garment.prepress_s": "Write seconds from 0 to 600, one number or [shortest, longest], as prepress_s = 4",
    "garment.load_s": _HAND,
    "garment.unload_s": _HAND,
    "garment.cooling_tau_s": "Write the seconds of its cooling's time constant, above 0, as cooling_tau_s = 30",
    "garment.footprint": "Write width and length of one piece on the platen in {l}, as footprint = [9, 11]",
    "designs.design": "Write at least one design under [[design]], with two pairs of brackets",
    "design.id": 'Write a short name, used once, as id = "harriers-home"',
    "design.placement": "Write at least one and at most 12 placements under [[design.placement]]",
    "placement.at": 'Write the place, as at = "front"',
    "placement.size": "Write width and height in {l}, as size = [11, 9]",
    "placement.layer": "Write at least one and at most 60 layers, bottom first, under [[design.placement.layer]]",
    "layer.film": 'Write a film of catalog.toml, as film = "smooth-navy"',
    "layer.box": _BOX,
    "layer.outline": _OUTLINE,
    "layer.personal": "Write true or false, as personal = true",
    "layer.align_s": "Write seconds a piece, as align_s = 8",
    "row.order": "Write the order's name on every row, as 1042",
    "row.customer": "Write at most 200 characters",
    "row.line": "Write a short name for the line, or leave it blank for 1, 2, …",
    "row.garment": "Write a garment of catalog.toml",
    "row.size": "Write at most 80 characters",
    "row.quantity": "Write a whole number of pieces from 1 to 100000, as 24",
    "row.design": "Write a design of designs.toml",
    "row.ready": f"{_MOMENT}, or leave it blank for at once",
    "row.due": f"{_MOMENT}, or leave it blank for no due time",
    "row.priority": "Write a number above 0 and at most 1000 with a decimal point, as 1.5, or leave it blank for 1",
    "named.order": "Write the order as the table of orders has it",
    "named.line": "Write the line as the table of orders has it; where it is blank there, its number: 1, 2, …",
    "named.piece": "Write the number of the piece within the line, from 1",
    "named.name": "Write at most 80 characters",
    "named.number": "Write at most 20 characters",
}

_DEGREES = {"temperature", "at_start", "max_temperature", "peel_below", "reheat_max", "ceiling"}
_LENGTHS = {"platen", "size", "box", "outline", "carrier", "footprint", "roll"}


def right(table: str, field: str, units: tuple[str, str]) -> str:
    """What to write in this field, in the shop's units (temperature, length); empty where unknown."""
    degree, length = units
    fahrenheit = degree == "F"
    swaps = {
        "{t}": f"°{degree}",
        "{l}": "inches" if length == "in" else "centimetres",
        "{field}": field,
        "{room}": "72" if fahrenheit else "22",
        "{warm}": "100" if fahrenheit else "38",
        "{hot}": "300" if fahrenheit else "150",
    }
    text = RIGHT.get(f"{table}.{field}", "")
    if not fahrenheit:
        text = text.replace("[300, 315]", "[150, 157]").replace("[200, 430]", "[90, 220]").replace("520", "270")
    for mark, word in swaps.items():
        text = text.replace(mark, word)
    return text


def unit(field: str, units: tuple[str, str]) -> str:
    """The unit of a field's numbers with a space before it, or nothing."""
    if field in _DEGREES:
        return f" °{units[0]}"
    if field in _LENGTHS:
        return f" {units[1]}"
    if field in ("heat_up", "cool_down"):
        return f" °{units[0]} a minute"
    if field.endswith("_s"):
        return " seconds"
    return " minutes" if field.endswith("_min") else ""
