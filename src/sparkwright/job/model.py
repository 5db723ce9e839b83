"""The job: what a shop writes down about one engine, checked, with nothing computed.

The names of the attributes carry the unit that the value is kept in. The keys of the file don't: there the
unit stands beside the number, `bore = "3.921 in"`. Keys that end in _rpm, _deg, _kpa, _percent or _ratio, and
values without dimension, are plain numbers.
"""

import hashlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import pi, sin
from pathlib import Path
from typing import Annotated, Any, Self

from pydantic import Field, ValidationError

from sparkwright.errors import Key, Problem, Refusal, phrase
from sparkwright.job import toml
from sparkwright.job.field_kind import SITE_AIR, Choice, FieldKind, Text, YesNo
from sparkwright.job.problems import Conflict, problems_of
from sparkwright.job.sections.battery import Battery
from sparkwright.job.sections.bounds import MOST_CELLS
from sparkwright.job.sections.cam import Cam
from sparkwright.job.sections.coil import Coil
from sparkwright.job.sections.conditions import Conditions
from sparkwright.job.sections.controller import Controller
from sparkwright.job.sections.customer import Customer
from sparkwright.job.sections.distributor import Distributor
from sparkwright.job.sections.driver import Driver
from sparkwright.job.sections.engine import Engine, not_each_cylinder_once
from sparkwright.job.sections.fuel import Fuel
from sparkwright.job.sections.hand import HandCell
from sparkwright.job.sections.induction import Induction
from sparkwright.job.sections.light import TimingLight
from sparkwright.job.sections.limits import Limits
from sparkwright.job.sections.old_curve import OldCurve
from sparkwright.job.sections.pegs import Peg
from sparkwright.job.sections.pickup import Pickup
from sparkwright.job.sections.plugs import Plugs
from sparkwright.job.sections.section import KEPT, Section, field_kind_of
from sparkwright.job.sections.shop import Shop
from sparkwright.job.sections.site import Site, stated_air_kpa
from sparkwright.job.sections.vehicle import Vehicle
from sparkwright.job.tag import Heading, Tag
from sparkwright.units import show_both

