"""Trims by temperature, height and fuel: under every ceiling at every stated condition, or it is said."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planned import plan_of
from planning_jobs import BOOSTED_SIX, ORDINARY_V8, PUMP_HOUSE, on_axes
from sparkwright.cycle.filling import fresh_charge_k
from sparkwright.errors import Refusal
from sparkwright.job import Job
from sparkwright.plan.between import LEFT_DEG, stands_over
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.conditions import Name, Way, job_at, job_under, own_place, places_of, ways_of
from sparkwright.plan.driven import driven, values_asked
from sparkwright.plan.idle_block import idle_block
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planner import plan, planned_without_hand
from sparkwright.plan.result import PlanResult
from sparkwright.plan.spark_map import SparkMap
from sparkwright.plan.trim_programme import SPARED, Room, highest_trims
from sparkwright.plan.trims import Trim, Trims, trims
from telling import action_of, sentence_of

ALL_STATED = {
    "coldest_air": "-10 degC",
    "hottest_air": "42 degC",
    "hottest_coolant": "108 degC",
    "highest_altitude": "2200 m",
    "other_ron": 91,
    "other_mon": 82,
}
SMALL_V8 = on_axes(ORDINARY_V8, [700, 1500, 3000, 5000], [35, 60, 80, 98])
SMALL_SIX = on_axes(BOOSTED_SIX, [850, 2400, 4000, 6000], [35, 70, 95, 130, 165])


def found(job: Job) -> tuple[PlanResult, Trims]:
    planned = plan_of(job)
    return planned, trims(job, planned)


def lowest(result: PlanResult) -> np.ndarray:
    """The lowest ceiling of each cell that a running engine meets and that doesn't knock anyhow."""
    ceilings = result.cells.ceilings
    stack = [ceilings.best_deg, ceilings.knock_deg, ceilings.reach_deg, ceilings.limit_deg]
    least = np.nanmin(np.stack(stack), axis=0)
    return np.where(result.cells.met & ~np.isneginf(ceilings.knock_deg), least, np.inf)


@pytest.mark.parametrize("job", [SMALL_V8, SMALL_SIX], ids=["V8", "boosted six"])
def test_map_and_trims_stay_under_every_ceiling_planned_at_each_corner(job: Job) -> None:
    """Held against a plan made at the condition itself, with no part of the trims."""
    stated = job.changed("conditions", **ALL_STATED)
    planned, result = found(stated)
    ways = ways_of(stated)
    places = places_of(ways)
    assert sum(each.corner for each in result.checks) >= 8
    for place, check in zip(places, result.checks, strict=True):
        there = job_at(stated, ways, place)
        values = {way.name: way.values[at] for way, at in zip(ways, place, strict=True)}
        over = result.advance_deg({str(name): value for name, value in values.items()}) - lowest(plan(there))
        assert over.max() <= TELLABLE_DEG
        assert check.over_deg <= TELLABLE_DEG
    assert result.headline.state == "good"
    assert np.array_equal(result.spark_map.advance_deg, idle_block(stated, planned).spark_map.advance_deg)


def over_between(stated: Job, result: Trims, place: tuple[int, ...]) -> float:
    """How far map plus trims stands over the ceilings planned at a place, on that plan's own fine grid."""
    ways = ways_of(stated)
    there = plan(job_at(stated, ways, place))
    grid, spark_map = there.cells.between.grid, result.spark_map
    assert grid is not None
    values = {str(way.name): way.values[at] for way, at in zip(ways, place, strict=True)}
    map_there = SparkMap(spark_map.rpm, spark_map.kpa, result.advance_deg(values))
    made = np.array([[map_there.at(rpm, kpa) for rpm in grid.rpm.tolist()] for kpa in grid.kpa.tolist()])
    out = ~there.cells.met | np.isneginf(there.cells.ceilings.knock_deg)
    # Where a cell about a point knocks anyhow, or no engine runs there, nothing is promised between.
    touched = SparkMap(spark_map.rpm, spark_map.kpa, out.astype(float))
    unsaid = (
        np.array([[touched.at(rpm, kpa) for rpm in grid.rpm.tolist()] for kpa in grid.kpa.tolist()]) > 0.0
    )
    return float(np.where(unsaid, -np.inf, made - grid.lowest_deg).max())


