"""Loads as a person types them into the controller, with kPa absolute beside where that is something else."""

from __future__ import annotations

from sparkwright.job import LoadTerm
from sparkwright.plan.load_terms import ABSOLUTE, Loads, unit_of


def load_text(load: float) -> str:
    """Write a load to two decimals, without those that are nothing.

    Parameters
    ----------
    load : float
        The load, in any terms.

    Examples
    --------
    >>> load_text(17.718402), load_text(40.0), load_text(-0.001)
    ('17.72', '40', '0')
    """
    return f"{round(load, 2) + 0.0:g}"


def own_text(kpa: float, loads: Loads = ABSOLUTE) -> str:
    """Write a pressure in a controller's terms, without their name.

    Parameters
    ----------
    kpa : float
        The pressure [kPa absolute].
    loads : Loads, optional
        The terms, which must not be those of a throttle.
    """
    return load_text(float(loads.of_kpa(kpa)))


def own_words(kpa: float, loads: Loads = ABSOLUTE) -> str:
    """Say a load in a controller's terms alone.

    Parameters
    ----------
    kpa : float
        The load [kPa absolute].
    loads : Loads, optional
        The terms, which must not be those of a throttle.

    Examples
    --------
    >>> own_words(40.0), own_words(40.0, Loads("inHg vacuum", site_kpa=100.0))
    ('40 kPa', '17.72 inHg vacuum')
    """
    return f"{own_text(kpa, loads)} {loads.unit}"


def load_words(kpa: float, loads: Loads = ABSOLUTE) -> str:
    """Say a load in a controller's terms, and in kPa beside where those are others.

    Parameters
    ----------
    kpa : float
        The load [kPa absolute].
    loads : Loads, optional
        The terms, which must not be those of a throttle.

    Examples
    --------
    >>> load_words(40.0), load_words(40.0, Loads("inHg vacuum", site_kpa=100.0))
    ('40 kPa', '17.72 inHg vacuum (40 kPa)')
    """
    return (
        load_said(kpa)
        if loads.term == "kPa absolute"
        else load_said(kpa, float(loads.of_kpa(kpa)), loads.term)
    )


def load_said(kpa: float, load: float | None = None, load_term: str = "") -> str:
    """Say a load of a finding, which has it in the controller's terms too where those aren't kPa absolute.

    Parameters
    ----------
    kpa : float
        The load [kPa absolute].
    load : float, optional
        The same in the controller's terms; None where the finding has it in kPa alone.
    load_term : str, optional
        The terms.

    Examples
    --------
    >>> load_said(61.5), load_said(61.5, 30.0, "percent of throttle")
    ('61.5 kPa', '30 % of throttle (61.5 kPa)')
    """
    if load is None:
        return f"{load_text(kpa)} kPa"
    return f"{load_text(load)} {unit_of(load_term)} ({kpa:.3g} kPa)"


def down_words(loads: Loads = ABSOLUTE) -> str:
    """Say in what the rows of a map stand.

    Parameters
    ----------
    loads : Loads, optional
        The terms of the rows.

    Examples
    --------
    >>> down_words(), down_words(Loads("psi boost", site_kpa=100.0))
    ('kPa down', 'psi boost down, kPa beside')
    """
    return "kPa down" if loads.term == "kPa absolute" else f"{loads.unit} down, kPa beside"


def absolute_down_words(loads: Loads = ABSOLUTE) -> str:
    """Say the same where nothing else says that kPa are absolute.

    Parameters
    ----------
    loads : Loads, optional
        The terms of the rows.
    """
    return "kPa absolute down" if loads.term == "kPa absolute" else down_words(loads)


def loads_words(controllers: LoadTerm | None) -> str:
    """Say in what the loads of a map stand, and why those units don't follow the person's.

    Parameters
    ----------
    controllers : str or None
        In what the controller has its loads; None where the job doesn't say.

    Examples
    --------
    >>> loads_words("kPa absolute")
    'Loads are in kPa absolute, as the controller has them.'
    >>> loads_words("inHg vacuum")
    'Loads are in inHg vacuum, as the controller has them, and in kPa absolute beside.'
    """
    if controllers is None:
        return "Loads are in kPa absolute: the job does not say in what its controller has them."
    if controllers == "kPa absolute":
        return "Loads are in kPa absolute, as the controller has them."
    if controllers == "percent of throttle":
        return (
            "Loads are in kPa absolute here, since a throttle is another pressure at each speed; maps to "
            "paste have them in percent of throttle, as the controller does."
        )
    return f"Loads are in {unit_of(controllers)}, as the controller has them, and in kPa absolute beside."
