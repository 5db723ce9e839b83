"""Friction of whole engines as published; the cycle itself counts only what its hooks need."""

from sparkwright.numeric import Numeric


def barnes_moss_total_friction_bar(speed_rpm: Numeric) -> Numeric:
    """Give total friction mean pressure from speed alone, pumping included.

    ``tfmep = 0.97 + 0.15 (N/1000) + 0.05 (N/1000)^2``

    Parameters
    ----------
    speed_rpm : float or array
        Engine speed [rpm].

    Returns
    -------
    float or array
        Total friction mean pressure [bar], same shape.

    Notes
    -----
    Barnes-Moss, I.Mech.E. C343/73 (1975), as given by Heywood, Internal Combustion Engine Fundamentals
    (1988), ch. 13: four-cylinder spark-ignition engines of 845 to 2000 cm3 at full load. Modern low-friction
    engines lie below it.

    Examples
    --------
    >>> round(float(barnes_moss_total_friction_bar(2000.0)), 2)
    1.47
    """
    thousands_rpm = speed_rpm / 1000.0
    return 0.97 + 0.15 * thousands_rpm + 0.05 * thousands_rpm * thousands_rpm
