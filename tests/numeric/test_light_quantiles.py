"""Student's t, chi-square and normal against printed tables, and against SciPy's own distributions."""

import numpy as np
import pytest
from scipy import stats

from sparkwright.errors import PhysicsError
from sparkwright.numeric.quantiles import (
    chi_square_above,
    chi_square_quantile,
    normal_quantile,
    normal_two_sided,
    student_quantile,
    student_two_sided,
)

DEGREES = [1, 2, 3, 4, 5, 6, 7, 8, 15, 30, 31, 120, 499]


@pytest.mark.parametrize("degrees", DEGREES)
def test_student_is_as_scipy_has_it(degrees: int) -> None:
    for size in np.geomspace(0.01, 60.0, 25):
        assert student_two_sided(float(size), degrees) == pytest.approx(
            2.0 * stats.t.sf(size, degrees), rel=1e-9, abs=1e-13
        )
    for confidence in (0.5, 0.9, 0.95, 0.975, 0.99):
        expected = stats.t.ppf(0.5 + confidence / 2.0, degrees)
        assert student_quantile(confidence, degrees) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("degrees", DEGREES)
def test_chi_square_is_as_scipy_has_it(degrees: int) -> None:
    for size in np.geomspace(0.01, 4.0 * degrees + 20.0, 25):
        assert chi_square_above(float(size), degrees) == pytest.approx(
            stats.chi2.sf(size, degrees), rel=1e-9, abs=1e-14
        )
    for probability in (0.05, 0.5, 0.95, 0.99, 0.999):
        expected = stats.chi2.ppf(probability, degrees)
        assert chi_square_quantile(probability, degrees) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("degrees", "printed"), [(1, 12.706), (2, 4.303), (3, 3.182), (8, 2.306)])
def test_student_is_as_tables_print_it(degrees: int, printed: float) -> None:
    """Two-sided 95 % column of any table of Student's t, recalled from memory; half its last digit."""
    assert student_quantile(0.95, degrees) == pytest.approx(printed, abs=5e-4)


@pytest.mark.parametrize(("degrees", "printed"), [(1, 63.657), (5, 4.032), (10, 3.169), (30, 2.750)])
def test_student_is_as_tables_print_it_at_99(degrees: int, printed: float) -> None:
    """Two-sided 99 % column of any table of Student's t, recalled from memory; half its last digit."""
    assert student_quantile(0.99, degrees) == pytest.approx(printed, abs=5e-4)
    assert student_two_sided(printed, degrees) == pytest.approx(0.01, abs=1e-5)


@pytest.mark.parametrize(("degrees", "printed"), [(1, 3.841), (2, 5.991), (5, 11.070), (10, 18.307)])
def test_chi_square_is_as_tables_print_it(degrees: int, printed: float) -> None:
    """Upper 5 % column of any table of chi-square, recalled from memory; half its last digit."""
    assert chi_square_quantile(0.95, degrees) == pytest.approx(printed, abs=5e-4)
    assert chi_square_above(printed, degrees) == pytest.approx(0.05, abs=2e-5)


def test_normal_is_as_tables_print_it() -> None:
    """The quantiles everybody knows: 1.960 for two sides of 95 %, 2.576 of 99 %."""
    assert normal_quantile(0.975) == pytest.approx(1.960, abs=5e-4)
    assert normal_quantile(0.995) == pytest.approx(2.576, abs=5e-4)


def test_normal_is_as_scipy_has_it() -> None:
    assert normal_quantile(0.995) == pytest.approx(stats.norm.ppf(0.995), rel=1e-12)
    assert normal_two_sided(-2.5) == pytest.approx(2.0 * stats.norm.sf(2.5), rel=1e-12)


def test_what_has_no_answer_is_refused() -> None:
    for degrees in (0, -1, 2001):
        with pytest.raises(PhysicsError, match=r"degrees_of_freedom = .*: must be 1 to 2000"):
            student_two_sided(1.0, degrees)
        with pytest.raises(PhysicsError, match="degrees_of_freedom"):
            chi_square_above(1.0, degrees)
    with pytest.raises(PhysicsError, match="confidence = 1"):
        student_quantile(1.0, 3)
