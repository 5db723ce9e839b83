"""Work for tests of a fleet's workers: plain functions that can be sent to another process."""

from __future__ import annotations

import os
import signal
from pathlib import Path

from sparkwright.fleet.members import Member
from sparkwright.fleet.plans import Planned, planned


def squared(number: int) -> int:
    return number * number


def squared_unless_poisoned(number: int) -> int:
    """Bring its worker down on one item, as a fault in compiled code or an empty memory would."""
    if number == 13:
        os.kill(os.getpid(), signal.SIGKILL)
    return number * number


def squared_after_a_kill(asked: tuple[int, str]) -> int:
    """Bring its worker down once, as somebody who kills it from outside would."""
    number, place = asked
    if number == 5 and not Path(place).exists():
        Path(place).write_text("seen")
        os.kill(os.getpid(), signal.SIGKILL)
    return number * number


def planned_or_dead(member: Member) -> Planned:
    if "poison" in member.source:
        os.kill(os.getpid(), signal.SIGKILL)
    return planned(member)
