"""Fit the program's constants to a table of targets and print what comes of each.

Run ``make calibrate``. Eleven constants are fitted together to best advances, mean pressures, fillings and
knock of engines whose behaviour is known from outside; nothing else in the program is fitted, and nothing for
one engine. With ``--write`` the constants and their covariance become the program's prior belief,
``src/sparkwright/cycle/prior.json``; ``--as-is`` fits nothing and prints what the prior gives.
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
from sparkwright.cycle import fuel_air, gas_fits, octane
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
        """Read a quantity of the hook at best advance."""
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
        """Advance at which the knock integral reaches a value [deg]; past the hook its last rise goes on."""
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
        air_fuel = run.mixture * fuel_air.stoichiometric_air_fuel_ratio(run.fuel.ethanol_share_volume)
        humidity = run.air.humidity_ratio
        air_kg = (
            charge.mass_kg * (1.0 - share) * air_fuel * (1.0 + humidity) / (1.0 + air_fuel * (1.0 + humidity))
        )
        density = 1e3 * run.kpa / (287.05 * float(run.air.intake_k))
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
    """Run a V8 under boost, its charge at 60 degC."""
    return Run(BOOSTED, rpm, 100.0 + PSI_KPA * psi, 0.80, PREMIUM, replace(WARM_AIR, intake_k=333.0))


def factor_slope(bench: Bench) -> float:
    """Power of speed with which the knock factor would have to move to keep the limit a degree past best."""
    low, high = (bench.ln_knock(Run(V8, rpm), bench.best(Run(V8, rpm)) + 1.0) for rpm in (1000.0, 4500.0))
    return (high - low) / log(4.5)


def best(run: Run) -> Predictor:
    """Best advance [deg]."""
    return lambda b: b.best(run)


def limit(run: Run) -> Predictor:
    """Knock limit [deg]."""
    return lambda b: b.limit(run)


def planned(run: Run) -> Predictor:
    """Advance that is planned where knock is to have a small chance [deg]."""
    return lambda b: b.planned(run, BOOSTED_INTEGRAL)


def bmep(run: Run) -> Predictor:
    """Brake mean effective pressure [bar]."""
    return lambda b: b.bmep(run)


def filling(run: Run) -> Predictor:
    """Air trapped over what the displacement holds [-]."""
    return lambda b: b.filling(run)


def half_burned(run: Run) -> Predictor:
    """Angle of half burned mass at best [deg after top dead centre]."""
    return lambda b: b.at_best(run, "ca50_atdc_deg")


def ratio_at_knock(number: float, kpa: float, mixture: float) -> Predictor:
    """Ratio at which the octane engine knocks [-]."""
    return lambda b: b.ratio_at_knock(number, kpa, mixture)


def _best_at_full_load() -> list[Target]:
    bands = ((1100, 15, 21), (2000, 23, 29), (3000, 29, 34), (3500, 33, 37), (4500, 33, 39), (6000, 35, 41))
    return [
        Target(f"V8 full load, {rpm} rpm: best", low, high, PRACTICE, best(Run(V8, rpm)))
        for rpm, low, high in bands
    ]


def _moved(before: Run, after: Run) -> Predictor:
    """Best moves by so much with a change [deg]."""
    return lambda b: b.best(after) - b.best(before)


CRUISE = Run(V8, 2500, 45.0, 1.0)
FULL = Run(V8, 2500)
HIGH_UP = replace(FULL, kpa=77.0, air=replace(WARM_AIR, ambient_kpa=79.5))
ALCOHOL = replace(FULL, fuel=replace(PREMIUM, ethanol_share_volume=0.85))


def _moves_of_best() -> list[Target]:
    def with_ratio(ratio: float) -> Run:
        return replace(FULL, engine=wedge_v8(MILD_CAM, ratio))

    motor_method = "motor method, ASTM D2700, second-hand"
    changes = (
        ("load 95 to 45 kPa, lambda 1, 2500 rpm", 8, 15, HEYWOOD, replace(CRUISE, kpa=95.0), CRUISE),
        ("lambda 1 to 1.15, 2500 rpm, 45 kPa", 3, 8, HEYWOOD, CRUISE, replace(CRUISE, mixture=1.15)),
        ("ratio 7.5 to 8.5", -3.5, -1, motor_method, with_ratio(7.5), with_ratio(8.5)),
        ("ratio 9.5 to 10.5", -2.5, -1, PRACTICE, FULL, with_ratio(10.5)),
        ("long cam, 2500 rpm, 45 kPa", 4, 12, PRACTICE, CRUISE, replace(CRUISE, engine=LONG)),
        ("2,000 m, full throttle, 2500 rpm", 1, 6, PRACTICE, FULL, HIGH_UP),
        ("85 % ethanol, 2500 rpm", -3, -1, PRACTICE, FULL, ALCOHOL),
    )
    return [
        Target(f"{what}: best moves", low, high, origin, _moved(before, after))
        for what, low, high, origin, before, after in changes
    ]


def _best_at_part_load() -> list[Target]:
    cruise, mild_idle = Run(V8, 3000, 45.0, 1.0), Run(V8, 700, 38.0, 0.97)
    return [
        Target("V8 3000 rpm, 45 kPa, lambda 1: best", 40, 46, PRACTICE, best(cruise)),
        Target("V8 idle, mild cam, 700 rpm, 38 kPa: best", -inf, 26, PRACTICE, best(mild_idle), 2),
    ] + [
        Target(
            f"V8 idle, 230/236 cam, 900 rpm, {kpa:.0f} kPa: best",
            28,
            40,
            PRACTICE,
            best(Run(LONG, 900, kpa, 0.92)),
        )
        for kpa in (45.0, 50.0)
    ]


def _phasing() -> list[Target]:
    return [
        Target(
            f"V8 {rpm} rpm, lambda 1: half burned at best",
            5,
            12,
            HEYWOOD,
            half_burned(Run(V8, rpm, 95.0, 1.0)),
        )
        for rpm in (1500, 2000, 2500)
    ]


def _filling() -> list[Target]:
    def gain(more: Run, less: Run) -> Predictor:
        return lambda b: b.filling(more) - b.filling(less)

    slow = gain(Run(V8, 3000), Run(V8, 1000))
    long_slow, long_fast = gain(Run(LONG, 1500), Run(V8, 1500)), gain(Run(LONG, 5500), Run(V8, 5500))
    return [
        Target(f"V8 mild cam, {rpm} rpm: filling", 0.82, 0.90, TAYLOR, filling(Run(V8, rpm)))
        for rpm in (2500, 3000, 3500)
    ] + [
        Target("V8 mild cam: filling at 1,000 under that at 3,000 rpm", 0.02, inf, TAYLOR, slow, 0.02),
        Target("long cam less mild cam, 1500 rpm: filling", -inf, -0.005, TAYLOR, long_slow, 0.02),
        Target("long cam less mild cam, 5500 rpm: filling", 0.01, inf, TAYLOR, long_fast, 0.02),
    ]


OCTANE_RUN = Run(cfr(7.55), 600, 98.0, 0.89, Fuel(100.0), CFR_AIR)


def _octane_engine_charge() -> list[Target]:
    def read(name: str, advance_deg: float) -> Predictor:
        return lambda b: float(np.interp(advance_deg, ADVANCE_DEG, getattr(b.hook(OCTANE_RUN), name)))

    usual, late = "octane engine, spark 13 deg", "octane engine, spark 5 deg late"
    return [
        Target("octane engine: filling", 0.815, 0.855, KOLODZIEJ, filling(OCTANE_RUN)),
        Target(f"{usual}: gross mean pressure", 0.97 * 8.137, 1.03 * 8.137, CHOI, read("imep_bar", 13.0)),
        Target(f"{late}: gross mean pressure", 0.97 * 7.892, 1.03 * 7.892, CHOI, read("imep_bar", -5.0)),
        Target(f"{usual}: 10 % burned", -0.5, 1.5, KOLODZIEJ, read("ca10_atdc_deg", 13.0)),
        Target(f"{usual}: half burned", 8.3, 9.3, KOLODZIEJ, read("ca50_atdc_deg", 13.0)),
    ]


def _mean_pressure() -> list[Target]:
    lean, weak = replace(FULL, mixture=1.0), Run(LOW, 3000, fuel=REGULAR)
    torque = "V8 2500 rpm, lambda 1 over 0.87: torque"
    return [
        Target(torque, 0.975, 0.99, PRACTICE, lambda b: b.bmep(lean) / b.bmep(FULL)),
        Target("8.25:1, 3000 rpm: brake mean pressure", 8.3, inf, PRACTICE, bmep(weak), 0.3),
    ] + [
        Target(
            f"{name}:1, {rpm} rpm: brake mean pressure",
            8.8,
            10.8,
            PRACTICE,
            bmep(Run(engine, rpm)),
        )
        for name, engine in (("9.5", V8), ("10.5", HIGH))
        for rpm in (2500, 3500)
    ]


def _knock_at_full_load() -> list[Target]:
    def over_best(run: Run) -> Predictor:
        return lambda b: b.limit(run) - b.best(run)

    regular, slow = Run(V8, 3000, fuel=REGULAR), Run(V8, 1100)
    power = "power of speed that the knock factor would need"
    return [
        Target(f"{name}, {rpm} rpm: limit less best", -4, 6, PRACTICE, over_best(Run(engine, rpm, fuel=fuel)))
        for engine, fuel, name in PAIRS
        for rpm in (1500, 2000, 3000)
    ] + [
        Target("9.5:1 on 91/83, 3000 rpm: limit", 26, 32, PRACTICE, limit(regular)),
        Target("9.5:1 on 95/87, 1100 rpm: limit", 13, 18, PRACTICE, limit(slow)),
        Target(power, -0.15, 0.15, PRACTICE, factor_slope),
    ]


TRADED = Run(V8, 2000)
TRADED_DEG = 26.0


def _trade_offs() -> list[Target]:
    def worth(after: Run, later_deg: float = 0.0) -> Predictor:
        return lambda b: b.octane_worth(TRADED, after, TRADED_DEG, TRADED_DEG + later_deg)

    warmer = replace(TRADED, air=replace(WARM_AIR, intake_k=WARM_AIR.intake_k + 7.0))
    choked = replace(TRADED, air=replace(WARM_AIR, ambient_kpa=WARM_AIR.ambient_kpa + 30.0))
    higher = replace(TRADED, engine=wedge_v8(MILD_CAM, 10.5))
    changes = (
        ("1 deg", 0.7, 1.3, worth(TRADED, 1.0)),
        ("7 K of intake air", 0.7, 1.3, worth(warmer)),
        ("10 kPa of intake pressure", 3.0, 4.5, worth(replace(TRADED, kpa=TRADED.kpa + 10.0))),
        ("30 kPa of back pressure", 0.7, 1.3, worth(choked)),
        ("a unit of ratio", 3.0, 6.0, worth(higher)),
    )
    return [Target(f"octane numbers for {what}", low, high, RUSS, said) for what, low, high, said in changes]


def _boost() -> list[Target]:
    def fall_per_psi(rpm: float) -> Predictor:
        low, high = boosted(rpm, 5.0), boosted(rpm, 10.0)
        return lambda b: (b.planned(low, BOOSTED_INTEGRAL) - b.planned(high, BOOSTED_INTEGRAL)) / 5.0

    return [
        Target(
            f"8.5:1, 8 psi, lambda 0.80, 60 degC, {rpm} rpm: planned",
            18,
            26,
            PRACTICE,
            planned(boosted(rpm, 8.0)),
        )
        for rpm in (3000, 4000, 5000)
    ] + [
        Target(f"planned falls by a psi, {rpm} rpm", 1.0, 2.5, PRACTICE, fall_per_psi(rpm))
        for rpm in (3000, 5000)
    ]


GUIDE_RATIOS = {70: 5.64, 80: 5.94, 90: 6.43, 100: 7.49}
"""Ratio at which the octane engine knocks, by octane number, research method."""


def _octane_engine_knock() -> list[Target]:
    def fall(kpa: float) -> Predictor:
        return lambda b: b.ratio_at_knock(100.0, 101.3, 1.0) - b.ratio_at_knock(100.0, kpa, 1.0)

    worst = replace(OCTANE_RUN, fuel=Fuel(98.0))
    gained = "octane engine, lambda 0.89 to 1: octane numbers gained"
    return [
        Target(
            f"octane engine, {number} octane: ratio at knock",
            wanted - 0.4,
            wanted + 0.4,
            GUIDE,
            ratio_at_knock(number, 98.0, 0.90),
        )
        for number, wanted in GUIDE_RATIOS.items()
    ] + [
        Target(
            gained, 2.0, 4.0, KOLODZIEJ, lambda b: -b.octane_worth(worst, replace(worst, mixture=1.0), 13.0)
        ),
        Target("octane engine, 120 kPa for 101: ratio at knock falls", 0.61, 1.21, SON, fall(120.0)),
        Target("octane engine, 150 kPa for 101: ratio at knock falls", 1.31, 1.91, SON, fall(150.0)),
    ]


TARGETS = (
    *_best_at_full_load(),
    *_moves_of_best(),
    *_best_at_part_load(),
    *_phasing(),
    *_filling(),
    *_octane_engine_charge(),
    *_mean_pressure(),
    *_knock_at_full_load(),
    *_trade_offs(),
    *_boost(),
    *_octane_engine_knock(),
)

MOTOR_MIXTURE_K = 422.0
"""Mixture at the intake of the motor test [K], 149 degC (ASTM D2700, recalled)."""

EVAPORATION_K = 11.0
"""What the program takes off for evaporation at that mixture [K]."""

MOTOR_AIR = replace(CFR_AIR, intake_k=MOTOR_MIXTURE_K + EVAPORATION_K)
"""Air of the motor test; the method states the mixture's temperature, so what evaporation takes is added."""


