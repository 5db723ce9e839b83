"""The commands of what was measured: sweeps one by one, what they teach, and what to measure next."""

from __future__ import annotations

from pathlib import Path

import click

from sparkwright.cli.common import AS_JSON, GOOD, JOB, SEE, counted, show
from sparkwright.cli.measured import keep_sweeps, measured_on, require_files, require_store
from sparkwright.cli.serve_command import SHOP
from sparkwright.cli.shop_commands import signed_in

FILE = click.argument("sweep_file", metavar="[FILE]", required=False, type=click.Path(path_type=Path))
FILES = click.argument("sweep_files", metavar="[FILE...]", nargs=-1, type=click.Path(path_type=Path))


@click.command()
@JOB
@FILE
@click.option("--keep", is_flag=True, help="Keep what can be used with the job in the store.")
@click.option("--who", metavar="NAME", help="Who keeps it; else who is signed in at this machine.")
@SHOP
@AS_JSON
def dyno(
    job_file: Path, sweep_file: Path | None, keep: bool, who: str | None, place: str | None, as_json: bool
) -> int:
    """Fit sweeps of torque against advance, one by one.

    JOB is a file, or the key of a job in the store, which brings what was kept with it. FILE is a table with
    the columns speed_rpm, map_kpa, advance_deg and torque_nm, and knock, lambda, intake_c, coolant_c, time_s
    and sweep if known.
    """
    from sparkwright.cli.learn_page import dyno_page
    from sparkwright.dyno.checks import new_among
    from sparkwright.dyno.fits import dyno_of

    files = () if sweep_file is None else (sweep_file,)
    if keep:
        require_store(job_file)
    if keep and sweep_file is None:
        raise click.UsageError("--keep must come with a FILE")
    require_files(job_file, files)
    measured = measured_on(job_file, files, place)
    result = dyno_of(measured.job, measured.sweeps)
    show("dyno", measured.job, result, as_json, lambda: dyno_page(result), result.assumed, result.findings)
    if keep and sweep_file is not None:
        new = new_among(measured.given, measured.kept)
        keep_sweeps(job_file, sweep_file, new, who or signed_in(), place)
        left = len(measured.given) - len(new)
        more = f"; {left} set aside and not kept" if left else ""
        click.echo(
            f"Kept with {job_file}: {len(new)} sweep{'' if len(new) == 1 else 's'}{more}.", err=as_json
        )
    return SEE if result.findings else GOOD


@click.command()
@JOB
@FILES
@SHOP
@AS_JSON
def learn(job_file: Path, sweep_files: tuple[Path, ...], place: str | None, as_json: bool) -> int:
    """Learn this engine from its sweeps, and plan the map anew.

    JOB is a file, or the key of a job in the store, which brings the sweeps, pulls and marks of knock kept
    with it.
    Each FILE is a table as `sparkwright dyno` reads it. The order of files and sweeps changes nothing.
    """
    from sparkwright.cli.learn_page import learn_page
    from sparkwright.learn.result import learned

    require_files(job_file, sweep_files)
    measured = measured_on(job_file, sweep_files, place)
    with counted("Planning anew") as tell:
        result = learned(measured.job, measured.taught_by, progress=tell)
    show("learn", measured.job, result, as_json, lambda: learn_page(result), result.assumed, result.warnings)
    return SEE if result.set_aside else GOOD


@click.command(name="next")
@JOB
@FILES
@SHOP
@AS_JSON
def next_command(job_file: Path, sweep_files: tuple[Path, ...], place: str | None, as_json: bool) -> int:
    """Say which sweep to run next, and whether one more is worth it.

    JOB is a file, or the key of a job in the store, which brings what was kept with it. Each FILE is a table
    as `sparkwright dyno` reads it; without any the first sweep is named.
    """
    from sparkwright.cli.learn_page import next_page
    from sparkwright.learn.next_runs import next_of

    measured = measured_on(job_file, sweep_files, place)
    with counted("Weighing sweeps") as tell:
        result = next_of(measured.job, measured.taught_by, progress=tell)
    show("next", measured.job, result, as_json, lambda: next_page(result), result.assumed, result.findings)
    return SEE if result.set_aside else GOOD


COMMANDS = (dyno, learn, next_command)
