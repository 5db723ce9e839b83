"""The command of the fixed-advance check: what to read, and what the readings say."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from sparkwright.cli.common import (
    AS_JSON,
    DEGREES,
    GOOD,
    JOB,
    PICTURES,
    REPLACE,
    SEE,
    Plain,
    draw,
    load_job,
    rewrite,
    show,
)
from sparkwright.errors import Refusal, printable

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sparkwright.light.proved import ProvedFact
    from sparkwright.light.verdict import LightResult


@click.command()
@JOB
@click.argument("readings_file", metavar="[READINGS]", required=False, type=click.Path(path_type=Path))
@click.option(
    "--hold", type=DEGREES, metavar="DEG", help="Advance held; else 30, or what rotor and map allow."
)
@click.option(
    "--resolution", type=DEGREES, metavar="DEG", help="Step of the light's dial or of the marks; else 1."
)
@click.option(
    "--hand", type=DEGREES, metavar="DEG", help="Share of eye and hand, one standard deviation; else 0.25."
)
@click.option(
    "--agreement", type=DEGREES, default=1.0, show_default=True, metavar="DEG", help="What is wanted."
)
@click.option(
    "--delay",
    type=Plain("us", -2000.0, 2000.0),
    metavar="US",
    help="Delay that the controller is set to make up for.",
)
@click.option("--housing", metavar="LENGTH", help='Diameter of the housing where it is turned, "72 mm".')
@click.option("--light", "kind", metavar="KIND", help="plain or dial-back.")
@click.option("--mark-proved", is_flag=True, help="Top dead centre was proved at the piston.")
@click.option("--mark-error", metavar="TEXT", help="What the mark shows at true top dead centre: 2 after.")
@click.option("--keep", is_flag=True, help="Write what is proved into the job file.")
@AS_JSON
@PICTURES
@REPLACE
def light(
    job_file: Path,
    readings_file: Path | None,
    hold: float | None,
    resolution: float | None,
    hand: float | None,
    agreement: float,
    delay: float | None,
    housing: str | None,
    kind: str | None,
    mark_proved: bool,
    mark_error: str | None,
    keep: bool,
    as_json: bool,
    folder: Path | None,
    replace: bool,
) -> int:
    """Judge readings of a timing light, taken with one advance held.

    READINGS is a table with the columns commanded_deg, speed_rpm and seen_deg, and more if known. Without
    it the readings to take are told.
    """
    from sparkwright.cli.light_page import light_page
    from sparkwright.light.bench import bench_of
    from sparkwright.light.proved import not_yet_stated
    from sparkwright.light.readings import ReadingSheet, load_readings
    from sparkwright.light.verdict import check_light
    from sparkwright.mounting.lengths import length_mm
    from sparkwright.mounting.mark_readings import mark_reading_deg
    from sparkwright.pictures.light import light_picture
    from sparkwright.words.light import facts_words

    job = load_job(job_file)
    bench = bench_of(
        job,
        hold_deg=hold,
        housing_diameter_mm=None if housing is None else length_mm(housing, "--housing"),
        delay_set_us=delay,
        light=kind,
        top_dead_centre_proved=mark_proved or None,
        mark_error_deg=None if mark_error is None else mark_reading_deg(mark_error, field="--mark-error"),
        resolution_deg=resolution,
        hand_deg=hand,
        agreement_deg=agreement,
    )
    sheet = ReadingSheet(()) if readings_file is None else load_readings(readings_file)
    result = check_light(job, sheet, bench)
    if folder is not None:
        if not result.readings:
            raise Refusal.at(
                "--pictures", str(folder), "must come with READINGS", "there is nothing to draw yet"
            )
        draw([light_picture(result)], folder, replace)
    show("light", job, result, as_json, lambda: light_page(result), result.assumed, result.warnings)
    new = not_yet_stated(result.facts, job)
    if keep:
        click.echo(_kept(job_file, new, result), err=as_json)
    elif new and not as_json:
        click.echo(f"Proved, and not in the job yet: {facts_words(new)}. Add --keep to write it there.")
    return SEE if result.readings and result.state != "good" else GOOD


def _kept(job_file: Path, new: Sequence[ProvedFact], result: LightResult) -> str:
    """Write what is proved into the job file, and say what was written or why nothing was."""
    from sparkwright.job import JobText
    from sparkwright.job.toml import read_text
    from sparkwright.light.proved import with_facts
    from sparkwright.words.light import facts_words
    from sparkwright.words.told import told

    if new:
        rewrite(job_file, with_facts(JobText(read_text(job_file)), new).text)
        return f"Written into {printable(job_file.name)}: {facts_words(new)}."
    if result.facts:
        return "Nothing was written: the job states what is proved already."
    if result.proof.proven:
        return "Nothing was written: prove the mark at the piston first; a light can't see that it is wrong."
    return f"Nothing was written. {told(result.proof.finding).sentence}"


COMMANDS = (light,)
