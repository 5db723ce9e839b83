"""The command for what is typed into the controller: settings, idle block, cranking, on one sheet."""

from __future__ import annotations

from pathlib import Path

import click

from sparkwright.cli.common import (
    AS_JSON,
    JOB,
    REPLACE,
    all_cores,
    load_job,
    own_system,
    plan_of_job,
    show_beside_files,
)
from sparkwright.cli.sheet_commands import DATE, PAPER
from sparkwright.errors import Refusal


@click.command()
@JOB
@click.option("--pdf", type=click.Path(path_type=Path), help="Print the settings sheet.")
@PAPER
@DATE
@AS_JSON
@REPLACE
def settings(job_file: Path, pdf: Path | None, paper: str, date: str, as_json: bool, replace: bool) -> int:
    """List everything to type into the controller, in the order of the work.

    Base, delay, dwell, cranking, limits, idle block, map and trims.
    """
    from sparkwright.cli.settings_page import settings_page
    from sparkwright.cli.terminal import console
    from sparkwright.drawing.true_scale import known_paper, sheet_pdf
    from sparkwright.plan.planned_demand import check as check_of
    from sparkwright.plan.settings import settings_of
    from sparkwright.sheets.settings_sheet import settings_sheet

    job, size = load_job(job_file), known_paper(paper)
    planned = plan_of_job(job)
    hardware = check_of(job, planned)
    with all_cores() as run:
        result = settings_of(job, planned, hardware, run=run)
    if pdf is not None and pdf.absolute() == job_file.absolute():
        raise Refusal.at("--pdf", str(pdf), "must not be the job itself")
    sheet = settings_sheet(result, job, size, own_system())
    return show_beside_files(
        "settings",
        job,
        result,
        as_json,
        lambda: settings_page(result, console().width, job),
        tuple(dict.fromkeys((*planned.assumed, *hardware.assumed))),
        {pdf: sheet_pdf(sheet, paper=size, date=date, system=own_system())} if pdf else {},
        replace=replace,
    )


COMMANDS = (settings,)
"""In the order in which the help lists them."""
