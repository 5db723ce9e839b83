"""Drives kept with a job, as pages and API show them: read one at a time, and remembered."""

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
from sparkwright.drive.rows import RowKeeper
from sparkwright.errors import Refusal
from sparkwright.evidence.found import Found
from sparkwright.evidence.of_drives import drive_note, drive_word, knock_mark_of
from sparkwright.evidence.records import Record
from sparkwright.job import Job
from sparkwright.shop import Attachment, NotThereError, Revision, Shop

MOST_BYTES = 300_000_000
"""Longest drive that a page or program waits for; the command reads any."""


@dataclass(frozen=True)
class ReadDrive:
    """A drive as it was read: what it came to, and its rows to look at."""

    result: DriveResult
    rows: RowKeeper


# Rows lie beside memory and are as large as their file, so few drives are kept.
_KEPT: LRUCache[tuple[str, str], ReadDrive] = LRUCache(maxsize=4)
_TURN = Lock()


def drive_file(shop: Shop, key: str, file_id: int) -> Attachment:
    """Give a drive that was kept with a job; what is none is not there.

    Parameters
    ----------
    shop : Shop
        The store.
    key : str
        Of the job.
    file_id : int
        Of the file.
    """
    found = shop.files.one(file_id)
    if found.key != key or found.kind != "drive":
        raise NotThereError(f"There is no drive {file_id} with this job; go back to its history.")
    return found


def read_of_job(shop: Shop, job: Job, file: Attachment) -> ReadDrive:
    """Read a drive, or give what was read of it before; one at a time, since each takes all cores.

    Parameters
    ----------
    shop : Shop
        The store.
    job : Job
        The job on whose map it is laid.
    file : Attachment
        The drive.
    """
    if file.size > MOST_BYTES:
        raise Refusal.at(
            "drive",
            file.name,
            f"must be at most {MOST_BYTES:,} bytes here",
            "read it with `sparkwright drive`",
        )
    at = file.sha256, job.fingerprint
    with _TURN:
        if at not in _KEPT:
            with TemporaryDirectory() as folder, shop.files.open(file.id) as kept:
                path = Path(folder) / file.name
                with path.open("wb") as own:
                    shutil.copyfileobj(kept, own, 1 << 20)
                rows = RowKeeper()
                _KEPT[at] = ReadDrive(read_drive(job, [path], DriveAsked(), rows=rows)[0], rows)
        return _KEPT[at]


def newest_drive(shop: Shop, revision: Revision) -> DriveResult | None:
    """Give what the newest drive of a job shows, if it was read already; None keeps nobody waiting.

    Parameters
    ----------
    shop : Shop
        The store.
    revision : Revision
        The job.
    """
    drives = [each for each in shop.files.of_job(revision.key) if each.kind == "drive"]
    if not drives:
        return None
    newest = max(drives, key=lambda each: each.id)
    read = _KEPT.get((newest.sha256, revision.job.fingerprint))
    return None if read is None else read.result


def keep_finding(
    shop: Shop, key: str, file: Attachment, result: DriveResult, number: int, who: str
) -> Record:
    """Keep a finding of a drive as evidence, one of knock as a mark; kept again it counts once.

    Parameters
    ----------
    shop : Shop
        The store.
    key : str
        Of the job.
    file : Attachment
        The drive's file.
    result : DriveResult
        What it came to.
    number : int
        Of the finding, as map and list show it.
    who : str
        Who accepts it.

    Raises
    ------
    Refusal
        If the drive has no finding of that number.
    """
    found = next((each.finding for each in result.marks if each.number == number), None)
    if found is None:
        last = len(result.marks)
        must = (
            f"must be that of a finding, 1 to {last}" if last else "can't be one: nothing is to be looked at"
        )
        raise Refusal.at("number", number, must, "open the drive again")
    seen = knock_mark_of(found, drive_note(file.name)) or Found(found, file.name)
    return shop.evidence.add(key, seen, who=who, sent_as=drive_word(file.sha256))
