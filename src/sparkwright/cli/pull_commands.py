"""The command of pulls at full throttle."""

from __future__ import annotations

from pathlib import Path

import click

from sparkwright.cli.common import AS_JSON, GOOD, SEE, Plain, require_within
from sparkwright.errors import Refusal


@click.command()
@click.argument("pull_files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--bandwidth",
    type=Plain("rpm", 0.0, 5000.0),
    default=100.0,
    show_default=True,
    metavar="RPM",
    help="Bandwidth of the smoothing: one standard deviation of its weights.",
)
@click.option("--inertia", type=Plain("", 0.0, 1e5), metavar="KGM2", help="Of the drum, in kg m2.")
@click.option(
    "--coast", type=click.Path(path_type=Path), help="How the drum slows down by itself: time_s, drum_rpm."
)
@click.option("--pressure", type=Plain("kPa", 0.0, 200.0), metavar="KPA", help="Barometer at the place.")
@click.option("--air", type=Plain("", -90.0, 100.0), metavar="DEGC", help="Air at the inlet, in deg C.")
@click.option(
    "--humidity",
    type=Plain("%", 0.0, 100.0),
    default=50.0,
    show_default=True,
    metavar="PERCENT",
    help="Relative humidity.",
)
@AS_JSON
def pulls(
    pull_files: tuple[Path, ...],
    bandwidth: float,
    inertia: float | None,
    coast: Path | None,
    pressure: float | None,
    air: float | None,
    humidity: float,
    as_json: bool,
) -> int:
    """Smooth pulls at full throttle, and hold timings against each other.

    Each FILE is a table with speed_rpm and torque_nm, torque_lb-ft, power_kw, power_hp, or drum_rpm with
    time_s and --inertia; the columns pull and timing part them. Pulls of one day are compared as measured;
    --pressure and --air give the factors of SAE J1349 and ISO 1585.
    """
    from sparkwright.air.humidity import OutsideAir
    from sparkwright.dyno.pull_result import pulls_of
    from sparkwright.dyno.pull_table import Drum, load_coasting, load_pulls
    from sparkwright.sheets.record import json_text, record

    require_within("--bandwidth", bandwidth, 10.0, 2000.0)
    if coast is not None and inertia is None:
        raise Refusal.at("--coast", str(coast), "must come with --inertia")
    if (pressure is None) != (air is None):
        raise Refusal.at("--pressure and --air", "one of them", "must be given together")
    drum = None
    if inertia is not None:
        require_within("--inertia", inertia, 0.01, 10_000.0)
        drum = Drum(inertia, None if coast is None else load_coasting(coast, inertia))
    found = tuple(pull for path in pull_files for pull in load_pulls(path, drum, bandwidth))
    day = None if pressure is None or air is None else OutsideAir(pressure, air, humidity)
    result = pulls_of(found, bandwidth, day)
    if as_json:
        click.echo(json_text(record("pulls", None, result, warnings=result.warnings)), nl=False)
    else:
        from sparkwright.cli.pull_page import pulls_page
        from sparkwright.cli.terminal import console

        console().print(pulls_page(result))
    return SEE if result.warnings else GOOD


COMMANDS = (pulls,)
