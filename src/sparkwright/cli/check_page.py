"""The check of an ignition on a terminal."""

from __future__ import annotations

import math
from collections.abc import Iterable

from rich.console import Group, RenderableType
from rich.text import Text

from sparkwright.check.assumed import SpreadTaken
from sparkwright.check.result import HardwareResult, RotorResult
from sparkwright.cli.terminal import (
    STATE_MARKS,
    assumed,
    headed_by,
    number,
    sentences,
    state_key,
    table,
    told,
    told_of,
)


def hardware_page(result: HardwareResult) -> Group:
    """Lay out the hardware check.

    Parameters
    ----------
    result : HardwareResult
        The check of the ignition.
    """
    parts: list[RenderableType] = [
        headed_by(result.job_name, result.fingerprint, told_of(result.headline)),
        Text(),
    ]
    for verdict in result.verdicts:
        mark, style = STATE_MARKS[verdict.state]
        said = told_of(verdict)
        line = Text.assemble((f"{mark} ", style), (f"{said.topic}: ", "bold"))
        if verdict == result.headline:
            parts.append(line.append("as said above"))
            continue
        line.append(str(said.sentence))
        parts.append(line.append(f" {said.action}") if said.action else line)
    parts += [Text(state_key("open"), style="dim"), Text(), _rotor_table(result.rotor)]
    if result.dwell is not None:
        rows = zip(result.dwell.battery_v, result.dwell.dwell_ms, strict=True)
        title = f"Dwell for {result.dwell.energy_mj:g} mJ ({result.dwell.current_a:.1f} A)"
        parts.append(
            table(
                title,
                ("battery V", "dwell ms"),
                ((number(v, 1), "not reached" if math.isnan(ms) else number(ms, 2)) for v, ms in rows),
            )
        )
    if result.coil is not None:
        coil = result.coil
        columns = (coil.rpm, coil.dwell_ms, coil.duty_percent, coil.energy_mj, coil.coil_w, coil.driver_w)
        rows_by_speed = (
            [number(each, place) for each, place in zip(row, (0, 2, 0, 0, 1, 1), strict=True)]
            for row in zip(*columns, strict=True)
        )
        names = ("rpm", "dwell ms", "duty %", "energy mJ", "coil W", "driver W")
        parts.append(table("Coil and driver along speed", names, rows_by_speed))
    parts += [_demand_table(result), _cranking_table(result), _wiring_table(result)]
    parts += [Text(f"What the engine asks comes from {result.demand_origin}.", style="dim")]
    return Group(*parts, *told("Look at", sentences(result.warnings)), *assumed(result.assumed))


def _rotor_table(rotor: RotorResult) -> Group:
    spans = (("today", rotor.today), ("unphased", rotor.unphased), ("phased", rotor.phased))
    rows = [
        (name, number(reach.least_deg, 1), number(reach.most_deg, 1), number(reach.above_base_deg, 1))
        for name, reach in spans
    ]
    rows.append(("needed", number(rotor.least_deg, 1), number(rotor.most_deg, 1), ""))
    return table("Rotor reach, crank degrees", ("rotor", "least", "most", "above base"), rows, words=1)


def spread_lines(spreads: Iterable[SpreadTaken]) -> list[str]:
    """Say of each thing not known exactly how far it may be off, and where that comes from.

    Parameters
    ----------
    spreads : iterable of SpreadTaken
        Of each thing its standard deviation, and where that comes from.
    """
    return [
        f"{each.name}: {each.amount}{'' if each.stated else ', assumed'}; {each.origin}" for each in spreads
    ]


def _demand_table(result: HardwareResult) -> Group:
    asks = result.demand
    columns = (asks.rpm, asks.kpa, asks.advance_deg, asks.plug_kv, asks.rotor_kv)
    with_bands = zip(
        asks.asked_kv, asks.asked_band_kv, asks.available_kv, asks.available_band_kv, strict=True
    )
    rows = (
        [
            *(number(each, place) for each, place in zip(row, (0, 0, 1, 1, 1), strict=True)),
            f"{number(asked, 1)} \N{PLUS-MINUS SIGN}{number(asked_band, 1)}",
            f"{number(there, 1)} \N{PLUS-MINUS SIGN}{number(there_band, 1)}",
        ]
        for row, (asked, asked_band, there, there_band) in zip(
            zip(*columns, strict=True), with_bands, strict=True
        )
    )
    names = ("rpm", "kPa", "advance", "plug kV", "rotor kV", "asked kV", "there kV")
    bands = told("The bands of the voltages come from", spread_lines(asks.spreads))
    return Group(table("Voltage asked and there", names, rows), *bands)


def _cranking_table(result: HardwareResult) -> Group:
    rows = (
        (
            str(spark.number),
            number(spark.time_ms, 1),
            number(spark.advance_deg, 1),
            "yes" if spark.under_post else "no",
            "yes" if spark.right_cylinder else "no",
        )
        for spark in result.cranking
    )
    return table("Sparks while cranking", ("spark", "ms", "advance", "under post", "right cylinder"), rows)


def _wiring_table(result: HardwareResult) -> Group:
    rows = ((STATE_MARKS[item.state][0], item.what, item.why, item.prove) for item in result.wiring)
    return table("Wiring and preparation", ("", "what", "why", "how to prove it"), rows, words=4)