def octane_test_heat_k(constants: Constants, ratio: float, rpm: float, air: Air) -> float:
    """Heat of the charge in the program's own simulation of an octane test [K]."""
    charge, _ = charge_at(
        cfr(ratio), air, Fuel(90.0), constants, speed_rpm=rpm, map_kpa=98.0, mixture_lambda=0.90
    )
    hot_k = gas_fits.unburned_isentropic_k(
        charge.unburned,
        charge.gas_constant_j_kgk,
        charge.closing_k,
        octane.WEIGHING_PRESSURE_PA / charge.closing_pa,
    )
    return float(octane.charge_heat_k(hot_k, rpm, constants.weighing_speed_k))


def octane_tests(constants: Constants) -> Constants:
    """Set the heat of the two octane tests by the program's own simulation of them."""
    return replace(
        constants,
        research_heat_k=octane_test_heat_k(constants, 6.6, 600.0, CFR_AIR),
        motor_heat_k=octane_test_heat_k(constants, 6.3, 900.0, MOTOR_AIR),
    )


def constants_of(x: FloatArray, start: Constants) -> Constants:
    """Constants whose logarithms over their start are ``x``."""
    found = {name: getattr(start, name) * float(np.exp(part)) for name, part in zip(FITTED, x, strict=True)}
    return octane_tests(replace(start, **found))


