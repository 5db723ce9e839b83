"""What a check of measured torque noticed: named, with what to do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

State = Literal["good", "look", "aside"]


@dataclass(frozen=True)
class Finding:
    """One thing that was noticed.

    Parameters
    ----------
    kind : str
        What it is, for code: "not crossed", "drift", "cut short by knock", "one advance" ...
    state : {"good", "look", "aside"}
        "aside" where the sweep's torque is not used for it.
    sweep : str
        Which sweep; empty for a whole file.
    sentence, action : str
        The same for a person, and what to do.
    """

    kind: str
    state: State
    sweep: str
    sentence: str
    action: str = ""
