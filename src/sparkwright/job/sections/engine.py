"""The engine itself: its cylinders and how they fire, its chamber, its speeds."""

from collections.abc import Iterator, Sequence
from typing import Annotated, Literal, get_args

from pydantic import Field

from sparkwright.cycle.shapes import SHAPES, Shape
from sparkwright.errors import Key, Phrase, Stated, phrase
from sparkwright.ignition.crank import (
    BankNumbering,
    Contradiction,
    contradiction,
    numbering_of,
    ways_that_fit,
)
from sparkwright.job.described import described
from sparkwright.job.field_kind import Choice, Number, Quantity
from sparkwright.job.list_kinds import Numbers
from sparkwright.job.problems import Conflict
from sparkwright.job.sections.bounds import CYLINDER, NO_SUCH_ENGINE, NO_SUCH_PRESSURE, NO_SUCH_SPEED
from sparkwright.job.sections.section import Section
from sparkwright.job.tag import Tag
from sparkwright.units import show_both

Layout = Literal["inline", "v", "flat"]
Head = Literal["iron", "aluminium"]
Piston = Literal["dished", "flat", "domed"]
Use = Literal["road", "stationary", "competition"]

PISTON_RATIO: dict[Piston, float] = {"dished": 8.3, "flat": 9.3, "domed": 10.8}
"""Compression ratio that usually goes with the crown of a piston; common practice, no source."""


