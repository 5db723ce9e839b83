"""The command that chooses where the speeds and loads of a map stand."""

from __future__ import annotations

from pathlib import Path

import click

from sparkwright.cli.common import AS_JSON, GOOD, JOB, all_cores, load_job, show


@click.command()
@JOB
@click.option("--speeds", default=16, show_default=True, help="How many speeds the controller has.")
@click.option("--loads", default=16, show_default=True, help="How many loads it has.")
@click.option("--rpm-step", default=50.0, show_default=True, help="Step of its speeds, rpm.")
@click.option("--load-step", type=float, help="Step of its loads, as controller.load has them; 1 for kPa.")
@click.option("--fixed-rpm", type=float, multiple=True, help="A speed that must be there; may be repeated.")
@click.option("--fixed-load", type=float, multiple=True, help="A load that must be there; may be repeated.")
@click.option("--anew", is_flag=True, help="Choose the axes that the job states too; their ends stay.")
@AS_JSON
def axes(
    job_file: Path,
    speeds: int,
    loads: int,
    rpm_step: float,
    load_step: float | None,
    fixed_rpm: tuple[float, ...],
    fixed_load: tuple[float, ...],
    anew: bool,
    as_json: bool,
) -> int:
    """Choose speeds and loads of the map so that it gives away the least torque.

    Loads are typed as the controller has them, which the job states under controller.load: kPa absolute, inHg
    vacuum, boost or percent of full load. With loads by throttle they are typed in kPa absolute.
    """
    from sparkwright.cli.axes_page import axes_page
    from sparkwright.plan.choose_axes import choose_axes
    from sparkwright.plan.load_terms import loads_of
    from sparkwright.plan.nodes import Nodes

    job = load_job(job_file)
    step = loads_of(job).over_pressure.usual_step if load_step is None else load_step
    with all_cores() as run:
        result = choose_axes(
            job, Nodes(speeds, rpm_step, fixed_rpm), Nodes(loads, step, fixed_load), keep=not anew, run=run
        )
    show("axes", job, result, as_json, lambda: axes_page(job, result), (), ())
    return GOOD


COMMANDS = (axes,)
"""In the order in which the help lists them."""
