"""Gas properties: rows GP-M00 to GP-C9.5m10, and a grid against Cantera's own equilibrium solver.

Sources of the rows: McBride, Gordon and Reno, NASA TM-4513 (1993), evaluated with Cantera 3.2.0;
stoichiometry; Lemmon et al. (2000) for real air; Turns, An Introduction to Combustion, appendix B.
All but those of real air are for O2 + 3.76 N2.
Tolerances: those of the rows. The live grid builds Cantera's species with a standard pressure of 1 bar, which
is the one of the data; Cantera itself takes 1 atm for them when nothing is said, which moves small mole
fractions by up to 1.3 %.
"""

import time
from dataclasses import fields
from functools import cache
from itertools import product
from typing import Any

import cantera as ct
import numba
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sparkwright.air import DRY_AIR_GAS_CONSTANT_J_KG_K
from sparkwright.cycle import fuel_air, gas, gas_fits
from sparkwright.cycle.equilibrium import (
    BurnedGas,
    Elements,
    burned_gas,
    burned_temperature_k,
    cooled_products,
)
from sparkwright.cycle.fuel_air import OXYGEN_AND_3_76_NITROGEN, STANDARD_AIR, DryAir
from sparkwright.cycle.gas import Mixture
from sparkwright.cycle.species import (
    ATOMS,
    BURNED_SPECIES,
    CO,
    CO2,
    GAS_CONSTANT_J_MOL_K,
    H2,
    H2O,
    MOLAR_MASSES_KG_MOL,
    O2,
    SPECIES,
    FloatArray,
    species_cp_over_r,
    species_h_over_rt,
    species_s_over_r,
)
from sparkwright.errors import PhysicsError

CANTERA_NAMES = {"iso-octane": "C8H18,isooctane", "ethanol": "C2H5OH"}

PHI = st.floats(0.6, 1.6)
ETHANOL = st.floats(0.0, 1.0)
HUMIDITY = st.floats(0.0, 0.04)
BURNED_K = st.floats(600.0, 3500.0)
PRESSURE_PA = st.floats(0.1e5, 300e5)


@cache
def cantera_gas(burned: bool) -> ct.Solution:
    """An independent mixture of the same species, entropies at 1 bar."""
    shipped = {species.name: species for species in ct.Species.list_from_file("nasa_gas.yaml")}
    chosen = []
    for name in BURNED_SPECIES if burned else SPECIES:
        original = shipped[CANTERA_NAMES.get(name, name)]
        data = original.thermo
        species = ct.Species(name, original.composition)
        species.thermo = ct.NasaPoly2(data.min_temp, data.max_temp, 1e5, data.coeffs)
        chosen.append(species)
    return ct.Solution(thermo="ideal-gas", species=chosen)


def cantera_burned(mixture: Mixture, temperature_k: float, pressure_pa: float) -> ct.Solution:
    solution = cantera_gas(burned=True)
    start = cooled_products(mixture.elements)[: len(BURNED_SPECIES)]
    solution.TPX = temperature_k, pressure_pa, dict(zip(BURNED_SPECIES, start, strict=True))
    solution.equilibrate("TP", rtol=1e-11)
    return solution


# ------------------------------------------------------------------------------------------ species


@pytest.mark.parametrize("name", SPECIES)
def test_species_against_cantera(name: str) -> None:
    """Same data, independent evaluation: agreement to the rounding of the gas constant."""
    theirs = cantera_gas(burned=False).species(name).thermo
    index = SPECIES.index(name)
    for temperature_k in (250.0, 298.15, 700.0, 999.0, 1001.0, 2500.0, 5000.0):
        gas_constant = ct.gas_constant
        assert species_cp_over_r(temperature_k)[index] == pytest.approx(
            theirs.cp(temperature_k) / gas_constant, rel=1e-10
        )
        assert species_h_over_rt(temperature_k)[index] == pytest.approx(
            theirs.h(temperature_k) / gas_constant / temperature_k, rel=1e-9, abs=1e-9
        )
        assert species_s_over_r(temperature_k)[index] == pytest.approx(
            theirs.s(temperature_k) / gas_constant, rel=1e-10
        )


