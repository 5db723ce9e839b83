"""The compiled engine cycle: one charge, from intake closing to exhaust opening.

Two zones at one pressure, a flame that entrains and burns up, wall heat, and the knock integral of
the end gas. ``burning_rates`` is the whole physics, as time derivatives of eight states; everything
below it only steps. SI units; crank angles in radians after top dead centre of the firing stroke.

The pressure follows from the gas law of both zones, ``p V = m_u R_u T_u + m_b e(h_b, ln p)``, with
``e`` the burned gas's pressure times specific volume at equilibrium, differentiated in time and with
the energy balance of each zone put in (first law for open zones; Heywood, *Internal Combustion
Engine Fundamentals*, 1988, sec. 9.2 and 14.4).
"""

from __future__ import annotations

from math import exp, log, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle import gas_fits, turbulence
from sparkwright.cycle.charge import Charge, Charges, packed
from sparkwright.cycle.curves import (
    hermite_peak_compiled,
    hermite_share_compiled,
    surface_compiled,
    surface_value_compiled,
)
from sparkwright.cycle.cylinder import flame_factor_compiled, volume_compiled, wall_conductance_compiled
from sparkwright.cycle.jit import compiled, compiled_formula

FloatArray = NDArray[np.float64]
BurningState = tuple[float, float, float, float, float, float, float, float]


KERNEL_RADIUS_M = 1.0e-3
"""Radius of the burned sphere that the spark leaves [m]; recalled, of the order of the plug gap."""

END_GAS_SHARE = 0.03
"""Share of the charge left ahead of the flame at which a knock would go unheard by half [-]; a choice."""

MOTORED_EXPONENT = 1.33
"""Of the pressure without a burn, in Woschni's gas velocity [-]; recalled, near the charge's own."""

LEAST_ROOM = 0.002
"""Share of the charge that a step may always take in, so that a flame's end takes few steps [-]; a choice."""

TAIL_SHARE = 0.95
"""Burned share from which steps are three times as long, what is left being slow and smooth [-]; a choice."""

GROWTH_IN_A_STEP = 0.7
"""Most growth of the entrained mass in one step, as a share of itself [-]; a choice."""


_viscosity = compiled_formula(turbulence.kinematic_viscosity_m2_s)
_entrainment_speed = compiled_formula(turbulence.growing_entrainment_m_s)
_cp = compiled_formula(gas_fits.unburned_cp_j_kgk)
_enthalpy = compiled_formula(gas_fits.unburned_enthalpy_j_kg)


def _aging(charge: Charge, ln_pressure: float, temperature: float) -> float:
    """Share of the induction time used up in a second, ``sparkwright.cycle.knock.pivoted_induction_ms``."""
    return exp(
        charge.induction_exponent * ln_pressure - charge.induction_k / temperature - charge.ln_induction
    )


_aging_compiled = compiled(_aging)


def _compressing_rates(charge: Charge, angle: float, temperature: float) -> tuple[float, float, float, float]:
    """Time derivatives of temperature, work, heat and knock integral before the spark."""
    volume, by_angle = volume_compiled(charge, angle)
    growth = by_angle * charge.speed_rad_s
    # With the crevices' cold charge counted as if it were as hot as the rest.
    room = volume + charge.crevice_m3 * temperature / charge.wall_k
    pressure = charge.mass_kg * charge.gas_constant_j_kgk * temperature / room
    ln_pressure = log(pressure)
    conductance = wall_conductance_compiled(charge, ln_pressure, log(volume), volume, 0.0)
    heat_flow = conductance * (temperature - charge.wall_k)
    cp = _cp(charge.unburned, temperature)
    open_kg = charge.mass_kg - charge.crevice_kg_pa * pressure
    lost_j_kg = _enthalpy(charge.unburned, temperature) - charge.crevice_j_kg
    # Whether charge goes into the crevices or comes back cold hangs on which way the pressure moves.
    by_heat = heat_flow * (1.0 / temperature - charge.crevice_m3 / (charge.wall_k * room)) / (open_kg * cp)
    falls = growth / room + by_heat > 0.0
    pushed_m3 = volume + charge.crevice_kg_pa * lost_j_kg if falls else volume
    warming = -(pressure * growth * pushed_m3 / room + heat_flow) / (
        open_kg * cp - pushed_m3 * pressure * (1.0 / temperature - charge.crevice_m3 / (charge.wall_k * room))
    )
    pressing = pressure * (
        warming / temperature - (growth + charge.crevice_m3 * warming / charge.wall_k) / room
    )
    crevice_heat = charge.crevice_m3 * pressing
    if not falls:
        crevice_heat += charge.crevice_kg_pa * pressing * lost_j_kg
    return (
        warming,
        pressure * growth,
        heat_flow + crevice_heat,
        _aging_compiled(charge, ln_pressure, temperature),
    )


