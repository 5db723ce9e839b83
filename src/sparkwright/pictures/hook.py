"""The hook: torque against advance at one speed and load."""

from __future__ import annotations

import math

import numpy as np

from sparkwright.drawing.frame import Frame, even_ticks, kept_apart
from sparkwright.drawing.picture import Picture
from sparkwright.drawing.svg import LINE_PX, degrees, element, grouped, line, paragraph, text_width_px, words
from sparkwright.numeric import FloatArray
from sparkwright.pictures.numbers import in_units_of
from sparkwright.plan.result import Hook
from sparkwright.units import System
from sparkwright.words.loads import load_text
from sparkwright.words.parts import in_own_units, own_unit, torque
from sparkwright.words.plan import ABOUT, best_words, chance_words

_NBSP = "\N{NO-BREAK SPACE}"

_COLUMNS = (
    "advance [deg]",
    "torque [N m]",
    "knock integral [-]",
    "chance of knock [%]",
    "CA10 [deg]",
    "CA50 [deg]",
    "CA90 [deg]",
    "peak pressure [bar]",
    "peak at [deg]",
    "gas at the exhaust valve [degC]",
)


def hook_name(hook: Hook) -> str:
    """Give the name of a hook's files, by its speed and load.

    Parameters
    ----------
    hook : Hook
        The hook of one speed and load.
    """
    return f"hook-{hook.rpm:.0f}-{hook.kpa:.0f}"


def hook_picture(
    hook: Hook,
    plan_deg: float | None = None,
    name: str = "hook",
    width_px: float = 720.0,
    system: System = "metric",
) -> Picture:
    """Draw torque against advance with best, its 99 % span, the knock limit and the plan's value.

    Parameters
    ----------
    hook : Hook
        One speed and load.
    plan_deg : float, optional
        The map's value there [crank degrees before top dead centre].
    name : str
        Short name of the picture, used for files.
    width_px : float
        Width of the drawing; 360 suits a phone [px].
    system : {"metric", "inch"}
        Which units the person reads.
    """
    heading = (
        f"{grouped(hook.rpm)} rpm, {load_text(hook.kpa)} kPa: torque in {_unit(system)} "
        "against degrees before top dead centre"
    )
    drawn, top_px = paragraph(12, 24, heading, width_px - 24, "heading")
    marks = _marks(hook, plan_deg)
    top_px += 4 + LINE_PX * (1 if width_px > 600 else len(marks))
    shown = np.array([in_own_units(each, "torque", system) for each in hook.torque_nm.tolist()])
    low, high = _torque_span(shown)
    frame = Frame(
        left=56,
        top=top_px,
        right=width_px - 24,
        bottom=top_px + min(320.0, 0.75 * width_px),
        x_span=(float(hook.advance_deg[0]), float(hook.advance_deg[-1])),
        y_span=(low, high),
    )
    drawn += _good_span(hook, frame)
    drawn += frame.scales(even_ticks(*frame.x_span, at_most=7), even_ticks(low, high, 6))
    drawn += frame.curve(hook.advance_deg, shown, "curve")
    drawn += _drawn_marks(frame, marks, one_row=width_px > 600)
    columns, rows = in_units_of(system, _COLUMNS, _numbers(hook))
    return Picture(
        name=name,
        title=heading,
        description=_description(hook, plan_deg, system),
        sentence=_sentence(hook),
        columns=columns,
        rows=rows,
        width_px=width_px,
        height_px=frame.bottom + 36,
        body=drawn,
    )


def _numbers(hook: Hook) -> list[tuple[float, ...]]:
    columns = (
        hook.advance_deg,
        hook.torque_nm,
        hook.knock_integral,
        chances(hook),
        hook.ca10_deg,
        hook.ca50_deg,
        hook.ca90_deg,
        hook.peak_bar,
        hook.peak_at_deg,
        hook.exhaust_c,
    )
    return list(zip(*(each.tolist() for each in columns), strict=True))


def chances(hook: Hook) -> FloatArray:
    """Chance of knock along a hook [%]; nan where nobody asked for it.

    Parameters
    ----------
    hook : Hook
        The hook of one speed and load.
    """
    return (
        np.full_like(hook.advance_deg, np.nan)
        if hook.knock_chance_percent is None
        else hook.knock_chance_percent
    )


