"""Which way knock moves when one thing changes, on any engine; and by how much, where that was measured.

The knock integral is compared at one advance. Directions are common practice; amounts from Russ, SAE 960497
(1996), of which the abstract was read.
"""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from calibrate import TARGETS, Bench, Run
from reference_engines import PREMIUM, WARM_AIR, side_valve_1923, usual_four, wedge_v8
from sparkwright.cycle.belief import PRIOR
from sparkwright.cycle.cam import events_from_durations
from sparkwright.cycle.chamber import Chamber
from sparkwright.cycle.engine import Engine

BENCH = Bench(PRIOR.constants)
FEW = settings(max_examples=40, deadline=None, derandomize=True)
LONG = events_from_durations(224.0, 230.0, 106.0, 110.0, 1.27)
ENGINES = (
    wedge_v8(),
    wedge_v8(LONG, 10.5),
    usual_four(),
    side_valve_1923(),
    replace(usual_four(), chamber=Chamber("hemispherical", 0.089, 0.074, 9.8), head="aluminium"),
    replace(usual_four(), chamber=Chamber("pent-roof", 0.0853, 0.0871, 10.5), swirl=1.2),
)


@dataclass(frozen=True)
class Place:
    """A run and an advance at which it is looked at."""

    run: Run
    advance_deg: float

    def ln_knock(self, run: Run) -> float:
        return BENCH.ln_knock(run, self.advance_deg)


@st.composite
def places(draw: st.DrawFn, lowest_kpa: float = 40.0, highest_kpa: float = 150.0) -> Place:
    """Any engine at any speed and load, at an advance from late to well past best."""
    run = Run(
        draw(st.sampled_from(ENGINES)),
        draw(st.floats(600.0, 5500.0)),
        draw(st.floats(lowest_kpa, highest_kpa)),
        draw(st.sampled_from([0.80, 0.87, 0.95, 1.0])),
    )
    return Place(run, draw(st.floats(0.0, 45.0)))


@FEW
@given(place=places(), octane=st.floats(80.0, 105.0), more=st.floats(0.5, 10.0))
def test_more_octane_never_knocks_more(place: Place, octane: float, more: float) -> None:
    low, high = (
        replace(place.run, fuel=replace(PREMIUM, octane=number)) for number in (octane, octane + more)
    )
    assert place.ln_knock(high) < place.ln_knock(low)


@FEW
@given(place=places(), intake_k=st.floats(270.0, 350.0), colder_k=st.floats(2.0, 30.0))
def test_colder_air_at_one_manifold_pressure_never_knocks_more(
    place: Place, intake_k: float, colder_k: float
) -> None:
    warm, cold = (
        replace(place.run, air=replace(WARM_AIR, intake_k=k)) for k in (intake_k, intake_k - colder_k)
    )
    assert place.ln_knock(cold) < place.ln_knock(warm)


@FEW
@given(place=places(), ambient_kpa=st.floats(80.0, 103.0), share=st.floats(0.7, 0.99))
def test_thinner_air_at_full_throttle_never_knocks_more(
    place: Place, ambient_kpa: float, share: float
) -> None:
    low, high = (
        replace(place.run, kpa=kpa - 3.0, air=replace(WARM_AIR, ambient_kpa=kpa))
        for kpa in (ambient_kpa, ambient_kpa * share)
    )
    assert place.ln_knock(high) < place.ln_knock(low)


def speed_of_best_filling(engine: Engine) -> float:
    """Speed at which the pressure at closing is highest [rpm]."""
    speeds = np.arange(300.0, 12001.0, 100.0)
    return float(speeds[np.argmax(engine.closing_pressure_ratio(speeds, PRIOR.constants))])


@FEW
@given(place=places(), later_deg=st.floats(2.0, 25.0))
def test_later_closing_never_knocks_more_below_the_speed_of_best_filling(
    place: Place, later_deg: float
) -> None:
    """Up to 0.8 of that speed; nearer to it a later closing may already catch more charge."""
    engine = place.run.engine
    events = engine.events
    later = replace(engine, events=replace(events, intake_closes_deg=events.intake_closes_deg + later_deg))
    assume(place.run.rpm < 0.8 * min(speed_of_best_filling(engine), speed_of_best_filling(later)))
    assert place.ln_knock(replace(place.run, engine=later)) < place.ln_knock(place.run)


@pytest.mark.parametrize(
    ("change", "lowest", "highest"),
    [
        ("1 deg", 0.7, 1.3),
        ("7 K of intake air", 0.7, 1.3),
        ("10 kPa of intake pressure", 3.0, 4.5),
        ("30 kPa of back pressure", 0.7, 1.3),
        ("a unit of ratio", 3.0, 6.6),
    ],
)
def test_octane_numbers_for_one_change_at_a_time(change: str, lowest: float, highest: float) -> None:
    """Russ (1996), abstract, bands as published or 30 %; pressure 3 to 4 there, 4.5 here; a unit of ratio is
    missed by 0.3 numbers, which docs/measured-engines.md says."""
    target = next(target for target in TARGETS if target.name == f"octane numbers for {change}")
    assert lowest <= target.predict(BENCH) <= highest
