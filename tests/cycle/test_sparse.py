"""Best and knock limit from few cycles, held against whole hooks of fine steps."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from reference_engines import MILD_CAM, RADICAL_CAM, REGULAR, WARM_AIR, wedge_v8
from sparkwright.cycle.belief import PRIOR
from sparkwright.cycle.charge import charge_at, charges_at
from sparkwright.cycle.engine import Engine
from sparkwright.cycle.hook import best_spark, hook_trace, knock_limit_deg
from sparkwright.cycle.sparse import KNOCK_SPAN_DEG, LATTICE_DEG, SparseHooks, _fourth, _top_of_cubic
from sparkwright.errors import PhysicsError

FINE_DEG = np.linspace(-4.0, 60.0, 257)
ENGINES = (wedge_v8(), wedge_v8(RADICAL_CAM), wedge_v8(MILD_CAM, 8.0))


def drawn(count: int) -> list[tuple[Engine, dict[str, Any]]]:
    """Engines at speeds, loads and mixtures spread over what a map holds."""
    random = np.random.default_rng(11)
    found = []
    for _ in range(count):
        kpa = float(random.uniform(30.0, 100.0))
        place = {
            "speed_rpm": float(random.uniform(600.0, 6000.0)),
            "map_kpa": kpa,
            "mixture_lambda": 1.0 if kpa < 75.0 else 0.87,
        }
        found.append((ENGINES[int(random.integers(3))], place))
    return found


PLACES = drawn(40)


def sparse(engine: Engine, place: dict[str, Any]) -> SparseHooks:
    return SparseHooks(engine, WARM_AIR, REGULAR, PRIOR.constants, **place)


def test_best_and_knock_are_those_of_257_advances() -> None:
    """Our own bounds: best within 0.1 deg at 95 % of places, 0.2 at worst; the limit near best within 0.3."""
    off_best, off_knock = [], []
    for engine, place in PLACES:
        fine = hook_trace(engine, WARM_AIR, REGULAR, PRIOR.constants, advance_deg=FINE_DEG, **place)
        top = best_spark(FINE_DEG, fine.torque_nm)
        if top.at_edge:
            continue
        hook = sparse(engine, place)
        best_deg, torque_nm = hook.best(25.0)
        off_best.append(abs(best_deg - top.best_deg))
        assert torque_nm == pytest.approx(top.best_torque_nm, rel=5e-4, abs=0.02)
        limit = knock_limit_deg(FINE_DEG, np.maximum.accumulate(fine.knock_integral))
        if np.isfinite(limit) and limit < top.best_deg + 6.0:
            off_knock.append(abs(hook.knock(0.0) - limit))
    assert len(off_best) >= 30
    assert len(off_knock) >= 8
    assert np.percentile(off_best, 95) < 0.1
    assert max(off_best) < 0.2
    assert max(off_knock) < 0.3


def test_few_cycles_are_run() -> None:
    """A whole hook of the lattice has 17; from a poor guess some 8 are run, from a neighbour about 5."""
    counts = []
    for engine, place in PLACES:
        hook = sparse(engine, place)
        hook.best(28.0)
        hook.knock(-0.2)
        counts.append(hook.cycles)
    assert LATTICE_DEG.size == 17
    assert np.median(counts) <= 8


@pytest.mark.parametrize("guess_deg", [-4.0, 12.0, 36.0, 60.0])
def test_where_the_search_begins_moves_nothing(guess_deg: float) -> None:
    for engine, place in PLACES[:10]:
        usual, other = sparse(engine, place), sparse(engine, place)
        assert other.best(guess_deg) == usual.best(28.0)
        assert other.knock(-0.1) == usual.knock(-0.1) or np.isnan(usual.knock(-0.1))
        assert other.at(22.2) == usual.at(22.2)


def test_what_was_asked_before_moves_nothing() -> None:
    engine, place = PLACES[3]
    asked = sparse(engine, place)
    for advance_deg in (5.0, 50.0, 18.0):
        asked.at(advance_deg)
    fresh = sparse(engine, place)
    assert asked.best(30.0) == fresh.best(30.0)
    assert asked.at(31.0) == fresh.at(31.0)


def test_torque_and_knock_at_an_advance_are_those_of_the_whole_hook() -> None:
    """Between the nodes a cubic: within 0.25 % of the best torque, and 1 % of the integral."""
    engine = wedge_v8()
    place: dict[str, Any] = {"speed_rpm": 2000.0, "map_kpa": 95.0, "mixture_lambda": 0.87}
    advance_deg = np.array([3.0, 14.5, 27.3, 41.0])
    whole = hook_trace(engine, WARM_AIR, REGULAR, PRIOR.constants, advance_deg=advance_deg, **place)
    hook = sparse(engine, place)
    best_nm = hook.best(25.0)[1]
    for i, advance in enumerate(advance_deg.tolist()):
        torque_nm, ln_integral, burned = hook.at(advance)
        assert torque_nm == pytest.approx(whole.torque_nm[i], abs=2.5e-3 * float(best_nm))
        assert ln_integral == pytest.approx(np.log(whole.knock_integral[i]), abs=1e-2)
        assert burned == pytest.approx(whole.burned_share[i], abs=2e-3)
        spark_k, spark_pa = hook.spark_at(advance)
        assert spark_k == pytest.approx(whole.spark_k[i], rel=0.02)
        assert spark_pa == pytest.approx(1e5 * whole.spark_bar[i], rel=0.02)


def test_a_charge_that_never_knocks_has_no_limit_and_one_that_always_does_has_none_either() -> None:
    light = sparse(wedge_v8(), {"speed_rpm": 4000.0, "map_kpa": 40.0, "mixture_lambda": 1.0})
    light.best(40.0)
    assert np.isnan(light.knock(0.0))
    heavy = sparse(wedge_v8(), {"speed_rpm": 1500.0, "map_kpa": 100.0, "mixture_lambda": 0.87})
    heavy.best(20.0)
    assert heavy.knock(-3.0) == float("-inf")


def test_a_limit_is_looked_for_a_little_beyond_best_only() -> None:
    hook = sparse(wedge_v8(), {"speed_rpm": 3000.0, "map_kpa": 60.0, "mixture_lambda": 1.0})
    best_deg, _ = hook.best(35.0)
    limit = hook.knock(hook.at(best_deg + KNOCK_SPAN_DEG + 8.0)[1])
    assert np.isnan(limit)


def test_torque_that_rises_to_the_last_advance_says_so() -> None:
    lean = {"speed_rpm": 5500.0, "map_kpa": 30.0, "mixture_lambda": 1.4}
    assert sparse(wedge_v8(RADICAL_CAM), lean).best(50.0)[0] == 60.0


def test_torque_is_smooth_over_advance_also_for_a_late_spark() -> None:
    """Charge that comes back from the crevices before the flame has grown doesn't all burn at once.

    By the third differences: a corner in the hook would stand out of them.
    """
    advance_deg = np.arange(-6.0, 45.1, 1.0)
    hook = hook_trace(
        wedge_v8(), WARM_AIR, REGULAR, PRIOR.constants, speed_rpm=3000.0, map_kpa=85.0, mixture_lambda=0.88,
        advance_deg=advance_deg,
    )  # fmt: skip
    third = np.abs(np.diff(hook.torque_nm, 3))
    assert third.max() < 0.002 * hook.torque_nm.max()


def test_a_place_gives_the_same_whatever_stands_beside_it() -> None:
    """To the last digit: a cell of a map, the point of its speed and load, and a row of any length agree."""
    engine = wedge_v8()
    speed = np.array([700.0, 1500.0, 2600.0, 3100.0, 4700.0, 5900.0])
    kpa = np.array([38.0, 45.0, 95.0, 70.0, 60.0, 88.0])
    mixture = np.array([0.97, 1.0, 0.87, 0.98, 1.0, 0.87])
    row = SparseHooks(
        engine, WARM_AIR, REGULAR, PRIOR.constants, speed_rpm=speed, map_kpa=kpa, mixture_lambda=mixture
    )
    best_deg, best_nm = row.best(28.0)
    knock_deg, read = row.knock(-0.2), row.at(21.3)
    for i in range(speed.size):
        place = {
            "speed_rpm": float(speed[i]),
            "map_kpa": float(kpa[i]),
            "mixture_lambda": float(mixture[i]),
        }
        alone = sparse(engine, place)
        assert tuple(map(float, alone.best(40.0))) == (best_deg[i], best_nm[i])
        assert np.array_equal(alone.knock(-0.2), knock_deg[i], equal_nan=True)
        assert tuple(map(float, alone.at(21.3))) == tuple(float(each[i]) for each in read)
        assert alone.residual_share == row.residual_share[i]


def test_a_row_is_searched_from_where_its_neighbour_was_found() -> None:
    """A guess far off costs its cycles at the first place only."""
    speed = np.linspace(2400.0, 2500.0, 5)
    far, near = (
        SparseHooks(
            wedge_v8(), WARM_AIR, REGULAR, PRIOR.constants, speed_rpm=speed, map_kpa=80.0, mixture_lambda=0.95
        )
        for _ in range(2)
    )
    found = far.best(4.0)
    np.testing.assert_array_equal(found, near.best(found[0]))
    assert far.cycles[0] > near.cycles[0]
    np.testing.assert_array_equal(far.cycles[1:], near.cycles[1:])


def test_charges_of_several_places_are_those_of_each() -> None:
    """The same formulas on numbers and on arrays, whose powers may differ in the last digit."""
    speed, kpa = np.array([700.0, 2600.0, 5900.0]), np.array([38.0, 95.0, 70.0])
    mixture = np.array([0.97, 0.87, 1.0])
    air = replace(WARM_AIR, intake_k=np.array([300.0, 310.0, 335.0]))
    facts = (wedge_v8(), air, REGULAR, PRIOR.constants)
    charges, share = charges_at(*facts, speed_rpm=speed, map_kpa=kpa, mixture_lambda=mixture)
    for i in range(speed.size):
        alone, its_share = charge_at(
            facts[0],
            replace(WARM_AIR, intake_k=(300.0, 310.0, 335.0)[i]),
            *facts[2:],
            speed_rpm=float(speed[i]),
            map_kpa=float(kpa[i]),
            mixture_lambda=float(mixture[i]),
        )
        assert share[i] == pytest.approx(its_share, rel=1e-13)
        for name, value in alone._asdict().items():
            np.testing.assert_allclose(charges[name][i], value, rtol=1e-12, err_msg=name)


def test_a_speed_of_nothing_among_others_is_refused_by_its_value() -> None:
    facts = (wedge_v8(), WARM_AIR, REGULAR, PRIOR.constants)
    loads = np.array([60.0, 60.0, 60.0])
    with pytest.raises(PhysicsError, match=r"^speed_rpm = -2\.0: must be above 0$"):
        charges_at(*facts, speed_rpm=np.array([800.0, -2.0, 0.0]), map_kpa=loads, mixture_lambda=np.ones(3))


def test_the_top_of_a_cubic_is_where_algebra_puts_it() -> None:
    """Cubics made from a known top, ``h - k (x - t)^2 + m (x - t)^3``; a parabola and a line among them."""
    x = np.arange(4.0)
    for top, bend, skew in (
        (1.3, 2.0, 0.1),
        (1.9, 1e-3, -2e-4),
        (2.2, 5.0, 0.0),
        (0.6, 1.0, 0.2),
        (1.5, 0.5, -0.2),
    ):
        values = 300.0 - bend * (x - top) ** 2 + skew * (x - top) ** 3
        place, height = _top_of_cubic(values, round(top))
        assert place == pytest.approx(top, abs=1e-9)
        assert height == pytest.approx(300.0, rel=1e-12)
    assert _top_of_cubic(10.0 + 3.0 * x, 2.0) == pytest.approx((3.0, 19.0), rel=1e-12)
    assert _top_of_cubic(10.0 - 3.0 * x, 1.0) == pytest.approx((0.0, 10.0), rel=1e-12)


def test_the_cubic_about_a_top_is_that_of_all_five_torques_where_they_lie_on_one() -> None:
    x = np.arange(-2.0, 3.0)
    for top in (-0.45, 0.0, 0.3, 0.5):
        torque = 300.0 - 2.0 * (x - top) ** 2 + 0.1 * (x - top) ** 3
        assert _fourth(torque) == pytest.approx(torque[4], rel=1e-12)
    assert _fourth(np.full(5, 300.0)) == pytest.approx(300.0), "a torque without a top"


def test_the_cubic_about_a_top_changes_sides_without_a_jump() -> None:
    """By algebra: midway between two nodes either is the top, and the four about them are what counts."""
    torque = np.array([260.0, 285.0, 299.0, 299.0, 288.0, 250.0])
    assert _fourth(torque[:5]) == torque[4]
    before = torque[1] - 4.0 * torque[2] + 6.0 * torque[3] - 4.0 * torque[4]
    assert _fourth(torque[1:]) == pytest.approx(-before, rel=1e-12), "as a cubic through the four goes on"
    steady = np.array([270.0, 295.0, 300.0, 295.0, 260.0])
    assert _fourth(steady) == 0.5 * (260.0 + (4.0 * (295.0 + 295.0) - 6.0 * 300.0 - 270.0))


@pytest.mark.parametrize("engine", ENGINES)
def test_best_is_a_smooth_line_over_load(engine: Engine) -> None:
    """Without the jump that a cubic through other nodes makes, where best passes a node of the lattice."""
    kpa = np.arange(40.0, 74.0, 0.25)
    hooks = SparseHooks(
        engine, WARM_AIR, REGULAR, PRIOR.constants, speed_rpm=1200.0, map_kpa=kpa, mixture_lambda=1.0
    )
    best, _ = hooks.best(25.0)
    assert np.ptp(best) > 4.0
    assert np.abs(np.diff(best, 2)).max() < 0.01


def test_nothing_is_said_beyond_the_lattice() -> None:
    hook = sparse(wedge_v8(), {"speed_rpm": 2000.0, "map_kpa": 60.0, "mixture_lambda": 1.0})
    for advance_deg in (-4.1, 60.1, float("nan")):
        assert all(np.isnan(each) for each in hook.at(advance_deg))
    assert hook.cycles == 0
