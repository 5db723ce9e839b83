"""What can be seen on an engine, a kind each: how it is read where it comes in, and how it is kept.

Whatever comes in, from a page, a program, an archive or an old store, is read by `read`; what it gives are
plain frozen records of numbers. A kind has a version, which rises when its fields change their meaning.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from typing import Annotated, Any, ClassVar, Literal, TypeAlias, get_args

from pydantic import ConfigDict, Field, TypeAdapter, ValidationError

from sparkwright.dyno.pulls import FEWEST_READINGS
from sparkwright.dyno.sweep import Heard
from sparkwright.errors import Problem, Refusal
from sparkwright.evidence.found import Found, read_found, write_found
from sparkwright.job import LOAD_SPAN_KPA, SPEED_SPAN_RPM
from sparkwright.job.field_kind import REFUSED, Choice, Number, Text, written
from sparkwright.light.readings import COLUMNS, Reading, checked_reading
from sparkwright.mounting.asked import MarkRead
from sparkwright.mounting.dead_centre import DeadCentre, Method, dead_centre
from sparkwright.mounting.mark_readings import ReadPair, read_pairs
from sparkwright.mounting.questions import USUAL_READ_TO_DEG
from sparkwright.mounting.throw import CrankThrow

SET = "set"
"""Key beside a light reading's own columns: to which set it belongs."""
MOST_SETS = 1000
MOST_READINGS = 2000
"""Readings of one pull; a longer file is thinned before it is kept."""
MOST_ROWS = 60
"""Rows of one sweep; more advances than that are several sweeps."""

KnockWord = Heard
"""What was heard: nothing, a trace now and then, or knock that must be backed off from at once."""

Speed = Annotated[float, Number(*SPEED_SPAN_RPM, "no engine here turns at such a speed")]
Load = Annotated[float, Number(*LOAD_SPAN_KPA, "it is absolute pressure in the manifold")]
ADVANCE_COUNTS = "it counts in crank degrees before top dead centre"
Advance = Annotated[float, Number(-20, 80, ADVANCE_COUNTS)]
Torque = Annotated[float, Number(0, 5000, "it is the brake's reading at the crank")]
PullTorque = Annotated[float, Number(-2000, 5000, "it is torque at the crank")]
Lambda = Annotated[float | None, Number(0.5, 2.0, "outside this no charge burns")]
Celsius = Annotated[float | None, Number(-50, 200, "no gauge of an engine reads that")]
Seconds = Annotated[float | None, Number(0, 1e7, "it counts in seconds from any moment")]
SweepNumber = Annotated[int, Field(ge=1, le=MOST_SETS)]
Name = Annotated[str, Text(80)]
Knock = Annotated[KnockWord | None, Choice(get_args(KnockWord))]
Note = Annotated[str, Text(200)]


@dataclass(frozen=True)
class LightReading:
    """A reading of a timing light, and the set to which it belongs.

    A set is what was read with one setting of distributor and controller.
    """

    reading: Reading
    set: int = 1


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


def dead_centre_readings(read: MarkRead) -> DeadCentreReadings:
    """Give what was read at the piston as it is kept.

    Parameters
    ----------
    read : MarkRead
        Readings, with all that they are judged by.
    """
    throw = read.throw
    return DeadCentreReadings(
        read.pairs,
        method=read.method,
        read_to_deg=read.read_to_deg,
        diameter_mm=read.diameter_mm,
        stroke_mm=throw.stroke_mm if throw else None,
        rod_mm=throw.rod_mm if throw else None,
        pin_offset_mm=throw.pin_offset_mm if throw else None,
        dial_step_mm=read.dial_step_mm,
    )


@dataclass(frozen=True)
class SweepRow:
    """Torque at one advance, and what was heard there; ``knock`` is None where nobody listened.

    What was noted for this point alone, as a logger does, stands in the others; None where the sweep's holds.
    """

    advance_deg: Advance
    torque_nm: Torque
    knock: Knock = None
    speed_rpm: Annotated[float | None, Number(*SPEED_SPAN_RPM, "no engine here turns at such a speed")] = None
    map_kpa: Annotated[float | None, Number(*LOAD_SPAN_KPA, "it is absolute pressure in the manifold")] = None
    mixture_lambda: Lambda = None
    coolant_c: Celsius = None
    intake_air_c: Celsius = None
    time_s: Seconds = None

    __pydantic_config__: ClassVar[ConfigDict] = ConfigDict(extra="forbid")


@dataclass(frozen=True)
class SweepReadings:
    """Torque at several advances at one speed and load; temperatures in deg C, None where not noted."""

    speed_rpm: Speed
    map_kpa: Load
    rows: tuple[SweepRow, ...]
    mixture_lambda: Lambda = None
    coolant_c: Celsius = None
    intake_air_c: Celsius = None
    note: Note = ""
    name: Name = ""

    __pydantic_config__: ClassVar[ConfigDict] = ConfigDict(extra="forbid")


