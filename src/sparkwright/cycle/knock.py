"""Knock: the induction time of the end gas, and the integral that says when it runs out.

The end gas is taken to fire by itself when the share of its induction time used up, added over the
changing pressure and temperature, reaches one (Livengood and Wu 1955).
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from sparkwright.errors import PhysicsError
from sparkwright.findings import Finding
from sparkwright.numeric import Numeric

DOUAUD_EYZAT_PRESSURE_EXPONENT = 1.7
"""Power of pressure by which the induction time of Douaud and Eyzat (1978) shortens."""

OCTANE_EXPONENT = 3.402
"""Power of the octane number with which it grows (Douaud and Eyzat 1978)."""

LOWEST_OCTANE_HELD: Final = 80.0
HIGHEST_OCTANE_HELD: Final = 100.0
"""Octane numbers between which `pivoted_induction_ms` meets the guide table of ASTM D2699."""


def douaud_eyzat_induction_ms(octane: Numeric, pressure_atm: Numeric, temperature_k: Numeric) -> Numeric:
    """Give the time the end gas takes to fire by itself, held at one pressure and temperature.

    ``tau = 17.68 (ON/100)^3.402 p^-1.7 exp(3800/T)``

    Parameters
    ----------
    octane : float or array
        Octane number [-].
    pressure_atm : float or array
        Pressure [atm]; the same formula with 18.69 takes kgf/cm2.
    temperature_k : float or array
        End-gas temperature [K].

    Returns
    -------
    float or array
        Induction time [ms], in the broadcast shape of the arguments.

    Notes
    -----
    Douaud and Eyzat, SAE 780080 (1978); Heywood, Internal Combustion Engine Fundamentals (1988), ch. 9.
    Fitted to primary reference fuels of 80 to 100 octane (recalled).

    Examples
    --------
    >>> round(float(douaud_eyzat_induction_ms(95.0, 25.0, 820.0)), 3)
    6.424
    """
    result: Numeric = (
        17.68
        * (octane / 100.0) ** OCTANE_EXPONENT
        * pressure_atm**-DOUAUD_EYZAT_PRESSURE_EXPONENT
        * np.exp(3800.0 / temperature_k)
    )
    return result


PIVOT_PRESSURE_PA: Final = 25e5
PIVOT_K: Final = 800.0
"""Pressure and temperature of an end gas at full load, about which `pivoted_induction_ms` turns."""

PIVOT_INDUCTION_MS: Final = float(
    17.68 * (PIVOT_PRESSURE_PA / 101325.0) ** -DOUAUD_EYZAT_PRESSURE_EXPONENT * np.exp(3800.0 / PIVOT_K)
)
"""Induction time of 100 octane there by `douaud_eyzat_induction_ms` [ms]."""


def pivoted_induction_ms(
    octane: Numeric,
    pressure_pa: Numeric,
    temperature_k: Numeric,
    factor: float,
    pressure_exponent: float,
    activation_k: float,
) -> Numeric:
    """Give the induction time that the cycle uses: Douaud and Eyzat's at full load, with other slopes.

    ``tau = f tau0 (ON/100)^3.402 (p/p0)^-n exp(B (1/T - 1/T0))`` with p0 = 25 bar, T0 = 800 K and tau0 from
    `douaud_eyzat_induction_ms` there.

    Parameters
    ----------
    octane : float or array
        ON, the octane number that counts [-].
    pressure_pa : float or array
        p [Pa], above 0.
    temperature_k : float or array
        T, of the end gas [K], above 0.
    factor : float
        f [-]; 1 as published at the pivot.
    pressure_exponent : float
        n [-]; 1.7 as published.
    activation_k : float
        B [K]; 3,800 as published.

    Returns
    -------
    float or array
        Induction time [ms], in the broadcast shape of the arguments.

    Notes
    -----
    Douaud and Eyzat, SAE 780080 (1978). Their exponents, found on one engine, count pressure too much and
    temperature too little against the trade-offs of Russ, SAE 960497 (1996); ours are fitted to those and to
    the guide table of ASTM D2699, about a point where engines knock. `octane_outside_range` says where the
    law is stretched, `sparkwright.cycle.shapes` for which chambers it is not firm.

    Examples
    --------
    >>> round(float(pivoted_induction_ms(100.0, 25e5, 800.0, 1.0, 1.4, 4200.0)), 3)
    8.782
    >>> round(float(douaud_eyzat_induction_ms(100.0, 25e5 / 101325.0, 800.0)), 3)
    8.782
    """
    result: Numeric = (
        factor
        * PIVOT_INDUCTION_MS
        * (octane / 100.0) ** OCTANE_EXPONENT
        * (pressure_pa / PIVOT_PRESSURE_PA) ** -pressure_exponent
        * np.exp(activation_k * (1.0 / temperature_k - 1.0 / PIVOT_K))
    )
    return result


def mixture_factor(mixture_lambda: Numeric) -> Numeric:
    """Give the factor of the mixture on the induction time: ``exp(4 (1/lambda - 1.15)^2)``.

    Parameters
    ----------
    mixture_lambda : float or array
        Air over stoichiometric air [-], above 0.

    Returns
    -------
    float or array
        The factor [-], in the shape of the argument; least, 1, a little richer than stoichiometric.

    Notes
    -----
    Douaud and Eyzat's formula knows no mixture. In the octane engine lambda 0.89 knocks most and lambda 1.0
    less by some three octane numbers (Kolodziej and Wallner, Combustion Engines 171(4) (2017) 164; Hoth and
    Kolodziej, Fuel (2021); both second-hand); the temperatures of the cycle alone give less than one. The
    form is ours.

    Examples
    --------
    >>> round(float(mixture_factor(1.0)), 3), round(float(mixture_factor(0.87)), 3)
    (1.094, 1.0)
    """
    result: Numeric = np.exp(4.0 * (1.0 / mixture_lambda - 1.15) ** 2)
    return result


def octane_outside_range(octane: float) -> tuple[Finding, ...]:
    """Give where the induction time that the cycle uses is an extrapolation.

    `pivoted_induction_ms` was fitted to the octane engine from 80 to 100 octane. At 70 it has that engine
    knock at a ratio of 4.8 where the guide table of ASTM D2699 says 5.6; above 100 there was nothing to fit
    it to.

    Parameters
    ----------
    octane : float
        Octane number [-].

    Returns
    -------
    tuple of Finding
        One where the octane number lies outside; empty inside the range.

    Notes
    -----
    The range is that of the guide table of ASTM D2699-15a over which the law was fitted.

    Examples
    --------
    >>> octane_outside_range(91.0)
    ()
    >>> octane_outside_range(70.0)[0].numbers
    {'octane': 70.0}
    """
    if LOWEST_OCTANE_HELD <= octane <= HIGHEST_OCTANE_HELD:
        return ()
    return (Finding("octane.outside-range", "look", {"octane": octane}),)


def livengood_wu_integral(
    time_ms: NDArray[np.float64], induction_ms: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Add up the share of the induction time used, along a given trace.

    ``I(t) = integral of dt/tau``, by the trapezoid rule.

    Parameters
    ----------
    time_ms : array, shape (n,)
        Times of the trace [ms], one-dimensional, rising, two or more.
    induction_ms : array, shape (n,)
        Induction time at each of them [ms], above 0, same shape.

    Returns
    -------
    array
        The integral from the first time to each time [-], same shape; the first value is 0.

    Raises
    ------
    PhysicsError
        When the shapes differ, times do not rise, or an induction time is not above 0.

    Notes
    -----
    Livengood and Wu, 5th Symposium (International) on Combustion (1955) 347-356.

    Examples
    --------
    >>> livengood_wu_integral(np.array([0.0, 1.0, 2.0]), np.array([4.0, 4.0, 4.0]))
    array([0.  , 0.25, 0.5 ])
    """
    if time_ms.ndim != 1 or time_ms.size < 2 or time_ms.shape != induction_ms.shape:
        raise PhysicsError(
            "induction_ms",
            f"shape {induction_ms.shape} with time_ms of shape {time_ms.shape}",
            "both must be one-dimensional, of the same length, two or more",
        )
    steps_ms = np.diff(time_ms)
    if not np.all(steps_ms > 0.0):
        raise PhysicsError("time_ms", "not rising", "each time must be later than the one before")
    if not np.all(induction_ms > 0.0):
        raise PhysicsError("induction_ms", float(np.min(induction_ms)), "must be above 0 at every time")
    rate_per_ms = 1.0 / induction_ms
    integral = np.zeros_like(rate_per_ms)
    np.cumsum(0.5 * (rate_per_ms[1:] + rate_per_ms[:-1]) * steps_ms, out=integral[1:])
    return integral


