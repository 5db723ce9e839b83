"""Burned gas: what carbon, hydrogen, oxygen and nitrogen become at a temperature and a pressure.

`burned_gas` gives chemical equilibrium over CO2, H2O, CO, H2, O2, N2, H, O, OH and NO, with the argon of the
air among them, for any number of states at once; `burned_temperature_k` finds the temperature from the
enthalpy; `cooled_products` is the same gas after it has cooled, as residual or exhaust.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from sparkwright.cycle.species import (
    ARGON,
    ATOMS,
    BURNED_SPECIES,
    CO,
    CO2,
    GAS_CONSTANT_J_MOL_K,
    H2,
    H2O,
    H_ATOM,
    HIGHEST_TEMPERATURE_K,
    LOWEST_TEMPERATURE_K,
    N2,
    NO,
    O2,
    O_ATOM,
    OH,
    REACTING_SPECIES,
    SPECIES,
    STANDARD_PRESSURE_PA,
    FloatArray,
    mole_sum,
    species_cp_over_r,
    species_h_over_rt,
    species_s_over_r,
)
from sparkwright.errors import PhysicsError

#: Constant of CO2 + H2 = CO + H2O that sets the cooled products of a rich burn (Heywood 1988, sec. 4.9.2).
WATER_GAS_CONSTANT: Final = 3.5

_REACTING_COUNT: Final = len(REACTING_SPECIES)
_BURNED_COUNT: Final = len(BURNED_SPECIES)


@dataclass(frozen=True)
class Elements:
    """Atoms in one kilogram of gas [mol/kg], in the order of `ATOMS`: numbers, or arrays of one shape."""

    carbon: FloatArray
    hydrogen: FloatArray
    oxygen: FloatArray
    nitrogen: FloatArray
    argon: FloatArray


def cooled_products(elements: Elements) -> FloatArray:
    """Burned gas cold enough that only whole molecules are left: residual and exhaust gas.

    Weak or correct mixtures give CO2, H2O, N2 and the oxygen left over. Rich ones give CO and H2 as well,
    shared out by K = [CO][H2O]/([CO2][H2]) = 3.5: the composition freezes on cooling near 1740 K.

    Parameters
    ----------
    elements : Elements
        Atoms in one kilogram [mol/kg], single numbers.

    Returns
    -------
    FloatArray
        Species in one kilogram [mol/kg], shape (13,), in the order of `SPECIES`.

    Notes
    -----
    Formula: Heywood (1988), Internal Combustion Engine Fundamentals, sec. 4.9.2. Holds until the mixture is
    so rich that carbon would be left (phi about 2.5 and more for gasoline).

    Examples
    --------
    Iso-octane burned with just enough O2 + 3.76 N2: 8 CO2 to 9 H2O to 47 N2.

    >>> from sparkwright.cycle.fuel_air import OXYGEN_AND_3_76_NITROGEN
    >>> from sparkwright.cycle.gas import Mixture
    >>> products = cooled_products(Mixture(phi=1.0, air=OXYGEN_AND_3_76_NITROGEN).elements)
    >>> [round(float(products[s] / products[CO2] * 8), 3) for s in (H2O, N2, CO)]
    [9.0, 47.0, 0.0]
    """
    carbon, hydrogen = float(elements.carbon), float(elements.hydrogen)
    spare_oxygen = float(elements.oxygen) - 2.0 * carbon - hydrogen / 2.0
    products = np.zeros(len(SPECIES))
    products[N2] = float(elements.nitrogen) / 2.0
    products[ARGON] = float(elements.argon)
    if spare_oxygen >= 0.0:
        products[CO2], products[H2O], products[O2] = carbon, hydrogen / 2.0, spare_oxygen / 2.0
        return products
    # K (carbon - CO)(missing - CO) = CO (water_without_co + CO), a quadratic in CO; its smaller root.
    missing_oxygen = -spare_oxygen
    water_without_co = hydrogen / 2.0 - missing_oxygen
    half_b = 0.5 * (WATER_GAS_CONSTANT * (carbon + missing_oxygen) + water_without_co)
    product = WATER_GAS_CONSTANT * carbon * missing_oxygen
    carbon_monoxide = product / (half_b + np.sqrt(half_b**2 - (WATER_GAS_CONSTANT - 1.0) * product))
    products[CO] = carbon_monoxide
    products[CO2] = carbon - carbon_monoxide
    products[H2] = missing_oxygen - carbon_monoxide
    products[H2O] = water_without_co + carbon_monoxide
    return products


@dataclass(frozen=True)
class BurnedGas:
    """Burned gas at chemical equilibrium; every array has the shape of the states asked for.

    Attributes
    ----------
    temperature_k, pressure_pa
        The state [K], [Pa].
    mole_fractions
        Shape ``(11, ...)``, in the order of `species.BURNED_SPECIES` [-].
    molar_mass_kg_mol
        Molar mass [kg/mol].
    enthalpy_j_kg
        Absolute enthalpy [J/kg].
    cp_frozen_j_kgk, cp_equilibrium_j_kgk
        Heat capacity at constant pressure with the composition held, and with it following the temperature
        [J/(kg K)].
    isentropic_exponent
        -(d ln p/d ln v) at constant entropy, the composition following [-].
    """

    temperature_k: FloatArray
    pressure_pa: FloatArray
    mole_fractions: FloatArray
    molar_mass_kg_mol: FloatArray
    enthalpy_j_kg: FloatArray
    cp_frozen_j_kgk: FloatArray
    cp_equilibrium_j_kgk: FloatArray
    isentropic_exponent: FloatArray

    @property
    def gas_constant_j_kgk(self) -> FloatArray:
        """Specific gas constant [J/(kg K)]."""
        return GAS_CONSTANT_J_MOL_K / self.molar_mass_kg_mol

    @property
    def gamma_frozen(self) -> FloatArray:
        """Ratio of heat capacities with the composition held [-]."""
        return self.cp_frozen_j_kgk / (self.cp_frozen_j_kgk - self.gas_constant_j_kgk)


def burned_gas(elements: Elements, temperature_k: ArrayLike, pressure_pa: ArrayLike) -> BurnedGas:
    """Burned gas at chemical equilibrium, for any number of states at once.

    Parameters
    ----------
    elements : Elements
        Atoms in one kilogram [mol/kg]; `gas.Mixture.elements`. All but argon must be there.
    temperature_k, pressure_pa : array_like
        Temperature [K] and pressure [Pa]. All arguments are broadcast against each other.

    Returns
    -------
    BurnedGas
        Arrays in the shape of the broadcast arguments.

    Raises
    ------
    PhysicsError
        When a temperature lies outside the data (200-6000 K), a pressure is not above 0, or an element is
        missing.

    Notes
    -----
    The equilibrium constants come from the Gibbs energies of NASA TM-4513. Argon reacts with nothing. The
    partial pressures of the ten others are written in terms of s = sqrt(p_O2), u = sqrt(p_H2), v = sqrt(p_N2)
    and w = p_CO, a reduction in the spirit of Olikara and Borman (1975), SAE 750468. Given s and q = pressure
    over moles, the element balances of H, N and C give u, v and w in closed form; Newton's method on ln s and
    ln q does the rest. The derivatives in temperature and pressure follow from the same system, so cp and the
    isentropic exponent are exact.

    Proven against an independent solver for phi 0.6-1.6, 600-3500 K and 0.1-300 bar. Methane and carbon are
    not among the products; they would appear in rich gas below about 900 K if it had the time.

    Examples
    --------
    >>> from sparkwright.cycle.gas import Mixture
    >>> gas = burned_gas(Mixture(phi=1.0).elements, [1500.0, 2000.0], [5e5, 20e5])
    >>> [round(float(cp)) for cp in gas.cp_equilibrium_j_kgk]
    [1378, 1544]
    """
    temperature, pressure, carbon, hydrogen, oxygen, nitrogen, argon = np.broadcast_arrays(
        np.asarray(temperature_k, dtype=np.float64),
        np.asarray(pressure_pa, dtype=np.float64),
        elements.carbon,
        elements.hydrogen,
        elements.oxygen,
        elements.nitrogen,
        elements.argon,
    )
    _require_states(temperature, pressure, (carbon, hydrogen, oxygen, nitrogen))
    balance = _Balance(
        Elements(carbon.ravel(), hydrogen.ravel(), oxygen.ravel(), nitrogen.ravel(), argon.ravel()),
        temperature.ravel(),
    )
    return balance.solve(pressure.ravel(), temperature.shape)


def burned_temperature_k(elements: Elements, enthalpy_j_kg: ArrayLike, pressure_pa: ArrayLike) -> FloatArray:
    """Temperature of burned gas at equilibrium from its enthalpy and pressure.

    Parameters
    ----------
    elements : Elements
        Atoms in one kilogram [mol/kg], as for `burned_gas`.
    enthalpy_j_kg, pressure_pa : array_like
        Absolute enthalpy [J/kg] and pressure [Pa]; broadcast against each other.

    Returns
    -------
    FloatArray
        Temperature [K], in the shape of the broadcast arguments.

    Raises
    ------
    PhysicsError
        When no temperature of the gas data (200-6000 K) has this enthalpy.

    Notes
    -----
    Newton's method; the slope is the equilibrium heat capacity, so it settles in a few steps. Where a step
    would leave the temperatures still possible, or swings back nearly as far as the one before (as about the
    peak of the heat capacity, where two steps may lead into each other), they are halved instead. First
    principles.

    Examples
    --------
    >>> from sparkwright.cycle.gas import Mixture
    >>> round(float(burned_temperature_k(Mixture(phi=1.0).elements, 810.3e3, 50e5)), -1)
    2800.0
    """
    enthalpy, pressure = np.broadcast_arrays(
        np.asarray(enthalpy_j_kg, dtype=np.float64), np.asarray(pressure_pa, dtype=np.float64)
    )
    lowest = np.full(enthalpy.shape, LOWEST_TEMPERATURE_K)
    highest = np.full(enthalpy.shape, HIGHEST_TEMPERATURE_K)
    temperature = np.full(enthalpy.shape, 2000.0)
    before = np.zeros(enthalpy.shape)
    for _ in range(_MOST_ITERATIONS):
        gas = burned_gas(elements, temperature, pressure)
        step = (enthalpy - gas.enthalpy_j_kg) / gas.cp_equilibrium_j_kgk
        lowest = np.where(step > 0.0, temperature, lowest)
        highest = np.where(step < 0.0, temperature, highest)
        wanted = temperature + step
        inside = (wanted >= lowest) & (wanted <= highest)
        swings = (step * before < 0.0) & (np.abs(step) > np.maximum(0.5 * np.abs(before), _NOISE_K))
        temperature = np.where(inside & ~swings, wanted, 0.5 * (lowest + highest))
        before = step
        if np.abs(step).max() < 1e-4:
            return temperature
    wrong = float(enthalpy[np.unravel_index(np.argmax(np.abs(step)), enthalpy.shape)])
    raise PhysicsError("enthalpy_j_kg", wrong, "must belong to a temperature between 200 and 6000 K")


# Each reacting species of burned gas as a product of powers of s = sqrt(p_O2), u = sqrt(p_H2), v = sqrt(p_N2)
# and w = p_CO.
_POWERS: Final[FloatArray] = np.zeros((_REACTING_COUNT, 4))
_POWERS[O2] = (2, 0, 0, 0)
_POWERS[N2] = (0, 0, 2, 0)
_POWERS[CO2] = (1, 0, 0, 1)
_POWERS[H2O] = (1, 2, 0, 0)
_POWERS[CO] = (0, 0, 0, 1)
_POWERS[H2] = (0, 2, 0, 0)
_POWERS[H_ATOM] = (0, 1, 0, 0)
_POWERS[O_ATOM] = (1, 0, 0, 0)
_POWERS[OH] = (1, 1, 0, 0)
_POWERS[NO] = (1, 0, 1, 0)

# Oxygen atoms that a species has to spare (+) or lacks (-) compared with CO2, H2O and N2.
_OXYGEN_TO_SPARE: Final[FloatArray] = ATOMS[:_REACTING_COUNT] @ np.array([-2.0, -0.5, 1.0, 0.0, 0.0])

# Factors of the pressures in three sums: oxygen to spare, oxygen that lacks, all pressure.
_SUMS: Final[FloatArray] = np.stack(
    [np.maximum(_OXYGEN_TO_SPARE, 0.0), np.maximum(-_OXYGEN_TO_SPARE, 0.0), np.ones(_REACTING_COUNT)]
)

_MOST_ITERATIONS: Final = 80
_LONGEST_STEP: Final = 12.0
# A step of Newton's below this [K] is near its end, and may swing by rounding alone.
_NOISE_K: Final = 1.0
# Newton doubles the digits at each step: after a last step of 1e-7 about 1e-13 is left.
_SETTLED: Final = 1e-7


class _Balance:
    """The equilibrium of flat arrays of states; pressures in bar, amounts in mol/kg.

    Unknown are ln s and ln q, q being the pressure divided by the moles in a kilogram. The two conditions are
    the balance of oxygen, as the logarithm of a ratio that is nearly straight in ln s, and the sum of the
    pressures, to which argon adds its moles times q.
    """

    def __init__(self, elements: Elements, temperature_k: FloatArray) -> None:
        self.elements = elements
        self.temperature_k = temperature_k
        self.h_over_rt = species_h_over_rt(temperature_k, _BURNED_COUNT)
        reacting_h = self.h_over_rt[:_REACTING_COUNT]
        gibbs = reacting_h - species_s_over_r(temperature_k, _REACTING_COUNT)
        self.constants = np.exp(_POWERS @ _of_basis(gibbs) - gibbs)
        self.constant_slopes = reacting_h - _POWERS @ _of_basis(reacting_h)
        spare = elements.oxygen - 2.0 * elements.carbon - 0.5 * elements.hydrogen
        spare = np.where(np.abs(spare) < 1e-12 * elements.oxygen, 0.0, spare)
        self.spare = np.maximum(spare, 0.0)
        self.lack = np.maximum(-spare, 0.0)
        self.sums_per_q = np.stack([self.lack, self.spare, elements.argon])

    def partial_pressures(self, ln_s: FloatArray, ln_q: FloatArray) -> FloatArray:
        """Pressures of what reacts that keep the balances of carbon, hydrogen, nitrogen; shape (10, n)."""
        constants = self.constants
        s, q = np.exp(ln_s), np.exp(ln_q)
        hydrogen, nitrogen = self.elements.hydrogen * q, self.elements.nitrogen * q
        w = self.elements.carbon * q / (1.0 + constants[CO2] * s)
        u = _positive_root(1.0 + constants[H2O] * s, constants[H_ATOM] + constants[OH] * s, hydrogen)
        v = _positive_root(1.0, constants[NO] * s, nitrogen)
        u_square = u * u
        powers: FloatArray = np.stack([s * s, v * v, s * w, s * u_square, w, u_square, u, s, s * u, s * v])
        return constants * powers

    def slopes(self, pressures: FloatArray, ln_q: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Slopes of ln(partial pressure) in ln s, in ln q and in ln T; each of shape (10, n)."""
        q = np.exp(ln_q)
        kappa = self.constant_slopes
        hydrogen_sum = 4.0 * (pressures[H2] + pressures[H2O]) + pressures[H_ATOM] + pressures[OH]
        nitrogen_sum = 4.0 * pressures[N2] + pressures[NO]
        carbon_sum = pressures[CO] + pressures[CO2]
        zero = np.zeros_like(q)
        by_s = (
            zero + 1.0,
            -(2.0 * pressures[H2O] + pressures[OH]) / hydrogen_sum,
            -pressures[NO] / nitrogen_sum,
            -pressures[CO2] / carbon_sum,
        )
        by_q = (
            zero,
            self.elements.hydrogen * q / hydrogen_sum,
            self.elements.nitrogen * q / nitrogen_sum,
            zero + 1.0,
        )
        by_t = (
            zero,
            -(
                2.0 * pressures[H2O] * kappa[H2O]
                + pressures[OH] * kappa[OH]
                + pressures[H_ATOM] * kappa[H_ATOM]
            )
            / hydrogen_sum,
            -pressures[NO] * kappa[NO] / nitrogen_sum,
            -pressures[CO2] * kappa[CO2] / carbon_sum,
        )
        return _POWERS @ np.stack(by_s), _POWERS @ np.stack(by_q), _POWERS @ np.stack(by_t) + kappa

    def sums(self, pressures: FloatArray, q: FloatArray) -> FloatArray:
        """Oxygen to spare, oxygen that lacks, all pressure; of changes, their changes. Shape (3, n)."""
        return _SUMS @ pressures + self.sums_per_q * q

    def solve(self, pressure_pa: FloatArray, shape: tuple[int, ...]) -> BurnedGas:
        """Solve for the composition and gather its properties."""
        pressure_bar = pressure_pa / STANDARD_PRESSURE_PA
        ln_s, ln_q = self._first_guess(pressure_bar)
        for _ in range(_MOST_ITERATIONS):
            q = np.exp(ln_q)
            pressures = self.partial_pressures(ln_s, ln_q)
            by_s, by_q, by_t = self.slopes(pressures, ln_q)
            sums = self.sums(pressures, q)
            oxygen, total = np.log(sums[0] / sums[1]), np.log(sums[2] / pressure_bar)
            jacobian = (
                *_condition_slopes(sums, _SUMS @ (pressures * by_s)),
                *_condition_slopes(sums, self.sums(pressures * by_q, q)),
            )
            step_s, step_q = _solve_pair(*jacobian, -oxygen, -total)
            ln_s = ln_s + np.clip(step_s, -_LONGEST_STEP, _LONGEST_STEP)
            ln_q = ln_q + np.clip(step_q, -0.5, 0.5)
            if max(np.abs(step_s).max(), np.abs(step_q).max()) < _SETTLED:
                break
        else:
            worst = int(np.argmax(np.abs(step_s) + np.abs(step_q)))
            raise PhysicsError(
                "temperature_k",
                float(self.temperature_k[worst]),
                "the equilibrium did not settle at this state",
            )
        # The last step was too small to move the slopes, but the balances are worth it.
        q = np.exp(ln_q)
        pressures = self.partial_pressures(ln_s, ln_q)
        oxygen_by_t, total_by_t = _condition_slopes(self.sums(pressures, q), _SUMS @ (pressures * by_t))
        t_s, t_q = _solve_pair(*jacobian, -oxygen_by_t, -total_by_t)
        _, p_q = _solve_pair(*jacobian, np.zeros_like(q), np.ones_like(q))
        return self._properties(pressures, q, by_t + by_s * t_s + by_q * t_q, t_q, p_q, shape)

    def _first_guess(self, pressure_bar: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Complete combustion, with as much oxygen as the splitting of CO2 would give at the least."""
        elements = self.elements
        moles = elements.carbon + 0.5 * (elements.hydrogen + elements.nitrogen + self.spare) + elements.argon
        q = pressure_bar / moles
        from_splitting = np.cbrt(0.5 * elements.carbon * q / self.constants[CO2])
        from_spare = np.sqrt(0.5 * self.spare * q)
        with np.errstate(divide="ignore"):
            held_by_lack = (elements.carbon + 0.5 * elements.hydrogen) / (self.lack * self.constants[CO2])
        return np.log(np.minimum(from_splitting + from_spare, held_by_lack)), np.log(q)

    def _properties(
        self,
        reacting: FloatArray,
        q: FloatArray,
        by_temperature: FloatArray,
        q_by_temperature: FloatArray,
        q_by_pressure: FloatArray,
        shape: tuple[int, ...],
    ) -> BurnedGas:
        """Moles are n_i = p_i/q, so n = p/q; everything below is per kilogram of gas."""
        pressures = np.vstack([reacting, self.elements.argon * q])
        total = pressures.sum(axis=0)
        moles = pressures / q
        gas_constant = GAS_CONSTANT_J_MOL_K * total / q
        cp_frozen = GAS_CONSTANT_J_MOL_K * mole_sum(
            moles, species_cp_over_r(self.temperature_k, _BURNED_COUNT)
        )
        heat_of_shift = self.h_over_rt[:_REACTING_COUNT] * (by_temperature - q_by_temperature)
        cp = cp_frozen + GAS_CONSTANT_J_MOL_K * mole_sum(moles[:_REACTING_COUNT], heat_of_shift)
        # v = R T/p, and R p is proportional to 1/q: d ln v/d ln T = 1 - d ln q/d ln T at constant pressure,
        # d ln v/d ln p = -d ln q/d ln p at constant temperature.
        expansion = 1.0 - q_by_temperature
        stiffness = -q_by_pressure
        cv = cp + gas_constant * expansion**2 / stiffness
        return BurnedGas(
            temperature_k=self.temperature_k.reshape(shape),
            pressure_pa=(total * STANDARD_PRESSURE_PA).reshape(shape),
            mole_fractions=(pressures / total).reshape(_BURNED_COUNT, *shape),
            molar_mass_kg_mol=(q / total).reshape(shape),
            enthalpy_j_kg=(
                GAS_CONSTANT_J_MOL_K * self.temperature_k * mole_sum(moles, self.h_over_rt)
            ).reshape(shape),
            cp_frozen_j_kgk=cp_frozen.reshape(shape),
            cp_equilibrium_j_kgk=cp.reshape(shape),
            isentropic_exponent=(-cp / cv / stiffness).reshape(shape),
        )


def _of_basis(values: FloatArray) -> FloatArray:
    """Values of a molar property for half an O2, half an H2, half an N2 and one CO; shape (4, n)."""
    return np.stack([0.5 * values[O2], 0.5 * values[H2], 0.5 * values[N2], values[CO]])


def _condition_slopes(sums: FloatArray, changes: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Slopes of the two conditions from the sums and their changes in one direction."""
    spare, lack, total = changes / sums
    return spare - lack, total


def _positive_root(a: FloatArray | float, b: FloatArray, c: FloatArray) -> FloatArray:
    """Positive root of 2 a x^2 + b x = c, written so that nothing cancels."""
    return 2.0 * c / (b + np.sqrt(b * b + 8.0 * a * c))


def _solve_pair(
    first_by_x: FloatArray,
    second_by_x: FloatArray,
    first_by_y: FloatArray,
    second_by_y: FloatArray,
    first: FloatArray,
    second: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Solve two linear equations in x and y, for arrays of them (Cramer's rule)."""
    determinant = first_by_x * second_by_y - first_by_y * second_by_x
    x = (first * second_by_y - first_by_y * second) / determinant
    y = (first_by_x * second - first * second_by_x) / determinant
    return x, y


def _require_states(
    temperature_k: FloatArray, pressure_pa: FloatArray, elements: tuple[FloatArray, ...]
) -> None:
    inside = (temperature_k >= LOWEST_TEMPERATURE_K) & (temperature_k <= HIGHEST_TEMPERATURE_K)
    if not inside.all():
        wrong = float(temperature_k[~inside].ravel()[0])
        raise PhysicsError("temperature_k", wrong, "must be from 200 to 6000", "the gas data end there")
    positive = (pressure_pa > 0.0) & np.isfinite(pressure_pa)
    if not positive.all():
        raise PhysicsError("pressure_pa", float(pressure_pa[~positive].ravel()[0]), "must be above 0")
    for name, amount in zip(("carbon", "hydrogen", "oxygen", "nitrogen"), elements, strict=True):
        if not (amount > 0.0).all():
            raise PhysicsError(
                f"elements.{name}",
                float(amount.min()),
                "must be above 0 mol/kg",
                "equilibrium is for burned mixtures of fuel and air",
            )
