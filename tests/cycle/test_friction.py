"""Friction: rows FR-1 to FR-5.

Sources: Barnes-Moss, I.Mech.E. C343/73 (1975), as given by Heywood, Internal Combustion Engine Fundamentals
(1988), ch. 13; Chen and Flynn, SAE 650733 (1965), form. Tolerances: the last printed digit.
"""

import pytest

from formula_checks import Case, Formula, assert_arrays_answer_like_numbers, assert_compiles, name_of
from sparkwright.cycle import friction
from sparkwright.cycle.published import friction as published

FORMULAS: list[Case] = [
    (published.barnes_moss_total_friction_bar, (3000.0,)),
    (friction.chen_flynn_friction_bar, (60.0, 10.0, 0.4, 0.005, 0.09, 0.0009)),
]


@pytest.mark.parametrize(
    ("speed_rpm", "expected_bar"),
    [
        pytest.param(1500.0, 1.3075, id="FR-1"),
        pytest.param(3000.0, 1.87, id="FR-2"),
        pytest.param(6000.0, 3.67, id="FR-4"),
    ],
)
def test_speed_polynomial(speed_rpm: float, expected_bar: float) -> None:
    assert published.barnes_moss_total_friction_bar(speed_rpm) == pytest.approx(expected_bar, abs=0.001)


def test_fr_5_chen_flynn_form() -> None:
    found_bar = friction.chen_flynn_friction_bar(60.0, 10.0, 0.4, 0.005, 0.09, 0.0009)
    assert found_bar == pytest.approx(1.69, abs=0.001)


@pytest.mark.parametrize(
    ("coefficients", "expected_bar"),
    [
        ((1.0, 0.0, 0.0, 0.0), 1.0),
        ((0.0, 1.0, 0.0, 0.0), 50.0),
        ((0.0, 0.0, 1.0, 0.0), 8.0),
        ((0.0, 0.0, 0.0, 1.0), 64.0),
    ],
)
def test_each_term_by_head(coefficients: tuple[float, float, float, float], expected_bar: float) -> None:
    assert friction.chen_flynn_friction_bar(50.0, 8.0, *coefficients) == expected_bar


@pytest.mark.parametrize(("formula", "numbers"), FORMULAS, ids=name_of)
def test_formulas_compile_unchanged(formula: Formula, numbers: tuple[float, ...]) -> None:
    assert_compiles(formula, numbers)


@pytest.mark.parametrize(("formula", "numbers"), FORMULAS, ids=name_of)
def test_arrays_answer_like_numbers(formula: Formula, numbers: tuple[float, ...]) -> None:
    assert_arrays_answer_like_numbers(formula, numbers)
