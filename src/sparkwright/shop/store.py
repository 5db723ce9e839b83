"""The store as its callers hold it, and the door that opens it."""

from __future__ import annotations

from pathlib import Path
from typing import Self

from sparkwright.shop.archive import Archives
from sparkwright.shop.attachments import MOST_ATTACHED_BYTES, AttachedFiles
from sparkwright.shop.backup import write_backup
from sparkwright.shop.cases import Cases
from sparkwright.shop.checking import problems_of
from sparkwright.shop.database import Database
from sparkwright.shop.evidence import Evidence
from sparkwright.shop.job_states import JobStates
from sparkwright.shop.learning_runs import LearningRuns
from sparkwright.shop.log import Log
from sparkwright.shop.place import StorePlace, place_of
from sparkwright.shop.refusals import ShopError
from sparkwright.shop.removal import Removal
from sparkwright.shop.revisions import Jobs
from sparkwright.shop.settings import StoreSettings
from sparkwright.shop.tries import Tries


class Shop:
    """Everything a shop keeps; many threads and processes may use one at once.

    Attributes
    ----------
    jobs : Jobs
        Jobs and their revisions.
    evidence : Evidence
        What was seen on the engines.
    files : AttachedFiles
        Files that belong to jobs.
    cases : Cases
        What callers said, what was answered, and what it was.
    archives : Archives
        Jobs out and in, one file each.
    removal : Removal
        The end of jobs.
    log : Log
        Who came, and what came in and left.
    settings, job_states, learning_runs, tries : StoreSettings, JobStates, LearningRuns, Tries
        What belongs to no job.
    database : Database
        What all of them share.
    """

    def __init__(self, place: StorePlace, *, most_attached_bytes: int = MOST_ATTACHED_BYTES) -> None:
        self.database = Database(place)
        self.jobs = Jobs(self.database)
        self.evidence = Evidence(self.database)
        self.files = AttachedFiles(self.database, most_attached_bytes)
        self.cases = Cases(self.database)
        self.archives = Archives(self.database, most_attached_bytes)
        self.removal = Removal(self.database)
        self.log = Log(self.database)
        self.settings = StoreSettings(self.database)
        self.job_states = JobStates(self.database)
        self.learning_runs = LearningRuns(self.database)
        self.tries = Tries(self.database)

    def close(self) -> None:
        """Let go of the database; what was acknowledged is kept."""
        self.database.close()

    def __enter__(self) -> Self:
        """Use the store in a block."""
        return self

    def __exit__(self, *about: object) -> None:
        """Close at the end of the block."""
        self.close()

    def backup(self, target: str | Path) -> None:
        """Write the whole store into one file, as `backup.write_backup` says.

        Parameters
        ----------
        target : str or Path
            Where the backup goes; nothing may be there yet.
        """
        write_backup(self.database, target)

    def check(self) -> list[str]:
        """Give a sentence for each thing that is wrong in the store, as `checking.problems_of` says."""
        return problems_of(self.database)


def open_shop(
    place: str | Path,
    *,
    files: str | Path | None = None,
    most_attached_bytes: int = MOST_ATTACHED_BYTES,
    make: bool = True,
) -> Shop:
    """Open a store, making it or bringing it to the newest tables where needed.

    Parameters
    ----------
    place : str or Path
        A folder, a file ending in .db or .sqlite, or ``postgresql://user@host/name?files=/folder``.
    files : str or Path, optional
        Folder for attached files. Beside the database file when not given; with PostgreSQL it must be
        given before files are attached, and be the same for everybody.
    most_attached_bytes : int
        The longest file that is taken.
    make : bool
        Whether to make one where there is none.

    Raises
    ------
    ShopError, Refusal
        If there is no store and none can be made.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from sparkwright.job import starter_text
    >>> with TemporaryDirectory() as folder, open_shop(folder) as shop:
    ...     first = shop.jobs.create(starter_text(), who="A. Example", why="engine came in")
    ...     again = shop.jobs.save(first.key, first.text + "# seen", who="A. Example", why="seen", based_on=1)
    ...     first.key, [line.number for line in shop.jobs.history(first.key)]
    ('my-engine', [2, 1])
    """
    at = place_of(place, files)
    if not make:
        _require_store(at)
    return Shop(at, most_attached_bytes=most_attached_bytes)


def _require_store(at: StorePlace) -> None:
    if at.database is None:
        database = Database(at, to=None)
        there = database.version() is not None
        database.close()
    else:
        there = at.database.exists()
    if not there:
        raise ShopError(
            f"{at.shown}: there is no store here; name the place with --shop, or start one with "
            "`sparkwright serve`"
        )
