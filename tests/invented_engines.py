"""Invented engines whose truth is not the program's cycle, with jobs that are wrong where shops are wrong.

No such engine exists. The laws here share nothing with ``sparkwright.cycle``: one zone in place of two, a
burn of Wiebe's form whose delay and duration follow power laws in place of a flame in a chamber, Hohenberg's
heat in place of Woschni's, another law of burned gas, of filling and of the induction time. Exponents and
factors are drawn anew for each engine, about values that put the middle one where practice has an ordinary
V8. What these laws are after is recalled (Heywood 1988, ch. 9 and 12; Hohenberg, SAE 790825); the spans of
the draws are a choice.

Advance here is as the shop reads it: the mark's error is in it, for the map will be read by the same mark.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from planning_jobs import ORDINARY_V8
from sparkwright.dyno.sweep import Heard, Sweep, SweepPoint
from sparkwright.job import Job

FloatArray = NDArray[np.float64]

NOISE = 0.005
DRIFT = 0.005
EAR_LN = 0.05
"""Scatter of torque, most drift over a sweep, and scatter of what is heard, in ln of the integral [-]."""

HEAVY_LN = 0.15
"""ln of the integral from which knock is heavy [-]: some three degrees past its first trace."""

RPM = np.array([800.0, 1200.0, 1700.0, 2300.0, 3000.0, 3700.0, 4400.0, 5200.0, 6000.0])
KPA = np.array([45.0, 55.0, 65.0, 75.0, 85.0, 95.0])
"""The map on which errors are counted."""

FIVE_PLACES = ((1000.0, 88.0), (1800.0, 48.0), (3000.0, 72.0), (4600.0, 48.0), (5400.0, 90.0))
"""Where a shop that asks nobody would sweep: spread over speed and load."""

_STEP_DEG = 1.0
_ADVANCE = np.arange(-6.0, 70.1, 2.0)


@dataclass(frozen=True)
class TrueHook:
    """Torque [N m] and ln of the knock integral along advance [deg], and what is read off them."""

    advance_deg: FloatArray
    torque_nm: FloatArray
    ln_knock: FloatArray

    @property
    def best_deg(self) -> float:
        """Top of a parabola through the highest sample and its neighbours."""
        i = int(np.clip(np.argmax(self.torque_nm), 1, self.torque_nm.size - 2))
        a, b, c = self.torque_nm[i - 1 : i + 2]
        return float(self.advance_deg[i] + 0.5 * _ADVANCE_STEP * (a - c) / (a - 2.0 * b + c))

    @property
    def limit_deg(self) -> float:
        """Where knock begins; inf where it doesn't."""
        knocking = np.flatnonzero(self.ln_knock > 0.0)
        if not knocking.size:
            return float("inf")
        i = int(knocking[0])
        if i == 0:
            return float(self.advance_deg[0])
        low, high = self.ln_knock[i - 1], self.ln_knock[i]
        return float(self.advance_deg[i - 1] + _ADVANCE_STEP * (0.0 - low) / (high - low))

    def torque_at(self, advance_deg: float) -> float:
        """Torque between the samples [N m]."""
        i = int(np.clip(np.searchsorted(self.advance_deg, advance_deg) - 2, 0, self.advance_deg.size - 4))
        return float(
            np.polyval(
                np.polyfit(self.advance_deg[i : i + 4] - advance_deg, self.torque_nm[i : i + 4], 3), 0.0
            )
        )

    def ln_knock_at(self, advance_deg: float) -> float:
        """Give ln of the knock integral between the samples [-]."""
        return float(np.interp(advance_deg, self.advance_deg, self.ln_knock))


_ADVANCE_STEP = float(_ADVANCE[1] - _ADVANCE[0])


