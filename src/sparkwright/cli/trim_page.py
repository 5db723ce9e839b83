"""Trims, and the map as it is driven on another day, on a terminal."""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import Group, RenderableType
from rich.text import Text

from sparkwright.cli.common import own_system
from sparkwright.cli.start_page import MAP_TITLE, plain_map
from sparkwright.cli.terminal import headed_by, number, sentences, table, told, told_of
from sparkwright.plan.driven import Driven
from sparkwright.plan.load_terms import ABSOLUTE, Loads
from sparkwright.plan.on_rows import own_cells
from sparkwright.plan.spark_map import SparkMap
from sparkwright.plan.trims import Trim, Trims
from sparkwright.words.loads import own_words
from sparkwright.words.trims import conditions_words


def trims_page(result: Trims, width: int, loads: Loads = ABSOLUTE) -> Group:
    """Lay out map, trims and the conditions that they were held against.

    Parameters
    ----------
    result : Trims
        Map and trims together.
    width : int
        Width of the terminal in letters.
    loads : Loads, optional
        In what the controller has its loads; only its own cells are shown.
    """
    system = own_system()
    tables = [part for trim in result.trims for part in trim_tables(trim, loads)]
    checks = (
        (
            conditions_words(tuple(each.values.items()), system),
            number(-each.over_deg, 1),
            number(each.lost_deg, 1),
        )
        for each in result.checks
    )
    return Group(
        headed_by(result.job_name, result.fingerprint, told_of(result.headline)),
        *told("Problems", sentences(result.problems[1:])),
        Text(f"\n{MAP_TITLE}", style="bold"),
        *plain_map(own_cells(result.spark_map, loads.rows), width, loads),
        *tables,
        table(
            "Held against the plan there", ("conditions", "deg to a ceiling", "most unused"), checks, words=1
        ),
        *told("Look at", sentences(result.warnings)),
    )


def trim_tables(trim: Trim, loads: Loads = ABSOLUTE) -> Iterator[RenderableType]:
    """Lay out one trim: values across, loads down where it has any of its own, else its weights.

    Parameters
    ----------
    trim : Trim
        One trim.
    loads : Loads, optional
        In what the controller has its loads.
    """
    title = f"Trim by {trim.name} [{trim.unit}], deg to add"
    values = [number(value, 1) for value in trim.values]
    apart = bool((trim.sensor != trim.values).any())
    reads = [["sensor reads", *(number(value, 1) for value in trim.sensor)]] if apart else []
    if trim.weights is not None:
        rows = [*reads, ["degrees", *(number(each, 2) for each in trim.degrees)]]
        yield table(title, ("", *values), rows, words=1)
        by_weight = zip(trim.kpa[::-1], trim.weights[::-1], strict=True)
        shares = ([own_words(kpa, loads), number(weight, 2)] for kpa, weight in by_weight)
        yield table("Times, by load", ("", "share"), shares, words=1, tight=True)
        return
    by_load = zip(trim.kpa[::-1], trim.degrees.T[::-1], strict=True)
    rows = [*reads, *([own_words(kpa, loads), *(number(each, 2) for each in row)] for kpa, row in by_load)]
    yield table(title, ("", *values), rows, words=1)


def driven_page(result: Driven, width: int, loads: Loads = ABSOLUTE) -> Group:
    """Lay out the chance of knock over the map on another day.

    Parameters
    ----------
    result : Driven
        Chances of knock of a map on another day.
    width : int
        Width of the terminal in letters.
    loads : Loads, optional
        In what the controller has its loads.
    """
    chance = SparkMap(result.spark_map.rpm, result.spark_map.kpa, result.knock_chance_percent.round(0))
    return Group(
        headed_by(result.job_name, result.fingerprint, told_of(result.headline)),
        Text("\nChance of knock, %, over rpm; a dash where the engine doesn't come", style="bold"),
        *plain_map(chance, width, loads),
        Text(MAP_TITLE, style="bold"),
        *plain_map(result.spark_map, width, loads),
    )
