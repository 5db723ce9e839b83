"""The command of drives: logs read, laid on the map, and what they show."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sparkwright.cli.common import AS_JSON, GOOD, JOB, SEE, load_job, show, write
from sparkwright.cli.measured import in_the_store, opened, require_store
from sparkwright.cli.shop_commands import signed_in

if TYPE_CHECKING:
    from sparkwright.drive.asked import DriveAsked
    from sparkwright.drive.reader import Progress
    from sparkwright.drive.result import DriveResult
    from sparkwright.job import Job
    from sparkwright.shop.loggers import Logger

FILES = click.argument(
    "drive_files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path)
)


@contextmanager
def _progress() -> Iterator[Progress]:
    """Show on a terminal how much is read; Ctrl-C stops it."""
    import sys

    if not sys.stderr.isatty():
        yield lambda share: None
        return
    with click.progressbar(length=1000, label="Reading", file=sys.stderr) as bar:
        yield lambda share: bar.update(round(1000 * share) - bar.pos)


@click.command()
@JOB
@FILES
@click.option("--running", metavar="RPM", help="Speed above which the engine runs; else 400.")
@click.option(
    "--channel", "channels", multiple=True, metavar="QUANTITY=COLUMN", help="Which column is what; repeat it."
)
@click.option("--unit", "units", multiple=True, metavar="COLUMN=UNIT", help="What a column is in; repeat it.")
@click.option("--rate", metavar="HZ", help="Rows a second, where a file has no time.")
@click.option(
    "--derive",
    multiple=True,
    metavar="NAME=KIND:COLUMNS",
    help="Make a channel: difference, ratio, rate or slip of columns; repeat it.",
)
@click.option(
    "--idle",
    metavar="GAIN,SLOPE,RESERVE",
    help="Try this timing of the idle: deg a 100 rpm of loop and map, and deg below best.",
)
@click.option(
    "--against", metavar="FILE", type=click.Path(path_type=Path), help="Another drive, to compare with."
)
@click.option("--road", metavar="GRADE,WIND", help="Grade in % and wind in km/h against it, for pulls.")
@click.option(
    "--pulls",
    "pulls_to",
    metavar="OUT",
    type=click.Path(path_type=Path),
    help="Write full-throttle accelerations for `pulls`.",
)
@click.option(
    "--remember",
    is_flag=True,
    help="Keep what was said of columns for this logger.",
)
@click.option("--shop", "place", metavar="PLACE", help="The store that remembers; else the usual one.")
@click.option("--keep", is_flag=True, help="Keep files, knock marks and quiet places with the job.")
@click.option("--keep-pulls", is_flag=True, help="Keep its full-throttle pulls too, to be compared.")
@click.option("--who", metavar="NAME", help="Who keeps it; else who is signed in at this machine.")
@AS_JSON
def drive(
    job_file: Path,
    drive_files: tuple[Path, ...],
    running: str | None,
    channels: tuple[str, ...],
    units: tuple[str, ...],
    rate: str | None,
    derive: tuple[str, ...],
    idle: str | None,
    against: Path | None,
    road: str | None,
    pulls_to: Path | None,
    remember: bool,
    place: str | None,
    keep: bool,
    keep_pulls: bool,
    who: str | None,
    as_json: bool,
) -> int:
    """Read a drive, lay it on the map, and say what it shows.

    JOB is a file, or the key of a job in the store. Each FILE is a log as text in any dialect, Parquet or
    MDF 4, in the order in which they were taken.
    """
    from sparkwright.cli.drive_page import drive_page
    from sparkwright.drive.asked import asked_of
    from sparkwright.drive.drives import drive_of

    if keep_pulls and not keep:
        raise click.UsageError("--keep-pulls must come with --keep")
    if keep:
        require_store(job_file)
    job = _job_of(job_file, place)
    asked = asked_of(
        running=running,
        channels=channels,
        units=units,
        rate=rate,
        derive=derive,
        idle=idle,
        against=against,
        road=road,
    )
    keeps_memory = remember or in_the_store(job_file)
    if keeps_memory or place is not None:
        asked = _with_memory(asked, drive_files[0], place, make=remember)
    with _progress() as tell:
        result = drive_of(job, drive_files, asked, progress=tell)
    if keeps_memory and not asked.remembered:
        _remember(asked, drive_files[0], place)
    show("drive", job, result, as_json, lambda: drive_page(result), result.assumed, result.warnings)
    if pulls_to is not None:
        _write_pulls(result, pulls_to, as_json)
    if keep:
        kept = _keep(str(job_file), drive_files, result, who or signed_in(), place, pulls=keep_pulls)
        click.echo(f"Kept with {job_file}: {kept}.", err=as_json)
    return SEE if any(each.state in ("problem", "look") for each in result.findings) else GOOD


def _write_pulls(result: DriveResult, path: Path, as_json: bool) -> None:
    """Write what `sparkwright pulls` reads."""
    from sparkwright.evidence.pulls_of_drives import pull_table

    write({path: pull_table(result.accelerations).encode()}, replace=False, way_out="")
    pulls = _counted(len(result.accelerations), "pull")
    click.echo(f"Written: {path}, {pulls} for `sparkwright pulls`.", err=as_json)


def _job_of(job: Path, place: str | None) -> Job:
    """Read a job from its file or from the store."""
    if not in_the_store(job):
        return load_job(job)
    with opened(place) as store:
        return store.jobs.latest(str(job)).job


def _keep(
    key: str, paths: Sequence[Path], result: DriveResult, who: str, place: str | None, *, pulls: bool
) -> str:
    """Keep files and marks of a drive with a job, and its pulls where they are wanted; say what was kept."""
    from sparkwright.evidence.of_drives import drive_note, drive_word, marks_of
    from sparkwright.evidence.pulls_of_drives import road_pulls_of

    road = road_pulls_of(result, paths[0].name) if pulls else []
    marks = marks_of(result, drive_note(paths[0].name))
    with opened(place) as store:
        files = []
        for path in paths:
            with path.open("rb") as content:
                files.append(store.files.attach(key, path.name, "drive", content, who=who))
        for mark in marks:
            store.evidence.add(key, mark, who=who, sent_as=drive_word(files[0].sha256))
        for pull in road:
            store.evidence.add(key, pull, who=who, sent_as=drive_word(files[0].sha256))
    quiet = sum(each.knock == "none" for each in marks)
    kept = f"{_counted(len(marks) - quiet, 'knock mark')} and {_counted(quiet, 'quiet place')}"
    return f"{kept}; {_counted(len(road), 'pull')} on the road, to be compared" if pulls else kept


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


@contextmanager
def _logger(path: Path, place: str | None, *, make: bool) -> Iterator[Logger]:
    """Open what a store holds of the logger that wrote a file."""
    from sparkwright.drive.sources import source_of
    from sparkwright.shop import open_shop, usual_place
    from sparkwright.shop.loggers import remembered_of

    headings = [each.name for each in source_of(path).columns]
    with open_shop(place or usual_place(), make=make) as store:
        yield remembered_of(store.settings, headings)


def _with_memory(asked: DriveAsked, path: Path, place: str | None, *, make: bool) -> DriveAsked:
    """Add what was said before of this logger; what is said now goes before it."""
    with _logger(path, place, make=make) as known:
        channels, units = {**known.channels, **asked.channels}, {**known.units, **asked.units}
    said_now = bool(asked.channels or asked.units)
    return replace(asked, channels=channels, units=units, remembered=bool(channels or units) and not said_now)


def _remember(asked: DriveAsked, path: Path, place: str | None) -> None:
    """Keep what was said of this logger, once a drive was read with it."""
    if asked.channels or asked.units:
        with _logger(path, place, make=True) as known:
            known.keep(asked.channels, asked.units)


COMMANDS = (drive,)
