"""Rows of a map with speeds of their own: what the controller makes of them stands under every ceiling."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planned import plan_of
from planning_jobs import BOOSTED_SIX, ORDINARY_V8, PUMP_HOUSE
from sparkwright.check.rotor import rotor_cap
from sparkwright.errors import Refusal
from sparkwright.job import Job
from sparkwright.numeric import FloatArray
from sparkwright.pictures.plain_map import plain_map_picture
from sparkwright.plan.between import LEFT_DEG, stands_over
from sparkwright.plan.between_cells import Grid
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.choose_axes import choose_axes
from sparkwright.plan.compare import compare_map, planned_on_its_axes
from sparkwright.plan.exchange import read_map, write_map
from sparkwright.plan.firmness import firmness_of
from sparkwright.plan.first_map import first_map
from sparkwright.plan.hooks import FIRST_DEG, LAST_DEG
from sparkwright.plan.idle_block import idle_block
from sparkwright.plan.load_terms import loads_of
from sparkwright.plan.mine import mine
from sparkwright.plan.nodes import Nodes
from sparkwright.plan.on_rows import nodes_of, onto_rows, own_cells
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planner import cells_met, most_allowed_deg, plan
from sparkwright.plan.read_as import read_as
from sparkwright.plan.result import PlanResult
from sparkwright.plan.spark_map import SparkMap
from sparkwright.plan.support import Support
from sparkwright.plan.trims import trims
from sparkwright.plan.why import why
from sparkwright.words.axes import axes_sentence
from sparkwright.words.map import cell_texts, letter_form_sentence
from telling import sentence_of, sentences_of

Rows = list[list[float]]

FOUR: Rows = [
    [30, 650, 900, 1300],
    [55, 650, 1200, 2000, 3000, 4500],
    [95, 650, 1200, 1800, 2600, 3600, 4800],
    [160, 2200, 3400, 4400, 5200],
]
"""An idle row, cruise, full load, and boost from where it builds."""


def on_rows(job: Job, rows: Rows) -> Job:
    return job.changed("controller", rpm=None, kpa=None, rows=rows)


SIX = on_rows(BOOSTED_SIX, FOUR)


def made(rows: Rows, cells: list[list[float]], rpm: float, kpa: float) -> float:
    """What such a controller makes of its rows, written out by hand: along two rows, then between them."""
    along = [float(np.interp(rpm, row[1:], values)) for row, values in zip(rows, cells, strict=True)]
    return float(np.interp(kpa, [row[0] for row in rows], along))


def typed(rows: Rows, spark_map: SparkMap) -> list[list[float]]:
    """The values at the speeds of each row."""
    return [[spark_map.at(rpm, row[0]) for rpm in row[1:]] for row in rows]


def beyond_and_unmet(job: Job, rows: Rows, rpm: float, kpa: float) -> bool:
    """Whether a point is partly made of a row beyond its ends where no running engine comes."""
    physics = physics_of(job)
    speeds = np.unique([each for row in rows for each in row[1:]])
    met = bool(cells_met(np.array([rpm]), np.array([kpa]), physics, speeds)[0, 0])
    loads = [row[0] for row in rows]
    above = next(i for i, load in enumerate(loads) if load >= kpa)
    used = {above} if loads[above] == kpa else {above - 1, above}
    return not met and any(not rows[i][1] <= rpm <= rows[i][-1] for i in used)


@st.composite
def rows(draw: st.DrawFn) -> Rows:
    """Two to four rows of one to four speeds each, all together from 800 rpm up."""
    loads = sorted(draw(st.lists(st.integers(3, 14), min_size=2, max_size=4, unique=True)))
    found: Rows = []
    for load in loads:
        speeds = sorted(draw(st.lists(st.integers(4, 24), min_size=1, max_size=4, unique=True)))
        found.append([10.0 * load, *(200.0 * each for each in speeds)])
    found[0] = [found[0][0], *sorted({800.0, 3000.0, *found[0][1:]})]
    return found


DRAWN = given(
    drawn_rows=rows(), job=st.sampled_from([ORDINARY_V8, BOOSTED_SIX]), seed=st.integers(0, 2**32 - 1)
)


@settings(deadline=None, max_examples=2)
@DRAWN
def test_whatever_the_rows_nothing_they_make_stands_over_a_ceiling_that_an_engine_meets(
    drawn_rows: Rows, job: Job, seed: int
) -> None:
    nothing_over(drawn_rows, job, seed)


@pytest.mark.proof
@settings(deadline=None, max_examples=40)
@DRAWN
def test_of_many_rows_none_makes_anything_over_a_ceiling_that_an_engine_meets(
    drawn_rows: Rows, job: Job, seed: int
) -> None:
    nothing_over(drawn_rows, job, seed)


def nothing_over(drawn_rows: Rows, job: Job, seed: int) -> None:
    """At the plan's own fine grid and midway between its points, by a controller written out by hand."""
    job = on_rows(job, drawn_rows)
    result, drawn = plan(job), np.random.default_rng(seed)
    cells = typed(drawn_rows, result.cells.spark_map)
    grid = result.cells.between.grid
    assert grid is not None
    for row, column in zip(
        drawn.integers(grid.kpa.size, size=300), drawn.integers(grid.rpm.size, size=300), strict=True
    ):
        at = float(grid.rpm[column]), float(grid.kpa[row])
        if not beyond_and_unmet(job, drawn_rows, *at):
            assert made(drawn_rows, cells, *at) <= grid.lowest_deg[row, column] + LEFT_DEG + 1e-9, at
    rpm, kpa = (drawn.choice(0.5 * (axis[:-1] + axis[1:]), 40) for axis in (grid.rpm, grid.kpa))
    over = [
        made(drawn_rows, cells, *at) - ceiling
        for *at, ceiling in zip(
            rpm.tolist(), kpa.tolist(), lowest_at(job, result, rpm, kpa).tolist(), strict=True
        )
        if not beyond_and_unmet(job, drawn_rows, *at)
    ]
    assert max(over, default=0.0) <= TELLABLE_DEG


