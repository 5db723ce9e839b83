"""Spark maps as text: CSV, tab-separated, JSON; out to paste, and in to compare.

The text formats have the speeds in the first line and a load at the start of each further line.
"""

from __future__ import annotations

import csv
import json
from io import StringIO
from math import isfinite

import numpy as np

from sparkwright.errors import InputError
from sparkwright.plan.spark_map import SparkMap

CORNER = "kpa\\rpm"
LARGEST_TEXT = 2_000_000
FORMATS = ("csv", "tsv", "json")


def map_to_text(spark_map: SparkMap, kind: str) -> str:
    """Write a map as text.

    Parameters
    ----------
    spark_map : SparkMap
        The map.
    kind : str
        "csv", "tsv" or "json".

    Returns
    -------
    str
        Loads rise down the lines; one line a load.

    Raises
    ------
    InputError
        If the kind is unknown.

    Examples
    --------
    >>> small = SparkMap([1000.0, 2000.0], [40.0, 90.0], [[20, 30], [10, 20.5]])
    >>> print(map_to_text(small, "csv"))
    kpa\\rpm,1000,2000
    40,20,30
    90,10,20.5
    <BLANKLINE>
    """
    if kind == "json":
        return (
            json.dumps(
                {
                    "rpm": spark_map.rpm.tolist(),
                    "kpa": spark_map.kpa.tolist(),
                    "advance_deg": spark_map.advance_deg.tolist(),
                }
            )
            + "\n"
        )
    if kind not in FORMATS:
        raise InputError("format", kind, "must be csv, tsv or json")
    out = StringIO()
    writer = csv.writer(out, delimiter="," if kind == "csv" else "\t", lineterminator="\n")
    writer.writerow([CORNER, *(f"{speed:g}" for speed in spark_map.rpm)])
    for load, row in zip(spark_map.kpa, spark_map.advance_deg, strict=True):
        writer.writerow([f"{load:g}", *(f"{value:g}" for value in row)])
    return out.getvalue()


def map_from_text(text: str) -> SparkMap:
    """Read a map that was exported or pasted: JSON, tab-separated, comma or semicolon.

    Lines may have their loads rising or falling.

    Parameters
    ----------
    text : str
        The text, at most 2,000,000 characters.

    Returns
    -------
    SparkMap
        The map, loads rising.

    Raises
    ------
    InputError
        Names the line and the field that does not read, and what is allowed.

    Examples
    --------
    >>> map_from_text("kpa\\\\rpm,1000,2000\\n90,10,20\\n40,20,30\\n").at(1000, 40)
    20.0
    """
    if len(text) > LARGEST_TEXT:
        raise InputError("map", f"{len(text)} characters", f"must be at most {LARGEST_TEXT:,} characters")
    stripped = text.strip().lstrip("\ufeff")
    if not stripped:
        raise InputError("map", "nothing", "must hold speeds in its first line and a load in each line below")
    return _from_json(stripped) if stripped.startswith("{") else _from_lines(stripped)


def _from_json(text: str) -> SparkMap:
    try:
        table = json.loads(text)
        return SparkMap(
            np.array(table["rpm"], dtype=float),
            np.array(table["kpa"], dtype=float),
            np.array(table["advance_deg"], dtype=float),
        )
    except json.JSONDecodeError as fault:
        raise InputError("map", f"line {fault.lineno}", f"must be JSON; {fault.msg}") from None
    except KeyError as fault:
        raise InputError(
            f"map.{fault.args[0]}", None, "must be given", "JSON maps hold rpm, kpa, advance_deg"
        ) from None
    except (TypeError, ValueError) as fault:
        if isinstance(fault, InputError):
            raise
        raise InputError(
            "map", "a value", "must hold numbers only, each load with as many as there are speeds"
        ) from None


def _from_lines(text: str) -> SparkMap:
    lines = [line for line in text.splitlines() if line.strip()]
    mark = next((mark for mark in ("\t", ";", ",") if mark in lines[0]), None)
    if mark is None or len(lines) < 3:
        raise InputError(
            "map",
            f"{len(lines)} lines",
            "must be a table: speeds in the first line, at least two loads below",
        )
    rows = list(csv.reader(lines, delimiter=mark))
    rpm = [_number(cell, 1, column) for column, cell in enumerate(rows[0][1:], start=2)]
    table = []
    for number, row in enumerate(rows[1:], start=2):
        if len(row) != len(rows[0]):
            raise InputError(
                f"map line {number}", f"{len(row)} fields", f"must have {len(rows[0])}, as the first line has"
            )
        table.append([_number(cell, number, column) for column, cell in enumerate(row, start=1)])
    table.sort(key=lambda row: row[0])
    values = np.array(table)
    return SparkMap(np.array(rpm), values[:, 0], values[:, 1:])


def _number(cell: str, line: int, column: int) -> float:
    try:
        value = float(cell.strip().replace("\u2212", "-").replace(",", "."))
    except ValueError:
        value = float("nan")
    if not isfinite(value):
        raise InputError(f"map line {line}, field {column}", repr(cell), "must be a number")
    return value
