"""Friction as a mean pressure that the engine takes from itself."""

from sparkwright.numeric import Numeric


def chen_flynn_friction_bar(
    peak_pressure_bar: Numeric,
    mean_piston_speed_m_s: Numeric,
    constant_bar: Numeric,
    per_peak_pressure: Numeric,
    per_piston_speed_bar_s_m: Numeric,
    per_piston_speed_squared_bar_s2_m2: Numeric,
) -> Numeric:
    """Give friction mean pressure from peak pressure and piston speed.

    ``fmep = A + B p_max + C S_p + D S_p^2``

    Parameters
    ----------
    peak_pressure_bar : float or array
        Peak cylinder pressure [bar].
    mean_piston_speed_m_s : float or array
        Mean piston speed [m/s].
    constant_bar, per_peak_pressure : float or array
        A [bar], B [-]; they belong to one engine.
    per_piston_speed_bar_s_m, per_piston_speed_squared_bar_s2_m2 : float or array
        C [bar s/m], D [bar s2/m2]; likewise.

    Returns
    -------
    float or array
        Friction mean pressure, pumping not included [bar], in the broadcast shape of the arguments.

    Notes
    -----
    Form of Chen and Flynn, SAE 650733 (1965), with the quadratic term usual today. The form holds where its
    four constants were fitted.

    Examples
    --------
    >>> round(float(chen_flynn_friction_bar(50.0, 8.0, 0.4, 0.005, 0.09, 0.0009)), 4)
    1.4276
    """
    return (
        constant_bar
        + per_peak_pressure * peak_pressure_bar
        + per_piston_speed_bar_s_m * mean_piston_speed_m_s
        + per_piston_speed_squared_bar_s2_m2 * mean_piston_speed_m_s * mean_piston_speed_m_s
    )