class Engine(Section):
    """The engine itself."""

    cylinders: Annotated[
        Literal[4, 6, 8],
        Choice((4, 6, 8), why="engines of other counts are not supported"),
        Tag("Number of cylinders"),
    ] = Field(description="Number of cylinders.", examples=[8])
    layout: Annotated[
        Layout,
        Choice(get_args(Layout)),
        Tag("Layout of the cylinders", answers={"v": "V", "inline": "in line"}),
    ] = Field(description="How the cylinders stand.", examples=["v"])
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
    firing_order: Annotated[
        tuple[int, ...],
        Numbers(CYLINDER, 4, 8),
        Tag(hint="As the engine fires, from cylinder 1: 1 5 7 2 6 3 4 8 or 1-5-7-2-6-3-4-8."),
    ] = Field(
        description="Cylinders in the order in which they fire, from cylinder 1.",
        examples=[[1, 5, 7, 2, 6, 3, 4, 8]],
    )
    bank_numbering: Annotated[
        BankNumbering | None,
        Choice(get_args(BankNumbering)),
        Tag(
            "Numbering of the banks",
            hint="Of a V or flat engine, from the front: 1 3 5 7 beside 2 4 6 8, or 1 2 3 4 "
            "beside 5 6 7 8. A row has none.",
            answers={
                "odd-even": "odd numbers in one bank, even in the other",
                "by-bank": "one bank first, then the other",
            },
            starter=True,
        ),
    ] = Field(
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
    rod_mm: Annotated[
        float | None,
        Quantity("length", "mm", 50, 600, NO_SUCH_ENGINE),
        Tag(
            "Rod length",
            hint=phrase(
                "Connecting rod, centre to centre; this or ",
                Key("rod_ratio"),
                ". With neither a ratio is assumed.",
            ),
        ),
    ] = Field(
        default=None,
        alias="rod",
        description=described(
            "Connecting rod, centre to centre; this or rod_ratio.",
            "With neither a ratio is assumed.",
        ),
        examples=["6.063 in"],
    )
    rod_ratio: Annotated[
        float | None,
        Number(1.2, 3.0, "rod length over stroke lies near 1.7", unit="to 1"),
        Tag("Rod length over stroke"),
    ] = Field(default=None, description="Rod length divided by stroke, instead of rod.", examples=[1.68])
    stated_ratio: Annotated[
        float | None,
        Number(3.5, 16, "outside this lies no spark-ignition engine with a distributor", unit="to 1"),
        Tag(starter=True, often=1),
    ] = Field(
        default=None,
        alias="compression_ratio",
        description="Geometric compression ratio, the 9.0 of 9.0:1; this, or the kind of piston.",
        examples=[9.0],
    )
    piston: Annotated[Piston | None, Choice(get_args(Piston)), Tag("Crown of the piston")] = Field(
        default=None,
        description="Crown of the piston, where nobody knows the compression ratio; a usual one is taken.",
        examples=["flat"],
    )
    use: Annotated[
        Use | None,
        Choice(get_args(Use)),
        Tag(
            "Use",
            answers={
                "road": "on the road",
                "stationary": "stationary, at one speed",
                "competition": "in competition",
            },
        ),
    ] = Field(
        default=None,
        description="How the engine is used, which weighs the cells of the map where one must give way to "
        "another: on the road (cruise and idle), stationary (governed speed, most of the load), or in "
        "competition (fast, full load). Weighed as road when not given.",
        examples=["road"],
    )
    chamber: Annotated[Shape, Choice(tuple(SHAPES)), Tag("Shape of the chamber", starter=True)] = Field(
        default="wedge",
        description=described(
            "Shape of the combustion chamber.",
            "wedge is assumed",
            practice=True,
        ),
        examples=["wedge"],
    )
    plug_offset_mm: Annotated[
        float | None,
        Quantity("length", "mm", 0, 125, "the plug stands within the bore"),
        Tag("Plug off the bore's axis"),
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
    inertia_kg_m2: Annotated[
        float | None,
        Number(0.005, 5, "crank, flywheel and what turns with them at idle"),
        Tag("Inertia of crank and flywheel"),
    ] = Field(
        default=None,
        description="Moment of inertia of all that turns with the crank at idle [kg m2]; taken from the "
        "swept volume when not given.",
        examples=[0.3],
    )
    head: Annotated[
        Head,
        Choice(get_args(Head), {"aluminum": 'write it "aluminium"'}),
        Tag("Material of the head", starter=True),
    ] = Field(
        default="iron",
        description=described(
            "Material of the cylinder head.",
            "iron is assumed",
            practice=True,
        ),
        examples=["iron"],
    )
    coolant_temperature_c: Annotated[
        float | None,
        Quantity("temperature", "degC", -40, 140, "outside this no engine runs on its coolant"),
        Tag("Coolant when warm"),
    ] = Field(
        default=None,
        alias="coolant_temperature",
        description="Coolant, or oil of an air-cooled engine, when warm. Planning is for 90 degC (194 degF) "
        "when not given; walls and ports are counted as much warmer or colder as it is.",
        examples=["82 degC"],
    )
    idle_rpm: Annotated[float | None, Number(200, 2500, NO_SUCH_SPEED), Tag("Idle speed")] = Field(
        default=None, description="Warm idle speed; planning assumes one when not given.", examples=[750]
    )
    idle_kpa: Annotated[float | None, Number(15, 100, NO_SUCH_PRESSURE), Tag("Manifold pressure at idle")] = (
        Field(
            default=None,
            description="Manifold pressure at warm idle, absolute; or, in quotes, what a gauge shows, as in "
            '"13 inHg vacuum". Planning assumes one when not given.',
            examples=[38],
        )
    )
    redline_rpm: Annotated[float | None, Number(1000, 12000, NO_SUCH_SPEED), Tag("Redline", first=True)] = (
        Field(
            default=None,
            description="Highest speed the engine is run to; planning assumes one when not given.",
            examples=[5000],
        )
    )
    cranking_rpm: Annotated[
        float, Number(50, 500, "starters turn engines at 100 to 300"), Tag("Cranking speed")
    ] = Field(
        default=180,
        description=described(
            "Speed on the starter.",
            "180 is assumed",
            practice=True,
        ),
        examples=[180],
    )
    damper_diameter_mm: Annotated[
        float | None,
        Quantity("length", "mm", 30, 1000, "outside this lies no rim that is read with a light"),
        Tag("Diameter of the balancer's rim"),
    ] = Field(
        default=None,
        alias="damper_diameter",
        description="Diameter of the balancer over the rim where its marks stand; says degrees in mm.",
        examples=["7.24 in"],
    )

    @property
    def compression_ratio(self) -> float:
        """Geometric compression ratio [-]: as stated, or the usual one of the piston."""
        if self.stated_ratio is not None:
            return self.stated_ratio
        return PISTON_RATIO[self.piston or "flat"]

    def conflicts(self) -> Iterator[Conflict]:
        """Check the firing order, the ratio, the rod, the plug and the speeds."""
        if self.stated_ratio is None and self.piston is None:
            yield Conflict(
                "compression_ratio",
                phrase("must be given, or ", Key("piston")),
                "measure the chamber's volume, or say dished, flat or domed",
            )
        yield from not_each_cylinder_once("firing_order", self.firing_order, self.cylinders)
        if self.firing_order[0] != 1 and sorted(self.firing_order) == list(range(1, self.cylinders + 1)):
            yield Conflict(
                "firing_order",
                "must start with cylinder 1",
                "turn the list round",
            )
        if self.bank_numbering is not None and self.layout == "inline":
            yield Conflict(
                "bank_numbering",
                phrase("must not stand beside ", Stated("layout", "inline")),
                "a row has no banks; take it out, or change the layout",
            )
        if self.rod_mm is not None and self.rod_ratio is not None:
            yield Conflict("rod_ratio", phrase("must not stand beside ", Key("rod")), "keep one of the two")
        elif self.rod_mm is not None and not 1.2 <= self.rod_mm / self.stroke_mm <= 3.0:
            yield Conflict(
                "rod",
                "must be 1.2 to 3 times the stroke",
                "measure centre to centre",
            )
        if self.plug_offset_mm is not None and self.plug_offset_mm >= self.bore_mm / 2:
            yield Conflict(
                "plug_offset",
                f"must be less than half the bore, {show_both(self.bore_mm / 2, 'length')}",
                "measure from the bore axis to the gap",
            )
        if self.idle_rpm is not None and self.redline_rpm is not None and self.idle_rpm >= self.redline_rpm:
            yield Conflict("idle_rpm", phrase("must be below ", Key("redline_rpm")), "check both")

    def questions(self) -> Iterator[Conflict]:
        """Ask for the firing order anew where no crank of such an engine gives it."""
        if self.firing_order[0] != 1 or sorted(self.firing_order) != list(range(1, self.cylinders + 1)):
            return
        found = contradiction(self.firing_order, self.layout, self.bank_numbering)
        if found is not None:
            yield Conflict("firing_order", *_no_crank_gives_it(self, found))


def _no_crank_gives_it(engine: Engine, found: Contradiction) -> tuple[str | Phrase, str | Phrase]:
    """Say which two cylinders contradict one another, and what to do."""
    half = engine.cylinders // 2
    other = numbering_of(engine.firing_order, engine.layout)
    if engine.bank_numbering is not None and other is not None:
        return (
            phrase(
                "must be an order that an even-firing crank can give with ",
                Stated("bank_numbering", str(found.numbering)),
            ),
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
        fits = Stated("layout", "inline")
        return must, phrase("it fits ", fits, ", which a narrow V under one head counts as; check both")
    return must, "read it again from the engine or its book; check cylinders and layout too"


def not_each_cylinder_once(place: str, order: Sequence[int], cylinders: int) -> Iterator[Conflict]:
    """Refuse an order in which a cylinder stands twice, or is missing, or doesn't exist.

    Parameters
    ----------
    place : str
        Key of the order, for the refusal.
    order : sequence of int
        Cylinders in the order in which they fire.
    cylinders : int
        How many the engine has.
    """
    twice = sorted({each for each in order if order.count(each) > 1})
    missing = [each for each in range(1, cylinders + 1) if each not in order]
    read_again = "read it again from the engine or its book"
    if twice:
        also = f", missing: {_listed(missing)}" if missing else ""
        yield Conflict(place, f"must hold each cylinder once; twice: {_listed(twice)}{also}", read_again)
    elif max(order) > cylinders:
        yield Conflict(
            place,
            f"must hold only cylinders 1 to {cylinders}",
            phrase("check ", Key("engine.cylinders"), " too"),
        )
    elif missing:
        yield Conflict(place, f"must hold all {cylinders} cylinders; missing: {_listed(missing)}", read_again)


def _listed(numbers: Sequence[int]) -> str:
    return ", ".join(str(each) for each in numbers)