ONE_A_LINE = ("hand",)
"""Lists of tables that are written with one table a line; the others get a section for each."""


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

    name: Annotated[str, Text(), Tag("Name of the job", hint="As the shop will look for it.")] = Field(
        description="What to call this job.", examples=["My engine"]
    )
    invented: Annotated[bool, YesNo(), Tag("Invented engine, an example")] = Field(
        default=False,
        description="Whether the engine is made up, as in an example. false is assumed.",
        examples=[False],
    )
    note: Annotated[str | None, Text(2000, lines=True)] = Field(
        default=None, description="Anything else worth keeping.", examples=["Cam card lost; events measured."]
    )
    engine: Annotated[Engine, Heading("Engine")] = Field(description="The engine itself.")
    cam: Annotated[Cam, Heading("Camshaft", about=True)] = Field(
        description="The camshaft: durations with lobe separation and centreline or advance, or the four "
        "events; always with the lift at which they are counted."
    )
    induction: Annotated[Induction, Heading("Induction")] = Field(description="How air comes in.")
    fuel: Annotated[Fuel, Heading("Fuel and mixture")] = Field(description="What the engine burns.")
    site: Annotated[Site, Heading("Air at the site")] = Field(
        default_factory=Site, description="The air where the engine works."
    )
    distributor: Annotated[Distributor, Heading("Distributor, rotor and cap", page="ignition")] = Field(
        description="Rotor, cap and how they stand."
    )
    pickup: Annotated[Pickup, Heading("Pickup", page="ignition")] = Field(
        description="What tells the controller where the engine stands."
    )
    driver: Annotated[Driver, Heading("Driver", page="ignition")] = Field(
        description="What switches the coil."
    )
    coil: Annotated[Coil, Heading("Coil", page="ignition")] = Field(
        default_factory=Coil, description="The ignition coil."
    )
    plugs: Annotated[Plugs, Heading("Plugs and leads", page="ignition")] = Field(
        default_factory=Plugs, description="Plugs and their leads."
    )
    battery: Annotated[Battery, Heading("Battery", page="ignition")] = Field(
        default_factory=Battery, description="The voltage there is."
    )
    controller: Annotated[Controller, Heading("Controller")] = Field(
        default_factory=Controller, description="What the controller can hold."
    )
    limits: Annotated[Limits, Heading("Limits", about=True)] = Field(
        default_factory=Limits, description="What the person at the engine allows."
    )
    conditions: Annotated[
        Conditions | None, Heading("Days, heights and fuels it must hold for", about=True)
    ] = Field(
        default=None,
        description="Between what conditions the map must hold, and which trims the controller has for them.",
    )
    light: Annotated[TimingLight, Heading("Timing light")] = Field(
        default_factory=TimingLight, description="The timing light, and the mark it is read by."
    )
    pegs: Annotated[tuple[Peg, ...], Heading("Pegs", about=True)] = Field(
        default=(), max_length=100, description="Timing values that a person insists on, each with a reason."
    )
    hand: tuple[HandCell, ...] = Field(
        default=(),
        max_length=MOST_CELLS,
        description="Cells of the map that a person has set to an exact value. A peg is a ceiling; this is "
        "the value itself, also over a ceiling, where it stays marked.",
    )
    old_curve: Annotated[OldCurve | None, Heading("Old mechanical and vacuum curve", about=True)] = Field(
        default=None, description="The mechanical and vacuum advance that the engine had, for comparison."
    )
    vehicle: Annotated[Vehicle, Heading("Vehicle", about=True)] = Field(
        default_factory=Vehicle,
        description="What the engine drives on the road; accelerations of a drive are read with it.",
    )
    shop: Annotated[Shop | None, Heading("Shop")] = Field(default=None, description="Who did the work.")
    customer: Annotated[Customer | None, Heading("Customer")] = Field(
        default=None, description="Whose engine it is."
    )

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

        Parameters
        ----------
        text : str
            Text of a job file.
        name : str, optional
            What a refusal calls the text where it can't be read at all.
        kept : bool, optional
            Whether it was taken before; its open questions then don't refuse it.

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

        Parameters
        ----------
        facts : dict
            Values by key, one table for each section.
        kept : bool, optional
            Whether they were taken before; their open questions then don't refuse them.

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

        Parameters
        ----------
        section : str
            Section of the job, such as "engine".

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

        Parameters
        ----------
        cells : iterable of dict
            A table for each cell: "rpm", "kpa", "advance_deg" and perhaps "why".

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
        """Whether the file states an attribute of a section, rather than a default standing in.

        Parameters
        ----------
        section : str
            Section of the job, such as "engine".
        attribute : str
            Attribute of its model, such as "bore_mm".
        """
        part = getattr(self, section)
        return isinstance(part, Section) and attribute in part.model_fields_set

    def assumptions(self) -> list[Assumption]:
        """Give every value that a default stands in for.

        What is None and derived later from other facts is not here; whoever derives it reports it. Nor is a
        key that takes one answer only: it says what the program doesn't do, and stands in for nothing.
        """
        return [
            Assumption(section, part.key(attribute), part.say(attribute), info.description or "")
            for section in type(self).model_fields
            if isinstance(part := getattr(self, section), Section)
            for attribute, info in type(part).model_fields.items()
            if attribute not in part.model_fields_set and getattr(part, attribute) is not None
            if not _one_answer(field_kind_of(info))
        ]

    def conflicts(self) -> Iterator[Conflict]:
        """Check sections against one another."""
        cylinders = self.engine.cylinders
        if self.distributor.cap_order is not None:
            yield from not_each_cylinder_once("distributor.cap_order", self.distributor.cap_order, cylinders)
        for pair in self.plugs.leads_adjacent or ():
            if max(pair) > cylinders:
                yield Conflict(
                    "plugs.leads_adjacent",
                    f"must hold only cylinders 1 to {cylinders}",
                    phrase("check ", Key("engine.cylinders")),
                )
        yield from self._wider_than_pitch("post")
        yield from self._wider_than_pitch("tip")
        for name in ("intake_valve_mm", "exhaust_valve_mm"):
            valve_mm = getattr(self.cam, name)
            if valve_mm is not None and valve_mm >= self.engine.bore_mm:
                yield Conflict(
                    f"cam.{self.cam.key(name)}",
                    f"must be less than the bore, {show_both(self.engine.bore_mm, 'length')}",
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
                "must be less than the pitch of the posts at that radius, "
                + show_both(pitch_mm, "length", ".1f"),
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


def _one_answer(kind: FieldKind | None) -> bool:
    return isinstance(kind, Choice) and len(kind.options) == 1
