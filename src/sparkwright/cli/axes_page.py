"""Chosen axes, laid out for a terminal."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import Group
from rich.text import Text

from sparkwright.cli.terminal import headed
from sparkwright.job import Job
from sparkwright.plan.choose_axes import AxesChoice


def axes_page(job: Job, result: AxesChoice) -> Group:
    """Lay out chosen axes as they stand in a job file, and what they gain.

    Parameters
    ----------
    job : Job
        The job that they are for.
    result : AxesChoice
        The axes that were chosen, and what they gain.
    """
    gained = result.even_lost_percent - result.lost_percent
    headline = (
        f"These axes give away {result.lost_percent:.2f} % of torque, even ones "
        f"{result.even_lost_percent:.2f} %, weighed for {result.use} use."
        if gained > 0.0
        else f"Even axes are as good as any found: they give away {result.lost_percent:.2f} % of torque."
    )
    return Group(
        headed(job.name, job.fingerprint, headline, "Put them under [controller] and plan again."),
        Text(),
        Text(f"rpm = [{_listed(result.rpm.tolist())}]"),
        Text(f"kpa = [{_listed(result.kpa.tolist())}]"),
    )


def _listed(values: Iterable[float]) -> str:
    return ", ".join(f"{each:g}" for each in values)