def lowest_at(job: Job, result: PlanResult, rpm: FloatArray, kpa: FloatArray) -> FloatArray:
    """The lowest ceiling at places of their own, read from the cycle."""
    physics, own = physics_of(job), result.cells.spark_map
    ceilings = result.cells.ceilings
    firmness = firmness_of(job, physics, own.rpm, own.kpa)
    support = Support(job, physics, firmness, own.rpm, own.kpa, ceilings.best_deg, ceilings.knock_deg)
    best, knock = support.read(rpm, kpa)
    knock = np.maximum(knock, FIRST_DEG - job.limits.knock_margin_deg)
    most = min(rotor_cap(job).reach().most_deg, most_allowed_deg(job))
    return np.asarray(np.nan_to_num(np.fmin(np.fmin(best, knock), most), nan=LAST_DEG))


def test_rows_that_all_have_the_same_speeds_give_the_map_of_plain_axes_to_the_digit() -> None:
    rpm, kpa = [600.0, 2000.0, 4000.0, 6200.0], [25.0, 60.0, 95.0, 130.0, 168.0]
    plain = plan_of(BOOSTED_SIX.changed("controller", rpm=rpm, kpa=kpa))
    alike = plan_of(on_rows(BOOSTED_SIX, [[load, *rpm] for load in kpa]))
    assert alike.cells.spark_map.advance_deg.tobytes() == plain.cells.spark_map.advance_deg.tobytes()
    assert alike.cells.held_by == plain.cells.held_by
    assert alike.warnings == plain.warnings


def test_the_same_job_gives_the_same_rows() -> None:
    once, again = plan(SIX), plan(SIX)
    assert once.cells.spark_map.advance_deg.tobytes() == again.cells.spark_map.advance_deg.tobytes()


