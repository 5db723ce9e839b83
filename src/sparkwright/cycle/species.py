"""Thermodynamic data of the thirteen gases a spark-ignition engine breathes, burns and makes.

Each species is an ideal gas whose heat capacity, enthalpy and entropy follow the NASA seven-coefficient form

    cp/R   = a1 + a2 T + a3 T^2 + a4 T^3 + a5 T^4
    H/(RT) = a1 + a2 T/2 + a3 T^2/3 + a4 T^3/4 + a5 T^4/5 + a6/T
    S/R    = a1 ln T + a2 T + a3 T^2/2 + a4 T^3/3 + a5 T^4/4 + a7

with one set of seven numbers for 200-1000 K and one for 1000-6000 K. Enthalpy is absolute: it includes the
heat of formation at 298.15 K from the elements. Entropy refers to 1 bar.

The numbers are those of McBride, Gordon and Reno (1993), NASA TM-4513. Their standard state is 1 bar: the
entropies at 298.15 K agree with the 1 bar values of the NIST-JANAF tables, and a test holds them to it.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

#: Molar gas constant, J/(mol K): exact since the 2019 revision of the SI (CODATA 2018).
GAS_CONSTANT_J_MOL_K: Final = 8.31446261815324

#: Standard-state pressure of the entropies, Pa.
STANDARD_PRESSURE_PA: Final = 1.0e5

#: Temperature at which the low and the high range meet, K.
RANGE_BREAK_K: Final = 1000.0

#: Temperatures between which the data hold, K.
LOWEST_TEMPERATURE_K: Final = 200.0
HIGHEST_TEMPERATURE_K: Final = 6000.0

#: Order of the species in every array of this package: first those of burned gas, the ten that react and then
#: argon, which does not; last the two fuels.
SPECIES: Final = ("O2", "N2", "CO2", "H2O", "CO", "H2", "H", "O", "OH", "NO", "Ar", "iso-octane", "ethanol")
REACTING_SPECIES: Final = SPECIES[:10]
BURNED_SPECIES: Final = SPECIES[:11]
O2, N2, CO2, H2O, CO, H2, H_ATOM, O_ATOM, OH, NO, ARGON, ISO_OCTANE, ETHANOL = range(13)

#: Atoms of carbon, hydrogen, oxygen, nitrogen and argon in a molecule of each species.
ATOMS: Final[FloatArray] = np.array(
    [
        (0, 0, 2, 0, 0),
        (0, 0, 0, 2, 0),
        (1, 0, 2, 0, 0),
        (0, 2, 1, 0, 0),
        (1, 0, 1, 0, 0),
        (0, 2, 0, 0, 0),
        (0, 1, 0, 0, 0),
        (0, 0, 1, 0, 0),
        (0, 1, 1, 0, 0),
        (0, 0, 1, 1, 0),
        (0, 0, 0, 0, 1),
        (8, 18, 0, 0, 0),
        (2, 6, 1, 0, 0),
    ],
    dtype=np.float64,
)

#: Molar masses of C, H, O, N, Ar, kg/mol (IUPAC conventional values, rounded as in the check values).
ATOM_MASSES_KG_MOL: Final[FloatArray] = np.array([12.011e-3, 1.008e-3, 15.999e-3, 14.007e-3, 39.95e-3])

#: Molar mass of each species, kg/mol.
MOLAR_MASSES_KG_MOL: Final[FloatArray] = ATOMS @ ATOM_MASSES_KG_MOL

# McBride, Gordon and Reno (1993), NASA TM-4513: (a1 ... a7) for 200-1000 K, then for 1000-6000 K.
# fmt: off
_NASA_COEFFICIENTS: Final[dict[str, tuple[tuple[float, ...], tuple[float, ...]]]] = {
    "O2": (
        (3.78245636, -0.00299673415, 9.847302e-06, -9.68129508e-09,
         3.24372836e-12, -1063.94356, 3.65767573),
        (3.66096083, 0.000656365523, -1.41149485e-07, 2.05797658e-11,
         -1.29913248e-15, -1215.97725, 3.41536184),
    ),
    "N2": (
        (3.53100528, -0.000123660987, -5.02999437e-07, 2.43530612e-09,
         -1.40881235e-12, -1046.97628, 2.96747468),
        (2.95257626, 0.00139690057, -4.92631691e-07, 7.86010367e-11,
         -4.60755321e-15, -923.948645, 5.87189252),
    ),
    "CO2": (
        (2.35677352, 0.00898459677, -7.12356269e-06, 2.45919022e-09,
         -1.43699548e-13, -48371.9697, 9.90105222),
        (4.63659493, 0.00274131991, -9.95828531e-07, 1.60373011e-10,
         -9.16103468e-15, -49024.9341, -1.93534855),
    ),
    "H2O": (
        (4.19864056, -0.0020364341, 6.52040211e-06, -5.48797062e-09,
         1.77197817e-12, -30293.7267, -0.849032208),
        (2.67703787, 0.00297318329, -7.7376969e-07, 9.44336689e-11,
         -4.26900959e-15, -29885.8938, 6.88255571),
    ),
    "CO": (
        (3.57953347, -0.00061035368, 1.01681433e-06, 9.07005884e-10,
         -9.04424499e-13, -14344.086, 3.50840928),
        (3.04848583, 0.00135172818, -4.85794075e-07, 7.88536486e-11,
         -4.69807489e-15, -14266.1171, 6.0170979),
    ),
    "H2": (
        (2.34433112, 0.00798052075, -1.9478151e-05, 2.01572094e-08,
         -7.37611761e-12, -917.935173, 0.683010238),
        (2.93286579, 0.000826607967, -1.46402335e-07, 1.54100359e-11,
         -6.88804432e-16, -813.065597, -1.02432887),
    ),
    "H": (
        (2.5, 0.0, 0.0, 0.0,
         0.0, 25473.6599, -0.446682853),
        (2.50000286, -5.65334214e-09, 3.63251723e-12, -9.1994972e-16,
         7.95260746e-20, 25473.6589, -0.446698494),
    ),
    "O": (
        (3.1682671, -0.00327931884, 6.64306396e-06, -6.12806624e-09,
         2.11265971e-12, 29122.2592, 2.05193346),
        (2.54363697, -2.73162486e-05, -4.1902952e-09, 4.95481845e-12,
         -4.79553694e-16, 29226.012, 4.92229457),
    ),
    "OH": (
        (3.99201543, -0.00240131752, 4.61793841e-06, -3.88113333e-09,
         1.3641147e-12, 3615.08056, -0.103925458),
        (2.83864607, 0.00110725586, -2.93914978e-07, 4.20524247e-11,
         -2.42169092e-15, 3943.95852, 5.84452662),
    ),
    "NO": (
        (4.21859896, -0.00463988124, 1.10443049e-05, -9.34055507e-09,
         2.80554874e-12, 9845.09964, 2.28061001),
        (3.26071234, 0.00119101135, -4.29122646e-07, 6.94481463e-11,
         -4.03295681e-15, 9921.43132, 6.36900518),
    ),
    "Ar": (
        (2.5, 0.0, 0.0, 0.0,
         0.0, -745.375, 4.37967491),
        (2.5, 0.0, 0.0, 0.0,
         0.0, -745.375, 4.37967491),
    ),
    "iso-octane": (
        (0.815737338, 0.0732643959, 1.78300688e-05, -6.9358962e-08,
         3.21629382e-11, -30477.2862, 24.1509994),
        (15.9899273, 0.055318479, -1.95267072e-05, 3.11779172e-09,
         -1.85312577e-13, -35875.7973, -60.1161414),
    ),
    "ethanol": (
        (4.85868178, -0.0037400674, 6.95550267e-05, -8.86541147e-08,
         3.5168443e-11, -29996.1309, 4.80192294),
        (6.5628977, 0.0152034264, -5.38922247e-06, 8.62150224e-10,
         -5.12824683e-14, -31525.7984, -9.47557644),
    ),
}
# fmt: on


def _integration_rows(coefficients: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Turn seven NASA coefficients a species into factors of (T^-1, 1, T, T^2, T^3, T^4, ln T)."""
    a1_to_a5, a6, a7 = coefficients[:, :5], coefficients[:, 5:6], coefficients[:, 6:7]
    nothing = np.zeros_like(a6)
    heat_capacity = np.hstack([nothing, a1_to_a5, nothing])
    enthalpy = np.hstack([a6, a1_to_a5 / np.arange(1.0, 6.0), nothing])
    entropy = np.hstack([nothing, a7, a1_to_a5[:, 1:] / np.arange(1.0, 5.0), a1_to_a5[:, :1]])
    return heat_capacity, enthalpy, entropy


