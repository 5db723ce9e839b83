"""Places that stayed quiet: cells held for a while with something listening, and the advance they stood."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sparkwright.drive.faults import knocked
from sparkwright.drive.seen import DriveSeen

LEAST_S = 20.0
"""How long a cell must have run, in all, before its silence says anything; a choice."""
TOP_PERCENT = 90.0
"""The advance told is what was held for a tenth of that time at least."""


@dataclass(frozen=True)
class Quiet:
    """A cell in which nothing knocked, the advance that it stood there [deg], and for how long."""

    rpm: float
    kpa: float
    advance_deg: float
    seconds: float


def quiet_places(seen: DriveSeen) -> tuple[Quiet, ...]:
    """Give the cells in which no knock was heard though something listened, the fullest load first.

    Parameters
    ----------
    seen : DriveSeen
        Windows of the drive, with whether anything in the log listens for knock.
    """
    heard, advance = knocked(seen), seen.advance_deg
    listened = {name: events for name, events in heard.items() if name != "marks"}
    if not listened or advance is None:
        return ()
    loud = np.logical_or.reduce(list(heard.values()))
    found = []
    for cell in np.unique(seen.cells).tolist():
        here = (seen.cells == cell) & np.isfinite(advance)
        seconds = float(np.count_nonzero(here)) * seen.windows.width_s
        if seconds < LEAST_S or (loud & here).any():
            continue
        rpm, kpa = seen.axes.place(cell)
        found.append(Quiet(rpm, kpa, float(np.percentile(advance[here], TOP_PERCENT)), seconds))
    return tuple(sorted(found, key=lambda each: (-each.kpa, each.rpm)))
