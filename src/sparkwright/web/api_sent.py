"""What may be sent to the API, field by field."""

from __future__ import annotations

from itertools import zip_longest
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from sparkwright.drawing.true_scale import Paper
from sparkwright.evidence.kinds import MOST_SETS
from sparkwright.mounting.questions import MARK, RING, SETTING, TAPE, MarkAsked, Question
from sparkwright.mounting.tape import CrankRotation, ReadFrom, ScaleOn
from sparkwright.web.routes import OnlyKnown


class Sent(OnlyKnown):
    """What is sent in, and by whom."""

    who: str = Field(description="Who does it, for the history", min_length=1, max_length=80)


class NewJob(Sent):
    """A job to be kept."""

    text: str = Field(description="The job file, TOML", max_length=1_000_000)
    why: str = Field("", description="Why, for the history", max_length=500)
    sent_as: str | None = Field(
        None, description="A word made up for this job: sent again under it, the same text is the same job"
    )


class Change(Sent):
    """A new revision of a job."""

    text: str = Field(description="The job file, TOML", max_length=1_000_000)
    why: str = Field("", description="Why, for the history", max_length=500)
    based_on: int = Field(description="The revision it was made from", ge=1)


READ_AS = (
    'How the map is to be read: "as it stands", "upside down", "turned" ...; "" refuses one that looks as if '
    "it were to be read otherwise than it stands, and says how"
)


class OwnMapSent(OnlyKnown):
    """A map that a person has; nothing is kept of it."""

    map: str = Field(
        description="The map as text: comma- or tab-separated with its axes or without, or JSON",
        max_length=1_000_000,
    )
    read_as: str = Field("", description=READ_AS, max_length=80)
    number: int | None = Field(
        None, description="The revision; the latest when not given", ge=1, le=10_000_000
    )


class MapChange(Sent):
    """A map whose cells become cells set by hand."""

    map: str = Field(
        description="The map as text: comma- or tab-separated with its axes, or JSON", max_length=1_000_000
    )
    read_as: str = Field("", description=READ_AS, max_length=80)
    why: str = Field("", description="Why, for the history", max_length=500)
    reason: str = Field("", description="Why cells stand where they do", max_length=200)
    based_on: int = Field(description="The revision it was made from", ge=1)


class NewReading(Sent):
    """One reading of a timing light; what is not known is left out."""

    set: int = Field(1, description="Readings of one setting belong to one set", ge=1, le=MOST_SETS)
    commanded_deg: float = Field(description="Advance commanded, crank degrees before top dead centre")
    speed_rpm: float = Field(description="Engine speed")
    seen_deg: float = Field(description="What light and mark showed")
    resolution_deg: float | None = Field(None, description="Step of the dial or of the marks")
    cylinder: int | None = Field(None, description="The cylinder whose lead the light was on")
    battery_v: float | None = Field(None, description="Voltage at the ignition")
    sweep: Literal["rising", "falling"] | None = Field(None, description="Which way speed was changing")
    note: str = Field("", description="Anything else", max_length=200)
    sent_as: str | None = Field(
        None,
        description="A word of your own for it; sent again under the same word it is kept once",
        min_length=1,
        max_length=40,
    )


def _answer(question: Question, of: str = "") -> Any:
    """Describe the answer to a question, which is text as a person types it."""
    return Field(question.usual, description=f"{of}{question.help}", max_length=40)


class NewDeadCentre(OnlyKnown):
    """Readings on either side of top dead centre; lengths with their unit, empty where not known."""

    method: Literal["stop", "dial"] = Field("stop", description=MARK["method"].help)
    readings: list[Annotated[str, Field(max_length=40)]] = Field(
        description='What the balancer shows, two a try: "27 before", "31 after"', max_length=40
    )
    job: str = Field("", description="Key of the job that states stroke, rod and rim", max_length=120)
    diameter: str = _answer(MARK["diameter"])
    stroke: str = _answer(MARK["stroke"])
    rod: str = _answer(MARK["rod"])
    pin_offset: str = _answer(MARK["pin_offset"])
    read_to_deg: float | None = Field(None, description=MARK["read_to"].help, allow_inf_nan=False)
    dial_step: str = _answer(MARK["dial_step"])

    def asked(self) -> MarkAsked:
        """Give it as a page would have it typed."""
        given = self.model_dump(exclude={"readings", "job", "read_to_deg"})
        read_to = "" if self.read_to_deg is None else str(self.read_to_deg)
        pairs = zip_longest(self.readings[::2], self.readings[1::2], fillvalue="")
        return MarkAsked(**given, read_to=read_to, tries=tuple(pairs))


class NewSheet(BaseModel):
    """What a sheet is printed for: measures of tape and ring, or what the static setting needs."""

    model_config = ConfigDict(extra="forbid")

    paper: Paper = "a4"
    number: int | None = Field(
        None, description="The revision; the latest when not given", ge=1, le=10_000_000
    )
    diameter: str = _answer(TAPE["diameter"], "Tape and ring: ")
    hole: str = _answer(RING["hole"], "Ring: ")
    before: str = _answer(TAPE["before"], "Tape: ")
    after: str = _answer(TAPE["after"], "Tape: ")
    every: str = _answer(TAPE["every"], "Tape and ring: ")
    width: str = _answer(TAPE["width"], "Tape: ")
    thickness: str = _answer(TAPE["thickness"], "Tape: ")
    rotation: CrankRotation = Field("clockwise", description=TAPE["rotation"].help)
    scale_on: ScaleOn = Field("damper", description=TAPE["scale_on"].help)
    read_from: ReadFrom = Field("front", description=TAPE["read_from"].help)
    seen: str = _answer(SETTING["seen"], "Static setting: ")
    mark_error: str = _answer(SETTING["mark_error"], "Static setting: ")
    housing_diameter: str = _answer(SETTING["housing_diameter"], "Static setting: ")


class SentOnce(Sent):
    """Something that was seen on an engine; sent again under its own word, it is kept once."""

    note: str = Field("", description="Anything else", max_length=200)
    sent_as: str | None = Field(
        None,
        description="A word of your own for it; sent again under the same word it is kept once",
        min_length=1,
        max_length=40,
    )

    def fields(self) -> dict[str, object]:
        """Give them as evidence has them."""
        given = self.model_dump(exclude={"who", "sent_as"}, exclude_none=True)
        return {name: value for name, value in given.items() if value != ""}
