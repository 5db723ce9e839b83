"""The idle of a drive: how steady speed and timing are, their rhythm, and what reserve is left."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from sparkwright.drive.reader import Block
from sparkwright.findings import Finding, Value
from sparkwright.numeric import FloatArray
from sparkwright.plan.result import PlanResult

IDLE_SPEED, CLOSED_PERCENT, STANDING_KM_H = 1.35, 6.0, 3.0
"""Up to which share of the idle's speed, throttle over its lowest and road speed an engine idles; choices."""
LEAST_S = 15.0
"""Shortest stretch of idle that is judged [s]."""
MOST_KEPT_S = 600.0
HUNTS_HZ = (0.08, 3.0)
"""Rhythms in which an idle hunts; slower is drift, faster the firing itself; common practice, no source."""
HUNTS_SHARE, HUNTS_RPM = 0.45, 12.0
"""Share of the movement that lies about one rhythm, and its size, from which an idle hunts; choices."""
STEADY_RPM = 25.0
"""One standard deviation of speed up to which an idle is called steady [rpm]; a choice."""
NEAR_LIMIT_DEG = 0.5


@dataclass(frozen=True)
class Idle:
    """The idle of a drive.

    Parameters
    ----------
    seconds : float
        Of idle, in stretches of `LEAST_S` and more.
    rpm, rpm_sigma : float
        Speed and its standard deviation within a stretch.
    advance_deg, advance_sigma_deg : float
        The same of the timing; nan where it isn't logged.
    hz, power_rpm2 : array
        The spectrum of speed: power in each band of frequency.
    peak_hz, peak_share, peak_rpm : float
        The rhythm that stands out, its share of all movement, and its amplitude.
    timing_behind_s : float
        How much later the timing moves than speed falls; nan where it doesn't answer.
    reserve_up_deg, reserve_down_deg : float
        From the timing to best, and down to what the rotor or the controller allows.
    at_limit_percent : float
        Share of the time in which the idle's correction stands at its end; nan where it isn't logged.
    """

    seconds: float
    rpm: float
    rpm_sigma: float
    advance_deg: float
    advance_sigma_deg: float
    hz: FloatArray
    power_rpm2: FloatArray
    peak_hz: float
    peak_share: float
    peak_rpm: float
    timing_behind_s: float
    reserve_up_deg: float
    reserve_down_deg: float
    at_limit_percent: float


class IdleSample:
    """Stretches of idle with all their rows, taken while a drive is read."""

    def __init__(self, idle_rpm: float, above_rpm: float) -> None:
        self._top_rpm, self._above_rpm = IDLE_SPEED * idle_rpm, above_rpm
        self._stretches: list[dict[str, FloatArray]] = []
        self._open: dict[str, FloatArray] = {}
        self._kept_s = 0.0
        self._closed = np.inf
        self._file = -1

    def add(self, block: Block) -> None:
        """Take the rows in which the engine idles, while there is room.

        Parameters
        ----------
        block : Block
            The next rows of a file, in their order.
        """
        if self._kept_s >= MOST_KEPT_S or not np.isfinite(block.time_s[:1]).all():
            return
        if block.file != self._file:
            self._close()
            self._file = block.file
        idle = (block.rpm < self._top_rpm) & (block.rpm > self._above_rpm)
        throttle, road = block.of("throttle_percent"), block.of("speed_km_h")
        if throttle is not None and np.isfinite(throttle).any():
            self._closed = min(self._closed, float(np.nanmin(throttle)))
            idle &= ~(throttle > self._closed + CLOSED_PERCENT)
        if road is not None:
            idle &= ~(road > STANDING_KM_H)
        rows = {"time": block.time_s, "rpm": block.rpm}
        for name in ("advance_deg", "commanded_deg", "idle_correction_deg"):
            values = block.of(name)
            rows[name] = np.full(block.rpm.size, np.nan) if values is None else values
        edges = np.flatnonzero(np.diff(idle.astype(np.int8), prepend=0, append=0))
        for begin, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
            part = {name: values[begin:end] for name, values in rows.items()}
            if begin > 0:
                self._close()
            self._open = _after(self._open, part)
            if end < idle.size:
                self._close()
        if not idle.size or not idle[0]:
            self._close()

    def stretches(self) -> list[dict[str, FloatArray]]:
        """Give the stretches that are long enough."""
        self._close()
        return self._stretches

    def _close(self) -> None:
        part, self._open = self._open, {}
        if part and part["time"][-1] - part["time"][0] >= LEAST_S and self._kept_s < MOST_KEPT_S:
            self._stretches.append(part)
            self._kept_s += float(part["time"][-1] - part["time"][0])


def _after(one: dict[str, FloatArray], other: dict[str, FloatArray]) -> dict[str, FloatArray]:
    if not one:
        return {name: values.copy() for name, values in other.items()}
    return {name: np.concatenate([one[name], other[name]]) for name in one}