_compressing_rates_compiled = compiled(_compressing_rates)


def burning_rates(charge: Charge, ln_spark_pvn: float, angle: float, state: BurningState) -> BurningState:
    """Time derivatives of the eight states of a burning charge.

    Powers are taken as exponentials of shared logarithms; ``tests/cycle/test_kernel.py`` holds them against
    the published formulas in their own modules.

    Parameters
    ----------
    charge : Charge
        The cylinder and its charge.
    ln_spark_pvn : float
        Logarithm of ``p V^1.33`` at the spark, from which the pressure without a burn is reckoned.
    angle : float
        Crank angle [rad] after top dead centre.
    state : tuple of 8 floats
        Pressure [Pa], unburned temperature [K], enthalpy of the burned zone [J], burned mass [kg],
        entrained mass [kg], work done [J], heat to the walls [J], knock integral [-].

    Returns
    -------
    tuple of 8 floats
        Their rates, each per second.

    Notes
    -----
    Balances of two zones from first principles, with the published formulas of the modules beside this one.
    """
    pressure, unburned_k, burned_enthalpy, burned, entrained = (
        state[0],
        state[1],
        state[2],
        state[3],
        state[4],
    )
    volume, by_angle = volume_compiled(charge, angle)
    growth = by_angle * charge.speed_rad_s
    ln_pressure, ln_unburned_k, ln_volume = log(pressure), log(unburned_k), log(volume)
    constant = charge.gas_constant_j_kgk
    specific_m3 = constant * unburned_k / pressure
    cp, enthalpy = _cp(charge.unburned, unburned_k), _enthalpy(charge.unburned, unburned_k)

    # Burned gas at equilibrium, from its enthalpy and the pressure.
    h = burned_enthalpy / burned
    x = (h - charge.h_middle_j_kg) / charge.h_half_j_kg
    y = (ln_pressure - charge.lnp_middle) / charge.lnp_half
    pv, pv_x, pv_y = surface_compiled(charge.pv_surface, x, y)
    burned_k = surface_value_compiled(charge.temperature_surface, x, y)
    pv_h, pv_lnp = pv_x / charge.h_half_j_kg, pv_y / charge.lnp_half
    open_kg = charge.mass_kg - charge.crevice_kg_pa * pressure
    unburned = open_kg - burned
    burned_m3, unburned_m3 = burned * pv / pressure, unburned * specific_m3

    # Flame front: entrainment over its free area (Blizard and Keck 1974), faster the larger the flame.
    taken_in = min(entrained, open_kg)
    flame_m3 = burned_m3 + (taken_in - burned) * specific_m3
    ahead = open_kg - taken_in
    # A small flame's share is its own volume; a large one's is what is left ahead of it, so that it
    # never entrains more than there is.
    share = flame_m3 / volume
    share += share * (1.0 - ahead * specific_m3 / volume - share)
    share_root = min(max(share, 1e-12), 1.0) ** (1.0 / 3.0)
    area = (
        flame_factor_compiled(charge, share_root, volume)
        * share_root
        * share_root
        * exp(2.0 / 3.0 * ln_volume)
    )
    speed = exp(charge.ln_flame_speed + charge.flame_alpha * ln_unburned_k + charge.flame_beta * ln_pressure)
    viscosity = _viscosity(unburned_k, 1.0 / specific_m3)
    radius = (0.75 / pi * flame_m3) ** (1.0 / 3.0)
    entraining = (
        area
        * _entrainment_speed(
            speed, charge.intensity_m_s, radius, viscosity, charge.flame_gain, charge.flame_growth
        )
        / specific_m3
    )

    # Behind it: pockets of the Taylor microscale burn up at the laminar speed (Tabaczynski et al. 1977).
    length = charge.length_m_root * sqrt(volume)
    burn_up_s = charge.burn_up * sqrt(15.0 * viscosity * length / charge.intensity_m_s) / speed
    burning = (taken_in - burned) / burn_up_s

    # Walls: each zone gives heat over its share of the volume.
    motored = exp(ln_spark_pvn - MOTORED_EXPONENT * ln_volume)
    conductance = wall_conductance_compiled(charge, ln_pressure, ln_volume, volume, pressure - motored)
    burned_heat = conductance * burned_m3 / volume * (burned_k - charge.wall_k)
    unburned_cooling = conductance * specific_m3 / volume * (unburned_k - charge.wall_k)
    unburned_heat = unburned * unburned_cooling

    # Charge is pressed into the crevices and cools there; it comes back into each zone by its share of the
    # volume, and what meets burned gas burns.
    released = enthalpy - charge.unreleased_j_kg
    returned = charge.crevice_j_kg - charge.unreleased_j_kg
    pushing = (
        -pressure * growth
        + burning * (pv - constant * unburned_k + pv_h * (released - h))
        - constant * unburned_heat / cp
        - pv_h * burned_heat
    )
    stiffness = volume - constant * unburned_m3 / cp - pv_h * burned_m3 - burned * pv_lnp / pressure
    if pushing > 0.0:
        pressing = pushing / (stiffness + charge.crevice_kg_pa * constant * unburned_k)
        back = 0.0
        crevice_heat = (
            charge.crevice_m3 + charge.crevice_kg_pa * (enthalpy - charge.crevice_j_kg)
        ) * pressing
        cooled = 0.0
    else:
        cold, hot = unburned_m3 / volume, burned_m3 / volume
        chill = (charge.crevice_j_kg - enthalpy) / cp
        pressing = pushing / (
            stiffness
            + charge.crevice_kg_pa
            * (cold * constant * (unburned_k + chill) + hot * (pv + pv_h * (returned - h)))
        )
        given_back = -charge.crevice_kg_pa * pressing
        back = hot * given_back
        cooled = specific_m3 / volume * given_back * chill
        crevice_heat = charge.crevice_m3 * pressing

    heard = ahead / (ahead + END_GAS_SHARE * charge.mass_kg)
    return (
        pressing,
        (specific_m3 * pressing - unburned_cooling) / cp + cooled,
        released * burning + returned * back + burned_m3 * pressing - burned_heat,
        burning + back,
        entraining + back,
        pressure * growth,
        burned_heat + unburned_heat + crevice_heat,
        heard * _aging_compiled(charge, ln_pressure, unburned_k),
    )


