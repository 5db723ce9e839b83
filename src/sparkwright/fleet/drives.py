"""An archive of drives laid on the map of one job, file by file."""

from __future__ import annotations

import hashlib
import logging
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from sparkwright.drive.drives import drive_of
from sparkwright.drive.result import DriveResult
from sparkwright.errors import WHOLE, Refusal, SparkwrightError
from sparkwright.fleet.filling import Progress, fill
from sparkwright.fleet.parts import Columns, Parts
from sparkwright.fleet.workers import Workers
from sparkwright.job import Job

FILES_A_PART = 8
"""Drives in one part; a choice: a drive may be a gigabyte."""

TELLS = 20
"""Files refused, and cells used most, that are told one by one."""

CELL_COLUMNS = ("rpm", "kpa", "count", "mean", "q25", "q50", "q75")

_LOG = logging.getLogger(__name__)


@dataclass(frozen=True)
class Drive:
    """One file of an archive as rows of tables, or why it has none."""

    source: str
    refused: str = ""
    rows: int = 0
    running_rows: int = 0
    seconds: float = float("nan")
    cells: tuple[tuple[Any, ...], ...] = ()
    findings: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class CellUsed:
    """A cell, and the share of all running rows that lay in it [%]."""

    rpm: float
    kpa: float
    share_percent: float


@dataclass(frozen=True)
class FleetDrives:
    """What an archive of drives comes to.

    ``found`` says in how many files each kind of finding was made; ``used`` lists the cells that were driven
    most. ``refused`` gives the first files that can't be read, each as (source, sentence).
    """

    folder: str
    files: int
    already: int
    read: int
    rows: int
    running_rows: int
    seconds: float
    found: tuple[tuple[str, int], ...]
    used: tuple[CellUsed, ...]
    refused_count: int
    refused: tuple[tuple[str, str], ...]


def files_in(folders: Sequence[Path]) -> tuple[Path, ...]:
    """Collect the files of an archive, by name; what begins with a dot is left out.

    Parameters
    ----------
    folders : sequence of Path
        Folders of the archive; of each, every file in it and below counts.

    Raises
    ------
    Refusal
        If a folder is not there or has no file in it.
    """
    found: list[Path] = []
    for folder in folders:
        if not folder.exists():
            raise Refusal.at(str(folder), WHOLE, "is not there", "name the folder of the drives")
        there = [folder] if folder.is_file() else folder.rglob("*")
        inside = sorted(each for each in there if each.is_file() and not each.name.startswith("."))
        if not inside:
            raise Refusal.at(str(folder), WHOLE, "has no file in it", "name the folder of the drives")
        found += inside
    return tuple(dict.fromkeys(found))


def read_drive(text: str, path: Path) -> Drive:
    """Read one drive; whatever goes wrong is told in its place and never raised.

    Parameters
    ----------
    text : str
        The job's text, by which every drive of the archive is read.
    path : Path
        File of the drive.
    """
    try:
        return _rows(str(path), drive_of(Job.from_toml(text, kept=True), [path]))
    except SparkwrightError as refusal:
        return Drive(str(path), refused="\n".join(refusal.sentences))
    except Exception as fault:
        _LOG.exception("%s can't be read", path)
        return Drive(str(path), refused=f"reading it broke off ({type(fault).__name__}); report it")


def _rows(source: str, result: DriveResult) -> Drive:
    return Drive(
        source,
        rows=result.rows,
        running_rows=result.running_rows,
        seconds=sum(each.seconds for each in result.files),
        cells=tuple(
            (channel.name, channel.quantity, channel.unit, *(getattr(cell, name) for name in CELL_COLUMNS))
            for channel in result.channels
            for cell in channel.cells
        ),
        findings=tuple((each.kind, each.state) for each in result.findings),
    )


def read_archive(
    job: Job, paths: Sequence[Path], folder: Path, workers: Workers, *, progress: Progress | None = None
) -> FleetDrives:
    """Read every drive of an archive into a folder, going on where an earlier run was stopped.

    Parameters
    ----------
    job : Job
        The engine that was driven.
    paths : sequence of Path
        The files; where a cluster reads them they must stand at the same place for each worker.
    folder : Path
        Gets the tables `files`, `cells` and `findings` in parts, and their manifest.
    workers : Workers
        Who reads; it moves no result.
    progress : callable, optional
        Called with (files done, files in all); raise from it to stop.

    Returns
    -------
    FleetDrives
        What there is, where it ran, and what was found how often.
    """
    parts = Parts(folder, "drives", _asked(job, paths), len(paths), FILES_A_PART)
    already = parts.done

    def lost(number: int) -> Drive:
        return Drive(str(paths[number]), refused="reading it brought its worker down twice; it was given up")

    fill(parts, workers, partial(read_drive, job.to_toml()), paths.__getitem__, lost, _tables, progress)
    return _summary(parts, already)


def _asked(job: Job, paths: Sequence[Path]) -> str:
    """Give the SHA-256 of the job and of what stands where: a file that changed is another question."""
    digest = hashlib.sha256(job.fingerprint.encode())
    for path in paths:
        seen = path.stat()
        digest.update(f"{path}\0{seen.st_size}\0{seen.st_mtime_ns}\0".encode())
    return digest.hexdigest()


def _tables(listed: list[tuple[int, Drive]]) -> dict[str, Columns]:
    files: Columns = {
        "file": [number for number, _ in listed],
        **{
            name: [getattr(each, name) for _, each in listed]
            for name in ("source", "refused", "rows", "running_rows", "seconds")
        },
    }
    rows = [(number, *row) for number, each in listed for row in each.cells]
    cells = _columns(("file", "channel", "quantity", "unit", *CELL_COLUMNS), rows)
    found = [(number, *row) for number, each in listed for row in each.findings]
    return {"files": files, "cells": cells, "findings": _columns(("file", "kind", "state"), found)}


def _columns(names: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> Columns:
    return {name: [row[place] for row in rows] for place, name in enumerate(names)}


def _summary(parts: Parts, already: int) -> FleetDrives:
    files, cells, findings = (parts.read(name) for name in ("files", "cells", "findings"))
    without = files.filter(files["refused"] != "")
    running = int(files["running_rows"].sum())
    return FleetDrives(
        folder=str(parts.folder),
        files=parts.items,
        already=already,
        read=files.height - without.height,
        rows=int(files["rows"].sum()),
        running_rows=running,
        seconds=float(files["seconds"].fill_null(0.0).sum()),
        found=_found(findings),
        used=_used(cells, running),
        refused_count=without.height,
        refused=tuple(zip(without["source"].head(TELLS), without["refused"].head(TELLS), strict=True)),
    )


def _found(findings: Any) -> tuple[tuple[str, int], ...]:
    """Count the files in which each kind of finding was made, the most first."""
    pairs = set(zip(findings["kind"], findings["file"], strict=True))
    counts = Counter(kind for kind, _ in pairs)
    return tuple(sorted(counts.items(), key=lambda each: (-each[1], each[0])))


def _used(cells: Any, running: int) -> tuple[CellUsed, ...]:
    """Give the cells in which most rows lay."""
    speeds = cells.filter(cells["quantity"] == "rpm")
    rows: Counter[tuple[float, float]] = Counter()
    for rpm, kpa, count in zip(speeds["rpm"], speeds["kpa"], speeds["count"], strict=True):
        rows[rpm, kpa] += count
    most = sorted(rows.items(), key=lambda each: (-each[1], each[0]))[:TELLS]
    return tuple(CellUsed(rpm, kpa, 100.0 * count / running) for (rpm, kpa), count in most)