def misfits(constants: Constants) -> FloatArray:
    """Misfit of each target, held where it is hopeless."""
    bench = Bench(constants)
    found = [t.misfit(t.predict(bench)) for t in TARGETS]
    held: FloatArray = np.clip(np.nan_to_num(found, nan=8.0), -8.0, 8.0)
    return held


PRIOR_WIDTH = 0.5
"""How far a constant's logarithm may lie from its start where no target tells more; a choice."""

STEP = 0.02
"""Of a constant's logarithm, in the difference quotients: far above what a hook is rounded by."""


@dataclass(frozen=True)
class Problem:
    """Misfits of all targets, and of the constants themselves against where they started."""

    start: Constants

    def misfit(self, x: FloatArray) -> FloatArray:
        """Misfits with the constants moved by ``x``, the targets first."""
        return np.append(misfits(constants_of(x, self.start)), x / PRIOR_WIDTH)

    def jacobian(self, x: FloatArray) -> FloatArray:
        """Its derivative, by central differences."""
        moves = STEP * np.eye(x.size)
        columns = [(self.misfit(x + e) - self.misfit(x - e)) / (2.0 * STEP) for e in moves]
        return np.column_stack(columns)


@dataclass(frozen=True)
class Fit:
    """What a fit found: constants, covariance of their logarithms, and the step that it would take next."""

    constants: Constants
    covariance: FloatArray
    step: FloatArray

    def unsettled(self) -> float:
        """Length of the next step in standard deviations [-]."""
        return float(np.sqrt(self.step @ np.linalg.solve(self.covariance, self.step)))


