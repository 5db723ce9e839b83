"""The command of pulls at full throttle."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from sparkwright.cli.common import AS_JSON, GOOD, SEE, Plain, require_within
from sparkwright.cli.serve_command import SHOP
from sparkwright.cli.shop_commands import signed_in
from sparkwright.errors import Refusal

if TYPE_CHECKING:
    from sparkwright.evidence.found import Found


@click.command()
@click.argument("pull_files", metavar="FILE...", nargs=-1, type=click.Path(path_type=Path))
@click.option("--job", "key", metavar="KEY", help="Job of the store, whose kept pulls are shown too.")
@click.option("--keep", is_flag=True, help="Keep the pulls of FILE with --job, so that its engine learns.")
@click.option("--advance", type=Plain("deg", -20.0, 80.0), metavar="DEG", help="At which FILE was run.")
@click.option("--map", "load", type=Plain("kPa", 10.0, 400.0), metavar="KPA", help="Manifold, absolute.")
@click.option("--who", metavar="NAME", help="Who keeps them; else who is signed in at this machine.")
@SHOP
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
    key: str | None,
    keep: bool,
    advance: float | None,
    load: float | None,
    who: str | None,
    place: str | None,
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
    --pressure and --air give the factors of SAE J1349 and ISO 1585. With --job those kept with a job of the
    store stand among them, and --keep keeps these too: where advance_deg and map_kpa are known, by their
    columns or by --advance and --map, `sparkwright learn` learns from them.
    """
    from sparkwright.air.humidity import OutsideAir
    from sparkwright.cli.kept_pulls import keep_pulls, kept_pulls
    from sparkwright.dyno.pull_points import as_run, teaches
    from sparkwright.dyno.pull_result import pulls_of
    from sparkwright.dyno.pull_table import Drum, load_coasting, load_pulls
    from sparkwright.sheets.record import json_text, plain, record

    if not pull_files and (key is None or keep):
        raise click.UsageError("FILE must be given; with --job alone the kept pulls are shown")
    if keep and key is None:
        raise click.UsageError("--keep must come with --job")
    require_within("--bandwidth", bandwidth, 10.0, 2000.0)
    if coast is not None and inertia is None:
        raise Refusal.at("--coast", str(coast), "must come with --inertia")
    if (pressure is None) != (air is None):
        raise Refusal.at("--pressure and --air", "one of them", "must be given together")
    drum = None
    if inertia is not None:
        require_within("--inertia", inertia, 0.01, 10_000.0)
        drum = Drum(inertia, None if coast is None else load_coasting(coast, inertia))
    given = [
        [as_run(pull, advance, load) for pull in load_pulls(path, drum, bandwidth)] for path in pull_files
    ]
    found = tuple(pull for some in given for pull in some)
    road: list[Found] = []
    if key is not None:
        kept_before, road = kept_pulls(key, place)
        found = kept_before + found
    day = None if pressure is None or air is None else OutsideAir(pressure, air, humidity)
    result = pulls_of(found, bandwidth, day)
    if as_json:
        whole = record("pulls", None, result, warnings=result.warnings)
        whole["results"]["road"] = [plain(each.finding) | {"drive": each.file} for each in road]
        click.echo(json_text(whole), nl=False)
    else:
        from sparkwright.cli.pull_page import pulls_page
        from sparkwright.cli.terminal import console

        console().print(pulls_page(result, road))
    if keep and key is not None:
        kept = sum(
            keep_pulls(key, path, some, who or signed_in(), place)
            for path, some in zip(pull_files, given, strict=True)
        )
        new = [pull for some in given for pull in some]
        mute = sum(not teaches(each) for each in new)
        more = f"; {len(new) - kept} kept already" if kept < len(new) else ""
        more += f"; {mute} teach nothing, for want of advance_deg or map_kpa" if mute else ""
        click.echo(f"Kept with {key}: {kept} pull{'' if kept == 1 else 's'}{more}.", err=as_json)
    return SEE if result.warnings else GOOD


COMMANDS = (pulls,)
