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


def side_valve_1923() -> Engine:
    """Slow L-head of Upton, J. SAE (Aug. 1923): 95.25 x 101.6 mm, ratio about 4.

    Valves, cam and rod are what was usual for its day (recalled).
    """
    chamber = Chamber("side-valve", 0.09525, 0.1016, 4.0)
    events = ValveEvents(-15.0, 30.0, 35.0, -10.0, at_lift_mm=1.27)
    return Engine(chamber, 4, 0.2032, events, 0.036, 0.036, rocker_ratio=1.0)
