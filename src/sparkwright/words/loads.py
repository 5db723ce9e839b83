"""In what a map shows its loads, told once beside it."""

from __future__ import annotations

from sparkwright.job import LoadTerm


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
    'Loads are in kPa absolute here; maps to paste have them in inHg vacuum, as the controller does.'
    """
    if controllers is None:
        return "Loads are in kPa absolute: the job does not say in what its controller has them."
    if controllers == "kPa absolute":
        return "Loads are in kPa absolute, as the controller has them."
    return (
        f"Loads are in kPa absolute here; maps to paste have them in {controllers}, as the controller does."
    )
