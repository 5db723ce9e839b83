"""The four sheets at the distributor, laid out from one computation."""

from __future__ import annotations

from typing import Literal

from sparkwright.drawing.true_scale import Sheet
from sparkwright.job import Job
from sparkwright.mounting.asked import Day
from sparkwright.sheets.before_it_goes_in import before_sheet
from sparkwright.sheets.cap_plan import cap_plan_sheet
from sparkwright.sheets.phasing import phasing_sheet
from sparkwright.sheets.static_setting import static_sheet
from sparkwright.units import System

DayName = Literal["before-it-goes-in", "cap-plan", "rotor-phasing", "static-setting"]


def day_sheets(day: Day, job: Job, system: System = "metric") -> dict[DayName, Sheet]:
    """Lay out the sheets of a job by the names of their files, in the order of the work.

    Parameters
    ----------
    day : Day
        What the sheets at the distributor are drawn from.
    job : Job
        The job that they are for.
    system : System, optional
        Units that the person reads.
    """
    named = (job.name, job.invented, job.fingerprint)
    return {
        "before-it-goes-in": before_sheet(day.before, *named, system),
        "cap-plan": cap_plan_sheet(day.cap, *named, system),
        "rotor-phasing": phasing_sheet(day.phasing, *named, system),
        "static-setting": static_sheet(day.setting, *named, system),
    }
