"""Pulls as a file holds them: a table with a line of names, one reading a line.

`speed_rpm` must be there, and one of `torque_nm`, `torque_lb-ft`, `power_kw`, `power_hp`, or `drum_rpm` with
`time_s`. `timing` says at what timing a pull was run, `pull` parts the pulls; without `pull` a file is one.
`advance_deg` and `map_kpa` let a pull teach the engine, `lambda` and `intake_c` say with what air; where they
change from line to line, advance is taken at each speed and the others as their mean.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sparkwright import units
from sparkwright.dyno.pulls import (
    AS_IT_WAS,
    FEWEST_READINGS,
    Coasting,
    Pull,
    coasting_of,
    torque_of_drum,
    torque_of_power,
)
from sparkwright.errors import WHOLE, Problem, Refusal
from sparkwright.reading import number
from sparkwright.reading.numbers import shown
from sparkwright.reading.tables import load_text, rows_of

LEAST_RISE_RPM = 500.0
"""What rises by less is no pull [rpm]; a choice."""

MOST_READINGS = 20_000
MOST_PULLS = 60
MOST_NAME = 40
MOST_SENTENCES = 20

WATTS = {"power_kw": 1000.0, "power_hp": 745.69987158227022}
"""One mechanical horsepower is 550 foot pounds-force a second (NIST Special Publication 811, appendix B)."""

TORQUES = {"torque_nm": "N m", "torque_lb-ft": "lb-ft"}
SPANS = {
    "speed_rpm": (100.0, 20_000.0),
    "drum_rpm": (1.0, 20_000.0),
    "time_s": (0.0, 1e7),
    "torque_nm": (-2000.0, 5000.0),
    "torque_lb-ft": (-2000.0, 4000.0),
    "power_kw": (-1000.0, 5000.0),
    "power_hp": (-1000.0, 7000.0),
    "advance_deg": (-20.0, 80.0),
    "map_kpa": (10.0, 400.0),
    "lambda": (0.5, 2.0),
    "intake_c": (-50.0, 200.0),
}
WORDS = ("pull", "timing")
KNOWN = ", ".join((*SPANS, *WORDS))


@dataclass(frozen=True)
class Drum:
    """A drum that is sped up: its inertia [kg m2], and what it loses by itself where that was measured."""

    inertia_kg_m2: float
    coasting: Coasting | None = None


@dataclass
class _Rows:
    """The readings of one pull as they come."""

    timing: str
    values: dict[str, list[float]]


def load_pulls(path: Path, drum: Drum | None, bandwidth_rpm: float) -> tuple[Pull, ...]:
    """Read a file of pulls; refused as `read_pulls`, or if there is no such file or it is no text.

    Parameters
    ----------
    path : Path
        The file.
    drum : Drum or None
        Inertia and losses of the drum, where torque follows from how it speeds up; None where it was
        measured.
    bandwidth_rpm : float
        Standard deviation of the normal weights that smooth over speed [rpm].
    """
    return read_pulls(load_text(path, "pulls"), path.stem, drum, bandwidth_rpm)


def load_coasting(path: Path, inertia_kg_m2: float) -> Coasting:
    """Read how a drum slows down by itself: `time_s` and `drum_rpm`.

    Parameters
    ----------
    path : Path
        The file, of the drum running out by itself.
    inertia_kg_m2 : float
        Inertia of the drum [kg m2].
    """
    (readings,) = _readings(load_text(path, "coasting"), path.stem, "coasting", ("time_s", "drum_rpm"))[:1]
    values = {name: np.array(each) for name, each in readings[1].values.items()}
    if values["drum_rpm"].size < FEWEST_READINGS or values["drum_rpm"][-1] >= values["drum_rpm"][0]:
        raise Refusal.at(
            "coasting",
            path.name,
            f"must be a drum that slows down, {FEWEST_READINGS} readings or more",
            "let it run out by itself, clutch in",
        )
    return coasting_of(values["time_s"], values["drum_rpm"], inertia_kg_m2)


def read_pulls(text: str, file: str, drum: Drum | None, bandwidth_rpm: float) -> tuple[Pull, ...]:
    """Read pulls from a table.

    Parameters
    ----------
    text : str
        The table.
    file : str
        What a pull is called whose table gives it no name.
    drum : Drum or None
        What a table with drum speed needs.
    bandwidth_rpm : float
        Of the smoothing that gives a drum's acceleration [rpm].

    Raises
    ------
    Refusal
        With a sentence for each line, column or pull that can't be used.
    """
    return tuple(
        _pull(name, rows, drum, bandwidth_rpm)
        for name, rows in _readings(text, file, "pulls", ("speed_rpm",))
    )


def _readings(text: str, file: str, field: str, needed: Sequence[str]) -> list[tuple[str, _Rows]]:
    rows = rows_of(text, field)
    if len(rows) < 2:
        raise Refusal.at(field, file, "must hold a line of names and readings under it")
    if len(rows) - 1 > MOST_READINGS:
        raise Refusal.at(field, f"{len(rows) - 1} lines", f"must be at most {MOST_READINGS:,}")
    names = [each.strip().lower() for each in rows[0].cells]
    for name in names:
        if name and name not in SPANS and name not in WORDS:
            raise Refusal.at(f"{field}, column", shown(name), f"is not known; known are {KNOWN}")
    missing = [each for each in needed if each not in names]
    twice = sorted({each for each in names if each and names.count(each) > 1})
    if missing or twice:
        must = f"must name {', '.join(missing)} too" if missing else f"must name {', '.join(twice)} once"
        raise Refusal.at(field, WHOLE, must)
    found: dict[str, _Rows] = {}
    problems: list[Problem] = []
    for row in rows[1:]:
        cells = dict(zip(names, (each.strip() for each in row.cells), strict=False))
        name = " ".join(cells.get("pull", "").split())[:MOST_NAME] or file
        timing = " ".join(cells.get("timing", "").split())[:MOST_NAME]
        pull = found.setdefault(name, _Rows(timing, {each: [] for each in names if each in SPANS}))
        if pull.timing != timing:
            problems.append(Problem(f"{field}, line {row.line}, timing", shown(timing), "must be one a pull"))
        for column, values in pull.values.items():
            low, high = SPANS[column]
            where = f"{field}, line {row.line}, {column}"
            try:
                values.append(number(cells.get(column, ""), field=where, low=low, high=high))
            except Refusal as refusal:
                problems += refusal.problems
    if len(found) > MOST_PULLS:
        problems = [Problem(field, f"{len(found)} pulls", f"must be at most {MOST_PULLS}")]
    if problems:
        raise Refusal(problems[:MOST_SENTENCES])
    return list(found.items())


def _pull(name: str, rows: _Rows, drum: Drum | None, bandwidth_rpm: float) -> Pull:
    values = {column: np.array(each) for column, each in rows.values.items()}
    rpm = values["speed_rpm"]
    where = f"pull {name}"
    if rpm.size < FEWEST_READINGS or np.ptp(rpm) < LEAST_RISE_RPM:
        raise Refusal.at(
            where,
            f"{rpm.size} readings over {np.ptp(rpm):,.0f} rpm",
            f"must have {FEWEST_READINGS} or more over {LEAST_RISE_RPM:g} rpm",
        )
    torque = _torque(where, values, drum, bandwidth_rpm)
    if np.ptp(torque) == 0.0:
        raise Refusal.at(
            where, f"torque {torque[0]:g} N m throughout", "must change", "the sensor seems stuck"
        )
    if np.median(torque) <= 0.0:
        raise Refusal.at(where, "torque under 0", "must be what the engine makes", "turn the brake's sign")
    advance = values.get("advance_deg")
    return Pull(
        name,
        rows.timing or _timing(advance),
        rpm,
        torque,
        advance,
        _mean(values, "map_kpa"),
        _mean(values, "lambda"),
        _mean(values, "intake_c"),
    )


def _timing(advance_deg: np.ndarray | None) -> str:
    if advance_deg is None:
        return AS_IT_WAS
    low, high = float(advance_deg.min()), float(advance_deg.max())
    return f"{low:g} deg" if low == high else f"{low:g} to {high:g} deg"


def _mean(values: dict[str, np.ndarray], column: str) -> float | None:
    return float(values[column].mean()) if column in values else None


def _torque(where: str, values: dict[str, np.ndarray], drum: Drum | None, bandwidth_rpm: float) -> np.ndarray:
    given = [each for each in (*TORQUES, *WATTS, "drum_rpm") if each in values]
    if len(given) != 1:
        raise Refusal.at(
            where,
            ", ".join(given) or None,
            "must have one of torque_nm, torque_lb-ft, power_kw, power_hp and drum_rpm",
        )
    column = given[0]
    if column in TORQUES:
        factor = units.convert(1.0, "torque", TORQUES[column], "N m")
        return np.asarray(values[column] * factor)
    if column in WATTS:
        return torque_of_power(values["speed_rpm"], values[column] * WATTS[column])
    if drum is None or "time_s" not in values:
        raise Refusal.at(
            where, "drum_rpm", "must come with time_s and the drum's inertia", "add --inertia, in kg m2"
        )
    if np.any(np.diff(values["time_s"]) <= 0.0):
        raise Refusal.at(where, "time_s", "must rise from reading to reading")
    return torque_of_drum(
        values["time_s"],
        values["speed_rpm"],
        values["drum_rpm"],
        drum.inertia_kg_m2,
        bandwidth_rpm,
        drum.coasting,
    )
