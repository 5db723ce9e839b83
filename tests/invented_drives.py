"""Drives of an invented engine, with known truth, written in any dialect: what tests of drives begin with."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import polars as pl

from sparkwright.job import Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.spark_map import SparkMap

EXAMPLES = Path(__file__).resolve().parent.parent / "examples"
PUMP_HOUSE = Job.load(EXAMPLES / "pump-house-v8.toml")

Columns = dict[str, FloatArray]


@dataclass(frozen=True)
class Written:
    """How a log is written: what parts columns, stands before decimals, ends lines, and codes letters."""

    mark: str = ","
    decimal: str = "."
    end: str = "\n"
    encoding: str = "utf-8"
    before: Sequence[str] = ()
    units: Sequence[str] = ()
    trailing: bool = False
    names_again_every: int = 0
    decimals: int = 3

    def text(self, columns: Columns) -> str:
        names = self.mark.join(columns) + (self.mark if self.trailing else "")
        lines = [*self.before, names]
        if self.units:
            lines.append(self.mark.join(self.units) + (self.mark if self.trailing else ""))
        for place, row in enumerate(zip(*columns.values(), strict=True)):
            if self.names_again_every and place and place % self.names_again_every == 0:
                lines.append(names)
            cells = ["" if np.isnan(each) else self.cell(float(each)) for each in row]
            lines.append(self.mark.join(cells) + (self.mark if self.trailing else ""))
        return self.end.join(lines) + self.end

    def cell(self, value: float) -> str:
        text = f"{value:.{self.decimals}f}".replace(".", self.decimal)
        return f'"{text}"' if self.decimal == self.mark else text

    def bytes(self, columns: Columns) -> bytes:
        return self.text(columns).encode(self.encoding)


def short_drive(rows: int = 400, seed: int = 3) -> Columns:
    """A few rows over the whole map, rounded as they are written."""
    rng = np.random.default_rng(seed)
    return {
        "time": np.linspace(0.0, 0.1 * (rows - 1), rows),
        "rpm": rng.uniform(200, 5200, rows).round(0),
        "map": rng.uniform(22, 90, rows).round(1),
        "advance": rng.uniform(5, 40, rows).round(1),
        "coolant": rng.uniform(60, 95, rows).round(0),
    }


def csv_file(path: Path, columns: Columns) -> Path:
    """Write a long drive fast, in the plainest dialect."""
    pl.DataFrame(columns).write_csv(path)
    return path


Load = Callable[[FloatArray], tuple[FloatArray, FloatArray]]


@dataclass(frozen=True)
class Road:
    """How an engine is driven and logged.

    ``hold_s`` is about how long speed and load stay in one place; noise is one standard deviation of a row.
    """

    hours: float = 1.0
    rate_hz: float = 20.0
    seed: int = 1
    hold_s: float = 6.0
    idle_share: float = 0.15
    rpm_noise: float = 4.0
    kpa_noise: float = 0.6
    advance_noise: float = 0.1
    idle_rpm: float = 700.0
    idle_kpa: float = 38.0


def clean_drive(spark_map: SparkMap, road: Road = Road()) -> Columns:
    """A drive without any fault: timing as the map asks, noise as sensors have it."""
    rng = np.random.default_rng(road.seed)
    count = int(road.hours * 3600 * road.rate_hz)
    step = 1.0 / road.rate_hz
    stays = int(count * step / road.hold_s) + 2
    idles = rng.random(stays) < road.idle_share
    rpm_at = np.where(idles, road.idle_rpm, rng.uniform(1000, 4400, stays))
    kpa_at = np.where(idles, road.idle_kpa, rng.uniform(30, 84, stays))
    time_s = np.arange(count) * step
    # A second and a half from one stay to the next, then held.
    reached = np.minimum((time_s % road.hold_s) / 1.5, 1.0)
    here = np.minimum((time_s / road.hold_s).astype(int), stays - 2)
    before = np.maximum(here - 1, 0)
    rpm = rpm_at[before] + (rpm_at[here] - rpm_at[before]) * reached
    kpa = kpa_at[before] + (kpa_at[here] - kpa_at[before]) * reached
    idle = idles[here] & (reached >= 1.0)
    asked = map_at(spark_map, rpm, kpa)
    rpm = rpm + rng.normal(0, road.rpm_noise, count)
    kpa = kpa + rng.normal(0, road.kpa_noise, count)
    correction = np.where(idle, np.clip((road.idle_rpm - rpm) * 0.05, -4, 4), 0.0)
    throttle = np.where(idle, 1.0, np.clip((kpa - 25) * 1.4, 3, 100))
    return {
        "time": time_s.round(3),
        "rpm": rpm.round(1),
        "map": kpa.round(2),
        "commanded advance": (asked + correction).round(2),
        "advance": (asked + correction + rng.normal(0, road.advance_noise, count)).round(2),
        "idle advance correction": correction.round(2),
        "throttle": throttle.round(1),
        "lambda": (1.0 + rng.normal(0, 0.012, count)).round(3),
        "coolant": (86 + rng.normal(0, 0.4, count)).round(1),
        "battery": (13.8 + rng.normal(0, 0.05, count)).round(2),
        "dwell": (3.4 + rng.normal(0, 0.02, count)).round(3),
        "dwell asked": np.full(count, 3.4),
        "knock": (0.4 + rpm / 4000 * (1 + 0.12 * rng.normal(0, 1, count))).round(3),
        "knock retard": np.zeros(count),
        "sync losses": np.zeros(count),
    }


def map_at(spark_map: SparkMap, rpm: FloatArray, kpa: FloatArray) -> FloatArray:
    """Advance of a map at many places, linear between cells [deg]."""
    from scipy.interpolate import RegularGridInterpolator

    at = RegularGridInterpolator((spark_map.kpa, spark_map.rpm), spark_map.advance_deg)
    low, high = spark_map.rpm[[0, -1]]
    soft, hard = spark_map.kpa[[0, -1]]
    return np.asarray(at(np.column_stack([np.clip(kpa, soft, hard), np.clip(rpm, low, high)])))
