"""The camshaft: when and how far it opens the valves."""

from collections.abc import Iterator, Sequence
from typing import Annotated

from pydantic import Field

from sparkwright.errors import Key, phrase
from sparkwright.job.field_kind import NamedQuantity, Number, Quantity
from sparkwright.job.problems import Conflict
from sparkwright.job.sections.bounds import NO_SUCH_ENGINE, NO_SUCH_EVENT
from sparkwright.job.sections.section import Section
from sparkwright.job.tag import Tag

LEAST_DURATION_DEG, MOST_DURATION_DEG = 150, 360

ADVERTISED_MM = (("advertised, hydraulic", 0.1524), ("advertised, solid", 0.508))
"""Lifts from which makers of flat-tappet cams count what they advertise [mm]; common practice, no source."""

KEPT_LIFT_MM = 1.27
"""Lift that is taken in a job that was kept before the lift was asked for [mm]."""

EVENT_SPAN_DEG = (-60, 150)
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
        Tag(
            "Lift at which the cam is stated",
            hint="As the card says: 0.050 in; or of advertised degrees, counted near the seat, "
            "“advertised, hydraulic” (0.006 in) or “advertised, solid” (0.020 in).",
            starter=True,
            asked_anew=True,
        ),
    ] = Field(
        default=None,
        alias="at_lift",
        description="Lift at which the card states events or durations; it must be stated beside them. "
        '"0.050 in" where it says so; for advertised durations, counted near the seat, '
        '"advertised, hydraulic" (0.006 in) or "advertised, solid" (0.020 in): common practice, no source.',
        examples=["0.050 in"],
    )
    intake_duration_deg: Annotated[
        float | None,
        Number(150, 360, NO_SUCH_EVENT),
        Tag(hint=phrase("Crank degrees the intake valve stays above ", Key("at_lift"), "."), starter=True),
    ] = Field(default=None, description="Crank degrees the intake valve stays above at_lift.", examples=[207])
    exhaust_duration_deg: Annotated[
        float | None,
        Number(150, 360, NO_SUCH_EVENT),
        Tag(hint=phrase("Crank degrees the exhaust valve stays above ", Key("at_lift"), "."), starter=True),
    ] = Field(
        default=None, description="Crank degrees the exhaust valve stays above at_lift.", examples=[213]
    )
    intake_centreline_deg: Annotated[
        float | None, Number(80, 130, NO_SUCH_EVENT, unit="deg ATDC"), Tag(starter=True)
    ] = Field(
        default=None,
        description="Middle of the intake opening, crank degrees after top dead centre.",
        examples=[108],
    )
    cam_advance_deg: Annotated[
        float | None,
        Number(-20, 20, NO_SUCH_EVENT),
        Tag(
            "Advance ground into the cam",
            hint=phrase(
                "How far ahead of straight up the cam stands, crank degrees, instead of ",
                Key("intake_centreline_deg"),
                ": separation less advance is the centreline.",
            ),
        ),
    ] = Field(
        default=None,
        description="How far ahead of straight up the cam stands, crank degrees, instead of "
        "intake_centreline_deg: separation less advance is the centreline.",
        examples=[3.5],
    )
    lobe_separation_deg: Annotated[
        float | None, Number(90, 130, NO_SUCH_EVENT), Tag(unit="camshaft deg", starter=True)
    ] = Field(
        default=None,
        description="Angle between the middles of the lobes, camshaft degrees.",
        examples=[111.5],
    )
    intake_opens_deg: Annotated[float | None, Number(*EVENT_SPAN_DEG, NO_SUCH_EVENT, unit="deg BTDC")] = (
        Field(
            default=None,
            description="Intake opening, crank degrees before top dead centre; negative is after.",
            examples=[-4.5],
        )
    )
    intake_closes_deg: Annotated[float | None, Number(*EVENT_SPAN_DEG, NO_SUCH_EVENT, unit="deg ABDC")] = (
        Field(
            default=None,
            description="Intake closing, crank degrees after bottom dead centre.",
            examples=[31.5],
        )
    )
    exhaust_opens_deg: Annotated[float | None, Number(*EVENT_SPAN_DEG, NO_SUCH_EVENT, unit="deg BBDC")] = (
        Field(
            default=None,
            description="Exhaust opening, crank degrees before bottom dead centre.",
            examples=[41.5],
        )
    )
    exhaust_closes_deg: Annotated[float | None, Number(*EVENT_SPAN_DEG, NO_SUCH_EVENT, unit="deg ATDC")] = (
        Field(
            default=None,
            description="Exhaust closing, crank degrees after top dead centre; negative is before.",
            examples=[-8.5],
        )
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
    intake_valve_mm: Annotated[
        float | None, Quantity("length", "mm", 15, 100, NO_SUCH_ENGINE), Tag("Intake valve diameter")
    ] = Field(
        default=None,
        alias="intake_valve",
        description="Diameter of the intake valve head; planning assumes one from the bore when not given.",
        examples=["1.89 in"],
    )
    exhaust_valve_mm: Annotated[
        float | None, Quantity("length", "mm", 15, 100, NO_SUCH_ENGINE), Tag("Exhaust valve diameter")
    ] = Field(
        default=None,
        alias="exhaust_valve",
        description="Diameter of the exhaust valve head; planning assumes one from the bore when not given.",
        examples=["1.535 in"],
    )

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
                phrase("must not stand beside ", Key(durations[0])),
                "state the cam by its four events or by its durations, not by both",
            )
        elif not events and not durations:
            yield Conflict(
                CAM_DURATIONS[0],
                "must be given",
                phrase("state the cam by ", *_listed(CAM_DURATIONS), "; or by ", *_listed(CAM_EVENTS)),
            )
        else:
            whole = CAM_EVENTS if events else CAM_DURATIONS
            for name in whole:
                if getattr(self, name) is None and not (name == CENTRELINE and CAM_ADVANCE in durations):
                    yield Conflict(
                        name,
                        phrase("must be given beside ", Key((events or durations)[0])),
                        "read it from the cam card",
                    )
        if CENTRELINE in durations and CAM_ADVANCE in durations:
            yield Conflict(
                CAM_ADVANCE,
                phrase("must not stand beside ", Key(CENTRELINE)),
                "keep the one on the card",
            )
        elif self.centreline_deg is not None and not 80 <= self.centreline_deg <= 130:
            yield Conflict(
                CAM_ADVANCE,
                phrase(
                    "must make, taken from ",
                    Key("lobe_separation_deg"),
                    ", an intake centreline of 80 to 130 deg",
                ),
                f"it makes {self.centreline_deg:g}; check its sign",
            )
        yield from self._impossible_durations()
        for lift in ("intake_lift_mm", "exhaust_lift_mm"):
            if getattr(self, lift) is not None and getattr(self, lift) <= self.lift_mm:
                yield Conflict(
                    self.key(lift),
                    phrase("must be above ", Key("at_lift")),
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
                    phrase(
                        "must make, with ",
                        Key(opens),
                        f", a duration of {LEAST_DURATION_DEG} to {MOST_DURATION_DEG} deg",
                    ),
                    f"it makes {duration:g}; check signs and reference points",
                )


def _listed(names: Sequence[str]) -> Iterator[str | Key]:
    """Give keys parted by commas."""
    for place, name in enumerate(names):
        yield from (", ", Key(name)) if place else (Key(name),)