def fit_at(problem: Problem, x: FloatArray) -> Fit:
    """Take stock at one place: covariance and the next step of Gauss and Newton."""
    misfit, jacobian = problem.misfit(x), problem.jacobian(x)
    count = len(TARGETS)
    scatter = float(np.sum(misfit[:count] ** 2)) / max(count - x.size, 1)
    weight = 1.0 / np.sqrt(1.0 + misfit**2)  # of soft_l1
    step = -np.linalg.solve(jacobian.T @ (weight[:, None] * jacobian), jacobian.T @ (weight * misfit))
    covariance = np.linalg.inv(jacobian.T @ jacobian) * max(scatter, 0.25)
    return Fit(
        constants_of(x, problem.start), np.asarray(covariance, dtype=float), np.asarray(step, dtype=float)
    )


def fit(start: Constants, rounds: int = 12) -> Fit:
    """Find the constants of least misfit; a wide prior keeps what no target sees where it started."""
    problem = Problem(start)
    found = least_squares(
        problem.misfit,
        np.zeros(len(FITTED)),
        jac=problem.jacobian,
        x_scale=0.1,
        loss="soft_l1",
        max_nfev=rounds,
    )
    return fit_at(problem, found.x)


def report(constants: Constants, covariance: FloatArray) -> None:
    """Print the constants and every target: wanted, got, origin."""
    for name, spread in zip(FITTED, 100.0 * np.sqrt(np.diag(covariance)), strict=True):
        print(f"{name:26} {getattr(constants, name):10.4g}  +- {spread:.0f} %")
    print(f"octane tests: {constants.research_heat_k:.1f} and {constants.motor_heat_k:.1f} K")
    bench = Bench(constants)
    met = 0
    for target in TARGETS:
        got = target.predict(bench)
        met += target.inside(got)
        band = f"{target.lowest:7.2f} to {target.highest:6.2f}"
        print(
            f"{target.name:58} {band}  got {got:7.2f} {' ' if target.inside(got) else '*'}  {target.origin}"
        )
    print(f"{met} of {len(TARGETS)} targets met")


def write(found: Fit) -> None:
    """Make what a fit found the program's prior belief."""
    stored = {
        "constants": {name: round(value, 6) for name, value in vars(found.constants).items()},
        "fitted": list(FITTED),
        "covariance": np.round(found.covariance, 8).tolist(),
    }
    PRIOR_FILE.write_text(json.dumps(stored, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    if "--as-is" in sys.argv:
        report(octane_tests(PRIOR.constants), PRIOR.covariance)
    else:
        result = fit(PRIOR.constants)
        report(result.constants, result.covariance)
        print(f"the next step would move them by {result.unsettled():.2f} of their spread")
        if "--write" in sys.argv:
            write(result)
