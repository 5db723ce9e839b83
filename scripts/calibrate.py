"""Fit the program's constants to a table of targets and print what comes of each.

Run ``make calibrate``. Eleven constants are fitted together to best advances, mean pressures, fillings and knock
of engines whose behaviour is known from outside; nothing else in the program is fitted, and nothing for one
engine. With ``--write`` the constants and their covariance become the program's prior belief,
``src/sparkwright/cycle/prior.json``.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from math import inf, log, pi
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.optimize import least_squares

from reference_engines import (
    CFR_AIR,
    MILD_CAM,
    PREMIUM,
    RADICAL_CAM,
    REGULAR,
    WARM_AIR,
    cfr,
    wedge_v8,
)
from sparkwright.cycle import gas, octane
from sparkwright.cycle.belief import PRIOR
from sparkwright.cycle.engine import Air, Constants, Engine, Fuel, charge_at
from sparkwright.cycle.hook import HookTrace, best_spark, hook_trace

FloatArray = NDArray[np.float64]
PRIOR_FILE = Path(__file__).parent.parent / "src" / "sparkwright" / "cycle" / "prior.json"
FITTED = (
    "flame_gain",
    "flame_growth",
    "burn_up",
    "closing_loss",
    "ram",
    "choking_index",
    "overlap_discharge",
    "knock_factor",
    "knock_pressure_exponent",
    "knock_activation_k",
    "weighing_speed_k",
)
ADVANCE_DEG = np.arange(-6.0, 66.1, 2.0)
CFR_RATIOS = np.arange(4.5, 9.6, 0.5)
REFINE = 1.5
PSI_KPA = 6.894757


@dataclass(frozen=True)
class Run:
    """One engine at one speed, load and mixture."""

    engine: Engine
    rpm: float
    kpa: float = 97.0
    mixture: float = 0.87
    fuel: Fuel = PREMIUM
    air: Air = WARM_AIR


@dataclass
class Bench:
    """Runs engines with one set of constants, each only once."""

    constants: Constants
    _hooks: dict[Run, HookTrace] = field(default_factory=dict)

    def hook(self, run: Run) -> HookTrace:
        """Run a whole hook."""
        if run not in self._hooks:
            self._hooks[run] = self._trace(run, ADVANCE_DEG)
        return self._hooks[run]

    def _trace(self, run: Run, advance_deg: FloatArray) -> HookTrace:
        return hook_trace(
            run.engine,
            run.air,
            run.fuel,
            self.constants,
            speed_rpm=run.rpm,
            map_kpa=run.kpa,
            mixture_lambda=run.mixture,
            advance_deg=advance_deg,
            refine=REFINE,
        )

    def best(self, run: Run) -> float:
        """Best advance [deg]."""
        trace = self.hook(run)
        return best_spark(trace.advance_deg, trace.torque_nm).best_deg

    def at_best(self, run: Run, name: str) -> float:
        """A quantity of the hook at best advance."""
        return float(np.interp(self.best(run), ADVANCE_DEG, getattr(self.hook(run), name)))

    def bmep(self, run: Run) -> float:
        """Brake mean effective pressure at best [bar]."""
        trace = self.hook(run)
        torque_nm = best_spark(trace.advance_deg, trace.torque_nm).best_torque_nm
        return 1e-5 * torque_nm * 4.0 * pi / run.engine.displacement_m3

    def ln_knock(self, run: Run, advance_deg: float) -> float:
        """Logarithm of the knock integral at an advance [-]."""
        return float(np.log(self._trace(run, np.array([advance_deg])).knock_integral[0]))

    def limit(self, run: Run, integral: float = 1.0) -> float:
        """Advance at which the knock integral first reaches a value [deg]; past the hook it goes on straight."""
        values = np.log(np.maximum.accumulate(self.hook(run).knock_integral)) - log(integral)
        over = np.flatnonzero(values >= 0.0)
        last = int(over[0]) if over.size else ADVANCE_DEG.size - 1
        last = max(last, 1)
        rise = max(float(values[last] - values[last - 1]), 0.01)
        step = float(ADVANCE_DEG[last] - ADVANCE_DEG[last - 1])
        return min(float(ADVANCE_DEG[last]) - step * float(values[last]) / rise, 80.0)

    def planned(self, run: Run, integral: float) -> float:
        """Lower of best and the advance of a knock integral [deg]."""
        return min(self.best(run), self.limit(run, integral))

    def filling(self, run: Run) -> float:
        """Air trapped over what the displacement holds at the manifold's density [-]."""
        charge, share = charge_at(
            run.engine,
            run.air,
            run.fuel,
            self.constants,
            speed_rpm=run.rpm,
            map_kpa=run.kpa,
            mixture_lambda=run.mixture,
        )
        air_fuel = run.mixture * gas.stoichiometric_air_fuel_ratio(run.fuel.ethanol_share_volume)
        humidity = run.air.humidity_ratio
        air_kg = (
            charge.mass_kg * (1.0 - share) * air_fuel * (1.0 + humidity) / (1.0 + air_fuel * (1.0 + humidity))
        )
        density = 1e3 * run.kpa / (287.05 * run.air.intake_k)
        return air_kg / (density * run.engine.displaced_m3)

    def ratio_at_knock(
        self, fuel_octane: float, kpa: float, mixture: float, advance_deg: float = 13.0
    ) -> float:
        """Ratio at which the octane engine just knocks, research method [-]."""
        values = [
            self.ln_knock(Run(cfr(ratio), 600.0, kpa, mixture, Fuel(fuel_octane), CFR_AIR), advance_deg)
            for ratio in CFR_RATIOS
        ]
        roots = CubicSpline(CFR_RATIOS, values).roots(extrapolate=True)
        return float(roots[np.argmin(np.abs(roots - 7.0))])

    def octane_worth(
        self, before: Run, after: Run, advance_deg: float, after_deg: float | None = None
    ) -> float:
        """Octane numbers, both moved together, that a change costs at one advance [-]."""
        more = replace(before, fuel=replace(before.fuel, octane=before.fuel.octane + 2.0))
        here = self.ln_knock(before, advance_deg)
        gained = (here - self.ln_knock(more, advance_deg)) / 2.0
        moved = self.ln_knock(after, advance_deg if after_deg is None else after_deg) - here
        return moved / gained


