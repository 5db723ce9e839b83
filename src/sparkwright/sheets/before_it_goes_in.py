"""The sheet "Before it goes in": a cut through the body, boxes to tick, and what play costs."""

from __future__ import annotations

from collections.abc import Iterator

from sparkwright.drawing.look import PX_PER_MM
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import element, line, path, words
from sparkwright.drawing.true_scale import Part, Sheet, TablePart, TextsPart, picture_part
from sparkwright.ignition.body import WeightsPlace
from sparkwright.mounting.before_it_goes_in import BeforeItGoesIn
from sparkwright.units import System
from sparkwright.words.bench import CAUTIONS, tasks
from sparkwright.words.parts import in_own_units, in_units, own_unit
from sparkwright.words.told import sentences, told

_WIDTH_MM, _HEIGHT_MM = 94.0, 78.0
_AXIS_MM = 22.0
_LABEL_MM = 48.0

_ROTOR_MM, _PLATE_MM, _BODY_MM, _GEAR_MM = 10.0, 34.0, 52.0, 70.0
"""How far down each part is drawn; a diagram, not to scale."""


def body_cut(sheet: BeforeItGoesIn) -> Picture:
    """Draw a cut through a body of this kind, with the places that the boxes speak of.

    Parameters
    ----------
    sheet : BeforeItGoesIn
        What is noted before the distributor goes in.
    """
    places = tuple(_weights_at(sheet.weights))
    drawn = _housing() + _shaft() + _rotor() + _plate() + "".join(_weights(place) for place in places)
    drawn += "".join(_label(*label) for label in _labels(places))
    where = sheet.weights or "above or below the plate"
    return Picture(
        name="body-cut",
        title="A body of this kind, cut through",
        description=f"From the top: rotor, pickup plate, shaft, drive gear. Weights: {where}.",
        sentence="A diagram, not to scale and of no one make: look where each stands in yours.",
        columns=("part", "from the top"),
        rows=(("rotor", 1.0), ("pickup plate", 2.0), ("shaft", 3.0), ("drive gear", 4.0)),
        width_px=_WIDTH_MM * PX_PER_MM,
        height_px=_HEIGHT_MM * PX_PER_MM,
        body=drawn,
        in_mm=True,
    )


def _weights_at(weights: WeightsPlace | None) -> Iterator[float]:
    if weights in ("above the plate", None):
        yield (_ROTOR_MM + _PLATE_MM) / 2.0
    if weights in ("below the plate", None):
        yield (_PLATE_MM + _BODY_MM) / 2.0


def _box(left: float, top: float, right: float, bottom: float, class_: str) -> str:
    return path(
        [
            (x * PX_PER_MM, y * PX_PER_MM)
            for x, y in ((left, top), (right, top), (right, bottom), (left, bottom))
        ],
        class_,
        closed=True,
    )


def _stroke(x1: float, y1: float, x2: float, y2: float, class_: str) -> str:
    return line(x1 * PX_PER_MM, y1 * PX_PER_MM, x2 * PX_PER_MM, y2 * PX_PER_MM, class_)


def _housing() -> str:
    return "".join(
        _stroke(_AXIS_MM + way * x1, y1, _AXIS_MM + way * x2, y2, "edge")
        for way in (-1.0, 1.0)
        for x1, y1, x2, y2 in (
            (20.0, 18.0, 20.0, _BODY_MM),
            (20.0, _BODY_MM, 6.0, _BODY_MM + 4.0),
            (6.0, _BODY_MM + 4.0, 6.0, _GEAR_MM - 6.0),
        )
    )


def _shaft() -> str:
    gear = _box(_AXIS_MM - 7.0, _GEAR_MM - 4.0, _AXIS_MM + 7.0, _GEAR_MM + 5.0, "edge")
    teeth = "".join(
        _stroke(_AXIS_MM - 7.0 + x, _GEAR_MM + 5.0, _AXIS_MM - 4.0 + x, _GEAR_MM - 4.0, "thin")
        for x in (1.5, 5.0, 8.5)
    )
    return _box(_AXIS_MM - 2.0, _ROTOR_MM, _AXIS_MM + 2.0, _GEAR_MM - 4.0, "edge") + gear + teeth


