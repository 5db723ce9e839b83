"""What holds for every job: drawn engines, fuels, rotors and axes, with small maps."""

from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from planning_jobs import BOOSTED_V8, ORDINARY_V8, PUMP_HOUSE, on_axes
from sparkwright.check.rotor import rotor_cap
from sparkwright.cycle.shapes import SHAPES
from sparkwright.job import Job
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.hand import set_by_hand
from sparkwright.plan.hooks import FIRST_DEG, POINT_ADVANCE_DEG, hook_at
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planner import plan, planned_without_hand
from sparkwright.plan.result import PlanResult

FEW = settings(deadline=None, max_examples=6)
MORE = settings(deadline=None, max_examples=40)
SPEEDS = st.lists(st.integers(4, 60), min_size=2, max_size=4, unique=True).map(
    lambda hundreds: sorted([*(100 * each for each in hundreds if each > 8), 800, 700])[:4]
)
LOADS = st.lists(st.integers(6, 18), min_size=2, max_size=4, unique=True).map(
    lambda tens: sorted(10 * each for each in tens)
)
CHAMBERS = st.sampled_from(list(SHAPES))


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    """A job about as people have them, boosted or not, on a small map."""

    def number(low: float, high: float, places: int = 1) -> float:
        return round(draw(st.floats(low, high)), places)

    job = (
        draw(st.sampled_from([ORDINARY_V8, BOOSTED_V8]))
        .changed("engine", compression_ratio=number(6.0, 11.0), chamber=draw(CHAMBERS))
        .changed("fuel", ron=number(75.0, 102.0), mon=None)
        .changed(
            "distributor",
            base_deg=number(0.0, 20.0),
            rotor_phase_deg=number(-2.0, 8.0),
            tip_width=f"{number(4.0, 12.0)} mm",
        )
        .changed(
            "limits",
            knock_margin_deg=number(0.0, 8.0),
            idle_reserve_deg=number(0.0, 12.0),
            slope_deg_per_500rpm=number(1.0, 20.0),
            slope_deg_per_10kpa=number(1.0, 20.0),
            max_advance_deg=draw(st.sampled_from([None, 20, 34.5])),
        )
        .changed("controller", step_deg=draw(st.sampled_from([0.1, 0.25, 0.5, 1.0])))
    )
    return on_axes(job, draw(SPEEDS), draw(LOADS))


def bits(result: PlanResult) -> list[bytes]:
    ceilings = result.cells.ceilings
    arrays = (
        result.cells.spark_map.rpm,
        result.cells.spark_map.kpa,
        result.cells.spark_map.advance_deg,
        result.cells.sigma_deg,
        result.cells.smoothed_deg,
        result.cells.torque_nm,
        ceilings.best_deg,
        ceilings.knock_deg,
        ceilings.reach_deg,
        ceilings.limit_deg,
    )
    said = (result.cells.held_by, result.headline, result.problems, result.warnings)
    return [array.tobytes() for array in arrays] + [repr(said).encode()]


@FEW
@given(job=jobs())
def test_no_cell_over_any_ceiling_ever(job: Job) -> None:
    result = plan(job)
    value, ceilings = result.cells.spark_map.advance_deg, result.cells.ceilings
    assert np.isfinite(value).all()
    for ceiling in (ceilings.best_deg, ceilings.knock_deg, ceilings.reach_deg, ceilings.limit_deg):
        bounded = np.isfinite(ceiling)
        assert np.all(value[bounded] <= ceiling[bounded])
    # Where the charge knocks at every tested advance the cell is as late as a limit can be known.
    latest_deg = FIRST_DEG - job.limits.knock_margin_deg
    assert np.all(value[np.isneginf(ceilings.knock_deg)] <= latest_deg)


@FEW
@given(job=jobs(), data=st.data())
def test_cells_set_by_hand_are_exact_and_no_other_cell_moves_or_stands_over_a_ceiling(
    job: Job, data: st.DataObject
) -> None:
    planned = planned_without_hand(job)
    rpm, kpa, step = planned.cells.spark_map.rpm, planned.cells.spark_map.kpa, job.controller.step_deg
    places = data.draw(
        st.dictionaries(
            st.tuples(st.integers(0, kpa.size - 1), st.integers(0, rpm.size - 1)),
            st.integers(0, int(50 / step)).map(lambda steps: steps * step),
            min_size=1,
        )
    )
    changed = job.with_hand(
        [
            {"rpm": float(rpm[j]), "kpa": float(kpa[i]), "advance_deg": value}
            for (i, j), value in places.items()
        ]
    )
    result = set_by_hand(planned, changed)
    by_hand = np.zeros(result.cells.by_hand.shape, dtype=bool)
    for place, value in places.items():
        by_hand[place] = True
        assert result.cells.spark_map.advance_deg[place] == value
    assert np.array_equal(result.cells.by_hand, by_hand)
    assert np.array_equal(
        result.cells.spark_map.advance_deg[~by_hand], planned.cells.spark_map.advance_deg[~by_hand]
    )
    over = np.zeros_like(by_hand)
    for name in ("knock_deg", "reach_deg", "limit_deg"):
        above = np.nan_to_num(
            result.cells.spark_map.advance_deg - getattr(result.cells.ceilings, name), nan=-1.0
        )
        # Where the charge knocks at every tested advance, see above.
        assert np.all(above[~by_hand & ~np.isneginf(getattr(result.cells.ceilings, name))] <= 0.0)
        over |= by_hand & (above > TELLABLE_DEG)
    assert np.array_equal(result.cells.over_ceiling, over)
    assert {(each.rpm, each.kpa) for each in result.over} == {(rpm[j], kpa[i]) for i, j in np.argwhere(over)}
    assert bits(plan(changed)) == bits(result)


