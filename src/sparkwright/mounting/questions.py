"""What is asked at balancer, piston and distributor: each question once, for command, page and API alike.

Answers are kept as they are typed; `sparkwright.mounting.asked` reads them. Nothing heavy is imported here,
since the commands build their options from it before they know which of them runs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields
from typing import Any

from sparkwright.errors import Refusal
from sparkwright.mounting.lengths import length_mm
from sparkwright.units import System, show, show_both, show_span

USUAL_READ_TO_DEG = 0.5
"""How finely a pointer is read where nobody says [crank deg]. Common practice, no source."""

EVERY_DEG = (0.5, 1.0, 2.0, 5.0, 10.0)
"""Steps of the small marks of a scale [crank deg]."""


@dataclass(frozen=True)
class Question:
    """One thing that is asked.

    Parameters
    ----------
    place : str
        What a refusal calls it: `dial step`. Form and API call it `dial_step`, the command `--dial-step`.
    label, hint : str
        Its words on a page, and what is said beside them.
    usual : str
        What is taken where nothing is answered.
    example : str
        An answer.
    unit : str
        Unit of what is read, and of the limits.
    low, high : float
        Limits, both allowed.
    why : str
        Why the limits are there, or what to do.
    choices : tuple of (str, str)
        Where the answer is one of a few words: each, and what it means.

    Examples
    --------
    >>> step = TAPE["before"]
    >>> TAPE["width"].help
    'Width of the tape: 8 mm to 60 mm (0.315 in to 2.362 in).'
    >>> step.require(200.0)
    Traceback (most recent call last):
    sparkwright.errors.Refusal: before = 200 deg: must be 0 to 180 deg; a tape ends at half a turn
    """

    place: str
    label: str
    hint: str = ""
    usual: str = ""
    example: str = ""
    unit: str = ""
    low: float = -math.inf
    high: float = math.inf
    why: str = ""
    choices: tuple[tuple[str, str], ...] = ()

    @property
    def option(self) -> str:
        """What the command calls it."""
        return f"--{self.place.replace(' ', '-')}"

    @property
    def limits(self) -> str:
        """Say what is allowed: from where to where, or which words; "" for anything."""
        if self.choices:
            *first, last = dict(self.choices)
            return f"{', '.join(first)} or {last}"
        if not math.isfinite(self.high):
            return ""
        if self.unit == "mm":
            return show_span(self.low, self.high, "length", "mm")
        return f"{self.low:g} to {self.high:g} {self.unit}"

    def limits_in(self, system: System) -> str:
        """Say what is allowed in the units of one person.

        Parameters
        ----------
        system : {"metric", "inch"}
            Units that the person reads.

        Examples
        --------
        >>> TAPE["width"].limits_in("metric"), TAPE["width"].limits_in("inch")
        ('8 mm to 60 mm', '0.315 in to 2.362 in')
        """
        metric, _, inch = self.limits.partition(" (")
        return inch.rstrip(")") if inch and system == "inch" else metric

    def example_in(self, system: System) -> str:
        """Give an answer, in the units of one person.

        Parameters
        ----------
        system : {"metric", "inch"}
            Units that the person reads.

        Examples
        --------
        >>> TAPE["width"].example_in("inch"), TAPE["diameter"].example_in("metric")
        ('0.472 in', '183.90 mm')
        """
        example = self.example or self.usual
        return show(length_mm(example, self.place), "length", system) if self.unit == "mm" else example

    @property
    def help(self) -> str:
        """Say in a sentence what is asked."""
        asked = f"{self.label}, {self.hint}" if self.hint else self.label
        return f"{asked}: {self.limits}." if self.limits else f"{asked}."

    def require(self, value: float | None) -> None:
        """Refuse a value outside the limits; None is not given.

        Parameters
        ----------
        value : float or None
            The number; None where nothing was given.
        """
        if value is not None and not self.low <= value <= self.high:
            given = show_both(value, "length") if self.unit == "mm" else f"{value:g} {self.unit}"
            raise Refusal.at(self.place, given, f"must be {self.limits}", self.why)

    def require_choice(self, answer: str) -> None:
        """Refuse an answer that is none of the choices.

        Parameters
        ----------
        answer : str
            What was chosen.
        """
        if answer not in dict(self.choices):
            raise Refusal.at(self.place, f'"{answer}"', f"must be {self.limits}")


def _asks(place: str, label: str, hint: str = "", **more: Any) -> Any:
    question = Question(place, label, hint, **more)
    return field(default=question.usual, metadata={"question": question})


def questions_of(record: type) -> dict[str, Question]:
    """Give the questions of a record by the name of its field, in their order.

    Parameters
    ----------
    record : type
        The record of answers.
    """
    return {each.name: each.metadata["question"] for each in fields(record) if each.metadata}


@dataclass(frozen=True)
class MarkAsked:
    """Readings at a piston stop or dial, as typed; empty is not given.

    ``tries`` are two texts each, as `27 before` and `31 after`.
    """

    method: str = _asks(
        "method",
        "Read with",
        usual="stop",
        choices=(("stop", "a piston stop"), ("dial", "a dial indicator, at equal drops")),
    )
    tries: tuple[tuple[str, str], ...] = ()
    diameter: str = _asks(
        "diameter",
        "Diameter of the rim",
        "to say the error as a length, and for readings along the rim, else the job's",
        example="7.24 in",
        unit="mm",
        low=30.0,
        high=1000.0,
        why="measure over the marks",
    )
    stroke: str = _asks("stroke", "Stroke", "where no job states it", example="3.618 in")
    rod: str = _asks("rod", "Rod between centres", "where no job states it", example="6.063 in")
    pin_offset: str = _asks(
        "pin offset",
        "Pin offset",
        "towards the side the crank moves to after the top",
        example="1.5 mm",
        unit="mm",
        low=-10.0,
        high=10.0,
        why="most are far smaller",
    )
    read_to: str = _asks(
        "read to",
        "Read to",
        f"how finely the pointer is read; {USUAL_READ_TO_DEG:g} is assumed",
        unit="deg",
        low=0.01,
        high=5.0,
    )
    dial_step: str = _asks(
        "dial step",
        "Step of the dial",
        "the height that it shows surely",
        example="0.01 mm",
        unit="mm",
        low=0.0005,
        high=1.0,
    )


@dataclass(frozen=True)
class ScaleAsked:
    """What tape and ring are asked alike, as typed."""

    diameter: str = _asks("diameter", "Diameter")
    every: str = _asks(
        "every", "Degrees between marks", usual="1", choices=tuple((f"{each:g}",) * 2 for each in EVERY_DEG)
    )
    rotation: str = _asks(
        "rotation",
        "The crank turns",
        "seen from the front of the engine",
        usual="clockwise",
        choices=(("clockwise", "clockwise"), ("anticlockwise", "anticlockwise")),
    )
    scale_on: str = _asks(
        "scale on",
        "The scale is on",
        "which way it is read depends on it",
        usual="damper",
        choices=(("damper", "the damper, past a fixed pointer"), ("cover", "the cover, a mark passes it")),
    )
    read_from: str = _asks(
        "read from",
        "Read from",
        "numbers stand upright from there",
        usual="front",
        choices=(("front", "the front of the engine"), ("rear", "the rear")),
    )


@dataclass(frozen=True)
class TapeAsked(ScaleAsked):
    """A timing tape as typed; an empty diameter is the job's damper."""

    diameter: str = _asks(
        "diameter",
        "Diameter",
        "over the rim where the tape goes, with its unit, else the job's",
        example="7.24 in",
        unit="mm",
        low=30.0,
        high=1000.0,
        why="measure over the rim where the tape goes",
    )
    before: str = _asks(
        "before",
        "Degrees before",
        usual="60",
        unit="deg",
        low=0.0,
        high=180.0,
        why="a tape ends at half a turn",
    )
    after: str = _asks(
        "after",
        "Degrees after",
        usual="20",
        unit="deg",
        low=0.0,
        high=180.0,
        why="a tape ends at half a turn",
    )
    width: str = _asks(
        "width",
        "Width of the tape",
        usual="12 mm",
        unit="mm",
        low=8.0,
        high=60.0,
        why="the numbers need it",
    )
    thickness: str = _asks(
        "thickness",
        "Thickness with its glue",
        "bent round the rim, its middle keeps its length",
        usual="0.1 mm",
        unit="mm",
        low=0.0,
        high=2.0,
        why="measure paper and glue together",
    )


