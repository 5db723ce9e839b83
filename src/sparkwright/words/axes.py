"""Axes chosen for a map, in sentences."""

from __future__ import annotations

from math import isnan

from sparkwright.job import LoadTerm
from sparkwright.plan.choose_axes import AxesChoice

GAIN_PERCENT = 0.005
"""Torque that is told as a gain [%]: what shows in the second decimal."""

_OWN = {("rpm",): "speeds", ("load",): "loads", ("rpm", "load"): "speeds and loads"}


def axes_sentence(result: AxesChoice) -> str:
    """Say what chosen axes gain over even ones, or what the person's own give away.

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
    lost, even, use = result.lost_percent, result.even_lost_percent, f"weighed for {result.use} use"
    own = _OWN.get(result.kept)
    if len(result.kept) == 2:
        return (
            f"Your own {own} are kept, and nothing was chosen: they give away {lost:.2f} % of torque, {use}. "
            + _anew(result, "As many of each, chosen between the same ends,")
        )
    said = f"Even axes are as good as any found: they give away {lost:.2f} % of torque."
    if even > lost:
        said = f"These axes give away {lost:.2f} % of torque, even ones {even:.2f} %, {use}."
    return f"{said} Your own {own} are kept. {_anew(result, 'As many, chosen too,')}" if own else said


def gains_anew(result: AxesChoice) -> bool:
    """Whether choosing the axes that are kept would gain what can be told.

    Parameters
    ----------
    result : AxesChoice
        The axes that were chosen, and those that were kept.
    """
    anew = result.anew_lost_percent
    return not isnan(anew) and result.lost_percent - anew > GAIN_PERCENT


def _anew(result: AxesChoice, as_many: str) -> str:
    if gains_anew(result):
        return f"{as_many} would give away {result.anew_lost_percent:.2f} %."
    return f"{as_many} would gain nothing."


def axis_text(values: list[float]) -> str:
    """Write the nodes of an axis as a person reads them, to two decimals.

    Parameters
    ----------
    values : list of float
        Speeds or loads in their order.

    Examples
    --------
    >>> axis_text([800.0, 1250.0]), axis_text([17.718402, 0.5, 0.0])
    ('800, 1250', '17.72, 0.5, 0')
    """
    return ", ".join(f"{round(each, 2):g}" for each in values)


def throttle_note(controllers: LoadTerm | None) -> str:
    """Say what loads are where a controller has them by throttle; nothing for other controllers.

    Parameters
    ----------
    controllers : str or None
        In what the controller has its loads; None where the job doesn't say.

    Examples
    --------
    >>> throttle_note("inHg vacuum")
    ''
    """
    if controllers != "percent of throttle":
        return ""
    return (
        "Loads are pressures here, on which the map is planned: the rows of the controller stay those of its "
        "throttle table."
    )
