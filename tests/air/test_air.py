"""Air: rows AT-0 to AT-e40 and DY-1 to DY-14.

Sources: ISO 2533:1975 (and the U.S. Standard Atmosphere 1976, the same below 11 km); WMO-No. 8; Buck,
Journal of Applied Meteorology 20 (1981) 1527; Buck (1996); IAPWS Industrial Formulation 1997;
SAE J1349 (June 1990); ISO 1585:1992; SAE J607. Tolerances are those of the rows.
"""

import cantera as ct
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from formula_checks import Case, Formula, assert_arrays_answer_like_numbers, assert_compiles, name_of
from sparkwright import air
from sparkwright.air import OutsideAir, dyno_correction
from sparkwright.errors import PhysicsError
from telling import sentences_of

FORMULAS: list[Case] = [
    (air.geopotential_height_m, (1450.0,)),
    (air.geometric_height_m, (1450.0,)),
    (air.iso2533_temperature_k, (1450.0,)),
    (air.iso2533_pressure_kpa, (1450.0,)),
    (air.iso2533_height_m, (85.0,)),
    (air.magnus_saturation_hpa, (25.0,)),
    (air.buck_1981_saturation_hpa, (25.0,)),
    (air.buck_1996_saturation_hpa, (25.0,)),
    (air.humidity_ratio, (1.6, 99.7)),
    (air.moist_air_density_kg_m3, (1.6, 99.7, 298.15)),
    (air.sae_j1349_factor, (97.0, 32.0)),
    (air.iso_1585_factor, (97.0, 305.0)),
    (air.sae_j607_factor, (98.2, 26.7)),
]


@pytest.mark.parametrize(
    ("height_m", "temperature_k", "pressure_pa", "density_kg_m3"),
    [
        pytest.param(0.0, 288.150, 101325.0, 1.22500, id="AT-0"),
        pytest.param(500.0, 284.900, 95460.8, 1.16727, id="AT-500"),
        pytest.param(1000.0, 281.650, 89874.6, 1.11164, id="AT-1000"),
        pytest.param(2000.0, 275.150, 79495.2, 1.00649, id="AT-2000"),
        pytest.param(5000.0, 255.650, 54019.9, 0.736116, id="U.S. Standard Atmosphere 5 km (recalled)"),
        pytest.param(11000.0, 216.650, 22632.1, 0.363918, id="U.S. Standard Atmosphere 11 km (recalled)"),
    ],
)
def test_standard_atmosphere(
    height_m: float, temperature_k: float, pressure_pa: float, density_kg_m3: float
) -> None:
    found_k = air.iso2533_temperature_k(height_m)
    found_kpa = air.iso2533_pressure_kpa(height_m)
    assert found_k == pytest.approx(temperature_k, abs=0.005)
    assert found_kpa * 1000.0 == pytest.approx(pressure_pa, rel=0.0002)
    assert air.moist_air_density_kg_m3(0.0, found_kpa, found_k) == pytest.approx(density_kg_m3, rel=0.0002)


@pytest.mark.parametrize(
    ("geometric_m", "geopotential_m"), [(0.0, 0.0), (1000.0, 999.84), (5000.0, 4996.07), (11019.0, 10999.93)]
)
def test_geopotential_height(geometric_m: float, geopotential_m: float) -> None:
    """Solved by hand from H = r z/(r + z); half the last printed digit."""
    assert air.geopotential_height_m(geometric_m) == pytest.approx(geopotential_m, abs=0.005)


@given(height_m=st.floats(-2000.0, 11000.0))
def test_height_to_pressure_and_back(height_m: float) -> None:
    assert air.iso2533_height_m(air.iso2533_pressure_kpa(height_m)) == pytest.approx(height_m, abs=1e-6)
    assert air.geometric_height_m(air.geopotential_height_m(height_m)) == pytest.approx(height_m, abs=1e-6)