@dataclass(frozen=True)
class InventedEngine:
    """One engine: its metal, its laws, and what the shop believes of it."""

    seed: int
    bore_m: float
    stroke_m: float
    rod_m: float
    compression: float
    closes_deg: float
    overlap_deg: float
    octane: float
    mark_deg: float
    delay_deg: float
    delay_by_speed: float
    delay_by_flame: float
    burn_deg: float
    burn_by_speed: float
    burn_by_flame: float
    flame_by_pressure: float
    slow: float
    mixture: float
    form: float
    late: float
    heat: float
    residual: float
    backflow: float
    filling: float
    peak_rpm: float
    width: float
    friction: float
    knock_pressure: float
    knock_mixture: float
    knock_k: float
    knock_margin_deg: float
    job: Job
    _ln_scale: list[float] = field(default_factory=list)

    def hooks(self, rpm: FloatArray, kpa: FloatArray) -> list[TrueHook]:
        """Run the truth at some points."""
        if not self._ln_scale:
            # The fuel of its day: at 2,000 rpm and full load knock begins near best, some way before or
            # after.
            anchor = self._run(np.array([2000.0]), np.array([95.0]), 0.0)[0]
            self._ln_scale.append(-anchor.ln_knock_at(anchor.best_deg + self.knock_margin_deg))
        return self._run(np.asarray(rpm, float), np.asarray(kpa, float), self._ln_scale[0])

    def _run(self, rpm: FloatArray, kpa: FloatArray, ln_scale: float) -> list[TrueHook]:
        n, p_map = rpm[:, None], 1e3 * kpa[:, None]
        advance = _ADVANCE[None, :]
        piston_m_s = 2.0 * self.stroke_m * n / 60.0
        displaced = np.pi / 4 * self.bore_m**2 * self.stroke_m
        clearance = displaced / (self.compression - 1.0)
        p_exhaust = 101e3 + 9e3 * (p_map / 1e5 * piston_m_s / 15.0) ** 2
        # Burned gas left: what is trapped, and what the pressure in the exhaust pushes back in the overlap.
        left = self.residual / self.compression * (p_exhaust / p_map) ** 0.9
        left += self.backflow * self.overlap_deg / n * np.sqrt(np.maximum(p_exhaust / p_map - 0.97, 0.0))
        left = left / (1.0 + left)
        fresh_k, left_k = 306.0 + 12.0 * np.exp(-n / 2500.0), 850.0 + 40.0 * piston_m_s**0.6
        t_closed = fresh_k * (1 - left) + left_k * left
        fill = self.filling * np.exp(-0.5 * (np.log(n / self.peak_rpm) / self.width) ** 2) + 0.18
        p_closed = p_map * fill * (1.0 + 0.04 * (self.closes_deg - 60.0) / 20.0)
        lean = np.where(kpa < 0.75 * 101.3, 1.0, np.interp(kpa, (76.0, 93.2), (1.0, 0.88)))[:, None]
        heat_j_kg = (1 - left) * 2.78e6 * np.minimum(1.0, 0.93 + 0.6 * (lean - 0.88)) * 0.95

        closes = -180.0 + self.closes_deg
        angles = np.arange(closes, 130.0, _STEP_DEG)
        volumes = self._volume(angles, displaced, clearance)
        mass = p_closed * volumes[0] / (287.0 * t_closed)
        # What the flame meets early on decides how long delay and burn take.
        at_spark = self._volume(-0.3 * advance, displaced, clearance)
        squeezed = volumes[0] / at_spark
        t_spark, p_spark = t_closed * squeezed**0.33, p_closed * squeezed**1.33
        flame = (t_spark / 680.0) ** 1.6 * (p_spark / 1e6) ** self.flame_by_pressure
        flame = (
            flame * np.maximum(1.0 - 2.1 * left**0.85, 0.05) * (1.0 - self.mixture * (1.0 / lean - 1.15) ** 2)
        )
        slow = 1.33 - 660.0 * self.slow / n
        delay = self.delay_deg * slow * (n / 2000.0) ** self.delay_by_speed * flame**-self.delay_by_flame
        size = (self.bore_m / self.stroke_m / 1.08) ** 0.6
        delay = size * delay
        burn = size * self.burn_deg * slow * (n / 2000.0) ** self.burn_by_speed * flame**-self.burn_by_flame
        half = -advance + delay + 0.5 * burn
        burn = burn * (1.0 + self.late * np.maximum((half - 8.0) / 25.0, 0.0) ** 2)

        p = p_closed + 0.0 * advance
        work, integral = np.zeros_like(p), np.zeros_like(p)
        burned_before = np.zeros_like(p)
        seconds = _STEP_DEG / (6.0 * n)
        wall_k = 440.0
        top = np.zeros_like(p)
        for i in range(angles.size - 1):
            v0, v1 = volumes[i], volumes[i + 1]
            place = (angles[i + 1] + advance - 0.35 * delay) / (0.65 * delay + 1.25 * burn)
            burned = 1.0 - np.exp(-6.0 * np.clip(place, 0.0, 3.0) ** (self.form + 1.0))
            gained = mass * heat_j_kg * (burned - burned_before)
            t = p * v0 / (mass * 287.0)
            gamma = 1.385 - 7.2e-5 * (t - 300.0)
            area = (
                np.pi * self.bore_m * 4.0 * v0 / (np.pi * self.bore_m**2) + 2.6 * np.pi / 4 * self.bore_m**2
            )
            film = (
                130.0
                * v0**-0.06
                * (1e-5 * p) ** 0.8
                * np.maximum(t, 300.0) ** -0.4
                * (piston_m_s + 1.4) ** 0.8
            )
            gained = gained - self.heat * film * area * (t - wall_k) * seconds
            # Exact along an isentrope for the change of volume, then the heat at the new volume.
            p_next = p * (v0 / v1) ** gamma + (gamma - 1.0) * gained / v1
            work += 0.5 * (p + p_next) * (v1 - v0)
            t_end = t_closed * (0.5 * (p + p_next) / p_closed) ** (0.335 / 1.335)
            induction = (1e-5 * p) ** -self.knock_pressure * np.exp(self.knock_k / t_end)
            integral += np.where(burned < 0.93, 1e3 * seconds / induction, 0.0)
            p, burned_before = p_next, burned
            top = np.maximum(top, p)
        # From opening to bottom the pressure falls to the exhaust's; then the piston pushes it out.
        v_bottom = displaced + clearance
        work += (0.4 * p + 0.6 * p_exhaust) * (v_bottom - volumes[-1])
        work -= (p_exhaust - p_map) * displaced + p_closed * (v_bottom - volumes[0])
        rubbing = 1e5 * (self.friction + 0.004 * top / 1e5 + 0.07 * piston_m_s + 0.0006 * piston_m_s**2)
        torque = self.job.engine.cylinders * (work - rubbing * displaced) / (4.0 * np.pi)
        ln_integral = np.log(np.maximum(np.maximum.accumulate(integral, axis=1), 1e-12))
        # Knock is worst near lambda 0.89 (Kolodziej and Wallner 2017); how much less at 1 is drawn.
        mixture = 1.0 + self.knock_mixture * ((lean - 0.89) / 0.11) ** 2
        ln_integral += ln_scale - 3.4 * np.log(self.octane / 95.0) - np.log(mixture)
        return [TrueHook(_ADVANCE + self.mark_deg, torque[k], ln_integral[k]) for k in range(rpm.size)]

    def _volume(self, angle_deg: FloatArray, displaced: float, clearance: float) -> FloatArray:
        throw, angle = 0.5 * self.stroke_m, np.radians(angle_deg)
        drop = (
            throw * (1 - np.cos(angle)) + self.rod_m - np.sqrt(self.rod_m**2 - (throw * np.sin(angle)) ** 2)
        )
        return np.asarray(clearance + displaced * drop / self.stroke_m)

    def sweep(self, rpm: float, kpa: float, advance_deg: FloatArray, seed: int) -> Sweep:
        """Measure torque at some advances, the latest first, until knock is heavy."""
        hook = self.hooks(np.array([rpm]), np.array([kpa]))[0]
        random = np.random.default_rng(seed)
        drift = random.uniform(-DRIFT, DRIFT)
        points: list[SweepPoint] = []
        for k, advance in enumerate(np.round(np.sort(advance_deg), 2).tolist()):
            share = k / max(advance_deg.size - 1, 1)
            torque = hook.torque_at(advance) * (1.0 + NOISE * random.standard_normal() + drift * share)
            loud = hook.ln_knock_at(advance) + EAR_LN * random.standard_normal()
            heard: Heard = "heavy" if loud > HEAVY_LN else "trace" if loud > 0.0 else "none"
            points.append(SweepPoint(rpm, kpa, advance, round(torque, 2), heard))
            if heard == "heavy":
                break
        return Sweep(f"{rpm:g} rpm {kpa:g} kPa", tuple(points))


