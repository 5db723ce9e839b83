"""Mixing: how much of the fuel's heat comes free where the mixture is not the same everywhere."""

from math import erf, exp, pi, sqrt

MIXTURE_SPREAD = 0.085
"""Standard deviation of lambda within one charge [-]; a choice within what port mixtures show, some 5 to 10
per cent (common practice, no source). It puts the most power at lambda 0.85 to 0.9, as practice has it."""


def release_completeness(mixture_lambda: float, spread: float = MIXTURE_SPREAD) -> float:
    """Give the heat released over what an even mixture would release.

    ``E[min(l, 1)] / min(lambda, 1)`` with l normal about lambda: a rich part lacks air, a lean part fuel.

    Parameters
    ----------
    mixture_lambda : float
        Air over stoichiometric air, mean of the charge [-], above 0.
    spread : float
        Standard deviation of l [-], above 0.

    Returns
    -------
    float
        Completeness [-], at most 1; least where the mixture is stoichiometric.

    Notes
    -----
    Mean of a normal variable cut off above, in closed form. Heywood (1988), sec. 4.9.4 and fig. 4-20, shows a
    combustion efficiency of some 0.95 to 0.98 from lean to stoichiometric, falling with the lack of air when
    rich (recalled).

    Examples
    --------
    >>> round(release_completeness(1.0), 3), round(release_completeness(0.87), 3)
    (0.966, 0.997)
    """
    over = (1.0 - mixture_lambda) / spread
    below = 0.5 * (1.0 + erf(over / sqrt(2.0)))
    density = exp(-0.5 * over * over) / sqrt(2.0 * pi)
    burned = mixture_lambda * below - spread * density + 1.0 - below
    return burned / min(mixture_lambda, 1.0)
