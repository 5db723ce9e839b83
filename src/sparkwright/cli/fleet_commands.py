"""The commands of a fleet: many engines planned at once, and the risk of one engine's unknowns."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import click

from sparkwright.cli.common import AS_JSON, GOOD, JOB, SEE, all_cores, counted, load_job, show
from sparkwright.errors import WHOLE, Refusal

if TYPE_CHECKING:
    from sparkwright.fleet.workers import Workers

PATH = click.Path(path_type=Path)


def on_workers(command: Callable[..., Any]) -> Callable[..., Any]:
    """Ask who does the work.

    Parameters
    ----------
    command : callable
        The command that gets the options.
    """
    for option in (
        click.option("--key", type=PATH, help="This side's key for a cluster with TLS."),
        click.option("--cert", type=PATH, help="This side's certificate for a cluster with TLS."),
        click.option("--ca", type=PATH, help="The authority's certificate for a cluster with TLS."),
        click.option(
            "--cluster",
            metavar="ADDRESS",
            help="Work on the Dask cluster of this scheduler: tls://HOST:PORT, or tcp:// on this machine.",
        ),
        click.option(
            "--processes",
            type=click.IntRange(1, 1024),
            help="Processes on this machine; one for each core when not given.",
        ),
    ):
        command = option(command)
    return command


@contextmanager
def _workers(
    processes: int | None, cluster: str | None, ca: Path | None, cert: Path | None, key: Path | None
) -> Iterator[Workers]:
    from sparkwright.fleet.workers import Cluster, Here

    if cluster is None:
        if ca or cert or key:
            raise Refusal.at("--ca, --cert, --key", WHOLE, "belong to a cluster; give --cluster too")
        yield Here(processes)
        return
    if processes is not None:
        raise Refusal.at("--processes", processes, "is for this machine; a cluster has its own workers")
    workers = Cluster(cluster, ca, cert, key)
    try:
        yield workers
    finally:
        workers.close()


@click.group()
def fleet() -> None:
    """Plan thousands of engines, or draw one engine's unknowns; on this machine or on a cluster."""


@fleet.command(name="plan")
@click.argument("jobs", metavar="JOB...", nargs=-1, type=PATH)
@click.option("--grid", type=PATH, metavar="FILE", help="One job with some of its facts over ranges.")
@click.option("--to", required=True, type=PATH, metavar="OUT", help="The folder for tables and manifest.")
@on_workers
@AS_JSON
def plan_command(jobs: tuple[Path, ...], grid: Path | None, to: Path, as_json: bool, **asked: Any) -> int:
    """Plan the starting maps of many engines into a folder.

    Each JOB is a job file, or a folder of them. Stopped or killed anywhere, the same command goes on.
    """
    from sparkwright.cli.fleet_page import plans_page
    from sparkwright.fleet.members import files_of, grid_of
    from sparkwright.fleet.plans import plan_fleet

    if bool(jobs) == (grid is not None):
        raise Refusal.at(
            "JOB...", None if not jobs else len(jobs), "give job files or folders, or else --grid FILE"
        )
    members = grid_of(grid) if grid is not None else files_of(jobs)
    with _workers(**asked) as workers, counted("Planning engines") as tell:
        result = plan_fleet(members, to, workers, progress=tell)
    show("fleet-plan", None, result, as_json, lambda: plans_page(result), (), ())
    return SEE if result.refused_count else GOOD


@fleet.command()
@JOB
@click.option(
    "--draws", type=click.IntRange(20, 100_000), default=400, show_default=True, help="Engines to draw."
)
@click.option(
    "--seed", type=click.IntRange(0, 2**31), default=1, show_default=True, help="Where chance begins."
)
@click.option(
    "--chance",
    type=click.FloatRange(0.1, 50.0),
    help="The chance of knock that a cell may have, in percent; as the job says when not given.",
)
@click.option("--to", type=PATH, metavar="OUT", help="Keep every draw in this folder, to go on after a stop.")
@on_workers
@AS_JSON
def risk(
    job_file: Path,
    draws: int,
    seed: int,
    chance: float | None,
    to: Path | None,
    as_json: bool,
    **asked: Any,
) -> int:
    """Draw what isn't known of an engine, and count where its map knocks and what it gives away.

    What is drawn: octane, compression, temperatures, mixture, chamber and plug, the true timing, and the
    program's own constants. The same seed draws the same engines on any number of processes.
    """
    from sparkwright.cli.fleet_page import risk_page
    from sparkwright.fleet.risk import risk_of

    job = load_job(job_file)
    with (
        TemporaryDirectory(prefix="sparkwright-") as scratch,
        _workers(**asked) as workers,
        all_cores() as run,
        counted("Drawing engines") as tell,
    ):
        result = risk_of(
            job,
            Path(scratch) if to is None else to,
            workers,
            draws=draws,
            seed=seed,
            chance_percent=chance,
            run=run,
            progress=tell,
        )
    show("fleet-risk", job, result, as_json, lambda: risk_page(result), result.assumed, ())
    return SEE if result.over_allowed else GOOD


@fleet.command(name="drives")
@JOB
@click.argument("folders", metavar="FOLDER...", nargs=-1, required=True, type=PATH)
@click.option("--to", required=True, type=PATH, metavar="OUT", help="The folder for tables and manifest.")
@on_workers
@AS_JSON
def drives_command(job_file: Path, folders: tuple[Path, ...], to: Path, as_json: bool, **asked: Any) -> int:
    """Lay an archive of drives on the map of a job, file by file, into a folder of tables.

    Each file of a FOLDER is read as `sparkwright drive` reads it. Stopped anywhere, the same command goes on.
    """
    from sparkwright.cli.fleet_page import drives_page
    from sparkwright.fleet.drives import files_in, read_archive

    job, paths = load_job(job_file), files_in(folders)
    with _workers(**asked) as workers, counted("Reading drives") as tell:
        result = read_archive(job, paths, to, workers, progress=tell)
    show("fleet-drives", job, result, as_json, lambda: drives_page(result), (), ())
    return SEE if result.refused_count or result.found else GOOD


COMMANDS = (fleet,)
