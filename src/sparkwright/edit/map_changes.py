"""What a change of the map's cells makes of a job: refused where a cell over a ceiling has no reason."""

from __future__ import annotations

from collections.abc import Mapping

from sparkwright.edit.cells import Edited
from sparkwright.edit.preview import preview
from sparkwright.edit.set_cells import (
    Changes,
    Wanted,
    cells_set,
    changed_places,
    changes_of,
    with_cells,
    without_reason,
)
from sparkwright.errors import Refusal
from sparkwright.job import HandCell, Job
from sparkwright.plan.hand import Place
from sparkwright.plan.result import CEILING_WORDS, OverCeiling, PlanResult


def with_change(wanted: Mapping[Place, Wanted], edited: Edited) -> dict[Place, Wanted]:
    """Give the cells set by hand after a change; a cell set anew has no reason yet.

    Parameters
    ----------
    wanted : mapping of place to Wanted
        Cells that are to be set by hand.
    edited : Edited
        What a change makes of the cells it touches.

    Examples
    --------
    >>> before = {(0, 0): Wanted(20.0, "rich there"), (0, 1): Wanted(9.0)}
    >>> with_change(before, Edited({(0, 0): 21.0, (0, 1): None}))
    {(0, 0): Wanted(advance_deg=21.0, reason=None)}
    """
    after = dict(wanted)
    for place, value in edited.value_deg.items():
        if value is None:
            after.pop(place, None)
        elif place not in after or after[place].advance_deg != value:
            after[place] = Wanted(value)
    return after


def changed_job(
    job: Job, planned: PlanResult, wanted: Mapping[Place, Wanted], *, who: str, on: str, reason: str = ""
) -> tuple[Job, Changes]:
    """Give the job with exactly these cells set by hand, and what that changes.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    planned : PlanResult
        The plan as it stands before the change.
    wanted : mapping of place to Wanted
        Cells that are to be set by hand.
    who : str
        Who changes it; written to each cell that is new or other than before.
    on : str
        When (ISO 8601), written likewise.
    reason : str
        Given to each changed cell over a ceiling that has none of its own.

    Raises
    ------
    Refusal
        If nothing changed, or a cell over a ceiling has no reason.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> from sparkwright.plan.planner import plan
    >>> job = Job.from_toml(starter_text()).changed("controller", rpm=[600, 3000], kpa=[40, 95])
    >>> after, changes = changed_job(job, plan(job), {(0, 1): Wanted(20.0)}, who="A. B.", on="2030-05-01")
    >>> after.hand[0].advance_deg, after.hand[0].by, changes.set_by_hand
    (20.0, 'A. B.', 1)
    """
    spark_map = planned.cells.spark_map
    before = cells_set(job, spark_map)
    wanted = _with_reason(planned, before, wanted, reason)
    if not changed_places(before, wanted):
        raise Refusal.at("map", "no cell", "must be changed before it is saved", "set a cell first")
    unreasoned = unexplained(preview(planned, wanted), before, wanted)
    if unreasoned:
        raise Refusal.at(
            "reason",
            None,
            f"must be given for each cell over a ceiling: {'; '.join(map(called, unreasoned[:5]))}"
            f"{f'; and {len(unreasoned) - 5} more' if len(unreasoned) > 5 else ''}",
            "say why it may stand there, or set it lower",
        )
    changed = with_cells(job, spark_map, wanted, who=who, on=on)
    return changed, changes_of(before, wanted, spark_map)


def called(cell: OverCeiling) -> str:
    """Give what a refusal calls a cell over a ceiling.

    Parameters
    ----------
    cell : OverCeiling
        The cell.

    Examples
    --------
    >>> called(OverCeiling(2400.0, 85.0, 31.0, "knock", 28.5, 2.5, None, None, None))
    '2,400 rpm, 85 kPa: 31 deg stands over knock (28.5)'
    """
    return (
        f"{cell.rpm:,.0f} rpm, {cell.kpa:g} kPa: {cell.set_deg:g} deg stands over "
        f"{CEILING_WORDS[cell.ceiling]} ({cell.ceiling_deg:.1f})"
    )


def _with_reason(
    planned: PlanResult, before: Mapping[Place, HandCell], wanted: Mapping[Place, Wanted], reason: str
) -> dict[Place, Wanted]:
    """Give one reason to every changed cell over a ceiling that has none of its own."""
    if not reason.strip():
        return dict(wanted)
    plan = preview(planned, wanted)
    changed = changed_places(before, wanted)
    return {
        place: Wanted(want.advance_deg, reason.strip())
        if place in changed and plan.cells.over_ceiling[place] and not want.reason
        else want
        for place, want in wanted.items()
    }


def unexplained(
    plan: PlanResult, before: Mapping[Place, HandCell], after: Mapping[Place, Wanted]
) -> tuple[OverCeiling, ...]:
    """Give the cells changed here that stand over a ceiling without a reason.

    Parameters
    ----------
    plan : PlanResult
        The plan after the change.
    before : mapping of place to HandCell
        Cells set by hand before.
    after : mapping of place to Wanted
        Cells set by hand after the change.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> from sparkwright.plan.planner import plan
    >>> job = Job.from_toml(starter_text()).changed("controller", rpm=[600, 3000], kpa=[40, 95])
    >>> bare, said = ({(1, 1): Wanted(60.0, reason)} for reason in (None, "a rig of its own"))
    >>> planned = plan(job)
    >>> [each.ceiling for each in unexplained(preview(planned, bare), {}, bare)]
    ['knock']
    >>> unexplained(preview(planned, said), {}, said)
    ()
    """
    own = plan.cells.spark_map
    changed = {(float(own.rpm[j]), float(own.kpa[i])) for i, j in changed_places(before, after)}
    return without_reason(each for each in plan.over if (each.rpm, each.kpa) in changed)
