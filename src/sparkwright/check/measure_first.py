"""Which assumed facts to measure first: what moves the result most where it is wrong."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sparkwright.check.assumed import Assumed

MATTERS: dict[str, str] = {
    "distributor.tip_width": "it decides how much advance the rotor can pass on",
    "distributor.post_width": "it decides how much advance the rotor can pass on",
    "distributor.rotor_phase_deg": "two crank degrees of reach hang on each degree of it",
    "driver.ballast": "a resistance wire that nobody took out starves the coil",
    "engine.plug_offset": "a plug off the middle wants several degrees more",
    "engine.swirl": "a fast-burning port wants several degrees less",
    "fuel.lambda_full": "weak mixtures burn slower and knock sooner",
    "induction.charge_temperature": "hot charge knocks sooner",
    "induction.intake_temperature": "warm air knocks sooner",
    "cam.at_lift": "overlap at idle, and so its timing, is read from it",
    "distributor.tip_radius": "angles in the cap are reckoned from it",
    "distributor.post_radius": "angles in the cap are reckoned from it",
    "engine.redline_rpm": "the map ends there",
    "engine.idle_kpa": "the idle cells stand there",
    "engine.idle_rpm": "the idle cells stand there",
    "fuel.lambda_cruise": "weak cruise wants more advance",
    "driver.drop": "dwell is reckoned with it",
    "coil.secondary_resistance": "the voltage there is hangs on it",
}
"""By field, the most telling first, with the reason. The order is our own, common practice, no source."""


@dataclass(frozen=True)
class MeasureFirst:
    """An assumed value that is worth measuring, with the reason."""

    field: str
    value: str
    why: str


def measure_first(assumed: Iterable[Assumed], most: int = 3) -> tuple[MeasureFirst, ...]:
    """Give the assumed values that matter most, the most telling first.

    Examples
    --------
    >>> taken = [Assumed("fuel.lambda_full", "0.87", "usual"), Assumed("engine.swirl", "1", "usual")]
    >>> [each.field for each in measure_first(taken, most=1)]
    ['engine.swirl']
    """
    by_field = {each.field: each.value for each in assumed}
    found = [MeasureFirst(field, by_field[field], why) for field, why in MATTERS.items() if field in by_field]
    return tuple(found[:most])
