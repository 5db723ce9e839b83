"""A job, and what was measured on its engine: from files, from the store, or from both."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sparkwright.cli.common import load_job
from sparkwright.errors import Refusal

if TYPE_CHECKING:
    from sparkwright.dyno.sweep import Sweep
    from sparkwright.job import Job
    from sparkwright.shop import Shop


@dataclass(frozen=True)
class Measured:
    """A job with what was measured: ``kept`` stands in the store already, ``given`` in files.

    ``pulled`` is what the kept pulls say at some speeds.
    """

    job: Job
    kept: tuple[Sweep, ...]
    given: tuple[Sweep, ...]
    pulled: tuple[Sweep, ...] = ()

    @property
    def sweeps(self) -> tuple[Sweep, ...]:
        """Give all sweeps and marks of knock."""
        return self.kept + self.given

    @property
    def taught_by(self) -> tuple[Sweep, ...]:
        """Give all from which the engine is learned."""
        return self.sweeps + self.pulled


def in_the_store(job: Path) -> bool:
    """Tell a job of the store, which is named by its key, from a file.

    Parameters
    ----------
    job : Path
        File of the job, or its key.
    """
    return not job.exists() and not job.suffix and job.parent == Path()


def measured_on(job: Path, files: Sequence[Path], place: str | None) -> Measured:
    """Read a job from a file or from the store, and its sweeps from files and from the store.

    Parameters
    ----------
    job : Path
        File of the job, or its key in the store.
    files : sequence of Path
        Files of sweeps.
    place : str or None
        Where the store is; None for the usual place.
    """
    from sparkwright.dyno.pull_points import points_of_pulls
    from sparkwright.evidence.pulls import pulls_in
    from sparkwright.evidence.sweeps import sweeps_in

    if not in_the_store(job):
        return Measured(load_job(job), (), _given(files))
    given = _given(files)
    with opened(place) as shop:
        revision = shop.jobs.latest(str(job))
        records = shop.evidence.of_job(revision.key)
        return Measured(revision.job, sweeps_in(records), given, points_of_pulls(pulls_in(records)))


def _given(files: Sequence[Path]) -> tuple[Sweep, ...]:
    from sparkwright.dyno.table import load_sweeps

    return tuple(sweep for path in files for sweep in load_sweeps(path))


def require_files(job: Path, files: Sequence[Path]) -> None:
    """Refuse a job file without any file of what was measured.

    Parameters
    ----------
    job : Path
        File of the job, or its key in the store.
    files : sequence of Path
        Files of sweeps; they may be missing only for a job of the store.
    """
    if not files and not in_the_store(job):
        raise click.UsageError("FILE must be given where JOB is a file; a job in the store has its own")


def keep_sweeps(job: Path, file: Path, sweeps: Sequence[Sweep], who: str, place: str | None) -> None:
    """Keep sweeps, and the file they stand in, with a job of the store.

    Parameters
    ----------
    job : Path
        Key of the job in the store.
    file : Path
        File that the sweeps stand in.
    sweeps : sequence of Sweep
        The sweeps.
    who : str
        Who measured them.
    place : str or None
        Where the store is; None for the usual place.
    """
    from sparkwright.evidence.sweeps import sweep_seen

    seen = [sweep_seen(each) for each in sweeps]
    with opened(place) as shop, file.open("rb") as content:
        key = shop.jobs.latest(str(job)).key
        shop.files.attach(key, file.name, "readings", content, who=who)
        shop.evidence.add_all(key, seen, who=who)


def require_store(job: Path) -> None:
    """Refuse to keep what was measured with a job file.

    Parameters
    ----------
    job : Path
        File of the job, which is refused, or its key.
    """
    if not in_the_store(job):
        raise Refusal.at(
            "--keep", str(job), "must come with a job in the store", "`sparkwright shop list` names them"
        )


def opened(place: str | None) -> Shop:
    """Open the store that is meant.

    Parameters
    ----------
    place : str or None
        Where the store is; None for the usual place.
    """
    from sparkwright.shop import open_shop, usual_place

    return open_shop(place or usual_place())
