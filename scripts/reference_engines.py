"""Engines whose best spark or knock limit is known from outside, as the cycle sees them."""

from __future__ import annotations

from sparkwright.cycle.cam import ValveEvents, events_from_durations
from sparkwright.cycle.chamber import Chamber
from sparkwright.cycle.engine import Air, Engine, Fuel

MILD_CAM = events_from_durations(196.0, 203.0, 107.0, 112.0, 1.27)
RADICAL_CAM = events_from_durations(230.0, 236.0, 106.0, 110.0, 1.27)

WARM_AIR = Air(ambient_kpa=100.0, intake_k=305.0, humidity_ratio=0.008)
PREMIUM = Fuel(octane=95.0, sensitivity=8.0)  # 91 on the pump, the mean of research and motor
REGULAR = Fuel(octane=91.0, sensitivity=8.0)  # 87 on the pump


def wedge_v8(events: ValveEvents = MILD_CAM, compression_ratio: float = 9.5) -> Engine:
    """Ordinary 5.7-litre V8 with wedge chambers in an iron head; its dimensions are invented."""
    chamber = Chamber("wedge", 0.0996, 0.0919, compression_ratio)
    return Engine(chamber, 8, 0.154, events, intake_seat_m=0.0432, exhaust_seat_m=0.0351)


def cfr(compression_ratio: float = 7.55) -> Engine:
    """Octane-rating engine: one cylinder, flat disc, plug in the wall, shrouded intake valve.

    Dimensions from Choi et al. (SAE 2018-01-0848); valve events recalled from ASTM D2699, which gives them at
    the lash of 0.008 in; swirl 1.65 for the shrouded valve, which puts half burned where KN-14 measured it.
    """
    chamber = Chamber("flat-disc", 0.08255, 0.1143, compression_ratio, plug_offset_m=0.036)
    events = ValveEvents(-10.0, 34.0, 40.0, 15.0, at_lift_mm=0.2032)
    return Engine(chamber, 1, 0.254, events, 0.030, 0.030, rocker_ratio=1.0, swirl=1.65)


MOTOR_TEST_ADVANCE = {4.91: 26.0, 5.29: 24.0, 5.75: 22.0, 6.33: 20.0, 7.07: 18.0}
"""Spark of the motor method by ratio [deg] (ASTM D2700, read in a public copy)."""

CFR_AIR = Air(ambient_kpa=100.0, intake_k=325.0, humidity_ratio=0.006)
"""Research method: air at 52 C (ASTM D2699)."""


def side_valve_1919() -> Engine:
    """Slow L-head of a maker's service bulletin of about 1919, second-hand: dimensions, ratio, valve events.

    The lift at which the events are told is taken as 0.4 mm, a usual lash of its day; valve diameters are
    what was usual (recalled).
    """
    chamber = Chamber("side-valve", 0.09525, 0.1016, 3.98)
    events = ValveEvents(-12.7, 50.8, 37.9, 0.0, at_lift_mm=0.4)
    return Engine(chamber, 4, 0.1778, events, 0.033, 0.033, rocker_ratio=1.0)


def usual_four() -> Engine:
    """Ordinary two-litre four with open chambers, 8.5 to 1; invented, where no dimensions were told."""
    return Engine(Chamber("open", 0.0826, 0.0880, 8.5), 4, 0.1500, MILD_CAM, 0.036, 0.030)


def air_cooled_flat_four() -> Engine:
    """Aviation engine of NASA TM X-73500 (1976): 130.2 x 98.4 mm, 8.5 to 1, two valves in a dome.

    Rod, cam and valves are what is usual (recalled). Such engines fire two plugs; the program knows one.
    """
    chamber = Chamber("hemispherical", 0.1302, 0.0984, 8.5)
    return Engine(chamber, 4, 0.1700, MILD_CAM, 0.054, 0.044, head="aluminium")


def side_valve_1923() -> Engine:
    """Slow L-head of Upton, J. SAE (Aug. 1923): 95.25 x 101.6 mm, ratio about 4.

    Valves, cam and rod are what was usual for its day (recalled).
    """
    chamber = Chamber("side-valve", 0.09525, 0.1016, 4.0)
    events = ValveEvents(-15.0, 30.0, 35.0, -10.0, at_lift_mm=1.27)
    return Engine(chamber, 4, 0.2032, events, 0.036, 0.036, rocker_ratio=1.0)
