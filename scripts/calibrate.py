"""Fit the program's three constants to a table of targets and print the misfit of each.

Run ``make calibrate``. Two constants of turbulence are fitted to best advances, the one of knock to
knock limits; nothing else in the program is fitted. The values found belong in
``sparkwright.cycle.engine.Constants``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq, least_squares

from reference_engines import (
    CFR_AIR,
    MILD_CAM,
    PREMIUM,
    RADICAL_CAM,
    WARM_AIR,
    cfr,
    wedge_v8,
)
from sparkwright.cycle.engine import Air, Constants, Engine, Fuel
from sparkwright.cycle.hook import best_spark, hook_trace, knock_limit_deg

FloatArray = NDArray[np.float64]
Predictor = Callable[[Constants], float]
Known = Literal["about", "at least", "at most"]
REFINE = 3.0  # the valley of the misfit is flat, and the usual step's noise would move its bottom
ADVANCE_DEG = np.arange(-6.0, 66.1, 2.0)


@dataclass(frozen=True)
class Target:
    """One known figure: what the model must give, how firmly it is known, and who says so."""

    name: str
    wanted: float
    spread: float
    origin: str
    predict: Predictor
    known: Known = "about"
    """Where practice tells only one side, what lies beyond it is no misfit."""

    def misfit(self, constants: Constants) -> float:
        """How far off, in spreads."""
        off = (self.predict(constants) - self.wanted) / self.spread
        if self.known == "at least":
            return min(off, 0.0)
        return max(off, 0.0) if self.known == "at most" else off


def best(
    engine: Engine, rpm: float, kpa: float, mixture: float, fuel: Fuel = PREMIUM, air: Air = WARM_AIR
) -> Predictor:
    """Make a predictor of best advance [deg]."""

    def predict(constants: Constants) -> float:
        trace = hook_trace(
            engine,
            air,
            fuel,
            constants,
            speed_rpm=rpm,
            map_kpa=kpa,
            mixture_lambda=mixture,
            advance_deg=ADVANCE_DEG,
            refine=REFINE,
        )
        return best_spark(trace.advance_deg, trace.torque_nm).best_deg

    return predict


def knock(engine: Engine, rpm: float, kpa: float, mixture: float) -> Predictor:
    """Make a predictor of the knock limit on premium [deg]."""

    def predict(constants: Constants) -> float:
        trace = hook_trace(
            engine,
            WARM_AIR,
            PREMIUM,
            constants,
            speed_rpm=rpm,
            map_kpa=kpa,
            mixture_lambda=mixture,
            advance_deg=ADVANCE_DEG,
            refine=REFINE,
        )
        return knock_limit_deg(trace.advance_deg, trace.knock_integral)

    return predict


def knock_ratio(octane: float) -> Predictor:
    """Make a predictor of the CFR engine's knock-limited ratio at 600 rpm and 13 deg [-]."""

    def predict(constants: Constants) -> float:
        def over(ratio: float) -> float:
            trace = hook_trace(
                cfr(ratio),
                CFR_AIR,
                Fuel(octane),
                constants,
                speed_rpm=600.0,
                map_kpa=98.0,
                mixture_lambda=0.90,
                advance_deg=np.array([13.0]),
                refine=REFINE,
            )
            return float(np.log(trace.knock_integral[0]))

        return float(brentq(over, 4.0, 12.0, xtol=1e-3))

    return predict


PRACTICE = "common practice, no source"
SET_IDLE = "common practice of set timing, with 6 deg in reserve"
SET_LOAD = "common practice of set timing, with 3 deg of margin"
GUIDE = "ASTM D2699-15a guide table"
BURN_TARGETS = (
    Target("V8 full load, 1100 rpm: best", 18.0, 2.0, PRACTICE, best(wedge_v8(), 1100, 95, 0.87)),
    Target("V8 full load, 2000 rpm: best", 26.0, 2.0, PRACTICE, best(wedge_v8(), 2000, 95, 0.87)),
    Target("V8 full load, 3000 rpm: best", 32.0, 1.5, PRACTICE, best(wedge_v8(), 3000, 95, 0.87)),
    Target("V8 full load, 4500 rpm: best", 36.0, 2.0, PRACTICE, best(wedge_v8(), 4500, 95, 0.87)),
    Target("V8 full load, 6000 rpm: best", 38.0, 2.0, PRACTICE, best(wedge_v8(), 6000, 95, 0.87)),
    Target("V8 3000 rpm, 45 kPa: best", 40.0, 2.0, PRACTICE, best(wedge_v8(), 3000, 45, 1.0)),
    Target("V8 3000 rpm, 45 kPa, lambda 1.15: best", 45.0, 4.0, PRACTICE, best(wedge_v8(), 3000, 45, 1.15)),
    Target(
        "V8 idle, mild cam: best",
        26.0,
        3.0,
        SET_IDLE,
        best(wedge_v8(MILD_CAM), 700, 38, 0.97),
        known="at most",
    ),
    Target("V8 idle, radical cam: best", 30.0, 2.0, SET_IDLE, best(wedge_v8(RADICAL_CAM), 900, 65, 0.92)),
)
KNOCK_TARGETS = (
    Target("V8 full load, 1100 rpm: knock", 19.0, 2.0, SET_LOAD, knock(wedge_v8(), 1100, 95, 0.87)),
    Target(
        "V8 full load, 2000 rpm: knock",
        29.0,
        2.0,
        SET_LOAD,
        knock(wedge_v8(), 2000, 95, 0.87),
        known="at least",
    ),
    Target("CFR, 80 octane: ratio at knock", 5.94, 0.4, GUIDE, knock_ratio(80.0)),
    Target("CFR, 90 octane: ratio at knock", 6.43, 0.4, GUIDE, knock_ratio(90.0)),
    Target("CFR, 100 octane: ratio at knock", 7.49, 0.4, GUIDE, knock_ratio(100.0)),
)


def fit() -> Constants:
    """Find the constants of least weighted misfit."""

    def burn_misfit(x: FloatArray) -> list[float]:
        constants = Constants(turbulence=float(np.exp(x[0])), burn_up=float(np.exp(x[1])))
        return [t.misfit(constants) for t in BURN_TARGETS]

    burn = least_squares(burn_misfit, np.log([0.6, 0.8]), diff_step=[0.02], loss="soft_l1")
    found = Constants(turbulence=float(np.exp(burn.x[0])), burn_up=float(np.exp(burn.x[1])))

    def knock_misfit(x: FloatArray) -> list[float]:
        constants = replace(found, knock_factor=float(np.exp(x[0])))
        misfits = [t.misfit(constants) for t in KNOCK_TARGETS]
        return [float(np.nan_to_num(np.clip(m, -5.0, 5.0), nan=5.0)) for m in misfits]

    limit = least_squares(knock_misfit, np.log([1.9]), diff_step=[0.02], loss="soft_l1")
    return replace(found, knock_factor=float(np.exp(limit.x[0])))


def report(constants: Constants) -> None:
    """Print the constants and every target's misfit."""
    print(
        f"turbulence = {constants.turbulence:.4f}  burn_up = {constants.burn_up:.4f}"
        f"  knock_factor = {constants.knock_factor:.4f}"
    )
    for target in BURN_TARGETS + KNOCK_TARGETS:
        got = target.predict(constants)
        print(
            f"{target.name:42} {target.known:8} {target.wanted:6.2f} +-{target.spread:4.1f}"
            f"  got {got:6.2f}  off {target.spread * target.misfit(constants):+6.2f}  {target.origin}"
        )


if __name__ == "__main__":
    report(fit())
