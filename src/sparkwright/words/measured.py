"""What of a card is measured and what is foretold, and what has changed since it was signed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from math import isnan

from sparkwright.evidence.found import Found
from sparkwright.evidence.kinds import PullReadings
from sparkwright.evidence.records import Record
from sparkwright.learn.against import Against, MeasuredPlace
from sparkwright.shop.compare import seen_between
from sparkwright.units import System, show
from sparkwright.words.evidence import found_words, kinds_words
from sparkwright.words.pulls import count_pulls

MOST_FOUND = 5
MOST_ROWS = 5
"""Findings and what was set aside, and swept places, that a card lists; the rest is counted."""

FORETOLD = "Foretold: the map of this card, planned from the stated facts; no measurement has moved it."
COLUMNS = ("rpm", "kPa", "best, measured (90 %)", "foretold", "learned", "knock heard")
"""Heads of the table of swept places; angles stand in degrees."""


@dataclass(frozen=True)
class MeasuredTold:
    """What a card says of measurements: sentences, and a table of swept places; both may be empty."""

    lines: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    more: str = ""
    columns: tuple[str, ...] = COLUMNS


NOTHING_TOLD = MeasuredTold()


def measured_told(
    records: Iterable[Record],
    against: Against | None,
    signed: datetime | None = None,
    number: int = 0,
    latest: int = 0,
    system: System = "metric",
) -> MeasuredTold:
    """Say what is measured and what is foretold, and what has changed since the card was signed.

    Parameters
    ----------
    records : iterable of Record
        Everything that was seen on the engine, also what is withdrawn.
    against : Against or None
        What was measured up to then, held against what was foretold; None where nothing was.
    signed : datetime, optional
        When the card was signed; what came later is no part of it.
    number, latest : int
        The card's revision, and the latest of the job.
    system : System, optional
        Units that the person reads.
    """
    kept = tuple(records)
    at = [each for each in counted_at(kept, signed) if each.withdrawn is None]
    pulls = [each.data for each in at if isinstance(each.data, PullReadings)]
    told = brake_told(against, [each.timing for each in pulls if each.road is None], system)
    found = [each.data for each in at if isinstance(each.data, Found)]
    lines = [
        *told.lines,
        *_driven(sum(each.road is not None for each in pulls)),
        *(f"Found: {found_words(each, system)}." for each in found[:MOST_FOUND]),
    ]
    if len(found) > MOST_FOUND:
        lines.append(f"Found besides: {len(found) - MOST_FOUND} more.")
    if signed is not None:
        lines.append(_since_words(kept, signed, number, latest))
    return MeasuredTold(tuple(lines), told.rows, told.more)


def counted_at(records: Iterable[Record], signed: datetime | None) -> list[Record]:
    """Give what was there when a card was signed; everything where it isn't.

    Parameters
    ----------
    records : iterable of Record
        Everything that was seen on the engine.
    signed : datetime or None
        When the card was signed.
    """
    return [each for each in records if signed is None or each.when <= signed]


def brake_told(
    against: Against | None, pulled_at: Sequence[str] = (), system: System = "metric"
) -> MeasuredTold:
    """Say what was measured at a brake beside what was foretold there.

    Parameters
    ----------
    against : Against or None
        What was measured, held against what was foretold; None where nothing was.
    pulled_at : sequence of str, optional
        The timing of each pull at full throttle, in words; "" where nobody said it.
    system : System, optional
        Units that the person reads.
    """
    if against is None:
        lines = [*_pulled(pulled_at), FORETOLD]
        return MeasuredTold(tuple(lines if pulled_at else [f"Nothing was measured at a brake. {FORETOLD}"]))
    order = sorted(against.places, key=_off, reverse=True)
    more = len(order) - MOST_ROWS
    return MeasuredTold(
        (*_near(against, system), *_pulled(pulled_at), *_aside(against), FORETOLD),
        tuple(_row(each) for each in order[:MOST_ROWS]),
        f"And {more} more in the record; these lie farthest from what was foretold." if more > 0 else "",
    )


def _off(place: MeasuredPlace) -> float:
    off = abs(place.best_deg - place.untaught_deg)
    return -1.0 if isnan(off) else off


def _row(place: MeasuredPlace) -> tuple[str, ...]:
    best = "not determined"
    if not isnan(place.best_deg):
        best = f"{place.best_deg:.1f} ({place.best_low_deg:.1f} to {place.best_high_deg:.1f})"
        best += "" if place.crossed_top else ", not crossed"
    return (
        f"{place.rpm:,.0f}",
        f"{place.kpa:.0f}",
        best,
        _deg(place.untaught_deg),
        _deg(place.taught_deg),
        _heard(place),
    )


def _deg(value: float) -> str:
    return "not determined" if isnan(value) else f"{value:.1f}"


def _heard(place: MeasuredPlace) -> str:
    match place.heard:
        case None:
            return "nobody listened"
        case "none":
            return f"none up to {place.heard_deg:g}"
        case _:
            return f"{place.heard} at {place.heard_deg:g}"


def _near(against: Against, system: System) -> Iterator[str]:
    if not against.places:
        return
    near, cells = sum(each.measured_near for each in against.cells), len(against.cells)
    load = show(against.near_kpa, "pressure", system, unit="inHg" if system == "inch" else "")
    faster = 100.0 * (against.near_speed - 1.0)
    yield (
        f"{near} of {cells} cells lie within {faster:.0f} % in speed and {load} of a place "
        f"that was measured; the other {cells - near} are foretold only. Learned: what the plan's best "
        "becomes once it has learned from all that was measured."
    )


def _pulled(pulled_at: Sequence[str]) -> Iterator[str]:
    if pulled_at:
        timings = ", ".join(dict.fromkeys(each for each in pulled_at if each))
        at = f", at {timings}" if timings else ""
        yield f"Measured: {count_pulls(len(pulled_at))} at full throttle{at}."


def _driven(pulls: int) -> Iterator[str]:
    if pulls:
        yield f"Driven: {count_pulls(pulls)} on the road, held against each other; they teach nothing."


def _aside(against: Against) -> Iterator[str]:
    names = [f"sweep {each}" for each in against.set_aside] + [f"pull {each}" for each in against.pulls_aside]
    more = len(names) - MOST_FOUND
    if names:
        rest = f", and {more} more" if more > 0 else ""
        yield f"Set aside, and no part of this: {', '.join(names[:MOST_FOUND])}{rest}."


def _since_words(records: Sequence[Record], signed: datetime, number: int, latest: int) -> str:
    told = kinds_words(seen_between(records, signed, datetime.max.replace(tzinfo=UTC)))
    parts = [told] if told else []
    if latest > number:
        parts.append(f"revision {latest} stands now, this card is of revision {number}")
    return f"Since it was signed: {'; '.join(parts) or 'nothing has changed'}."
