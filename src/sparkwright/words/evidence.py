"""What was seen on an engine in a line each, for the history."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from sparkwright.evidence.found import Found
from sparkwright.evidence.kinds import (
    DeadCentreReadings,
    KnockMark,
    LightReading,
    PullReadings,
    RoadRun,
    SweepReadings,
    TorquePoint,
)
from sparkwright.evidence.light_sets import set_of
from sparkwright.evidence.records import Record, Withdrawal
from sparkwright.shop.compare import Between
from sparkwright.units import System
from sparkwright.words.parts import in_units, mark_words, torque
from sparkwright.words.told import told

NAMES = {
    "light-reading": ("light reading", "light readings"),
    "dead-centre": ("proof of the mark", "proofs of the mark"),
    "sweep": ("sweep", "sweeps"),
    "torque-point": ("torque reading", "torque readings"),
    "knock-mark": ("knock mark", "knock marks"),
    "pull": ("pull", "pulls"),
    "finding": ("finding", "findings"),
}
KNOCK_WORDS = {"none": "no knock", "trace": "a trace of knock", "heavy": "heavy knock"}


@dataclass(frozen=True)
class EvidenceLine:
    """One line of what was seen: a record, or the readings of a light set together.

    ``record`` is None for a set, and ``set`` for any other; ``withdrawn`` is of a record.
    """

    words: str
    who: str
    when: datetime
    record: Record | None = None
    set: int | None = None
    withdrawn: Withdrawal | None = None


def evidence_lines(records: Iterable[Record], system: System = "metric") -> list[EvidenceLine]:
    """Say what was seen, light readings a set at a time, in the order in which it was given.

    Parameters
    ----------
    records : iterable of Record
        Evidence of a job in the order in which it was given.
    system : System, optional
        Units that the person reads.
    """
    lines: list[EvidenceLine] = []
    sets: dict[int, list[Record]] = {}
    for record in records:
        if isinstance(record.data, LightReading):
            sets.setdefault(set_of(record), []).append(record)
        else:
            words = seen_words(record, system)
            lines.append(EvidenceLine(words, record.who, record.when, record, withdrawn=record.withdrawn))
    lines += [
        EvidenceLine(_set_words(number, each), each[0].who, each[0].when, set=number)
        for number, each in sets.items()
    ]
    return sorted(lines, key=lambda line: line.when)


def seen_words(record: Record, system: System = "metric") -> str:
    """Say one record in a few words.

    Parameters
    ----------
    record : Record
        One record of any kind.
    system : System, optional
        Units that the person reads.
    """
    seen = record.data
    match seen:
        case DeadCentreReadings():
            found = seen.found()
            shows = mark_words(found.mark_error_deg)
            where = "wanders" if found.wanders else f"shows {shows} at true top dead centre"
            return f"Mark read at the piston, {_counted(len(seen.pairs), 'try', 'tries')}: it {where}"
        case SweepReadings():
            count = _counted(len(seen.rows), "advance", "advances")
            return f"Sweep at {seen.speed_rpm:,.0f} rpm and {seen.map_kpa:g} kPa, {count}"
        case TorquePoint():
            where = f"{seen.speed_rpm:,.0f} rpm, {seen.map_kpa:g} kPa and {seen.advance_deg:g} deg"
            heard = f", {KNOCK_WORDS[seen.knock]}" if seen.knock else ""
            return f"Torque {torque(seen.torque_nm, system, '.1f')} at {where}{heard}"
        case KnockMark():
            where = f"{seen.speed_rpm:,.0f} rpm, {seen.map_kpa:g} kPa and {seen.advance_deg:g} deg"
            return f"{KNOCK_WORDS[seen.knock].capitalize()} at {where}"
        case PullReadings():
            speeds = [each.speed_rpm for each in seen.rows]
            at = f" at {seen.timing}" if seen.timing else ""
            where = f"Pull{at} from {min(speeds):,.0f} to {max(speeds):,.0f} rpm"
            return where if seen.road is None else f"{where}, {road_words(seen.road)}"
        case Found():
            return found_words(seen, system)
        case LightReading():
            reading = seen.reading
            return f"Light: {reading.seen_deg:g} deg seen at {reading.speed_rpm:,.0f} rpm"
    return f"{NAMES.get(record.kind, (record.kind,))[0].capitalize()} that can't be read: {seen.problems[0]}"


def road_words(road: RoadRun) -> str:
    """Say where a pull on the road came from, and what its torque is good for.

    Parameters
    ----------
    road : RoadRun
        Its drive, gear and timing.

    Examples
    --------
    >>> road_words(RoadRun("monday.csv", 27.0, 0.0, mass_stated=True))
    'on the road (from monday.csv)'
    """
    why = "" if road.mass_stated else "; in shares of torque alone, since the vehicle's mass isn't stated"
    return f"on the road (from {road.drive}){why}"


def found_words(seen: Found, system: System = "metric") -> str:
    """Say a finding that was kept, and its file; another version of the program may have written it.

    Parameters
    ----------
    seen : Found
        The finding, with its file.
    system : System, optional
        Units that the person reads.
    """
    try:
        sentence = in_units(told(seen.finding, system).sentence, system)
    except (ArithmeticError, AssertionError, AttributeError, LookupError, TypeError, ValueError):
        sentence = f"A finding that can't be told here ({seen.finding.kind})."
    return f"{sentence.removesuffix('.')} (from {seen.file})"


def between_words(found: Between) -> str:
    """Say what was seen and taken back between two revisions; "" where nothing was.

    Parameters
    ----------
    found : Between
        What came and what was taken back between two revisions.
    """
    told = kinds_words(found)
    return f"Between the two: {told}." if told else ""


def kinds_words(found: Between) -> str:
    """Count what was seen and what was taken back; "" where nothing was.

    Parameters
    ----------
    found : Between
        What came and what was taken back between two revisions.
    """
    parts = [_kinds(found.taken, ""), _kinds(found.withdrawn, " taken back")]
    return "; ".join(each for each in parts if each)


def _kinds(records: Sequence[Record], done: str) -> str:
    counted = Counter(record.kind for record in records)
    return ", ".join(
        f"{_counted(count, *NAMES.get(kind, (kind, kind)))}{done}" for kind, count in counted.items()
    )


def _set_words(number: int, records: Sequence[Record]) -> str:
    counts = sum(record.withdrawn is None for record in records)
    back = len(records) - counts
    tail = f", {back} taken back" if back else ""
    return f"Light set {number}: {_counted(counts, *NAMES['light-reading'])}{tail}"


def _counted(count: int, one: str, several: str) -> str:
    return f"{count} {one if count == 1 else several}"
