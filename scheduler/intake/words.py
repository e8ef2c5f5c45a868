"""pydantic's findings in the shop's words: where, what was found, what is wrong, what would be right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from scheduler.intake.findings import Findings, nearest, show
from scheduler.intake.hints import right, unit

Units = tuple[str, str]  # the words for degrees and for length: ("F", "in")

ARRAYS = ("press", "person", "film", "garment", "design", "placement", "layer")
_FILE_TABLE = {"shop.toml": "shop", "catalog.toml": "catalog", "designs.toml": "designs"}
_SUB_TABLES = {
    "shop": ("units", "hours", "room", "hands", "rules", "goals", "spread"),
    "press": ("heating", "cooling"),
}

# pydantic's error types that need no figures.
_PLAIN = {
    "missing": "it is missing",
    "string_type": "this must be text in quotes",
    "string_too_short": "this must not be empty",
    "int_type": "this must be a whole number",
    "int_parsing": "this must be a whole number",
    "int_parsing_size": "this number is far too large",
    "int_from_float": "this must be a whole number",
    "float_type": "this must be a number",
    "float_parsing": "this must be a number",
    "finite_number": "this must be a plain number, neither infinite nor nan",
    "bool_type": "this must be true or false, without quotes",
    "bool_parsing": "this must be true or false, without quotes",
    "tuple_type": "this must be a list in [ ]",
    "model_type": "this must be a table",
    "model_attributes_type": "this must be a table",
    "dict_type": "this must be a table",
}
_BOUNDS = {
    "greater_than": ("gt", "must be above"),
    "greater_than_equal": ("ge", "must be at least"),
    "less_than": ("lt", "must be below"),
    "less_than_equal": ("le", "must be at most"),
}
# What the models' own checks say would be right, and what is wrong where they say it.
_MODEL_WORDS = {
    "write a time of day": "this is no time of day",
    "write a local date": "this is no local date and time",
    "write one number": "this is neither a number nor a pair of numbers",
    "give either heat_up": "of heat_up and heating exactly one is needed",
    "give either cool_down": "of cool_down and cooling exactly one is needed",
    "give either box": "of box and outline exactly one is needed",
    "name at least one": "an empty list leaves nothing that is allowed",
}


def note(error: ValidationError, file: str, raw: Any, model: type[BaseModel], units: Units, found: Findings) -> None:
    """Note each of pydantic's errors about a TOML file; `raw` is what was read, before any conversion."""
    for item in error.errors(include_url=False):
        where, table, fields, value = place(item["loc"], raw, _FILE_TABLE[file])
        if item["type"] == "too_short" and len(value) >= item["ctx"]["min_length"]:
            continue  # pydantic counts only the items that are right, and those that are not have been noted
        field = fields[0] if fields else ""
        wrong, good = say(item, table, field, value, units, _known(model, item["loc"]))
        if not fields and isinstance(value, dict):
            fields = _first_words(wrong)
            value = _inside(value, fields[0]) if fields else None
            good = good or _hint_of(table, fields, units)
        good = good or f"Write keys and values under [[{table}]]"
        found.add(file, where, ", ".join(fields), show(value), wrong, good)


def place(loc: Sequence[int | str], raw: Any, table: str) -> tuple[str, str, list[str], Any]:
    """Where a location lies: the table in words, its kind, the field with its items, and the value there."""
    where: list[str] = []
    fields: list[str] = []
    node, keys = raw, list(loc)
    while keys:
        key = keys.pop(0)
        node = _inside(node, key)
        if isinstance(key, str) and key in ARRAYS and keys and isinstance(keys[0], int) and not fields:
            number = keys.pop(0)
            node, table = _inside(node, number), key
            where.append(f"{f'[[{key}]]' if not where else key} {int(number) + 1}{_label(node)}")
        elif key in _SUB_TABLES.get(table, ()) and (keys or isinstance(node, dict)) and not fields:
            table = str(key)
            where.append(f"[{key}]" if not where else table)
        else:
            fields.append(key if isinstance(key, str) else f"item {key + 1}")
    return ", ".join(where), table, fields, node


def say(
    item: ErrorDetails, table: str, field: str, value: Any, units: Units, known: Sequence[str] = ()
) -> tuple[str, str]:
    """What is wrong and what would be right, for one of pydantic's errors."""
    kind, context = item["type"], item.get("ctx", {})
    good = right(table, field, units)
    if kind == "value_error":
        return _own_check(str(context["error"]), good)
    if kind == "extra_forbidden":
        return "there is no such key here", _known_keys(field, known)
    if kind in _BOUNDS:
        bound, words = _BOUNDS[kind]
        return f"this {words} {context[bound]:.12g}{unit(field, units)}", good
    if kind == "literal_error":
        return f"this must be {context['expected']}", _near_literal(value, context["expected"]) or good
    if kind == "missing" and isinstance(item["loc"][-1], int):
        return "the list is too short", good
    return _plain_words(kind, context, value) or item["msg"], good


def _plain_words(kind: str, context: Mapping[str, Any], value: Any) -> str:
    if kind == "tuple_type" and isinstance(value, dict):
        return "this must be [[…]] with two pairs of brackets, as many as there are"
    if kind == "too_short":
        return f"this holds {context['actual_length']}, it must hold at least {context['min_length']}"
    if kind == "too_long":
        return f"this holds more than {context['max_length']}"
    if kind == "string_too_long":
        return f"this is longer than {context['max_length']} characters"
    return _PLAIN.get(kind, "")


def _own_check(message: str, good: str) -> tuple[str, str]:
    for start, wrong in _MODEL_WORDS.items():
        if message.startswith(start):
            return wrong, good or message[0].upper() + message[1:]
    wrong, _, better = message.partition("; ")
    return wrong, better[:1].upper() + better[1:] or good


def _known_keys(field: str, known: Sequence[str]) -> str:
    near = nearest(field, known, 2)
    if near:
        return f"Did you mean {' or '.join(near)}?"
    return f"Take it out; known keys: {', '.join(known)}" if known else "Take it out"


def _near_literal(value: Any, expected: str) -> str:
    words = [word for word in expected.replace(" or ", ", ").replace("'", "").split(", ") if word]
    near = nearest(value, words, 1) if isinstance(value, str) else []
    return f'Did you mean "{near[0]}"?' if near else ""


def _known(model: type[BaseModel], loc: Sequence[int | str]) -> list[str]:
    """The keys of the table in which the location's last key stands."""
    for key in loc[:-1]:
        if isinstance(key, str):
            inner = _models_in(model.model_fields[key].annotation) if key in model.model_fields else []
            if not inner:
                return []
            model = inner[0]
    return list(model.model_fields)


def _models_in(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [found for part in getattr(annotation, "__args__", ()) for found in _models_in(part)]


def _first_words(wrong: str) -> list[str]:
    """The field a check of a whole table speaks of, where it begins with it."""
    first = wrong.split(":")[0].split(" ")[0]
    return [first] if "_" in first or "." in first or first in ("open", "close") else []


def _hint_of(table: str, fields: Sequence[str], units: Units) -> str:
    *above, field = f"{table}.{fields[0]}".split(".")[-2:] if fields else ("", "")
    return right(above[0], field, units)


def _inside(node: Any, key: int | str) -> Any:
    if isinstance(node, dict):
        return node.get(key)
    if isinstance(node, (list, tuple)) and isinstance(key, int) and key < len(node):
        return node[key]
    return None


def _label(node: Any) -> str:
    name = next((node[key] for key in ("id", "at") if key in node), None) if isinstance(node, dict) else None
    return f" {show(name)}" if isinstance(name, str) else ""
