"""The commands of one job file: from what a shop knows to a plan, its pictures and the card."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any, get_args

import click

from sparkwright.cli.common import (
    AS_JSON,
    GOOD,
    JOB,
    PICTURES,
    READ_AS,
    REPLACE,
    SEE,
    all_cores,
    draw,
    free_name,
    load_job,
    own_system,
    plan_of_job,
    require_within,
    say_written,
    show,
    write,
)
from sparkwright.errors import Refusal, printable
from sparkwright.findings import each_once

BEFORE_IT_RUNS = (
    "Before this map runs an engine: prove base and one held advance with a timing light, clear of fan and "
    "belts; load the engine step by step, and take timing out at the first knock."
)


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
def new(file: Path) -> int:
    """Write a commented starter job file."""
    from sparkwright.job import starter_text

    write({file: starter_text().encode()}, replace=False, way_out="")
    say_written(file, f". Put your engine's values in, then: sparkwright check {printable(str(file))}")
    return GOOD


@click.command()
def schema() -> int:
    """Print the JSON Schema of a job file, for editors."""
    import json

    from sparkwright.job import job_schema

    click.echo(json.dumps(job_schema(), indent=2, ensure_ascii=False))
    return GOOD


@click.command()
@JOB
@AS_JSON
@PICTURES
@REPLACE
def check(job_file: Path, as_json: bool, folder: Path | None, replace: bool) -> int:
    """Check whether this ignition can deliver it.

    Rotor and cap, coil and driver, cranking, wiring and preparation.
    """
    from sparkwright.cli.check_page import hardware_page
    from sparkwright.pictures.cap import cap_picture
    from sparkwright.pictures.dwell import dwell_picture
    from sparkwright.plan.planned_demand import check as check_of

    job = load_job(job_file)
    planned = plan_of_job(job)
    result = check_of(job, planned)
    if folder is not None:
        pictures = [cap_picture(result, planned, system=own_system())]
        if result.dwell is not None:
            pictures.append(dwell_picture(result))
        draw(pictures, folder, replace)
    show("check", job, result, as_json, lambda: hardware_page(result), result.assumed, result.warnings)
    return SEE if result.problems else GOOD


@click.command()
@JOB
@click.option("--rpm", "speed", required=True, help="Engine speed.")
@click.option("--kpa", "load", required=True, help="Manifold pressure: 57, or '13 inHg vacuum'.")
@AS_JSON
@PICTURES
@REPLACE
def point(job_file: Path, speed: str, load: str, as_json: bool, folder: Path | None, replace: bool) -> int:
    """Show torque against advance at one speed and load."""
    from sparkwright.check.demand import site_pressure_kpa
    from sparkwright.cli.terminal import hook_page
    from sparkwright.job import LOAD_SPAN_KPA, SPEED_SPAN_RPM
    from sparkwright.pictures.hook import hook_name, hook_picture
    from sparkwright.plan.physics import physics_of
    from sparkwright.plan.planner import plan as plan_of
    from sparkwright.plan.point import point as hook_at
    from sparkwright.plan.point import with_plan
    from sparkwright.reading import load_kpa, number

    job = load_job(job_file)
    low, high = SPEED_SPAN_RPM
    rpm = number(speed, unit="rpm", low=low, high=high, field="--rpm")
    require_within("--rpm", rpm, *SPEED_SPAN_RPM)
    low, high = LOAD_SPAN_KPA
    kpa = load_kpa(load, site_pressure_kpa(job), field="--kpa", low=low, high=high)
    require_within("--kpa", kpa, *LOAD_SPAN_KPA)
    with all_cores() as run:
        hook = with_plan(hook_at(job, rpm, kpa, run=run), plan_of(job, run=run).cells.spark_map)
    if folder is not None:
        name = hook_name(hook) if replace else free_name(folder, hook_name(hook))
        draw([hook_picture(hook, hook.plan_deg, name, system=own_system())], folder, replace)
    show(
        "point",
        job,
        hook,
        as_json,
        lambda: hook_page(job.name, job.fingerprint, hook),
        physics_of(job).assumed,
        hook.outside,
    )
    if folder is not None and not as_json:
        say_written(folder / f"{name}.svg", ", with its PNG and CSV beside it.")
    return SEE if hook.burn_state == "misfire" else GOOD


@click.command()
@JOB
@AS_JSON
@PICTURES
@REPLACE
def plan(job_file: Path, as_json: bool, folder: Path | None, replace: bool) -> int:
    """Plan the map, and say what holds each cell."""
    from sparkwright.cli.terminal import console, plan_page
    from sparkwright.plan.worth import measure_first, worth_measuring

    job = load_job(job_file)
    result = plan_of_job(job)
    if folder is not None:
        from sparkwright.pictures.gallery import pictures
        from sparkwright.plan.load_terms import loads_of

        draw(pictures(result, loads=loads_of(job).over_pressure), folder, replace)
    show(
        "plan",
        job,
        result,
        as_json,
        lambda: plan_page(result, console().width, measure_first(result.assumed, worth_measuring(job))),
        result.assumed,
        result.warnings,
    )
    return SEE if result.problems else GOOD


@click.command()
@JOB
@click.option(
    "--pdf", type=click.Path(path_type=Path), help="Where to write the PDF; beside the job otherwise."
)
@click.option(
    "--html", type=click.Path(path_type=Path), help="Where to write the page; beside the job otherwise."
)
@click.option("--paper", default="a4", show_default=True, help="a4 or letter.")
@click.option("--date", default="", help="Date to print; a line to write on otherwise.")
@click.option(
    "--light", "readings", type=click.Path(path_type=Path), help="Readings of a timing light to print on it."
)
@click.option(
    "--sweeps",
    type=click.Path(path_type=Path),
    multiple=True,
    help="Sweeps measured at a brake, to say beside the map what was measured.",
)
@AS_JSON
@REPLACE
def card(
    job_file: Path,
    pdf: Path | None,
    html: Path | None,
    paper: str,
    date: str,
    readings: Path | None,
    sweeps: tuple[Path, ...],
    as_json: bool,
    replace: bool,
) -> int:
    """Print the hand-over card, as PDF and HTML."""
    from sparkwright.drawing.true_scale import Paper
    from sparkwright.dyno.table import load_sweeps
    from sparkwright.learn.against import against_of
    from sparkwright.light.readings import load_readings
    from sparkwright.light.verdict import check_light
    from sparkwright.plan.planned_demand import check as check_of
    from sparkwright.plan.settings import settings_of
    from sparkwright.sheets.card import card_html, card_pdf
    from sparkwright.words.measured import NOTHING_TOLD, brake_told
    from sparkwright.words.told import sentences

    job = load_job(job_file)
    pdf, html = pdf or job_file.with_suffix(".pdf"), html or job_file.with_suffix(".html")
    if len({path.absolute() for path in (pdf, html, job_file)}) < 3:
        raise Refusal.at("--pdf, --html", f"{pdf}, {html}", "must be two files, and neither the job itself")
    size = next((each for each in get_args(Paper) if each == paper), None)
    if size is None:
        raise Refusal.at("--paper", f'"{paper}"', 'must be "a4" or "letter"')
    light = None if readings is None else check_light(job, load_readings(readings))
    against = None
    if sweeps:
        against = against_of(job, [sweep for path in sweeps for sweep in load_sweeps(path)])
    result = plan_of_job(job)
    hardware = check_of(job, result)
    with all_cores() as run:
        settings = settings_of(job, result, hardware, run=run)
    shown: dict[str, Any] = {
        "paper": size,
        "date": date,
        "light": light,
        "measured": NOTHING_TOLD if against is None else brake_told(against, system=own_system()),
        "system": own_system(),
        "settings": settings,
    }
    pages = {
        pdf: card_pdf(result, hardware, job, **shown),
        html: card_html(result, hardware, job, **shown).encode(),
    }
    write(pages, replace=replace)
    made_from = (result, hardware) if light is None else (result, hardware, light)
    problems = sentences(each_once(problem for each in made_from for problem in each.problems), own_system())
    if as_json:
        from sparkwright.sheets.record import json_text, record

        results = {"plan": result, "check": hardware, "files": [str(path) for path in pages]}
        if light is not None:
            results["light"] = light
        if against is not None:
            results["measured"] = against
        assumed = dict.fromkeys(value for each in made_from for value in each.assumed)
        warnings = dict.fromkeys(warning for each in made_from for warning in each.warnings)
        click.echo(json_text(record("card", job, results, assumed=assumed, warnings=warnings)), nl=False)
    else:
        for path in pages:
            say_written(path)
        for sentence in problems:
            click.echo(f"Look here: {sentence}")
    return SEE if problems else GOOD


@click.command()
@JOB
@click.argument("map_file", metavar="MAP", type=click.Path(path_type=Path))
@READ_AS
@AS_JSON
def compare(job_file: Path, map_file: Path, name: str, as_json: bool) -> int:
    """Hold a map against the plan.

    Says which cells stand over which ceiling, and by how much. MAP is CSV, tab-separated text or JSON, as
    `sparkwright export` writes it. Its loads are what its corner names, else what controller.load says. A
    map that looks upside down, turned or in vacuum is held against nothing until you say how to read it.
    """
    from sparkwright.cli.terminal import comparison_page
    from sparkwright.plan.compare import compare_map, planned_on_its_axes
    from sparkwright.plan.read_as import read_as
    from sparkwright.reading.tables import load_text

    job = load_job(job_file)
    text = load_text(map_file, "map", "a map is a page of text")
    of_job = plan_of_job(job)
    given = read_as(text, job, of_job, name).spark_map
    planned = planned_on_its_axes(job, given, plan_of_job, of_job)
    result = replace(compare_map(planned, given), fingerprint=job.fingerprint)
    show("compare", job, result, as_json, lambda: comparison_page(result), planned.assumed, result.warnings)
    return SEE if result.problems else GOOD


@click.command()
@JOB
@click.option("--as", "form", default="csv", show_default=True, help="csv, tsv (to paste) or json.")
@click.option("--to", "target", type=click.Path(path_type=Path), help="Write this file instead of printing.")
@click.option("--bare", is_flag=True, help="Cells only, for a table that has its axes.")
@click.option("--highest-load-first", is_flag=True, help="Turn the rows over.")
@click.option("--to-type", is_flag=True, help="The map of the settings sheet, with its idle block.")
@REPLACE
def export(
    job_file: Path,
    form: str,
    target: Path | None,
    bare: bool,
    highest_load_first: bool,
    to_type: bool,
    replace: bool,
) -> int:
    """Write the map as text, to keep or to paste, with its loads as controller.load says."""
    from sparkwright.plan.exchange import FORMS, write_map
    from sparkwright.plan.load_terms import loads_of
    from sparkwright.plan.planned_demand import check as check_of
    from sparkwright.plan.settings import settings_of
    from sparkwright.words.told import sentences

    job = load_job(job_file)
    chosen = next((each for each in FORMS if each == form), None)
    if chosen is None:
        raise Refusal.at("--as", f'"{form}"', f"must be one of {', '.join(FORMS)}")
    result = plan_of_job(job)
    spark_map = result.cells.spark_map
    if to_type:
        with all_cores() as run:
            spark_map = settings_of(job, result, check_of(job, result), run=run).spark_map
    text = write_map(
        spark_map,
        chosen,
        loads_of(job),
        ceilings=result.cells.between.grid,
        bare=bare,
        highest_load_first=highest_load_first,
    )
    if target is None:
        click.echo(text, nl=False)
    else:
        write({target: text.encode()}, replace=replace)
        say_written(target)
    for sentence in sentences(result.problems, own_system()):
        click.echo(f"Look here: {sentence}", err=True)
    click.echo(BEFORE_IT_RUNS, err=True)
    return SEE if result.problems else GOOD


COMMANDS = (new, schema, check, point, plan, card, compare, export)
"""In the order in which the help lists them."""
