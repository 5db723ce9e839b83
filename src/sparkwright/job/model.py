"""The job: what a shop writes down about one engine, checked, with nothing computed.

The names of the attributes carry the unit that the value is kept in. The keys of the file don't: there the
unit stands beside the number, `bore = "3.921 in"`. Keys that end in _rpm, _deg, _kpa, _percent or _ratio, and
values without dimension, are plain numbers.
"""

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import pi, sin
from pathlib import Path
from typing import Annotated, Any, Literal, Self, get_args

from pydantic import BaseModel, ConfigDict, Field, ValidationError, ValidationInfo, model_validator
from pydantic.fields import FieldInfo
from pydantic_core import PydanticCustomError

from sparkwright.errors import Problem, Refusal
from sparkwright.ignition.crank import (
    BankNumbering,
    Contradiction,
    contradiction,
    numbering_of,
    ways_that_fit,
)
from sparkwright.job import toml
from sparkwright.job.door import (
    SITE_AIR,
    Choice,
    Door,
    Moment,
    NamedQuantity,
    Number,
    Numbers,
    Pairs,
    Points,
    Quantity,
    Text,
    YesNo,
)
from sparkwright.job.problems import CONFLICT, Conflict, problems_of
from sparkwright.job.site_air import air_pressure_kpa

Layout = Literal["inline", "v", "flat"]
Chamber = Literal["wedge", "open", "hemispherical", "pent-roof", "side-valve", "flat-disc"]
Head = Literal["iron", "aluminium"]
InductionKind = Literal["natural", "boosted"]
Rotation = Literal["clockwise", "anticlockwise"]
CapSize = Literal["small", "medium", "large"]
AdvanceMechanism = Literal["locked", "free"]
VacuumAdvance = Literal["disconnected", "connected", "none"]
PickupKind = Literal["two-wire", "hall", "points"]
DriverKind = Literal["inductive", "capacitive"]
LightKind = Literal["plain", "dial-back"]

NO_SUCH_ENGINE = "outside this lies no engine that fires through a distributor"
NO_SUCH_CAP = "outside this lies no distributor cap"
NO_SUCH_SPEED = "outside this no such engine runs"
NO_SUCH_PRESSURE = "manifold pressure is absolute: about 101 at full load at sea level, less at altitude"
NO_SUCH_EVENT = "outside this lies no camshaft of a four-stroke engine"
NO_SUCH_FUEL = "outside this lies no fuel for spark-ignition engines"
NO_SUCH_MIXTURE = "lambda is 1 at the chemically right mixture, below 1 rich, above 1 weak"
NO_SUCH_COIL = "outside this lies no ignition coil for an engine"
NO_SUCH_BATTERY = "outside this lies no vehicle's electrical system"
NO_SUCH_AIR = "outside this no engine is run"
NO_SUCH_ADVANCE = "outside this no such engine is timed"

LAMBDA = Number(0.6, 1.6, NO_SUCH_MIXTURE)
CYLINDER = Number(1, 8, "a distributor here serves at most 8 cylinders", whole=True)
SPEED_SPAN_RPM, LOAD_SPAN_KPA = (100, 12000), (10, 400)
"""Speeds and absolute manifold pressures that the whole program takes."""

MANIFOLD_KPA = Number(*LOAD_SPAN_KPA, NO_SUCH_PRESSURE)
ENGINE_RPM = Number(*SPEED_SPAN_RPM, NO_SUCH_SPEED)
MOST_NODES = 40
"""Most speeds, and most loads, of a map."""

MOST_CELLS = MOST_NODES**2
ONE_A_LINE = ("hand",)
"""Lists of tables that are written with one table a line; the others get a section for each."""

LEAST_DURATION_DEG, MOST_DURATION_DEG = 150, 360

KEPT = "kept"
"""Says, while a text is read, that it was taken before: its open questions don't keep it from being read."""