def test_the_map_on_the_page_is_what_the_controller_makes_of_what_is_typed_in() -> None:
    spark_map = plan_of(SIX).cells.spark_map
    cells = typed(FOUR, spark_map)
    step = SIX.controller.step_deg
    assert all(value / step == round(value / step) for row in cells for value in row)
    drawn = np.random.default_rng(3)
    for rpm, kpa in zip(drawn.uniform(650, 5200, 200), drawn.uniform(30, 160, 200), strict=True):
        assert spark_map.at(rpm, kpa) == pytest.approx(made(FOUR, cells, rpm, kpa), abs=1e-9)


SMALL_RPM, SMALL_KPA = np.array([1000.0, 2000.0, 3000.0]), np.array([40.0, 90.0])


@settings(deadline=None, max_examples=15)
@given(
    lowest=st.lists(st.integers(0, 6), min_size=9, max_size=9),
    middle=st.booleans(),
    use=st.lists(st.integers(1, 4), min_size=6, max_size=6),
)
def test_no_table_in_whole_steps_is_better_than_the_least_lowering(
    lowest: list[int], middle: bool, use: list[int]
) -> None:
    """Against every table of whole degrees on a small map; rounding may cost up to a step in each cell."""
    small: Rows = [[40, 1000, 2000, 3000], [90, 1000, *([2000] if middle else []), 3000]]
    nodes = nodes_of(small, SMALL_RPM, SMALL_KPA)
    assert nodes is not None
    kpa, ceiling = np.array([40.0, 65.0, 90.0]), np.array(lowest, dtype=float).reshape(3, 3)
    weighs, value = np.array(use, dtype=float).reshape(2, 3), np.full((2, 3), 6.0)
    found = onto_rows(
        value,
        SMALL_RPM,
        SMALL_KPA,
        Grid(SMALL_RPM, kpa, ceiling, np.full(ceiling.shape, "knock")),
        nodes,
        weighs,
        step_deg=1.0,
        per_rpm=1.0,
        per_kpa=1.0,
    )
    own = found[nodes]
    shares = np.array([shares_at(small, rpm, load) for load in kpa for rpm in SMALL_RPM])
    counts = weighs.ravel() @ np.array(
        [shares_at(small, rpm, load) for load in SMALL_KPA for rpm in SMALL_RPM]
    )
    allowed = ceiling.ravel() + LEFT_DEG + 1e-9
    assert np.all(shares @ own <= allowed)
    tables = np.array(list(product(range(7), repeat=own.size)), dtype=float)
    good = tables[np.all(tables @ shares.T <= allowed, axis=1)]
    least = float(((6.0 - good) @ counts).min())
    assert least - 1e-9 <= (6.0 - own) @ counts < least + counts.sum()
    for cell in np.flatnonzero(own < 6.0).tolist():
        assert np.any(shares @ (own + np.eye(own.size)[cell]) > allowed), "it could be a step higher"


def shares_at(rows: Rows, rpm: float, kpa: float) -> list[float]:
    """The share of each own cell in what the controller makes at a place."""
    counts = [len(row) - 1 for row in rows]
    one = np.eye(sum(counts))
    parted = [np.split(each, np.cumsum(counts)[:-1]) for each in one]
    return [made(rows, [part.tolist() for part in parts], rpm, kpa) for parts in parted]


def test_a_row_of_boost_is_not_held_down_for_speeds_that_see_no_boost() -> None:
    """At 650 rpm and 160 kPa this fuel knocks at any advance, and the row of boost begins at 2,200 rpm."""
    boost = plan_of(SIX).cells.spark_map.at(2200.0, 160.0)
    whole = plan_of(
        BOOSTED_SIX.changed("controller", rpm=[650, 1500, 2200, 3400, 4400, 5200], kpa=[30, 55, 95, 160])
    )
    assert boost >= whole.cells.spark_map.at(2200.0, 160.0) - 2.0
    without = on_rows(BOOSTED_SIX, [*FOUR[:3], [160, 650, 2200, 3400, 4400, 5200]])
    assert plan_of(without).cells.spark_map.at(650.0, 160.0) < 0.0


