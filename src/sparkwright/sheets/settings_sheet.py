"""The settings sheet: everything to type into the controller on one page, ticked off and read back."""

from __future__ import annotations

from math import isnan

import numpy as np

from sparkwright.check.result import DwellTable
from sparkwright.drawing.true_scale import Paper, Part, Sheet, TablePart, TextsPart, room_mm
from sparkwright.job import Job
from sparkwright.pictures.plain_map import map_part
from sparkwright.plan.load_terms import Loads, loads_of
from sparkwright.plan.settings import Settings
from sparkwright.plan.trims import Trim
from sparkwright.units import System
from sparkwright.words.loads import own_text
from sparkwright.words.settings import AFTER_THE_MAP, cautions_of, setting_lines
from sparkwright.words.told import sentences, told

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
    by_load = tuple(_by_load(trim, loads) for trim in tables if trim.weights is None)
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
                map_part(
                    settings.spark_map, "Map, the idle block outlined", width_mm, settings.idle.cells, loads
                ),
                TextsPart("Cautions", cautions_of(job.controller.load), "cautions"),
            ),
            *(_by_weight(trim, loads) for trim in tables if trim.weights is not None),
            *((by_load,) if by_load else ()),
            (TextsPart("Then", AFTER_THE_MAP, "boxes"),),
        ),
        fingerprint=settings.fingerprint,
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


def _by_weight(trim: Trim, loads: Loads) -> tuple[Part, ...]:
    """Give a trim over its condition, and beside it the share that each load takes."""
    weights = np.ones(trim.kpa.size) if trim.weights is None else trim.weights
    degrees = ("deg", *(f"{each:g}" for each in trim.degrees))
    share = ("times", *(f"{each:.2f}" for each in weights))
    return (
        TablePart(f"Trim, deg to add. {_title(trim)}", ("sensor", *_sensor(trim)), (degrees,)),
        TablePart("times, by load", (loads.unit, *(own_text(kpa, loads) for kpa in trim.kpa)), (share,)),
    )


def _by_load(trim: Trim, loads: Loads) -> TablePart:
    """Give a trim over its condition and load, most load on top."""
    pairs = zip(trim.kpa[::-1].tolist(), trim.degrees.T[::-1].tolist(), strict=True)
    rows = tuple((own_text(kpa, loads), *(f"{each:g}" for each in row)) for kpa, row in pairs)
    return TablePart(f"Trim. {_title(trim)}", (loads.unit, *_sensor(trim)), rows)
