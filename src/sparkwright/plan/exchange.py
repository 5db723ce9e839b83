"""The map as text, out and in: comma-separated, tab-separated, JSON.

The table has the speeds in its first line and the load at the head of each line below; the corner names
them, `kPa by rpm` or another of `plan.load_terms`. Rows may rise or fall in load when read. Where a
controller's rows have speeds of their own, a cell at a speed that its row doesn't have stays empty. JSON is
in kPa, each cell filled with what the controller makes of its rows, and has those rows beside it.
"""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any, Literal, get_args

import numpy as np

from sparkwright.errors import Refusal
from sparkwright.job import LOAD_SPAN_KPA, MOST_NODES, SPEED_SPAN_RPM
from sparkwright.plan.between_cells import Grid
from sparkwright.plan.load_terms import ABSOLUTE, CORNER, Loads, loads_named
from sparkwright.plan.on_rows import nodes_of
from sparkwright.plan.spark_map import SparkMap
from sparkwright.reading import number, number_or_none
from sparkwright.reading.tables import load_text, rows_of

Form = Literal["csv", "tsv", "json"]
FORMS: tuple[Form, ...] = get_args(Form)

MAP_SCHEMA = "urn:sparkwright:map:1"
ADVANCE_SPAN_DEG = (-60.0, 90.0)


def write_map(
    spark_map: SparkMap,
    form: Form,
    loads: Loads = ABSOLUTE,
    *,
    ceilings: Grid | None = None,
    bare: bool = False,
    highest_load_first: bool = False,
) -> str:
    """Write a map as text.

    Parameters
    ----------
    spark_map : SparkMap
        The map.
    form : {"csv", "tsv", "json"}
        Commas, tabs (to paste into a table), or JSON.
    loads : Loads, optional
        In what the loads stand, as ``loads_of`` gives it of a job; kPa absolute otherwise. Not for JSON.
    ceilings : Grid, optional
        The ceilings between the cells of its plan, under which a map by throttle is brought.
    bare : bool
        Cells only, without axes, for a table that has them already. Not for JSON.
    highest_load_first : bool
        Rows from the highest load down, as some tables stand. Not for JSON.

    Returns
    -------
    str
        The text, ending in a line break.

    Raises
    ------
    Refusal
        If JSON is asked for bare or turned over: it names its axes, so that neither has a use.

    Examples
    --------
    >>> spark_map = SparkMap([1000.0, 2000.0], [40.0, 90.0], [[20, 30.5], [10, 20]])
    >>> print(write_map(spark_map, "csv"), end="")
    kPa by rpm,1000,2000
    40,20,30.5
    90,10,20
    """
    if form == "json":
        if bare or highest_load_first:
            raise Refusal.at("form", "json", "must stand with its axes, loads rising", "choose csv or tsv")
        whole: dict[str, Any] = {"schema": MAP_SCHEMA} | {
            name: getattr(spark_map, name).tolist() for name in ("rpm", "kpa", "advance_deg")
        }
        nodes = nodes_of(loads.rows, spark_map.rpm, spark_map.kpa)
        if nodes is not None:
            whole["rows"] = [
                {"kpa": kpa, "rpm": spark_map.rpm[own].tolist(), "advance_deg": cells[own].tolist()}
                for kpa, own, cells in zip(spark_map.kpa.tolist(), nodes, spark_map.advance_deg, strict=True)
            ]
        return json.dumps(whole) + "\n"
    heads, table = loads.table(spark_map, ceilings)
    rows = [[head, *cells] for head, cells in zip(heads, table, strict=True)]
    if highest_load_first:
        rows.reverse()
    lines = [["" if math.isnan(value) else f"{value:.10g}" for value in row] for row in rows]
    if bare:
        lines = [line[1:] for line in lines]
    else:
        lines.insert(0, [loads.corner, *(f"{rpm:.10g}" for rpm in spark_map.rpm)])
    text = io.StringIO()
    csv.writer(text, delimiter="\t" if form == "tsv" else ",", lineterminator="\n").writerows(lines)
    return text.getvalue()


def load_map(path: str | Path, loads: Loads | None = None) -> SparkMap:
    """Read a map from a file that holds any of the forms; which one is told from its content.

    Parameters
    ----------
    path : str or Path
        The file, a page of text: table, CSV or JSON.
    loads : Loads, optional
        As for `read_map`.

    Raises
    ------
    Refusal
        If the file can't be read or holds no map; the message says where.
    """
    return read_map(load_text(Path(path), "map", "a map is a page of text"), loads)


