"""The cranking row: the advance that the starter carries and the rotor covers, and where each spark falls."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sparkwright.check.assumed import Taken
from sparkwright.check.result import HardwareResult
from sparkwright.check.rotor import rotor_cap
from sparkwright.findings import Finding, State, Value
from sparkwright.ignition.cranking import CrankingSpark, crank_deg_turned, cranking_sparks
from sparkwright.job import Job
from sparkwright.plan.ceilings import TELLABLE_DEG, round_down

CARRIED_MS, MOST_CARRIED_DEG = 9.0, 12.0
"""How long before top dead centre a spark may come while the starter turns the engine, and no more than so
many degrees; later, the flame has not grown against the piston yet. Common practice, no source."""

KICKS_DEG = 1.0
"""By how much base must be earlier than the starter carries before it is told [deg]; a choice."""

RUNS_SHARE = 0.5
"""Where between cranking and idle speed the engine counts as running [-]; a choice."""


@dataclass(frozen=True)
class CrankingRow:
    """What to set for cranking.

    ``carried_deg`` is the most that the starter carries; ``advance_deg`` what to set, within the rotor's
    reach and the controller's step; the row holds up to ``until_rpm``.
    """

    cranking_rpm: float
    until_rpm: float
    carried_deg: float
    advance_deg: float
    base_deg: float
    sparks: tuple[CrankingSpark, ...]
    finding: Finding


def cranking_row(job: Job, hardware: HardwareResult) -> CrankingRow:
    """Give the cranking row of a job.

    Parameters
    ----------
    job : Job
        The job.
    hardware : HardwareResult
        Its check, for the spacing of several sparks.

    Examples
    --------
    >>> from sparkwright.check.hardware import check_hardware
    >>> from sparkwright.job import starter_text
    >>> job = Job.from_toml(starter_text())
    >>> row = cranking_row(job, check_hardware(job))
    >>> row.advance_deg <= row.carried_deg
    True
    """
    cap, speed = rotor_cap(job), job.engine.cranking_rpm
    reach = cap.reach()
    carried = min(MOST_CARRIED_DEG, crank_deg_turned(speed, CARRIED_MS))
    least = max(reach.least_deg, job.controller.min_deg)
    wanted = min(carried, reach.most_deg, job.controller.max_deg)
    advance = float(round_down(np.array(wanted), job.controller.step_deg))
    sparks = cranking_sparks(
        cap,
        first_advance_deg=advance,
        sparks=len(hardware.cranking),
        spacing_ms=_spacing_ms(hardware),
        speed_rpm=speed,
    )
    idle_rpm = Taken(job).take("engine.idle_rpm", job.engine.idle_rpm)
    until = 10.0 * round((speed + RUNS_SHARE * (idle_rpm - speed)) / 10.0)
    base = job.distributor.base_deg
    kind, state = _stands(advance, least, base, carried, sparks)
    numbers: dict[str, Value] = {
        "advance_deg": advance,
        "carried_deg": carried,
        "least_deg": least,
        "base_deg": base,
        "cranking_rpm": speed,
        "until_rpm": until,
        "sparks": len(sparks),
        "last_deg": sparks[-1].advance_deg,
        "uncovered": sum(not each.under_post for each in sparks),
    }
    return CrankingRow(speed, until, carried, advance, base, sparks, Finding(kind, state, numbers))


def _spacing_ms(hardware: HardwareResult) -> float:
    first, *rest = hardware.cranking
    return rest[0].time_ms - first.time_ms if rest else 1.0


def _stands(
    advance_deg: float,
    least_deg: float,
    base_deg: float,
    carried_deg: float,
    sparks: tuple[CrankingSpark, ...],
) -> tuple[str, State]:
    if advance_deg < least_deg - TELLABLE_DEG:
        return "cranking-row.rotor-too-early", "problem"
    if not all(each.right_cylinder for each in sparks):
        return "cranking-row.wrong-cylinder", "problem"
    if base_deg > carried_deg + KICKS_DEG:
        return "cranking-row.base-kicks", "look"
    return "cranking-row.set", "good"
