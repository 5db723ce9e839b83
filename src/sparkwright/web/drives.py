"""Drives kept with a job, as pages and API show them: read one at a time, and remembered."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Lock

from cachetools import LRUCache

from sparkwright.drive.asked import DriveAsked
from sparkwright.drive.drives import read_drive
from sparkwright.drive.result import DriveResult
from sparkwright.drive.rows import RowKeeper
from sparkwright.drive.sources import source_of
from sparkwright.errors import Refusal
from sparkwright.evidence.found import Found
from sparkwright.evidence.of_drives import drive_note, drive_word, knock_mark_of
from sparkwright.evidence.pulls_of_drives import road_pulls_of
from sparkwright.evidence.records import Record
from sparkwright.job import Job
from sparkwright.shop import Attachment, NotThereError, Revision, Shop
from sparkwright.shop.loggers import remembered_of

MOST_BYTES = 300_000_000
"""Longest drive that a page or program waits for; the command reads any."""


@dataclass(frozen=True)
class ReadDrive:
    """A drive as it was read: result, rows to look at, headings, and what was said of them."""

    result: DriveResult
    rows: RowKeeper
    headings: tuple[str, ...]
    asked: DriveAsked


# Rows lie beside memory and are as large as their file, so few drives are kept.
_KEPT: LRUCache[tuple[str, str], ReadDrive] = LRUCache(maxsize=4)
_HEADINGS: LRUCache[str, tuple[str, ...]] = LRUCache(maxsize=100)
_LOOK = Lock()
"""Held while the drives and headings that are kept are looked at or changed, and never while one is read."""
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


def headings_of(file: Attachment) -> tuple[str, ...]:
    """Give the headings of a drive's columns, once it was opened; none where it holds no columns.

    Parameters
    ----------
    file : Attachment
        The drive.
    """
    with _LOOK:
        return _HEADINGS.get(file.sha256, ())


def read_of_job(shop: Shop, job: Job, file: Attachment, said: DriveAsked | None = None) -> ReadDrive:
    """Read a drive, or give what was read of it before; one at a time, since each takes all cores.

    Parameters
    ----------
    shop : Shop
        The store.
    job : Job
        The job on whose map it is laid.
    file : Attachment
        The drive.
    said : DriveAsked, optional
        What is said of its columns now; what is remembered of its logger where it is left out.
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
        known = _kept(at)
        if known is None or known.asked != (said or said_before(shop, known.headings)):
            with TemporaryDirectory() as folder, shop.files.open(file.id) as kept:
                path = Path(folder) / file.name
                with path.open("wb") as own:
                    shutil.copyfileobj(kept, own, 1 << 20)
                headings, rows = tuple(each.name for each in source_of(path).columns), RowKeeper()
                with _LOOK:
                    _HEADINGS[file.sha256] = headings
                asked = said or said_before(shop, headings)
                known = ReadDrive(read_drive(job, [path], asked, rows=rows)[0], rows, headings, asked)
            with _LOOK:
                _KEPT[at] = known
        return known


def _kept(at: tuple[str, str]) -> ReadDrive | None:
    with _LOOK:
        return _KEPT.get(at)


def keep_columns(shop: Shop, job: Job, file: Attachment, said: DriveAsked) -> None:
    """Read a drive with what is said of its columns now, and keep that for its logger where it can be read.

    Parameters
    ----------
    shop : Shop
        The store, which remembers it.
    job : Job
        The job on whose map the drive is laid.
    file : Attachment
        The drive.
    said : DriveAsked
        What is said; nothing in it forgets what was said before.
    """
    read = read_of_job(shop, job, file, said)
    remembered_of(shop.settings, read.headings).keep(said.channels, said.units)


def said_before(shop: Shop, headings: Sequence[str]) -> DriveAsked:
    """Give what was said before of the logger that writes such headings.

    Parameters
    ----------
    shop : Shop
        The store, which remembers it.
    headings : sequence of str
        Headings of the columns of a log.
    """
    known = remembered_of(shop.settings, headings)
    return DriveAsked(
        channels=known.channels, units=known.units, remembered=bool(known.channels or known.units)
    )


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
    read = _kept((newest.sha256, revision.job.fingerprint))
    return None if read is None else read.result


def keep_pulls(shop: Shop, key: str, file: Attachment, result: DriveResult, who: str) -> list[Record]:
    """Keep a drive's pulls on the road as evidence; kept again they count once.

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
    who : str
        Who keeps them.

    Raises
    ------
    Refusal
        If the drive has none.
    """
    pulls = road_pulls_of(result, file.name)
    if not pulls:
        must = "must have a pull at full throttle, in one gear, with road speed logged"
        raise Refusal.at("drive", file.name, must, "open the drive again")
    return [shop.evidence.add(key, each, who=who, sent_as=drive_word(file.sha256)) for each in pulls]


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