@dataclass(frozen=True)
class RingAsked(ScaleAsked):
    """A degree ring as typed; an empty diameter is the job's damper."""

    diameter: str = _asks(
        "diameter",
        "Diameter",
        "of the ring's edge, with its unit, else the job's damper",
        example="9 in",
        unit="mm",
        low=60.0,
        high=1000.0,
        why="measure over the pulley's face",
    )
    hole: str = _asks(
        "hole",
        "Hole",
        "clears hub or bolt",
        example="40 mm",
        unit="mm",
        low=0.0,
        high=1000.0,
        why="measure the hub or bolt to clear",
    )


@dataclass(frozen=True)
class SettingAsked:
    """What the static setting is told beside the job, as typed; empty is what the job states."""

    seen: str = _asks(
        "seen",
        "The light shows now",
        "with the controller adding nothing",
        example="4 before",
        unit="deg",
        low=-90.0,
        high=90.0,
        why="read the light again, with the controller adding nothing",
    )
    mark_error: str = _asks(
        "mark error",
        "The mark shows at true top dead centre",
        "else what the job states",
        example="2 after",
        unit="deg",
        low=-40.0,
        high=40.0,
        why="a mark that far off has to be made anew",
    )
    housing_diameter: str = _asks(
        "housing diameter",
        "Diameter of the body",
        "where it is turned, to say the way along its rim, else the job's",
        example="72 mm",
        unit="mm",
        low=20.0,
        high=300.0,
    )


MARK, TAPE, RING, SETTING = (questions_of(each) for each in (MarkAsked, TapeAsked, RingAsked, SettingAsked))