def read_map(text: str, loads: Loads | None = None) -> SparkMap:
    r"""Read a map from text in any of the forms.

    Parameters
    ----------
    text : str
        What `write_map` writes, with its axes.
    loads : Loads, optional
        In what the controller of its job has loads. A corner that names other terms is read in those, and one
        that names none in these; without a job every map is read in kPa absolute.

    Raises
    ------
    Refusal
        If a number is missing, isn't one, or is out of all reason; the message names line and column.

    Examples
    --------
    >>> read_map("kPa by rpm,1000,2000\n90,10,20\n40,20,30").advance_deg.tolist()
    [[20.0, 30.0], [10.0, 20.0]]
    """
    if text.lstrip().startswith("{"):
        return _from_json(text)
    rows = rows_of(text, "map")
    if not rows:
        raise Refusal.at("map", "nothing", "must hold a table of advance", "`sparkwright export` writes one")
    head, *body = rows
    if number_or_none(head.cells[0]) is not None:
        raise Refusal.at(
            f"map, line {head.line}",
            f'"{head.cells[0]}"',
            "must start with a corner that is no number",
            f'write "{CORNER}"',
        )
    loads = loads_named(head.cells[0], loads, f"map, line {head.line}, column 1")
    _require_few(len(head.cells) - 1, len(body))
    for row in body:
        if len(row.cells) != len(head.cells):
            raise Refusal.at(
                f"map, line {row.line}",
                f"{len(row.cells)} columns",
                f"must be {len(head.cells)} as in line {head.line}",
            )
    rpm = [
        _number(cell, head.line, column, SPEED_SPAN_RPM)
        for column, cell in enumerate(head.cells[1:], start=2)
    ]
    for before, after in pairwise(rpm):
        if after <= before:
            said = "stands twice" if after == before else f"falls after {before:g}"
            raise Refusal.at(
                f"map, line {head.line}", f"{after:g} rpm {said}", "must rise from column to column"
            )
    load = [_number(row.cells[0], row.line, 1, loads.span, unit=loads.unit) for row in body]
    cells = [
        [
            math.nan
            if loads.rows is not None and not cell.strip()
            else _number(cell, row.line, column, ADVANCE_SPAN_DEG)
            for column, cell in enumerate(row.cells[1:], start=2)
        ]
        for row in body
    ]
    if len(rpm) < 2 or len(load) < 2:
        return _rising(rpm, load, cells)
    return loads.read(np.array(rpm), np.array(load), np.array(cells))


def _from_json(text: str) -> SparkMap:
    try:
        # Whole numbers of any length as floats: a thousand digits are then infinite, and refused as such.
        whole = json.loads(text, parse_int=float)
    except (json.JSONDecodeError, RecursionError) as problem:
        raise Refusal.at("map", "text", "can't be read as JSON", "it may have been cut short") from problem
    names = ("rpm", "kpa", "advance_deg")
    if whole.get("schema") != MAP_SCHEMA or not all(isinstance(whole.get(name), list) for name in names):
        raise Refusal.at("map", "JSON", f'must hold "schema": "{MAP_SCHEMA}" and lists {", ".join(names)}')
    _require_few(len(whole["rpm"]), len(whole["kpa"]))
    rpm = [_number(each, 1, place, SPEED_SPAN_RPM, "rpm") for place, each in enumerate(whole["rpm"], start=1)]
    kpa = [_number(each, 1, place, LOAD_SPAN_KPA, "kpa") for place, each in enumerate(whole["kpa"], start=1)]
    rows = whole["advance_deg"]
    if not all(isinstance(row, list) and len(row) == len(rpm) for row in rows):
        raise Refusal.at("map.advance_deg", "rows", f"must be lists of {len(rpm)} cells, one for each speed")
    if len(rows) != len(kpa):
        raise Refusal.at("map.advance_deg", f"{len(rows)} rows", f"must be {len(kpa)}, one for each load")
    cells = [
        [
            _number(cell, line, column, ADVANCE_SPAN_DEG, "advance_deg")
            for column, cell in enumerate(row, start=1)
        ]
        for line, row in enumerate(rows, start=1)
    ]
    return _rising(rpm, kpa, cells)


def _require_few(rpm: int, kpa: int) -> None:
    """Refuse more speeds or loads than a map has, before each is read."""
    for name, values in (("rpm", rpm), ("kpa", kpa)):
        if values > MOST_NODES:
            raise Refusal.at(f"map.{name}", f"{values} values", f"must be at most {MOST_NODES}")


def _rising(rpm: list[float], kpa: list[float], cells: list[list[float]]) -> SparkMap:
    """Turn the rows over where the load falls from line to line."""
    if len(kpa) > 1 and kpa[0] > kpa[-1]:
        kpa, cells = kpa[::-1], cells[::-1]
    return SparkMap(np.array(rpm), np.array(kpa), np.array(cells, dtype=float).reshape(len(kpa), len(rpm)))


def _number(
    cell: Any, line: int, column: int, span: Sequence[float], name: str = "", unit: str = ""
) -> float:
    where = f"map.{name}, row {line}, place {column}" if name else f"map, line {line}, column {column}"
    low, high = span
    if isinstance(cell, str):
        value = number(cell, low=low, high=high, field=where)
    elif isinstance(cell, int | float) and not isinstance(cell, bool):
        value = float(cell)
    else:
        raise Refusal.at(where, f'"{cell}"', "must be a number")
    if not math.isfinite(value) or not low <= value <= high:
        raise Refusal.at(
            where, f"{cell}", f"must be {low:g} to {high:g} {unit}".rstrip(), "check axes and cells"
        )
    return value
