"""What a drive came to: plain frozen values, the same for screen, JSON and paper."""

from __future__ import annotations

from dataclasses import dataclass

from sparkwright.check.assumed import Assumed
from sparkwright.drive.accelerations import Acceleration
from sparkwright.drive.against import QuantityDifference
from sparkwright.drive.delays import Delay
from sparkwright.drive.idle import Idle
from sparkwright.drive.moments import Mark, SeenAt, marks
from sparkwright.drive.quiet import Quiet
from sparkwright.drive.simulated_idle import IdleTry
from sparkwright.drive.tally import CellSeen
from sparkwright.drive.timing import TimingSeen
from sparkwright.drive.where import Where
from sparkwright.findings import Finding
from sparkwright.numeric import FloatArray


@dataclass(frozen=True)
class ChannelSeen:
    """One channel, and what each cell of the map has seen of it.

    Parameters
    ----------
    name : str
        Its heading in the file.
    quantity : str
        What it was taken for; "" where nothing is known of it.
    unit : str
        Of its values here; "" where it has none or it isn't known.
    read_in : str
        The unit of the file, where another one.
    confidence : float
        How sure that is, 0 to 1.
    why : tuple of str
        What it was gone by.
    quantile_error : float
        How far a quantile may lie from the exact one; 0 where it is exact.
    cells : tuple of CellSeen
        Cells that saw a value, loads rising, speeds rising within a load.
    """

    name: str
    quantity: str
    unit: str
    read_in: str
    confidence: float
    why: tuple[str, ...]
    quantile_error: float
    cells: tuple[CellSeen, ...]


@dataclass(frozen=True)
class Beyond:
    """Rows that lay beyond the axes, counted in the cell at the edge that is nearest."""

    rpm: float
    kpa: float
    count: int


@dataclass(frozen=True)
class FileSeen:
    """One file: what it is, how much of it there is, and how its time counts.

    ``time_column`` is "" where it has none; ``step_s`` is nan then. ``cut_off_line`` is the line that the
    file breaks off in, ``cut_off`` whether it breaks off at all.
    """

    name: str
    kind: str
    rows: int
    seconds: float
    step_s: float
    time_column: str
    cut_off: bool
    cut_off_line: int | None


@dataclass(frozen=True)
class DriveResult:
    """A drive on the map of a job, and what it shows."""

    headline: Finding
    rows: int
    running_rows: int
    running_above_rpm: float
    placed_rows: int
    """Running rows that have a load too, and so a cell."""
    rpm: FloatArray
    kpa: FloatArray
    channels: tuple[ChannelSeen, ...]
    beyond: tuple[Beyond, ...]
    files: tuple[FileSeen, ...]
    findings: tuple[Finding, ...]
    """What the drive shows, the worst first."""
    seen_at: tuple[SeenAt, ...]
    """Where and when each of them was seen, in the same order."""
    where: Where
    timing: TimingSeen | None
    """Timing held against the map; None where the log has none."""
    delays: tuple[Delay, ...]
    against: tuple[QuantityDifference, ...]
    """This drive less another, cell by cell; empty where none was given."""
    quiet: tuple[Quiet, ...]
    """Cells in which nothing knocked though something listened."""
    accelerations: tuple[Acceleration, ...]
    """Accelerations at full throttle in one gear, with torque by what the job says of the vehicle."""
    idle: Idle | None
    """The idle of the drive; None where it has none that lasts."""
    idle_tries: tuple[IdleTry, ...]
    """Ways to time the idle and what each comes to, simulated."""
    read: tuple[Finding, ...]
    """What was dropped, guessed and converted while it was read, with counts."""
    job_name: str
    fingerprint: str
    assumed: tuple[Assumed, ...]
    warnings: tuple[Finding, ...]

    @property
    def marks(self) -> tuple[Mark, ...]:
        """What must be looked at, numbered."""
        return marks(self.findings, self.seen_at)
