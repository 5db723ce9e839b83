"""What can be asked about a drive, and what had to be asked of the person: one record for every face."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal, get_args

from sparkwright.drive.quantities import BY_NAME
from sparkwright.errors import Refusal
from sparkwright.reading import number

RUNNING_ABOVE_RPM = 400.0
"""Speed above which an engine runs by itself and isn't turned by its starter [rpm]; a choice."""
RUNNING_SPAN_RPM = (0.0, 5000.0)
RATE_SPAN_HZ = (0.01, 10000.0)
IDLE_SPAN = (0.0, 200.0)
GRADE_SPAN, WIND_SPAN = (-30.0, 30.0), (-100.0, 100.0)
MOST_DERIVED = 20

DerivedKind = Literal["difference", "ratio", "rate", "slip"]


@dataclass(frozen=True)
class Derived:
    """A channel made from others.

    "difference" is the first less the second, "ratio" the first over the second, "rate" the first's change in
    a second, "slip" what the second lacks of the first, in percent of the first.
    """

    name: str
    kind: DerivedKind
    of: tuple[str, ...]


@dataclass(frozen=True)
class IdleAsked:
    """A way to time the idle that is to be tried; the reserve is the plan's where None."""

    reserve_deg: float | None
    gain_deg_per_100rpm: float
    slope_deg_per_100rpm: float


@dataclass(frozen=True)
class Road:
    """Grade of the road [%], rising positive, and wind [km/h], positive against the vehicle."""

    grade_percent: float = 0.0
    wind_km_h: float = 0.0


@dataclass(frozen=True)
class DriveAsked:
    """What a person says about a drive.

    Parameters
    ----------
    running_above_rpm : float
        Speed above which a row counts as running [rpm].
    channels : mapping
        Quantity to column, where the program took another or none.
    units : mapping
        Column to unit, likewise.
    rows_a_second : float, optional
        For a file without a column of time.
    derived : tuple of Derived
        Channels to make.
    idle : IdleAsked, optional
        A way to time the idle, to be tried.
    against : Path, optional
        Another drive of this engine, to hold this one against.
    road : Road
        Grade and wind, for what accelerations come to.
    remembered : bool
        Whether channels and units were said before, about this logger.
    """

    running_above_rpm: float = RUNNING_ABOVE_RPM
    channels: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    rows_a_second: float | None = None
    derived: tuple[Derived, ...] = ()
    idle: IdleAsked | None = None
    against: Path | None = None
    road: Road = Road()
    remembered: bool = False


def asked_of(
    *,
    running: float | str | None = None,
    channels: Iterable[str] = (),
    units: Iterable[str] = (),
    rate: float | str | None = None,
    derive: Iterable[str] = (),
    idle: str | None = None,
    against: Path | None = None,
    road: str | None = None,
) -> DriveAsked:
    """Read what was asked, as typed.

    Parameters
    ----------
    running : float or str, optional
        Speed from which the engine counts as running, typed [rpm] or with its unit; None for the usual.
    channels : iterable of str, optional
        Columns named by hand, each as typed: ``QUANTITY=COLUMN``.
    units : iterable of str, optional
        Units of columns, for those that name none or another, each as typed: ``COLUMN=UNIT``.
    rate : float or str, optional
        Rows a second of a log without a column of time, typed [Hz] or with its unit; None where it has one.
    derive : iterable of str, optional
        Channels made from others, each as typed: ``NAME=KIND:COLUMN`` or ``NAME=KIND:COLUMN,COLUMN``.
    idle : str, optional
        Idle timing to try, as typed: ``GAIN``, ``GAIN,SLOPE`` or ``GAIN,SLOPE,RESERVE``.
    against : Path, optional
        An earlier drive to hold this one against; None for none.
    road : str, optional
        Grade and wind, as typed: ``GRADE`` or ``GRADE,WIND``; None for a level road on a calm day.

    Raises
    ------
    Refusal
        For what can't be used.

    Examples
    --------
    >>> asked = asked_of(channels=["rpm=Drehzahl"], derive=["gap=difference:asked,seen"])
    >>> asked.channels, asked.derived[0].of
    ({'rpm': 'Drehzahl'}, ('asked', 'seen'))
    """
    running_rpm = (
        RUNNING_ABOVE_RPM if running is None else _within("--running", running, "rpm", RUNNING_SPAN_RPM)
    )
    said = dict(_pair("--channel", each, "QUANTITY=COLUMN") for each in channels)
    for quantity in said:
        if quantity not in BY_NAME:
            raise Refusal.at("--channel", f'"{quantity}"', f"must name one of {', '.join(BY_NAME)}")
    made = tuple(_derived(each) for each in derive)
    if len(made) > MOST_DERIVED:
        raise Refusal.at("--derive", f"{len(made)} channels", f"must be at most {MOST_DERIVED}")
    return DriveAsked(
        running_above_rpm=running_rpm,
        channels=said,
        units=dict(_pair("--unit", each, "COLUMN=UNIT") for each in units),
        rows_a_second=None if rate is None else _within("--rate", rate, "", RATE_SPAN_HZ),
        derived=made,
        idle=None if idle is None else _idle(idle),
        against=against,
        road=Road() if road is None else _road(road),
    )


