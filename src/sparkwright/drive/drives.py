"""A drive from its files: read through once, laid on the map of its job, and judged."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np

from sparkwright.check.assumed import Assumed
from sparkwright.drive.accelerations import FullThrottle, accelerations_of
from sparkwright.drive.against import QuantityDifference, against_findings, differences
from sparkwright.drive.asked import DriveAsked
from sparkwright.drive.delays import DelaySample
from sparkwright.drive.faults import faults
from sparkwright.drive.idle import Idle, IdleSample, idle_findings, idle_of
from sparkwright.drive.moments import seen_at
from sparkwright.drive.quantities import BY_NAME
from sparkwright.drive.quiet import quiet_places
from sparkwright.drive.read_notes import read_notes
from sparkwright.drive.reader import Block, FileReader, Progress, reader_of
from sparkwright.drive.result import Beyond, ChannelSeen, DriveResult, FileSeen
from sparkwright.drive.rows import RowKeeper
from sparkwright.drive.seen import DriveSeen
from sparkwright.drive.simulated_idle import TRIED_GAINS, IdleLoop, IdleTry, plant_of, try_idle
from sparkwright.drive.sources import source_of
from sparkwright.drive.tally import Axes, Tally
from sparkwright.drive.timing import TimingSeen, timing_findings, timing_of
from sparkwright.drive.where import Where, where_findings, where_of
from sparkwright.drive.windows import WindowMaker, Windows
from sparkwright.errors import Refusal
from sparkwright.findings import WORST_FIRST, Finding
from sparkwright.job import Job
from sparkwright.plan.axes import axes_of
from sparkwright.plan.physics import Physics, physics_of
from sparkwright.plan.planner import plan
from sparkwright.plan.result import PlanResult

MOST_FILES = 100


def drive_of(
    job: Job,
    paths: Sequence[Path],
    asked: DriveAsked = DriveAsked(),  # noqa: B008 - frozen
    *,
    progress: Progress | None = None,
) -> DriveResult:
    """Read a drive, lay it on the map of its job, and judge it, as `read_drive` does.

    Parameters
    ----------
    job : Job
        The job that the engine belongs to.
    paths : sequence of Path
        The drive's files, in the order in which they were driven.
    asked : DriveAsked, optional
        What the person asked: channels, units, running speed, what to hold it against.
    progress : callable, optional
        Called with the share of the files that is read, 0 to 1; raise from it to stop.
    """
    return read_drive(job, paths, asked, progress=progress)[0]


def read_drive(
    job: Job,
    paths: Sequence[Path],
    asked: DriveAsked = DriveAsked(),  # noqa: B008 - frozen
    *,
    progress: Progress | None = None,
    rows: RowKeeper | None = None,
) -> tuple[DriveResult, Windows]:
    """Read a drive, lay it on the map of its job, and judge it; give its windows of time as well.

    Parameters
    ----------
    job : Job
        The engine that was driven.
    paths : sequence of Path
        Its files, in the order in which they were taken.
    asked : DriveAsked, optional
        What the person says about them.
    progress : callable, optional
        Called with the share that is read; raise from it to stop.
    rows : RowKeeper, optional
        Keeps the rows for whoever wants to look at them later; None to let them go.

    Raises
    ------
    Refusal
        If a file can't be read, or has no column of speed or load.
    """
    if not 1 <= len(paths) <= MOST_FILES:
        raise Refusal.at("drive", f"{len(paths)} files", f"must be 1 to {MOST_FILES}")
    physics = physics_of(job)
    axes = Axes(*axes_of(job, physics))
    readers = [reader_of(source_of(path), place, asked) for place, path in enumerate(paths)]
    windows, delays = WindowMaker(asked.running_above_rpm), DelaySample()
    idling = IdleSample(physics.idle_rpm, asked.running_above_rpm)
    full = FullThrottle(physics.ambient_kpa)
    with ThreadPoolExecutor() as pool:
        tally = Tally(axes, asked.running_above_rpm, run=pool.map)
        for reader in readers:
            for block in reader.blocks(_part_of(progress, reader.place, len(readers))):
                tally.add(block.rpm, block.kpa, stands_for_s(block), block.columns)
                windows.add(block)
                delays.add(block)
                idling.add(block)
                full.add(block)
                if rows is not None:
                    rows.add(block)
        full.close()
        planned = plan(job, run=pool.map)
        channels = tuple(_channels(readers, tally))
    seen = DriveSeen(job, planned, axes, windows.windows(), physics.ambient_kpa)
    where, timing = where_of(seen, tally.seconds), timing_of(seen)
    idle = idle_of(idling.stretches(), planned, least_deg_of(planned))
    tries, assumed = tries_of(job, physics, planned, asked) if idle or asked.idle else ((), ())
    pulls, of_vehicle = accelerations_of(full.stretches, job, planned, asked.road)
    other = read_drive(job, [asked.against], replace(asked, against=None))[1] if asked.against else None
    against = () if other is None else differences(axes, seen.windows, other)
    findings = judged(seen, where, timing, idle, against) if seen.windows.count else ()
    read = tuple(note for reader in readers for note in read_notes(reader))
    result = DriveResult(
        headline=_headline(tally, readers, findings),
        rows=tally.rows,
        running_rows=tally.running,
        running_above_rpm=asked.running_above_rpm,
        placed_rows=tally.placed,
        rpm=axes.rpm,
        kpa=axes.kpa,
        channels=channels,
        beyond=tuple(_beyond(tally)),
        files=tuple(map(_file, readers)),
        findings=findings,
        seen_at=seen_at(seen, findings),
        where=where,
        timing=timing,
        delays=delays.delays(planned),
        quiet=quiet_places(seen) if seen.windows.count else (),
        against=against,
        accelerations=pulls,
        idle=idle,
        idle_tries=tries,
        read=read,
        job_name=job.name,
        fingerprint=job.fingerprint,
        assumed=(*planned.assumed, *assumed, *of_vehicle),
        warnings=tuple(each for each in read if each.state == "look"),
    )
    return result, seen.windows


def least_deg_of(planned: PlanResult) -> float:
    """Give the least advance that the rotor allows anywhere [deg].

    Parameters
    ----------
    planned : PlanResult
        Plan of the job, with what the rotor's reach allows in each cell.
    """
    return float(np.nanmin(planned.cells.ceilings.floor_deg))


def tries_of(
    job: Job, physics: Physics, planned: PlanResult, asked: DriveAsked
) -> tuple[tuple[IdleTry, ...], tuple[Assumed, ...]]:
    """Try ways to time the idle: the one that was asked for, or some gains at the plan's reserve.

    Parameters
    ----------
    job : Job
        The job, for what turns and what fills at idle.
    physics : Physics
        The same job as the cycle takes it.
    planned : PlanResult
        Its plan, whose reserve below best at idle is taken where none is asked for.
    asked : DriveAsked
        What the person asked; its idle timing, where given, is the only try.
    """
    reserve_deg, loops = planned.idle.reserve_deg, [IdleLoop(each) for each in TRIED_GAINS]
    if asked.idle is not None:
        reserve_deg = reserve_deg if asked.idle.reserve_deg is None else asked.idle.reserve_deg
        loops = [IdleLoop(asked.idle.gain_deg_per_100rpm, asked.idle.slope_deg_per_100rpm)]
    plant, assumed = plant_of(job, physics, planned, reserve_deg)
    return tuple(try_idle(plant, reserve_deg, loop) for loop in loops), assumed


def stands_for_s(block: Block) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Give the seconds that each row stands for: up to the next, or a usual step where there is a gap.

    Parameters
    ----------
    block : Block
        Rows of one file with their times, which never fall.
    """
    steps = np.diff(block.time_s, append=np.nan)
    known = steps[np.isfinite(steps)]
    if not known.size:
        return np.full(block.time_s.size, np.nan)
    usual = float(np.median(known))
    return np.where(steps <= max(50.0 * usual, 5.0), steps, usual)