@pytest.mark.parametrize("trimmed", [True, False], ids=["with an air trim", "without"])
def test_map_and_trims_stay_under_every_ceiling_between_cells_too(trimmed: bool) -> None:
    """On axes so coarse that straight lines between trims that fit the cells would cross knock."""
    stated = SMALL_SIX.changed("conditions", hottest_air="45 degC", coldest_air="-5 degC", air_trim=trimmed)
    _, result = found(stated)
    for place in places_of(ways_of(stated)):
        assert over_between(stated, result, place) <= TELLABLE_DEG
    assert max(each.over_deg for each in result.checks) <= TELLABLE_DEG


@settings(deadline=None, max_examples=3)
@given(air_c=st.integers(30, 50), load=st.integers(70, 92), speed=st.integers(1200, 2600))
def test_on_drawn_axes_map_and_trims_stay_under_every_ceiling_between_cells(
    air_c: int, load: int, speed: int
) -> None:
    drawn = on_axes(ORDINARY_V8, [700, speed, 5000], [35, load, 98])
    stated = drawn.changed("conditions", hottest_air=f"{air_c} degC")
    result = trims(stated, plan(stated))
    for place in places_of(ways_of(stated)):
        assert over_between(stated, result, place) <= TELLABLE_DEG


def test_trims_add_nothing_at_the_jobs_own_condition() -> None:
    stated = SMALL_V8.changed("conditions", **ALL_STATED)
    planned, result = found(stated)
    own = {way.name: way.values[way.own] for way in ways_of(stated)}
    own_deg = result.advance_deg({str(name): value for name, value in own.items()})
    typed_deg = idle_block(stated, planned).spark_map.advance_deg
    assert own_deg.tobytes() == typed_deg.tobytes()
    assert result.advance_deg({}).tobytes() == typed_deg.tobytes()


def test_conditions_change_no_plan() -> None:
    stated = SMALL_V8.changed("conditions", **ALL_STATED)
    assert np.array_equal(
        plan_of(stated).cells.spark_map.advance_deg, plan_of(SMALL_V8).cells.spark_map.advance_deg
    )


def test_a_hot_day_takes_timing_out_where_knock_holds() -> None:
    _, result = found(SMALL_V8.changed("conditions", hottest_air="45 degC"))
    (trim,) = result.trims
    assert trim.name == "air temperature"
    assert trim.values[-1] == 45.0
    assert trim.at(45.0)[-1] < 0.0, "full load"
    assert trim.sensor[-1] > 45.0, "the air in the manifold is warmer than outside"
    assert trim.at(60.0).tolist() == trim.at(45.0).tolist(), "held beyond its end"


def test_a_worse_fuel_takes_out_what_planning_on_it_does() -> None:
    planned, result = found(SMALL_V8.changed("conditions", other_ron=90, other_mon=82))
    worse = plan(job_under(SMALL_V8.changed("conditions", other_ron=90, other_mon=82), {"fuel": 100.0}))
    grid, spark_map = worse.cells.between.grid, planned.cells.spark_map
    assert grid is not None
    _, over = stands_over(spark_map.advance_deg, spark_map.rpm, spark_map.kpa, grid, "straight lines")
    off = result.trims[0].at(100.0)
    # One number serves the upper loads and what lies between them.
    need = -float(over[grid.kpa >= spark_map.kpa[-2]].max()) + LEFT_DEG
    assert off[-1] == pytest.approx(min(0.0, need), abs=SMALL_V8.controller.step_deg + 1e-9)


def test_a_controller_without_trims_gets_the_map_of_its_worst_day() -> None:
    without = SMALL_SIX.changed("conditions", hottest_air="45 degC", air_trim=False)
    planned, result = found(without)
    assert result.trims == ()
    hot = plan(job_under(without, {"air temperature": 45.0}))
    assert np.all(result.spark_map.advance_deg <= lowest(hot) + 1e-9)
    assert np.all(result.spark_map.advance_deg <= idle_block(without, planned).spark_map.advance_deg)
    (cost,) = [each for each in result.warnings if each.kind == "trims.worst-day"]
    assert cost.numbers["untrimmed"] == ("air temperature",)
    assert "which costs up to" in sentence_of(cost)
    with_trim = trims(SMALL_SIX.changed("conditions", hottest_air="45 degC"), planned)
    assert np.any(with_trim.spark_map.advance_deg > result.spark_map.advance_deg)


