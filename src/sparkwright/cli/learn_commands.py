"""The commands of what was measured: sweeps one by one, what they teach, and what to measure next."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from sparkwright.cli.common import AS_JSON, GOOD, JOB, SEE, load_job, show

Progress = Callable[[int, int], None]

FILE = click.argument("sweep_file", metavar="FILE", type=click.Path(path_type=Path))
FILES = click.argument(
    "sweep_files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
ANY_FILES = click.argument("sweep_files", metavar="[FILE...]", nargs=-1, type=click.Path(path_type=Path))


@contextmanager
def progress_bar(label: str) -> Iterator[Progress]:
    """Show on a terminal how far the work is; Ctrl-C stops it."""
    import sys

    if not sys.stderr.isatty():
        yield lambda done, total: None
        return
    with click.progressbar(length=1, label=label, file=sys.stderr) as bar:

        def tell(done: int, total: int) -> None:
            bar.length = total
            bar.update(done - bar.pos)

        yield tell


@click.command()
@JOB
@FILE
@AS_JSON
def dyno(job_file: Path, sweep_file: Path, as_json: bool) -> int:
    """Fit sweeps of torque against advance, one by one.

    FILE is a table with the columns speed_rpm, map_kpa, advance_deg and torque_nm, and knock, lambda,
    intake_c, coolant_c, time_s and sweep if known.
    """
    from sparkwright.cli.learn_page import dyno_page
    from sparkwright.dyno.fits import dyno_of
    from sparkwright.dyno.table import load_sweeps

    job = load_job(job_file)
    result = dyno_of(job, load_sweeps(sweep_file))
    show("dyno", job, result, as_json, lambda: dyno_page(result), result.assumed, result.warnings)
    return SEE if result.findings else GOOD


@click.command()
@JOB
@FILES
@AS_JSON
def learn(job_file: Path, sweep_files: tuple[Path, ...], as_json: bool) -> int:
    """Learn this engine from its sweeps, and plan the map anew.

    Each FILE is a table as `sparkwright dyno` reads it. The order of files and sweeps changes nothing.
    """
    from sparkwright.cli.learn_page import learn_page
    from sparkwright.dyno.table import load_sweeps
    from sparkwright.learn.result import learned

    job = load_job(job_file)
    sweeps = [sweep for path in sweep_files for sweep in load_sweeps(path)]
    with progress_bar("Planning anew") as tell:
        result = learned(job, sweeps, progress=tell)
    show("learn", job, result, as_json, lambda: learn_page(result), result.assumed, result.warnings)
    return SEE if result.set_aside else GOOD


@click.command(name="next")
@JOB
@ANY_FILES
@AS_JSON
def next_command(job_file: Path, sweep_files: tuple[Path, ...], as_json: bool) -> int:
    """Say which sweep to run next, and whether one more is worth it.

    Each FILE is a table as `sparkwright dyno` reads it; without any the first sweep is named.
    """
    from sparkwright.cli.learn_page import next_page
    from sparkwright.dyno.table import load_sweeps
    from sparkwright.learn.next_runs import next_of

    job = load_job(job_file)
    sweeps = [sweep for path in sweep_files for sweep in load_sweeps(path)]
    with progress_bar("Weighing sweeps") as tell:
        result = next_of(job, sweeps, progress=tell)
    show("next", job, result, as_json, lambda: next_page(result), result.assumed, result.warnings)
    return SEE if result.set_aside else GOOD


COMMANDS = (dyno, learn, next_command)