class Section(BaseModel):
    """A part of the job: frozen, and no key that isn't known."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    def conflicts(self) -> Iterator[Conflict]:
        """Give every way in which values here contradict one another."""
        yield from ()

    def questions(self) -> Iterator[Conflict]:
        """Give what is refused in a job that is given now, and stays open in one that was kept before."""
        yield from ()

    @model_validator(mode="after")
    def _agree(self, info: ValidationInfo) -> Self:
        problems = list(self.conflicts())
        if not (info.context or {}).get(KEPT):
            problems += self.questions()
        if problems:
            raise PydanticCustomError(CONFLICT, "values contradict one another", {"problems": problems})
        return self

    @classmethod
    def key(cls, attribute: str) -> str:
        """Give the TOML key of an attribute."""
        return cls.model_fields[attribute].alias or attribute

    @classmethod
    def door(cls, attribute: str) -> Door | None:
        """Give what reads and writes an attribute; None for a section within."""
        return door_of(cls.model_fields[attribute])

    def say(self, attribute: str) -> str:
        """Say the value of an attribute with its unit; "not given" when there is none.

        Examples
        --------
        >>> Site().say("air_temperature_c"), Site().say("altitude_m")
        ('25 degC', 'not given')
        """
        value = getattr(self, attribute)
        door = self.door(attribute)
        return "not given" if value is None else door.say(value) if door else str(value)

    def facts(self) -> dict[str, Any]:
        """Give what was stated, by TOML key, as TOML holds it."""
        found: dict[str, Any] = {}
        for attribute in type(self).model_fields:
            value = getattr(self, attribute)
            if attribute not in self.model_fields_set or value is None:
                continue
            door = self.door(attribute)
            if isinstance(value, Section):
                found[self.key(attribute)] = value.facts()
            elif door is None:
                found[self.key(attribute)] = [section.facts() for section in value]
            else:
                found[self.key(attribute)] = door.write(value)
        return found


def door_of(info: FieldInfo) -> Door | None:
    """Give what reads and writes a field; None for a section within."""
    return next((each for each in info.metadata if isinstance(each, Door)), None)


class Engine(Section):
    """The engine itself."""

    cylinders: Annotated[
        Literal[4, 6, 8], Choice((4, 6, 8), why="engines of other counts are not supported")
    ] = Field(description="Number of cylinders.", examples=[8])
    layout: Annotated[Layout, Choice(get_args(Layout))] = Field(
        description="How the cylinders stand.", examples=["v"]
    )
    firing: Annotated[
        Literal["even"],
        Choice(
            ("even",),
            {
                "odd": "odd-fire engines are not supported: their posts are not evenly spaced, "
                "and every angle here would be wrong"
            },
        ),
    ] = Field(
        default="even",
        description='Whether cylinders fire at even intervals. Only "even" is supported, and it is assumed.',
        examples=["even"],
    )
    firing_order: Annotated[tuple[int, ...], Numbers(CYLINDER, 4, 8)] = Field(
        description="Cylinders in the order in which they fire, from cylinder 1.",
        examples=[[1, 5, 7, 2, 6, 3, 4, 8]],
    )
    bank_numbering: Annotated[BankNumbering | None, Choice(get_args(BankNumbering))] = Field(
        default=None,
        description="How the cylinders of a V or flat engine are numbered, front to back: odd numbers in one "
        "bank and even ones in the other (odd-even), or one bank first and then the other (by-bank). Not "
        "stated, it is read from the firing order where that fits only one of them.",
        examples=["by-bank"],
    )
    bore_mm: Annotated[float, Quantity("length", "mm", 30, 250, NO_SUCH_ENGINE)] = Field(
        alias="bore", description="Cylinder bore.", examples=["3.921 in"]
    )
    stroke_mm: Annotated[float, Quantity("length", "mm", 30, 250, NO_SUCH_ENGINE)] = Field(
        alias="stroke", description="Piston stroke.", examples=["3.618 in"]
    )
    rod_mm: Annotated[float | None, Quantity("length", "mm", 50, 600, NO_SUCH_ENGINE)] = Field(
        default=None,
        alias="rod",
        description="Connecting rod, centre to centre; this or rod_ratio. With neither a ratio is assumed.",
        examples=["6.063 in"],
    )
    rod_ratio: Annotated[float | None, Number(1.2, 3.0, "rod length over stroke lies near 1.7")] = Field(
        default=None, description="Rod length divided by stroke, instead of rod.", examples=[1.68]
    )
    compression_ratio: Annotated[
        float, Number(3.5, 16, "outside this lies no spark-ignition engine with a distributor")
    ] = Field(description="Geometric compression ratio, the 9.0 of 9.0:1.", examples=[9.0])
    chamber: Annotated[Chamber, Choice(get_args(Chamber))] = Field(
        description="Shape of the combustion chamber.", examples=["wedge"]
    )
    plug_offset_mm: Annotated[
        float | None, Quantity("length", "mm", 0, 125, "the plug stands within the bore")
    ] = Field(
        default=None,
        alias="plug_offset",
        description="From the bore axis to the plug gap; taken from the chamber shape when not given.",
        examples=["22 mm"],
    )
    swirl: Annotated[float | None, Number(0.5, 3, "1 is an ordinary port, near 1.4 a strong swirl")] = Field(
        default=None,
        description="Turbulence of the charge against that of an ordinary port; planning assumes 1 "
        "when not given.",
        examples=[1.0],
    )
    head: Annotated[Head, Choice(get_args(Head), {"aluminum": 'write it "aluminium"'})] = Field(
        description="Material of the cylinder head.", examples=["iron"]
    )
    idle_rpm: Annotated[float | None, Number(200, 2500, NO_SUCH_SPEED)] = Field(
        default=None, description="Warm idle speed; planning assumes one when not given.", examples=[750]
    )
    idle_kpa: Annotated[float | None, Number(15, 100, NO_SUCH_PRESSURE)] = Field(
        default=None,
        description="Manifold pressure at warm idle, absolute; or, in quotes, what a gauge shows, as in "
        '"13 inHg vacuum". Planning assumes one when not given.',
        examples=[38],
    )
    redline_rpm: Annotated[float | None, Number(1000, 12000, NO_SUCH_SPEED)] = Field(
        default=None,
        description="Highest speed the engine is run to; planning assumes one when not given.",
        examples=[5000],
    )
    cranking_rpm: Annotated[float, Number(50, 500, "starters turn engines at 100 to 300")] = Field(
        default=180,
        description="Speed on the starter. 180 is assumed: common practice, no source.",
        examples=[180],
    )
    damper_diameter_mm: Annotated[
        float | None, Quantity("length", "mm", 30, 1000, "outside this lies no rim that is read with a light")
    ] = Field(
        default=None,
        alias="damper_diameter",
        description="Diameter of the balancer over the rim where its marks stand; says degrees in mm.",
        examples=["7.24 in"],
    )

    def conflicts(self) -> Iterator[Conflict]:
        """Check the firing order, the rod, the plug and the speeds."""
        yield from _not_each_cylinder_once("firing_order", self.firing_order, self.cylinders)
        if self.firing_order[0] != 1 and sorted(self.firing_order) == list(range(1, self.cylinders + 1)):
            yield Conflict(
                "firing_order",
                "must start with cylinder 1",
                "turn the list round",
            )
        if self.bank_numbering is not None and self.layout == "inline":
            yield Conflict(
                "bank_numbering",
                'must not stand beside layout = "inline"',
                "a row has no banks; take it out, or change the layout",
            )
        if self.rod_mm is not None and self.rod_ratio is not None:
            yield Conflict("rod_ratio", "must not stand beside rod", "keep one of the two")
        elif self.rod_mm is not None and not 1.2 <= self.rod_mm / self.stroke_mm <= 3.0:
            yield Conflict(
                "rod",
                "must be 1.2 to 3 times the stroke",
                "measure centre to centre",
            )
        if self.plug_offset_mm is not None and self.plug_offset_mm >= self.bore_mm / 2:
            yield Conflict(
                "plug_offset",
                f"must be less than half the bore ({self.bore_mm / 2:g} mm)",
                "measure from the bore axis to the gap",
            )
        if self.idle_rpm is not None and self.redline_rpm is not None and self.idle_rpm >= self.redline_rpm:
            yield Conflict("idle_rpm", "must be below redline_rpm", "check both")

    def questions(self) -> Iterator[Conflict]:
        """Ask for the firing order anew where no crank of such an engine gives it."""
        if self.firing_order[0] != 1 or sorted(self.firing_order) != list(range(1, self.cylinders + 1)):
            return
        found = contradiction(self.firing_order, self.layout, self.bank_numbering)
        if found is not None:
            yield Conflict("firing_order", *_no_crank_gives_it(self, found))


def _no_crank_gives_it(engine: Engine, found: Contradiction) -> tuple[str, str]:
    """Say which two cylinders contradict one another, and what to do."""
    half = engine.cylinders // 2
    other = numbering_of(engine.firing_order, engine.layout)
    if engine.bank_numbering is not None and other is not None:
        return (
            f'must be an order that an even-firing crank can give with bank_numbering = "{found.numbering}"',
            f'it fits "{other}"; check which of the two is right',
        )
    together = found.must_places == half
    why = (
        f"cylinders {found.first} and {found.second} move together, so one fires {half} places after the "
        f"other, not {found.places}"
        if together
        else f"cylinder {found.second} must fire {found.must_places} or {found.must_places + half} places "
        f"after cylinder {found.first}, not {found.places}"
    )
    counted = {"odd-even": ", numbered odd and even by bank", "by-bank": ", numbered bank by bank", None: ""}
    kind = {"inline": "in line", "v": "in a V", "flat": "lying flat"}[engine.layout]
    must = (
        f"must be an order that an even-firing crank can give; on the {found.crank.name} of "
        f"{engine.cylinders} cylinders {kind}{counted[found.numbering]}, {why}"
    )
    if engine.cylinders == 4 and engine.layout == "inline":
        return must, "a four in line fires 1-3-4-2 or 1-2-4-3; read it again from the engine or its book"
    if engine.layout == "v" and ways_that_fit(engine.firing_order, "inline"):
        return must, 'it fits layout = "inline", which a narrow V under one head counts as; check both'
    return must, "read it again from the engine or its book; check cylinders and layout too"


def _not_each_cylinder_once(place: str, order: Sequence[int], cylinders: int) -> Iterator[Conflict]:
    """Refuse an order in which a cylinder stands twice, or is missing, or doesn't exist."""
    twice = sorted({each for each in order if order.count(each) > 1})
    missing = [each for each in range(1, cylinders + 1) if each not in order]
    read_again = "read it again from the engine or its book"
    if twice:
        also = f", missing: {_listed(missing)}" if missing else ""
        yield Conflict(place, f"must hold each cylinder once; twice: {_listed(twice)}{also}", read_again)
    elif max(order) > cylinders:
        yield Conflict(place, f"must hold only cylinders 1 to {cylinders}", "check engine.cylinders too")
    elif missing:
        yield Conflict(place, f"must hold all {cylinders} cylinders; missing: {_listed(missing)}", read_again)


def _listed(numbers: Sequence[int]) -> str:
    return ", ".join(str(each) for each in numbers)


ADVERTISED_MM = (("advertised, hydraulic", 0.1524), ("advertised, solid", 0.508))
"""Lifts from which makers of flat-tappet cams count what they advertise [mm]; common practice, no source."""

KEPT_LIFT_MM = 1.27
"""Lift that is taken in a job that was kept before the lift was asked for [mm]."""

EVENT = Number(-60, 150, NO_SUCH_EVENT)
CAM_EVENTS = ("intake_opens_deg", "intake_closes_deg", "exhaust_opens_deg", "exhaust_closes_deg")
CAM_DURATIONS = (
    "intake_duration_deg",
    "exhaust_duration_deg",
    "intake_centreline_deg",
    "lobe_separation_deg",
)
CENTRELINE, CAM_ADVANCE = "intake_centreline_deg", "cam_advance_deg"
"""Two ways in which a card says where the intake lobe stands; one is enough."""


