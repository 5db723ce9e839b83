"""Maps in a controller's own terms: written, read back, and refused in a sentence where they can't be."""

from typing import get_args

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planning_jobs import BOOSTED_SIX, PUMP_HOUSE
from sparkwright.errors import Refusal
from sparkwright.job import Job, LoadTerm
from sparkwright.plan.exchange import Form, read_map, write_map
from sparkwright.plan.firmness import chance_allowed_percent, knock_levels_allowed
from sparkwright.plan.first_map import regions_of
from sparkwright.plan.load_terms import loads_of
from sparkwright.plan.physics import physics_of
from sparkwright.plan.spark_map import SparkMap

TERMS: tuple[LoadTerm, ...] = get_args(LoadTerm)
SCALES = tuple(each for each in TERMS if each != "percent of throttle")
THROTTLE_RPM = [1000, 3000, 5000]
THROTTLE_KPA = [[0, 32, 26, 24], [15, 60, 40, 33], [40, 79, 66, 55], [100, 84.5, 83, 81]]
WITH_THROTTLE = PUMP_HOUSE.changed(
    "controller",
    load="percent of throttle",
    throttle_rpm=THROTTLE_RPM,
    throttle_kpa=THROTTLE_KPA,
    kpa=[20, 30, 45, 60, 75, 85],
)
SMALL = SparkMap(
    np.array([1000.0, 3000.0]), np.array([30.0, 60.0, 85.0]), np.array([[30.0, 36], [24, 32], [10, 24]])
)


def axis(low: float, high: float) -> st.SearchStrategy[list[float]]:
    numbers = st.floats(low, high).map(lambda value: round(value, 3))
    return st.lists(numbers, min_size=2, max_size=12, unique=True).map(sorted)


@st.composite
def maps(draw: st.DrawFn) -> SparkMap:
    rpm, kpa = draw(axis(100, 12000)), draw(axis(10, 400))
    cell = st.floats(-20, 60).map(lambda value: round(value, 2))
    row = st.lists(cell, min_size=len(rpm), max_size=len(rpm))
    cells = draw(st.lists(row, min_size=len(kpa), max_size=len(kpa)))
    return SparkMap(np.array(rpm), np.array(kpa), np.array(cells))


@given(
    spark_map=maps(),
    term=st.sampled_from(SCALES),
    site_kpa=st.floats(55, 108).map(lambda value: round(value, 2)),
    boosted=st.booleans(),
    form=st.sampled_from(["csv", "tsv"]),
    turned=st.booleans(),
)
def test_a_map_in_a_controllers_terms_reads_back_to_the_digit_at_any_site(
    spark_map: SparkMap, term: LoadTerm, site_kpa: float, boosted: bool, form: Form, turned: bool
) -> None:
    job = (BOOSTED_SIX if boosted else PUMP_HOUSE).changed("site", pressure=f"{site_kpa} kPa", altitude=None)
    loads = loads_of(job, term)
    again = read_map(write_map(spark_map, form, loads, highest_load_first=turned), loads_of(job))
    assert again.rpm.tolist() == spark_map.rpm.tolist()
    assert again.kpa.tolist() == spark_map.kpa.tolist()
    assert again.advance_deg.tolist() == spark_map.advance_deg.tolist()


@pytest.mark.parametrize(
    ("term", "corner", "heads"),
    [
        # By hand: an inch of mercury is 3.386389 kPa and a psi 6.894757 kPa (NIST SP 811, appendix B.8).
        ("inHg vacuum", "inHg vacuum by rpm", [55 / 3.386389, 25 / 3.386389, 0.0]),
        ("kPa boost", "kPa boost by rpm", [-55, -25, 0]),
        ("psi boost", "psi boost by rpm", [-55 / 6.894757, -25 / 6.894757, 0]),
        ("percent of full load", "percent of full load by rpm", [3000 / 85, 6000 / 85, 100]),
        ("kPa absolute", "kPa by rpm", [30, 60, 85]),
    ],
)
def test_a_table_names_its_unit_and_counts_from_the_air_of_its_own_site(
    term: LoadTerm, corner: str, heads: list[float]
) -> None:
    job = PUMP_HOUSE.changed("site", pressure="85 kPa", altitude=None)
    lines = write_map(SMALL, "csv", loads_of(job, term)).splitlines()
    assert lines[0] == f"{corner},1000,3000"
    assert [float(line.split(",")[0]) for line in lines[1:]] == pytest.approx(heads, rel=1e-6, abs=1e-6)


def test_a_pasted_map_whose_corner_names_no_unit_is_read_in_the_controllers_terms() -> None:
    job = PUMP_HOUSE.changed("site", pressure="85 kPa", altitude=None).changed(
        "controller", load="inHg vacuum"
    )
    pasted = "load\t1000\t3000\n16\t30\t36\n0\t10\t24\n"
    assert read_map(pasted, loads_of(job)).kpa.tolist() == pytest.approx([85 - 16 * 3.386389, 85], abs=1e-4)
    in_kpa = pasted.replace("load", "kPa by rpm").replace("\n16", "\n30").replace("\n0", "\n85")
    assert read_map(in_kpa, loads_of(job)).kpa.tolist() == [30, 85]