def test_a_job_that_states_no_condition_is_asked_for_one() -> None:
    with pytest.raises(Refusal) as refusal:
        trims(SMALL_V8, plan_of(SMALL_V8))
    assert refusal.value.sentences == (
        "conditions (not given): must state at least one day, height, engine temperature or fuel beside the "
        'job\'s own; for example hottest_air = "40 degC" in the section conditions',
    )


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ([20.0, 20.0], "must be at least two finite values that rise"),
        ([40.0, 20.0], "must be at least two finite values that rise"),
        ([20.0], "must be at least two finite values that rise"),
        ([20.0, 30.0, 40.0], "must fit its values and loads"),
    ],
)
def test_a_trim_whose_axis_doesnt_rise_is_refused(values: list[float], said: str) -> None:
    with pytest.raises(Refusal, match=said):
        Trim("fuel", "%", values, values, [40.0, 90.0], [0.0, -1.0], [0.5, 1.0])  # type: ignore[arg-type]


def test_spans_the_wrong_way_round_are_refused() -> None:
    with pytest.raises(Refusal, match=r"conditions\.coldest_air.*must be below hottest_air"):
        PUMP_HOUSE.changed("conditions", coldest_air="40 degC", hottest_air="0 degC")
    with pytest.raises(Refusal, match=r"other_ethanol_percent.*must come with an octane number"):
        PUMP_HOUSE.changed("conditions", other_ethanol_percent=85)


def test_what_the_trims_cant_follow_is_said() -> None:
    _, result = found(SMALL_SIX.changed("conditions", **ALL_STATED))
    told = [each for each in result.warnings if each.kind == "trims.cant-follow"]
    most = max(each.lost_deg for each in result.checks)
    assert (most > 1.0) == bool(told)
    if told:
        assert told[0].numbers["lost_deg"] == most


def test_the_idle_block_is_not_laid_at_the_trims_door() -> None:
    """An air trim that has nothing to take off leaves nothing unused, though idle is flat for a reason."""
    job = on_axes(PUMP_HOUSE, [500, 700, 950, 1600, 4000], [25, 40, 55, 70])
    stated = job.changed("conditions", coldest_air=f"{job.site.air_temperature_c - 5:g} degC")
    planned, result = found(stated)
    assert np.max(planned.cells.spark_map.advance_deg - result.spark_map.advance_deg) > 2.0
    assert max(each.lost_deg for each in result.checks) < 1.0
    assert [each.kind for each in result.warnings] == []


def test_colder_walls_knock_less_and_warm_the_charge_less() -> None:
    """By hand: at 8 m/s the port gives 0.35/2 of its difference to the air: 1.75 K for 10 K of wall."""
    warmer_k = fresh_charge_k(300.0, 8.0, 0.0, 375.0) - fresh_charge_k(300.0, 8.0, 0.0, 365.0)
    assert warmer_k == pytest.approx(1.75)
    hot = SMALL_V8.changed("engine", coolant_temperature="110 degC")
    cold = SMALL_V8.changed("engine", coolant_temperature="60 degC")
    assert np.nanmax(plan(hot).cells.ceilings.knock_deg - plan(cold).cells.ceilings.knock_deg) < 0.0
    assert physics_of(SMALL_V8).engine.warmer_k == 0.0
    assert physics_of(SMALL_V8.changed("engine", coolant_temperature="90 degC")).engine.warmer_k == 0.0


def test_a_hot_day_brings_no_water_of_its_own() -> None:
    """Steam tables, recalled: 23.4 hPa at 20 degC, 73.8 at 40 degC."""
    hot = job_under(PUMP_HOUSE, {"air temperature": 40.0})
    assert hot.site.humidity_percent == pytest.approx(40.0 * 23.4 / 73.8, rel=0.01)
    assert physics_of(hot).humidity == pytest.approx(physics_of(PUMP_HOUSE).humidity, rel=0.01)
    assert job_under(PUMP_HOUSE, {"air temperature": -20.0}).site.humidity_percent == 100.0


def test_the_jobs_own_place_is_planned_by_nobody_again() -> None:
    ways = ways_of(SMALL_V8.changed("conditions", **ALL_STATED))
    assert own_place(ways) not in places_of(ways)
    assert len(set(places_of(ways))) == len(places_of(ways))


@settings(deadline=None, max_examples=3)
@given(
    hottest=st.floats(35.0, 50.0),
    pass_m=st.floats(600.0, 3000.0),
    between=st.floats(0.0, 1.0),
)
def test_between_the_nodes_trims_cross_nothing_by_much(hottest: float, pass_m: float, between: float) -> None:
    """Half a degree between nodes, since a table there is a straight line and ceilings nearly are."""
    job = on_axes(ORDINARY_V8, [1500, 3500], [60, 90]).changed(
        "conditions", hottest_air=f"{hottest:.1f} degC", highest_altitude=f"{pass_m:.0f} m"
    )
    _, result = found(job)
    air = job.site.air_temperature_c + between * (round(hottest, 1) - job.site.air_temperature_c)
    there = planned_without_hand(job_under(job, {"air temperature": air}))
    over = result.advance_deg({"air temperature": air}) - lowest(there)
    assert over.max() <= 0.5


