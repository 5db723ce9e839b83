"""Heat that an uneven mixture keeps, against the mean of the cut-off normal variable that it stands for.

Sources: SciPy's numerical expectation; Heywood (1988), sec. 4.9.4 and ch. 15 (recalled) for the band of
combustion efficiency and for the mixture of most power.
"""

import numpy as np
import pytest
from scipy.optimize import minimize_scalar
from scipy.stats import norm

from calibrate import Bench, Run
from reference_engines import wedge_v8
from sparkwright.cycle.belief import PRIOR
from sparkwright.cycle.mixing import MIXTURE_SPREAD, release_completeness


@pytest.mark.parametrize("spread", [0.03, MIXTURE_SPREAD, 0.15])
@pytest.mark.parametrize("mixture_lambda", [0.75, 0.87, 0.95, 1.0, 1.05, 1.2])
def test_the_closed_form_is_the_expectation(mixture_lambda: float, spread: float) -> None:
    """SciPy's quadrature over the normal distribution, in two parts as the integrand has a corner at 1."""
    lacking_air = norm.expect(lambda x: x, loc=mixture_lambda, scale=spread, ub=1.0)
    lacking_fuel = norm.sf(1.0, loc=mixture_lambda, scale=spread)
    wanted = (lacking_air + lacking_fuel) / min(mixture_lambda, 1.0)
    assert release_completeness(mixture_lambda, spread) == pytest.approx(wanted, rel=1e-6)


def test_completeness_is_least_where_the_mixture_is_stoichiometric() -> None:
    found = minimize_scalar(release_completeness, bounds=(0.7, 1.3), method="bounded")
    assert found.x == pytest.approx(1.0, abs=0.005)
    assert 0.95 <= found.fun <= 0.98  # Heywood, fig. 4-20 (recalled)


def test_an_even_mixture_keeps_nothing() -> None:
    for mixture_lambda in (0.8, 1.0, 1.2):
        assert release_completeness(mixture_lambda, 1e-9) == pytest.approx(1.0, abs=1e-8)


def test_a_rich_mixture_gives_the_most_power() -> None:
    """Heywood, ch. 15 (recalled), and common practice: most torque at 0.85 to 0.95, 1 to 3 % over 1."""
    bench = Bench(PRIOR.constants)
    mixtures = (0.80, 0.85, 0.87, 0.90, 0.95, 1.0)
    bmep = [bench.bmep(Run(wedge_v8(), 2500.0, mixture=m)) for m in mixtures]
    assert 0.85 <= mixtures[int(np.argmax(bmep))] <= 0.95
    assert 1.01 <= max(bmep) / bmep[-1] <= 1.03
