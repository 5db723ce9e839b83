"""The command for a map that a person has: region by region against the plan, and merged with it."""

from __future__ import annotations

from pathlib import Path

import click

from sparkwright.cli.common import (
    AS_JSON,
    JOB,
    READ_AS,
    REPLACE,
    load_job,
    plan_of_job,
    show_beside_files,
)


@click.command()
@JOB
@click.argument("map_file", metavar="MAP", type=click.Path(path_type=Path))
@READ_AS
@click.option("--merged", type=click.Path(path_type=Path), help="Write the merged map, as CSV.")
@AS_JSON
@REPLACE
def mine(job_file: Path, map_file: Path, name: str, merged: Path | None, as_json: bool, replace: bool) -> int:
    """Hold your own map against the plan, region by region, and merge the two.

    MAP may have lost its axes, stand upside down or turned, or have its loads in vacuum: what it looks
    like is said, and used only when you say so.
    """
    from sparkwright.cli.mine_page import mine_page
    from sparkwright.cli.terminal import console
    from sparkwright.plan.compare import planned_on_its_axes
    from sparkwright.plan.exchange import write_map
    from sparkwright.plan.load_terms import loads_of
    from sparkwright.plan.mine import mine as mine_of
    from sparkwright.plan.read_as import read_as
    from sparkwright.reading.tables import load_text

    job = load_job(job_file)
    text = load_text(map_file, "map", "a map is a page of text")
    of_job = plan_of_job(job)
    own = read_as(text, job, of_job, name).spark_map
    planned = planned_on_its_axes(job, own, plan_of_job, of_job)
    result = mine_of(job, planned, own)
    files = {}
    if merged is not None:
        grid = planned.cells.between.grid
        files[merged] = write_map(result.merged, "csv", loads_of(job), ceilings=grid).encode()
    return show_beside_files(
        "mine",
        job,
        result,
        as_json,
        lambda: mine_page(result, console().width, job.controller.rows),
        planned.assumed,
        files,
        replace=replace,
    )


COMMANDS = (mine,)
"""In the order in which the help lists them."""