def _unit(system: System) -> str:
    return own_unit("torque", system).replace(" ", _NBSP)


def _torque_span(torque: FloatArray) -> tuple[float, float]:
    """From the least torque to a little above the most."""
    known = torque[np.isfinite(torque)]
    least, most = float(known.min()), float(known.max())
    return least, most + max(0.08 * (most - least), 1e-3)


def _marks(hook: Hook, plan_deg: float | None) -> list[tuple[float, str, str, str]]:
    wanted = [
        (hook.best_deg, "best", "best", "soft"),
        (hook.knock_ceiling_deg, "ceiling", "knock", "warn"),
        (hook.knock_limit_deg, "knock", "knock", "warn"),
    ]
    if plan_deg is not None:
        wanted.append((plan_deg, "plan", "mark", "accent strong"))
    low, high = float(hook.advance_deg[0]), float(hook.advance_deg[-1])
    return sorted(mark for mark in wanted if low <= mark[0] <= high)


def _drawn_marks(frame: Frame, marks: list[tuple[float, str, str, str]], one_row: bool) -> str:
    """Upright lines with their names above them: in one row kept apart, or one below the other."""
    texts = [f"{name} {degrees(value, 1)}" for value, name, _, _ in marks]
    widest = max((text_width_px(text) for text in texts), default=0.0)
    places = [float(frame.x(value)) for value, *_ in marks]
    low, high = frame.left + widest / 2, frame.right - widest / 2
    if one_row:
        label_x = kept_apart(places, widest + 12, low, high)
        label_y = [frame.top - 8] * len(marks)
    else:
        label_x = [min(max(x_px, low), high) for x_px in places]
        label_y = [frame.top - 8 - LINE_PX * (len(marks) - 1 - rank) for rank in range(len(marks))]
    drawn = ""
    for (_, _, stroke, class_), text, x_px, text_x, text_y in zip(
        marks, texts, places, label_x, label_y, strict=True
    ):
        drawn += line(x_px, frame.top, x_px, frame.bottom, stroke)
        drawn += words(text_x, text_y, text, class_, "middle")
    return drawn


def _good_span(hook: Hook, frame: Frame) -> str:
    if not (math.isfinite(hook.late99_deg) and math.isfinite(hook.early99_deg)):
        return ""
    left, right = float(frame.x(hook.late99_deg)), float(frame.x(hook.early99_deg))
    height = frame.bottom - frame.top
    return element("rect", x=left, y=frame.top, width=right - left, height=height, class_="band")


def _sentence(hook: Hook) -> str:
    knock = (
        "No knock within the tested advances."
        if math.isnan(hook.knock_limit_deg)
        else f"Knock begins at {hook.knock_limit_deg:.1f}{_NBSP}deg."
    )
    if math.isfinite(hook.knock_ceiling_deg):
        chance = chance_words(hook.knock_chance_allowed_percent).removeprefix(ABOUT)
        knock += f" Its chance is {chance} at {hook.knock_ceiling_deg:.1f}{_NBSP}deg, the ceiling."
    if math.isnan(hook.late99_deg) or math.isnan(hook.early99_deg):
        span = f"The span that gives 99{_NBSP}% of best torque is not determined within the tested advances."
        return f"{span} {knock}"
    span = f"{hook.late99_deg:.1f} to {hook.early99_deg:.1f}{_NBSP}deg"
    return f"The band, {span}, gives at least 99{_NBSP}% of best torque. {knock}"


def _description(hook: Hook, plan_deg: float | None, system: System) -> str:
    plan = "" if plan_deg is None or math.isnan(plan_deg) else f" The plan sets {plan_deg:g} degrees."
    if math.isnan(hook.best_deg):
        words = best_words(hook, system)
        return f"{words[0].upper()}{words[1:]}.{plan} {_sentence(hook)}"
    return (
        f"Torque rises to {torque(hook.best_torque_nm, system)} at {hook.best_deg:.1f} degrees "
        f"and falls again.{plan} {_sentence(hook)}"
    )
