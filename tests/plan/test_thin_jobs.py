"""Jobs made from what a person knows: each plans, says what its guesses cost, and what to measure first.

All twelve engines are invented.
"""

import pytest

from sparkwright.check.hardware import check_hardware
from sparkwright.job import Job
from sparkwright.plan.physics import physics_of
from sparkwright.plan.planner import plan
from sparkwright.plan.worth import measure_first, worth_measuring
from sparkwright.words.worth import worth_words

THIN = """
name = "{name}"
invented = true
[engine]
cylinders = {cylinders}
layout = "{layout}"
firing_order = {order}
bore = "{bore}"
stroke = "{stroke}"
{ratio}
[cam]
{cam}
[induction]
{induction}
[fuel]
{fuel}
[distributor]
rotation = "{rotation}"
advance = "locked"
base_deg = 10
cap_size = "{cap}"
[pickup]
kind = "{pickup}"
[driver]
kind = "{driver}"
{energy}
[coil]
kind = "{coil}"
[controller]
rpm = [700, 1500, 2500, 3500, 4500]
kpa = [30, 45, 65, 85, 95]
"""

EVENTS = """at_lift = "advertised, hydraulic"
intake_opens_deg = 18
intake_closes_deg = 58
exhaust_opens_deg = 60
exhaust_closes_deg = 16"""
DURATIONS = """at_lift = "0.050 in"
intake_duration_deg = 206
exhaust_duration_deg = 212
intake_centreline_deg = 108
lobe_separation_deg = 112"""
CENTRELINE_BY_ADVANCE = """at_lift = "1 mm"
intake_duration_deg = 214
exhaust_duration_deg = 214
lobe_separation_deg = 110
cam_advance_deg = 4"""

V8, V6, SIX, FOUR = [1, 8, 4, 3, 6, 5, 7, 2], [1, 2, 3, 4, 5, 6], [1, 5, 3, 6, 2, 4], [1, 3, 4, 2]


def thin(name: str, cylinders: int, order: list[int], **facts: str) -> tuple[str, str]:
    usual = {
        "layout": "inline",
        "bore": "98 mm",
        "stroke": "88 mm",
        "ratio": "compression_ratio = 9.1",
        "cam": DURATIONS,
        "induction": 'kind = "natural"',
        "fuel": "aki = 88",
        "rotation": "clockwise",
        "cap": "medium",
        "pickup": "two-wire",
        "driver": "inductive",
        "energy": "",
        "coil": "unknown",
    }
    return name, THIN.format(name=name, cylinders=cylinders, order=order, **(usual | facts))


JOBS = dict(
    [
        thin("Harbour V8", 8, V8, layout="v", cap="large"),
        thin("Gravel V8, piston known", 8, V8, layout="v", ratio='piston = "domed"', fuel="ron = 98"),
        thin("Silo V8, cam by its advance", 8, V8, layout="v", cam=CENTRELINE_BY_ADVANCE),
        thin("Orchard V6", 6, V6, layout="v", cap="small", coil="high-energy"),
        thin("Ferry six", 6, SIX, bore="3.6 in", stroke="4.1 in", cam=EVENTS),
        thin("Mill six, dished", 6, SIX, ratio='piston = "dished"', fuel="ron = 91", coil="oil-filled"),
        thin("Quarry four", 4, FOUR, bore="83 mm", stroke="79 mm", cap="small", rotation="anticlockwise"),
        thin("Bakery four, hall", 4, FOUR, pickup="hall", cam=EVENTS, coil="high-energy"),
        thin("Tannery four, flat", 4, [1, 4, 3, 2], layout="flat", bore="90 mm", stroke="69 mm", cap="small"),
        thin(
            "Brickyard four, boosted",
            4,
            FOUR,
            induction='kind = "boosted"\nmax_boost = "7 psi"',
            fuel="ron = 98",
            ratio="compression_ratio = 8.4",
        ),
        thin("Depot V8, points trigger", 8, V8, layout="v", pickup="points", coil="oil-filled with ballast"),
        thin(
            "Sawmill six, capacitive",
            6,
            SIX,
            driver="capacitive",
            energy='energy = "95 mJ"\nprimary_voltage = "420 V"',
            coil="for a capacitive driver",
        ),
    ]
)
NAMES = list(JOBS)


def test_there_are_twelve_of_them() -> None:
    assert len(JOBS) == 12


@pytest.mark.parametrize("name", NAMES)
def test_what_a_person_knows_is_enough_for_a_map(name: str) -> None:
    """Bands of total advance at full load and mid speed: common practice, no source."""
    job = Job.from_toml(JOBS[name])
    found = plan(job)
    full = found.cells.spark_map.at(rpm=3500, kpa=95)
    assert 12.0 <= full <= 42.0, name
    assert found.cells.spark_map.at(rpm=2500, kpa=45) >= full - 4.0, "cruise takes more than full load"
    assert check_hardware(job).verdicts


@pytest.mark.parametrize("name", NAMES)
def test_it_says_what_its_guesses_cost_and_names_three_facts_to_measure(name: str) -> None:
    job = Job.from_toml(JOBS[name])
    worth = worth_measuring(job)
    first = measure_first(physics_of(job).assumed + check_hardware(job).assumed, worth)
    assert len(first) == 3
    assert first[0].worth is not None
    costs = [each.worth.moved_deg for each in first if each.worth is not None]
    assert costs == sorted(costs, reverse=True)
    assert all(0.1 <= cost <= 15.0 for cost in costs)
    assert worth_words(first[0].worth).startswith("the guess may cost ")


def test_a_fact_that_is_measured_is_no_longer_asked_for() -> None:
    job = Job.from_toml(JOBS["Gravel V8, piston known"])
    named = {key for each in worth_measuring(job) for key in each.keys}
    assert {"engine.compression_ratio", "engine.chamber"} <= named
    measured = job.changed("engine", compression_ratio=10.4, chamber="wedge")
    asked = {key for each in worth_measuring(measured) for key in each.keys}
    assert not {"engine.compression_ratio", "engine.chamber"} & asked


def test_a_guessed_ratio_makes_knock_less_firm_and_so_the_ceiling_later() -> None:
    """The same ratio, once guessed from the piston and once measured: a guess can only cost advance."""
    guessed = Job.from_toml(JOBS["Gravel V8, piston known"])
    measured = guessed.changed("engine", compression_ratio=guessed.engine.compression_ratio)
    late, early = plan(guessed).cells.ceilings.knock_deg, plan(measured).cells.ceilings.knock_deg
    assert (late[-1] <= early[-1] + 1e-9).all()
    assert (late[-1] < early[-1]).any()


def test_an_unknown_coil_widens_the_band_of_the_voltage() -> None:
    job = Job.from_toml(JOBS["Harbour V8"])
    measured = job.changed("coil", primary_resistance="3 ohm", primary_inductance="9 mH", turns_ratio=60)
    spreads = {each.name: each.amount for each in check_hardware(job).demand.spreads}
    known = {each.name: each.amount for each in check_hardware(measured).demand.spreads}
    assert (spreads["what coil it is"], known["what coil it is"]) == ("20 %", "0 %")


def test_a_coil_nobody_named_goes_with_its_driver() -> None:
    job = Job.from_toml(JOBS["Sawmill six, capacitive"]).changed("coil", kind=None)
    taken = {each.field: each.value for each in check_hardware(job).assumed}
    assert taken["coil.primary_inductance"] == "1.2 mH"