Predictor = Callable[[Bench], float]


@dataclass(frozen=True)
class Target:
    """One known figure: the band it must lie in, who says so, and how the model gives it.

    A band that is open on one side says what is known only there; ``scale`` is then how much beyond it counts
    as one.
    """

    name: str
    lowest: float
    highest: float
    origin: str
    predict: Predictor
    scale: float = 0.0

    def misfit(self, got: float) -> float:
        """How far off: 0 in the middle of the band, 1 at its edge."""
        if self.highest == inf:
            return min(got - self.lowest, 0.0) / self.scale
        if self.lowest == -inf:
            return max(got - self.highest, 0.0) / self.scale
        return (2.0 * got - self.lowest - self.highest) / (self.highest - self.lowest)

    def inside(self, got: float) -> bool:
        """Whether a value lies in the band."""
        return self.lowest <= got <= self.highest


PRACTICE = "common practice, no source"
HEYWOOD = "Heywood (1988), ch. 9 and 15 (recalled)"
TAYLOR = "Taylor (1985), ch. 6 (recalled)"
CHOI = "Choi et al., SAE 2018-01-0848 (2018), second-hand"
KOLODZIEJ = "Kolodziej and Wallner, Combustion Engines 171(4) (2017), second-hand"
RUSS = "Russ, SAE 960497 (1996), abstract"
GUIDE = "ASTM D2699-15a guide table"
SON = "SAE 2023-01-0251 (2023), fig. 6, second-hand"
V8 = wedge_v8()
LONG = wedge_v8(RADICAL_CAM)
LOW, HIGH = wedge_v8(MILD_CAM, 8.25), wedge_v8(MILD_CAM, 10.5)
SUPER = Fuel(octane=99.0, sensitivity=8.0)
PAIRS = ((LOW, REGULAR, "8.25:1 on 91/83"), (V8, PREMIUM, "9.5:1 on 95/87"), (HIGH, SUPER, "10.5:1 on 99/91"))
BOOSTED = wedge_v8(MILD_CAM, 8.5)
BOOSTED_INTEGRAL = 0.68
"""Knock integral of a chance of 2 % where its logarithm is known to 0.19 [-]."""