@pytest.mark.parametrize(
    ("name", "entropy_j_mol_k"),
    [
        ("O2", 205.147),
        ("N2", 191.609),
        ("CO", 197.653),
        ("H2", 130.680),
        ("H", 114.717),
        ("H2O", 188.834),
        ("Ar", 154.845),
    ],
)
def test_entropies_are_those_of_one_bar(name: str, entropy_j_mol_k: float) -> None:
    """NIST-JANAF tables (Chase 1998), 298.15 K, 1 bar, recalled. At 1 atm all would lie 0.11 lower."""
    found = GAS_CONSTANT_J_MOL_K * species_s_over_r(298.15)[SPECIES.index(name)]
    assert found == pytest.approx(entropy_j_mol_k, abs=0.02)


# -------------------------------------------------------------------------------------------- dry air


def test_dry_air_is_as_heavy_as_that_of_the_standard_atmosphere() -> None:
    """U.S. Standard Atmosphere 1976 and ISO 2533:1975: 28.9644 g/mol, 287.05287 J/(kg K).

    They count the rare gases that are left out here, and take a gas constant 0.002 % lower.
    """
    assert 1e3 * STANDARD_AIR.molar_mass_kg_mol == pytest.approx(28.9644, abs=0.001)
    assert Mixture(0.0).gas_constant_j_kgk == pytest.approx(DRY_AIR_GAS_CONSTANT_J_KG_K, rel=5e-5)


def test_parts_of_air_need_not_add_up_to_one() -> None:
    per_cent = DryAir(oxygen=20.9476, nitrogen=78.084, argon=0.934, carbon_dioxide=0.0314)
    np.testing.assert_allclose(per_cent.moles_mol_kg, STANDARD_AIR.moles_mol_kg, rtol=1e-12)


# ------------------------------------------------------------------------------------ unburned charge


@pytest.mark.parametrize(
    ("residual", "molar_mass_g_mol"),
    [pytest.param(0.0, 30.26223, id="GP-M00"), pytest.param(0.1, 30.08817, id="GP-M10")],
)
def test_molar_mass(residual: float, molar_mass_g_mol: float) -> None:
    mixture = Mixture(1.0, residual_mass_fraction=residual, air=OXYGEN_AND_3_76_NITROGEN)
    found = mixture.molar_mass_kg_mol
    assert 1e3 * found == pytest.approx(molar_mass_g_mol, abs=0.01)


@pytest.mark.parametrize(
    ("residual", "temperature_k", "cp", "gamma", "sensible_kj", "absolute_kj"),
    [
        pytest.param(0.0, 300.0, 1051.8, 1.3536, 1.95, -120.41, id="GP-U00-300"),
        pytest.param(0.0, 400.0, 1090.5, 1.3368, 109.03, -13.32, id="GP-U00-400"),
        pytest.param(0.0, 600.0, 1174.9, 1.3052, 335.48, 213.13, id="GP-U00-600"),
        pytest.param(0.0, 1000.0, 1325.6, 1.2614, 837.51, 715.16, id="GP-U00-1000"),
        pytest.param(0.1, 300.0, 1054.2, 1.3553, 1.95, -398.98, id="GP-U10-300"),
        pytest.param(0.1, 600.0, 1173.2, 1.3081, 335.58, -65.36, id="GP-U10-600"),
        pytest.param(0.1, 800.0, 1253.9, 1.2827, 578.41, 177.48, id="GP-U10-800"),
    ],
)
def test_unburned_properties(
    residual: float, temperature_k: float, cp: float, gamma: float, sensible_kj: float, absolute_kj: float
) -> None:
    mixture = Mixture(1.0, residual_mass_fraction=residual, air=OXYGEN_AND_3_76_NITROGEN)
    absolute = float(mixture.enthalpy_j_kg(temperature_k))
    sensible = absolute - float(mixture.enthalpy_j_kg(298.15))
    assert float(mixture.cp_j_kgk(temperature_k)) == pytest.approx(cp, rel=0.005)
    assert float(mixture.gamma(temperature_k)) == pytest.approx(gamma, abs=0.002)
    assert sensible / 1e3 == pytest.approx(sensible_kj, rel=0.005)
    assert absolute / 1e3 == pytest.approx(absolute_kj, abs=1.5)