def test_few_speeds_cost_torque_and_it_is_said_where_and_what_to_do() -> None:
    """The row of cruise has no speed between 650 and 4,500 rpm, where best turns."""
    few = on_rows(PUMP_HOUSE, [[30, 600, 1200, 3600], [60, 600, 1500, 3600], [85, 600, 3600]])
    planned = plan_of(few)
    (cost,) = (each for each in planned.warnings if each.kind == "rows.cost")
    rpm, kpa = cost.numbers["rpm"], cost.numbers["kpa"]
    assert kpa == 85.0
    whole = plan_of(few.changed("controller", rows=None, rpm=[600, 1200, 1500, 3600], kpa=[30, 60, 85]))
    assert isinstance(rpm, float)
    lower = whole.cells.spark_map.at(rpm, 85.0) - planned.cells.spark_map.at(rpm, 85.0)
    assert cost.numbers["lowered_deg"] == pytest.approx(lower)
    assert (
        f"because rows have speeds of their own; it costs most at {rpm:,.0f} rpm and 85 kPa"
        in sentence_of(cost)
    )


def test_a_cell_at_a_speed_that_its_row_lacks_says_of_what_it_is_made() -> None:
    planned = plan_of(SIX)
    rpm = planned.cells.spark_map.rpm.tolist()
    between = why(planned, SIX, 2, rpm.index(2000.0))
    assert between.held_by == "rows"
    assert any(
        "Its row has no speed here: the controller makes this of its cells at 1,800 and 2,600 rpm." in said
        for said in sentences_of(between.findings)
    )
    beyond = why(planned, SIX, 0, rpm.index(4800.0))
    assert any("of its cells at 1,300 rpm, kept beyond it." in said for said in sentences_of(beyond.findings))


def test_a_map_goes_out_on_the_speeds_of_each_row_and_comes_back_to_the_digit() -> None:
    planned, loads = plan_of(SIX), loads_of(SIX)
    text = write_map(planned.cells.spark_map, "csv", loads, ceilings=planned.cells.between.grid)
    lines = [line.split(",") for line in text.splitlines()]
    for (load, *speeds), line in zip(FOUR, lines[1:], strict=True):
        given_at = [float(rpm) for rpm, cell in zip(lines[0][1:], line[1:], strict=True) if cell]
        assert (float(line[0]), given_at) == (load, speeds)
    assert read_map(text, loads).advance_deg.tobytes() == planned.cells.spark_map.advance_deg.tobytes()
    turned = write_map(planned.cells.spark_map, "tsv", loads, highest_load_first=True)
    assert read_map(turned, loads).advance_deg.tobytes() == planned.cells.spark_map.advance_deg.tobytes()
    whole = json.loads(write_map(planned.cells.spark_map, "json", loads))
    assert [[row["kpa"], *row["rpm"]] for row in whole["rows"]] == FOUR
    assert [len(row["advance_deg"]) for row in whole["rows"]] == [3, 5, 6, 4]


def test_rows_go_out_and_come_back_in_the_controllers_own_terms_of_load() -> None:
    job = SIX.changed("controller", load="inHg vacuum")
    planned, loads = plan_of(job), loads_of(job)
    text = write_map(planned.cells.spark_map, "csv", loads)
    assert text.startswith("inHg vacuum by rpm,650,")
    assert read_map(text, loads).advance_deg.tobytes() == planned.cells.spark_map.advance_deg.tobytes()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "kPa by rpm,800,2000,3000\n30,20,30,\n90,10,20,25\n",
            "map = the row at 90 kPa with 800, 2000, 3000 rpm: must have the speeds of that row: "
            "800, 3000 rpm; leave a cell empty only where its row has no such speed",
        ),
        (
            "kPa by rpm,800,2000,3000\n30,20,30,\n80,10,,25\n",
            "map = a row at 80 kPa: must be one of the controller's rows: 30, 90 kPa; export the map of "
            "this job",
        ),
        (
            "kPa by rpm,800,2000,3000\n30,20,30,\n90,,,\n",
            "map = the row at 90 kPa with no rpm: must have the speeds of that row: 800, 3000 rpm",
        ),
    ],
)
def test_a_file_whose_rows_are_not_the_controllers_is_refused(text: str, said: str) -> None:
    loads = loads_of(on_rows(PUMP_HOUSE, [[30, 800, 2000], [90, 800, 3000]]))
    with pytest.raises(Refusal) as refusal:
        read_map(text, loads)
    assert said in str(refusal.value)