_LOW: Final = _integration_rows(np.array([_NASA_COEFFICIENTS[name][0] for name in SPECIES]))
_HIGH: Final = _integration_rows(np.array([_NASA_COEFFICIENTS[name][1] for name in SPECIES]))
_HEAT_CAPACITY, _ENTHALPY, _ENTROPY = range(3)


def _evaluate(quantity: int, temperature_k: ArrayLike, species_count: int) -> FloatArray:
    temperature = np.asarray(temperature_k, dtype=np.float64)
    flat = temperature.ravel()
    square = flat * flat
    terms = np.stack(
        [1.0 / flat, np.ones_like(flat), flat, square, square * flat, square * square, np.log(flat)]
    )
    low = _LOW[quantity][:species_count] @ terms
    high = _HIGH[quantity][:species_count] @ terms
    value: FloatArray = np.where(flat < RANGE_BREAK_K, low, high)
    return value.reshape(species_count, *temperature.shape)


def species_cp_over_r(temperature_k: ArrayLike, species_count: int = len(SPECIES)) -> FloatArray:
    """Molar heat capacity at constant pressure of each species, divided by the gas constant.

    Parameters
    ----------
    temperature_k : array_like
        Temperature [K], a number or an array of any shape; the data hold from 200 to 6000 K.
    species_count : int
        How many species of `SPECIES` to give, from the first.

    Returns
    -------
    FloatArray
        cp/R [-], shape ``(species_count, *shape of temperature_k)``.

    Notes
    -----
    Source: McBride, Gordon and Reno (1993), NASA TM-4513.

    Examples
    --------
    Nitrogen at room temperature is close to 7/2:

    >>> round(float(species_cp_over_r(298.15)[N2]), 3)
    3.503
    """
    return _evaluate(_HEAT_CAPACITY, temperature_k, species_count)


