"""Measure what the fixed-advance check promises, and write the tables of docs/light.md.

Run ``.venv/bin/python scripts/light_coverage.py`` (two minutes) after anything in the fit or its verdict has
changed. Lists of readings are drawn from engines whose truth is known, and judged by `check_light` itself,
with its search for bends, steps and blunders. The tables are written as they come out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from pages import with_tables
from sparkwright.job import Job, starter_text
from sparkwright.job.usual import USUAL_LIGHT_STEP_DEG
from sparkwright.light.bench import bench_of
from sparkwright.light.findings import asks
from sparkwright.light.fit import HAND_DEG, reading_sigma_deg
from sparkwright.light.readings import Reading
from sparkwright.light.verdict import LightResult, check_light

PAGE = Path(__file__).parent.parent / "docs" / "light.md"
SEED = 500
LISTS = 1000
"""Lists drawn for each share: its standard error is at most 1.6 %."""

LOWEST_RPM, HIGHEST_RPM = 1000.0, 4000.0
HELD_DEG = 26.0
COUNTS = (3, 4, 5, 6, 10)
BLUNDERS_DEG = (0.0, 1.0, 1.5, 2.0, 3.0, 6.0)
TOLD_BLUNDERS_DEG = (0.0, 2.0)
OUT_DEG = 1.5
"""Offset of the engine that must not be proved [crank deg]."""


@dataclass(frozen=True)
class Draw:
    """Lists to draw: how many readings, one blunder among them, and the offset of the engine."""

    readings: int
    blunder_deg: float = 0.0
    offset_deg: float = 0.0
    lists: int = LISTS

    def each(self) -> Iterator[list[Reading]]:
        """Give the lists; the same draw gives the same ones, and every offset the same errors."""
        draw = np.random.default_rng([SEED, self.readings, round(10.0 * self.blunder_deg)])
        speeds = np.linspace(LOWEST_RPM, HIGHEST_RPM, self.readings).tolist()
        sigma_deg = reading_sigma_deg(USUAL_LIGHT_STEP_DEG, HAND_DEG)
        for _ in range(self.lists):
            error_deg = draw.normal(self.offset_deg, sigma_deg, self.readings)
            error_deg[draw.integers(self.readings)] += self.blunder_deg * draw.choice([-1.0, 1.0])
            yield [
                Reading(HELD_DEG, rpm, HELD_DEG + error, line=line)
                for line, (rpm, error) in enumerate(zip(speeds, error_deg.tolist(), strict=True), start=1)
            ]


@dataclass(frozen=True)
class Shares:
    """Of the lists of a draw, the share [%] that ...

    ``holds_offset`` gives an offset and the truth within its 95 % interval; ``proved``; ``shape`` is told to
    have a bend or a step; ``set_right`` is told to turn the body or to set a delay; ``one_reading`` names a
    reading, or several, as wrong.
    """

    holds_offset: float
    proved: float
    shape: float
    set_right: float
    one_reading: float


@lru_cache
def shares(draw: Draw) -> Shares:
    """Draw the lists and have each judged."""
    job = Job.from_toml(starter_text())
    bench = bench_of(job, hold_deg=HELD_DEG)
    told = [_told(check_light(job, readings, bench), draw.offset_deg) for readings in draw.each()]
    return Shares(*(100.0 * np.mean(told, axis=0)).tolist())


def _told(result: LightResult, offset_deg: float) -> tuple[bool, ...]:
    offset = result.fit.offset_deg if result.fit is not None else None
    asked = {each.subject for each in result.findings if asks(each)}
    return (
        offset is not None and offset.low <= offset_deg <= offset.high,
        result.proof.proven,
        any(each.subject == "drift" for each in result.findings),
        bool(asked & {"offset", "delay"}),
        "one-reading" in asked,
    )


def coverage_table() -> str:
    """Give how often the interval of the offset holds the truth."""
    names = ["readings", "no blunder", *(f"one of {each:g} deg" for each in BLUNDERS_DEG[1:])]
    rows = [
        [str(count), *(_percent(shares(Draw(count, each)).holds_offset) for each in BLUNDERS_DEG)]
        for count in COUNTS
    ]
    return _table(names, rows)


def told_table() -> str:
    """Give what is said of a good engine, and how often one that is off is proved."""
    names = [
        "readings",
        "one blunder",
        "proved",
        "a reading is doubted",
        "body or delay to be set",
        "bend or step",
        f"proved though {OUT_DEG:g} deg off",
    ]
    rows = []
    for blunder_deg in TOLD_BLUNDERS_DEG:
        for count in COUNTS:
            good = shares(Draw(count, blunder_deg))
            off = shares(Draw(count, blunder_deg, OUT_DEG))
            told = (good.proved, good.one_reading, good.set_right, good.shape, off.proved)
            named = f"{blunder_deg:g} deg" if blunder_deg else "none"
            rows.append([str(count), named, *(_percent(each) for each in told)])
    return _table(names, rows)


def _percent(share: float) -> str:
    return f"{share:.1f} %" if 0.0 < share < 9.95 else f"{share:.0f} %"


def _table(names: list[str], rows: list[list[str]]) -> str:
    lines = [names, ["---"] * len(names), *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


if __name__ == "__main__":
    tables = {"coverage": coverage_table(), "told": told_table()}
    PAGE.write_text(with_tables(PAGE.read_text(encoding="utf-8"), tables), encoding="utf-8")
    print(f"{PAGE} written")
