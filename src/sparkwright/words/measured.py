"""What of a card is measured and what is foretold, and what has changed since it was signed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime

import numpy as np

from sparkwright.dyno.sweep import Sweep
from sparkwright.evidence.found import Found
from sparkwright.evidence.kinds import PullReadings
from sparkwright.evidence.records import Record
from sparkwright.evidence.sweeps import sweeps_in
from sparkwright.shop.compare import seen_between
from sparkwright.units import System
from sparkwright.words.evidence import found_words, kinds_words
from sparkwright.words.pulls import count_pulls

MOST_LISTED = 5
FORETOLD = "Foretold: the map of this card, planned from the stated facts; no measurement has moved it."


def measured_lines(
    records: Iterable[Record],
    signed: datetime | None = None,
    number: int = 0,
    latest: int = 0,
    system: System = "metric",
) -> tuple[str, ...]:
    """Say what is measured and what is foretold, and what has changed since the card was signed.

    Parameters
    ----------
    records : iterable of Record
        Everything that was seen on the engine, also what is withdrawn.
    signed : datetime, optional
        When the card was signed; what came later is no part of it.
    number, latest : int
        The card's revision, and the latest of the job.
    system : System, optional
        Units that the person reads.
    """
    kept = tuple(records)
    at = [each for each in kept if signed is None or each.when <= signed]
    pulls = [each.data for each in at if each.withdrawn is None and isinstance(each.data, PullReadings)]
    lines = list(brake_lines(sweeps_in(at), [each.timing for each in pulls]))
    found = [each.data for each in at if each.withdrawn is None and isinstance(each.data, Found)]
    lines += [f"Found: {found_words(each, system)}." for each in found[:MOST_LISTED]]
    if len(found) > MOST_LISTED:
        lines.append(f"Found besides: {len(found) - MOST_LISTED} more.")
    if signed is not None:
        lines.append(_since_words(kept, signed, number, latest))
    return tuple(lines)


def brake_lines(sweeps: Sequence[Sweep], pulled_at: Sequence[str] = ()) -> tuple[str, ...]:
    """Say what was measured at a brake, and that the map is foretold.

    Parameters
    ----------
    sweeps : sequence of Sweep
        What was measured at one speed and load each.
    pulled_at : sequence of str, optional
        The timing of each pull at full throttle, in words; "" where nobody said it.
    """
    lines = [_sweep_words(each) for each in sweeps[:MOST_LISTED]]
    if len(sweeps) > MOST_LISTED:
        lines.append(f"Measured besides: {len(sweeps) - MOST_LISTED} more.")
    if pulled_at:
        timings = ", ".join(dict.fromkeys(each for each in pulled_at if each))
        lines.append(
            f"Measured: {count_pulls(len(pulled_at))} at full throttle{f', at {timings}' if timings else ''}."
        )
    lines.append(FORETOLD if sweeps or pulled_at else f"Nothing was measured at a brake. {FORETOLD}")
    return tuple(lines)


def _sweep_words(sweep: Sweep) -> str:
    advance = sweep.advance_deg
    span = f"{advance.min():g} deg" if np.ptp(advance) == 0 else f"{advance.min():g} to {advance.max():g} deg"
    what = "torque" if np.isfinite(sweep.torque_nm).any() else "knock"
    return f"Measured: {what} at {sweep.rpm:,.0f} rpm and {sweep.kpa:.0f} kPa, {span}."


def _since_words(records: Sequence[Record], signed: datetime, number: int, latest: int) -> str:
    told = kinds_words(seen_between(records, signed, datetime.max.replace(tzinfo=UTC)))
    parts = [told] if told else []
    if latest > number:
        parts.append(f"revision {latest} stands now, this card is of revision {number}")
    return f"Since it was signed: {'; '.join(parts) or 'nothing has changed'}."
