"""The gas of a mixture, fitted once: what the charge needs of it at any speed and load.

A fit takes a hundredth of a second, and a mixture changes from place to place: so there is one for each
hundredth of lambda that is met, and straight lines between them. Best and knock then change with the mixture
without steps.
"""

from __future__ import annotations

from functools import lru_cache
from threading import Lock
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle import (
    fuel_air,
    gas,
    gas_fits,
    mixing,
)
from sparkwright.numeric import Numeric

FloatArray = NDArray[np.float64]


class MixtureFits(NamedTuple):
    """One mixture's gas, fitted once: every property per kilogram is linear in the residual share.

    Of several mixtures each field is an array with the mixtures along its last axis.
    """

    fresh: FloatArray
    """Coefficients of the fresh charge's heat capacity, see ``gas_fits.unburned_coefficients``."""
    per_residual: FloatArray
    """What residual gas adds to them, for a share of 1."""
    gas_constant_j_kgk: Numeric
    gas_constant_per_residual: Numeric
    undiluted_j_kgk: Numeric
    """What fuel and dry air make of the fresh charge's gas constant; water vapour makes the rest."""
    water_share: Numeric
    """Mass of water vapour over that of the fresh charge."""
    latent_heat_j_kg_charge: Numeric
    unreleased_j_kg_charge: Numeric
    """Heat that an uneven mixture keeps, over the mass of the fresh charge."""
    pv_surface: FloatArray
    temperature_surface: FloatArray
    """Both with the powers of pressure along the first axis."""
    h_middle_j_kg: Numeric
    h_half_j_kg: Numeric
    lnp_middle: Numeric
    lnp_half: Numeric


_FITTING = Lock()  # so that two threads don't fit the same mixture side by side


@lru_cache(maxsize=256)
def _fitted(mixture_lambda: float, ethanol: float, humidity: float) -> MixtureFits:
    """Fit the gas of one mixture."""
    phi = 1.0 / mixture_lambda
    fresh = gas.Mixture(phi, ethanol, 0.0, humidity)
    half = gas.Mixture(phi, ethanol, 0.5, humidity)
    fresh_coefficients = gas_fits.unburned_coefficients(fresh)
    constant = fresh.gas_constant_j_kgk
    fuel_to_air = phi / fuel_air.stoichiometric_air_fuel_ratio(ethanol)
    fuel_share = fuel_to_air / (1.0 + humidity + fuel_to_air)
    burned = gas_fits.burned_surface(phi, ethanol, humidity)
    return MixtureFits(
        fresh=fresh_coefficients,
        per_residual=2.0 * (gas_fits.unburned_coefficients(half) - fresh_coefficients),
        gas_constant_j_kgk=constant,
        gas_constant_per_residual=2.0 * (half.gas_constant_j_kgk - constant),
        undiluted_j_kgk=(1.0 - fresh.diluent_mole_fraction) * constant,
        water_share=fresh.diluent_mass_fraction,
        latent_heat_j_kg_charge=fuel_share * fuel_air.latent_heat_j_kg(ethanol),
        unreleased_j_kg_charge=(1.0 - mixing.release_completeness(mixture_lambda))
        * fuel_air.heat_release_j_kg(ethanol, mixture_lambda),
        pv_surface=burned.pv_coefficients.T,
        temperature_surface=burned.temperature_coefficients.T,
        h_middle_j_kg=burned.enthalpy_middle_j_kg,
        h_half_j_kg=burned.enthalpy_half_j_kg,
        lnp_middle=burned.ln_pressure_middle,
        lnp_half=burned.ln_pressure_half,
    )


@lru_cache(maxsize=256)
def _stacked_fits(mixtures: tuple[float, ...], ethanol: float, humidity: float) -> MixtureFits:
    """Give the fits of several mixtures, each made at its first use, in one record."""
    with _FITTING:
        fits = [_fitted(each, ethanol, humidity) for each in mixtures]
    return MixtureFits(*(np.stack(column, axis=-1) for column in zip(*fits, strict=True)))


def fits_at(mixture_lambda: FloatArray, ethanol: float, humidity: float) -> MixtureFits:
    """Give the fits of each place's mixture: of its hundredth, or in a straight line between two.

    Parameters
    ----------
    mixture_lambda : array, shape (n,)
        Air over stoichiometric air at each place [-].
    ethanol : float
        Volume share of ethanol in the liquid fuel [-], 0 to 1.
    humidity : float
        Water over dry air, by mass [-].

    Returns
    -------
    MixtureFits
        Each field with the places along its last axis.
    """
    wanted = 100.0 * mixture_lambda
    nearest = np.rint(wanted)
    wanted = np.where(np.abs(wanted - nearest) < 1e-9, nearest, wanted)
    below, above = np.floor(wanted), np.ceil(wanted)
    part = wanted - below
    hundredths = sorted({*below.tolist(), *above.tolist()})
    fits = _stacked_fits(tuple(each / 100.0 for each in hundredths), ethanol, humidity)
    low, high = np.searchsorted(hundredths, below), np.searchsorted(hundredths, above)
    columns = [np.asarray(column) for column in fits]
    return MixtureFits(*((1.0 - part) * each[..., low] + part * each[..., high] for each in columns))


def mixture_fits(mixture_lambda: float, ethanol: float, humidity: float) -> MixtureFits:
    """Give the fits of one mixture.

    Parameters
    ----------
    mixture_lambda : float
        Air over stoichiometric air [-].
    ethanol : float
        Volume share of ethanol in the liquid fuel [-], 0 to 1.
    humidity : float
        Water over dry air, by mass [-].
    """
    fits = fits_at(np.array([mixture_lambda]), ethanol, humidity)
    return MixtureFits(*(np.asarray(column)[..., 0] for column in fits))
