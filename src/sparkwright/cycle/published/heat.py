"""Heat given to the wall after others than Woschni, whom the cycle follows."""

from __future__ import annotations

from sparkwright.numeric import Numeric


def hohenberg_heat_transfer_w_m2_k(
    volume_m3: Numeric, pressure_bar: Numeric, temperature_k: Numeric, mean_piston_speed_m_s: Numeric
) -> Numeric:
    """Give Hohenberg's heat-transfer coefficient.

    ``h = 130 V^-0.06 p^0.8 T^-0.4 (S_p + 1.4)^0.8``

    Parameters
    ----------
    volume_m3 : float or array
        Cylinder volume at the moment [m3].
    pressure_bar : float or array
        Cylinder pressure [bar].
    temperature_k : float or array
        Mean gas temperature [K].
    mean_piston_speed_m_s : float or array
        Mean piston speed [m/s].

    Returns
    -------
    float or array
        Heat-transfer coefficient [W/(m2 K)], in the broadcast shape of the arguments.

    Notes
    -----
    Hohenberg, SAE 790825 (1979); fitted on diesel engines.

    Examples
    --------
    >>> round(float(hohenberg_heat_transfer_w_m2_k(1e-4, 10.0, 600.0, 10.0)), 1)
    773.0
    """
    result: Numeric = (
        130.0
        * volume_m3**-0.06
        * pressure_bar**0.8
        * temperature_k**-0.4
        * (mean_piston_speed_m_s + 1.4) ** 0.8
    )
    return result
