"""The road from a day folder to a Day."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from models.catalog import Catalog
from models.day import Day
from models.design import Designs
from models.shop import Shop
from scheduler.calendar import next_opening
from scheduler.intake.files import open_folder, read_bytes, sha256, there
from scheduler.intake.findings import Findings
from scheduler.intake.orders import NAME_COLUMNS, ORDER_COLUMNS, read_lines, read_names
from scheduler.intake.references import Raw, check_personal, check_references
from scheduler.intake.repeats import ids_once, lines_once, pieces_once, places_once
from scheduler.intake.sense import check_sense, length_of, unit_of
from scheduler.intake.tables import Columns, Row, read_csv
from scheduler.intake.toml import plain, read_toml
from scheduler.intake.words import Units, note
from scheduler.intake.workbook import read_xlsx

M = TypeVar("M", bound=BaseModel)


def read_day(folder: Path, now: datetime | None = None, edit: Callable[[Raw], None] = lambda raw: None) -> Day:
    """Read a day folder (contract, section 1). Raises BadInput with every problem of every file.

    `now` (local, naive; left out: the clock) counts where shop.toml gives no start: planning begins at
    the next opening. `edit` may change what was read before it is checked: a day as it might be.
    """
    found = Findings()
    if not open_folder(folder, found):
        found.raise_any()
    inputs: dict[str, str] = {}
    raw = _read(folder, inputs, found)
    edit(raw)
    units = (unit_of(raw.shop), length_of(raw.shop))
    shop = _model(Shop, raw.shop, "shop.toml", units, found)
    catalog = _model(Catalog, raw.catalog, "catalog.toml", units, found)
    designs = _model(Designs, raw.designs, "designs.toml", units, found)
    _check(raw, found)
    found.raise_any()
    assert shop and catalog and designs and raw.lines is not None and raw.names is not None
    return Day(
        shop=shop,
        catalog=catalog,
        designs=designs,
        lines=tuple(line.value for line in raw.lines if line.value),
        start=shop.start or next_opening(shop.hours, (now or datetime.now()).replace(microsecond=0)),
        names=tuple(row.value for row in raw.names if row.value),
        inputs=inputs,
    )


def _read(folder: Path, inputs: dict[str, str], found: Findings) -> Raw:
    raw = Raw(
        shop=read_toml(folder / "shop.toml", found, inputs),
        catalog=read_toml(folder / "catalog.toml", found, inputs),
        designs=read_toml(folder / "designs.toml", found, inputs),
    )
    raw.orders = _orders_file(folder, found)
    rows = _rows(folder / raw.orders, ORDER_COLUMNS, inputs, found)
    raw.lines = None if rows is None else read_lines(rows, raw.orders, found)
    raw.names_file = there(folder / "names.csv")
    if raw.names_file:
        rows = _rows(folder / "names.csv", NAME_COLUMNS, inputs, found)
        raw.names = None if rows is None else read_names(rows, "names.csv", found)
    if there(folder / "log.csv"):
        data = read_bytes(folder / "log.csv", found)
        inputs.update({} if data is None else {"log.csv": sha256(data)})
    return raw


def _orders_file(folder: Path, found: Findings) -> str:
    if not there(folder / "orders.xlsx"):
        return "orders.csv"
    if not there(folder / "orders.csv"):
        return "orders.xlsx"
    wrong = "orders.csv lies beside it, and there is no telling which of them holds"
    found.add("orders.xlsx", "", "", "", wrong, "Keep one of them in the folder")
    return "orders.csv"


def _rows(path: Path, columns: Columns, inputs: dict[str, str], found: Findings) -> list[Row] | None:
    data = read_bytes(path, found)
    if data is None:
        return None
    inputs[path.name] = sha256(data)
    reader = read_xlsx if path.suffix == ".xlsx" else read_csv
    return reader(data, path.name, columns, found)


def _model(model: type[M], raw: dict[str, Any] | None, file: str, units: Units, found: Findings) -> M | None:
    if raw is None:
        return None
    try:
        return model.model_validate(plain(raw), strict=True)
    except ValidationError as error:
        note(error, file, raw, model, units, found)
    except RecursionError:
        found.add(file, "", "", "", "tables lie too deep inside each other", "Write them flat")
    return None


def _check(raw: Raw, found: Findings) -> None:
    for file, node, kinds in (
        ("shop.toml", raw.shop, ("press", "person")),
        ("catalog.toml", raw.catalog, ("film", "garment")),
        ("designs.toml", raw.designs, ("design",)),
    ):
        for kind in kinds:
            ids_once(node, file, kind, found)
    places_once(raw.designs, found)
    lines_once(raw.lines or (), raw.orders, found)
    pieces_once(raw.names or (), found)
    check_references(raw, found)
    check_personal(raw, found)
    check_sense(raw, found)
