"""Best and knock limit from few cycles, held against whole hooks of fine steps."""

from __future__ import annotations

import numpy as np
import pytest

from reference_engines import MILD_CAM, RADICAL_CAM, REGULAR, WARM_AIR, wedge_v8
from sparkwright.cycle.belief import PRIOR
from sparkwright.cycle.engine import Engine
from sparkwright.cycle.hook import best_spark, hook_trace, knock_limit_deg
from sparkwright.cycle.sparse import KNOCK_SPAN_DEG, LATTICE_DEG, SparseHook

FINE_DEG = np.linspace(-4.0, 60.0, 257)
ENGINES = (wedge_v8(), wedge_v8(RADICAL_CAM), wedge_v8(MILD_CAM, 8.0))


def drawn(count: int) -> list[tuple[Engine, dict[str, float]]]:
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


def sparse(engine: Engine, place: dict[str, float]) -> SparseHook:
    return SparseHook(engine, WARM_AIR, REGULAR, PRIOR.constants, **place)


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
    engine, place = wedge_v8(), {"speed_rpm": 2000.0, "map_kpa": 95.0, "mixture_lambda": 0.87}
    advance_deg = np.array([3.0, 14.5, 27.3, 41.0])
    whole = hook_trace(engine, WARM_AIR, REGULAR, PRIOR.constants, advance_deg=advance_deg, **place)
    hook = sparse(engine, place)
    best_nm = hook.best(25.0)[1]
    for i, advance in enumerate(advance_deg.tolist()):
        torque_nm, ln_integral, burned = hook.at(advance)
        assert torque_nm == pytest.approx(whole.torque_nm[i], abs=2.5e-3 * best_nm)
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