def boosted(rpm: float, psi: float) -> Run:
    """A V8 under boost, its charge at 60 degC."""
    return Run(BOOSTED, rpm, 100.0 + PSI_KPA * psi, 0.80, PREMIUM, replace(WARM_AIR, intake_k=333.0))


def fall_per_psi(rpm: float) -> Predictor:
    """What is planned falls by so much for each psi from 5 to 10."""
    return lambda b: (
        (b.planned(boosted(rpm, 5.0), BOOSTED_INTEGRAL) - b.planned(boosted(rpm, 10.0), BOOSTED_INTEGRAL))
        / 5.0
    )


def factor_slope(bench: Bench) -> float:
    """Power of speed with which the knock factor would have to move to keep the limit a degree past best."""
    low, high = (bench.ln_knock(Run(V8, rpm), bench.best(Run(V8, rpm)) + 1.0) for rpm in (1000.0, 4500.0))
    return (high - low) / log(4.5)


def _best_targets() -> list[Target]:
    found = [
        Target(f"V8 full load, {rpm} rpm: best", low, high, PRACTICE, lambda b, r=rpm: b.best(Run(V8, r)))
        for rpm, low, high in (
            (1100, 15, 21),
            (2000, 23, 29),
            (3000, 29, 34),
            (3500, 33, 37),
            (4500, 33, 39),
            (6000, 35, 41),
        )
    ]
    cruise = Run(V8, 3000, 45.0, 1.0)
    at_2500 = Run(V8, 2500, 45.0, 1.0)
    full = replace(at_2500, kpa=95.0)
    rich = Run(V8, 2500)

    def with_ratio(ratio: float) -> Run:
        return replace(rich, engine=wedge_v8(MILD_CAM, ratio))

    found += [
        Target("V8 3000 rpm, 45 kPa, lambda 1: best", 40, 46, PRACTICE, lambda b: b.best(cruise)),
        Target(
            "load 95 to 45 kPa, lambda 1, 2500 rpm: best moves",
            8,
            15,
            HEYWOOD,
            lambda b: b.best(at_2500) - b.best(full),
        ),
        Target(
            "lambda 1 to 1.15, 2500 rpm, 45 kPa: best moves",
            3,
            8,
            HEYWOOD,
            lambda b: b.best(replace(at_2500, mixture=1.15)) - b.best(at_2500),
        ),
        Target(
            "ratio 7.5 to 8.5: best moves",
            -3.5,
            -1,
            "motor method, ASTM D2700, second-hand",
            lambda b: b.best(with_ratio(8.5)) - b.best(with_ratio(7.5)),
        ),
        Target(
            "ratio 9.5 to 10.5: best moves",
            -2.5,
            -1,
            PRACTICE,
            lambda b: b.best(with_ratio(10.5)) - b.best(rich),
        ),
        Target(
            "long cam, 2500 rpm, 45 kPa: best moves",
            4,
            12,
            PRACTICE,
            lambda b: b.best(replace(at_2500, engine=LONG)) - b.best(at_2500),
        ),
        Target(
            "2,000 m, full throttle, 2500 rpm: best moves",
            1,
            6,
            PRACTICE,
            lambda b: b.best(replace(rich, kpa=77.0, air=replace(WARM_AIR, ambient_kpa=79.5))) - b.best(rich),
        ),
        Target(
            "85 % ethanol, 2500 rpm: best moves",
            -3,
            -1,
            PRACTICE,
            lambda b: b.best(replace(rich, fuel=replace(PREMIUM, ethanol_share_volume=0.85))) - b.best(rich),
        ),
        Target(
            "V8 idle, mild cam, 700 rpm, 38 kPa: best",
            -inf,
            26,
            PRACTICE,
            lambda b: b.best(Run(V8, 700, 38.0, 0.97)),
            2,
        ),
    ]
    found += [
        Target(
            f"V8 idle, 230/236 cam, 900 rpm, {kpa:.0f} kPa: best",
            28,
            40,
            PRACTICE,
            lambda b, k=kpa: b.best(Run(LONG, 900, k, 0.92)),
        )
        for kpa in (45.0, 50.0)
    ]
    found += [
        Target(
            f"V8 {rpm} rpm, lambda 1: half burned at best",
            5,
            12,
            HEYWOOD,
            lambda b, r=rpm: b.at_best(Run(V8, r, 95.0, 1.0), "ca50_atdc_deg"),
        )
        for rpm in (1500, 2000, 2500)
    ]
    return found