_burning_rates_compiled = compiled(burning_rates)


def _compress(
    charge: Charge,
    start: float,
    end: float,
    temperature: float,
    sums: tuple[float, float, float],
    step: float,
) -> tuple[float, tuple[float, float, float]]:
    """Carry the unburned charge from one angle to a later one; ``sums`` are work, heat, knock integral."""
    steps = max(1, int(np.ceil((end - start) / step - 1e-9)))
    turn = (end - start) / steps
    dt = turn / charge.speed_rad_s
    work, heat_lost, knocking = sums
    for i in range(steps):
        angle = start + i * turn
        a1, w1, q1, k1 = _compressing_rates_compiled(charge, angle, temperature)
        a2, w2, q2, k2 = _compressing_rates_compiled(charge, angle + 0.5 * turn, temperature + 0.5 * dt * a1)
        a3, w3, q3, k3 = _compressing_rates_compiled(charge, angle + 0.5 * turn, temperature + 0.5 * dt * a2)
        a4, w4, q4, k4 = _compressing_rates_compiled(charge, angle + turn, temperature + dt * a3)
        temperature += dt / 6.0 * (a1 + 2.0 * a2 + 2.0 * a3 + a4)
        work += dt / 6.0 * (w1 + 2.0 * w2 + 2.0 * w3 + w4)
        heat_lost += dt / 6.0 * (q1 + 2.0 * q2 + 2.0 * q3 + q4)
        knocking += dt / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4)
    return temperature, (work, heat_lost, knocking)