def species_h_over_rt(temperature_k: ArrayLike, species_count: int = len(SPECIES)) -> FloatArray:
    """Absolute molar enthalpy of each species, divided by gas constant and temperature.

    Arguments, shape, range and source as for `species_cp_over_r`. The heat of formation is included.

    Parameters
    ----------
    temperature_k : array_like
        Temperature [K].
    species_count : int
        So many species of the table, from the first [-].

    Notes
    -----
    McBride, Gordon and Reno (1993), NASA TM-4513.

    Examples
    --------
    The heat of formation of carbon dioxide [kJ/mol]:

    >>> round(float(species_h_over_rt(298.15)[CO2]) * GAS_CONSTANT_J_MOL_K * 298.15 / 1000, 1)
    -393.5
    """
    return _evaluate(_ENTHALPY, temperature_k, species_count)


def species_s_over_r(temperature_k: ArrayLike, species_count: int = len(SPECIES)) -> FloatArray:
    """Absolute molar entropy of each species at 1 bar, divided by the gas constant.

    Arguments, shape, range and source as for `species_cp_over_r`.

    Parameters
    ----------
    temperature_k : array_like
        Temperature [K].
    species_count : int
        So many species of the table, from the first [-].

    Notes
    -----
    McBride, Gordon and Reno (1993), NASA TM-4513.

    Examples
    --------
    Oxygen [J/(mol K)]; the NIST-JANAF tables give 205.15:

    >>> round(float(species_s_over_r(298.15)[O2]) * GAS_CONSTANT_J_MOL_K, 2)
    205.15
    """
    return _evaluate(_ENTROPY, temperature_k, species_count)


def mole_sum(moles: FloatArray, values: FloatArray) -> FloatArray:
    """Sum a molar property over the species of a mixture.

    Parameters
    ----------
    moles : array
        Amount of each species, of shape ``(n,)`` for one mixture or that of ``values`` for one a state.
    values : array
        Property of each species, shape ``(n, ...)``.

    Returns
    -------
    FloatArray
        Sum over the first axis.

    Notes
    -----
    By definition of a molar property of ideal gases.

    Examples
    --------
    >>> mole_sum(np.array([1.0, 3.0]), np.array([[1.0, 10.0], [2.0, 20.0]])).tolist()
    [7.0, 70.0]
    """
    if moles.ndim == 1:
        return np.asarray(np.tensordot(moles, values, axes=1))
    return np.asarray(np.sum(moles * values, axis=0))