def test_the_hydrostatic_balance_holds() -> None:
    """dp/dH = -rho g0 with g0 = 9.80665 m/s2: what the printed exponent stands for; 1e-6 for its digits."""
    for height_m in (0.0, 1450.0, 8000.0):
        step_m = 1.0
        fall_pa_m = (
            1000.0
            * (air.iso2533_pressure_kpa(height_m - step_m) - air.iso2533_pressure_kpa(height_m + step_m))
            / (2.0 * step_m)
        )
        density = air.moist_air_density_kg_m3(
            0.0, air.iso2533_pressure_kpa(height_m), air.iso2533_temperature_k(height_m)
        )
        assert fall_pa_m == pytest.approx(9.80665 * density, rel=1e-6)


VAPOUR_ROWS = [
    pytest.param(0.01, 6.1164, 6.1165, 6.1165, id="AT-e0.01"),
    pytest.param(10.0, 12.2603, 12.2760, 12.2786, id="AT-e10"),
    pytest.param(20.0, 23.3260, 23.3728, 23.3834, id="AT-e20"),
    pytest.param(25.0, 31.6006, 31.6703, 31.6853, id="AT-e25"),
    pytest.param(40.0, 73.6746, 73.8418, 73.8236, id="AT-e40"),
]


def iapws_if97_saturation_hpa(temperature_k: float) -> float:
    """Saturation pressure of the IAPWS Industrial Formulation 1997, region 4, equation 30."""
    n = (
        0.11670521452767e4,
        -0.72421316703206e6,
        -0.17073846940092e2,
        0.12020824702470e5,
        -0.32325550322333e7,
        0.14915108613530e2,
        -0.48232657361591e4,
        0.40511340542057e6,
        -0.23855557567849,
        0.65017534844798e3,
    )
    theta = temperature_k + n[8] / (temperature_k - n[9])
    a = theta**2 + n[0] * theta + n[1]
    b = n[2] * theta**2 + n[3] * theta + n[4]
    c = n[5] * theta**2 + n[6] * theta + n[7]
    root = float(np.sqrt(b**2 - 4.0 * a * c))
    return float((2.0 * c / (root - b)) ** 4 * 1e4)


@pytest.mark.parametrize(
    ("temperature_k", "pressure_mpa"),
    [(300.0, 0.353658941e-2), (500.0, 0.263889776e1), (600.0, 0.123443146e2)],
)
def test_the_independent_vapour_formula_is_typed_right(temperature_k: float, pressure_mpa: float) -> None:
    """IAPWS-IF97, table 35: the values printed for checking a program; all nine digits."""
    assert iapws_if97_saturation_hpa(temperature_k) == pytest.approx(pressure_mpa * 1e4, rel=1e-8)


@pytest.mark.parametrize(("temperature_c", "magnus_hpa", "buck_1981_hpa", "buck_1996_hpa"), VAPOUR_ROWS)
def test_saturation_pressure(
    temperature_c: float, magnus_hpa: float, buck_1981_hpa: float, buck_1996_hpa: float
) -> None:
    iapws_hpa = iapws_if97_saturation_hpa(temperature_c + 273.15)
    for formula, row_hpa in (
        (air.magnus_saturation_hpa, magnus_hpa),
        (air.buck_1981_saturation_hpa, buck_1981_hpa),
        (air.buck_1996_saturation_hpa, buck_1996_hpa),
    ):
        assert formula(temperature_c) == pytest.approx(row_hpa, rel=0.0005)
        assert formula(temperature_c) == pytest.approx(iapws_hpa, rel=0.005)


@pytest.mark.parametrize("temperature_c", [0.01, 5.0, 15.0, 25.0, 35.0, 45.0, 50.0])
def test_the_form_in_use_stays_within_a_thousandth_of_iapws(temperature_c: float) -> None:
    """As its documentation says."""
    expected_hpa = iapws_if97_saturation_hpa(temperature_c + 273.15)
    assert air.buck_1996_saturation_hpa(temperature_c) == pytest.approx(expected_hpa, rel=0.001)


def test_humidity_ratio_of_the_psychrometric_chart() -> None:
    """ASHRAE Handbook, Fundamentals, psychrometric chart: 25 degC, 50 %, sea level: 9.9 g/kg (recalled)."""
    ratio = OutsideAir(101.325, 25.0, 50.0).humidity_ratio
    assert ratio == pytest.approx(0.0099, abs=0.00005)