def _ignite(
    charge: Charge, pressure: float, temperature: float, volume: float, sums: tuple[float, float, float]
) -> BurningState:
    """State just after the spark: a small burned sphere at its constant-pressure flame temperature."""
    cp = _cp(charge.unburned, temperature)
    enthalpy = _enthalpy(charge.unburned, temperature) - charge.unreleased_j_kg
    x = (enthalpy - charge.h_middle_j_kg) / charge.h_half_j_kg
    y = (log(pressure) - charge.lnp_middle) / charge.lnp_half
    pv, _, _ = surface_compiled(charge.pv_surface, x, y)
    burned = 4.0 / 3.0 * pi * KERNEL_RADIUS_M**3 * pressure / pv
    # The sphere takes more room than the charge it was made of: squeeze everything to fit.
    excess = burned * (pv / pressure - charge.gas_constant_j_kgk * temperature / pressure) / volume
    gamma = cp / (cp - charge.gas_constant_j_kgk)
    pressure *= 1.0 + gamma * excess
    temperature *= 1.0 + (gamma - 1.0) * excess
    enthalpy = _enthalpy(charge.unburned, temperature) - charge.unreleased_j_kg
    return pressure, temperature, enthalpy * burned, burned, burned, sums[0], sums[1], sums[2]


def _moved(state: BurningState, rates: BurningState, dt: float) -> BurningState:
    """Give the state after a time at constant rates."""
    return (
        state[0] + dt * rates[0],
        state[1] + dt * rates[1],
        state[2] + dt * rates[2],
        state[3] + dt * rates[3],
        state[4] + dt * rates[4],
        state[5] + dt * rates[5],
        state[6] + dt * rates[6],
        state[7] + dt * rates[7],
    )


_compress_compiled = compiled(_compress)
_ignite_compiled = compiled(_ignite)
_moved_compiled = compiled(_moved)

RESULTS = (
    "work_j",
    "heat_j",
    "knock_integral",
    "ca10_deg",
    "ca50_deg",
    "ca90_deg",
    "peak_pa",
    "peak_at_deg",
    "burned_share",
    "opening_pa",
    "opening_k",
    "spark_pa",
    "spark_k",
    "energy_gap_j",
)
"""Columns of the result of ``run_hook``; crank angles in degrees after top dead centre."""


