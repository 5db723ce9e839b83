"""What moves the piston: stroke, rod and an offset pin, and how far the pin leads two readings astray."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sparkwright.cycle.kinematics import (
    top_dead_centre_deg,
)
from sparkwright.errors import Refusal
from sparkwright.job import Job
from sparkwright.mounting.questions import MARK
from sparkwright.units import show_both

USUAL_PIN_OFFSET_MM = 1.5
"""A large pin offset of a production piston [mm], to say what one would matter. Recalled, no source."""


@dataclass(frozen=True)
class CrankThrow:
    """What the pin offset and the dial's doubt are computed from [mm]; the offset None when unknown.

    The pin offset is positive towards the side to which the crank moves after top dead centre.

    Examples
    --------
    >>> round(CrankThrow(stroke_mm=91.9, rod_mm=154.0).throw_m, 5)
    0.04595
    """

    stroke_mm: float
    rod_mm: float
    pin_offset_mm: float | None = None

    def __post_init__(self) -> None:
        for name in ("stroke_mm", "rod_mm"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise Refusal.at(
                    name.removesuffix("_mm"), show_both(value, "length"), "must be a length above 0"
                )
        MARK["pin_offset"].require(self.pin_offset_mm)
        offset_mm = abs(self.pin_offset_mm or 0.0)
        if self.rod_mm <= self.stroke_mm / 2.0 + offset_mm:
            raise Refusal.at(
                "rod",
                show_both(self.rod_mm, "length"),
                f"must be longer than half the stroke and the pin offset, "
                f"{show_both(self.stroke_mm / 2 + offset_mm, 'length')}",
                "give it between centres",
            )

    @property
    def throw_m(self) -> float:
        """Half the stroke [m]."""
        return self.stroke_mm / 2000.0

    @property
    def rod_m(self) -> float:
        """Rod between centres [m]."""
        return self.rod_mm / 1000.0


def throw_of(job: Job, pin_offset_mm: float | None = None) -> CrankThrow | None:
    """Take stroke and rod from a job; None where it states neither rod nor its ratio to the stroke.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    pin_offset_mm : float, optional
        Pin offset, where it was typed [mm].

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> throw_of(Job.from_toml(starter_text()).changed("engine", rod="154 mm")).rod_mm
    154.0
    """
    engine = job.engine
    rod_mm = engine.rod_mm
    if rod_mm is None and engine.rod_ratio is not None:
        rod_mm = engine.rod_ratio * engine.stroke_mm
    return None if rod_mm is None else CrankThrow(engine.stroke_mm, rod_mm, pin_offset_mm)


def pin_error_deg(half_travel_deg: float, throw: CrankThrow, pin_offset_mm: float) -> float:
    """Give how far after true top dead centre the middle of two equal drops lies.

    Parameters
    ----------
    half_travel_deg : float
        Half the crank angle from one reading to the other [crank deg].
    throw : CrankThrow
        Stroke and rod.
    pin_offset_mm : float
        Pin offset, positive towards the side to which the crank moves after top dead centre [mm].

    Returns
    -------
    float
        ``asin(e/D) - asin(e/(a + l))`` with ``D = a cos(phi) + sqrt(l^2 - (a sin(phi))^2)``, the distance of
        the pin from the crank's centre [crank deg].

    Notes
    -----
    Slider-crank geometry, exact (kinematics as in Heywood, Internal Combustion Engine Fundamentals, 1988,
    section 2.2, with an offset): crank, rod and the line to the pin are the same triangle on either side, so
    the middle lies on that line; true top dead centre lies on it with crank and rod stretched.

    Examples
    --------
    >>> round(pin_error_deg(26.8309, CrankThrow(91.9, 154.0), 1.5), 4)
    0.0141
    """
    phi = math.radians(half_travel_deg)
    distance_m = throw.throw_m * math.cos(phi) + math.sqrt(
        throw.rod_m**2 - (throw.throw_m * math.sin(phi)) ** 2
    )
    lean_deg = math.degrees(math.asin(pin_offset_mm / 1000.0 / distance_m))
    return lean_deg - float(top_dead_centre_deg(throw.throw_m, throw.rod_m, pin_offset_mm / 1000.0))