def invented_engine(seed: int) -> InventedEngine:
    """Draw one engine and the job that a shop would write of it."""
    draw = np.random.default_rng(seed)

    def between(low: float, high: float) -> float:
        return float(draw.uniform(low, high))

    bore_m = between(0.086, 0.104)
    stroke_m = bore_m * between(0.82, 1.0)
    compression, closes, overlap = between(8.2, 9.8), between(47.0, 56.0), between(0.0, 1.0)
    overlap = 2.0 * closes - 75.0 + 8.0 * (overlap - 0.5)
    octane = between(91.0, 97.0)
    wrong_compression, wrong_octane = between(-0.5, 0.5), between(-1.5, 1.5)
    wrong_cam, mark = between(-5.0, 5.0), between(-1.0, 1.0)
    duration = 2.0 * (closes + 50.0)
    job = (
        ORDINARY_V8.changed(
            "engine",
            bore=f"{1e3 * bore_m:.2f} mm",
            stroke=f"{1e3 * stroke_m:.2f} mm",
            rod=f"{1.7e3 * stroke_m:.1f} mm",
            compression_ratio=round(compression + wrong_compression, 2),
            redline_rpm=6000,
        )
        .changed(
            "cam",
            intake_duration_deg=round(duration, 1),
            exhaust_duration_deg=round(duration + 4.0, 1),
            intake_centreline_deg=round(108.0 + wrong_cam, 1),
            lobe_separation_deg=112.0,
            at_lift="1.27 mm",
        )
        .changed("fuel", ron=round(octane + wrong_octane, 1), mon=round(octane + wrong_octane - 9.5, 1))
        .changed("site", altitude=None, pressure="101.3 kPa")
        .changed("distributor", tip_width="14 mm", rotor_phase_deg=8.0)
        .changed("controller", max_deg=60, rpm=RPM.tolist(), kpa=KPA.tolist())
    )
    return InventedEngine(
        seed=seed,
        bore_m=bore_m,
        stroke_m=stroke_m,
        rod_m=1.7 * stroke_m,
        compression=compression,
        closes_deg=closes,
        overlap_deg=overlap,
        octane=octane,
        mark_deg=mark,
        delay_deg=between(15.8, 19.3),
        delay_by_speed=between(0.08, 0.24),
        delay_by_flame=between(0.66, 0.9),
        burn_deg=between(24.9, 30.4),
        burn_by_speed=between(0.04, 0.2),
        burn_by_flame=between(0.58, 0.84),
        flame_by_pressure=between(0.2, 0.38),
        slow=between(0.52, 0.82),
        mixture=between(2.5, 5.5),
        form=between(1.8, 2.6),
        late=between(0.1, 0.4),
        heat=between(0.85, 1.25),
        residual=between(0.5, 0.82),
        backflow=between(2.0, 6.0),
        filling=between(0.82, 0.92),
        peak_rpm=between(2800.0, 4200.0),
        width=between(1.1, 1.7),
        friction=between(0.4, 0.9),
        knock_pressure=between(1.3, 1.7),
        knock_mixture=between(0.06, 0.2),
        knock_k=between(3300.0, 4300.0),
        knock_margin_deg=between(-6.0, 2.0),
        job=job,
    )
