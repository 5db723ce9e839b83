"""Breakdown of gaps.

Sources: uniform-field air from Kuffel and Zaengl, *High Voltage Engineering*; sphere gaps and relative
density from IEC 60052, its density correction table also in BS 358; plug figures from Denton,
*Automobile Electrical and Electronic Systems*, ignition chapter. The tables stand here as recalled.
"""

import math

import numba
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparkwright.errors import PhysicsError
from sparkwright.ignition import gap


@pytest.mark.parametrize(
    ("pressure_bar", "gap_mm", "temperature_k", "expected_kv"),
    [
        pytest.param(1.013, 10.0, 293.0, 31.44, id="EL-10"),
        pytest.param(1.013, 1.0, 293.0, 4.6065, id="EL-11"),
        pytest.param(5.0, 1.0, 293.0, 16.932, id="EL-12"),
        pytest.param(10.0, 1.0, 600.0, 16.592, id="EL-13"),
    ],
)
def test_uniform_field(pressure_bar: float, gap_mm: float, temperature_k: float, expected_kv: float) -> None:
    """Formula of Kuffel and Zaengl, 0.5 %."""
    kv = gap.uniform_field_kuffel_zaengl_kv(pressure_bar, gap_mm, temperature_k)
    assert kv == pytest.approx(expected_kv, rel=5e-3)


SPHERES = [  # diameter mm, gap mm, peak kV: IEC 60052, 20 C, 101.3 kPa (recalled)
    *[(20.0, mm, kv) for mm, kv in [(0.5, 2.8), (1.0, 4.7), (2.0, 8.0), (2.5, 9.6), (4.0, 14.4)]],
    *[(20.0, mm, kv) for mm, kv in [(5.0, 17.4), (10.0, 30.7)]],
    *[(50.0, mm, kv) for mm, kv in [(2.0, 8.0), (5.0, 17.4), (10.0, 32.0), (20.0, 57.5)]],
    *[(100.0, mm, kv) for mm, kv in [(5.0, 16.8), (10.0, 31.7), (20.0, 59.0), (50.0, 123.0)]],
]


@pytest.mark.parametrize(("diameter_mm", "gap_mm", "expected_kv"), SPHERES)
def test_el_iec_sphere_gaps(diameter_mm: float, gap_mm: float, expected_kv: float) -> None:
    """EL-IEC2, EL-IEC5, EL-IEC10: IEC 60052 table, 3 % to half the diameter, all rows lie within that."""
    assert gap_mm <= diameter_mm / 2
    assert gap.sphere_gap_kv(diameter_mm, gap_mm) == pytest.approx(expected_kv, rel=0.03)


def test_el_rad1_relative_density() -> None:
    """EL-RAD1, IEC 60052, 0.0005."""
    assert gap.relative_air_density_iec60052(950.0, 30.0) == pytest.approx(0.90686, abs=5e-4)


@pytest.mark.parametrize(
    ("density", "factor"), [(0.70, 0.72), (0.80, 0.82), (0.90, 0.91), (1.00, 1.00), (1.10, 1.09)]
)
def test_el_rad3_density_correction(density: float, factor: float) -> None:
    """EL-RAD3, IEC 52 / BS 358 table, 0.01: the uniform-field formula at 10 mm must give the same factors."""
    thinned = gap.uniform_field_kuffel_zaengl_kv(1.013 * density, 10.0)
    assert thinned / gap.uniform_field_kuffel_zaengl_kv(1.013, 10.0) == pytest.approx(factor, abs=0.01)


@pytest.mark.parametrize(
    ("pressure_bar", "temperature_k", "gap_mm", "least_kv", "most_kv"),
    [
        # EL-PLUG1, Denton, band +/- 30 %. The gas is ours: full load compressed to near the spark.
        pytest.param(1.0, 293.0, 0.6, 2.0 * 0.7, 3.0 * 1.3, id="0.6 mm in open air, 2-3 kV"),
        pytest.param(10.0, 600.0, 0.6, 8.0 * 0.7, 8.0 * 1.3, id="ratio 8 near the spark, about 8 kV"),
        pytest.param(20.0, 680.0, 0.9, 20.0 * 0.7, 20.0 * 1.3, id="high ratio, worn gap, up to 20 kV"),
    ],
)
def test_el_plug1(
    pressure_bar: float, temperature_k: float, gap_mm: float, least_kv: float, most_kv: float
) -> None:
    assert least_kv <= gap.plug_breakdown_kv(pressure_bar, temperature_k, gap_mm) <= most_kv


def test_corners_lie_between_rod_gaps_and_a_uniform_field() -> None:
    """Rod gap 20 mm apart: 26 kV peak (Kuffel, Zaengl and Kuffel, rod-gap table, recalled)."""
    corners = gap.CORNER_FIELD_FACTOR * gap.uniform_field_kuffel_zaengl_kv(1.013, 20.0)
    assert corners == pytest.approx(26.0, rel=0.05)


