"""The commands of installation day: top dead centre, and sheets at true scale."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, get_args

import click

from sparkwright.cli.common import (
    AS_JSON,
    DEGREES,
    GOOD,
    JOB,
    REPLACE,
    SEE,
    load_job,
    plan_of_job,
    say_written,
    write,
)
from sparkwright.errors import Refusal

if TYPE_CHECKING:
    from collections.abc import Callable

    from sparkwright.drawing.true_scale import Sheet
    from sparkwright.job import Job
    from sparkwright.mounting.dead_centre import CrankThrow
    from sparkwright.mounting.tape import CrankRotation, ReadFrom, ScaleOn

MAYBE_JOB = click.argument("job_file", metavar="[JOB]", type=click.Path(path_type=Path), required=False)
PAPER = click.option("--paper", default="a4", show_default=True, help="a4 or letter.")
DATE = click.option("--date", default="", help="Date to print; a line to write on otherwise.")
EVERY = click.option("--every", type=DEGREES, default=1.0, show_default=True, help="Degrees between marks.")
ROTATION = click.option(
    "--rotation",
    default="clockwise",
    show_default=True,
    help="Which way the crank turns, seen from the front: clockwise or anticlockwise.",
)
SCALE_ON = click.option(
    "--scale-on",
    default="damper",
    show_default=True,
    help="damper (it turns past a fixed pointer) or cover (it is fixed, a mark passes it).",
)
READ_FROM = click.option(
    "--read-from", default="front", show_default=True, help="End of the engine to read from: front or rear."
)


def _length_mm(text: str | None, field: str) -> float | None:
    return None if text is None else _needed_mm(text, field)


def _needed_mm(text: str, field: str) -> float:
    from sparkwright.mounting.lengths import length_mm

    return length_mm(text, field)


def _rim_mm(text: str | None, job: Job | None) -> float:
    """Diameter given, or else the job's."""
    stated_mm = None if job is None else job.engine.damper_diameter_mm
    if text is None and stated_mm is not None:
        return stated_mm
    if text is None:
        raise Refusal.at(
            "--diameter", None, "must be given", "or state damper_diameter under [engine] in the job"
        )
    return _needed_mm(text, "--diameter")


def _maybe_job(path: Path | None) -> Job | None:
    return None if path is None else load_job(path)


def _one_of(text: str, allowed: tuple[str, ...], field: str) -> str:
    if text not in allowed:
        raise Refusal.at(field, f'"{text}"', f"must be {' or '.join(allowed)}")
    return text


@click.command()
@MAYBE_JOB
@click.option(
    "--stop", multiple=True, help="Reading at a piston stop: 27 before. Twice a try, once each side."
)
@click.option("--dial", multiple=True, help="Reading at an equal drop on a dial: 27 before. Twice a drop.")
@click.option("--diameter", help="Diameter of the rim, to say the error in mm, or for readings in mm.")
@click.option("--stroke", help="Stroke, where no job is given.")
@click.option("--rod", help="Rod between centres, where no job is given.")
@click.option("--pin-offset", help="Piston pin offset, towards the side the crank moves to after the top.")
@click.option("--read-to", type=DEGREES, help="How finely the pointer is read, in degrees; 0.5 is assumed.")
@click.option("--dial-step", help="Height that the dial shows surely, such as 0.01 mm.")
@AS_JSON
def deadcentre(
    job_file: Path | None,
    stop: tuple[str, ...],
    dial: tuple[str, ...],
    diameter: str | None,
    stroke: str | None,
    rod: str | None,
    pin_offset: str | None,
    read_to: float | None,
    dial_step: str | None,
    as_json: bool,
) -> int:
    """Find true top dead centre and the error of the balancer's mark.

    From readings on either side of the top, with a piston stop or a dial. A reading is what the balancer
    shows: "27 before", "31 after", or mm along its rim with --diameter.
    """
    from sparkwright.check.assumed import Assumed
    from sparkwright.cli.dead_centre_page import dead_centre_page
    from sparkwright.mounting.dead_centre import USUAL_READ_TO_DEG, dead_centre, mark_reading_deg, read_pairs

    if bool(stop) == bool(dial):
        raise Refusal.at(
            "--stop, --dial",
            "both" if stop else None,
            "must be one of the two, with two readings a try",
            'for a piston stop: --stop "27 before" --stop "31 after"',
        )
    field = "--stop" if stop else "--dial"
    job = _maybe_job(job_file)
    diameter_mm = _length_mm(diameter, "--diameter")
    if diameter_mm is None and job is not None:
        diameter_mm = job.engine.damper_diameter_mm
    readings = [mark_reading_deg(text, diameter_mm, field) for text in stop or dial]
    found = dead_centre(
        read_pairs(readings, field),
        method="stop" if stop else "dial",
        throw=_throw(job, stroke, rod, pin_offset),
        diameter_mm=diameter_mm,
        read_to_deg=USUAL_READ_TO_DEG if read_to is None else read_to,
        dial_step_mm=_length_mm(dial_step, "--dial-step"),
    )
    if as_json:
        from sparkwright.sheets.record import json_text, record

        assumed = []
        if read_to is None:
            assumed.append(Assumed("--read-to", f"{USUAL_READ_TO_DEG:g} deg", "common practice, no source"))
        click.echo(
            json_text(record("deadcentre", job, found, assumed=assumed, warnings=found.warnings)), nl=False
        )
    else:
        from sparkwright.cli.terminal import console

        named = (job.name, job.fingerprint) if job else ("", "")
        console().print(dead_centre_page(found, *named))
    return GOOD if found.state == "good" else SEE


