"""What measuring a fact is worth, in words."""

from __future__ import annotations

from sparkwright.plan.worth import MeasureFirst, Worth
from sparkwright.units import System
from sparkwright.words.assumed import value_words


def worth_words(worth: Worth) -> str:
    """Say what the guess of a fact may cost.

    Parameters
    ----------
    worth : Worth
        How far a guessed fact moves the timing, and where most.

    Examples
    --------
    >>> worth_words(Worth("mixture, lambda", ("fuel.lambda_full",), 1.42, 3000.0, 97.2))
    'the guess may cost 1.4 deg, at 3,000 rpm and 97 kPa'
    >>> worth_words(Worth("tip width", ("distributor.tip_width",), 1.86, None, None))
    'the guess may cost 1.9 deg of reach'
    """
    cost = f"the guess may cost {worth.moved_deg:.1f} deg"
    if worth.rpm is None or worth.kpa is None:
        return f"{cost} of reach"
    return f"{cost}, at {worth.rpm:,.0f} rpm and {worth.kpa:.0f} kPa"


def first_words(first: MeasureFirst, system: System = "metric") -> str:
    """Say which assumed fact to measure, what stands in for it, and what that may cost.

    Parameters
    ----------
    first : MeasureFirst
        The fact, what stands in for it and what that may cost.
    system : System, optional
        Units that the person reads.

    Examples
    --------
    >>> tip = Worth("tip width", ("distributor.tip_width",), 1.86, None, None)
    >>> first_words(MeasureFirst("distributor.tip_width", "6 mm", "reach hangs on it", tip))
    'distributor.tip_width, assumed 6 mm, the guess may cost 1.9 deg of reach: reach hangs on it.'
    """
    cost = f", {worth_words(first.worth)}" if first.worth else ""
    return f"{first.field}, assumed {value_words(first.field, first.value, system)}{cost}: {first.why}."
