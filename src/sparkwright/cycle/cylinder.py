"""The cylinder's room, the flame's free area in it and the heat its walls take, as the kernel needs them."""

from __future__ import annotations

from math import cos, exp, log, sin, sqrt

from sparkwright.cycle.charge import Charge
from sparkwright.cycle.curves import cubic_weights_compiled
from sparkwright.cycle.jit import compiled

VELOCITY_ROUNDING = 0.1
"""Share of Woschni's gas velocity over which the greater of its two additions takes over [-]; a choice."""


def volume(charge: Charge, angle: float) -> tuple[float, float]:
    """Cylinder volume without the crevices [m3] and its derivative with the crank angle [m3/rad].

    Parameters
    ----------
    charge : Charge
        The cylinder.
    angle : float
        Crank angle after top dead centre [rad].

    Notes
    -----
    Slider-crank geometry, exact.
    """
    across = charge.crank_radius_m * sin(angle)
    along = charge.crank_radius_m * cos(angle)
    rod = sqrt(charge.rod_m * charge.rod_m - across * across)
    drop = charge.crank_radius_m + charge.rod_m - along - rod
    return charge.clearance_m3 + charge.piston_m2 * drop, charge.piston_m2 * across * (1.0 + along / rod)


def flame_factor(charge: Charge, share_root: float, volume: float) -> float:
    """Free flame area over ``flame_volume**(2/3)``, from the chamber's table.

    Parameters
    ----------
    charge : Charge
        The cylinder, with the table of its chamber.
    share_root : float
        Cube root of the flame's share of the cylinder volume [-].
    volume : float
        Cylinder volume [m3].

    Notes
    -----
    Geometry of `flame_table`, with cubics between its nodes.
    """
    table = charge.flame_table
    pistons, shares = table.shape
    low = charge.clearance_m3 / (charge.clearance_m3 + charge.displaced_m3)
    k, u0, u1, u2, u3 = cubic_weights_compiled(share_root * (shares - 1), shares)
    i, w0, w1, w2, w3 = cubic_weights_compiled(
        (charge.clearance_m3 / volume - low) / (1.0 - low) * (pistons - 1), pistons
    )
    before, after = max(k, 0), min(k + 3, shares - 1)
    total = 0.0
    for row, weight in ((max(i, 0), w0), (i + 1, w1), (i + 2, w2), (min(i + 3, pistons - 1), w3)):
        total += weight * (
            u0 * table[row, before] + u1 * table[row, k + 1] + u2 * table[row, k + 2] + u3 * table[row, after]
        )
    return max(total, 0.0)


def wall_conductance(
    charge: Charge, ln_pressure: float, ln_volume: float, volume: float, rise_pa: float
) -> float:
    """Heat flow to all walls for each kelvin of difference [W/K], at the charge's mean temperature.

    Woschni (1967) as in ``sparkwright.cycle.heat``; to his gas velocity comes the greater of what the
    burn adds and what Huber, Woschni and Zeilinger (1990) found about top dead centre, without a corner.

    Parameters
    ----------
    charge : Charge
        The cylinder and its charge.
    ln_pressure : float
        Logarithm of the pressure [ln Pa].
    ln_volume, volume : float
        Cylinder volume [m3] and its logarithm.
    rise_pa : float
        Pressure above that of the same cycle without a burn [Pa].
    """
    shut = charge.clearance_m3 / volume
    at_top = charge.top_velocity_m_s * shut * shut
    by_burn = charge.velocity_per_rise * rise_pa
    width, apart = VELOCITY_ROUNDING * charge.gas_velocity_m_s, at_top - by_burn
    velocity = charge.gas_velocity_m_s + 0.5 * (at_top + by_burn + sqrt(apart * apart + width * width))
    area = charge.fixed_wall_m2 + 4.0 * (volume - charge.clearance_m3) / charge.bore_m
    ln_mean_k = ln_pressure + ln_volume - charge.ln_mass_r
    return area * exp(charge.ln_woschni + 0.8 * (ln_pressure + log(velocity)) - 0.53 * ln_mean_k)


volume_compiled = compiled(volume)
flame_factor_compiled = compiled(flame_factor)
wall_conductance_compiled = compiled(wall_conductance)