def _throw(job: Job | None, stroke: str | None, rod: str | None, pin_offset: str | None) -> CrankThrow | None:
    """Stroke and rod from the options or else the job; None where the rod is not known."""
    from sparkwright.mounting.dead_centre import CrankThrow, throw_of

    offset_mm = _length_mm(pin_offset, "--pin-offset")
    stroke_mm, rod_mm = _length_mm(stroke, "--stroke"), _length_mm(rod, "--rod")
    if job is not None and stroke_mm is None and rod_mm is None:
        return throw_of(job, offset_mm)
    if stroke_mm is None and rod_mm is None and offset_mm is None:
        return None
    if stroke_mm is None or rod_mm is None:
        raise Refusal.at("--stroke, --rod", None, "must both be given", "or give a job file that states them")
    return CrankThrow(stroke_mm, rod_mm, offset_mm)


@dataclass(frozen=True)
class _Reading:
    """How a scale turns and is read, checked."""

    rotation: CrankRotation
    scale_on: ScaleOn
    read_from: ReadFrom


def _reading(rotation: str, scale_on: str, read_from: str) -> _Reading:
    from sparkwright.mounting.tape import CrankRotation, ReadFrom, ScaleOn

    _one_of(rotation, get_args(CrankRotation), "--rotation")
    _one_of(scale_on, get_args(ScaleOn), "--scale-on")
    _one_of(read_from, get_args(ReadFrom), "--read-from")
    return _Reading(
        "clockwise" if rotation == "clockwise" else "anticlockwise",
        "damper" if scale_on == "damper" else "cover",
        "front" if read_from == "front" else "rear",
    )