def test_a_row_that_is_missing_in_a_file_is_named() -> None:
    loads = loads_of(on_rows(PUMP_HOUSE, [[30, 800, 2000], [60, 800, 2000], [90, 800, 3000]]))
    with pytest.raises(Refusal, match="must have a row at 60 kPa too"):
        read_map("kPa by rpm,800,2000,3000\n30,20,30,\n90,10,,25\n", loads)


def test_an_empty_cell_is_still_refused_where_rows_share_their_speeds() -> None:
    with pytest.raises(Refusal, match="line 2, column 3"):
        read_map("kPa by rpm,800,2000\n30,20,\n90,10,20\n", loads_of(PUMP_HOUSE))


def test_a_map_of_ones_own_on_rows_is_judged_between_its_speeds_as_the_rows_make_it() -> None:
    """Raised at 2,600 rpm alone: knock stands at every speed that the row makes of it."""
    planned, loads = plan_of(SIX), loads_of(SIX)
    text = write_map(planned.cells.spark_map, "csv", loads)
    assert not compare_map(planned, read_as(text, SIX, planned).spark_map).over
    spark_map = planned.cells.spark_map
    column = spark_map.rpm.tolist().index(2600.0)
    early = spark_map.advance_deg.copy()
    early[2, column] += 9.0
    given_text = write_map(replace(spark_map, advance_deg=early), "csv", loads)
    own = read_as(given_text, SIX, planned).spark_map
    there = planned_on_its_axes(SIX, own, plan_of)
    assert there is not None
    over = {cell.rpm for cell in compare_map(there, own).over if cell.kpa == 95.0}
    assert {2200.0, 2600.0, 3000.0} <= over
    merged = mine(SIX, there, own)
    assert np.argwhere(merged.changed).tolist() == [[2, column]]
    assert np.allclose(merged.merged.advance_deg, spark_map.advance_deg)


def test_a_whole_map_from_elsewhere_is_judged_on_its_own_axes() -> None:
    own = SparkMap(np.array([800.0, 3000.0]), np.array([40.0, 90.0]), np.full((2, 2), 5.0))
    planned = planned_on_its_axes(SIX, own, plan_of)
    assert planned.cells.rows is None
    assert planned.cells.spark_map.rpm.tolist() == [800.0, 3000.0]


def test_first_map_and_idle_block_are_what_the_controller_makes_of_its_rows() -> None:
    planned = plan_of(SIX)
    first = first_map(SIX, planned)
    maps = [first.spark_map, *(step.spark_map for step in first.steps), idle_block(SIX, planned).spark_map]
    for spark_map in maps:
        cells = typed(FOUR, spark_map)
        assert spark_map.at(2000.0, 95.0) == pytest.approx(made(FOUR, cells, 2000.0, 95.0))
        assert spark_map.at(5000.0, 42.0) == pytest.approx(made(FOUR, cells, 5000.0, 42.0))
    assert np.all(first.spark_map.advance_deg <= first.goal.advance_deg + 1e-9)


def test_rows_without_a_speed_about_idle_are_told_beside_the_idle_block() -> None:
    """A job whose rows all begin well above its idle, but for full load, which has a speed at 700."""
    idle_rpm, idle_kpa = physics_of(ORDINARY_V8).idle_rpm, physics_of(ORDINARY_V8).idle_kpa
    rows = [
        [idle_kpa - 10, 2500, 4000],
        [idle_kpa + 10, 2500, 4000],
        [98, idle_rpm - 200, idle_rpm + 200, 4000],
    ]
    job = ORDINARY_V8.changed("controller", rows=rows, rpm=None, kpa=None)
    block = idle_block(job, plan(job))
    assert "idle-block.no-own-cell" in [each.kind for each in block.warnings]
    assert "idle-block.no-own-cell" not in [each.kind for each in idle_block(SIX, plan_of(SIX)).warnings]