class Cam(Section):
    """The camshaft: four events, or durations with lobe separation and centreline or advance."""

    at_lift_mm: Annotated[
        float | None,
        NamedQuantity(
            "length",
            "mm",
            0,
            5,
            "events are stated at a small lift; 0 mm is the seat",
            names=ADVERTISED_MM,
        ),
    ] = Field(
        default=None,
        alias="at_lift",
        description="Lift at which the card states events or durations; it must be stated beside them. "
        '"0.050 in" where it says so; for advertised durations, counted near the seat, '
        '"advertised, hydraulic" (0.006 in) or "advertised, solid" (0.020 in): common practice, no source.',
        examples=["0.050 in"],
    )
    intake_duration_deg: Annotated[float | None, Number(150, 360, NO_SUCH_EVENT)] = Field(
        default=None, description="Crank degrees the intake valve stays above at_lift.", examples=[207]
    )
    exhaust_duration_deg: Annotated[float | None, Number(150, 360, NO_SUCH_EVENT)] = Field(
        default=None, description="Crank degrees the exhaust valve stays above at_lift.", examples=[213]
    )
    intake_centreline_deg: Annotated[float | None, Number(80, 130, NO_SUCH_EVENT)] = Field(
        default=None,
        description="Middle of the intake opening, crank degrees after top dead centre.",
        examples=[108],
    )
    cam_advance_deg: Annotated[float | None, Number(-20, 20, NO_SUCH_EVENT)] = Field(
        default=None,
        description="How far ahead of straight up the cam stands, crank degrees, instead of "
        "intake_centreline_deg: separation less advance is the centreline.",
        examples=[3.5],
    )
    lobe_separation_deg: Annotated[float | None, Number(90, 130, NO_SUCH_EVENT)] = Field(
        default=None,
        description="Angle between the middles of the lobes, camshaft degrees.",
        examples=[111.5],
    )
    intake_opens_deg: Annotated[float | None, EVENT] = Field(
        default=None,
        description="Intake opening, crank degrees before top dead centre; negative is after.",
        examples=[-4.5],
    )
    intake_closes_deg: Annotated[float | None, EVENT] = Field(
        default=None, description="Intake closing, crank degrees after bottom dead centre.", examples=[31.5]
    )
    exhaust_opens_deg: Annotated[float | None, EVENT] = Field(
        default=None, description="Exhaust opening, crank degrees before bottom dead centre.", examples=[41.5]
    )
    exhaust_closes_deg: Annotated[float | None, EVENT] = Field(
        default=None,
        description="Exhaust closing, crank degrees after top dead centre; negative is before.",
        examples=[-8.5],
    )
    intake_lift_mm: Annotated[float | None, Quantity("length", "mm", 2, 25, NO_SUCH_EVENT)] = Field(
        default=None,
        alias="intake_lift",
        description="Greatest lift of the intake valve; planning assumes one from the bore when not given.",
        examples=["0.409 in"],
    )
    exhaust_lift_mm: Annotated[float | None, Quantity("length", "mm", 2, 25, NO_SUCH_EVENT)] = Field(
        default=None,
        alias="exhaust_lift",
        description="Greatest lift of the exhaust valve; planning assumes one from the bore when not given.",
        examples=["0.421 in"],
    )
    intake_valve_mm: Annotated[float | None, Quantity("length", "mm", 15, 100, NO_SUCH_ENGINE)] = Field(
        default=None,
        alias="intake_valve",
        description="Diameter of the intake valve head; planning assumes one from the bore when not given.",
        examples=["1.89 in"],
    )
    exhaust_valve_mm: Annotated[float | None, Quantity("length", "mm", 15, 100, NO_SUCH_ENGINE)] = Field(
        default=None,
        alias="exhaust_valve",
        description="Diameter of the exhaust valve head; planning assumes one from the bore when not given.",
        examples=["1.535 in"],
    )

    @property
    def by_events(self) -> bool:
        """Whether the four events are stated, rather than the durations."""
        return self.intake_opens_deg is not None

    @property
    def centreline_deg(self) -> float | None:
        """Middle of the intake opening, as stated or from separation and advance [deg crank after TDC]."""
        if self.cam_advance_deg is None or self.lobe_separation_deg is None:
            return self.intake_centreline_deg
        return self.lobe_separation_deg - self.cam_advance_deg

    @property
    def lift_mm(self) -> float:
        """Lift at which the cam is stated, or that a kept job was taken at [mm]."""
        return KEPT_LIFT_MM if self.at_lift_mm is None else self.at_lift_mm

    def questions(self) -> Iterator[Conflict]:
        """Ask for the lift: the same figures make two very different cams."""
        stated = any(getattr(self, name) is not None for name in (*CAM_EVENTS, *CAM_DURATIONS))
        if stated and self.at_lift_mm is None:
            yield Conflict(
                "at_lift",
                "must be given: the same degrees counted at 0.050 in (1.27 mm) make a far wilder cam than "
                "advertised ones, counted near the seat",
                'read on the card which it is; write "0.050 in", or for advertised ones '
                '"advertised, hydraulic" (0.006 in) or "advertised, solid" (0.020 in)',
            )

    def conflicts(self) -> Iterator[Conflict]:
        """Check that one form is given whole, and that the events make a valve timing."""
        events = [name for name in CAM_EVENTS if getattr(self, name) is not None]
        durations = [name for name in (*CAM_DURATIONS, CAM_ADVANCE) if getattr(self, name) is not None]
        if events and durations:
            yield Conflict(
                events[0],
                f"must not stand beside {durations[0]}",
                "state the cam by its four events or by its durations, not by both",
            )
        elif not events and not durations:
            yield Conflict(
                CAM_DURATIONS[0],
                "must be given",
                f"state the cam by {', '.join(CAM_DURATIONS)}; or by {', '.join(CAM_EVENTS)}",
            )
        else:
            whole = CAM_EVENTS if events else CAM_DURATIONS
            for name in whole:
                if getattr(self, name) is None and not (name == CENTRELINE and CAM_ADVANCE in durations):
                    yield Conflict(
                        name,
                        f"must be given beside {(events or durations)[0]}",
                        "read it from the cam card",
                    )
        if CENTRELINE in durations and CAM_ADVANCE in durations:
            yield Conflict(CAM_ADVANCE, f"must not stand beside {CENTRELINE}", "keep the one on the card")
        elif self.centreline_deg is not None and not 80 <= self.centreline_deg <= 130:
            yield Conflict(
                CAM_ADVANCE,
                "must make, taken from lobe_separation_deg, an intake centreline of 80 to 130 deg",
                f"it makes {self.centreline_deg:g}; check its sign",
            )
        yield from self._impossible_durations()
        for lift in ("intake_lift_mm", "exhaust_lift_mm"):
            if getattr(self, lift) is not None and getattr(self, lift) <= self.lift_mm:
                yield Conflict(
                    self.key(lift),
                    "must be above at_lift",
                    "give the lift at the valve",
                )

    def _impossible_durations(self) -> Iterator[Conflict]:
        pairs = (("intake_opens_deg", "intake_closes_deg"), ("exhaust_opens_deg", "exhaust_closes_deg"))
        for opens, closes in pairs:
            one, other = getattr(self, opens), getattr(self, closes)
            if one is None or other is None:
                continue
            duration = one + 180 + other
            if not LEAST_DURATION_DEG <= duration <= MOST_DURATION_DEG:
                yield Conflict(
                    closes,
                    f"must make, with {opens}, a duration of {LEAST_DURATION_DEG} to {MOST_DURATION_DEG} deg",
                    f"it makes {duration:g}; check signs and reference points",
                )