@pytest.mark.parametrize(
    ("ethanol", "air", "expected"),
    [
        pytest.param(0.0, OXYGEN_AND_3_76_NITROGEN, 15.028, id="GP-AFR"),
        pytest.param(1.0, OXYGEN_AND_3_76_NITROGEN, 8.943, id="GP-AFR3"),
        pytest.param(0.0, STANDARD_AIR, 15.13, id="iso-octane in real air"),
        pytest.param(1.0, STANDARD_AIR, 9.00, id="ethanol in real air"),
    ],
)
def test_stoichiometric_air_fuel_ratio(ethanol: float, air: DryAir, expected: float) -> None:
    """Stoichiometry; for real air Heywood (1988), table D.4, recalled."""
    assert fuel_air.stoichiometric_air_fuel_ratio(ethanol, air) == pytest.approx(expected, abs=0.02)


@pytest.mark.parametrize(
    ("residual", "end_k", "end_bar"),
    [
        pytest.param(0.0, 699.6, 19.548, id="GP-C9.5m0"),
        pytest.param(0.1, 703.3, 19.651, id="GP-C9.5m10"),
    ],
)
def test_isentropic_compression_of_the_charge(residual: float, end_k: float, end_bar: float) -> None:
    mixture = Mixture(1.0, residual_mass_fraction=residual, air=OXYGEN_AND_3_76_NITROGEN)
    found_k = mixture.isentropic_temperature_k(340.0, 9.5)
    assert found_k == pytest.approx(end_k, abs=2.0)
    assert 9.5 * found_k / 340.0 == pytest.approx(end_bar, rel=0.005)


@pytest.mark.parametrize(
    ("ratio", "end_k", "end_bar"),
    [pytest.param(10.0, 729.8, 24.327, id="GP-C10"), pytest.param(8.0, 672.8, 17.941, id="GP-C8")],
)
def test_isentropic_compression_of_real_dry_air(ratio: float, end_k: float, end_bar: float) -> None:
    """The rows are printed to 0.1 K. Their air is Lemmon's, of three gases; so twice that here."""
    found_k = Mixture(0.0).isentropic_temperature_k(300.0, ratio)
    assert found_k == pytest.approx(end_k, abs=0.2)
    assert ratio * found_k / 300.0 == pytest.approx(end_bar, rel=0.0003)


@pytest.mark.parametrize("mixture", [Mixture(0.0), Mixture(0.8, 0.2, 0.3, 0.02), Mixture(1.3, 0.85)], ids=str)
@pytest.mark.parametrize("ratio", [2.0, 9.5, 14.0])
def test_isentropic_compression_against_cantera(mixture: Mixture, ratio: float) -> None:
    """Same data, another solver; 0.01 K is its tolerance with room."""
    solution = cantera_gas(burned=False)
    solution.TPX = 330.0, 0.9e5, dict(zip(SPECIES, mixture.moles_mol_kg, strict=True))
    solution.SV = solution.s, solution.v / ratio
    assert mixture.isentropic_temperature_k(330.0, ratio) == pytest.approx(solution.T, abs=0.01)
    # From the fitted heat capacity, for the same rise of pressure: its misfit is 0.1 % of cp at the most.
    by_fit_k = gas_fits.unburned_isentropic_k(
        gas_fits.unburned_coefficients(mixture), mixture.gas_constant_j_kgk, 330.0, solution.P / 0.9e5
    )
    assert by_fit_k == pytest.approx(solution.T, abs=0.5)


def test_heating_values() -> None:
    """Heywood (1988), table D.4, recalled: iso-octane 44.3, ethanol 26.9 MJ/kg, latent heat +/-0.1."""
    assert fuel_air.lower_heating_value_j_kg() / 1e6 == pytest.approx(44.3, abs=0.15)
    assert fuel_air.lower_heating_value_j_kg(1.0) / 1e6 == pytest.approx(26.9, abs=0.15)


def test_ten_per_cent_ethanol_needs_less_air() -> None:
    """Common practice, no source: gasoline with 10 % ethanol is run about 4 % richer by mass than without."""
    ratio = fuel_air.stoichiometric_air_fuel_ratio(0.1) / fuel_air.stoichiometric_air_fuel_ratio(0.0)
    assert ratio == pytest.approx(0.96, abs=0.01)