@click.command()
@MAYBE_JOB
@click.option("--diameter", help="Diameter of the damper's rim: 7.24 in or 184 mm; else that of the job.")
@click.option("--before", type=DEGREES, default=60.0, show_default=True, help="Degrees before, at most 180.")
@click.option("--after", type=DEGREES, default=20.0, show_default=True, help="Degrees after, at most 180.")
@EVERY
@click.option("--width", default="12 mm", show_default=True, help="Width of the tape.")
@click.option("--thickness", default="0.1 mm", show_default=True, help="Thickness of the tape with its glue.")
@ROTATION
@SCALE_ON
@READ_FROM
@click.option("--pdf", type=click.Path(path_type=Path), help="Where to write it; timing-tape.pdf otherwise.")
@PAPER
@DATE
@AS_JSON
@REPLACE
def tape(
    job_file: Path | None,
    diameter: str | None,
    before: float,
    after: float,
    every: float,
    width: str,
    thickness: str,
    rotation: str,
    scale_on: str,
    read_from: str,
    pdf: Path | None,
    paper: str,
    date: str,
    as_json: bool,
    replace: bool,
) -> int:
    """Print a timing tape for a damper, at true scale.

    It is cut into pieces where the paper is too short. Measure its control lines before you trust it.
    """
    from sparkwright.drawing.true_scale import known_paper
    from sparkwright.mounting.tape import tape as tape_of
    from sparkwright.sheets.tape import tape_sheet

    way, job = _reading(rotation, scale_on, read_from), _maybe_job(job_file)
    strip = tape_of(
        _rim_mm(diameter, job),
        before,
        after,
        every_deg=every,
        thickness_mm=_needed_mm(thickness, "--thickness"),
        width_mm=_needed_mm(width, "--width"),
        rotation=way.rotation,
        scale_on=way.scale_on,
        read_from=way.read_from,
    )
    size = known_paper(paper)

    def sheet(title: str, invented: bool, fingerprint: str) -> Sheet:
        return tape_sheet(strip, paper=size, title=title, invented=invented, fingerprint=fingerprint)

    target = _beside(job_file, pdf or Path("timing-tape.pdf"))
    _print_one("tape", job, strip, sheet, target, paper, date, strip.warnings, as_json, replace)
    return SEE if strip.warnings else GOOD


@click.command()
@MAYBE_JOB
@click.option("--diameter", help="Diameter of the ring: 9 in or 230 mm; else that of the job's damper.")
@click.option("--hole", required=True, help="Diameter of its hole, to clear hub or bolt.")
@EVERY
@ROTATION
@SCALE_ON
@READ_FROM
@click.option("--pdf", type=click.Path(path_type=Path), help="Where to write it; degree-ring.pdf otherwise.")
@PAPER
@DATE
@AS_JSON
@REPLACE
def ring(
    job_file: Path | None,
    diameter: str | None,
    hole: str,
    every: float,
    rotation: str,
    scale_on: str,
    read_from: str,
    pdf: Path | None,
    paper: str,
    date: str,
    as_json: bool,
    replace: bool,
) -> int:
    """Print a degree ring for the face of a pulley, at true scale, on as many sheets as it takes."""
    from sparkwright.drawing.true_scale import known_paper
    from sparkwright.mounting.tape import degree_ring
    from sparkwright.sheets.degree_ring import ring_sheet

    way, job = _reading(rotation, scale_on, read_from), _maybe_job(job_file)
    found = degree_ring(
        _rim_mm(diameter, job),
        _needed_mm(hole, "--hole"),
        every_deg=every,
        rotation=way.rotation,
        scale_on=way.scale_on,
        read_from=way.read_from,
    )
    size = known_paper(paper)

    def sheet(title: str, invented: bool, fingerprint: str) -> Sheet:
        return ring_sheet(found, paper=size, title=title, invented=invented, fingerprint=fingerprint)

    target = _beside(job_file, pdf or Path("degree-ring.pdf"))
    _print_one("ring", job, found, sheet, target, paper, date, found.warnings, as_json, replace)
    return SEE if found.warnings else GOOD


def _beside(job_file: Path | None, target: Path) -> Path:
    """Refuse to print over the job itself."""
    if job_file is not None and target.absolute() == job_file.absolute():
        raise Refusal.at("--pdf", str(target), "must not be the job itself")
    return target


def _print_one(
    kind: str,
    job: Job | None,
    result: object,
    sheet: Callable[[str, bool, str], Sheet],
    target: Path,
    paper: str,
    date: str,
    warnings: tuple[str, ...],
    as_json: bool,
    replace: bool,
) -> None:
    """Write one sheet, for a job or for any engine, and say so."""
    from sparkwright.drawing.true_scale import known_paper, sheet_pdf

    named = (job.name, job.invented, job.fingerprint) if job else ("Any engine", False, "")
    page = sheet(*named)
    write({target: sheet_pdf(page, paper=known_paper(paper), date=date)}, replace=replace)
    if as_json:
        from sparkwright.sheets.record import json_text, record

        results = {kind: result, "files": [str(target)]}
        click.echo(json_text(record(kind, job, results, warnings=warnings)), nl=False)
        return
    for sentence in (page.headline, page.action, *(f"Look here: {each}" for each in warnings)):
        click.echo(sentence)
    click.echo(
        f"{target} is written. Print it at 100 %, and measure its two 100 mm lines before you trust it."
    )


