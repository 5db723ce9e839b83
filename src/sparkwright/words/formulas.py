"""Where a formula is used outside the range it was measured in, in sentences."""

from __future__ import annotations

from sparkwright.cycle.knock import LOWEST_OCTANE_HELD
from sparkwright.units import System
from sparkwright.words.parts import Said, Writer

_FLAME = {
    "phi": ("Mixture phi", ""),
    "unburned_k": ("Unburned temperature", " K"),
    "pressure_atm": ("Pressure", " atm"),
}


def _octane(_: System, *, octane: float) -> Said:
    if octane < LOWEST_OCTANE_HELD:
        return (
            f"Octane {octane:g} lies below 80, where the knock law fears knock too soon: "
            "expect the engine to stand more advance than the knock limit says.",
            "",
        )
    return (
        f"Octane {octane:g} lies above 100, where nothing was measured to hold the knock law against: "
        "the knock limit is a guess.",
        "",
    )


def _flame(_: System, *, quantity: str, value: float, least: float, most: float) -> Said:
    name, unit = _FLAME[quantity]
    return (
        f"{name} {value:.4g}{unit} is outside {least:g} to {most:g}{unit}, where burning velocity was "
        "measured: the speed is stretched beyond it.",
        "",
    )


def _diluted(_: System, *, diluent_share: float, measured_share: float) -> Said:
    return (
        f"Dilution of {100 * diluent_share:.0f} % is above {100 * measured_share:.0f} %, where burning "
        "velocity was measured last: the burn time is a guess.",
        "",
    )


def _intake_above_exhaust(_: System) -> Said:
    return "The intake presses harder than the exhaust: the burned gas left behind is a guess there.", ""


def _slower_than_measured(_: System, *, rpm: float) -> Said:
    return f"At {rpm:.0f} rpm the engine turns slower than the engines whose burned gas was measured.", ""


def _more_than_measured(_: System, *, share: float) -> Said:
    return (
        f"Burned gas of {100.0 * share:.0f} percent is more than was measured: "
        "expect a rough idle, and a best timing that is a guess.",
        "",
    )


def _limit_passed(
    _: System, *, standard: str, quantity: str, unit: str, value: float, least: float, most: float
) -> Said:
    here = f"{value:.1f} {unit}" if unit else f"{value:.3f}"
    return (
        f"{standard} holds for {f'{least:g} to {most:g} {unit}'.strip()} of {quantity}; here it is {here}.",
        "",
    )


WRITERS: dict[str, Writer] = {
    "octane.outside-range": _octane,
    "flame.outside-range": _flame,
    "flame.diluted": _diluted,
    "residual.intake-above-exhaust": _intake_above_exhaust,
    "residual.slower-than-measured": _slower_than_measured,
    "residual.more-than-measured": _more_than_measured,
    "correction.limit-passed": _limit_passed,
}