class Induction(Section):
    """How air comes in."""

    kind: Annotated[InductionKind, Choice(get_args(InductionKind))] = Field(
        description="Natural, or boosted by a turbocharger or blower.", examples=["natural"]
    )
    max_boost_kpa: Annotated[
        float | None, Quantity("pressure", "kPa", 1, 300, "this is gauge pressure, above that of the site")
    ] = Field(
        default=None,
        alias="max_boost",
        description="Highest boost, gauge (above the pressure of the site). Boosted engines only.",
        examples=["10 psi"],
    )
    charge_temperature_c: Annotated[float | None, Quantity("temperature", "degC", -40, 250, NO_SUCH_AIR)] = (
        Field(
            default=None,
            alias="charge_temperature",
            description="Temperature of the air in the manifold at full boost, after any intercooler.",
            examples=["60 degC"],
        )
    )
    boost_from_rpm: Annotated[
        float | None,
        Number(0, 8000, "0 where boost stands from idle, as with a blower that the crank drives"),
    ] = Field(
        default=None,
        description="Speed from which full boost is there; 0 where it stands from idle, as with a blower "
        "that the crank drives. Below it no cell under boost counts as met. Planning assumes 2,000 when not "
        "given.",
        examples=[2200],
    )
    intake_temperature_c: Annotated[float | None, Quantity("temperature", "degC", -40, 150, NO_SUCH_AIR)] = (
        Field(
            default=None,
            alias="intake_temperature",
            description="Air in the manifold without boost; taken from the site's air when not given.",
            examples=["104 degF"],
        )
    )

    def conflicts(self) -> Iterator[Conflict]:
        """Check that boost is stated where there is boost, and only there."""
        if self.kind == "boosted" and self.max_boost_kpa is None:
            yield Conflict(
                "max_boost", 'must be given where kind = "boosted"', 'for example max_boost = "10 psi"'
            )
        if self.kind == "natural":
            for name in ("max_boost_kpa", "charge_temperature_c", "boost_from_rpm"):
                if getattr(self, name) is not None:
                    yield Conflict(
                        self.key(name),
                        'must stand only where kind = "boosted"',
                        "take it out or change kind",
                    )


class Fuel(Section):
    """What the engine burns."""

    ron: Annotated[float | None, Number(40, 130, NO_SUCH_FUEL)] = Field(
        default=None, description="Research octane number. At least one of ron, mon, aki.", examples=[95]
    )
    mon: Annotated[float | None, Number(40, 120, NO_SUCH_FUEL)] = Field(
        default=None, description="Motor octane number.", examples=[85]
    )
    aki: Annotated[float | None, Number(40, 125, NO_SUCH_FUEL)] = Field(
        default=None, description="Half the sum of both, as on some pumps.", examples=[90]
    )
    ethanol_percent: Annotated[float, Number(0, 100, "it is a share of the volume")] = Field(
        default=0, description="Ethanol, percent of volume. 0 is assumed.", examples=[0]
    )
    lambda_full: Annotated[float | None, LAMBDA] = Field(
        default=None, description="Lambda at full load; planning assumes one when not given.", examples=[0.88]
    )
    lambda_boost: Annotated[float | None, LAMBDA] = Field(
        default=None,
        description="Lambda under boost, 0.78 to 0.82 as a rule; planning assumes one when not given.",
        examples=[0.80],
    )
    lambda_cruise: Annotated[float | None, LAMBDA] = Field(
        default=None, description="Lambda at part load; planning assumes one when not given.", examples=[1.0]
    )
    lambda_idle: Annotated[float | None, LAMBDA] = Field(
        default=None, description="Lambda at idle; planning assumes one when not given.", examples=[0.95]
    )
    mixture_kpa: Annotated[tuple[float, ...] | None, Numbers(MANIFOLD_KPA, 2, MOST_NODES, rising=True)] = (
        Field(
            default=None,
            description="Manifold pressures of a lambda table, instead of the three lambda_ keys.",
            examples=[[30, 60, 80, 100]],
        )
    )
    mixture_lambda: Annotated[tuple[float, ...] | None, Numbers(LAMBDA, 2, 40)] = Field(
        default=None, description="Lambda at each of mixture_kpa.", examples=[[0.95, 1.0, 1.0, 0.88]]
    )

    def conflicts(self) -> Iterator[Conflict]:
        """Check the octane numbers against one another and the mixture's two forms."""
        yield from self._contradicting_octane()
        if (self.mixture_kpa is None) != (self.mixture_lambda is None):
            given, lacking = (
                ("mixture_lambda", "mixture_kpa")
                if self.mixture_kpa is None
                else ("mixture_kpa", "mixture_lambda")
            )
            yield Conflict(lacking, f"must be given beside {given}", "one lambda for each pressure")
        if self.mixture_kpa is None or self.mixture_lambda is None:
            return
        if len(self.mixture_kpa) != len(self.mixture_lambda):
            yield Conflict(
                "mixture_lambda",
                f"must hold one lambda for each of the {len(self.mixture_kpa)} pressures",
                f"it holds {len(self.mixture_lambda)}",
            )
        for name in ("lambda_full", "lambda_cruise", "lambda_idle"):
            if getattr(self, name) is not None:
                yield Conflict(
                    name,
                    "must not stand beside mixture_lambda",
                    "state the mixture in one of the two ways",
                )

    def _contradicting_octane(self) -> Iterator[Conflict]:
        if self.ron is None and self.mon is None and self.aki is None:
            yield Conflict("ron", "must be given, or mon or aki", "read it at the pump")
        if self.ron is not None and self.mon is not None and self.ron < self.mon:
            yield Conflict("ron", f"must not be below mon ({self.mon:g})", "perhaps they are swapped")
        elif self.aki is not None and self.ron is not None and self.mon is not None:
            middle = (self.ron + self.mon) / 2
            if abs(self.aki - middle) > 0.6:
                yield Conflict(
                    "aki",
                    f"must be half the sum of ron and mon ({middle:g}), within 0.6",
                    "keep the ones that are known",
                )
        elif self.aki is not None and self.ron is not None and self.ron < self.aki:
            yield Conflict("ron", f"must not be below aki ({self.aki:g})", "perhaps they are swapped")
        elif self.aki is not None and self.mon is not None and self.mon > self.aki:
            yield Conflict("mon", f"must not be above aki ({self.aki:g})", "perhaps they are swapped")


class Site(Section):
    """The air where the engine works."""

    altitude_m: Annotated[
        float | None, Quantity("altitude", "m", -450, 5500, "roads lie between these heights")
    ] = Field(
        default=None,
        alias="altitude",
        description="Height above sea level. Give this or pressure; sea level is assumed for neither.",
        examples=["1450 m"],
    )
    pressure_kpa: Annotated[
        float | None,
        Quantity("pressure", "kPa", 50, 110, "this is the pressure at the site, not reduced to sea level"),
    ] = Field(
        default=None,
        alias="pressure",
        description="Air pressure at the site, absolute, not reduced to sea level; instead of altitude.",
        examples=["85 kPa"],
    )
    air_temperature_c: Annotated[float, Quantity("temperature", "degC", -50, 60, NO_SUCH_AIR)] = Field(
        default=25,
        alias="air_temperature",
        description="Temperature of the outside air. 25 degC is assumed.",
        examples=["25 degC"],
    )
    humidity_percent: Annotated[float, Number(0, 100, "it is relative humidity")] = Field(
        default=50, description="Relative humidity. 50 is assumed.", examples=[50]
    )

    def conflicts(self) -> Iterator[Conflict]:
        """Check that the pressure is stated in one way."""
        if self.altitude_m is not None and self.pressure_kpa is not None:
            yield Conflict(
                "pressure",
                "must not stand beside altitude",
                "keep one of the two",
            )


def stated_air_kpa(tables: Mapping[str, Any]) -> float:
    """Give the air pressure that a job's tables state for the site; at sea level where they can't be used.

    Examples
    --------
    >>> stated_air_kpa({"site": {"pressure": "850 hPa"}})
    85.0
    """
    try:
        site = Site.model_validate(tables.get("site", {}))
    except ValidationError:
        site = Site()
    return air_pressure_kpa(site.pressure_kpa, site.altitude_m)