@click.command()
@JOB
@click.option("--to", "folder", type=click.Path(path_type=Path), required=True, help="Folder to write into.")
@click.option("--housing-diameter", help="Diameter of the distributor's body, to say the turn in mm.")
@click.option("--mark-error", help="What the mark shows at true top dead centre: 2 after.")
@click.option("--seen", help="What a light shows with the controller adding nothing: 4 before.")
@PAPER
@DATE
@AS_JSON
@REPLACE
def sheets(
    job_file: Path,
    folder: Path,
    housing_diameter: str | None,
    mark_error: str | None,
    seen: str | None,
    paper: str,
    date: str,
    as_json: bool,
    replace: bool,
) -> int:
    """Print the sheets of installation day: cap plan, rotor phasing and static setting, at true scale."""
    from sparkwright.drawing.true_scale import known_paper, sheet_pdf
    from sparkwright.mounting.cap_plan import cap_plan
    from sparkwright.mounting.dead_centre import known_error_deg, mark_reading_deg
    from sparkwright.mounting.phasing import rotor_phasing
    from sparkwright.mounting.static_setting import static_setting
    from sparkwright.plan.planned_demand import check as check_of
    from sparkwright.sheets.cap_plan import cap_plan_sheet
    from sparkwright.sheets.phasing import phasing_sheet
    from sparkwright.sheets.static_setting import static_sheet

    size, job = known_paper(paper), load_job(job_file)
    setting = static_setting(
        job.distributor.base_deg,
        job.distributor.rotation,
        job.pickup.kind,
        tip_ahead_distributor_deg=job.distributor.rotor_phase_deg,
        mark_error_deg=known_error_deg(job)
        if mark_error is None
        else mark_reading_deg(mark_error, field="--mark-error"),
        seen_deg=None if seen is None else mark_reading_deg(seen, field="--seen"),
        housing_diameter_mm=_length_mm(housing_diameter, "--housing-diameter")
        or job.distributor.housing_diameter_mm,
    )
    planned = plan_of_job(job)
    hardware = check_of(job, planned)
    cap, phasing = cap_plan(job, hardware, planned), rotor_phasing(job, hardware, planned)
    named = (job.name, job.invented, job.fingerprint)
    printed = {
        "cap-plan": cap_plan_sheet(cap, *named),
        "rotor-phasing": phasing_sheet(phasing, *named),
        "static-setting": static_sheet(setting, *named),
    }
    files = {folder / f"{name}.pdf": sheet_pdf(page, paper=size, date=date) for name, page in printed.items()}
    if folder.exists() and not folder.is_dir():
        raise Refusal.at("--to", str(folder), "must be a folder", "a file of that name is in the way")
    folder.mkdir(parents=True, exist_ok=True)
    write(files, replace=replace)
    assumed = dict.fromkeys((*planned.assumed, *hardware.assumed))
    warnings = (*cap.warnings, *setting.warnings)
    if as_json:
        from sparkwright.sheets.record import json_text, record

        results = {"cap": cap, "phasing": phasing, "static": setting, "files": [str(path) for path in files]}
        click.echo(json_text(record("sheets", job, results, assumed=assumed, warnings=warnings)), nl=False)
    else:
        for path, page in zip(files, printed.values(), strict=True):
            say_written(path, f": {page.headline}")
        for sentence in warnings:
            click.echo(f"Look here: {sentence}")
        click.echo("Print them at 100 %, and measure the two 100 mm lines on each before you trust it.")
    wrong = phasing.state == "problem" or cap.stated_order_agrees is False
    return SEE if wrong else GOOD


COMMANDS = (deadcentre, tape, ring, sheets)
"""In the order in which the help lists them."""
