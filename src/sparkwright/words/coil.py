"""The coil and its voltage in sentences: what it stores, what it sheds, and whether the spark jumps."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

from sparkwright.units import System
from sparkwright.words.check import not_proved_yet
from sparkwright.words.parts import Said, Writer, length


def _discharge(_: System, *, energy_mj: float, rise_us: float, most_w: float) -> Said:
    return (
        f"Each discharge holds {energy_mj:.0f} mJ and rises in {rise_us:.0f} us; "
        f"there is no dwell to set. It draws {most_w:.0f} W at the highest speed.",
        "",
    )


def _never_full(_: System, *, energy_wanted_mj: float, running_v: float, current_a: float) -> Said:
    return (
        f"At {running_v:g} V the coil never stores {energy_wanted_mj:g} mJ: it takes "
        f"{current_a:.1f} A, more than resistance and driver let flow.",
        "Ask for less energy, take out a ballast that isn't needed, or fit a coil of lower resistance.",
    )


def _full_up_to(
    _: System, *, energy_wanted_mj: float, highest_full_energy_rpm: float, top_rpm: float, left_mj: float
) -> Said:
    return (
        f"The coil gives its {energy_wanted_mj:g} mJ up to {highest_full_energy_rpm:,.0f} rpm; "
        f"at {top_rpm:,.0f} rpm {left_mj:.0f} mJ are left.",
        "Accept it, ask for less energy, or fit a coil of lower inductance.",
    )


def _full(
    _: System, *, energy_wanted_mj: float, top_rpm: float, duty_percent: float, assumed: Sequence[str] = ()
) -> Said:
    return (
        f"The coil gives its {energy_wanted_mj:g} mJ up to {top_rpm:,.0f} rpm, with "
        f"{duty_percent:.0f} % duty there.",
        not_proved_yet(assumed),
    )


def _starts(
    _: System, *, cranking_v: float, stored_mj: float, energy_wanted_mj: float, assumed: Sequence[str] = ()
) -> Said:
    return (
        f"On the starter, at {cranking_v:g} V, the coil stores {stored_mj:.0f} of {energy_wanted_mj:g} mJ.",
        not_proved_yet(assumed),
    )


def _starts_weakly(system: System, **stored: Any) -> Said:
    return (
        _starts(system, **stored)[0],
        "Start with a full battery; a start feed past the ballast helps where there is one.",
    )


def _heat_not_stated(part: str, _: System, *, most_w: float) -> Said:
    return (
        f"The {part} sheds up to {most_w:.0f} W; what it can stand isn't stated.",
        f"State what heat the {part} may shed, from its data sheet, or feel it after a long run, key off.",
    )


def _too_hot(part: str, system: System, **watts: Any) -> Said:
    return _cool_enough(part, system, **watts)[0], "Shorten the dwell, or mount it where it cools."


def _cool_enough(part: str, _: System, *, most_w: float, allowed_w: float) -> Said:
    return f"The {part} sheds up to {most_w:.0f} W of the {allowed_w:g} W it may.", ""


_VOLTAGE_ACTIONS = {
    "voltage.misfires": (
        "Narrow the plug gap, give more dwell, or fit a stronger coil: as it is, this point misfires."
    ),
    "voltage.may-misfire": (
        "It may misfire here. Narrow the plug gap, give more dwell, or fit a stronger coil; measuring "
        "what is assumed narrows the band."
    ),
    "voltage.may-misfire-worn": (
        "It may misfire here once plugs are worn or leads wet: keep both fresh, or narrow the gap."
    ),
    "voltage.little-spare": (
        "Worn and wet parts may ask up to {worn_kv:.0f} kV here: keep plugs fresh and "
        "leads dry, or narrow the gap a little."
    ),
    "voltage.enough": "",
}


def _voltage(
    action: str,
    _: System,
    *,
    rpm: float,
    kpa: float,
    asked_kv: float,
    asked_low_kv: float,
    asked_high_kv: float,
    there_kv: float,
    there_low_kv: float,
    there_high_kv: float,
    worn_kv: float,
) -> Said:
    return (
        f"Hardest for the coil is {rpm:,.0f} rpm at {kpa:.0f} kPa: "
        f"{asked_kv:.1f} kV asked (it may be {asked_low_kv:.0f} to {asked_high_kv:.0f}), "
        f"{there_kv:.1f} kV there ({there_low_kv:.0f} to {there_high_kv:.0f}).",
        action.format(worn_kv=worn_kv),
    )


def _saturation_not_stated(_: System) -> Said:
    return (
        "The current at which the coil saturates isn't stated: its inductance is taken as constant, and "
        "a real coil stores less at high current.",
        "",
    )


def _beyond_proven(
    system: System,
    *,
    gap_mm: float,
    pressure_bar: float,
    temperature_k: float,
    bar_cm: float,
    least_bar_cm: float,
    most_bar_cm: float,
) -> Said:
    return (
        f"Breakdown of {length(gap_mm, system, 'g')} at {pressure_bar:.3g} bar and {temperature_k:.0f} K: "
        f"pressure times gap is {bar_cm:.3g} bar cm, outside the {least_bar_cm:g} to {most_bar_cm:g} over "
        "which the formula is proven.",
        "",
    )


WRITERS: dict[str, Writer] = {
    "coil.discharge": _discharge,
    "coil.never-full": _never_full,
    "coil.full-up-to": _full_up_to,
    "coil.full": _full,
    "coil.starts": _starts,
    "coil.starts-weakly": _starts_weakly,
    **{
        f"{part}.{kind}": partial(write, part)
        for part in ("coil", "driver")
        for kind, write in (
            ("heat-not-stated", _heat_not_stated),
            ("too-hot", _too_hot),
            ("cool-enough", _cool_enough),
        )
    },
    **{kind: partial(_voltage, action) for kind, action in _VOLTAGE_ACTIONS.items()},
    "coil.saturation-not-stated": _saturation_not_stated,
    "gap.beyond-proven": _beyond_proven,
}
"""How each kind of finding is told."""
