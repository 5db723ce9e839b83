"""The first map and the steps from it to the plan, in sentences."""

from __future__ import annotations

from functools import partial
from math import isnan

from sparkwright.units import System
from sparkwright.words.parts import Said, Writer, number_of_cells

BEFORE_THE_FIRST_START = (
    "Prove true top dead centre at the piston, not from the mark alone.",
    "Coil unplugged or plugs out: crank, and see with the light that every spark falls at base.",
    "Gear in neutral, wheels chocked, brake on, nobody near fan and belts; the exhaust leads outside.",
    "A spark too early while cranking kicks the starter back and breaks its nose: if it kicks, stop and set "
    "base later before you try again.",
    "Running, hold one advance in the controller and read it at six speeds with the light: load no map "
    "before that is proved.",
)
"""What comes before the key is turned, in the order of the work."""

WHILE_STEPPING = (
    "Take the step back at the first knock, whatever the plan says, and write down where it was.",
    "No load above idle before the mixture is measured: a weak mixture knocks and burns pistons at any "
    "timing.",
    "This late, the exhaust runs hot and may glow: keep pulls short, hands and hoses away.",
    "Work on a brake or on a closed road, under the law of the place; boost only with somebody used to it.",
)
"""Cautions that hold at every step."""

_LOOK = {
    "idle": (
        "Warm, at idle, nothing switched on.",
        "Speed rises a little and vacuum with it; it still catches itself when the throttle is blipped.",
        "Before: at idle the light shows what is commanded within 1 deg.",
    ),
    "light load": (
        "Steady cruise on the flat, a minute at each speed.",
        "It pulls the same speed on less throttle and the exhaust gets cooler; surging, or a ping on "
        "tip-in, is too much.",
        "Before: at 2,500 rpm without load the light shows what is commanded within 1 deg.",
    ),
    "heavy load": (
        "Half throttle, from low speed up, some seconds at a time.",
        "Listen at the block for a rattle; look for lambda as planned, and for pepper or bright specks on "
        "the plugs.",
        "Before: the held advance is read again at 3,000 rpm, warm.",
    ),
    "full load": (
        "Full throttle in short pulls, lowest speed last, mixture rich as planned.",
        "Listen with a knock ear or a tube on the block; torque that no longer rises with 2 deg more is the "
        "end of it, knock or none. Read the plugs after each pull.",
        "Before: the held advance is read again at the highest speed that is safe without load.",
    ),
    "boost": (
        "Full throttle under boost, two seconds, least boost first, fuel pressure and charge temperature "
        "watched.",
        "Under boost the first knock can break a piston: one who drives, one who listens. Exhaust over what "
        "its metal bears, or lambda weaker than planned, ends the pull.",
        "Before: light, boost gauge and lambda are proved; the boost limit of the controller is tried.",
    ),
}
"""For each part of the map: how to run it, what to listen and look for, and the light check before it."""


def _step(
    region: str,
    _: System,
    *,
    number: int,
    cells: int,
    raised_deg: float,
    chance_percent: float,
    rpm: float,
    kpa: float,
) -> Said:
    run, look, light = _LOOK[region]
    chance = (
        "no cell of it is met while running"
        if isnan(chance_percent)
        else f"chance of knock {_percent(chance_percent)} at most, at {rpm:,.0f} rpm and {kpa:.0f} kPa"
    )
    raised = number_of_cells(cells, "goes", "go")
    return (
        f"{number}. {region}: {raised} up, by {raised_deg:g} deg at most; {chance}.",
        f"{light} {run} {look}",
    )


def _percent(chance_percent: float) -> str:
    return "under 0.1 %" if chance_percent < 0.1 else f"{chance_percent:.1f} %"


def _late(_: System, *, chance_percent: float, all_over_deg: float, steps: int) -> Said:
    if steps == 0:
        return (
            "The plan with its idle block is late enough to start on: knock is unlikely in every cell.",
            "Prove base and one held advance with the light, then load it.",
        )
    return (
        f"The first map is up to {all_over_deg:g} deg later than the plan with its idle block; no cell "
        f"has more than "
        f"{_percent(chance_percent)} chance of knock.",
        f"Start on it, and come to the plan in {steps} steps. With one knob only: {all_over_deg:g} deg off "
        "everywhere.",
    )


def _still_knocks(_: System, *, cells: int, chance_percent: float, rpm: float, kpa: float) -> Said:
    knock = number_of_cells(cells, "keeps", "keep")
    return (
        f"However late, {knock} more than 1 % chance of knock, the most {_percent(chance_percent)} at "
        f"{rpm:,.0f} rpm and {kpa:.0f} kPa.",
        "Keep out of those cells: a better fuel, less boost or cooler air first.",
    )


def _hand_left_out(_: System, *, cells: int) -> Said:
    return (
        f"{number_of_cells(cells, 'that is', 'that are')} set by hand over a ceiling only come back with the "
        "last step.",
        "Look at them again before it.",
    )


WRITERS: dict[str, Writer] = {
    "first-map.late": _late,
    "first-map.still-knocks": _still_knocks,
    "first-map.hand-left-out": _hand_left_out,
    "first-step.idle": partial(_step, "idle"),
    "first-step.light-load": partial(_step, "light load"),
    "first-step.heavy-load": partial(_step, "heavy load"),
    "first-step.full-load": partial(_step, "full load"),
    "first-step.boost": partial(_step, "boost"),
}
"""How the first map and its steps are told."""
