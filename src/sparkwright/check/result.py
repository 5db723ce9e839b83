"""What the hardware check asks for and hands on: plain frozen values, no arithmetic.

Advance is in crank degrees before top dead centre. ``nan`` in an array and None in a field mean "not
determined" or "not reachable"; the finding about it says which.
"""

from __future__ import annotations

from dataclasses import dataclass

from sparkwright.check.assumed import Assumed, SpreadTaken
from sparkwright.findings import Finding, State
from sparkwright.ignition.cranking import CrankingSpark
from sparkwright.ignition.gap import Paths
from sparkwright.ignition.order import CapOrder, LeadPair
from sparkwright.ignition.rotor import PhaseAdvice, Reach, Rotation, RotorCap
from sparkwright.ignition.wiring import CheckedItem
from sparkwright.numeric import FloatArray


@dataclass(frozen=True)
class Gas:
    """Gas at a plug: absolute pressure [bar] and temperature [K]."""

    pressure_bar: float
    temperature_k: float


@dataclass(frozen=True)
class SparkPoint:
    """One running point: where the spark comes, and the gas that then stands in the plug's gap."""

    rpm: float
    kpa: float
    advance_deg: float
    gas: Gas


@dataclass(frozen=True)
class IgnitionDemand:
    """What the engine asks of its ignition.

    ``least_deg`` and ``most_deg`` bound the advances that the plan uses, cranking included.
    ``next_plug`` and ``previous_plug`` are the gas at the neighbours in the cap at the moment of the
    hardest spark: the one that fires next is in its intake or compression stroke, the one that has
    just fired in its expansion. ``origin`` says in a few words where the numbers come from.
    """

    least_deg: float
    most_deg: float
    points: tuple[SparkPoint, ...]
    next_plug: Gas
    previous_plug: Gas
    origin: str


@dataclass(frozen=True)
class RotorResult:
    """Rotor and cap over the span the plan needs.

    The arrays run along ``advance_deg``: air gaps [mm] and their breakdown in the cap's air [kV], the
    neighbours' counted as sharp corners (the careful side). ``unphased`` is the reach with the tip
    over its post at base, ``phased`` with the phase of ``advice``. ``reach_spread_deg`` is how far
    either end may lie off where dimensions were assumed, else 0. ``hardest`` is the running point at
    which the wrong path has the least reserve, None where no point lies within reach.
    """

    cap: RotorCap
    rotation: Rotation
    today: Reach
    unphased: Reach
    phased: Reach
    advice: PhaseAdvice
    reach_spread_deg: float
    least_deg: float
    most_deg: float
    advance_deg: FloatArray
    right_gap_mm: FloatArray
    next_gap_mm: FloatArray
    previous_gap_mm: FloatArray
    right_kv: FloatArray
    next_kv: FloatArray
    previous_kv: FloatArray
    hardest: SparkPoint | None
    hardest_paths: Paths | None
    hardest_neighbour: str


@dataclass(frozen=True)
class DwellTable:
    """Dwell for the wanted energy against battery voltage; nan where the voltage can't reach it."""

    battery_v: FloatArray
    dwell_ms: FloatArray
    current_a: float
    energy_mj: float


@dataclass(frozen=True)
class CoilResult:
    """The inductive coil and its driver along engine speed at running voltage.

    ``dwell_ms`` is what can really be had (cut short where the next spark comes too soon),
    ``duty_percent`` its share of the time from spark to spark, ``coil_w`` and ``driver_w`` mean heat.
    ``available_kv`` is the open-circuit peak at the tower with leakage, loss and load counted.
    """

    energy_wanted_mj: float
    current_a: float
    highest_full_energy_rpm: float | None
    rpm: FloatArray
    spark_interval_ms: FloatArray
    dwell_ms: FloatArray
    duty_percent: FloatArray
    energy_mj: FloatArray
    supply_w: FloatArray
    coil_w: FloatArray
    driver_w: FloatArray
    ballast_w: FloatArray
    available_kv: FloatArray
    cranking_dwell_ms: float | None
    cranking_energy_mj: float
    cranking_available_kv: float


@dataclass(frozen=True)
class CapacitiveResult:
    """The capacitive driver: no dwell; energy, rise time, peak voltage and the power it draws."""

    energy_mj: float
    primary_v: float
    capacitance_uf: float
    rise_us: float
    available_kv: float
    rpm: FloatArray
    mean_w: FloatArray


@dataclass(frozen=True)
class DemandResult:
    """Voltage asked at each running point against what is there [kV], in the order of the demand's points.

    The bands are half as wide as what either may be, from ``spreads``.
    """

    rpm: FloatArray
    kpa: FloatArray
    advance_deg: FloatArray
    plug_kv: FloatArray
    rotor_kv: FloatArray
    asked_kv: FloatArray
    available_kv: FloatArray
    asked_band_kv: FloatArray
    available_band_kv: FloatArray
    spreads: tuple[SpreadTaken, ...]
    least_ratio: float


@dataclass(frozen=True)
class SparkTurn:
    """How far the rotor turns while a spark burns, at the highest speed.

    It turns away from the late end of the reach: a spark that starts at ``ends_over_post_from_deg`` or more
    [crank deg] ends with the tip still over its post; None where none does that starts within reach.
    """

    rpm: float
    burning_ms: float
    turn_distributor_deg: float
    ends_over_post_from_deg: float | None


@dataclass(frozen=True)
class HardwareResult:
    """Can this ignition deliver what the engine asks? Everything the faces show, from one computation."""

    job_name: str
    fingerprint: str
    headline: Finding
    """The finding that leads: the worst of the verdicts, or that all is good."""
    verdicts: tuple[Finding, ...]
    """A finding or more on every part, in the order in which to work."""
    rotor: RotorResult
    spark_turn: SparkTurn
    cap_order: CapOrder
    kept_apart: tuple[LeadPair, ...] | None
    """None, not determined, where neither anybody looked nor the numbering of the banks is known."""
    dwell: DwellTable | None
    coil: CoilResult | None
    capacitive: CapacitiveResult | None
    demand: DemandResult
    cranking: tuple[CrankingSpark, ...]
    wiring: tuple[CheckedItem, ...]
    demand_origin: str
    warnings: tuple[Finding, ...]
    assumed: tuple[Assumed, ...]

    @property
    def state(self) -> State:
        """How the worst of it stands."""
        return self.headline.state

    @property
    def problems(self) -> tuple[Finding, ...]:
        """What must be put right."""
        return tuple(each for each in self.verdicts if each.state == "problem")
