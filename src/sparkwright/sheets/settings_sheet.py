"""The settings sheet: everything to type into the controller on one page, ticked off and read back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isnan

import numpy as np

from sparkwright.check.result import DwellTable
from sparkwright.drawing.true_scale import Paper, Part, Sheet, TablePart, TextsPart, room_mm
from sparkwright.job import Job
from sparkwright.pictures.plain_map import map_part
from sparkwright.plan.load_terms import Loads, loads_of
from sparkwright.plan.on_rows import own_cells
from sparkwright.plan.settings import Settings
from sparkwright.plan.trims import Trim
from sparkwright.units import System
from sparkwright.words.loads import own_text
from sparkwright.words.settings import AFTER_THE_MAP, cautions_of, setting_lines
from sparkwright.words.told import sentences, told
from sparkwright.words.trims import SHORT_NAMES

LOADS_IN_ONE = 8
"""So many loads stand in one table of shares; a choice."""

MAP_MM = 128.0
"""How wide the map is printed [mm], so that all of it stands on one page."""


def settings_sheet(settings: Settings, job: Job, paper: Paper = "a4", system: System = "metric") -> Sheet:
    """Lay the settings sheet out.

    Parameters
    ----------
    settings : Settings
        What the controller is to be set to.
    job : Job
        The job that they are for.
    paper : Paper, optional
        Paper that it is printed on.
    system : System, optional
        Units that the person reads.
    """
    lead = told(settings.headline, system)
    tables = () if settings.trims is None else settings.trims.trims
    loads = loads_of(job).over_pressure
    by_weight = tuple(trim for trim in tables if trim.weights is not None)
    by_load = tuple(_by_load(trim, loads) for trim in tables if trim.weights is None)
    typed_in = own_cells(settings.spark_map, loads.rows)
    width_mm = min(MAP_MM, room_mm(paper)[0])
    return Sheet(
        kind="Settings",
        title=job.name,
        invented=job.invented,
        headline=str(lead.sentence),
        action=str(lead.action or ""),
        problems=tuple(map(str, sentences(settings.problems, system))),
        rows=(
            (TextsPart("Type in", setting_lines(settings, loads), "boxes"),),
            *_dwell_part(settings.dwell),
            (
                map_part(typed_in, "Map, the idle block outlined", width_mm, settings.idle.cells, loads),
                TextsPart("Cautions", cautions_of(job.controller.load), "cautions"),
            ),
            *_by_weight(by_weight, loads),
            *((by_load,) if by_load else ()),
            (TextsPart("Then", AFTER_THE_MAP, "boxes"),),
        ),
        fingerprint=settings.fingerprint,
        to_scale=False,
    )


def _dwell_part(dwell: DwellTable | None) -> tuple[tuple[Part, ...], ...]:
    """Give the dwell in one line along the battery's voltage; no part where there is none to set."""
    if dwell is None:
        return ()
    volts = tuple(f"{each:g}" for each in dwell.battery_v.tolist())
    line = ("ms", *("-" if isnan(each) else f"{each:.2f}" for each in dwell.dwell_ms.tolist()))
    return ((TablePart("Dwell by battery voltage (-: not reached)", ("V", *volts), (line,)),),)


def _title(trim: Trim) -> str:
    return f"By {trim.name} [{trim.unit}]"


def _sensor(trim: Trim) -> tuple[str, ...]:
    return tuple(f"{value:.0f}" for value in trim.sensor)


def _by_weight(trims: Sequence[Trim], loads: Loads) -> Iterator[tuple[Part, ...]]:
    """Give each trim over its condition, two in a row, and under them the share that each load takes."""
    for first in range(0, len(trims), 2):
        yield tuple(
            TablePart(
                f"Trim, deg to add. {_title(trim)}",
                ("sensor", *_sensor(trim)),
                (("deg", *(f"{each:g}" for each in trim.degrees)),),
            )
            for trim in trims[first : first + 2]
        )
    if trims:
        yield _shares(trims, loads)


def _shares(trims: Sequence[Trim], loads: Loads) -> tuple[Part, ...]:
    """Give the share of each trim that each load takes, most load on top as in the map.

    Many loads stand in two tables side by side, so that all is on one page.
    """
    columns = (loads.unit, *(SHORT_NAMES[trim.name] for trim in trims))
    weights = np.array([np.ones(trim.kpa.size) if trim.weights is None else trim.weights for trim in trims])
    pairs = zip(trims[0].kpa[::-1].tolist(), weights.T[::-1].tolist(), strict=True)
    rows = tuple((own_text(kpa, loads), *(f"{share:.2f}" for share in shares)) for kpa, shares in pairs)
    in_one = len(rows) if len(rows) <= LOADS_IN_ONE else -(-len(rows) // 2)
    titles = ("Trim times this, by load", "Trim times this, lower loads")
    return tuple(
        TablePart(titles[first > 0], columns, rows[first : first + in_one])
        for first in range(0, len(rows), in_one)
    )


def _by_load(trim: Trim, loads: Loads) -> TablePart:
    """Give a trim over its condition and load, most load on top."""
    pairs = zip(trim.kpa[::-1].tolist(), trim.degrees.T[::-1].tolist(), strict=True)
    rows = tuple((own_text(kpa, loads), *(f"{each:g}" for each in row)) for kpa, row in pairs)
    return TablePart(f"Trim. {_title(trim)}", (loads.unit, *_sensor(trim)), rows)
