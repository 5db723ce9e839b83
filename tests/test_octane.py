"""Octane: rows OC-1 to OC-5.

Sources: 16 CFR 306 and ASTM D4814 (index); Anderson et al., Energy and Fuels 24 (2010) 6576 and SAE
2012-01-1274 (blends). Tolerances: those of the rows.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formula_checks import Case, Formula, assert_arrays_answer_like_numbers, assert_compiles, name_of
from sparkwright.cycle import octane
from sparkwright.errors import PhysicsError

FORMULAS: list[Case] = [
    (octane.anti_knock_index, (91.0, 83.0)),
    (octane.kalghatgi_octane_index, (95.0, 85.0, 0.3)),
    (octane.ethanol_mole_fraction, (0.2,)),
    (octane.anderson_blend_octane, (88.0, 109.0, 0.3)),
]


@pytest.mark.parametrize(("formula", "numbers"), FORMULAS, ids=name_of)
def test_formulas_compile_unchanged(formula: Formula, numbers: tuple[float, ...]) -> None:
    assert_compiles(formula, numbers)


@pytest.mark.parametrize(("formula", "numbers"), FORMULAS, ids=name_of)
def test_arrays_answer_like_numbers(formula: Formula, numbers: tuple[float, ...]) -> None:
    assert_arrays_answer_like_numbers(formula, numbers)


def test_oc_1_anti_knock_index() -> None:
    assert octane.anti_knock_index(91.0, 83.0) == 87.0
    assert octane.anti_knock_index(98.0, 88.0) == 93.0


@pytest.mark.parametrize(
    ("volume_share", "mole_fraction", "blend_ron"),
    [
        pytest.param(0.10, 0.2126, 92.46, id="OC-2"),
        pytest.param(0.20, 0.3779, 95.94, id="OC-3"),
        pytest.param(0.85, 0.9323, 107.58, id="OC-5"),
    ],
)
def test_ethanol_blends(volume_share: float, mole_fraction: float, blend_ron: float) -> None:
    found = octane.ethanol_mole_fraction(volume_share)
    assert found == pytest.approx(mole_fraction, abs=0.001)
    assert octane.anderson_blend_octane(88.0, octane.ETHANOL_RON, found) == pytest.approx(blend_ron, abs=0.05)


def test_the_index_spans_the_two_methods() -> None:
    """Kalghatgi (2001): K = 0 is the research, K = 1 the motor number, one half the anti-knock index."""
    assert octane.kalghatgi_octane_index(95.0, 85.0, 0.0) == 95.0
    assert octane.kalghatgi_octane_index(95.0, 85.0, 1.0) == 85.0
    assert octane.kalghatgi_octane_index(95.0, 85.0, 0.5) == octane.anti_knock_index(95.0, 85.0)


@pytest.mark.parametrize(
    ("known", "ron", "mon"),
    [
        ({"ron": 95.0, "mon": 85.0}, 95.0, 85.0),
        ({"ron": 91.0, "aki": 87.0}, 91.0, 83.0),
        ({"mon": 83.0, "aki": 87.0}, 91.0, 83.0),
    ],
)
def test_two_known_numbers_give_the_third(known: dict[str, float], ron: float, mon: float) -> None:
    assert octane.octane_of_fuel(**known) == octane.Octane(ron, mon)


@pytest.mark.parametrize(("ron", "mon"), [(91.0, 83.0), (95.0, 85.0), (98.0, 88.0)])
def test_one_known_number_is_filled_in_as_common_grades_have_it(ron: float, mon: float) -> None:
    """Common grades 91/83, 95/85 and 98/88: common practice, no source; exact by construction."""
    for known in ({"ron": ron}, {"mon": mon}, {"aki": 0.5 * (ron + mon)}):
        found = octane.octane_of_fuel(**known)
        assert (found.ron, found.mon) == pytest.approx((ron, mon))
        assert found.of_knock_formula == pytest.approx(0.5 * (ron + mon))
        assert len(found.assumed) == 1
        assert "as common gasoline of" in found.assumed[0]


@given(st.floats(60.0, 110.0), st.floats(0.1, 10.0), st.sampled_from(["ron", "mon", "aki"]))
def test_more_on_the_pump_is_more_in_the_formula(number: float, more: float, field: str) -> None:
    lower = octane.octane_of_fuel(**{field: number})
    higher = octane.octane_of_fuel(**{field: number + more})
    assert higher.of_knock_formula > lower.of_knock_formula
    assert higher.ron >= higher.mon


@pytest.mark.parametrize(
    ("known", "message"),
    [
        ({}, r"ron \(not given\): must be given, or mon or aki; read it at the pump"),
        ({"ron": 9.5}, "ron = 9.5: must be from 40 to 130; no motor fuel lies outside"),
        ({"ron": float("nan")}, "ron = nan: must be from 40 to 130"),
        ({"ron": 85.0, "mon": 95.0}, r"mon = 95.0: must not be above ron \(85\); perhaps they are swapped"),
        ({"ron": 85.0, "aki": 90.0}, r"mon = 95.0: must not be above ron \(85\); perhaps they are swapped"),
    ],
)
def test_impossible_numbers_are_refused(known: dict[str, float], message: str) -> None:
    with pytest.raises(PhysicsError, match=message):
        octane.octane_of_fuel(**known)