@dataclass(frozen=True)
class TorquePoint:
    """Torque at one advance, typed while the engine runs; points of one ``sweep`` belong together."""

    speed_rpm: Speed
    map_kpa: Load
    advance_deg: Advance
    torque_nm: Torque
    knock: Knock = None
    sweep: SweepNumber = 1
    mixture_lambda: Lambda = None
    coolant_c: Celsius = None
    intake_air_c: Celsius = None
    note: Note = ""

    __pydantic_config__: ClassVar[ConfigDict] = ConfigDict(extra="forbid")


@dataclass(frozen=True)
class KnockMark:
    """What was heard at one speed, load and advance; temperatures in deg C, None where not noted."""

    speed_rpm: Speed
    map_kpa: Load
    advance_deg: Advance
    knock: Annotated[KnockWord, Choice(get_args(KnockWord))]
    mixture_lambda: Lambda = None
    coolant_c: Celsius = None
    intake_air_c: Celsius = None
    note: Note = ""

    __pydantic_config__: ClassVar[ConfigDict] = ConfigDict(extra="forbid")


@dataclass(frozen=True)
class PullRow:
    """Torque of a pull at one speed, as measured; ``advance_deg`` is None where the pull's own holds."""

    speed_rpm: Speed
    torque_nm: PullTorque
    advance_deg: Annotated[float | None, Number(-20, 80, ADVANCE_COUNTS)] = None

    __pydantic_config__: ClassVar[ConfigDict] = ConfigDict(extra="forbid")


@dataclass(frozen=True)
class RoadRun:
    """Where a pull on the road came from: its drive, its gear, and how far its advance lay off the map.

    Its torque hangs on what mass, grade and wind are taken for: it is held against others of its drive and
    gear, in shares of torque, and teaches nothing. Where not ``mass_stated``, that torque isn't even about
    right.
    """

    drive: Name
    gear_rpm_h_km: Annotated[float, Number(1, 1000, "it is engine speed at 1 km/h")]
    off_map_deg: Annotated[float | None, Number(-80, 80, ADVANCE_COUNTS)] = None
    mass_stated: bool = False

    __pydantic_config__: ClassVar[ConfigDict] = ConfigDict(extra="forbid")


@dataclass(frozen=True)
class PullReadings:
    """A pull at full throttle: torque over rising speed at one timing.

    ``timing`` says it in words. Without an advance and a load a pull is compared with others, and teaches
    nothing; None where not known. ``road`` is None for a pull at a brake.
    """

    rows: tuple[PullRow, ...]
    name: Name = ""
    timing: Name = ""
    advance_deg: Annotated[float | None, Number(-20, 80, ADVANCE_COUNTS)] = None
    map_kpa: Annotated[float | None, Number(*LOAD_SPAN_KPA, "it is absolute pressure in the manifold")] = None
    mixture_lambda: Lambda = None
    intake_air_c: Celsius = None
    note: Note = ""
    road: RoadRun | None = None

    __pydantic_config__: ClassVar[ConfigDict] = ConfigDict(extra="forbid")


Seen: TypeAlias = (
    LightReading | DeadCentreReadings | SweepReadings | TorquePoint | KnockMark | PullReadings | Found
)
KindName = Literal["light-reading", "dead-centre", "sweep", "torque-point", "knock-mark", "pull", "finding"]


@dataclass(frozen=True)
class Kind:
    """A kind of evidence: its name, its version, what holds it, and its two ways."""

    name: KindName
    version: int
    type: type[Seen]
    read: Callable[[Mapping[str, object]], Seen]
    write: Callable[[Any], dict[str, object]]


def read(name: str, version: int, given: Mapping[str, object]) -> Seen:
    """Read what came in.

    Parameters
    ----------
    name : str
        The kind.
    version : int
        The version in which it was written.
    given : mapping
        Its fields; what is not known is left out.

    Raises
    ------
    Refusal
        With one problem for each field that can't be used.

    Examples
    --------
    >>> mark = {"speed_rpm": "2,400", "map_kpa": 95, "advance_deg": 31.5, "knock": "trace"}
    >>> read("knock-mark", 1, mark).speed_rpm
    2400.0
    """
    kind = BY_NAME.get(name)
    if kind is None:
        raise Refusal.at("kind", f'"{name}"', f"must be one of {', '.join(BY_NAME)}")
    if version != kind.version:
        must = f"must be {kind.version}"
        raise Refusal.at(f"{name}, version", version, must, "bring the program up to date")
    return kind.read(given)