def test_trims_hold_on_rows_at_every_stated_condition() -> None:
    """One trimmed and one served by the map itself, each with its corner."""
    stated = {"hottest_air": "45 degC", "highest_altitude": "1500 m", "pressure_trim": False}
    job = SIX.changed("conditions", **stated)
    found = trims(job, plan_of(job))
    cells = typed(FOUR, found.spark_map)
    assert found.spark_map.at(2000.0, 95.0) == pytest.approx(made(FOUR, cells, 2000.0, 95.0))
    assert max(each.over_deg for each in found.checks) <= TELLABLE_DEG


def test_a_cell_set_by_hand_moves_what_the_controller_makes_of_it() -> None:
    job = SIX.with_hand([{"rpm": 2600, "kpa": 95, "advance_deg": 30}])
    planned, before = plan_of(job), plan_of(SIX)
    cells = typed(FOUR, planned.cells.spark_map)
    assert cells[2][3] == 30.0
    assert planned.cells.spark_map.at(2200.0, 95.0) == pytest.approx(made(FOUR, cells, 2200.0, 95.0))
    there = (2, planned.cells.spark_map.rpm.tolist().index(2200.0))
    assert planned.cells.torque_nm[there] < before.cells.torque_nm[there]
    assert planned.cells.held_by[2][there[1]] == "rows"


def test_a_cell_set_by_hand_at_a_speed_that_its_row_lacks_is_left_out_and_told() -> None:
    job = SIX.with_hand([{"rpm": 2200, "kpa": 95, "advance_deg": 20}])
    planned = plan_of(job)
    assert planned.cells.spark_map.advance_deg.tobytes() == plan_of(SIX).cells.spark_map.advance_deg.tobytes()
    assert any("2,200 rpm" in said and "95 kPa" in said for said in sentences_of(planned.warnings))


def test_rows_are_kept_where_axes_are_chosen_and_it_is_said() -> None:
    chosen = choose_axes(SIX, Nodes(16, 50.0), Nodes(16, 1.0))
    assert chosen.kpa.tolist() == [30.0, 55.0, 95.0, 160.0]
    assert chosen.rows_kept
    assert 0.0 < chosen.lost_percent < 5.0
    assert axes_sentence(chosen).startswith("The controller's rows have speeds of their own and are kept")


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"rows": [[30], [90, 800, 3000]]}, "must give each row 1 to 40 speeds; row 1, at 30, has none"),
        ({"rows": [[], [90, 800, 3000]]}, "must be a list of rows [kPa, then the speeds of that row in rpm]"),
        (
            {"rows": [[30, 800, 800], [90, 800, 3000]]},
            "must have speeds that rise within each row; 800 follows 800 in the row at 30",
        ),
        (
            {"rows": [[30, 800, 2000], [90, 3000, 800]]},
            "must have speeds that rise within each row; 800 follows 3000 in the row at 90",
        ),
        ({"rows": [[30, 800], [30, 900]]}, "must begin each row higher than the one before; 30 follows 30"),
        ({"rows": [[90, 800], [30, 900]]}, "must begin each row higher than the one before; 30 follows 90"),
        ({"rows": [[30, 800], [90, 800]]}, "must have 2 to 40 different speeds in all; together they have 1"),
        ({"rows": [[30, 800, 900]]}, "must hold 2 to 40 rows; it holds 1"),
        (
            {"rows": [[load, 800, 900] for load in range(20, 61)]},
            "must hold 2 to 40 rows; it holds 41",
        ),
        (
            {"rows": [[30, *range(1000, 1041)], [90, 800]]},
            "must give each row 1 to 40 speeds; row 1, at 30, has 41",
        ),
        (
            {"rows": [[30, *range(1000, 1030)], [90, *range(2000, 2030)]]},
            "must have 2 to 40 different speeds in all; together they have 60; let rows share speeds",
        ),
        ({"rows": [[30, 800, 20000], [90, 800]]}, "must be 100 to 12000"),
        ({"rows": [[3, 800, 2000], [90, 800]]}, "must be 10 to 400"),
        (
            {"rows": [[30, 800], [90, 3000]], "rpm": [800, 2000]},
            "must be left out, or be the speeds of rows together; the speeds of the rows are 800, 3000",
        ),
        (
            {"rows": [[30, 800], [90, 3000]], "kpa": [30, 80]},
            "must be left out, or be the loads of rows together; the loads of the rows are 30, 90",
        ),
        (
            {"rows": [[30, 800], [90, 3000]], "between": "nearest cell"},
            'must be left out where between = "nearest cell"; between rows with speeds of their own',
        ),
        (
            {
                "rows": [[30, 800], [90, 3000]],
                "load": "percent of throttle",
                "throttle_rpm": [1000, 3000],
                "throttle_kpa": [[0, 32, 26], [100, 90, 88]],
            },
            'must be left out where load = "percent of throttle"; a row of a map by throttle is another',
        ),
    ],
)
def test_rows_that_no_controller_has_are_refused_in_a_sentence(changed: dict[str, object], said: str) -> None:
    with pytest.raises(Refusal) as refusal:
        PUMP_HOUSE.changed("controller", **{"rpm": None, "kpa": None, **changed})
    assert said in str(refusal.value)


