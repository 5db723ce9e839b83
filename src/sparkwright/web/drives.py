"""Drives kept with jobs, each read once and held for a while: for its page, and for the desk."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Lock

from cachetools import LRUCache

from sparkwright.drive.asked import DriveAsked
from sparkwright.drive.drives import read_drive
from sparkwright.drive.result import DriveResult
from sparkwright.drive.windows import Windows
from sparkwright.errors import Refusal
from sparkwright.job import Job
from sparkwright.shop import Attachment, Revision, Shop

MOST_BYTES = 300_000_000
"""Longest drive that a page waits for; the command reads any."""


@dataclass(frozen=True)
class DriveRead:
    """What a drive shows, and its windows of time."""

    result: DriveResult
    windows: Windows


_KEPT: LRUCache[tuple[str, str], DriveRead] = LRUCache(maxsize=8)
_TURN = Lock()
_KEEPING = Lock()


def drive_read(shop: Shop, job: Job, file: Attachment) -> DriveRead:
    """Read a drive, or give what was read of it before; one at a time, since each takes all cores.

    Raises
    ------
    Refusal
        If it is longer than a page waits for, or can't be read.
    """
    if file.size > MOST_BYTES:
        raise Refusal.at(
            "drive",
            file.name,
            f"must be at most {MOST_BYTES:,} bytes here",
            "read it with `sparkwright drive`",
        )
    with _TURN:
        kept = _kept(job, file)
        if kept is None:
            with TemporaryDirectory() as folder, shop.files.open(file.id) as stored:
                path = Path(folder) / file.name
                with path.open("wb") as own:
                    shutil.copyfileobj(stored, own, 1 << 20)
                kept = DriveRead(*read_drive(job, [path], DriveAsked()))
            with _KEEPING:
                _KEPT[file.sha256, job.fingerprint] = kept
        return kept


def newest_drive(shop: Shop, revision: Revision) -> DriveResult | None:
    """Give what the newest drive of a job shows, if it was read already; None keeps nobody waiting."""
    drives = [each for each in shop.files.of_job(revision.key) if each.kind == "drive"]
    kept = _kept(revision.job, max(drives, key=lambda each: each.id)) if drives else None
    return None if kept is None else kept.result


def _kept(job: Job, file: Attachment) -> DriveRead | None:
    with _KEEPING:
        return _KEPT.get((file.sha256, job.fingerprint))