def test_full_load_of_a_boosted_engine_is_site_and_boost() -> None:
    job = BOOSTED_SIX.changed("site", pressure="100 kPa", altitude=None)
    job = job.changed("induction", max_boost="50 kPa")
    text = "percent of full load by rpm,1000,2000\n50,20,30\n100,10,20\n"
    assert read_map(text, loads_of(job)).kpa.tolist() == pytest.approx([75, 150])


def test_a_map_by_throttle_holds_what_the_map_has_at_the_pressure_there() -> None:
    text = write_map(SMALL, "csv", loads_of(WITH_THROTTLE))
    head, *rows = [line.split(",") for line in text.splitlines()]
    assert head == ["percent of throttle by rpm", "1000", "3000"]
    assert [float(row[0]) for row in rows] == [0, 15, 40, 100]
    # 15 % is 60 kPa at 1,000 rpm and 40 kPa at 3,000: 24, and 36 - 4/30 x 10 = 34.67 rounded down to 34.5.
    assert [float(cell) for cell in rows[1][1:]] == [24.0, 34.5]


def test_a_map_by_throttle_comes_in_at_the_pressures_of_the_job() -> None:
    text = "throttle,1000,3000\n0,30,36\n40,20,30\n100,10,24\n"
    found = read_map(text, loads_of(WITH_THROTTLE))
    assert found.kpa.tolist() == [20, 30, 45, 60, 75, 85]
    # At 1,000 rpm 60 kPa are 15 %, a quarter and an eighth of the way to 40 %: 30 - 10 x 15/40.
    assert found.at(1000.0, 60.0) == pytest.approx(30 - 10 * 15 / 40)
    assert found.at(1000.0, 20.0) == 30.0
    assert found.at(3000.0, 85.0) == 24.0
    turned = "throttle,1000,3000\n100,10,24\n40,20,30\n0,30,36\n"
    assert read_map(turned, loads_of(WITH_THROTTLE)).advance_deg.tolist() == found.advance_deg.tolist()


@pytest.mark.parametrize("term", ["inHg vacuum", "kPa boost", "psi boost"])
def test_a_row_at_the_air_outside_is_no_boost_however_it_is_written(term: LoadTerm) -> None:
    """Written as 0 it comes back to a millionth, which may lie above: it had the chance of boost then."""
    job = PUMP_HOUSE.changed("limits", knock_chance_percent=10, boost_knock_chance_percent=2)
    physics, loads = physics_of(job), loads_of(job, term)
    above_kpa = physics.ambient_kpa + 0.5e-6
    for kpa in (float(loads.to_kpa(0.0)), above_kpa):
        assert chance_allowed_percent(job, physics, kpa) == 10
        rows = np.array([60.0, kpa])
        assert "boost" not in regions_of(physics, np.array([1000.0, 3000.0]), rows)
        level = knock_levels_allowed(job, physics, rows, np.full(2, 0.1))
        assert level[0] == level[1]
    assert chance_allowed_percent(job, physics, physics.ambient_kpa + 0.1) == 2