class Distributor(Section):
    """Rotor, cap and how they stand."""

    rotation: Annotated[
        Rotation, Choice(get_args(Rotation), {"counterclockwise": 'write it "anticlockwise"'})
    ] = Field(
        description="Which way the rotor turns, seen from above with the cap off.", examples=["clockwise"]
    )
    advance: Annotated[AdvanceMechanism, Choice(get_args(AdvanceMechanism))] = Field(
        description="Whether the mechanical advance is locked, or still free to move.", examples=["locked"]
    )
    base_deg: Annotated[float, Number(-10, 45, NO_SUCH_ADVANCE)] = Field(
        description="Crank degrees before top dead centre at which the engine fires when the controller adds "
        "nothing.",
        examples=[10],
    )
    rotor_phase_deg: Annotated[float, Number(-45, 45, "a rotor is moved by less than a post pitch")] = Field(
        default=0,
        description="DISTRIBUTOR degrees that the middle of the tip stands ahead of the middle of the post, "
        "in the direction of rotation, when the engine fires at base. 0 is assumed: an unphased rotor.",
        examples=[0],
    )
    vacuum_advance: Annotated[VacuumAdvance | None, Choice(get_args(VacuumAdvance))] = Field(
        default=None,
        description='Whether the vacuum advance is disconnected, still connected, or there is "none".',
        examples=["disconnected"],
    )
    tip_radius_mm: Annotated[float | None, Quantity("length", "mm", 5, 80, NO_SUCH_CAP)] = Field(
        default=None,
        alias="tip_radius",
        description="From the shaft's axis to the end of the rotor tip; from cap_size when not measured.",
        examples=["29.2 mm"],
    )
    tip_width_mm: Annotated[float | None, Quantity("length", "mm", 0.5, 40, NO_SUCH_CAP)] = Field(
        default=None,
        alias="tip_width",
        description="Width of the rotor tip along its path; from cap_size when not measured.",
        examples=["6 mm"],
    )
    post_radius_mm: Annotated[float | None, Quantity("length", "mm", 5, 80, NO_SUCH_CAP)] = Field(
        default=None,
        alias="post_radius",
        description="From the shaft's axis to the inner face of a cap post; from cap_size when not measured.",
        examples=["30 mm"],
    )
    post_width_mm: Annotated[float | None, Quantity("length", "mm", 0.5, 40, NO_SUCH_CAP)] = Field(
        default=None,
        alias="post_width",
        description="Width of the inner face of a cap post; from cap_size when not measured.",
        examples=["2.5 mm"],
    )
    cap_size: Annotated[CapSize | None, Choice(get_args(CapSize))] = Field(
        default=None,
        description="Size class of the cap, for what was not measured; planning assumes one when not given.",
        examples=["medium"],
    )
    housing_diameter_mm: Annotated[float | None, Quantity("length", "mm", 20, 300, NO_SUCH_CAP)] = Field(
        default=None,
        alias="housing_diameter",
        description="Diameter of the body where it is turned; says a turn in mm at its rim.",
        examples=["72 mm"],
    )
    cap_air_temperature_c: Annotated[float, Quantity("temperature", "degC", -40, 150, NO_SUCH_AIR)] = Field(
        default=60,
        alias="cap_air_temperature",
        description="Air inside the warm cap. 60 degC is assumed: common practice, no source.",
        examples=["60 degC"],
    )
    cap_order: Annotated[tuple[int, ...] | None, Numbers(CYLINDER, 4, 8)] = Field(
        default=None,
        description="Cylinder at each post in the direction of rotation, where it is not the firing order.",
        examples=[[1, 5, 7, 2, 6, 3, 4, 8]],
    )
    rotor_screws_secured: Annotated[bool | None, YesNo()] = Field(
        default=None, description="Whether the screws of the rotor are secured.", examples=[True]
    )
    cap_vented: Annotated[bool | None, YesNo()] = Field(
        default=None, description="Whether the vents of the cap are open.", examples=[True]
    )

    def conflicts(self) -> Iterator[Conflict]:
        """Check that the rotor turns within the posts."""
        if (
            self.tip_radius_mm is not None
            and self.post_radius_mm is not None
            and self.tip_radius_mm >= self.post_radius_mm
        ):
            yield Conflict(
                "tip_radius",
                f"must be below post_radius ({self.say('post_radius_mm')})",
                "the rotor would strike the posts",
            )


class Pickup(Section):
    """What tells the controller where the engine stands."""

    kind: Annotated[PickupKind, Choice(get_args(PickupKind))] = Field(
        description="Two-wire (variable reluctance), hall, or points.", examples=["two-wire"]
    )
    polarity_checked: Annotated[bool | None, YesNo()] = Field(
        default=None, description="Whether the polarity of a two-wire pickup was proved.", examples=[True]
    )
    twisted_pair: Annotated[bool | None, YesNo()] = Field(
        default=None, description="Whether the pickup's wires are a twisted pair.", examples=[True]
    )
    away_from_plug_leads: Annotated[bool | None, YesNo()] = Field(
        default=None, description="Whether the pickup's wires run away from plug leads.", examples=[True]
    )


class Driver(Section):
    """What switches the coil."""

    kind: Annotated[DriverKind, Choice(get_args(DriverKind))] = Field(
        description="Inductive (charges the coil's field), or capacitive (discharges a capacitor into it).",
        examples=["inductive"],
    )
    controls_dwell: Annotated[bool, YesNo()] = Field(
        default=True,
        description="Whether the controller or driver sets the dwell. true is assumed.",
        examples=[True],
    )
    ballast_ohm: Annotated[
        float, Quantity("resistance", "ohm", 0, 10, "a larger ballast would starve the coil")
    ] = Field(
        default=0,
        alias="ballast",
        description="Ballast in series with the coil, resistor or resistance wire. None (0 ohm) is assumed.",
        examples=["0 ohm"],
    )
    drop_v: Annotated[float | None, Quantity("voltage", "V", 0, 5, NO_SUCH_COIL)] = Field(
        default=None,
        alias="drop",
        description="Voltage left across the driver when it is on; planning assumes one when not given.",
        examples=["1.2 V"],
    )
    current_limit_a: Annotated[float | None, Quantity("current", "A", 0.5, 50, NO_SUCH_COIL)] = Field(
        default=None,
        alias="current_limit",
        description="Current at which the driver limits; no limit when not given.",
        examples=["9 A"],
    )
    max_mean_power_w: Annotated[float | None, Quantity("power", "W", 1, 500, NO_SUCH_COIL)] = Field(
        default=None,
        alias="max_mean_power",
        description="Heat that the driver may shed for long; not judged when not given.",
        examples=["30 W"],
    )
    energy_mj: Annotated[float | None, Quantity("energy", "mJ", 1, 2000, NO_SUCH_COIL)] = Field(
        default=None,
        alias="energy",
        description="Energy of one discharge. Capacitive: two of energy, primary_voltage, capacitance.",
        examples=["90 mJ"],
    )
    primary_v: Annotated[float | None, Quantity("voltage", "V", 50, 1000, NO_SUCH_COIL)] = Field(
        default=None,
        alias="primary_voltage",
        description="Voltage put on the coil's primary. Capacitive only.",
        examples=["415 V"],
    )
    capacitance_uf: Annotated[float | None, Quantity("capacitance", "uF", 0.05, 20, NO_SUCH_COIL)] = Field(
        default=None,
        alias="capacitance",
        description="Capacitor that is discharged. Capacitive only.",
        examples=["1.05 uF"],
    )
    other_leads_on_coil: Annotated[bool | None, YesNo()] = Field(
        default=None,
        description="Whether anything but the driver's output is on the coil's terminals. Capacitive only.",
        examples=[False],
    )
    cranking_sparks: Annotated[int, Number(1, 20, "more sparks would outlast the stroke", whole=True)] = (
        Field(default=1, description="Sparks for each firing while cranking. 1 is assumed.", examples=[1])
    )
    spark_spacing_ms: Annotated[
        float | None, Quantity("time", "ms", 0.2, 20, "sparks follow one another by about a millisecond")
    ] = Field(
        default=None,
        alias="spark_spacing",
        description="Time from one of those sparks to the next; planning assumes one when not given.",
        examples=["1 ms"],
    )

    def conflicts(self) -> Iterator[Conflict]:
        """Check that each kind of driver has its own values and no others."""
        theirs = ("energy_mj", "primary_v", "capacitance_uf")
        given = [name for name in theirs if getattr(self, name) is not None]
        misplaced = given if self.kind == "inductive" else []
        if self.kind == "capacitive":
            misplaced = [name for name in ("drop_v", "current_limit_a") if getattr(self, name) is not None]
            yield from self._capacitive_energy(given)
        owner = "capacitive" if self.kind == "inductive" else "inductive"
        for name in misplaced:
            yield Conflict(
                self.key(name),
                f'must stand only where kind = "{owner}"',
                "take it out or change kind",
            )

    def _capacitive_energy(self, given: Sequence[str]) -> Iterator[Conflict]:
        if len(given) < 2:
            yield Conflict(
                "energy",
                "must stand with one more of energy, primary_voltage, capacitance",
                "two of the three give the third",
            )
        if self.energy_mj is not None and self.primary_v is not None and self.capacitance_uf is not None:
            stored_mj = 0.5 * self.capacitance_uf * self.primary_v**2 / 1000
            if abs(stored_mj - self.energy_mj) > 0.1 * stored_mj:
                yield Conflict(
                    "energy",
                    f"must be the {stored_mj:.0f} mJ of primary_voltage and capacitance, within 10 percent",
                    "keep the two that are known",
                )