@pytest.mark.parametrize(("temperature_c", "humidity_percent"), [(20.0, 0.0), (30.0, 60.0), (45.0, 100.0)])
def test_moist_air_against_a_gas_mixture(temperature_c: float, humidity_percent: float) -> None:
    """Cantera's ideal-gas mixture of N2, O2, Ar and H2O with the mole fractions of ISO 2533; 0.02 %: CO2."""
    outside = OutsideAir(100.0, temperature_c, humidity_percent)
    gas = ct.Solution("gri30.yaml")
    wet = outside.vapour_pressure_kpa / 100.0
    dry = 1.0 - wet
    gas.TPX = (
        outside.temperature_k,
        1e5,
        {"N2": 0.78084 * dry, "O2": 0.20948 * dry, "AR": 0.00934 * dry, "CO2": 0.000314 * dry, "H2O": wet},
    )
    assert outside.density_kg_m3 == pytest.approx(gas.density, rel=0.0002)
    water = float(gas["H2O"].Y[0])
    assert outside.humidity_ratio == pytest.approx(water / (1.0 - water), rel=0.0005)


@pytest.mark.parametrize(
    ("numbers", "message"),
    [
        ((0.0, 20.0, 50.0), "pressure_kpa = 0.0: must be above 0"),
        ((float("nan"), 20.0, 50.0), "pressure_kpa = nan: must be above 0"),
        ((100.0, -100.0, 50.0), "temperature_c = -100.0: must be from -90 to 100 degC"),
        ((100.0, float("nan"), 50.0), "temperature_c = nan: must be from -90 to 100 degC"),
        ((100.0, 20.0, 101.0), "humidity_percent = 101.0: must be from 0 to 100"),
        ((100.0, 20.0, -1.0), "humidity_percent = -1.0: must be from 0 to 100"),
        (
            (50.0, 95.0, 100.0),
            "humidity_percent = 100.0: must leave room for air: the vapour alone would press 84.5 kPa; "
            "lower the humidity or the temperature",
        ),
    ],
)
def test_air_that_cannot_be_is_refused(numbers: tuple[float, float, float], message: str) -> None:
    with pytest.raises(PhysicsError) as refused:
        OutsideAir(*numbers)
    assert str(refused.value) == message


@pytest.mark.parametrize(
    ("dry_mbar", "temperature_c", "expected"),
    [
        pytest.param(990.0, 25.0, 1.0, id="DY-1"),
        pytest.param(970.0, 32.0, 1.0384, id="DY-2"),
        pytest.param(1013.0, 15.0, 0.95369, id="DY-3"),
        pytest.param(840.0, 20.0, 1.199, id="DY-4"),
    ],
)
def test_sae_j1349(dry_mbar: float, temperature_c: float, expected: float) -> None:
    assert air.sae_j1349_factor(dry_mbar / 10.0, temperature_c) == pytest.approx(expected, abs=0.0005)


@pytest.mark.parametrize(
    ("dry_kpa", "temperature_k", "expected"),
    [
        pytest.param(99.0, 298.0, 1.0, id="DY-7"),
        pytest.param(97.0, 305.0, 1.0392, id="DY-8"),
        pytest.param(101.3, 288.0, 0.9531, id="DY-9"),
    ],
)
def test_iso_1585(dry_kpa: float, temperature_k: float, expected: float) -> None:
    assert air.iso_1585_factor(dry_kpa, temperature_k) == pytest.approx(expected, abs=0.0005)


def test_dy_12_sae_j607() -> None:
    dry_kpa, temperature_c = 29.00 * 3.386389, (80.0 - 32.0) / 1.8
    assert air.sae_j607_factor(dry_kpa, temperature_c) == pytest.approx(1.0514, abs=0.0005)


def test_dy_14_wet_to_dry_then_corrected() -> None:
    outside = OutsideAir(pressure_kpa=100.0, temperature_c=30.0, humidity_percent=60.0)
    assert outside.dry_pressure_kpa == pytest.approx(97.452, abs=0.02)
    correction = dyno_correction("SAE J1349", outside)
    assert correction.factor == pytest.approx(1.02876, abs=0.0005)
    assert correction.outside_range == ()