@given(PHI, ETHANOL, st.floats(0.0, 0.6), HUMIDITY)
def test_residual_gas_keeps_every_atom_and_the_mass(
    phi: float, ethanol: float, residual: float, humidity: float
) -> None:
    mixture = Mixture(phi, ethanol, residual, humidity)
    fresh = Mixture(phi, ethanol, 0.0, humidity)
    np.testing.assert_allclose(mixture.moles_mol_kg @ ATOMS, fresh.moles_mol_kg @ ATOMS, rtol=1e-12)
    assert mixture.moles_mol_kg @ MOLAR_MASSES_KG_MOL == pytest.approx(1.0, rel=1e-12)
    assert (mixture.moles_mol_kg >= 0.0).all()


@given(st.floats(1.001, 2.5), ETHANOL)
def test_rich_residual_keeps_the_water_gas_constant(phi: float, ethanol: float) -> None:
    products = cooled_products(Mixture(phi, ethanol).elements)
    assert products[CO] * products[H2O] == pytest.approx(3.5 * products[CO2] * products[H2], rel=1e-6)
    assert (products >= 0.0).all()


def test_rich_residual_lies_near_equilibrium_where_it_freezes() -> None:
    """Heywood (1988), sec. 4.9.2: K = 3.5 is the equilibrium at 1740 K. Rounded constant: 5 % of CO."""
    mixture = Mixture(1.2)
    products = cooled_products(mixture.elements)
    frozen = cantera_burned(mixture, 1740.0, 5e5)
    assert products[CO] / products.sum() == pytest.approx(frozen["CO"].X[0], rel=0.05)


def test_dry_air_has_no_diluent_and_moist_air_its_water() -> None:
    assert Mixture(1.0).diluent_mole_fraction == pytest.approx(0.0, abs=1e-12)
    moist = Mixture(0.0, humidity_ratio=0.01)
    in_mol = 0.01 / 18.015 / (0.01 / 18.015 + 1.0 / 28.965)
    assert moist.diluent_mole_fraction == pytest.approx(in_mol, rel=1e-4)
    assert Mixture(1.0).diluent_mass_fraction == 0.0
    assert moist.diluent_mass_fraction == pytest.approx(0.01 / 1.01, rel=1e-6)
    assert Mixture(1.0, residual_mass_fraction=0.2).diluent_mass_fraction == pytest.approx(0.2)


# ----------------------------------------------------------------------------------------- burned gas


@pytest.mark.parametrize(
    ("phi", "temperature_k", "pressure_bar", "molar_mass", "gamma", "cp", "exponent", "enthalpy_kj", "x_co"),
    [
        pytest.param(0.9, 1500, 5, 28.630, 1.2704, 1372, 1.2686, -1154.8, 1.789e-06, id="GP-B0.9-1500"),
        pytest.param(0.9, 2000, 20, 28.621, 1.2560, 1487, 1.2452, -443.9, 0.0002469, id="GP-B0.9-2000"),
        pytest.param(0.9, 2500, 30, 28.504, 1.2494, 1893, 1.2021, 373.4, 0.005366, id="GP-B0.9-2500"),
        pytest.param(1.0, 1500, 5, 28.606, 1.2669, 1387, 1.2654, -1416.1, 5.16e-05, id="GP-B1-1500"),
        pytest.param(1.0, 2000, 20, 28.579, 1.2527, 1555, 1.2359, -689.7, 0.001456, id="GP-B1-2000"),
        pytest.param(1.0, 2800, 50, 28.138, 1.2472, 2403, 1.1765, 810.3, 0.02331, id="GP-B1-2800"),
        pytest.param(1.1, 1500, 5, 28.041, 1.2707, 1405, 1.2676, -1307.2, 0.0255, id="GP-B1.1-1500"),
        pytest.param(1.1, 2500, 30, 27.986, 1.2486, 1767, 1.2165, 190.5, 0.03297, id="GP-B1.1-2500"),
    ],
)
def test_burned_gas(
    phi: float,
    temperature_k: float,
    pressure_bar: float,
    molar_mass: float,
    gamma: float,
    cp: float,
    exponent: float,
    enthalpy_kj: float,
    x_co: float,
) -> None:
    elements = Mixture(phi, air=OXYGEN_AND_3_76_NITROGEN).elements
    found = burned_gas(elements, temperature_k, 1e5 * pressure_bar)
    assert 1e3 * float(found.molar_mass_kg_mol) == pytest.approx(molar_mass, abs=0.02)
    assert float(found.gamma_frozen) == pytest.approx(gamma, abs=0.003)
    assert float(found.isentropic_exponent) == pytest.approx(exponent, abs=0.003)
    assert float(found.cp_equilibrium_j_kgk) == pytest.approx(cp, rel=0.01)
    assert float(found.enthalpy_j_kg) / 1e3 == pytest.approx(enthalpy_kj, abs=5.0)
    assert float(found.mole_fractions[CO]) == pytest.approx(x_co, rel=0.02)