def _burn(
    charge: Charge,
    spark_angle: float,
    temperature: float,
    sums: tuple[float, float, float],
    step: float,
    out: FloatArray,
) -> None:
    """Carry a charge from its spark to exhaust opening and write its results."""
    degree = 180.0 / pi
    volume, _ = volume_compiled(charge, spark_angle)
    spark_pa = (
        charge.mass_kg
        * charge.gas_constant_j_kgk
        * temperature
        / (volume + charge.crevice_m3 * temperature / charge.wall_k)
    )
    state = _ignite_compiled(charge, spark_pa, temperature, volume, sums)
    ln_spark_pvn = log(spark_pa) + MOTORED_EXPONENT * log(volume)
    out[3], out[4], out[5] = np.nan, np.nan, np.nan
    out[6], out[7] = state[0], spark_angle * degree
    out[11], out[12] = spark_pa, temperature
    angle, turn = spark_angle, 0.0
    before, before_rates = state, state
    reached = 0
    levels = (0.1, 0.5, 0.9)
    while True:
        rates = _burning_rates_compiled(charge, ln_spark_pvn, angle, state)
        dt = turn / charge.speed_rad_s
        while reached < 3 and state[3] >= levels[reached] * charge.mass_kg:
            part = hermite_share_compiled(
                levels[reached] * charge.mass_kg, before[3], state[3], dt * before_rates[3], dt * rates[3]
            )
            out[3 + reached] = (angle - (1.0 - part) * turn) * degree
            reached += 1
        if turn > 0.0 and before_rates[0] > 0.0 >= rates[0]:
            part, top = hermite_peak_compiled(before[0], state[0], dt * before_rates[0], dt * rates[0])
            if top > out[6]:
                out[6], out[7] = top, (angle - (1.0 - part) * turn) * degree
        left = charge.exhaust_opens_rad - angle
        if left <= 1e-9:
            break
        turn = step if state[3] < TAIL_SHARE * charge.mass_kg else 3.0 * step
        # A step no longer than two burn-up times is stable; one in which the flame's mass no more than
        # about doubles follows its first growth; one that takes in at most half of what is left ahead
        # follows its end.
        open_kg = charge.mass_kg - charge.crevice_kg_pa * state[0]
        # Without what the crevices give back, all of which at most meets burned gas.
        burning = rates[3] + charge.crevice_kg_pa * min(rates[0], 0.0)
        waiting = min(state[4], open_kg) - state[3]
        if burning * turn > 2.0 * charge.speed_rad_s * waiting > 0.0:
            turn = 2.0 * charge.speed_rad_s * waiting / burning
        if rates[4] * turn > GROWTH_IN_A_STEP * charge.speed_rad_s * state[4]:
            turn = GROWTH_IN_A_STEP * charge.speed_rad_s * state[4] / rates[4]
        room = max(0.5 * (open_kg - state[4]), LEAST_ROOM * charge.mass_kg)
        if rates[4] * turn > room * charge.speed_rad_s:
            turn = room * charge.speed_rad_s / rates[4]
        if left < 1.5 * turn:
            turn = left if left <= turn else 0.5 * left
        dt = turn / charge.speed_rad_s
        half = _burning_rates_compiled(
            charge, ln_spark_pvn, angle + 0.5 * turn, _moved_compiled(state, rates, 0.5 * dt)
        )
        again = _burning_rates_compiled(
            charge, ln_spark_pvn, angle + 0.5 * turn, _moved_compiled(state, half, 0.5 * dt)
        )
        last = _burning_rates_compiled(charge, ln_spark_pvn, angle + turn, _moved_compiled(state, again, dt))
        before, before_rates = state, rates
        state = _moved_compiled(
            _moved_compiled(
                _moved_compiled(_moved_compiled(state, rates, dt / 6.0), half, dt / 3.0), again, dt / 3.0
            ),
            last,
            dt / 6.0,
        )
        angle += turn
    volume, _ = volume_compiled(charge, angle)
    enthalpy = _enthalpy(charge.unburned, state[1])
    start_enthalpy = _enthalpy(charge.unburned, charge.closing_k)
    # Internal energy is enthalpy less p V, for both zones and the crevices together.
    start_crevice_kg = charge.crevice_kg_pa * charge.closing_pa
    start = (
        (charge.mass_kg - start_crevice_kg) * start_enthalpy
        + start_crevice_kg * charge.crevice_j_kg
        - charge.closing_pa * (charge.closing_m3 + charge.crevice_m3)
    )
    crevice_kg = charge.crevice_kg_pa * state[0]
    end = (
        (charge.mass_kg - crevice_kg - state[3]) * enthalpy
        + state[2]
        + state[3] * charge.unreleased_j_kg
        + crevice_kg * charge.crevice_j_kg
        - state[0] * (volume + charge.crevice_m3)
    )
    out[0], out[1], out[2] = state[5], state[6], state[7]
    out[8] = state[3] / charge.mass_kg
    out[9] = state[0]
    x = (state[2] / state[3] - charge.h_middle_j_kg) / charge.h_half_j_kg
    y = (log(state[0]) - charge.lnp_middle) / charge.lnp_half
    burned_k = surface_value_compiled(charge.temperature_surface, x, y)
    out[10] = state[1] + state[3] / charge.mass_kg * (burned_k - state[1])
    out[13] = end - start + state[5] + state[6]