@settings(deadline=None, max_examples=4)
@given(job=jobs())
def test_the_same_job_gives_the_same_plan_to_the_last_bit(job: Job) -> None:
    first = bits(plan(job))
    assert bits(plan(job)) == first
    assert bits(plan(Job.from_toml(job.to_toml()))) == first, "and so does its file"


@MORE
@given(
    boosted=st.booleans(),
    ratio=st.floats(7.0, 11.0),
    octane=st.floats(78.0, 100.0),
    more=st.floats(0.1, 8.0),
    rpm=st.floats(600.0, 5000.0),
    kpa=st.floats(50.0, 170.0),
)
def test_more_octane_never_lowers_the_knock_limit(
    boosted: bool, ratio: float, octane: float, more: float, rpm: float, kpa: float
) -> None:
    job = (BOOSTED_V8 if boosted else ORDINARY_V8).changed("engine", compression_ratio=round(ratio, 2))

    def limit_deg(ron: float) -> float:
        physics = physics_of(job.changed("fuel", ron=round(ron, 2), mon=round(ron - 9.0, 2)))
        limit = hook_at(physics, rpm, kpa, POINT_ADVANCE_DEG).knock_limit_deg
        return np.inf if np.isnan(limit) else limit

    assert limit_deg(octane + more) >= limit_deg(octane)


@MORE
@given(
    phase_deg=st.floats(-2.0, 8.0),
    tip_mm=st.floats(3.0, 9.0),
    post_mm=st.floats(2.0, 4.0),
    tip_more_mm=st.floats(0.0, 3.0),
    post_more_mm=st.floats(0.0, 3.0),
)
def test_a_wider_tip_or_post_never_loses_reach(
    phase_deg: float, tip_mm: float, post_mm: float, tip_more_mm: float, post_more_mm: float
) -> None:
    def reach(tip: float, post: float) -> tuple[float, float]:
        job = PUMP_HOUSE.changed(
            "distributor", rotor_phase_deg=phase_deg, tip_width=f"{tip} mm", post_width=f"{post} mm"
        )
        found = rotor_cap(job).reach()
        return found.least_deg, found.most_deg

    least, most = reach(tip_mm, post_mm)
    for wider in (reach(tip_mm + tip_more_mm, post_mm), reach(tip_mm, post_mm + post_more_mm)):
        assert wider[0] <= least
        assert wider[1] >= most


@settings(deadline=None, max_examples=4)
@given(tip_mm=st.sampled_from([4.0, 5.0, 6.0, 8.0]), rpm=SPEEDS)
def test_a_wider_tip_never_lowers_a_cell(tip_mm: float, rpm: list[float]) -> None:
    """Cell by cell, for a controller that takes the nearest: between straight lines a higher cell may ask a
    corner beside it to stand lower, so that there only the map as a whole is not lowered."""
    job = on_axes(PUMP_HOUSE, rpm, [40, 60, 85]).changed("controller", between="nearest cell")
    narrow = plan(job.changed("distributor", tip_width=f"{tip_mm} mm")).cells.spark_map.advance_deg
    wide = plan(job.changed("distributor", tip_width=f"{tip_mm + 2.0} mm")).cells.spark_map.advance_deg
    assert np.all(wide >= narrow)


SAME_IN_OTHER_UNITS: list[tuple[str, dict[str, Any], dict[str, Any]]] = [
    ("engine", {"bore": "3.921 in", "stroke": "3.618 in"}, {"bore": "99.5934 mm", "stroke": "9.18972 cm"}),
    ("site", {"air_temperature": "68 degF"}, {"air_temperature": "20 degC"}),
    ("distributor", {"tip_width": "0.25 in"}, {"tip_width": "6.35 mm"}),
]


@settings(deadline=None, max_examples=3)
@given(which=st.sampled_from(SAME_IN_OTHER_UNITS))
def test_the_unit_a_value_is_given_in_changes_nothing(
    which: tuple[str, dict[str, Any], dict[str, Any]],
) -> None:
    """Inch and degree Fahrenheit as NIST SP 811 (2008) defines them: 25.4 mm, (F - 32) / 1.8."""
    section, one, other = which
    job = on_axes(PUMP_HOUSE, [700, 2000], [40, 85])
    first, second = job.changed(section, **one), job.changed(section, **other)
    assert first.fingerprint == second.fingerprint
    assert bits(plan(first)) == bits(plan(second))