def knock_time_ms(time_ms: NDArray[np.float64], integral: NDArray[np.float64]) -> float | None:
    """Give the time at which the knock integral reaches one, or None if it never does.

    Parameters
    ----------
    time_ms : array, shape (n,)
        Times of the trace [ms], rising.
    integral : array, shape (n,)
        From `livengood_wu_integral` [-], same shape.

    Returns
    -------
    float or None
        Time of knock [ms], by a straight line between the two samples around it.

    Notes
    -----
    By definition of the integral, which reaches one at knock.

    Examples
    --------
    >>> knock_time_ms(np.array([0.0, 1.0, 2.0]), np.array([0.0, 0.8, 1.6]))
    1.25
    >>> knock_time_ms(np.array([0.0, 1.0]), np.array([0.0, 0.9])) is None
    True
    """
    if not integral[-1] >= 1.0:
        return None
    return float(np.interp(1.0, integral, time_ms))


def steady_knock_integral(time_ms: Numeric, induction_ms: Numeric) -> Numeric:
    """Give the knock integral at constant pressure and temperature: ``I = t/tau``.

    Parameters
    ----------
    time_ms : float or array
        Time spent there [ms].
    induction_ms : float or array
        Induction time there [ms].

    Returns
    -------
    float or array
        The integral [-], in the broadcast shape of the arguments.

    Notes
    -----
    Closed form of Livengood and Wu (1955); used to prove the quadrature.

    Examples
    --------
    >>> steady_knock_integral(1.0, 4.0)
    0.25
    """
    return time_ms / induction_ms