class Coil(Section):
    """The ignition coil."""

    primary_ohm: Annotated[
        float,
        Quantity(
            "resistance", "ohm", 0.05, 10, "a shorted primary has no charging curve, an open one no current"
        ),
    ] = Field(
        alias="primary_resistance", description="Resistance of the primary at 20 degC.", examples=["0.7 ohm"]
    )
    primary_mh: Annotated[float, Quantity("inductance", "mH", 0.1, 50, NO_SUCH_COIL)] = Field(
        alias="primary_inductance", description="Inductance of the primary, unsaturated.", examples=["4 mH"]
    )
    turns_ratio: Annotated[float, Number(10, 300, NO_SUCH_COIL)] = Field(
        description="Secondary turns for each primary turn.", examples=[85]
    )
    secondary_kohm: Annotated[float | None, Quantity("resistance", "kohm", 0.2, 100, NO_SUCH_COIL)] = Field(
        default=None,
        alias="secondary_resistance",
        description="Resistance of the secondary; planning assumes one when not given.",
        examples=["9 kohm"],
    )
    secondary_pf: Annotated[float, Quantity("capacitance", "pF", 10, 500, NO_SUCH_COIL)] = Field(
        default=80,
        alias="secondary_capacitance",
        description="Capacitance of secondary, lead and plug. 80 pF is assumed: common practice, no source.",
        examples=["80 pF"],
    )
    saturation_a: Annotated[float | None, Quantity("current", "A", 0.5, 60, NO_SUCH_COIL)] = Field(
        default=None,
        alias="saturation",
        description="Current at which the core saturates; not modelled when not given.",
        examples=["8 A"],
    )
    energy_wanted_mj: Annotated[float | None, Quantity("energy", "mJ", 1, 500, NO_SUCH_COIL)] = Field(
        default=None,
        alias="energy_wanted",
        description="Energy wanted in the coil at each spark; planning assumes one when not given.",
        examples=["60 mJ"],
    )
    warm_c: Annotated[float, Quantity("temperature", "degC", -20, 180, NO_SUCH_COIL)] = Field(
        default=80,
        alias="warm",
        description="Temperature of the warm winding. 80 degC is assumed: common practice, no source.",
        examples=["80 degC"],
    )
    max_mean_power_w: Annotated[float | None, Quantity("power", "W", 1, 500, NO_SUCH_COIL)] = Field(
        default=None,
        alias="max_mean_power",
        description="Heat that the coil may shed for long; not judged when not given.",
        examples=["40 W"],
    )


class Plugs(Section):
    """Plugs and their leads."""

    gap_mm: Annotated[float, Quantity("length", "mm", 0.2, 3, "outside this lies no plug's gap")] = Field(
        alias="gap", description="Gap of the plugs.", examples=["0.035 in"]
    )
    leads_adjacent: Annotated[tuple[tuple[int, int], ...] | None, Pairs()] = Field(
        default=None,
        description="Pairs of cylinders whose plug leads run side by side for long; [] when none do.",
        examples=[[[3, 4]]],
    )


class Battery(Section):
    """The voltage there is."""

    running_v: Annotated[float, Quantity("voltage", "V", 5, 30, NO_SUCH_BATTERY)] = Field(
        default=13.8,
        alias="running",
        description="Voltage with the engine running. 13.8 V is assumed: common practice, no source.",
        examples=["13.8 V"],
    )
    cranking_v: Annotated[float, Quantity("voltage", "V", 3, 28, NO_SUCH_BATTERY)] = Field(
        default=9.5,
        alias="cranking",
        description="Voltage on the starter. 9.5 V is assumed: common practice, no source.",
        examples=["9.5 V"],
    )

    def conflicts(self) -> Iterator[Conflict]:
        """Check that the starter pulls the voltage down and not up."""
        if self.cranking_v > self.running_v:
            yield Conflict(
                "cranking",
                "must not be above running",
                "perhaps they are swapped",
            )


class Controller(Section):
    """What the controller can hold."""

    step_deg: Annotated[float, Number(0.05, 5, "cells are rounded to this step")] = Field(
        default=0.5, description="Step that the controller rounds a cell to. 0.5 is assumed.", examples=[0.5]
    )
    rpm: Annotated[tuple[float, ...] | None, Numbers(ENGINE_RPM, 2, MOST_NODES, rising=True)] = Field(
        default=None,
        description="Speeds of the map's columns; 16 are chosen when not given.",
        examples=[[600, 1000, 1500, 2000, 3000, 4000, 5000]],
    )
    kpa: Annotated[tuple[float, ...] | None, Numbers(MANIFOLD_KPA, 2, MOST_NODES, rising=True)] = Field(
        default=None,
        description="Absolute manifold pressures of the map's rows; 16 are chosen when not given.",
        examples=[[25, 40, 55, 70, 85]],
    )
    min_deg: Annotated[float, Number(-20, 40, NO_SUCH_ADVANCE)] = Field(
        default=0, description="Least advance that the controller takes. 0 is assumed.", examples=[0]
    )
    max_deg: Annotated[float, Number(5, 90, NO_SUCH_ADVANCE)] = Field(
        default=60, description="Most advance that the controller takes. 60 is assumed.", examples=[60]
    )

    def conflicts(self) -> Iterator[Conflict]:
        """Check that there is something between least and most."""
        if self.min_deg >= self.max_deg:
            yield Conflict("min_deg", f"must be below max_deg ({self.max_deg:g})", "check both")


class Limits(Section):
    """What the person at the engine allows."""

    knock_margin_deg: Annotated[float, Number(0, 20, "a margin is a few degrees")] = Field(
        default=0,
        description="Degrees kept below the knock ceiling on top of the chance that it is set by. 0 is "
        "assumed: the chance has its own margin.",
        examples=[2],
    )
    knock_chance_percent: Annotated[float, Number(0.1, 50, "50 is the knock limit itself")] = Field(
        default=10,
        description="Chance of knock that a cell up to the site's pressure may have, given all that isn't "
        "known exactly. 10 is assumed: a light knock is heard there before it harms.",
        examples=[10],
    )
    boost_knock_chance_percent: Annotated[float, Number(0.1, 50, "50 is the knock limit itself")] = Field(
        default=2,
        description="The same above the site's pressure. 2 is assumed: under boost the first knock can break "
        "a piston.",
        examples=[2],
    )
    idle_reserve_deg: Annotated[float, Number(0, 20, "a reserve is a few degrees")] = Field(
        default=6,
        description="Degrees kept below best at idle, so that timing can steady it. 6 is assumed: common "
        "practice, no source.",
        examples=[6],
    )
    slope_deg_per_500rpm: Annotated[float, Number(0.5, 60, "a map steeper than this has no use")] = Field(
        default=12, description="Most change of advance over 500 rpm. 12 is assumed.", examples=[12]
    )
    slope_deg_per_10kpa: Annotated[float, Number(0.5, 60, "a map steeper than this has no use")] = Field(
        default=8, description="Most change of advance over 10 kPa. 8 is assumed.", examples=[8]
    )
    max_advance_deg: Annotated[float | None, Number(0, 80, NO_SUCH_ADVANCE)] = Field(
        default=None, description="Most advance that the person allows anywhere.", examples=[40]
    )
    highest_rpm: Annotated[float | None, Number(1000, 12000, NO_SUCH_SPEED)] = Field(
        default=None,
        description="Highest speed the plan is for; engine.redline_rpm when not given.",
        examples=[5000],
    )