GRID = list(
    product(
        [
            Mixture(0.6),
            Mixture(0.9),
            Mixture(1.0),
            Mixture(1.0, air=OXYGEN_AND_3_76_NITROGEN),
            Mixture(1.01),
            Mixture(1.3),
            Mixture(1.6, 0.3, 0.0, 0.02),
        ],
        [0.1e5, 5e5, 300e5],
        [600.0, 1000.0, 1500.0, 2000.0, 2600.0, 3500.0],
    )
)


def test_burned_gas_against_cantera_over_a_grid() -> None:
    """Same data, another solver: limits ten times what the two solvers' own tolerances leave."""
    for mixture, pressure_pa, temperature_k in GRID:
        theirs = cantera_burned(mixture, temperature_k, pressure_pa)
        ours = burned_gas(mixture.elements, temperature_k, pressure_pa)
        where = f"{mixture}, {temperature_k} K, {pressure_pa} Pa"
        np.testing.assert_allclose(ours.mole_fractions, theirs.X, rtol=1e-5, atol=1e-7, err_msg=where)
        np.testing.assert_allclose(ours.enthalpy_j_kg, theirs.enthalpy_mass, atol=1.0, err_msg=where)
        np.testing.assert_allclose(ours.cp_frozen_j_kgk, theirs.cp_mass, rtol=1e-7, err_msg=where)
        np.testing.assert_allclose(
            1e3 * ours.molar_mass_kg_mol, theirs.mean_molecular_weight, rtol=1e-7, err_msg=where
        )


@pytest.mark.parametrize("phi", [0.8, 1.0, 1.02, 1.3])
@pytest.mark.parametrize("temperature_k", [1200.0, 2000.0, 2800.0])
def test_slopes_of_the_equilibrium_against_cantera(phi: float, temperature_k: float) -> None:
    """Equilibrium cp and the isentropic exponent by differences of Cantera's states."""
    mixture, pressure_pa = Mixture(phi), 20e5
    step_k = 0.5
    colder = cantera_burned(mixture, temperature_k - step_k, pressure_pa).enthalpy_mass
    warmer = cantera_burned(mixture, temperature_k + step_k, pressure_pa).enthalpy_mass
    here = cantera_burned(mixture, temperature_k, pressure_pa)
    entropy, density = here.entropy_mass, here.density
    here.SP = entropy, 1.001 * pressure_pa
    here.equilibrate("SP", rtol=1e-11)
    exponent = np.log(1.001) / np.log(here.density / density)
    ours = burned_gas(mixture.elements, temperature_k, pressure_pa)
    assert float(ours.cp_equilibrium_j_kgk) == pytest.approx((warmer - colder) / (2 * step_k), rel=1e-4)
    assert float(ours.isentropic_exponent) == pytest.approx(exponent, abs=5e-4)


@given(PHI, ETHANOL, HUMIDITY, BURNED_K, PRESSURE_PA)
def test_equilibrium_keeps_every_atom(
    phi: float, ethanol: float, humidity: float, temperature_k: float, pressure_pa: float
) -> None:
    mixture = Mixture(phi, ethanol, 0.0, humidity)
    found = burned_gas(mixture.elements, temperature_k, pressure_pa)
    moles = found.mole_fractions / found.molar_mass_kg_mol
    expected = mixture.moles_mol_kg @ ATOMS
    np.testing.assert_allclose(moles @ ATOMS[: len(BURNED_SPECIES)], expected, rtol=1e-9)
    assert found.mole_fractions.sum() == pytest.approx(1.0, rel=1e-12)