def _charge_targets() -> list[Target]:
    octane_run = Run(cfr(7.55), 600, 98.0, 0.89, Fuel(100.0), CFR_AIR)

    def gross(advance_deg: float) -> Predictor:
        return lambda b: float(np.interp(advance_deg, ADVANCE_DEG, b.hook(octane_run).imep_bar))

    found = [
        Target(f"V8 mild cam, {rpm} rpm: filling", 0.82, 0.90, TAYLOR, lambda b, r=rpm: b.filling(Run(V8, r)))
        for rpm in (2500, 3000, 3500)
    ]
    found += [
        Target(
            "V8 mild cam: filling at 1,000 under that at 3,000 rpm",
            0.02,
            inf,
            TAYLOR,
            lambda b: b.filling(Run(V8, 3000)) - b.filling(Run(V8, 1000)),
            0.02,
        ),
        Target(
            "long cam less mild cam, 1500 rpm: filling",
            -inf,
            -0.005,
            TAYLOR,
            lambda b: b.filling(Run(LONG, 1500)) - b.filling(Run(V8, 1500)),
            0.02,
        ),
        Target(
            "long cam less mild cam, 5500 rpm: filling",
            0.01,
            inf,
            TAYLOR,
            lambda b: b.filling(Run(LONG, 5500)) - b.filling(Run(V8, 5500)),
            0.02,
        ),
        Target("octane engine: filling", 0.815, 0.855, KOLODZIEJ, lambda b: b.filling(octane_run)),
        Target(
            "octane engine, spark 13 deg: gross mean pressure", 0.97 * 8.137, 1.03 * 8.137, CHOI, gross(13.0)
        ),
        Target(
            "octane engine, spark 5 deg late: gross mean pressure",
            0.97 * 7.892,
            1.03 * 7.892,
            CHOI,
            gross(-5.0),
        ),
        Target(
            "octane engine, spark 13 deg: 10 % burned",
            -0.5,
            1.5,
            KOLODZIEJ,
            lambda b: float(np.interp(13.0, ADVANCE_DEG, b.hook(octane_run).ca10_atdc_deg)),
        ),
        Target(
            "octane engine, spark 13 deg: half burned",
            8.3,
            9.3,
            KOLODZIEJ,
            lambda b: float(np.interp(13.0, ADVANCE_DEG, b.hook(octane_run).ca50_atdc_deg)),
        ),
        Target(
            "V8 2500 rpm, lambda 1 over 0.87: torque",
            0.975,
            0.99,
            PRACTICE,
            lambda b: b.bmep(Run(V8, 2500, mixture=1.0)) / b.bmep(Run(V8, 2500)),
        ),
        Target(
            "8.25:1, 3000 rpm: brake mean pressure",
            8.3,
            inf,
            PRACTICE,
            lambda b: b.bmep(Run(LOW, 3000, fuel=REGULAR)),
            0.3,
        ),
    ]
    found += [
        Target(
            f"{name}:1, {rpm} rpm: brake mean pressure",
            8.8,
            10.8,
            PRACTICE,
            lambda b, e=engine, r=rpm: b.bmep(Run(e, r)),
        )
        for name, engine in (("9.5", V8), ("10.5", HIGH))
        for rpm in (2500, 3500)
    ]
    return found


