"""A map from elsewhere against ceilings that are written down by hand."""

from dataclasses import replace

import numpy as np
import pytest

from invented_results import with_other_cells
from planned import plan_of
from planning_jobs import PUMP_HOUSE, on_axes
from sparkwright.errors import Refusal
from sparkwright.plan.compare import Comparison, compare_map, planned_on_its_axes
from sparkwright.plan.result import Ceilings, PlanResult
from sparkwright.plan.spark_map import SparkMap
from telling import action_of, sentence_of, sentences_of

RPM, KPA = np.array([1000.0, 2000.0, 3000.0]), np.array([40.0, 60.0, 80.0])
NO_LIMIT = np.full((3, 3), 90.0)


def planned() -> PlanResult:
    return plan_of(on_axes(PUMP_HOUSE, RPM.tolist(), KPA.tolist()))


def by_hand(
    best: float = 90.0, knock: object = np.nan, reach: float = 90.0, limit: float = 90.0
) -> PlanResult:
    """The plan with these ceilings in place of its own and 20 deg everywhere."""
    ceilings = Ceilings(
        best_deg=np.full((3, 3), best),
        knock_deg=np.broadcast_to(np.asarray(knock, dtype=float), (3, 3)).copy(),
        reach_deg=np.full((3, 3), reach),
        limit_deg=np.full((3, 3), limit),
        floor_deg=np.full((3, 3), -90.0),
    )
    before = planned()
    return with_other_cells(
        before,
        ceilings=ceilings,
        spark_map=SparkMap(RPM, KPA, np.full((3, 3), 20.0)),
        between=replace(before.cells.between, grid=None),
    )


def one_cell(value_deg: float, against: PlanResult) -> Comparison:
    """A map of 10 deg with one cell, 2000 rpm and 60 kPa, of another value."""
    cells = np.full((3, 3), 10.0)
    cells[1, 1] = value_deg
    return compare_map(against, SparkMap(RPM, KPA, cells))


def test_a_map_whose_axes_cannot_be_planned_on_is_named() -> None:
    """Not the controller of the job, of which the person wrote nothing."""
    low = SparkMap(np.array([400.0, 600.0]), np.array([40.0, 85.0]), np.full((2, 2), 10.0))
    with pytest.raises(Refusal) as refusal:
        planned_on_its_axes(PUMP_HOUSE, low)
    assert str(refusal.value) == "map.rpm = up to 600: must reach beyond the idle, 700 rpm"
    assert np.array_equal(planned_on_its_axes(PUMP_HOUSE, planned().cells.spark_map).cells.spark_map.rpm, RPM)


def test_a_plan_stands_under_its_own_ceilings() -> None:
    result = compare_map(planned(), planned().cells.spark_map)
    assert result.over == ()
    assert sentences_of(result.problems) == ()
    assert sentences_of(result.warnings) == ()
    assert sentence_of(result.headline) == "No cell stands over a ceiling of the plan."
    assert np.all(result.difference_deg == 0.0)


@pytest.mark.parametrize(
    ("against", "name", "sentence"),
    [
        (
            by_hand(knock=22.0),
            "knock",
            "Over the knock ceiling: 1 of 9 cells, the most by 3.0 deg at 2,000 rpm and 60 kPa "
            "(25 deg, ceiling 22.0).",
        ),
        (
            by_hand(reach=24.0),
            "reach",
            "More than the rotor reaches: 1 of 9 cells, the most by 1.0 deg at 2,000 rpm and 60 kPa "
            "(25 deg, ceiling 24.0).",
        ),
        (
            by_hand(limit=24.5),
            "limit",
            "Over a limit set by hand: 1 of 9 cells, the most by 0.5 deg at 2,000 rpm and 60 kPa "
            "(25 deg, ceiling 24.5).",
        ),
    ],
)
def test_a_cell_over_a_ceiling_is_a_problem(against: PlanResult, name: str, sentence: str) -> None:
    result = one_cell(25.0, against)
    assert sentences_of(result.problems) == (sentence,)
    assert sentence_of(result.headline) == sentence
    assert action_of(result.headline) == "Change those cells before the engine is loaded."
    (cell,) = result.over
    assert (cell.rpm, cell.kpa, cell.advance_deg, cell.ceiling) == (2000.0, 60.0, 25.0, name)
    assert cell.over_deg == pytest.approx(25.0 - cell.ceiling_deg)


def test_past_best_is_told_and_no_problem() -> None:
    result = one_cell(25.0, by_hand(best=24.0))
    assert sentences_of(result.problems) == ()
    assert sentences_of(result.warnings) == (
        "Past best: 1 of 9 cells, the most by 1.0 deg at 2,000 rpm and 60 kPa (25 deg, ceiling 24.0); more "
        "advance there only costs torque.",
    )


@pytest.mark.parametrize("worse", ["knock", "reach", "limit"])
def test_a_cell_over_a_worse_ceiling_is_never_called_past_best(worse: str) -> None:
    against = by_hand(best=24.0, **{worse: 22.0})
    result = one_cell(25.0, against)
    assert [cell.ceiling for cell in result.over] == [worse]
    assert sentences_of(result.warnings) == ()
    assert "costs torque" not in " ".join(sentences_of(result.problems))


