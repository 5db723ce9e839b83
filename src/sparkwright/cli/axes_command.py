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
@click.option("--kpa-step", default=1.0, show_default=True, help="Step of its loads, kPa absolute.")
@click.option("--fixed-rpm", type=float, multiple=True, help="A speed that must be there; may be repeated.")
@click.option("--fixed-kpa", type=float, multiple=True, help="A load that must be there; may be repeated.")
@AS_JSON
def axes(
    job_file: Path,
    speeds: int,
    loads: int,
    rpm_step: float,
    kpa_step: float,
    fixed_rpm: tuple[float, ...],
    fixed_kpa: tuple[float, ...],
    as_json: bool,
) -> int:
    """Choose speeds and loads of the map so that it gives away the least torque."""
    from sparkwright.cli.axes_page import axes_page
    from sparkwright.plan.choose_axes import Nodes, choose_axes

    job = load_job(job_file)
    with all_cores() as run:
        result = choose_axes(
            job, Nodes(speeds, rpm_step, fixed_rpm), Nodes(loads, kpa_step, fixed_kpa), run=run
        )
    show("axes", job, result, as_json, lambda: axes_page(job, result), (), ())
    return GOOD


COMMANDS = (axes,)