class TimingLight(Section):
    """The timing light, and what is known of the mark that it is read by."""

    kind: Annotated[LightKind | None, Choice(get_args(LightKind))] = Field(
        default=None,
        description="plain: read against marks or a tape. dial-back: turned until the mark stands at zero.",
        examples=["plain"],
    )
    resolution_deg: Annotated[
        float | None, Number(0.05, 10, "it is the step of the dial or of the marks")
    ] = Field(
        default=None, description="Step of its dial, or of the marks read, crank degrees.", examples=[1]
    )
    mark_proved: Annotated[bool | None, YesNo()] = Field(
        default=None,
        description="Whether the mark of top dead centre was proved at the piston.",
        examples=[True],
    )
    mark_error_deg: Annotated[float | None, Number(-40, 40, "a mark that far off has to be made anew")] = (
        Field(
            default=None,
            description="What the mark shows at true top dead centre, crank degrees, before positive; 0 "
            "once it is set right.",
            examples=[-2],
        )
    )
    timing_spread_deg: Annotated[float | None, Number(0.1, 5, "more than that is a fault to be mended")] = (
        Field(
            default=None,
            description="What the light check found base, mark and scatter of the spark to be known to, one "
            "standard deviation, crank degrees. Until it is measured 2 is taken, 1 with the mark proved.",
            examples=[0.5],
        )
    )
    delay_set_us: Annotated[float | None, Number(-2000, 2000, "a pickup's delay is some tens of them")] = (
        Field(
            default=None,
            description="Delay that the controller is set to make up for, microseconds.",
            examples=[0],
        )
    )


class Peg(Section):
    """A timing value that a person insists on at a speed and load, with a reason."""

    rpm: Annotated[float, Number(100, 12000, NO_SUCH_SPEED)] = Field(
        description="Speed of the peg.", examples=[3000]
    )
    kpa: Annotated[float, MANIFOLD_KPA] = Field(
        description="Absolute manifold pressure of the peg.", examples=[45]
    )
    advance_deg: Annotated[float, Number(-20, 80, NO_SUCH_ADVANCE)] = Field(
        description="Advance insisted on, crank degrees before top dead centre.", examples=[36]
    )
    reason: Annotated[str, Text(200)] = Field(
        description="Why; whoever reads the card has to know.", examples=["surged above this on the road"]
    )


class HandCell(Section):
    """An exact value that a person has put in one cell of the map, whatever the plan would give."""

    rpm: Annotated[float, ENGINE_RPM] = Field(
        description="Speed of the cell, one of the map's.", examples=[3000]
    )
    kpa: Annotated[float, MANIFOLD_KPA] = Field(
        description="Absolute manifold pressure of the cell, one of the map's.", examples=[45]
    )
    advance_deg: Annotated[float, Number(-20, 90, NO_SUCH_ADVANCE)] = Field(
        description="Value of the cell, crank degrees before top dead centre, a multiple of the controller's "
        "step.",
        examples=[36],
    )
    reason: Annotated[str | None, Text(200)] = Field(
        default=None,
        description="Why; one that stands over a ceiling needs it, for whoever reads the card.",
        examples=["no knock heard here with the test fuel"],
    )
    by: Annotated[str | None, Text()] = Field(
        default=None, description="Who set it.", examples=["A. Example"]
    )
    on: Annotated[str | None, Moment()] = Field(
        default=None, description="When it was set.", examples=["2030-05-01T14:30"]
    )


VACUUM_KPA = Quantity("pressure", "kPa", 0, 100, "vacuum is the pressure below that of the site")
CURVE_DEG = Number(0, 60, NO_SUCH_ADVANCE)


class OldCurve(Section):
    """The mechanical and vacuum advance that the engine had, for comparison."""

    initial_deg: Annotated[float, Number(-20, 40, NO_SUCH_ADVANCE)] = Field(
        description="Advance the old distributor was set to, crank degrees.", examples=[6]
    )
    mechanical: Annotated[
        tuple[tuple[float, float], ...],
        Points(Number(0, 12000, NO_SUCH_SPEED), CURVE_DEG, "engine rpm, crank degrees", least=1),
    ] = Field(
        description="Mechanical advance above initial: pairs of engine rpm and crank degrees, speeds rising.",
        examples=[[[700, 0], [1800, 14], [3200, 24]]],
    )
    vacuum: Annotated[
        tuple[tuple[float, float], ...] | None,
        Points(VACUUM_KPA, CURVE_DEG, "vacuum with its unit, crank degrees", least=1),
    ] = Field(
        default=None,
        description="Vacuum advance: pairs of vacuum with its unit and crank degrees, vacuum rising.",
        examples=[[["5 inHg", 0], ["12 inHg", 14]]],
    )


class Shop(Section):
    """Who did the work."""

    name: Annotated[str | None, Text()] = Field(
        default=None, description="Name of the shop.", examples=["Example workshop"]
    )
    person: Annotated[str | None, Text()] = Field(
        default=None, description="Who answers for the work.", examples=["A. Example"]
    )
    phone: Annotated[str | None, Text()] = Field(
        default=None, description="How to call.", examples=["000 000"]
    )


class Customer(Section):
    """Whose engine it is."""

    name: Annotated[str | None, Text()] = Field(
        default=None, description="Name of the customer.", examples=["Example brigade"]
    )
    vehicle: Annotated[str | None, Text()] = Field(
        default=None, description="What the engine drives.", examples=["Fire engine with a pump"]
    )
    plate: Annotated[str | None, Text()] = Field(
        default=None, description="Its plate or number.", examples=["EXAMPLE 1"]
    )


@dataclass(frozen=True)
class Assumption:
    """One value that the file doesn't state and that a default stands in for."""

    section: str
    key: str
    value: str
    why: str

    def __str__(self) -> str:
        """Say it: `battery.running = 13.8 V`."""
        return f"{self.section}.{self.key} = {self.value}"