@given(PHI, ETHANOL, BURNED_K, PRESSURE_PA)
def test_temperature_comes_back_from_enthalpy(
    phi: float, ethanol: float, temperature_k: float, pressure_pa: float
) -> None:
    elements = Mixture(phi, ethanol).elements
    enthalpy = burned_gas(elements, temperature_k, pressure_pa).enthalpy_j_kg
    assert float(burned_temperature_k(elements, enthalpy, pressure_pa)) == pytest.approx(
        temperature_k, abs=1e-3
    )


def test_arrays_answer_like_their_numbers() -> None:
    mixtures = [Mixture(0.8), Mixture(1.0), Mixture(1.25)]
    temperatures, pressures = np.array([900.0, 1800.0, 2700.0, 3300.0]), np.array([2e5, 20e5, 40e5, 90e5])
    together = burned_gas(elements_of(mixtures), temperatures, pressures)
    assert together.enthalpy_j_kg.shape == (3, 4)
    assert together.mole_fractions.shape == (11, 3, 4)
    for row, column in np.ndindex(3, 4):
        alone = burned_gas(mixtures[row].elements, temperatures[column], pressures[column])
        enthalpy = float(together.enthalpy_j_kg[row, column])
        assert float(alone.enthalpy_j_kg) == pytest.approx(enthalpy, rel=1e-9)
        assert float(alone.cp_equilibrium_j_kgk) == pytest.approx(
            float(together.cp_equilibrium_j_kgk[row, column]), rel=1e-9
        )


def elements_of(mixtures: list[Mixture]) -> Elements:
    """Elements of several mixtures as columns, to be broadcast against rows of states."""

    def column(name: str) -> FloatArray:
        return np.array([[float(getattr(mixture.elements, name))] for mixture in mixtures])

    return Elements(*(column(element.name) for element in fields(Elements)))


def test_many_states_are_quick() -> None:
    """2,000 states: 3 ms on the machine it was written on. The limit is loose for a busy one."""
    elements = elements_of([Mixture(float(phi)) for phi in np.linspace(0.6, 1.6, 10)])
    temperature, pressure = np.meshgrid(np.linspace(600.0, 3500.0, 20), np.geomspace(0.1e5, 300e5, 10))
    took_s = []
    for _ in range(3):
        start = time.perf_counter()
        states: BurnedGas = burned_gas(elements, temperature.ravel(), pressure.ravel())
        took_s.append(time.perf_counter() - start)
    assert states.enthalpy_j_kg.size == 2000
    assert min(took_s) < 0.05


# ------------------------------------------------------------------------------------ adiabatic flames


@pytest.mark.parametrize(
    ("phi", "expected_k"), [pytest.param(1.0, 2271.1, id="GP-T1"), pytest.param(0.9, 2184.6, id="GP-T7")]
)
def test_constant_pressure_flame(phi: float, expected_k: float) -> None:
    mixture = Mixture(phi, air=OXYGEN_AND_3_76_NITROGEN)
    assert gas.constant_pressure_flame_k(mixture, 298.15, 101325.0) == pytest.approx(expected_k, abs=10.0)


@pytest.mark.parametrize(
    ("start_k", "start_bar", "expected_k", "expected_bar"),
    [
        pytest.param(298.15, 1.01325, 2635.4, 9.639, id="GP-T2"),
        pytest.param(700.0, 15.0, 2889.2, 66.750, id="GP-T3"),
    ],
)
def test_constant_volume_flame(
    start_k: float, start_bar: float, expected_k: float, expected_bar: float
) -> None:
    mixture = Mixture(1.0, air=OXYGEN_AND_3_76_NITROGEN)
    found_k, found_pa = gas.constant_volume_flame(mixture, start_k, 1e5 * start_bar)
    assert found_k == pytest.approx(expected_k, abs=10.0)
    assert found_pa / 1e5 == pytest.approx(expected_bar, rel=0.005)


