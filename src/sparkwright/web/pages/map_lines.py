"""The lines of the map: loads and speeds that head its rows and columns, and along which the ribbon runs."""

from __future__ import annotations

from dataclasses import dataclass

from sparkwright.errors import Refusal
from sparkwright.plan.lines import line_at
from sparkwright.plan.load_terms import Loads
from sparkwright.plan.result import Line, LoadLine, PlanResult
from sparkwright.plan.spark_map import SparkMap
from sparkwright.words.loads import load_words, own_text


@dataclass(frozen=True)
class LineChoice:
    """One line of the map that the ribbon can run along: a load has its number as typed, and kPa beside."""

    value: str
    words: str
    head: str
    beside: str = ""
    load: float = 0.0


def lines_of(spark_map: SparkMap, loads: Loads) -> tuple[tuple[LineChoice, ...], tuple[LineChoice, ...]]:
    """Give the load rows, the most load first, and the speed columns to choose from.

    Parameters
    ----------
    spark_map : SparkMap
        The map.
    loads : Loads
        In what loads are said, kPa absolute beside.
    """
    is_beside = loads.term != "kPa absolute"
    rows = tuple(
        LineChoice(
            f"kpa-{kpa:.10g}",
            load_words(kpa, loads),
            own_text(kpa, loads),
            f"{kpa:.0f}" if is_beside else "",
            load,
        )
        for kpa, load in zip(spark_map.kpa[::-1].tolist(), loads.as_typed(spark_map.kpa[::-1]), strict=True)
    )
    columns = tuple(
        LineChoice(f"rpm-{rpm:.10g}", f"{rpm:,.0f} rpm", f"{rpm:,.0f}") for rpm in spark_map.rpm.tolist()
    )
    return rows, columns


def line_of(plan: PlanResult, chosen: str) -> Line | LoadLine:
    """Give the line that was chosen, `kpa-85` or `rpm-2800`; full load where none was.

    Parameters
    ----------
    plan : PlanResult
        The plan.
    chosen : str
        Name of the line as the page sent it; "" for none.
    """
    kind, _, number = chosen.partition("-")
    if kind not in ("kpa", "rpm"):
        return plan.full_load
    try:
        value = float(number)
    except ValueError as problem:
        raise Refusal.at(
            "line", chosen[:20], "must name a load or a speed of the map", "choose one"
        ) from problem
    return line_at(plan, kpa=value) if kind == "kpa" else line_at(plan, rpm=value)


def chosen_line(line: Line | LoadLine) -> str:
    """Name a line as `line_of` reads it.

    Parameters
    ----------
    line : Line or LoadLine
        A load row or a speed column.
    """
    return f"kpa-{line.kpa:.10g}" if isinstance(line, Line) else f"rpm-{line.rpm:.10g}"
