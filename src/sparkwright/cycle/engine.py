"""The engine as the cycle sees it: four records of facts.

``Engine`` is metal, ``Air`` what it breathes, ``Fuel`` what it burns; ``Constants`` were fitted once for the
whole program. ``sparkwright.cycle.charge`` makes of them what the kernel takes.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property
from math import pi

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle import (
    cam,
    filling,
    kinematics,
    residual,
)
from sparkwright.cycle.cam import ValveEvents
from sparkwright.cycle.chamber import Chamber
from sparkwright.errors import PhysicsError
from sparkwright.numeric import Numeric

FloatArray = NDArray[np.float64]

HEAD_WALL_K = {"iron": 455.0, "aluminium": 435.0}
"""Mean wall temperature by head material [K]; recalled, about 20 K apart in practice."""

OVERLAP_LIFT_MM = 0.13
"""Tappet lift (0.005 in) from which a valve passes gas worth counting in the overlap [mm]; a choice, since
flanks drawn down to the seat make more overlap than lash and ramps leave."""


def _require_above(owner: str, record: object, names: tuple[str, ...], floor: float = 0.0) -> None:
    for name in names:
        require_all_above(f"{owner}.{name}", getattr(record, name), floor)


def require_all_above(field: str, value: Numeric, floor: float = 0.0) -> None:
    """Refuse the first number that is not above a floor.

    Parameters
    ----------
    field : str
        What the refusal calls it.
    value : float or array
        The numbers.
    floor : float
        They must lie above this, in their unit.
    """
    for each in value.tolist() if isinstance(value, np.ndarray) else (value,):
        if not each > floor:
            raise PhysicsError(field, each, f"must be above {floor:g}")


@dataclass(frozen=True)
class Engine:
    """One engine's metal.

    Parameters
    ----------
    chamber : Chamber
        Bore, stroke, compression ratio and chamber shape.
    cylinders : int
        Number of cylinders.
    rod_m : float
        Connecting rod, centre to centre [m].
    events : ValveEvents
        Valve events at a stated lift [crank deg].
    intake_seat_m, exhaust_seat_m : float
        Inner seat diameters [m].
    rocker_ratio : float
        Valve lift over lifter lift [-].
    head : str
        "iron" or "aluminium".
    swirl : float
        Factor on the turbulence of an ordinary engine [-], 1 for none.
    wall_heat : float
        Factor on the heat to the walls of an ordinary engine [-], 1 for none.
    warmer_k : float
        How much warmer its walls and ports are than those of a warm engine [K], below 0 colder.

    Raises
    ------
    PhysicsError
        If a dimension is not above 0, the rod is shorter than the throw, or the head is unknown.

    Examples
    --------
    >>> engine = Engine(Chamber("wedge", 0.0996, 0.0919, 9.5), 8, 0.154,
    ...                 cam.events_from_durations(207.0, 213.0, 108.0, 111.5, 1.27), 0.0432, 0.0351)
    >>> round(engine.displacement_m3 * 1e6)  # cm3
    5728
    """

    chamber: Chamber
    cylinders: int
    rod_m: float
    events: ValveEvents
    intake_seat_m: float
    exhaust_seat_m: float
    rocker_ratio: float = 1.5
    head: str = "iron"
    swirl: float = 1.0
    wall_heat: float = 1.0
    warmer_k: float = 0.0

    def __post_init__(self) -> None:
        above_zero = ("cylinders", "intake_seat_m", "exhaust_seat_m", "rocker_ratio", "swirl", "wall_heat")
        _require_above("engine", self, above_zero)
        _require_above("engine", self, ("rod_m",), 0.5 * self.chamber.stroke_m)
        if self.head not in HEAD_WALL_K:
            raise PhysicsError("engine.head", self.head, "must be iron or aluminium")

    @cached_property
    def displaced_m3(self) -> float:
        """Displaced volume of one cylinder [m3]."""
        return float(kinematics.swept_volume_m3(self.chamber.bore_m, self.chamber.stroke_m))

    @cached_property
    def displacement_m3(self) -> float:
        """Displaced volume of the engine [m3]."""
        return self.cylinders * self.displaced_m3

    @cached_property
    def intake_closes_deg(self) -> float:
        """Where the charge counts as shut in [crank deg after the firing top dead centre]."""
        return cam.effective_intake_closing_deg(self.events)

    @cached_property
    def exhaust_opens_deg(self) -> float:
        """Where the exhaust valve leaves its seat in earnest [crank deg after the firing top dead centre]."""
        return 180.0 - self.events.at_lift(cam.EFFECTIVE_CLOSING_LIFT_MM).exhaust_opens_deg

    @cached_property
    def effective_events(self) -> ValveEvents:
        """Valve events where the valves pass charge worth counting."""
        return self.events.at_lift(cam.EFFECTIVE_CLOSING_LIFT_MM)

    @cached_property
    def overlap_window_m2_deg(self) -> float:
        """Area through both valves, summed over the overlap [m2 deg]."""
        return residual.overlap_window_m2_deg(
            self.events.at_lift(OVERLAP_LIFT_MM).overlap_deg,
            self.intake_seat_m,
            self.exhaust_seat_m,
            self.rocker_ratio,
        )

    def closing_pressure_ratio(self, speed_rpm: Numeric, constants: Constants) -> Numeric:
        """Pressure in the cylinder at intake closing over that in the manifold [-], at a speed or several.

        Parameters
        ----------
        speed_rpm : float or array
            Engine speed [rpm].
        constants : Constants
            How much of the intake's flow is kept.
        """
        shut = self.effective_events
        index = filling.mach_index(
            self.chamber.bore_m,
            self.intake_seat_m,
            kinematics.mean_piston_speed_m_s(self.chamber.stroke_m, speed_rpm),
            shut.intake_duration_deg,
        )
        return filling.closing_pressure_ratio(
            index, shut.intake_closes_deg, constants.closing_loss, constants.ram, constants.choking_index
        )

    def volume_m3(self, angle_deg: float) -> float:
        """Cylinder volume at a crank angle after top dead centre [m3].

        Parameters
        ----------
        angle_deg : float
            Crank angle after top dead centre [deg].
        """
        throw = 0.5 * self.chamber.stroke_m
        drop = kinematics.piston_drop_m(angle_deg, throw, self.rod_m)
        return self.chamber.clearance_m3 + pi / 4 * self.chamber.bore_m**2 * float(drop)


@dataclass(frozen=True)
class Air:
    """What the engine breathes.

    Parameters
    ----------
    ambient_kpa : float
        Outside pressure, absolute [kPa].
    intake_k : float or array
        Temperature of the air in the manifold before it meets the hot port [K]; an array where it differs
        from place to place.
    humidity_ratio : float
        Water over dry air [kg/kg].

    Raises
    ------
    PhysicsError
        If pressure or temperature is not above 0, or humidity is negative.

    Examples
    --------
    >>> Air(101.3, 298.15).humidity_ratio
    0.0
    """

    ambient_kpa: float
    intake_k: Numeric
    humidity_ratio: float = 0.0

    def __post_init__(self) -> None:
        _require_above("air", self, ("ambient_kpa", "intake_k"))
        if not self.humidity_ratio >= 0:
            raise PhysicsError("air.humidity_ratio", self.humidity_ratio, "must be 0 or above")


@dataclass(frozen=True)
class Fuel:
    """What the engine burns.

    Parameters
    ----------
    octane : float
        Research octane number [-]; of a primary reference fuel its octane number.
    ethanol_share_volume : float
        Ethanol in the liquid fuel [0 to 1].
    sensitivity : float
        Research less motor octane number [-]; 0 for a primary reference fuel.

    Raises
    ------
    PhysicsError
        If an octane number is not above 0, the sensitivity is below 0 or the share lies outside 0 to 1.

    Examples
    --------
    >>> Fuel(95.0, sensitivity=10.0).ethanol_share_volume
    0.0
    """

    octane: float
    ethanol_share_volume: float = 0.0
    sensitivity: float = 0.0

    def __post_init__(self) -> None:
        _require_above("fuel", self, ("octane",))
        if not 0 <= self.sensitivity < self.octane:
            raise PhysicsError(
                "fuel.sensitivity", self.sensitivity, "must be 0 or above, and below the octane"
            )
        if not 0 <= self.ethanol_share_volume <= 1:
            raise PhysicsError("fuel.ethanol_share_volume", self.ethanol_share_volume, "must be from 0 to 1")


@dataclass(frozen=True)
class Constants:
    """The program's calibrated constants, fitted together by ``scripts/calibrate.py`` from its targets.

    ``flame_gain`` and ``flame_growth`` belong to ``turbulence.growing_entrainment_m_s``, ``burn_up`` is a
    factor on the burn-up time of a Taylor microscale; ``closing_loss``, ``ram`` and ``choking_index`` belong
    to ``filling.closing_pressure_ratio``, ``overlap_discharge`` to ``residual.backflow_share``;
    ``knock_factor``, ``knock_pressure_exponent`` and ``knock_activation_k`` to
    ``knock.pivoted_induction_ms``; ``weighing_speed_k`` to ``octane.charge_heat_k``. ``research_heat_k`` and
    ``motor_heat_k`` are what that gives in the program's own two octane tests, and follow from the others.
    How firmly each is known stands in ``sparkwright.cycle.belief``.
    """

    flame_gain: float
    flame_growth: float
    burn_up: float
    closing_loss: float
    ram: float
    choking_index: float
    overlap_discharge: float
    knock_factor: float
    knock_pressure_exponent: float
    knock_activation_k: float
    weighing_speed_k: float
    research_heat_k: float
    motor_heat_k: float

    def __post_init__(self) -> None:
        _require_above("constants", self, tuple(field.name for field in fields(self)))
