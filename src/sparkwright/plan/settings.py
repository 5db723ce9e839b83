"""Everything to type into a controller, in the order of the work."""

from __future__ import annotations

from dataclasses import dataclass

from sparkwright.check.result import DwellTable, HardwareResult
from sparkwright.cycle.belief import PRIOR, Belief
from sparkwright.findings import Finding, each_once
from sparkwright.job import Job
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.conditions import ways_of
from sparkwright.plan.cranking_row import CrankingRow, cranking_row
from sparkwright.plan.firmness import Mapper
from sparkwright.plan.idle_block import IdleBlock, idle_block
from sparkwright.plan.result import PlanResult
from sparkwright.plan.rules_of_running import RunningRule, running_rules
from sparkwright.plan.spark_map import SparkMap
from sparkwright.plan.trims import Trims, trims


@dataclass(frozen=True)
class Settings:
    """All that a controller is told, in the order of the work.

    ``delay_us`` is None where no light check has settled it; ``dwell`` None with a capacitive driver, or
    where neither controller nor driver sets it; ``trims`` None where the job states no condition beside its
    own.
    ``spark_map`` is the plan with the idle block in it, and what the trims are added to.
    """

    job_name: str
    fingerprint: str
    base_deg: float
    delay_us: float | None
    dwell: DwellTable | None
    cranking: CrankingRow
    least_deg: float
    most_deg: float
    running: tuple[RunningRule, ...]
    idle: IdleBlock
    spark_map: SparkMap
    trims: Trims | None
    headline: Finding
    problems: tuple[Finding, ...]
    warnings: tuple[Finding, ...]

    def later_than(self, planned: PlanResult) -> tuple[int, float]:
        """Count the cells of the map to type in that stand later than the plan, and the most by which [deg].

        Parameters
        ----------
        planned : PlanResult
            The plan that they were made of.
        """
        later_deg = planned.cells.spark_map.advance_deg - self.spark_map.advance_deg
        return int((later_deg > TELLABLE_DEG).sum()), float(later_deg.max())


def settings_of(
    job: Job, planned: PlanResult, hardware: HardwareResult, belief: Belief = PRIOR, *, run: Mapper = map
) -> Settings:
    """Gather all that a controller is told.

    Parameters
    ----------
    job : Job
        The job.
    planned : PlanResult
        Its plan.
    hardware : HardwareResult
        Its check, for the dwell and the sparks while cranking.
    belief : Belief, optional
        The belief that the plan was made under.
    run : callable, optional
        Runs a function over many arguments, as for ``plan.planner.plan``.
    """
    idle = idle_block(job, planned, belief)
    added = trims(job, planned, belief, run=run) if ways_of(job) else None
    cranking = cranking_row(job, hardware)
    most = job.controller.max_deg
    if job.limits.max_advance_deg is not None:
        most = min(most, job.limits.max_advance_deg)
    of_cranking = (cranking.finding,) if cranking.finding.state == "problem" else ()
    of_trims = () if added is None else added.problems
    problems = each_once((*planned.problems, *hardware.problems, *of_cranking, *of_trims))
    watched = (cranking.finding,) if cranking.finding.state == "look" else ()
    return Settings(
        job_name=planned.job_name,
        fingerprint=planned.fingerprint,
        base_deg=job.distributor.base_deg,
        delay_us=job.light.delay_set_us,
        dwell=hardware.dwell if job.driver.controls_dwell else None,
        cranking=cranking,
        least_deg=job.controller.min_deg,
        most_deg=most,
        running=running_rules(job, planned, belief),
        idle=idle,
        spark_map=idle.spark_map if added is None else added.spark_map,
        trims=added,
        headline=_headline(problems, job),
        problems=problems,
        warnings=each_once((*watched, *idle.warnings, *(() if added is None else added.warnings))),
    )


def _headline(problems: tuple[Finding, ...], job: Job) -> Finding:
    if problems:
        return Finding("settings.not-yet", "problem", {"problems": len(problems)})
    proved = job.light.delay_set_us is not None and bool(job.light.mark_proved)
    return Finding("settings.in-order", "good" if proved else "look", {"proved": proved})
