"""Chosen axes, laid out for a terminal."""

from __future__ import annotations

from rich.console import Group
from rich.text import Text

from sparkwright.cli.terminal import headed
from sparkwright.job import Job
from sparkwright.plan.choose_axes import AxesChoice
from sparkwright.plan.load_terms import unit_of
from sparkwright.words.axes import axes_sentence, axis_text, gains_anew, throttle_note


def axes_page(job: Job, result: AxesChoice) -> Group:
    """Lay out chosen axes as they stand in a job file and in the controller, and what they gain.

    Parameters
    ----------
    job : Job
        The job that they are for.
    result : AxesChoice
        The axes that were chosen, and what they gain.
    """
    if result.rows_kept:
        said = axes_sentence(result)
        return Group(headed(job.name, job.fingerprint, said, "`sparkwright plan` says where they cost most."))
    lines = [f"rpm = [{_as_filed(result.rpm.tolist())}]", f"kpa = [{_as_filed(result.kpa.tolist())}]"]
    if result.load_term != "kPa absolute":
        loads = axis_text(result.load.tolist())
        lines.append(f"In the controller the loads are, in {unit_of(result.load_term)}: {loads}.")
    note = throttle_note(job.controller.load)
    return Group(
        headed(job.name, job.fingerprint, axes_sentence(result), _to_do(result)),
        Text(),
        *(Text(line) for line in (*lines, note) if line),
    )


def _to_do(result: AxesChoice) -> str:
    own = "Ask again with --anew to choose them too." if gains_anew(result) else ""
    if len(result.kept) == 2:
        return own
    return f"Put them under [controller] and plan again. {own}".strip()


def _as_filed(values: list[float]) -> str:
    """Write the nodes of an axis as a job file lists them, with every digit."""
    return ", ".join(f"{each:.10g}" for each in values)
