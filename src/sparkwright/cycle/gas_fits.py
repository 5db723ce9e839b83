"""Both gases as plain polynomials, for the cycle kernel: the charge before the flame, the gas behind it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from sparkwright.cycle.equilibrium import Elements, burned_gas, burned_temperature_k
from sparkwright.cycle.fuel_air import STANDARD_AIR, DryAir
from sparkwright.cycle.gas import Mixture
from sparkwright.cycle.kept import kept_table
from sparkwright.cycle.species import (
    FloatArray,
)
from sparkwright.numeric import Numeric

#: Temperatures over which `unburned_coefficients` fits the heat capacity, K.
UNBURNED_FIT_K: Final = (250.0, 1300.0)

#: What `burned_surface` covers: from the coldest gas to the highest enthalpy, and the pressures.
COLDEST_BURNED_K: Final = 600.0
HIGHEST_BURNED_ENTHALPY_J_KG: Final = 1.6e6
BURNED_SURFACE_PRESSURE_PA: Final = (0.3e5, 200.0e5)

UNBURNED_DEGREE: Final = 5
ENTHALPY_DEGREE: Final = 10
PRESSURE_DEGREE: Final = 4


def unburned_coefficients(mixture: Mixture) -> FloatArray:
    """Heat capacity and enthalpy of the unburned charge as one polynomial.

    Parameters
    ----------
    mixture : Mixture
        The charge before the flame.

    Returns
    -------
    FloatArray
        Seven numbers ``c0 ... c5, h0``. With t = T/1000 K, ``cp = c0 + c1 t + ... + c5 t^5`` [J/(kg K)] and
        ``h = h0 + T (c0 + c1 t/2 + ... + c5 t^5/6)`` [J/kg], absolute: the exact integral of cp.

    Notes
    -----
    Least squares on the Chebyshev points of 250-1300 K. The worst misfit there is about 0.1 % of cp and 70
    J/kg of h, for rich ethanol. Form and degree are our choice.

    Examples
    --------
    >>> fit = unburned_coefficients(Mixture(phi=1.0))
    >>> round(unburned_cp_j_kgk(fit, 600.0)), round(unburned_enthalpy_j_kg(fit, 600.0) / 1e3)
    (1168, 208)
    """
    low, high = UNBURNED_FIT_K
    temperature = 0.5 * (low + high) + 0.5 * (high - low) * _chebyshev_points(48)
    powers = np.vander(1e-3 * temperature, UNBURNED_DEGREE + 1, increasing=True)
    coefficients = np.linalg.lstsq(powers, mixture.cp_j_kgk(temperature), rcond=None)[0]
    integral = temperature * (powers @ (coefficients / np.arange(1.0, UNBURNED_DEGREE + 2)))
    constant = np.mean(mixture.enthalpy_j_kg(temperature) - integral)
    return np.append(coefficients, constant)


def unburned_cp_j_kgk(coefficients: FloatArray, temperature_k: Numeric) -> Numeric:
    """Heat capacity [J/(kg K)] from `unburned_coefficients`, at a temperature [K], a number or an array.

    Pure arithmetic; compiles with Numba. Holds over 250-1300 K. Example: see `unburned_coefficients`.

    Parameters
    ----------
    coefficients : array
        Of `unburned_coefficients`; of several charges along the second axis.
    temperature_k : float or array
        Temperature [K].

    Notes
    -----
    By definition of the coefficients.
    """
    c, t = coefficients, 1e-3 * temperature_k
    cp: Numeric = c[0] + t * (c[1] + t * (c[2] + t * (c[3] + t * (c[4] + t * c[5]))))
    return cp


def unburned_enthalpy_j_kg(coefficients: FloatArray, temperature_k: Numeric) -> Numeric:
    """Absolute enthalpy [J/kg] from `unburned_coefficients`, at a temperature [K], a number or an array.

    Pure arithmetic; compiles with Numba. Holds over 250-1300 K. Example: see `unburned_coefficients`.

    Parameters
    ----------
    coefficients : array
        Of `unburned_coefficients`; of several charges along the second axis.
    temperature_k : float or array
        Temperature [K].

    Notes
    -----
    By definition of the coefficients.
    """
    c, t = coefficients, 1e-3 * temperature_k
    mean_cp = c[0] + t * (c[1] / 2 + t * (c[2] / 3 + t * (c[3] / 4 + t * (c[4] / 5 + t * c[5] / 6))))
    enthalpy: Numeric = c[6] + temperature_k * mean_cp
    return enthalpy


def unburned_isentropic_k(
    coefficients: FloatArray, gas_constant_j_kgk: Numeric, start_k: Numeric, pressure_ratio: Numeric
) -> Numeric:
    """Temperature of a charge pressed together without loss or gain of heat, from `unburned_coefficients`.

    Parameters
    ----------
    coefficients : array
        Of `unburned_coefficients`; of several charges along the second axis.
    gas_constant_j_kgk : float or array
        Of the charge [J/(kg K)].
    start_k : float or array
        Temperature before [K].
    pressure_ratio : float or array
        Pressure after over pressure before [-], above 0.

    Returns
    -------
    float or array
        Temperature after [K], in the broadcast shape of the arguments; holds while it stays within
        250-1300 K.

    Notes
    -----
    Solves ``integral of cp dT/T = R ln(pressure_ratio)``. First principles: entropy stays.

    Examples
    --------
    >>> mixture = Mixture(phi=1.0)
    >>> coefficients = unburned_coefficients(mixture)
    >>> round(float(unburned_isentropic_k(coefficients, mixture.gas_constant_j_kgk, 340.0, 19.593)))
    701
    """
    c = coefficients

    def entropy(temperature_k: Numeric) -> Numeric:
        t = 1e-3 * temperature_k
        value: Numeric = c[0] * np.log(temperature_k) + t * (
            c[1] + t * (c[2] / 2 + t * (c[3] / 3 + t * (c[4] / 4 + t * c[5] / 5)))
        )
        return value

    wanted = entropy(start_k) + gas_constant_j_kgk * np.log(pressure_ratio)
    temperature_k = start_k * pressure_ratio**0.25
    for _ in range(4):  # Newton's method from a near start; two rounds would do
        miss = wanted - entropy(temperature_k)
        temperature_k = temperature_k + miss * temperature_k / unburned_cp_j_kgk(c, temperature_k)
    return temperature_k


@dataclass(frozen=True)
class BurnedSurface:
    """Burned gas of one mixture as two polynomials in enthalpy and the logarithm of pressure.

    With x = (h - enthalpy_middle)/enthalpy_half and y = (ln p - ln_pressure_middle)/ln_pressure_half, both in
    [-1, 1], each quantity is the sum over i and j of ``coefficients[i, j] x^i y^j``.

    Attributes
    ----------
    pv_coefficients
        For R T = p v [J/kg], shape (11, 5).
    temperature_coefficients
        For the temperature [K], shape (11, 5).
    enthalpy_middle_j_kg, enthalpy_half_j_kg
        Scale of the absolute enthalpy [J/kg].
    ln_pressure_middle, ln_pressure_half
        Scale of ln(pressure in Pa) [-].
    elements
        Atoms of the mixture, from which the misfit can be reckoned.
    """

    pv_coefficients: FloatArray
    temperature_coefficients: FloatArray
    enthalpy_middle_j_kg: float
    enthalpy_half_j_kg: float
    ln_pressure_middle: float
    ln_pressure_half: float
    elements: Elements

    def pv_j_kg(self, enthalpy_j_kg: ArrayLike, pressure_pa: ArrayLike) -> FloatArray:
        """Pressure times specific volume [J/kg] at an enthalpy [J/kg] and a pressure [Pa].

        Parameters
        ----------
        enthalpy_j_kg : array_like
            Absolute enthalpy [J/kg].
        pressure_pa : array_like
            Pressure [Pa].
        """
        return self._at(self.pv_coefficients, enthalpy_j_kg, pressure_pa)

    def temperature_k(self, enthalpy_j_kg: ArrayLike, pressure_pa: ArrayLike) -> FloatArray:
        """Temperature [K] at an enthalpy [J/kg] and a pressure [Pa].

        Parameters
        ----------
        enthalpy_j_kg : array_like
            Absolute enthalpy [J/kg].
        pressure_pa : array_like
            Pressure [Pa].
        """
        return self._at(self.temperature_coefficients, enthalpy_j_kg, pressure_pa)

    def worst_misfit(self) -> tuple[float, float]:
        """Largest misfit met between the fitted points.

        Returns
        -------
        tuple of float
            Of the temperature [K], and of p v as a share of it [-].
        """
        lowest_pa, highest_pa = BURNED_SURFACE_PRESSURE_PA
        enthalpy = self.enthalpy_middle_j_kg + self.enthalpy_half_j_kg * np.linspace(-1.0, 1.0, 60)
        pressure = np.geomspace(lowest_pa, highest_pa, 13)
        temperature, pv = _burned_states(self.elements, enthalpy, pressure)
        misfit_k = self.temperature_k(enthalpy[:, None], pressure) - temperature
        misfit_share = self.pv_j_kg(enthalpy[:, None], pressure) / pv - 1.0
        return float(np.abs(misfit_k).max()), float(np.abs(misfit_share).max())

    def _at(self, coefficients: FloatArray, enthalpy_j_kg: ArrayLike, pressure_pa: ArrayLike) -> FloatArray:
        enthalpy, pressure = np.broadcast_arrays(np.asarray(enthalpy_j_kg), np.asarray(pressure_pa))
        x = (enthalpy - self.enthalpy_middle_j_kg) / self.enthalpy_half_j_kg
        y = (np.log(pressure) - self.ln_pressure_middle) / self.ln_pressure_half
        return np.asarray(np.polynomial.polynomial.polyval2d(x, y, coefficients))


@lru_cache(maxsize=256)
def burned_surface(
    phi: float,
    ethanol_share_volume: float = 0.0,
    humidity_ratio: float = 0.0,
    air: DryAir = STANDARD_AIR,
) -> BurnedSurface:
    """Fit burned gas of one mixture with polynomials in enthalpy and ln(pressure).

    Parameters
    ----------
    phi : float
        Fuel-air equivalence ratio [-].
    ethanol_share_volume : float
        Volume share of ethanol in the liquid fuel [-], 0 to 1.
    humidity_ratio : float
        Water over dry air, by mass [-].
    air : DryAir
        The dry air. Residual gas of the same mixture changes nothing here.

    Returns
    -------
    BurnedSurface
        The fit.

    Raises
    ------
    PhysicsError
        When the mixture is impossible, or lacks carbon or hydrogen as dry air alone does.

    Notes
    -----
    Least squares on the Chebyshev points of enthalpy (600 K to 1.6 MJ/kg) and ln(pressure) (0.3 to 200 bar).
    The temperatures there reach up to 2600 K at the lowest and 3300 K at the highest pressure, more than the
    burned gas of an engine does. With degrees 10 and 4 the hardest mixtures, a few per cent rich, come out
    within 3 K. Form and degrees are our choice.

    Examples
    --------
    >>> worst_k, worst_share = burned_surface(1.0).worst_misfit()
    >>> worst_k < 1.0, worst_share < 0.001
    (True, True)
    """
    elements = Mixture(phi, ethanol_share_volume, 0.0, humidity_ratio, air).elements
    pv, temperature = _surface_coefficients(
        float(phi), float(ethanol_share_volume), float(humidity_ratio), air
    )
    return BurnedSurface(pv, temperature, *_surface_scale(elements), elements)


def _surface_scale(elements: Elements) -> tuple[float, float, float, float]:
    """Middle and half of the enthalpies [J/kg] and of the logarithms of pressure that a surface spans."""
    lowest_pa, highest_pa = BURNED_SURFACE_PRESSURE_PA
    coldest = float(burned_gas(elements, COLDEST_BURNED_K, highest_pa).enthalpy_j_kg)
    return (
        *_middle_and_half(coldest, HIGHEST_BURNED_ENTHALPY_J_KG),
        *_middle_and_half(float(np.log(lowest_pa)), float(np.log(highest_pa))),
    )


@kept_table
def _surface_coefficients(
    phi: float, ethanol_share_volume: float, humidity_ratio: float, air: DryAir
) -> FloatArray:
    """Coefficients for p v and for the temperature, shape (2, 11, 5)."""
    elements = Mixture(phi, ethanol_share_volume, 0.0, humidity_ratio, air).elements
    middle_h, half_h, middle_p, half_p = _surface_scale(elements)
    x, y = _chebyshev_points(36), _chebyshev_points(10)
    temperature, pv = _burned_states(elements, middle_h + half_h * x, np.exp(middle_p + half_p * y))
    # A product grid: the least-squares fit is one of x for each y, then one of y for each power of x.
    fit_x = np.linalg.pinv(np.vander(x, ENTHALPY_DEGREE + 1, increasing=True))
    fit_y = np.linalg.pinv(np.vander(y, PRESSURE_DEGREE + 1, increasing=True))
    return np.stack([fit_x @ pv @ fit_y.T, fit_x @ temperature @ fit_y.T])


def _burned_states(
    elements: Elements, enthalpy_j_kg: FloatArray, pressure_pa: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Temperature [K] and p v [J/kg] on a grid of enthalpies (rows) and pressures (columns)."""
    temperature = burned_temperature_k(elements, enthalpy_j_kg[:, None], pressure_pa[None, :])
    return temperature, burned_gas(elements, temperature, pressure_pa).gas_constant_j_kgk * temperature


def _chebyshev_points(count: int) -> FloatArray:
    """Zeros of the Chebyshev polynomial of a degree: points between -1 and 1 that crowd towards the ends."""
    return -np.cos(np.pi * (np.arange(count) + 0.5) / count)


def _middle_and_half(lowest: float, highest: float) -> tuple[float, float]:
    return 0.5 * (lowest + highest), 0.5 * (highest - lowest)