def write(seen: Seen) -> dict[str, object]:
    """Give the fields in which it is kept, without those that are not known; `read` reads them back.

    Parameters
    ----------
    seen : Seen
        What was seen.

    Examples
    --------
    >>> write(LightReading(Reading(30, 2000, 29.5), set=2))
    {'commanded_deg': 30, 'speed_rpm': 2000, 'seen_deg': 29.5, 'set': 2}
    """
    return kind_of(seen).write(seen)


def kind_of(seen: Seen) -> Kind:
    """Say of which kind it is.

    Parameters
    ----------
    seen : Seen
        What was seen.
    """
    return next(kind for kind in KINDS if kind.type is type(seen))


def _read_light(given: Mapping[str, object]) -> LightReading:
    reading = checked_reading({name: value for name, value in given.items() if name != SET})
    number = given.get(SET, 1)
    if not isinstance(number, int) or isinstance(number, bool) or not 1 <= number <= MOST_SETS:
        raise Refusal.at(SET, written(number), f"must be 1 to {MOST_SETS}")
    return LightReading(reading, number)


def _write_light(seen: LightReading) -> dict[str, object]:
    return {**_without_unknown({name: getattr(seen.reading, name) for name in COLUMNS}), SET: seen.set}


def _read_dead_centre(given: Mapping[str, object]) -> DeadCentreReadings:
    seen: DeadCentreReadings = _checked(DeadCentreReadings, given)
    seen.found()
    return seen


def _read_sweep(given: Mapping[str, object]) -> SweepReadings:
    seen: SweepReadings = _checked(SweepReadings, given)
    if not 1 <= len(seen.rows) <= MOST_ROWS:
        raise Refusal.at("rows", len(seen.rows), f"must be 1 to {MOST_ROWS}")
    return seen


def _read_pull(given: Mapping[str, object]) -> PullReadings:
    seen: PullReadings = _checked(PullReadings, given)
    if not FEWEST_READINGS <= len(seen.rows) <= MOST_READINGS:
        raise Refusal.at("rows", len(seen.rows), f"must be {FEWEST_READINGS} to {MOST_READINGS:,}")
    return seen


def _read_torque_point(given: Mapping[str, object]) -> TorquePoint:
    seen: TorquePoint = _checked(TorquePoint, given)
    return seen


def _read_knock_mark(given: Mapping[str, object]) -> KnockMark:
    seen: KnockMark = _checked(KnockMark, given)
    return seen


def _checked(kind: type[Any], given: Mapping[str, object]) -> Any:
    try:
        return _DOORS[kind].validate_python(dict(given))
    except ValidationError as refusal:
        raise Refusal(list(_problems(refusal))) from refusal


def _problems(refusal: ValidationError) -> Iterator[Problem]:
    for detail in refusal.errors(include_url=False):
        field = "".join(f"[{step + 1}]" if isinstance(step, int) else f".{step}" for step in detail["loc"])
        field, value, context = field.removeprefix("."), written(detail["input"]), detail.get("ctx", {})
        if detail["type"] == "missing":
            yield Problem(field, None, "must be given")
        elif detail["type"] in ("greater_than_equal", "less_than_equal"):
            yield Problem(field, value, f"must be 1 to {MOST_SETS}")
        elif detail["type"] == REFUSED:
            yield Problem(field, value, context["must"], context["do"])
        elif detail["type"] == "unexpected_keyword_argument":
            yield Problem(field, value, "is not known here")
        else:
            yield Problem(field, value, "can't be read", detail["msg"].lower())


def _written_fields(seen: Any) -> dict[str, object]:
    return _without_unknown({each.name: _plain(getattr(seen, each.name)) for each in fields(seen)})


def _plain(value: object) -> object:
    if isinstance(value, tuple):
        return [_plain(each) for each in value]
    return _written_fields(value) if is_dataclass(value) else value


def _without_unknown(values: Mapping[str, object]) -> dict[str, object]:
    return {name: value for name, value in values.items() if value is not None and value != ""}


_DOORS: dict[type[Any], TypeAdapter[Any]] = {
    kind: TypeAdapter(kind)
    for kind in (DeadCentreReadings, SweepReadings, TorquePoint, KnockMark, PullReadings)
}

KINDS = (
    Kind("light-reading", 1, LightReading, _read_light, _write_light),
    Kind("dead-centre", 1, DeadCentreReadings, _read_dead_centre, _written_fields),
    Kind("sweep", 1, SweepReadings, _read_sweep, _written_fields),
    Kind("torque-point", 1, TorquePoint, _read_torque_point, _written_fields),
    Kind("knock-mark", 1, KnockMark, _read_knock_mark, _written_fields),
    Kind("pull", 1, PullReadings, _read_pull, _written_fields),
    Kind("finding", 1, Found, read_found, write_found),
)
BY_NAME: dict[str, Kind] = {kind.name: kind for kind in KINDS}