def test_knock_is_named_before_reach_however_little_it_is_stood_over() -> None:
    cells = np.full((3, 3), 10.0)
    cells[0, 0], cells[2, 2] = 40.0, 21.0
    knock = np.full((3, 3), np.nan)
    knock[2, 2] = 20.0
    result = compare_map(by_hand(best=15.0, knock=knock, reach=30.0), SparkMap(RPM, KPA, cells))
    assert [(cell.ceiling, cell.over_deg) for cell in result.over] == [("knock", 1.0), ("reach", 10.0)]
    assert sentence_of(result.headline).startswith(
        "Over the knock ceiling: 1 of 9 cells, the most by 1.0 deg at 3,000 rpm"
    )
    assert sentence_of(result.problems[1]).startswith("More than the rotor reaches: 1 of 9 cells")


def test_the_worst_stands_first() -> None:
    cells = np.array([[23.0, 10.0, 10.0], [10.0, 30.0, 10.0], [10.0, 10.0, 26.0]])
    result = compare_map(by_hand(knock=22.0), SparkMap(RPM, KPA, cells))
    assert [cell.over_deg for cell in result.over] == [8.0, 4.0, 1.0]
    assert sentence_of(result.headline).startswith(
        "Over the knock ceiling: 3 of 9 cells, the most by 8.0 deg"
    )


def test_a_tenth_of_a_degree_is_let_pass() -> None:
    assert one_cell(22.05, by_hand(knock=22.0)).over == ()
    assert len(one_cell(22.15, by_hand(knock=22.0)).over) == 1


def test_other_axes_meet_ceilings_in_between() -> None:
    """By hand: the ceiling falls from 30 deg at 40 kPa to 10 at 80; at 50 kPa 25, at 70 kPa 15."""
    against = by_hand(knock=[[30.0] * 3, [20.0] * 3, [10.0] * 3])
    other = SparkMap(
        np.array([1500.0, 2500.0]), np.array([50.0, 70.0]), np.array([[24.0, 26.0], [14.0, 16.0]])
    )
    result = compare_map(against, other)
    assert sorted((cell.rpm, cell.kpa, cell.ceiling_deg) for cell in result.over) == [
        (2500.0, 50.0, 25.0),
        (2500.0, 70.0, 15.0),
    ]
    np.testing.assert_allclose(result.plan_deg, np.full((2, 2), 20.0))


def test_beside_a_cell_that_knocks_no_ceiling_is_forgotten() -> None:
    """20 deg at 80 kPa, none within the tested 60 deg at 60 kPa: at 70 kPa it counts as 40."""
    against = by_hand(knock=[[np.nan] * 3, [np.nan] * 3, [20.0] * 3])
    other = SparkMap(
        np.array([1500.0, 2500.0]), np.array([50.0, 70.0]), np.array([[70.0, 70.0], [39.0, 43.0]])
    )
    (cell,) = compare_map(against, other).over
    assert (cell.rpm, cell.kpa, cell.ceiling, cell.ceiling_deg) == (2500.0, 70.0, "knock", 40.0)


def test_a_cell_later_than_the_rotor_covers_is_a_problem() -> None:
    result = one_cell(-95.0, by_hand())
    assert len(sentences_of(result.problems)) == 1
    assert sentence_of(result.problems[0]).startswith(
        "Later than the rotor covers its post: 1 of 9 cells, the first -95 deg"
    )
    assert sentence_of(result.problems[0]).endswith("such a spark can go to the wrong cylinder.")


def test_where_the_fuel_knocks_at_any_advance_every_value_is_over() -> None:
    knock = np.full((3, 3), np.nan)
    knock[1, 1] = -np.inf
    result = one_cell(-4.0, by_hand(knock=knock))
    assert sentences_of(result.problems) == (
        "This fuel knocks at any advance in 1 of 9 cells, the first at 2,000 rpm and 60 kPa.",
    )
    assert action_of(result.headline) == "Change those cells before the engine is loaded."


def test_beside_such_a_cell_too() -> None:
    knock = np.full((3, 3), 40.0)
    knock[1, 1] = -np.inf
    other = SparkMap(np.array([1500.0, 1900.0]), np.array([60.0, 70.0]), np.full((2, 2), 5.0))
    assert len(compare_map(by_hand(knock=knock), other).over) == 4


def test_cells_outside_the_plan_are_counted_and_not_judged() -> None:
    other = SparkMap(np.array([2000.0, 4000.0]), np.array([60.0, 120.0]), np.full((2, 2), 89.0))
    result = compare_map(by_hand(knock=22.0), other)
    assert [(cell.rpm, cell.kpa) for cell in result.over] == [(2000.0, 60.0)]
    assert np.isnan(result.difference_deg).sum() == 3
    assert sentences_of(result.warnings) == (
        "Outside the plan's speeds and loads: 3 of 4 cells; nothing is said of them.",
    )
