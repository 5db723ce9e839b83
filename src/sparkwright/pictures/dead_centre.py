"""Top dead centre by the balancer's own mark: each try, its middle, and how well the true zero is known."""

from __future__ import annotations

from sparkwright.drawing.frame import Frame, even_ticks
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import element, grouped, line, paragraph, text_width_px, words
from sparkwright.mounting.dead_centre import DeadCentre, PairResult
from sparkwright.pictures.numbers import in_units_of
from sparkwright.units import System
from sparkwright.words.told import told

_LEFT_PX, _RIGHT_PX = 62.0, 24.0
_ROW_PX = 26.0

_COLUMNS = (
    "try",
    "before [deg]",
    "after [deg]",
    "mark at true top [deg]",
    "standard deviation [deg]",
    "piston below the top [mm]",
)


def dead_centre_picture(found: DeadCentre, width_px: float = 400.0, system: System = "metric") -> Picture:
    """Draw the readings of each try with the middle between them, and below the middles enlarged.

    Parameters
    ----------
    found : DeadCentre
        From `dead_centre`.
    width_px : float
        Width of the drawing; the usual one suits a phone [px].
    system : {"metric", "inch"}
        Which units the person reads.
    """
    heading = "What the balancer shows: crank degrees, before to the right"
    drawn, top_px = paragraph(12, 24, heading, width_px - 24, "heading")
    frame = _frame(found, top_px, width_px, _whole_span(found))
    drawn += _readings(found, frame)
    more, below_px = paragraph(12, frame.bottom + 60, "The middles, enlarged", width_px - 24, "heading")
    near = _frame(found, below_px + 26, width_px, _near_span(found))
    drawn += more + _middles(found, near)
    columns, rows = in_units_of(
        system,
        _COLUMNS,
        [
            (place, each.before_deg, each.after_deg, each.mark_error_deg, each.sigma_deg, each.drop_mm)
            for place, each in enumerate(found.pairs, start=1)
        ],
    )
    return Picture(
        name="dead-centre",
        title=heading,
        description=f"{len(found.pairs)} tries. {told(found.headline, system).sentence}",
        sentence="Above: each try, read from either side, with a stroke in the middle. Below: where true top "
        "dead centre lies by the mark, bars of two standard deviations, the band with 95 % confidence.",
        columns=columns,
        rows=rows,
        width_px=width_px,
        height_px=near.bottom + 36,
        body=drawn,
    )


def _whole_span(found: DeadCentre) -> tuple[float, float]:
    reads = [reading for each in found.pairs for reading in (each.before_deg, each.after_deg)]
    room = 0.08 * (max(reads) - min(reads))
    return min(*reads, 0.0) - room, max(*reads, 0.0) + room


def _near_span(found: DeadCentre) -> tuple[float, float]:
    ends = [
        0.0,
        found.mark_error_deg - found.half_interval_deg,
        found.mark_error_deg + found.half_interval_deg,
    ]
    for each in found.pairs:
        ends += _bar(each)
    room = max(0.12 * (max(ends) - min(ends)), 0.5)
    return min(ends) - room, max(ends) + room


def _bar(pair: PairResult) -> tuple[float, float]:
    return pair.mark_error_deg - 2.0 * pair.sigma_deg, pair.mark_error_deg + 2.0 * pair.sigma_deg


def _frame(found: DeadCentre, top_px: float, width_px: float, span: tuple[float, float]) -> Frame:
    rows = len(found.pairs)
    return Frame(
        left=_LEFT_PX,
        top=top_px + 14,
        right=width_px - _RIGHT_PX,
        bottom=top_px + 14 + (rows + 0.6) * _ROW_PX,
        x_span=span,
        y_span=(rows + 0.8, 0.2),
    )


def _scale(found: DeadCentre, frame: Frame) -> str:
    """Draw degrees along the foot, the old mark's zero, and the name of each try."""
    ticks = even_ticks(*frame.x_span, at_most=6)
    decimals = 0 if all(tick == round(tick) for tick in ticks) else 1
    drawn = line(frame.left, frame.bottom, frame.right, frame.bottom, "thin")
    for tick in ticks:
        x = float(frame.x(tick))
        drawn += line(x, frame.bottom, x, frame.bottom + 6, "thin")
        drawn += words(x, frame.bottom + 22, grouped(tick, decimals), "soft", "middle")
    zero = float(frame.x(0.0))
    drawn += line(zero, frame.top - 6, zero, frame.bottom, "reach")
    for place in range(1, len(found.pairs) + 1):
        drawn += words(frame.left - 10, float(frame.y(place)) + 5, f"try {place}", "soft", "end")
    return drawn


def _readings(found: DeadCentre, frame: Frame) -> str:
    drawn = _scale(found, frame)
    for place, each in enumerate(found.pairs, start=1):
        y = float(frame.y(place))
        after, before, middle = (
            float(frame.x(deg)) for deg in (each.after_deg, each.before_deg, each.middle_deg)
        )
        drawn += line(after, y, before, y, "thin")
        drawn += "".join(element("circle", cx=x, cy=y, r=5.0, class_="solid") for x in (after, before))
        drawn += line(middle, y - 9, middle, y + 9, "curve")
    return drawn


def _middles(found: DeadCentre, frame: Frame) -> str:
    low, high = (float(frame.x(found.mark_error_deg + way * found.half_interval_deg)) for way in (-1.0, 1.0))
    top, bottom = frame.top - 6, frame.bottom
    drawn = element("rect", x=low, y=top, width=high - low, height=bottom - top, class_="band")
    drawn += _scale(found, frame)
    true = float(frame.x(found.mark_error_deg))
    drawn += line(true, top, true, bottom, "plan")
    for place, each in enumerate(found.pairs, start=1):
        y = float(frame.y(place))
        left, right = (float(frame.x(end)) for end in _bar(each))
        drawn += line(left, y, right, y, "edge")
        drawn += element("circle", cx=float(frame.x(each.mark_error_deg)), cy=y, r=5.0, class_="solid")
    return drawn + _names(found, frame)


def _names(found: DeadCentre, frame: Frame) -> str:
    """Name the two zeros above the drawing, one line each, so that they may lie close together."""
    return _name(frame, found.mark_error_deg, "true zero", "accent strong", 10.0) + _name(
        frame, 0.0, "the mark's own zero", "soft", 28.0
    )


def _name(frame: Frame, deg: float, text: str, class_: str, above_px: float) -> str:
    half_px = text_width_px(text) / 2.0
    x = min(max(float(frame.x(deg)), frame.left + half_px), frame.right - half_px)
    return words(x, frame.top - above_px, text, class_, "middle")
