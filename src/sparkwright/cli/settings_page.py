"""What is typed into a controller, on a terminal."""

from __future__ import annotations

from math import isnan

from rich.console import Group, RenderableType
from rich.text import Text

from sparkwright.cli.start_page import MAP_TITLE, plain_map
from sparkwright.cli.terminal import headed_by, number, sentences, table, told, told_of
from sparkwright.cli.trim_page import trim_tables
from sparkwright.job import Job
from sparkwright.plan.load_terms import loads_of
from sparkwright.plan.on_rows import own_cells
from sparkwright.plan.settings import Settings
from sparkwright.words.settings import AFTER_THE_MAP, cautions_of, setting_lines


def settings_page(settings: Settings, width: int, job: Job) -> Group:
    """Lay out the settings in the order of the work.

    Parameters
    ----------
    settings : Settings
        What the controller is to be set to.
    width : int
        Width of the terminal in letters.
    job : Job
        The job that they are for; only the cells of its controller are shown.
    """
    load, loads = job.controller.load, loads_of(job).over_pressure
    dwell: list[RenderableType] = []
    if settings.dwell is not None:
        pairs = zip(settings.dwell.battery_v, settings.dwell.dwell_ms, strict=True)
        lines = ((number(v, 1), "not reached" if isnan(ms) else number(ms, 2)) for v, ms in pairs)
        dwell = [table("Dwell by battery", ("battery V", "dwell ms"), lines)]
    trims = () if settings.trims is None else settings.trims.trims
    rules = (settings.idle.headline, settings.cranking.finding, *(each.finding for each in settings.running))
    said = [told_of(each) for each in rules]
    return Group(
        headed_by(settings.job_name, settings.fingerprint, told_of(settings.headline)),
        *told("Put right first", sentences(settings.problems)),
        *told("Cautions", cautions_of(load)),
        *told("Type in", setting_lines(settings, loads)),
        *dwell,
        Text(f"\n{MAP_TITLE}, with the idle block", style="bold"),
        *plain_map(own_cells(settings.spark_map, loads.rows), width, loads),
        *(part for trim in trims for part in trim_tables(trim, loads)),
        *told("Then", AFTER_THE_MAP),
        *told("Each with its rule", (f"{each.sentence} {each.action}" for each in said)),
        *told("Look at", sentences(settings.warnings)),
    )