_burn_compiled = compiled(_burn, inline=False)


def _press(charge: Charge, advance_deg: FloatArray, step_deg: float, sparks: FloatArray) -> None:
    """Compress one charge and note what the spark meets at each advance, falling.

    Columns of ``sparks``: temperature, work, heat, knock integral.
    """
    angle, temperature, sums = charge.intake_closes_rad, charge.closing_k, (0.0, 0.0, 0.0)
    for i in range(advance_deg.size):
        spark_angle = -advance_deg[i] * pi / 180.0
        temperature, sums = _compress_compiled(
            charge, angle, spark_angle, temperature, sums, 4.0 * step_deg * pi / 180.0
        )
        angle = spark_angle
        sparks[i, 0], sparks[i, 1], sparks[i, 2], sparks[i, 3] = temperature, sums[0], sums[1], sums[2]


def _burn_from(
    charge: Charge, advance_deg: float, spark: FloatArray, step_deg: float, out: FloatArray
) -> None:
    """Burn a charge from one spark of `_press`."""
    angle, step = -advance_deg * pi / 180.0, step_deg * pi / 180.0
    _burn_compiled(charge, angle, spark[0], (spark[1], spark[2], spark[3]), step, out)


press = compiled(_press, inline=False)
burn_from = compiled(_burn_from, inline=False)


def _fill_hook(
    charges: Charges, advance_deg: FloatArray, wanted: NDArray[np.bool_], step_deg: float, out: FloatArray
) -> None:
    """Run the first charge at each advance wanted, compressing it only once, and write rows of results."""
    charge = charges[0]
    sparks = np.empty((advance_deg.size, 4))
    press(charge, advance_deg, step_deg, sparks)
    for i in range(advance_deg.size):
        if wanted[i]:
            burn_from(charge, advance_deg[i], sparks[i], step_deg, out[i])


_fill_hook_compiled = compiled(_fill_hook, inline=False)


def run_hook(
    charge: Charge, advance_deg: FloatArray, step_deg: float, wanted: NDArray[np.bool_] | None = None
) -> FloatArray:
    """Run one charge at each advance, or only at those wanted: the same cycles, the others' rows nan.

    Rows follow the advances, columns are ``RESULTS``.

    Parameters
    ----------
    charge : Charge
        The cylinder and its charge.
    advance_deg : array, shape (n,)
        Advances, falling [crank deg before top dead centre].
    step_deg : float
        Integration step [crank deg], above 0.
    wanted : array of bool, shape (n,), optional
        Which of them to run; all, where not given.

    Notes
    -----
    The classical rule of Runge and Kutta (1901, recalled), of fourth order; its steps are a choice.
    """
    out = np.full((advance_deg.size, len(RESULTS)), np.nan)
    burned = np.ones(advance_deg.size, dtype=bool) if wanted is None else wanted
    _fill_hook_compiled(packed(1, **charge._asdict()), advance_deg, burned, step_deg, out)
    return out