def idle_of(stretches: list[dict[str, FloatArray]], planned: PlanResult, least_deg: float) -> Idle | None:
    """Judge stretches of idle; None where there is none.

    Parameters
    ----------
    stretches : list of dict
        Stretches of idle without a gap, each a column for every quantity by its name.
    planned : PlanResult
        Plan of the job, for the advance that the idle should have.
    least_deg : float
        Least advance that the rotor allows [deg before top dead centre].
    """
    if not stretches:
        return None
    # What follows an opened throttle is still falling.
    parts = [_settled(each) for each in stretches]
    advance = [
        np.where(np.isfinite(each["advance_deg"]), each["advance_deg"], each["commanded_deg"])
        for each in parts
    ]
    longest = max(range(len(parts)), key=lambda k: parts[k]["time"].size)
    hz, power = _spectrum(parts[longest])
    peak_hz, share, amplitude = _peak(hz, power)
    stands = _mean_of(advance)
    corrections = np.concatenate([each["idle_correction_deg"] for each in parts])
    return Idle(
        seconds=float(sum(each["time"][-1] - each["time"][0] for each in parts)),
        rpm=_mean_of([each["rpm"] for each in parts]),
        rpm_sigma=_sigma_of([each["rpm"] for each in parts]),
        advance_deg=stands,
        advance_sigma_deg=_sigma_of(advance),
        hz=hz,
        power_rpm2=power,
        peak_hz=peak_hz,
        peak_share=share,
        peak_rpm=amplitude,
        timing_behind_s=_behind_s(parts[longest], advance[longest], peak_hz),
        reserve_up_deg=planned.idle.best_deg - stands,
        reserve_down_deg=stands - least_deg,
        at_limit_percent=_at_limit(corrections),
    )


def _settled(part: dict[str, FloatArray]) -> dict[str, FloatArray]:
    kept = part["time"] - part["time"][0] >= 3.0
    return {name: values[kept] for name, values in part.items()}


def _mean_of(parts: list[FloatArray]) -> float:
    values = np.concatenate(parts)
    return float(np.nanmean(values)) if np.isfinite(values).any() else float("nan")


def _sigma_of(parts: list[FloatArray]) -> float:
    squares = [(each - np.nanmean(each)) ** 2 for each in parts if np.isfinite(each).sum() > 2]
    return float(np.sqrt(np.nanmean(np.concatenate(squares)))) if squares else float("nan")


def _spectrum(part: dict[str, FloatArray]) -> tuple[FloatArray, FloatArray]:
    """Give the power spectrum of speed by Welch's method (Welch 1967), over even steps of time."""
    from scipy.signal import welch

    steps = np.diff(part["time"])
    step = float(np.median(steps[steps > 0]))
    times = np.arange(part["time"][0], part["time"][-1], step)
    known = np.isfinite(part["rpm"])
    rpm = np.interp(times, part["time"][known], part["rpm"][known])
    length = min(rpm.size, max(64, round(30.0 / step)))
    detrended: Any = "linear"
    hz, density = welch(rpm, 1.0 / step, nperseg=length, detrend=detrended)
    return np.asarray(hz), np.asarray(density * (hz[1] - hz[0]))


def _peak(hz: FloatArray, power: FloatArray) -> tuple[float, float, float]:
    """Give the rhythm that stands out, its share of the movement, and its amplitude [rpm]."""
    inside = (hz >= HUNTS_HZ[0]) & (hz <= HUNTS_HZ[1])
    total = float(power[1:].sum())
    if not inside.any() or total <= 0.0:
        return float("nan"), float("nan"), float("nan")
    top = int(np.flatnonzero(inside)[power[inside].argmax()])
    about = power[max(top - 2, 1) : top + 3]
    return float(hz[top]), float(about.sum()) / total, float(np.sqrt(2.0 * about.sum()))


def _behind_s(part: dict[str, FloatArray], advance: FloatArray, hz: float) -> float:
    """Say how much later the timing rises than speed falls, at one rhythm [s]; nan where it hardly moves."""
    known = np.isfinite(advance) & np.isfinite(part["rpm"])
    if not np.isfinite(hz) or known.sum() < 50 or float(np.std(advance[known])) < 0.2:
        return float("nan")
    turning = np.exp(-2j * np.pi * hz * part["time"][known])
    speed, timing = (
        np.sum((values[known] - values[known].mean()) * turning) for values in (part["rpm"], advance)
    )
    behind = (np.angle(-speed) - np.angle(timing)) % (2.0 * np.pi)
    return float(behind / (2.0 * np.pi * hz))


def _at_limit(corrections: FloatArray) -> float:
    """Say how much of the time a correction stands at an end where it stays, not only touches [%]."""
    known = corrections[np.isfinite(corrections)]
    if known.size < 50 or float(np.ptp(known)) < 0.2:
        return float("nan")
    ends = (known >= known.max() - 1e-6) | (known <= known.min() + 1e-6)
    return 100.0 * float(ends.mean())


def idle_findings(idle: Idle | None) -> Iterator[Finding]:
    """Tell whether the idle holds, and what it hangs on where it hunts.

    Parameters
    ----------
    idle : Idle or None
        The idle judged; None, of which nothing is told, where there was none.
    """
    if idle is None:
        return
    numbers: dict[str, Value] = {
        "seconds": idle.seconds,
        "rpm": idle.rpm,
        "rpm_sigma": idle.rpm_sigma,
        "reserve_up_deg": idle.reserve_up_deg,
        "reserve_down_deg": idle.reserve_down_deg,
    }
    if idle.peak_share >= HUNTS_SHARE and idle.peak_rpm >= HUNTS_RPM:
        period = 1.0 / idle.peak_hz
        behind = idle.timing_behind_s
        # A loop feeds a rhythm where its answer comes a quarter of a period late or more.
        loop = "timing" if np.isfinite(behind) and 0.2 <= behind * idle.peak_hz <= 0.8 else "air or mixture"
        rhythm: dict[str, Value] = {
            "period_s": period,
            "amplitude_rpm": idle.peak_rpm,
            "share_percent": 100.0 * idle.peak_share,
            "behind_s": behind,
            "loop": loop,
        }
        yield Finding("idle.hunts", "look", numbers | rhythm)
    else:
        steady = idle.rpm_sigma <= STEADY_RPM
        yield Finding("idle.steady" if steady else "idle.wanders", "good" if steady else "look", numbers)
    if np.isfinite(idle.at_limit_percent) and idle.at_limit_percent > 20.0:
        yield Finding("idle.at-its-limit", "look", {"at_limit_percent": idle.at_limit_percent})
