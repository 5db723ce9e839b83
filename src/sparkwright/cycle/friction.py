"""Friction as a mean pressure that the engine takes from itself."""

from sparkwright.numeric import Numeric


def barnes_moss_total_friction_bar(speed_rpm: Numeric) -> Numeric:
    """Give total friction mean pressure from speed alone, pumping included.

    ``tfmep = 0.97 + 0.15 (N/1000) + 0.05 (N/1000)^2``

    Parameters
    ----------
    speed_rpm
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


def barnes_moss_outside_range(cylinders: int, displacement_cm3: float) -> list[str]:
    """Say in plain sentences where the speed polynomial is used on an engine unlike those measured.

    Parameters
    ----------
    cylinders
        Number of cylinders.
    displacement_cm3
        Displacement of the whole engine [cm3].

    Returns
    -------
    list of str
        One sentence for each stretch; empty inside the range (four cylinders, 845 to 2000 cm3).

    Examples
    --------
    >>> barnes_moss_outside_range(4, 1300.0)
    []
    >>> barnes_moss_outside_range(8, 1300.0)
    ['The friction polynomial was measured on four-cylinder engines; this one has 8.']
    """
    sentences = []
    if cylinders != 4:
        sentences.append(
            f"The friction polynomial was measured on four-cylinder engines; this one has {cylinders}."
        )
    if not 845.0 <= displacement_cm3 <= 2000.0:
        sentences.append(
            "The friction polynomial was measured on engines of 845 to 2000 cm3; "
            f"this one has {displacement_cm3:.0f} cm3."
        )
    return sentences


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
    peak_pressure_bar
        Peak cylinder pressure [bar].
    mean_piston_speed_m_s
        Mean piston speed [m/s].
    constant_bar, per_peak_pressure, per_piston_speed_bar_s_m, per_piston_speed_squared_bar_s2_m2
        A [bar], B [-], C [bar s/m], D [bar s2/m2]; they belong to one engine.

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