def test_one_speed_in_a_row_holds_for_all_and_axes_that_agree_may_be_stated_too() -> None:
    job = on_rows(PUMP_HOUSE, [[30, 800], [90, 800, 3000]]).changed(
        "controller", rpm=[800, 3000], kpa=[30, 90]
    )
    first = plan(job).cells.spark_map.advance_deg[0]
    assert first[0] == first[1]
    assert Job.from_toml(job.to_toml()) == job


def test_what_is_typed_in_stands_alone_on_sheets_and_the_card_says_what_has_no_colour() -> None:
    planned = plan_of(SIX)
    shown = own_cells(planned.cells.spark_map, SIX.controller.rows)
    assert int(np.isfinite(shown.advance_deg).sum()) == sum(len(row) - 1 for row in FOUR)
    picture = plain_map_picture(shown, "Map")
    assert len(picture.rows) == sum(len(row) - 1 for row in FOUR)
    assert "A place is left empty where its row has no such speed." in picture.sentence
    assert "nan" not in picture.body
    assert "without colour, its row's own cells" in letter_form_sentence(planned)
    assert "only those are typed in" in letter_form_sentence(planned)


def test_what_is_made_of_a_row_is_shown_to_a_tenth_and_what_is_typed_in_to_the_step() -> None:
    planned = plan_of(SIX)
    texts = cell_texts(planned)
    nodes = nodes_of(FOUR, planned.cells.spark_map.rpm, planned.cells.spark_map.kpa)
    assert nodes is not None
    for row, own in zip(texts, nodes.tolist(), strict=True):
        assert [len(text.partition(".")[2]) for text in row] == [2 if typed_in else 1 for typed_in in own]


def test_the_idle_block_is_flat_in_what_is_typed_in_and_stands_under_the_ceilings() -> None:
    planned = plan_of(SIX)
    block, grid = idle_block(SIX, planned), planned.cells.between.grid
    nodes = nodes_of(FOUR, block.spark_map.rpm, block.spark_map.kpa)
    assert nodes is not None
    assert grid is not None
    assert set(block.spark_map.advance_deg[block.cells & nodes].tolist()) == {block.advance_deg}
    _, over = stands_over(
        block.spark_map.advance_deg, block.spark_map.rpm, block.spark_map.kpa, grid, "straight lines"
    )
    assert over.max() <= LEFT_DEG + 1e-9


def test_of_a_whole_map_on_the_speeds_of_all_rows_only_what_the_controller_has_counts() -> None:
    rows: Rows = [[30, 800, 3000], [90, 800, 2000, 3000]]
    text = "kPa by rpm,800,2000,3000\n30,20,50,44\n90,10,20,25\n"
    read = read_map(text, loads_of(on_rows(PUMP_HOUSE, rows)))
    assert read.advance_deg[0].tolist() == pytest.approx([20.0, 20.0 + 24.0 * 1200 / 2200, 44.0])