@pytest.mark.parametrize(
    ("carbon", "hydrogen", "formation_kj_mol", "expected_k"),
    [(8, 18, -208.75, 2274.7), (1, 4, -74.6, 2225.1)],
)
def test_flames_of_other_fuels(
    carbon: int, hydrogen: int, formation_kj_mol: float, expected_k: float
) -> None:
    """GP-T8: n-octane and methane, phi = 1, 298.15 K, 1 atm; Turns, appendix B; formation: NASA TM-4513."""
    air_kg = (carbon + hydrogen / 4.0) / OXYGEN_AND_3_76_NITROGEN.moles_mol_kg[O2]
    mass = air_kg + 12.011e-3 * carbon + 1.008e-3 * hydrogen
    atoms = (air_kg * OXYGEN_AND_3_76_NITROGEN.moles_mol_kg) @ ATOMS / mass
    atoms += np.array([carbon, hydrogen, 0.0, 0.0, 0.0]) / mass
    elements = Elements(*(np.asarray(amount) for amount in atoms))
    found = burned_temperature_k(elements, 1e3 * formation_kj_mol / mass, 101325.0)
    assert float(found) == pytest.approx(expected_k, abs=10.0)


@settings(max_examples=12)
@given(st.floats(0.7, 1.4), ETHANOL, st.floats(300.0, 900.0), st.floats(1e5, 40e5))
def test_flames_against_cantera(phi: float, ethanol: float, start_k: float, start_pa: float) -> None:
    mixture = Mixture(phi, ethanol, 0.1, 0.01)
    solution = cantera_gas(burned=False)
    state = start_k, start_pa, dict(zip(SPECIES, mixture.moles_mol_kg, strict=True))
    solution.TPX = state
    solution.equilibrate("HP", rtol=1e-9)
    assert gas.constant_pressure_flame_k(mixture, start_k, start_pa) == pytest.approx(solution.T, abs=0.05)
    solution.TPX = state
    solution.equilibrate("UV", rtol=1e-9)
    found_k, found_pa = gas.constant_volume_flame(mixture, start_k, start_pa)
    assert found_k == pytest.approx(solution.T, abs=0.05)
    assert found_pa == pytest.approx(solution.P, rel=1e-4)


# ------------------------------------------------------------------------------ polynomials for the kernel

UNUSUAL = [
    Mixture(1.0),
    Mixture(0.0),
    Mixture(0.7, 0.1, 0.3, 0.02),
    Mixture(1.3, 1.0),
    Mixture(1.0, 0.0, 0.5),
]


@pytest.mark.parametrize("mixture", UNUSUAL, ids=str)
def test_unburned_polynomial_follows_the_mixture(mixture: Mixture) -> None:
    coefficients = gas_fits.unburned_coefficients(mixture)
    temperature = np.linspace(250.0, 1300.0, 500)
    np.testing.assert_allclose(
        gas_fits.unburned_cp_j_kgk(coefficients, temperature), mixture.cp_j_kgk(temperature), rtol=0.0015
    )
    np.testing.assert_allclose(
        gas_fits.unburned_enthalpy_j_kg(coefficients, temperature),
        mixture.enthalpy_j_kg(temperature),
        atol=100.0,
    )


@given(st.floats(260.0, 1290.0))
def test_unburned_enthalpy_is_the_integral_of_cp(temperature_k: float) -> None:
    coefficients = gas_fits.unburned_coefficients(Mixture(1.0))
    above = gas_fits.unburned_enthalpy_j_kg(coefficients, temperature_k + 0.1)
    below = gas_fits.unburned_enthalpy_j_kg(coefficients, temperature_k - 0.1)
    assert (above - below) / 0.2 == pytest.approx(
        gas_fits.unburned_cp_j_kgk(coefficients, temperature_k), rel=1e-6
    )


def test_polynomials_compile_unchanged() -> None:
    coefficients = gas_fits.unburned_coefficients(Mixture(1.0))
    for formula in (gas_fits.unburned_cp_j_kgk, gas_fits.unburned_enthalpy_j_kg):
        assert numba.njit(formula)(coefficients, 700.0) == pytest.approx(
            float(formula(coefficients, 700.0)), rel=1e-12
        )