class Job(Section):
    """One engine in one vehicle: everything written down about it, and nothing computed.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> job = Job.from_toml(starter_text())
    >>> job.engine.bore_mm, job.stated("engine", "bore_mm"), job.stated("battery", "running_v")
    (99.5934, True, False)
    >>> Job.from_toml(job.to_toml()) == job
    True
    """

    name: Annotated[str, Text()] = Field(description="What to call this job.", examples=["My engine"])
    invented: Annotated[bool, YesNo()] = Field(
        default=False,
        description="Whether the engine is made up, as in an example. false is assumed.",
        examples=[False],
    )
    note: Annotated[str | None, Text(2000, lines=True)] = Field(
        default=None, description="Anything else worth keeping.", examples=["Cam card lost; events measured."]
    )
    engine: Engine = Field(description="The engine itself.")
    cam: Cam = Field(
        description="The camshaft: durations with lobe separation and centreline or advance, or the four "
        "events; always with the lift at which they are counted."
    )
    induction: Induction = Field(description="How air comes in.")
    fuel: Fuel = Field(description="What the engine burns.")
    site: Site = Field(default_factory=Site, description="The air where the engine works.")
    distributor: Distributor = Field(description="Rotor, cap and how they stand.")
    pickup: Pickup = Field(description="What tells the controller where the engine stands.")
    driver: Driver = Field(description="What switches the coil.")
    coil: Coil = Field(description="The ignition coil.")
    plugs: Plugs = Field(description="Plugs and their leads.")
    battery: Battery = Field(default_factory=Battery, description="The voltage there is.")
    controller: Controller = Field(default_factory=Controller, description="What the controller can hold.")
    limits: Limits = Field(default_factory=Limits, description="What the person at the engine allows.")
    light: TimingLight = Field(
        default_factory=TimingLight, description="The timing light, and the mark it is read by."
    )
    pegs: tuple[Peg, ...] = Field(
        default=(), max_length=100, description="Timing values that a person insists on, each with a reason."
    )
    hand: tuple[HandCell, ...] = Field(
        default=(),
        max_length=MOST_CELLS,
        description="Cells of the map that a person has set to an exact value. A peg is a ceiling; this is "
        "the value itself, also over a ceiling, where it stays marked.",
    )
    old_curve: OldCurve | None = Field(
        default=None, description="The mechanical and vacuum advance that the engine had, for comparison."
    )
    shop: Shop | None = Field(default=None, description="Who did the work.")
    customer: Customer | None = Field(default=None, description="Whose engine it is.")

    @classmethod
    def load(cls, path: str | Path) -> Self:
        """Read a job file.

        Parameters
        ----------
        path : str or Path
            The TOML file.

        Raises
        ------
        Refusal
            With one problem for each thing that keeps the file from being used.
        """
        path = Path(path)
        return cls._from_tables(toml.tables(toml.read_text(path), path.name))

    @classmethod
    def from_toml(cls, text: str, name: str = "the job", *, kept: bool = False) -> Self:
        """Read a job from TOML text; `name` is what to call the text where it can't be read at all.

        One that was `kept` before is read with its questions open.

        Raises
        ------
        Refusal
            With one problem for each thing that keeps the text from being used.
        """
        return cls._from_tables(toml.tables(text, name), kept=kept)

    @classmethod
    def from_facts(cls, facts: dict[str, Any], *, kept: bool = False) -> Self:
        """Read a job from plain tables, as `facts` gives them and a job file holds them.

        One that was `kept` before is read with its questions open.

        Examples
        --------
        >>> from sparkwright.job import starter_text
        >>> job = Job.from_toml(starter_text())
        >>> Job.from_facts(job.facts()) == job
        True

        Raises
        ------
        Refusal
            With one problem for each thing that keeps them from being used.
        """
        return cls._from_tables(facts, kept=kept)

    @classmethod
    def _from_tables(cls, tables: dict[str, Any], *, kept: bool = False) -> Self:
        try:
            context = {SITE_AIR: lambda: stated_air_kpa(tables), KEPT: kept}
            return cls.model_validate(tables, context=context)
        except ValidationError as refusal:
            raise Refusal(problems_of(refusal, cls)) from refusal

    def to_toml(self) -> str:
        """Write a file from nothing, in the units kept inside; reading it gives an equal job.

        Where there is a text already, `JobText` changes that one and keeps it as it was typed.
        """
        return toml.dump(self.facts(), one_a_line=ONE_A_LINE)

    def changed(self, section: str, **values: Any) -> Self:
        """Give a checked copy with values of one section replaced.

        Values are written as in the file; None takes one out.

        Examples
        --------
        >>> from sparkwright.job import starter_text
        >>> job = Job.from_toml(starter_text())
        >>> job.changed("engine", bore="100 mm").engine.bore_mm
        100.0

        Raises
        ------
        Refusal
            As from a file.
        """
        facts = self.facts()
        merged = {**facts.get(section, {}), **values}
        facts[section] = {key: value for key, value in merged.items() if value is not None}
        return self._from_tables(facts, kept=bool(self.open_questions()))

    def open_questions(self) -> tuple[Problem, ...]:
        """Give each thing that a job kept before leaves open, and that is refused today."""
        return tuple(
            Problem(f"{name}.{asked.place}", asked.given(section.facts()), asked.must, asked.do)
            for name in type(self).model_fields
            if isinstance(section := getattr(self, name), Section)
            for asked in section.questions()
        )

    def with_hand(self, cells: Iterable[dict[str, Any]]) -> Self:
        """Give a checked copy whose cells set by hand are these, written as in the file.

        Examples
        --------
        >>> from sparkwright.job import starter_text
        >>> job = Job.from_toml(starter_text())
        >>> job.with_hand([{"rpm": 3000, "kpa": 45, "advance_deg": 36}]).hand[0].advance_deg
        36.0

        Raises
        ------
        Refusal
            As from a file.
        """
        facts = self.facts() | {"hand": list(cells)}
        if not facts["hand"]:
            del facts["hand"]
        return self._from_tables(facts, kept=bool(self.open_questions()))

    def without_hand(self) -> Self:
        """Give the job without its cells set by hand: what a plan is made from before they are put in."""
        if not self.hand:
            return self
        stated = {name: getattr(self, name) for name in self.model_fields_set if name != "hand"}
        return type(self).model_construct(_fields_set=set(stated), **stated)

    @property
    def fingerprint(self) -> str:
        """The SHA-256 of everything stated, in hexadecimal; show the first 12 characters.

        The same facts in other units, order or comments have the same fingerprint.
        """
        canonical = json.dumps(self.facts(), sort_keys=True, ensure_ascii=True, separators=(",", ":"))
        return hashlib.sha256(canonical.encode()).hexdigest()

    def stated(self, section: str, attribute: str) -> bool:
        """Whether the file states an attribute of a section, rather than a default standing in."""
        part = getattr(self, section)
        return isinstance(part, Section) and attribute in part.model_fields_set

    def assumptions(self) -> list[Assumption]:
        """Give every value that a default stands in for.

        What is None and derived later from other facts is not here; whoever derives it reports it.
        """
        return [
            Assumption(section, part.key(attribute), part.say(attribute), info.description or "")
            for section in type(self).model_fields
            if isinstance(part := getattr(self, section), Section)
            for attribute, info in type(part).model_fields.items()
            if attribute not in part.model_fields_set and getattr(part, attribute) is not None
        ]

    def conflicts(self) -> Iterator[Conflict]:
        """Check sections against one another."""
        cylinders = self.engine.cylinders
        if self.distributor.cap_order is not None:
            yield from _not_each_cylinder_once("distributor.cap_order", self.distributor.cap_order, cylinders)
        for pair in self.plugs.leads_adjacent or ():
            if max(pair) > cylinders:
                yield Conflict(
                    "plugs.leads_adjacent",
                    f"must hold only cylinders 1 to {cylinders}",
                    "check engine.cylinders",
                )
        yield from self._wider_than_pitch("post")
        yield from self._wider_than_pitch("tip")
        for name in ("intake_valve_mm", "exhaust_valve_mm"):
            valve_mm = getattr(self.cam, name)
            if valve_mm is not None and valve_mm >= self.engine.bore_mm:
                yield Conflict(
                    f"cam.{self.cam.key(name)}",
                    f"must be less than the bore ({self.engine.bore_mm:g} mm)",
                    "give the diameter of one valve head",
                )
        yield from self._pegs_out_of_bounds()
        yield from self._hand_cells_that_no_controller_takes()

    def _wider_than_pitch(self, part: str) -> Iterator[Conflict]:
        """Refuse posts that would touch, or a tip that would bridge two."""
        width_mm = getattr(self.distributor, f"{part}_width_mm")
        radius_mm = getattr(self.distributor, f"{part}_radius_mm")
        if width_mm is None or radius_mm is None:
            return
        pitch_mm = 2 * radius_mm * sin(pi / self.engine.cylinders)
        if width_mm >= pitch_mm:
            yield Conflict(
                f"distributor.{part}_width",
                f"must be less than the pitch of the posts at that radius ({pitch_mm:.1f} mm)",
                "measure the width again",
            )

    def _pegs_out_of_bounds(self) -> Iterator[Conflict]:
        least, most = self.controller.min_deg, self.controller.max_deg
        if self.limits.max_advance_deg is not None:
            most = min(most, self.limits.max_advance_deg)
        for number, peg in enumerate(self.pegs):
            if not least <= peg.advance_deg <= most:
                yield Conflict(
                    f"pegs.{number}.advance_deg",
                    f"must be {least:g} to {most:g}, what controller and limits allow",
                    "change the peg or the limit",
                )

    def _hand_cells_that_no_controller_takes(self) -> Iterator[Conflict]:
        """Refuse cells set twice, out of the controller's bounds, or between two of its steps."""
        controller = self.controller
        seen: set[tuple[float, float]] = set()
        for number, cell in enumerate(self.hand):
            if (cell.rpm, cell.kpa) in seen:
                yield Conflict(
                    f"hand.{number}",
                    f"must be the only one for {cell.rpm:g} rpm and {cell.kpa:g} kPa",
                    "take one of them out",
                )
            seen.add((cell.rpm, cell.kpa))
            if not controller.min_deg <= cell.advance_deg <= controller.max_deg:
                yield Conflict(
                    f"hand.{number}.advance_deg",
                    f"must be {controller.min_deg:g} to {controller.max_deg:g}, what the controller takes",
                    "change the value or the controller's limit",
                )
                continue
            steps = cell.advance_deg / controller.step_deg
            if abs(steps - round(steps)) * controller.step_deg > 1e-6:
                yield Conflict(
                    f"hand.{number}.advance_deg",
                    f"must be a multiple of the controller's step ({controller.step_deg:g})",
                    f"the nearest is {round(round(steps) * controller.step_deg, 6):g}",
                )
