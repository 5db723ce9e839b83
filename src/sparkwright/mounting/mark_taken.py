"""Readings on either side of top dead centre, with all that they are judged by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, ClassVar, get_args

from pydantic import ConfigDict

from sparkwright.job.field_kind import Choice
from sparkwright.mounting.dead_centre import DeadCentre, Method, dead_centre
from sparkwright.mounting.mark_readings import ReadPair, read_pairs
from sparkwright.mounting.questions import USUAL_READ_TO_DEG
from sparkwright.mounting.throw import CrankThrow


@dataclass(frozen=True)
class DeadCentreReadings:
    """Readings on either side of top dead centre, with all that they are judged by.

    Angles are in crank degrees, positive before top dead centre by the balancer's own mark; lengths in mm.
    """

    pairs: tuple[ReadPair, ...]
    method: Annotated[Method, Choice(get_args(Method))] = "stop"
    read_to_deg: float = USUAL_READ_TO_DEG
    diameter_mm: float | None = None
    stroke_mm: float | None = None
    rod_mm: float | None = None
    pin_offset_mm: float | None = None
    dial_step_mm: float | None = None

    __pydantic_config__: ClassVar[ConfigDict] = ConfigDict(extra="forbid")

    def found(self) -> DeadCentre:
        """Find true top dead centre from them.

        Raises
        ------
        Refusal
            For what can't be.

        Examples
        --------
        >>> DeadCentreReadings((ReadPair(27.0, -31.0),)).found().mark_error_deg
        -2.0
        """
        throw = None
        if self.stroke_mm is not None and self.rod_mm is not None:
            throw = CrankThrow(self.stroke_mm, self.rod_mm, self.pin_offset_mm)
        return dead_centre(
            read_pairs([each for pair in self.pairs for each in (pair.before_deg, pair.after_deg)], "pairs"),
            method=self.method,
            throw=throw,
            diameter_mm=self.diameter_mm,
            read_to_deg=self.read_to_deg,
            dial_step_mm=self.dial_step_mm,
        )