def _part_of(progress: Progress | None, place: int, count: int) -> Progress | None:
    return None if progress is None else lambda share: progress((place + share) / count)


def _channels(readers: Sequence[FileReader], tally: Tally) -> list[ChannelSeen]:
    found = []
    cells = tally.seen()
    for name, seen in tally.channels.items():
        mapped = next((each for reader in readers for each in reader.mapped if each.column == name), None)
        if mapped and not any(reader.seen[name].there for reader in readers if name in reader.seen):
            continue
        known = BY_NAME.get(mapped.quantity) if mapped else None
        unit = known.unit if known else mapped.unit if mapped else ""
        found.append(
            ChannelSeen(
                name=name,
                quantity=known.name if known else "",
                unit=unit,
                read_in=mapped.unit if mapped and known and mapped.unit != unit else "",
                confidence=mapped.confidence if mapped else 1.0,
                why=mapped.why if mapped else ("made",),
                quantile_error=seen.quantile_error,
                cells=cells[name],
            )
        )
    return found


def _beyond(tally: Tally) -> list[Beyond]:
    return [
        Beyond(*tally.axes.place(cell), int(tally.beyond[cell]))
        for cell in np.flatnonzero(tally.beyond).tolist()
    ]


def _file(reader: FileReader) -> FileSeen:
    notes = reader.source.notes
    return FileSeen(
        name=reader.source.name,
        kind=reader.source.kind,
        rows=reader.rows,
        seconds=reader.last_s,
        step_s=reader.step_s,
        time_column=reader.time_column,
        cut_off=bool(notes.cut_off),
        cut_off_line=notes.cut_at_line or None,
    )


def judged(
    seen: DriveSeen,
    where: Where,
    timing: TimingSeen | None,
    idle: Idle | None,
    against: tuple[QuantityDifference, ...],
) -> tuple[Finding, ...]:
    """Give what a drive shows, the worst first.

    Parameters
    ----------
    seen : DriveSeen
        Windows of the drive beside the plan.
    where : Where
        Where the engine ran, over the map's cells.
    timing : TimingSeen or None
        The timing held against the map; None where the log has no advance.
    idle : Idle or None
        The idle judged; None where the engine never idled.
    against : tuple of QuantityDifference
        Differences from an earlier drive; empty where none was given.
    """
    found = [
        *faults(seen),
        *timing_findings(timing),
        *idle_findings(idle),
        *where_findings(where),
        *against_findings(against),
    ]
    return tuple(sorted(found, key=lambda each: WORST_FIRST.index(each.state)))


def _headline(tally: Tally, readers: Sequence[FileReader], findings: Sequence[Finding]) -> Finding:
    if findings and findings[0].state in ("problem", "look"):
        return findings[0]
    numbers = {
        "rows": tally.rows,
        "running_rows": tally.running,
        "seconds": float(np.nansum([reader.last_s for reader in readers])),
        "cells": int(np.count_nonzero(tally.seconds)),
        "of_cells": tally.axes.cells,
        "above_rpm": tally.above_rpm,
    }
    return Finding(
        "drive.read" if tally.running else "drive.never-ran", "good" if tally.running else "look", numbers
    )