def _knock_targets() -> list[Target]:
    found = [
        Target(
            f"{name}, {rpm} rpm: limit less best",
            -4,
            6,
            PRACTICE,
            lambda b, x=Run(engine, rpm, fuel=fuel): b.limit(x) - b.best(x),
        )
        for engine, fuel, name in PAIRS
        for rpm in (1500, 2000, 3000)
    ]
    half = Run(V8, 2000)
    spark = 26.0
    found += [
        Target(
            "9.5:1 on 91/83, 3000 rpm: limit",
            26,
            32,
            PRACTICE,
            lambda b: b.limit(Run(V8, 3000, fuel=REGULAR)),
        ),
        Target("9.5:1 on 95/87, 1100 rpm: limit", 13, 18, PRACTICE, lambda b: b.limit(Run(V8, 1100))),
        Target("power of speed that the knock factor would need", -0.15, 0.15, PRACTICE, factor_slope),
        Target(
            "octane numbers for 1 deg",
            0.7,
            1.3,
            RUSS,
            lambda b: b.octane_worth(half, half, spark, spark + 1.0),
        ),
        Target(
            "octane numbers for 7 K of intake air",
            0.7,
            1.3,
            RUSS,
            lambda b: b.octane_worth(half, replace(half, air=replace(WARM_AIR, intake_k=312.0)), spark),
        ),
        Target(
            "octane numbers for 10 kPa of intake pressure",
            3.0,
            4.5,
            RUSS,
            lambda b: b.octane_worth(half, replace(half, kpa=107.0), spark),
        ),
        Target(
            "octane numbers for 30 kPa of back pressure",
            0.7,
            1.3,
            RUSS,
            lambda b: b.octane_worth(
                half, replace(half, air=replace(WARM_AIR, ambient_kpa=WARM_AIR.ambient_kpa + 30.0)), spark
            ),
        ),
        Target(
            "octane numbers for a unit of ratio",
            3.0,
            6.0,
            RUSS,
            lambda b: b.octane_worth(half, replace(half, engine=wedge_v8(MILD_CAM, 10.5)), spark),
        ),
    ]
    found += [
        Target(
            f"8.5:1, 8 psi, lambda 0.80, 60 degC, {rpm} rpm: planned",
            18,
            26,
            PRACTICE,
            lambda b, r=rpm: b.planned(boosted(r, 8.0), BOOSTED_INTEGRAL),
        )
        for rpm in (3000, 4000, 5000)
    ]
    found += [
        Target(f"planned falls by a psi, {rpm} rpm", 1.0, 2.5, PRACTICE, fall_per_psi(rpm))
        for rpm in (3000, 5000)
    ]
    found += [
        Target(
            f"octane engine, {on} octane: ratio at knock",
            wanted - 0.4,
            wanted + 0.4,
            GUIDE,
            lambda b, o=on: b.ratio_at_knock(o, 98.0, 0.90),
        )
        for on, wanted in ((70, 5.64), (80, 5.94), (90, 6.43), (100, 7.49))
    ]
    worst = Run(cfr(7.55), 600.0, 98.0, 0.89, Fuel(98.0), CFR_AIR)
    found.append(
        Target(
            "octane engine, lambda 0.89 to 1: octane numbers gained",
            2.0,
            4.0,
            KOLODZIEJ,
            lambda b: -b.octane_worth(worst, replace(worst, mixture=1.0), 13.0),
        )
    )
    found += [
        Target(
            f"octane engine, {kpa:.0f} kPa for 101: ratio at knock falls",
            wanted - 0.3,
            wanted + 0.3,
            SON,
            lambda b, k=kpa: b.ratio_at_knock(100.0, 101.3, 1.0) - b.ratio_at_knock(100.0, k, 1.0),
        )
        for kpa, wanted in ((120.0, 0.91), (150.0, 1.61))
    ]
    return found


TARGETS = tuple(_best_targets() + _charge_targets() + _knock_targets())


def octane_tests(constants: Constants) -> Constants:
    """Set the heat of the two octane tests by the program's own simulation of them."""

    def heat_k(ratio: float, rpm: float, air: Air) -> float:
        charge, _ = charge_at(
            cfr(ratio), air, Fuel(90.0), constants, speed_rpm=rpm, map_kpa=98.0, mixture_lambda=0.90
        )
        hot_k = gas.unburned_isentropic_k(
            charge.unburned,
            charge.gas_constant_j_kgk,
            charge.closing_k,
            octane.WEIGHING_PRESSURE_PA / charge.closing_pa,
        )
        return float(octane.charge_heat_k(hot_k, rpm, constants.weighing_speed_k))

    # The motor method states the mixture's temperature, so what evaporation takes is given back.
    return replace(
        constants,
        research_heat_k=heat_k(6.6, 600.0, CFR_AIR),
        motor_heat_k=heat_k(6.3, 900.0, replace(CFR_AIR, intake_k=MOTOR_MIXTURE_K + EVAPORATION_K)),
    )