def _rotor() -> str:
    return _box(_AXIS_MM - 4.0, 4.0, _AXIS_MM + 4.0, _ROTOR_MM + 3.0, "edge") + _stroke(
        _AXIS_MM, 4.0, _AXIS_MM + 16.0, 4.0, "mark"
    )


def _plate() -> str:
    left, right = _AXIS_MM - 17.0, _AXIS_MM + 17.0
    wheel = _box(_AXIS_MM - 8.0, _PLATE_MM - 5.0, _AXIS_MM + 8.0, _PLATE_MM - 3.0, "edge")
    sensor = _box(_AXIS_MM + 9.0, _PLATE_MM - 6.0, _AXIS_MM + 13.0, _PLATE_MM, "edge")
    return _box(left, _PLATE_MM, right, _PLATE_MM + 1.6, "edge") + wheel + sensor


def _weights(at_mm: float) -> str:
    plate = _box(_AXIS_MM - 13.0, at_mm + 2.5, _AXIS_MM + 13.0, at_mm + 3.7, "edge")
    return plate + "".join(
        element(
            "rect",
            x=(_AXIS_MM + (4.0 if way > 0.0 else -12.0)) * PX_PER_MM,
            y=(at_mm - 1.5) * PX_PER_MM,
            width=8.0 * PX_PER_MM,
            height=4.0 * PX_PER_MM,
            class_="edge",
        )
        for way in (-1.0, 1.0)
    )


def _labels(weights: tuple[float, ...]) -> Iterator[tuple[float, float, str]]:
    """Give where each label's stroke begins [mm from the axis], how far down it stands, and its words."""
    yield 16.0, 4.0, "tip: phase it"
    for at_mm in weights:
        yield 12.0, at_mm + 0.5, "weights out, shaft fixed"
    yield 13.0, _PLATE_MM - 4.0, "pickup"
    yield 17.0, _PLATE_MM + 1.0, "plate screwed fast"
    yield 2.0, _BODY_MM + 6.0, "side play"
    yield 7.0, _GEAR_MM, "gear, end play"


def _label(from_axis_mm: float, down_mm: float, text: str) -> str:
    stroke = _stroke(_AXIS_MM + from_axis_mm, down_mm, _LABEL_MM - 1.0, down_mm, "thin")
    return stroke + words(_LABEL_MM * PX_PER_MM, down_mm * PX_PER_MM + 4.0, text, "soft")


def before_sheet(
    sheet: BeforeItGoesIn, title: str, invented: bool, fingerprint: str, system: System = "metric"
) -> Sheet:
    """Lay the sheet out.

    The cut beside what play costs, the cautions, then one block of boxes for each piece of work.

    Parameters
    ----------
    sheet : BeforeItGoesIn
        What is noted before the distributor goes in.
    title : str
        Name of the job.
    invented : bool
        Whether the job is invented; the sheet then says so.
    fingerprint : str
        Fingerprint of the job; "" leaves it out.
    system : System, optional
        Units that the person reads.
    """
    play = TablePart(
        "What play costs",
        ("play", own_unit("length", system), "crank deg"),
        tuple(
            (cost.where, f"{in_own_units(cost.play_mm, 'length', system):.3g}", f"{cost.crank_deg:.1f}")
            for cost in sheet.play
        ),
    )
    boxes: tuple[tuple[Part, ...], ...] = tuple(
        (TextsPart(task.title, tuple(in_units(each, system) for each in task.boxes), "boxes", task.why),)
        for task in tasks(sheet)
    )
    lead = told(sheet.headline, system)
    return Sheet(
        kind="Before it goes in",
        title=title,
        invented=invented,
        headline=str(lead.sentence),
        action=str(lead.action),
        problems=tuple(map(str, sentences(sheet.troubles[1:], system))),
        rows=(
            (picture_part(body_cut(sheet)), play),
            (TextsPart("Cautions", CAUTIONS, "cautions"),),
            *boxes,
        ),
        fingerprint=fingerprint,
    )