@given(
    slope=st.floats(0.0, 0.3).map(lambda value: round(value, 3)),
    speeds=st.lists(st.integers(500, 6000), min_size=2, max_size=8, unique=True).map(sorted),
)
def test_a_plane_goes_out_by_throttle_and_comes_back_where_the_table_has_its_points(
    slope: float, speeds: list[int]
) -> None:
    job = WITH_THROTTLE.changed("controller", step_deg=0.05, kpa=[24, 33, 55, 81])
    ends = np.array([[30.0], [30.0 - 70 * slope]])
    cells = np.repeat(ends, len(speeds), axis=1)
    spark_map = SparkMap(np.array(speeds), np.array([20.0, 90.0]), cells)
    loads = loads_of(job)
    again = read_map(write_map(spark_map, "csv", loads), loads)
    at_5000 = [speed for speed in speeds if speed >= 5000]
    for speed in at_5000:  # where each row of the job is a pressure of the table
        for kpa in (24.0, 33.0, 55.0, 81.0):
            assert again.at(speed, kpa) == pytest.approx(spark_map.at(speed, kpa), abs=0.0501)
    # The step that is lost is never upward: straight lines over pressure stay straight over throttle.
    for speed in speeds:
        for kpa in (33.0, 55.0):
            assert again.at(speed, kpa) <= spark_map.at(speed, kpa) + 1e-6


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        (
            {"load": "percent of throttle"},
            "controller.throttle_rpm (not given): must be given where load",
        ),
        ({"throttle_rpm": THROTTLE_RPM}, "controller.throttle_kpa (not given): must be given with the other"),
        (
            {"throttle_rpm": [1000, 3000], "throttle_kpa": THROTTLE_KPA},
            "must have rows of 3 numbers; throttle, and a pressure at each of 2 speeds",
        ),
        (
            {"throttle_rpm": [1000, 3000], "throttle_kpa": [[0, 32, 26], [50, 70, 26]]},
            "must rise with the throttle at each speed; at 3000 rpm 26 kPa at 50 % follows 26 at 0 %",
        ),
        (
            {"throttle_rpm": [1000, 3000], "throttle_kpa": [[50, 32, 26], [20, 70, 66]]},
            "must begin each row higher than the one before; 20 follows 50",
        ),
        (
            {"throttle_rpm": [1000, 3000], "throttle_kpa": [[0, 32, 26], [20, 70]]},
            "must have rows of one length; row 2 holds 2 numbers, the first one 3",
        ),
        (
            {"throttle_rpm": [1000, 3000], "throttle_kpa": [[0, 32, 26], [120, 70, 66]]},
            "must be 0 to 100; throttle is 0 to 100 percent",
        ),
        ({"throttle_rpm": [1000, 3000], "throttle_kpa": [[0, 32, 26]]}, "must hold 2 to 40 rows; it holds 1"),
        ({"load": "kPa gauge"}, "must be"),
    ],
)
def test_a_bad_throttle_table_is_refused_in_a_sentence(changed: dict[str, object], said: str) -> None:
    with pytest.raises(Refusal) as refusal:
        PUMP_HOUSE.changed("controller", **changed)
    assert said in str(refusal.value)


@pytest.mark.parametrize(
    ("text", "job", "said"),
    [
        (
            "inHg vacuum by rpm,1000,2000\n10,20,30\n0,10,20\n",
            None,
            'map, line 1, column 1 = "inHg vacuum by rpm": must be in kPa absolute where no job tells the '
            'air at its site; write the loads in kPa, and "kPa by rpm"',
        ),
        (
            "percent of throttle by rpm,1000,2000\n0,20,30\n100,10,20\n",
            PUMP_HOUSE,
            "controller.throttle_kpa (not given): must be given for a map by throttle; state what pressure "
            "each throttle gives, with throttle_rpm",
        ),
        (
            "throttle,1000,2000\n0,20,30\n130,10,20\n",
            WITH_THROTTLE,
            "map, line 3, column 1 = 130: must be 0 to 100 % of throttle; check axes and cells",
        ),
        (
            "throttle,1000,2000\n0,20,30\n50,10,20\n50,10,20\n",
            WITH_THROTTLE,
            "map, loads = 50 % of throttle stands twice: must rise, or fall, from row to row",
        ),
        (
            "inHg vacuum by rpm,1000,2000\n10,20,30\n5,10,20\n8,10,20\n",
            PUMP_HOUSE,
            "map, loads = 8 inHg vacuum turns back after 5: must rise, or fall, from row to row",
        ),
        (
            "inHg vacuum by rpm,1000,2000\n40,20,30\n0,10,20\n",
            PUMP_HOUSE.changed("site", pressure="90 kPa", altitude=None),
            # By hand: no less than 10 kPa and no more than 400, an inch of mercury being 3.386389 kPa.
            "map, line 2, column 1 = 40: must be -91.5429 to 23.624 inHg vacuum; check axes and cells",
        ),
        (
            "kPa boost by rpm,1000,2000\n-40,20,30\n-40,10,20\n",
            PUMP_HOUSE,
            "map, loads = -40 kPa boost stands twice: must rise, or fall, from row to row",
        ),
        (
            "psi boost by rpm,1000,2000\n-4,20,30\n0,10,20\n-1,10,20\n",
            PUMP_HOUSE,
            "map, loads = -1 psi boost turns back after 0: must rise, or fall, from row to row",
        ),
        (
            "percent of full load by rpm,1000,2000\n50,20,30\n50,10,20\n",
            PUMP_HOUSE,
            "map, loads = 50 % of full load stands twice: must rise, or fall, from row to row",
        ),
        (
            "inHg vacuum by rpm,2000,1000\n10,20,30\n0,10,20\n",
            PUMP_HOUSE,
            "map, line 1 = 1000 rpm falls after 2000: must rise from column to column",
        ),
    ],
)
def test_a_map_whose_terms_cannot_be_told_is_refused_in_a_sentence(
    text: str, job: Job | None, said: str
) -> None:
    with pytest.raises(Refusal) as refusal:
        read_map(text, None if job is None else loads_of(job))
    assert str(refusal.value) == said


def test_a_throttle_table_is_written_to_the_job_file_and_read_back() -> None:
    again = Job.from_toml(WITH_THROTTLE.to_toml())
    assert again.controller == WITH_THROTTLE.controller