@pytest.mark.parametrize(
    ("dry_kpa", "temperature_c", "sentences"),
    [
        (90.0, 15.0, []),
        (105.0, 35.0, []),
        (
            84.0,
            40.0,
            [
                "SAE J1349 holds for 90 to 105 kPa of dry air pressure; here it is 84.0 kPa.",
                "SAE J1349 holds for 15 to 35 degC of air temperature; here it is 40.0 degC.",
            ],
        ),
        (110.0, 20.0, ["SAE J1349 holds for 90 to 105 kPa of dry air pressure; here it is 110.0 kPa."]),
    ],
)
def test_dy_lim_sae_j1349(dry_kpa: float, temperature_c: float, sentences: list[str]) -> None:
    assert list(sentences_of(air.sae_j1349_outside_range(dry_kpa, temperature_c))) == sentences


@pytest.mark.parametrize(
    ("dry_kpa", "temperature_k", "sentences"),
    [
        (99.0, 288.0, []),
        (95.0, 298.0, []),
        (
            85.0,
            298.0,
            ["ISO 1585 holds for 0.93 to 1.07 of the factor itself; here it is 1.201."],
        ),
        (
            75.0,
            285.0,
            [
                "ISO 1585 holds for 80 to 110 kPa of dry air pressure; here it is 75.0 kPa.",
                "ISO 1585 holds for 288 to 308 K of air temperature; here it is 285.0 K.",
                "ISO 1585 holds for 0.93 to 1.07 of the factor itself; here it is 1.359.",
            ],
        ),
    ],
)
def test_dy_lim_iso_1585(dry_kpa: float, temperature_k: float, sentences: list[str]) -> None:
    assert list(sentences_of(air.iso_1585_outside_range(dry_kpa, temperature_k))) == sentences


@pytest.mark.parametrize("standard", air.DYNO_STANDARDS)
def test_a_pull_on_a_mountain_is_never_corrected_silently(standard: str) -> None:
    correction = dyno_correction(standard, OutsideAir(79.5, 20.0, 40.0))
    assert correction.standard == standard
    assert correction.factor > 1.1
    assert len(correction.outside_range) >= 1


@pytest.mark.parametrize("standard", air.DYNO_STANDARDS)
def test_each_standard_by_name_is_its_own_formula(standard: str) -> None:
    outside = OutsideAir(100.0, 25.0, 0.0)
    expected = {
        "SAE J1349": air.sae_j1349_factor(100.0, 25.0),
        "ISO 1585": air.iso_1585_factor(100.0, 298.15),
        "SAE J607": air.sae_j607_factor(100.0, 25.0),
    }
    correction = dyno_correction(standard, outside)
    assert correction.factor == pytest.approx(expected[standard], rel=1e-12)
    assert correction.outside_range == ()


def test_a_standard_nobody_knows_is_refused() -> None:
    with pytest.raises(PhysicsError) as refused:
        dyno_correction("SAE J13", OutsideAir(100.0, 25.0, 0.0))
    assert str(refused.value) == "standard = SAE J13: must be one of SAE J1349, ISO 1585, SAE J607"


@given(
    dry_kpa=st.floats(70.0, 109.0),
    temperature_c=st.floats(0.0, 45.0),
)
def test_thinner_or_hotter_air_is_always_corrected_upwards(dry_kpa: float, temperature_c: float) -> None:
    for formula, kelvin in (
        (air.sae_j1349_factor, 0.0),
        (air.iso_1585_factor, 273.15),
        (air.sae_j607_factor, 0.0),
    ):
        here = formula(dry_kpa, temperature_c + kelvin)
        assert formula(dry_kpa - 1.0, temperature_c + kelvin) > here
        assert formula(dry_kpa, temperature_c + 1.0 + kelvin) > here


@pytest.mark.parametrize(("formula", "numbers"), FORMULAS, ids=name_of)
def test_formulas_compile_unchanged(formula: Formula, numbers: tuple[float, ...]) -> None:
    assert_compiles(formula, numbers)


@pytest.mark.parametrize(("formula", "numbers"), FORMULAS, ids=name_of)
def test_arrays_answer_like_numbers(formula: Formula, numbers: tuple[float, ...]) -> None:
    assert_arrays_answer_like_numbers(formula, numbers)