def rising_pressure_knock_integral(
    time_ms: Numeric, doubling_time_ms: Numeric, initial_induction_ms: Numeric
) -> Numeric:
    """Give the knock integral for pressure rising in a straight line at constant temperature.

    For ``p = p0 (1 + t/t0)`` and ``tau ~ p^-n``: ``I = (t0/((n+1) tau0)) [(1 + t/t0)^(n+1) - 1]``, here
    with the exponent n = 1.7 of Douaud and Eyzat.

    Parameters
    ----------
    time_ms : float or array
        Time since the start [ms].
    doubling_time_ms : float or array
        t0, the time in which the pressure doubles [ms].
    initial_induction_ms : float or array
        tau0, the induction time at the start [ms].

    Returns
    -------
    float or array
        The integral [-], in the broadcast shape of the arguments.

    Notes
    -----
    Closed form of Livengood and Wu (1955) with Douaud and Eyzat (1978); used to prove the quadrature.

    Examples
    --------
    >>> round(float(rising_pressure_knock_integral(2.0, 2.0, 5.0)), 4)
    0.8145
    """
    order = DOUAUD_EYZAT_PRESSURE_EXPONENT + 1.0
    result: Numeric = (
        doubling_time_ms
        / (order * initial_induction_ms)
        * ((1.0 + time_ms / doubling_time_ms) ** order - 1.0)
    )
    return result
