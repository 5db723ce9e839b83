"""The rules of the trade as ranges, with where the plan stands in or out of each."""

from __future__ import annotations

import math

from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import element, line, paragraph, words
from sparkwright.plan.rules_of_the_trade import RuleRead, SecondOpinion
from sparkwright.units import System
from sparkwright.words.rules_of_the_trade import COMMON_PRACTICE, RULE_WORDS
from sparkwright.words.told import told

HEADING = f"Rules of the trade ({COMMON_PRACTICE}) and the plan"
COLUMNS = ("rule", "unit", "from", "to", "plan", "speed [rpm]", "load [kPa]", "held by")

_ROW_PX, _LABELS_PX, _VALUE_PX = 30.0, 330.0, 70.0
_AROUND = 0.75
"""How much of a range is drawn to either side of it; what lies further out stands at the edge."""


def rules_picture(
    opinion: SecondOpinion, name: str = "rules", width_px: float = 720.0, system: System = "metric"
) -> Picture:
    """Draw each rule that can be held against the plan: its range as a band, the plan as a dot.

    Parameters
    ----------
    opinion : SecondOpinion
        The rules beside the plan.
    name : str
        Short name of the picture, used for files.
    width_px : float
        Width [px].
    system : System, optional
        Units that the person reads.
    """
    held = [each for each in opinion.rules if not math.isnan(each.value)]
    drawn, top_px = paragraph(12, 24, HEADING, width_px - 24, "heading")
    for place, rule in enumerate(held):
        drawn += _row(rule, top_px + 14 + place * _ROW_PX, width_px)
    return Picture(
        name=name,
        title=HEADING,
        description=str(told(opinion.headline, system).sentence),
        sentence="The band is what is usual, the dot the plan; a ring lies outside.",
        columns=COLUMNS,
        rows=tuple(
            (
                RULE_WORDS[each.name][0],
                each.unit,
                each.low,
                each.high,
                each.value,
                each.rpm,
                each.kpa,
                each.reason,
            )
            for each in held
        ),
        width_px=width_px,
        height_px=top_px + 22 + len(held) * _ROW_PX,
        body=drawn,
    )


def _row(rule: RuleRead, y_px: float, width_px: float) -> str:
    left_px, right_px = _LABELS_PX, width_px - _VALUE_PX
    span = rule.high - rule.low
    least, most = rule.low - _AROUND * span, rule.high + _AROUND * span

    def x_px(value: float) -> float:
        share = (min(max(value, least), most) - least) / (most - least)
        return left_px + share * (right_px - left_px)

    middle_px = y_px + 8
    band = {"x": x_px(rule.low), "y": y_px, "width": x_px(rule.high) - x_px(rule.low), "height": 16.0}
    inside = rule.finding.state == "good"
    dot = element("circle", cx=x_px(rule.value), cy=middle_px, r=5.5, class_="solid" if inside else "edge")
    return (
        words(12, y_px + 13, RULE_WORDS[rule.name][0], "" if inside else "strong")
        + line(left_px, middle_px, right_px, middle_px, "thin")
        + element("rect", **band, class_="band")
        + dot
        + words(width_px - 12, y_px + 13, f"{rule.value:.3g}", "soft", "end")
    )