def _road(text: str) -> Road:
    """Read a grade [%] and a wind [km/h], the last where it is given."""
    parts = [each.strip() for each in text.split(",")]
    if not 1 <= len(parts) <= 2:
        raise Refusal.at("--road", f'"{text}"', "must be GRADE or GRADE,WIND")
    spans = (GRADE_SPAN, WIND_SPAN)
    return Road(*(_within("--road", each, "", span) for each, span in zip(parts, spans, strict=False)))


def _idle(text: str) -> IdleAsked:
    """Read a gain, a slope and a reserve, the last two where they are given."""
    parts = [each.strip() for each in text.split(",")]
    if not 1 <= len(parts) <= 3:
        raise Refusal.at("--idle", f'"{text}"', "must be GAIN, GAIN,SLOPE or GAIN,SLOPE,RESERVE")
    gain, slope, *reserve = [
        _within("--idle", each, "", IDLE_SPAN) for each in (*parts, "0")[: max(len(parts), 2)]
    ]
    return IdleAsked(reserve[0] if reserve else None, gain, slope)


def _within(name: str, given: float | str, unit: str, span: tuple[float, float]) -> float:
    value = number(given, unit=unit, field=name) if isinstance(given, str) else float(given)
    if not span[0] <= value <= span[1]:
        raise Refusal.at(name, f"{given}", f"must be {span[0]:g} to {span[1]:g}{f' {unit}' if unit else ''}")
    return value


def _pair(option: str, text: str, form: str) -> tuple[str, str]:
    one, mark, other = text.partition("=") if option == "--channel" else text.rpartition("=")
    if not mark or not one.strip() or not other.strip():
        raise Refusal.at(option, f'"{text}"', f"must be {form}", "put it in quotes where a name has a space")
    return one.strip(), other.strip()


def _derived(text: str) -> Derived:
    form = "NAME=KIND:COLUMN or NAME=KIND:COLUMN,COLUMN"
    name, rest = _pair("--derive", text, form)
    word, _, columns = rest.partition(":")
    of = tuple(each.strip() for each in columns.split(",") if each.strip())
    kind: Any = word.strip().lower()
    if kind not in get_args(DerivedKind):
        raise Refusal.at(
            "--derive", f'"{text}"', f"must be one of {', '.join(get_args(DerivedKind))}", f"write {form}"
        )
    wanted = 1 if kind == "rate" else 2
    if len(of) != wanted:
        raise Refusal.at(
            "--derive", f'"{text}"', f"must name {wanted} column{'s' if wanted > 1 else ''} for {kind}"
        )
    return Derived(name, kind, of)