@given(st.floats(0.3, 40.0), st.floats(0.2, 30.0), st.floats(250.0, 3000.0), st.floats(1.001, 3.0))
def test_more_gas_in_the_gap_asks_more(
    pressure_bar: float, gap_mm: float, temperature_k: float, factor: float
) -> None:
    kv = gap.uniform_field_kuffel_zaengl_kv(pressure_bar, gap_mm, temperature_k)
    assert gap.uniform_field_kuffel_zaengl_kv(pressure_bar * factor, gap_mm, temperature_k) > kv
    assert gap.uniform_field_kuffel_zaengl_kv(pressure_bar, gap_mm * factor, temperature_k) > kv
    assert gap.uniform_field_kuffel_zaengl_kv(pressure_bar, gap_mm, temperature_k * factor) < kv


@given(st.floats(0.3, 40.0), st.floats(0.2, 30.0), st.floats(250.0, 3000.0))
def test_only_density_counts(pressure_bar: float, gap_mm: float, temperature_k: float) -> None:
    same = gap.uniform_field_kuffel_zaengl_kv(2 * pressure_bar, gap_mm, 2 * temperature_k)
    assert same == pytest.approx(gap.uniform_field_kuffel_zaengl_kv(pressure_bar, gap_mm, temperature_k))


def test_arrays_equal_scalars() -> None:
    gaps = np.array([0.5, 1.0, 5.0])
    whole = np.asarray(gap.uniform_field_kuffel_zaengl_kv(2.0, gaps, 400.0))
    each = [float(gap.uniform_field_kuffel_zaengl_kv(2.0, float(mm), 400.0)) for mm in gaps]
    assert whole.tolist() == pytest.approx(each)


def ways(right_gap_mm: float, wrong_gap_mm: float, right_plug_kv: float) -> gap.Paths:
    return gap.paths(
        right_gap_mm=right_gap_mm,
        wrong_gap_mm=wrong_gap_mm,
        cap_pressure_bar=1.013,
        cap_temperature_k=293.0,
        right_plug_kv=right_plug_kv,
        wrong_plug_kv=3.0,
    )


def test_paths_add_up_by_hand() -> None:
    """EL-10 and EL-11 put together: 4.6065 + 9 kV against 0.45 x 31.44 + 3 and 31.44 + 3."""
    both = ways(1.0, 10.0, 9.0)
    assert both.right_kv == pytest.approx(13.6065, abs=0.01)
    assert both.wrong_low_kv == pytest.approx(17.148, abs=0.02)
    assert both.wrong_high_kv == pytest.approx(34.44, abs=0.03)
    assert both.margin_kv == pytest.approx(3.54, abs=0.03)
    assert both.ratio == pytest.approx(1.26, abs=0.01)
    assert both.state == "good"


@pytest.mark.parametrize(("right_plug_kv", "state"), [(9.0, "good"), (16.0, "look"), (40.0, "problem")])
def test_state_of_the_margin(right_plug_kv: float, state: str) -> None:
    assert ways(1.0, 10.0, right_plug_kv).state == state


def test_a_tip_that_has_left_its_post_loses_the_margin() -> None:
    assert ways(1.0, 10.0, 9.0).state == "good"
    assert ways(4.0, 10.0, 9.0).state == "look"
    assert ways(8.0, 4.0, 9.0).state == "problem"


@pytest.mark.parametrize(
    ("diameter_mm", "gap_mm", "message"),
    [
        (0.0, 1.0, "diameter_mm = 0.0: must be above 0 mm"),
        (20.0, 25.0, "gap_mm = 25.0: must be above 0 and at most the diameter, 20 mm"),
    ],
)
def test_sphere_gap_refusals(diameter_mm: float, gap_mm: float, message: str) -> None:
    with pytest.raises(PhysicsError) as refused:
        gap.sphere_gap_kv(diameter_mm, gap_mm)
    assert str(refused.value) == message


def test_path_refusals() -> None:
    with pytest.raises(PhysicsError, match=r"^right_gap_mm = 0\.0: must be above 0$"):
        ways(0.0, 10.0, 9.0)
    with pytest.raises(PhysicsError, match=r"^right_plug_kv = -1\.0: must not be below 0$"):
        ways(1.0, 10.0, -1.0)
    with pytest.raises(PhysicsError, match=r"^wrong_gap_mm = nan: must be above 0$"):
        ways(1.0, math.nan, 9.0)


def test_pressure_times_gap_is_that_of_gas_at_the_reference_temperature() -> None:
    """By hand: 100 bar over 4 cm are 400 bar cm; gas twice as hot is half as dense."""
    assert gap.pressure_times_gap_bar_cm(100.0, 40.0, 293.0) == pytest.approx(400.0)
    assert gap.pressure_times_gap_bar_cm(100.0, 40.0, 586.0) == pytest.approx(200.0)
    with pytest.raises(PhysicsError, match=r"^temperature_k = 0\.0: must be above 0$"):
        gap.pressure_times_gap_bar_cm(1.0, 1.0, 0.0)


def test_formulas_compile_unchanged() -> None:
    assert numba.njit(gap.uniform_field_kuffel_zaengl_kv)(1.013, 10.0, 293.0) == pytest.approx(
        31.44, rel=5e-3
    )
    assert numba.njit(gap.relative_air_density_iec60052)(950.0, 30.0) == pytest.approx(0.90686, abs=5e-4)
    assert numba.njit(gap.sphere_gap_peek_kv)(100.0, 50.0, 1.0) == pytest.approx(123.0, rel=0.03)
