"""The commands between plan and engine: the first map, and a second opinion."""

from __future__ import annotations

from pathlib import Path

import click

from sparkwright.cli.common import (
    AS_JSON,
    GOOD,
    JOB,
    PICTURES,
    REPLACE,
    SEE,
    Plain,
    all_cores,
    counted,
    draw,
    load_job,
    own_system,
    plan_of_job,
    show,
    show_beside_files,
)
from sparkwright.cli.sheet_commands import DATE, PAPER
from sparkwright.errors import Refusal


@click.command()
@JOB
@click.option("--to", "folder", type=click.Path(path_type=Path), help="Write the map of each step, as CSV.")
@click.option("--pdf", type=click.Path(path_type=Path), help="Print the sheet of the first start.")
@PAPER
@DATE
@AS_JSON
@REPLACE
def start(
    job_file: Path,
    folder: Path | None,
    pdf: Path | None,
    paper: str,
    date: str,
    as_json: bool,
    replace: bool,
) -> int:
    """Give the late map for the first start, and the steps from it to the plan.

    No cell that the engine meets has more than 1 % chance of knock. Each step says what to listen and look
    for, and the light check before it.
    """
    from sparkwright.cli.start_page import first_map_page
    from sparkwright.cli.terminal import console
    from sparkwright.drawing.true_scale import known_paper, sheet_pdf
    from sparkwright.plan.exchange import write_map
    from sparkwright.plan.first_map import first_map
    from sparkwright.plan.load_terms import loads_of
    from sparkwright.plan.planned_demand import check
    from sparkwright.plan.settings import settings_of
    from sparkwright.sheets.first_map import first_map_sheet

    job, size = load_job(job_file), known_paper(paper)
    planned = plan_of_job(job)
    with all_cores() as run:
        typed = settings_of(job, planned, check(job), run=run).spark_map
        first = first_map(job, planned, to_type=typed, run=run)
    files: dict[Path, bytes] = {}
    if folder is not None:
        if folder.exists() and not folder.is_dir():
            raise Refusal.at("--to", str(folder), "must be a folder", "a file of that name is in the way")
        folder.mkdir(parents=True, exist_ok=True)
        maps = {"first-map": first.spark_map} | {
            f"step-{step.number:02}": step.spark_map for step in first.steps
        }
        for name, spark_map in maps.items():
            text = write_map(spark_map, "csv", loads_of(job), ceilings=planned.cells.between.grid)
            files[folder / f"{name}.csv"] = text.encode()
    if pdf is not None:
        if pdf.absolute() == job_file.absolute():
            raise Refusal.at("--pdf", str(pdf), "must not be the job itself")
        sheet = first_map_sheet(first, job, size, own_system())
        files[pdf] = sheet_pdf(sheet, paper=size, date=date, system=own_system())
    return show_beside_files(
        "start",
        job,
        first,
        as_json,
        lambda: first_map_page(first, console().width, loads_of(job).over_pressure),
        planned.assumed,
        files,
        replace=replace,
    )


@click.command()
@JOB
@AS_JSON
@PICTURES
@REPLACE
def opinion(job_file: Path, as_json: bool, folder: Path | None, replace: bool) -> int:
    """Hold the plan against rules of the trade.

    They are ranges of common practice, without a source, and change nothing; where the plan leaves one, it
    says what holds it there.
    """
    from sparkwright.cli.start_page import opinion_page
    from sparkwright.plan.rules_of_the_trade import second_opinion

    job = load_job(job_file)
    planned = plan_of_job(job)
    result = second_opinion(job, planned)
    if folder is not None:
        from sparkwright.pictures.rules import rules_picture

        draw([rules_picture(result, system=own_system())], folder, replace)
    show("opinion", job, result, as_json, lambda: opinion_page(result), planned.assumed, result.warnings)
    return SEE if result.warnings else GOOD


@click.command()
@JOB
@AS_JSON
def trims(job_file: Path, as_json: bool) -> int:
    """Find the trims by air and engine temperature, air pressure and fuel.

    The job's section conditions says between what the map must hold, and which trims the controller has.
    """
    from sparkwright.cli.terminal import console
    from sparkwright.cli.trim_page import trims_page
    from sparkwright.plan.load_terms import loads_of
    from sparkwright.plan.trims import trims as trims_of

    job = load_job(job_file)
    planned = plan_of_job(job)
    with all_cores() as run, counted("Planning the conditions") as tell:
        result = trims_of(job, planned, run=run, progress=tell)
    show(
        "trims",
        job,
        result,
        as_json,
        lambda: trims_page(result, console().width, loads_of(job).over_pressure),
        planned.assumed,
        result.warnings,
    )
    return SEE if result.problems else GOOD


@click.command()
@JOB
@click.option("--air", help='Outside air: "40 degC".')
@click.option("--coolant", help='Coolant: "105 degC".')
@click.option("--altitude", help='Height above the sea: "2500 m".')
@click.option("--ron", type=Plain("RON", 40.0, 130.0), help="Octane (RON) of a fuel put in by mistake.")
@click.option("--second-fuel", is_flag=True, help="On the second fuel that the job states.")
@click.option("--no-trims", is_flag=True, help="The plan's map alone, even where the job states conditions.")
@AS_JSON
def whatif(
    job_file: Path,
    air: str | None,
    coolant: str | None,
    altitude: str | None,
    ron: float | None,
    second_fuel: bool,
    no_trims: bool,
    as_json: bool,
) -> int:
    """Show the chance of knock over the map on another day, height or fuel.

    With the trims where the job states conditions.
    """
    from sparkwright.cli.terminal import console
    from sparkwright.cli.trim_page import driven_page
    from sparkwright.plan.driven import driven, values_asked
    from sparkwright.plan.load_terms import loads_of
    from sparkwright.plan.trims import trims as trims_of

    job = load_job(job_file)
    values = values_asked(job, air=air, coolant=coolant, altitude=altitude, second_fuel=second_fuel)
    planned = plan_of_job(job)
    with all_cores() as run:
        added = trims_of(job, planned, run=run) if job.conditions is not None and not no_trims else None
        result = driven(job, planned, values, added, wrong_ron=ron, run=run)
    show(
        "whatif",
        job,
        result,
        as_json,
        lambda: driven_page(result, console().width, loads_of(job).over_pressure),
        planned.assumed,
        result.warnings,
    )
    return SEE if result.problems else GOOD


COMMANDS = (start, opinion, trims, whatif)
"""In the order in which the help lists them."""