MOTOR_MIXTURE_K = 422.0
"""Mixture at the intake of the motor test [K], 149 degC (ASTM D2700, recalled)."""

EVAPORATION_K = 11.0
"""What the program takes off for evaporation at that mixture [K]."""


def constants_of(x: FloatArray, start: Constants) -> Constants:
    """Constants whose logarithms over their start are ``x``."""
    found = {name: getattr(start, name) * float(np.exp(part)) for name, part in zip(FITTED, x, strict=True)}
    return octane_tests(replace(start, **found))


def misfits(constants: Constants) -> FloatArray:
    """Misfit of each target, held where it is hopeless."""
    bench = Bench(constants)
    return np.clip(np.nan_to_num([t.misfit(t.predict(bench)) for t in TARGETS], nan=8.0), -8.0, 8.0)


@dataclass(frozen=True)
class Fit:
    """What a fit found: constants, covariance of their logarithms, misfits."""

    constants: Constants
    covariance: FloatArray
    misfit: FloatArray


PRIOR_WIDTH = 0.5
"""How far a constant's logarithm may lie from its start where no target tells more; a choice."""

STEP = 0.02


def fit(start: Constants, rounds: int = 12) -> Fit:
    """Find the constants of least misfit, with a wide prior that keeps what no target sees where it started."""

    def stacked(x: FloatArray) -> FloatArray:
        return np.concatenate((misfits(constants_of(x, start)), x / PRIOR_WIDTH))

    found = least_squares(
        stacked,
        np.zeros(len(FITTED)),
        x_scale=0.1,
        diff_step=STEP,
        loss="soft_l1",
        max_nfev=rounds,
        verbose=2 if "-v" in sys.argv else 0,
    )
    x = found.x
    jacobian = np.column_stack(
        [(stacked(x + STEP * e) - stacked(x - STEP * e)) / (2.0 * STEP) for e in np.eye(len(FITTED))]
    )
    count = len(TARGETS)
    scatter = float(np.sum(stacked(x)[:count] ** 2)) / max(count - len(FITTED), 1)
    covariance = np.linalg.inv(jacobian.T @ jacobian) * max(scatter, 0.25)
    return Fit(constants_of(x, start), covariance, misfits(constants_of(x, start)))


def report(constants: Constants, covariance: FloatArray | None = None) -> None:
    """Print the constants and every target: wanted, got, origin."""
    for i, name in enumerate(FITTED):
        spread = "" if covariance is None else f"  +- {100 * np.sqrt(covariance[i, i]):.0f} %"
        print(f"{name:26} {getattr(constants, name):10.4g}{spread}")
    print(f"octane tests: {constants.research_heat_k:.1f} and {constants.motor_heat_k:.1f} K")
    bench = Bench(constants)
    met = 0
    for target in TARGETS:
        got = target.predict(bench)
        met += target.inside(got)
        mark = " " if target.inside(got) else "*"
        print(
            f"{target.name:58} {target.lowest:7.2f} to {target.highest:6.2f}  got {got:7.2f} {mark}  {target.origin}"
        )
    print(f"{met} of {len(TARGETS)} targets met")


if __name__ == "__main__":
    if "--as-is" in sys.argv:
        report(octane_tests(PRIOR.constants), PRIOR.covariance)
    else:
        result = fit(PRIOR.constants)
        report(result.constants, result.covariance)
        if "--write" in sys.argv:
            PRIOR_FILE.write_text(
                json.dumps(
                    {
                        "constants": {k: round(v, 6) for k, v in vars(result.constants).items()},
                        "fitted": list(FITTED),
                        "covariance": np.round(result.covariance, 8).tolist(),
                    },
                    indent=1,
                )
                + "\n",
                encoding="utf-8",
            )