def test_a_hot_day_raises_the_chance_of_knock_and_the_trims_bring_it_back() -> None:
    job = SMALL_V8.changed("conditions", hottest_air="45 degC")
    planned, result = found(job)
    hot: dict[Name, float] = {"air temperature": 45.0}
    bare, trimmed = driven(job, planned, hot), driven(job, planned, hot, result)
    assert bare.cells_over > 0
    assert bare.headline.state == "problem"
    assert "Don't load the engine so" in action_of(bare.headline)
    assert (trimmed.cells_over, trimmed.problems) == (0, ())
    assert trimmed.most_chance_percent < bare.most_chance_percent


def test_at_the_jobs_own_condition_the_chance_is_the_plans() -> None:
    planned = plan_of(SMALL_V8)
    chance = driven(SMALL_V8, planned, {}).knock_chance_percent
    met = planned.cells.met
    assert np.allclose(chance[met], planned.cells.knock_chance_percent[met], equal_nan=True)


def test_no_trim_knows_of_a_wrong_fuel() -> None:
    job = SMALL_V8.changed("conditions", other_ron=91, other_mon=83)
    planned, result = found(job)
    wrong = driven(job, planned, {}, result, wrong_ron=87)
    assert wrong.cells_over > 0
    assert np.array_equal(wrong.spark_map.advance_deg, idle_block(job, planned).spark_map.advance_deg)
    assert "87 RON in the tank by mistake" in sentence_of(wrong.headline)
    assert driven(job, planned, {"fuel": 100.0}, result).cells_over == 0


def test_conditions_are_read_with_their_units() -> None:
    """By ISO 2533: 2,500 m are 74.7 kPa; 104 degF are 40 degC by definition."""
    asked = values_asked(PUMP_HOUSE, air="104 degF", altitude="2500 m")
    assert asked["air temperature"] == pytest.approx(40.0)
    assert asked["air pressure"] == pytest.approx(74.7, abs=0.05)
    with pytest.raises(
        Refusal, match=r'air = "142 degC": must be -50 degC to 60 degC \(-58 degF to 140 degF\)'
    ):
        values_asked(PUMP_HOUSE, air="142 degC")
    with pytest.raises(Refusal, match="second fuel"):
        values_asked(PUMP_HOUSE, second_fuel=True)


@pytest.mark.parametrize("seed", range(4))
def test_the_trims_are_the_highest_that_a_search_of_all_finds(seed: int) -> None:
    """Held against every table on a grid of quarter degrees: two conditions, one value each, two loads."""
    random = np.random.default_rng(seed)
    ways = (
        Way("air temperature", "degC", (20.0, 40.0), 0, True),
        Way("fuel", "%", (0.0, 100.0), 0, True),
    )
    places = ((1, 0), (0, 1), (1, 1))
    rooms = -np.round(random.uniform(0.0, 3.0, (3, 2)) * 4.0) / 4.0
    weights = {0: np.array([1.0, 0.5]), 1: np.array([0.5, 1.0])}
    at_cells = [Room(np.eye(2), np.array(room)) for room in rooms]
    found = highest_trims(ways, places, at_cells, weights, 2)
    steps = np.arange(-14.0, 1e-9, 0.25)
    best = -np.inf
    for air in steps:
        for fuel in steps:
            by_load = air * weights[0], fuel * weights[1]
            sums = (by_load[0], by_load[1], by_load[0] + by_load[1])
            if all(np.all(one <= room + 1e-9) for one, room in zip(sums, rooms, strict=True)):
                worth = SPARED["air temperature"] * by_load[0] + SPARED["fuel"] * by_load[1]
                best = max(best, float(worth.sum()))
    reached = SPARED["air temperature"] * found[0][1].sum() + SPARED["fuel"] * found[1][1].sum()
    assert reached == pytest.approx(best, abs=1.5)
    assert reached >= best - 1e-6
    for one, room in zip((found[0][1], found[1][1], found[0][1] + found[1][1]), rooms, strict=True):
        assert np.all(one <= room + 1e-6)
