"""What generated days are stocked with: ordinary films, garments, presses, people, and designs drawn from them.

Film settings lie inside the ordinary ranges of their kind (common practice); the film maker's data sheet decides.
"""

from __future__ import annotations

import random
from typing import Any

Table = dict[str, Any]


def _film(
    name: str, kind: str, temperature: list[int], dwell: Any, pressure: list[str], peel: str, **more: Any
) -> Table:
    film = {"id": name, "kind": kind, "temperature": temperature, "dwell_s": dwell, "pressure": pressure, "peel": peel}
    return film | {"carrier": 0.5} | more


_MEDIUM, _FIRM = ["medium"], ["firm"]

COOL = ["cool-white", "cool-teal", "cool-lime"]
BASE = ["smooth-navy", "smooth-red", "smooth-sand", "stretch-black", "stretch-coral", "print-sheet"]
TOP = ["glitter-gold", "glitter-rose", "flock-moss", "foil-silver", "puff-white"]
ALONE = ["reflect-grey"]

FILMS: list[Table] = [
    _film("cool-white", "low-temperature", [255, 275], [12, 16], _MEDIUM, "warm", reheat_max=300),
    _film("cool-teal", "low-temperature", [260, 285], [10, 14], _MEDIUM, "warm"),
    _film("cool-lime", "low-temperature", [250, 265], 12, _MEDIUM, "warm"),
    _film("smooth-navy", "smooth", [300, 315], [12, 15], _MEDIUM, "warm", tack_s=4),
    _film("smooth-red", "smooth", [305, 320], 12, _MEDIUM, "hot", tack_s=4),
    _film("smooth-sand", "smooth", [300, 320], [10, 14], _MEDIUM, "warm", tack_s=3),
    _film("stretch-black", "stretch", [310, 330], [12, 18], _MEDIUM, "warm"),
    _film("stretch-coral", "stretch", [300, 325], [15, 20], _MEDIUM, "hot"),
    _film("print-sheet", "printable", [310, 325], [14, 18], _MEDIUM, "warm"),
    _film("glitter-gold", "glitter", [320, 330], [15, 20], _FIRM, "warm", top_only=True),
    _film("glitter-rose", "glitter", [320, 328], 16, _FIRM, "warm", top_only=True),
    _film("flock-moss", "flock", [310, 330], [15, 20], _FIRM, "cold", peel_after_s=[45], top_only=True),
    _film("foil-silver", "foil", [300, 320], [10, 16], ["medium", "firm"], "cold", peel_below=105, top_only=True),
    _film("puff-white", "puff", [285, 305], [8, 12], ["light"], "hot", top_only=True),
    _film("reflect-grey", "reflective", [300, 320], [12, 18], _FIRM, "cold", peel_after_s=[60]),
]

GARMENTS: list[Table] = [
    {"id": "cotton-tee", "fabric": "cotton", "iron": 3, "prepress_s": 4, "cooling_tau_s": 29},
    {"id": "blend-tee", "fabric": "cotton and polyester", "max_temperature": 330, "cooling_tau_s": 30},
    {"id": "heavy-hood", "fabric": "cotton", "iron": 3, "prepress_s": [4, 8], "load_s": 13, "cooling_tau_s": 40},
    {"id": "canvas-bag", "fabric": "cotton", "iron": 3, "load_s": 7, "cooling_tau_s": 35, "footprint": [8, 9]},
    {"id": "sport-shirt", "fabric": "polyester", "max_temperature": 290, "prepress_s": 3, "cooling_tau_s": 25},
    {"id": "rain-shell", "fabric": "nylon", "max_temperature": 285, "load_s": 12, "cooling_tau_s": 25},
]
WARM_GARMENTS = ["cotton-tee", "blend-tee", "heavy-hood"]
COOL_GARMENTS = ["sport-shirt", "rain-shell"]

_PRESSURES = ["light", "medium", "firm"]


def _press(platen: list[int], up: float, down: float, settle: int, **more: Any) -> Table:
    return {
        "id": "",
        "platen": platen,
        "temperature": [200, 400],
        "heat_up": up,
        "cool_down": down,
        "settle_s": settle,
        "pressures": _PRESSURES,
        "pressure_change_s": 30,
    } | more


PRESSES: list[Table] = [
    _press([16, 20], 25, 4, 60),
    _press([16, 20], 35, 6, 45, auto_open=True, stations=2),
    _press([16, 16], 40, 8, 45, pressure_change_s=20),
    _press([20, 25], 15, 3, 90, auto_open=True),
    _press([16, 20], 30, 5, 60, stations=2),
]

PEOPLE: list[Table] = [
    {"id": "", "pace": 1.0},
    {"id": "", "pace": 1.05},
    {"id": "", "pace": 0.95, "breaks": [["10:20", "10:35"], ["12:00", "12:30"]]},
    {"id": "", "pace": 1.15, "open": "08:30"},
]


def designs_of(count: int, rng: random.Random) -> list[tuple[Table, list[str]]]:
    """So many designs, each with the garments it suits."""
    made = [_design("small-bag", rng, [BASE], ["canvas-bag"], small=True)]
    while len(made) < count:
        cool = rng.random() < 0.3
        films = [COOL] if cool else [BASE, TOP, ALONE]
        made.append(_design(f"design-{len(made)}", rng, films, COOL_GARMENTS if cool else WARM_GARMENTS))
    return made


def _design(
    name: str, rng: random.Random, films: list[list[str]], suits: list[str], small: bool = False
) -> tuple[Table, list[str]]:
    places = 1 if small else rng.choice((1, 1, 1, 2, 2, 3))
    names = ("front", "back", "sleeve")
    placement = [{"at": at, "layer": _layers(rng, films, small)} for at in names[:places]]
    garments = suits if small else rng.sample(suits, min(2, len(suits)))
    return {"id": name, "placement": placement}, garments


def _layers(rng: random.Random, films: list[list[str]], small: bool) -> list[Table]:
    """One to four layers: side by side, or the last over the one before it."""
    kind = rng.random()
    base = rng.choice(films[0])
    if kind < 0.5 or small:
        group = [base] if rng.random() < 0.6 or len(films) == 1 else [rng.choice(films[1] + films[2])]
        return [_box(film, n) for n, film in enumerate(group)]
    if kind < 0.75:  # one film in several parts, side by side: one closing
        return [_box(base, n) for n in range(rng.choice((2, 2, 3, 4)))]
    over = rng.choice(films[1]) if len(films) > 1 else rng.choice(films[0])
    parts = [_box(base, n) for n in range(rng.choice((1, 1, 2, 3)))]
    return [*parts, {"film": over, "box": [1, 0.5, 3, 1]}]


def _box(film: str, row: int) -> Table:
    return {"film": film, "box": [0, 2.2 * row, 7, 1.5]}
