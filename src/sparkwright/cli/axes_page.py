"""Chosen axes, laid out for a terminal."""

from __future__ import annotations

from rich.console import Group
from rich.text import Text

from sparkwright.cli.terminal import headed
from sparkwright.job import Job
from sparkwright.plan.choose_axes import AxesChoice
from sparkwright.words.axes import axes_sentence, axis_text


def axes_page(job: Job, result: AxesChoice) -> Group:
    """Lay out chosen axes as they stand in a job file, and what they gain.

    Parameters
    ----------
    job : Job
        The job that they are for.
    result : AxesChoice
        The axes that were chosen, and what they gain.
    """
    said = axes_sentence(result)
    if result.rows_kept:
        return Group(headed(job.name, job.fingerprint, said, "`sparkwright plan` says where they cost most."))
    to_do = "Put them under [controller] and plan again."
    return Group(
        headed(job.name, job.fingerprint, said, to_do),
        Text(),
        Text(f"rpm = [{axis_text(result.rpm.tolist())}]"),
        Text(f"kpa = [{axis_text(result.kpa.tolist())}]"),
    )