@pytest.mark.parametrize("phi", [0.6, 0.8, 0.95, 1.0, 1.03, 1.1, 1.3, 1.6])
@pytest.mark.parametrize("ethanol", [0.0, 0.85])
def test_burned_surface_follows_the_equilibrium(phi: float, ethanol: float) -> None:
    """Within 3 K and 0.15 %, on points that were neither fitted nor used for the stated misfit."""
    surface = gas_fits.burned_surface(phi, ethanol)
    elements = Mixture(phi, ethanol).elements
    enthalpy = surface.enthalpy_middle_j_kg + surface.enthalpy_half_j_kg * np.linspace(-1.0, 1.0, 91)[:, None]
    pressure = np.geomspace(0.3e5, 200e5, 16)
    temperature = burned_temperature_k(elements, enthalpy, pressure)
    state = burned_gas(elements, temperature, pressure)
    misfit_k = np.abs(surface.temperature_k(enthalpy, pressure) - temperature)
    pv_j_kg = state.gas_constant_j_kgk * temperature
    misfit_share = np.abs(surface.pv_j_kg(enthalpy, pressure) / pv_j_kg - 1.0)
    assert misfit_k.max() < 3.0
    assert misfit_share.max() < 0.0015
    assert surface.worst_misfit() == pytest.approx((misfit_k.max(), misfit_share.max()), rel=0.15)


def test_burned_surface_is_kept() -> None:
    assert gas_fits.burned_surface(0.93, 0.1, 0.01) is gas_fits.burned_surface(0.93, 0.1, 0.01)


def test_the_surface_of_another_air_is_its_own() -> None:
    """By argon's weight the two lie 0.4 % apart, eight times the tolerance."""
    enthalpy, pressure = -1.4e6, 5e5
    for air in (STANDARD_AIR, OXYGEN_AND_3_76_NITROGEN):
        elements = Mixture(1.0, air=air).elements
        temperature = burned_temperature_k(elements, enthalpy, pressure)
        pv = burned_gas(elements, temperature, pressure).gas_constant_j_kgk * temperature
        surface = gas_fits.burned_surface(1.0, air=air)
        assert float(surface.pv_j_kg(enthalpy, pressure)) == pytest.approx(float(pv), rel=0.0005)


# --------------------------------------------------------------------------------- refusals and reports


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"phi": -0.1}, "phi = -0.1: must be from 0 to 2.5; richer than this, burning leaves soot"),
        ({"phi": float("nan")}, "phi = nan: must be from 0 to 2.5"),
        ({"phi": 1.0, "ethanol_share_volume": 85.0}, "must be from 0 to 1; give a share, not per cent"),
        ({"phi": 1.0, "residual_mass_fraction": 1.0}, "residual_mass_fraction = 1.0: must be from 0 to 0.9"),
        ({"phi": 1.0, "humidity_ratio": 10.0}, "give kg of water per kg of dry air"),
    ],
)
def test_impossible_mixtures_are_refused(wrong: dict[str, Any], message: str) -> None:
    with pytest.raises(PhysicsError, match=message):
        Mixture(**wrong)


@pytest.mark.parametrize(
    ("mixture", "temperature_k", "pressure_pa", "message"),
    [
        (Mixture(1.0), 150.0, 1e5, "temperature_k = 150.0: must be from 200 to 6000; the gas data end there"),
        (Mixture(1.0), float("nan"), 1e5, "temperature_k = nan: must be from 200 to 6000"),
        (Mixture(1.0), 2000.0, 0.0, "pressure_pa = 0.0: must be above 0"),
        (Mixture(0.0), 2000.0, 1e5, "elements.hydrogen = 0.0: must be above 0 mol/kg"),
        (
            Mixture(0.0, humidity_ratio=0.01, air=OXYGEN_AND_3_76_NITROGEN),
            2000.0,
            1e5,
            "elements.carbon = 0.0: must be above 0 mol/kg",
        ),
    ],
)
def test_impossible_states_are_refused(
    mixture: Mixture, temperature_k: float, pressure_pa: float, message: str
) -> None:
    with pytest.raises(PhysicsError, match=message):
        burned_gas(mixture.elements, temperature_k, pressure_pa)


def test_an_enthalpy_beyond_the_data_is_refused() -> None:
    with pytest.raises(PhysicsError, match=r"enthalpy_j_kg = 900000000\.0: must belong to a temp"):
        burned_temperature_k(Mixture(1.0).elements, 9e8, 1e5)


def test_an_absurd_compression_is_refused() -> None:
    with pytest.raises(PhysicsError, match=r"volume_ratio = 1000000000000\.0: must lead to a temperature"):
        Mixture(1.0).isentropic_temperature_k(300.0, 1e12)
