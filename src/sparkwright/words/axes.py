"""Axes chosen for a map, in sentences."""

from __future__ import annotations

from sparkwright.plan.choose_axes import AxesChoice


def axes_sentence(result: AxesChoice) -> str:
    """Say what chosen axes gain over even ones.

    Parameters
    ----------
    result : AxesChoice
        The axes that were chosen, and what they gain.
    """
    if result.rows_kept:
        return (
            f"The controller's rows have speeds of their own and are kept: nothing is chosen. They give away "
            f"{result.lost_percent:.2f} % of torque, weighed for {result.use} use."
        )
    if result.even_lost_percent > result.lost_percent:
        return (
            f"These axes give away {result.lost_percent:.2f} % of torque, even ones "
            f"{result.even_lost_percent:.2f} %, weighed for {result.use} use."
        )
    return f"Even axes are as good as any found: they give away {result.lost_percent:.2f} % of torque."


def axis_text(values: list[float]) -> str:
    """Write the nodes of an axis as a job file lists them.

    Parameters
    ----------
    values : list of float
        Speeds or loads, rising.

    Examples
    --------
    >>> axis_text([800.0, 1250.0])
    '800, 1250'
    """
    return ", ".join(f"{each:g}" for each in values)
