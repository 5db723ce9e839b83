"""What a controller is told, in sentences and lines to tick off."""

from __future__ import annotations

from sparkwright.plan.settings import Settings
from sparkwright.units import System
from sparkwright.words.parts import Said, Writer

READ_BACK = "read back ________"


def _in_order(_: System, *, proved: bool) -> Said:
    if proved:
        return (
            "Type it in from the top, tick each line, and read it back.",
            "Save it, switch off and on, read again.",
        )
    return (
        "Type it in from the top, tick each line, and read it back. Mark or delay are not proved yet.",
        "Engine off while you type. Load nothing before the light check.",
    )


def _not_yet(_: System, *, problems: int) -> Said:
    which = "One thing has" if problems == 1 else f"{problems} things have"
    return (
        f"{which} to be put right before this is loaded.",
        "Put them right and print this sheet again: its numbers may change.",
    )


def setting_lines(settings: Settings) -> tuple[str, ...]:
    """Write what stands before the map as lines to tick off, in the order of the work.

    Parameters
    ----------
    settings : Settings
        What the controller is to be set to.
    """
    delay = (
        "not determined: set 0 us now, and what the light check finds after it"
        if settings.delay_us is None
        else f"{settings.delay_us:g} us"
    )
    by_itself = "none to set: the driver or its points keep their own"
    dwell = "by the table" if settings.dwell is not None else by_itself
    limits = {each.name: each.from_rpm for each in settings.running}
    sparks = settings.cranking.sparks
    several = "one spark" if len(sparks) == 1 else f"{len(sparks)} sparks"
    idle = settings.idle
    rpm, kpa = idle.spark_map.rpm, idle.spark_map.kpa
    return tuple(
        f"{line}; {READ_BACK}"
        for line in (
            f"Base: {settings.base_deg:g} deg, proved with the light at a held advance",
            f"Delay: {delay}",
            f"Dwell: {dwell}",
            f"Cranking: {settings.cranking.advance_deg:g} deg up to {settings.cranking.until_rpm:,.0f} rpm, "
            f"{several}",
            f"Advance: at least {settings.least_deg:g}, at most {settings.most_deg:g} deg",
            f"Speed: soft limit {limits['soft-limit']:,.0f}, hard limit {limits['hard-limit']:,.0f} rpm",
            f"Idle block: {idle.advance_deg:g} deg, {rpm[idle.columns[0]]:,.0f} to "
            f"{rpm[idle.columns[1]]:,.0f} rpm, {kpa[idle.rows[0]]:g} to {kpa[idle.rows[1]]:g} kPa",
        )
    )


AFTER_THE_MAP = (
    "Map: read three cells back: low speed at high load, idle, high speed at low load. A table upside down "
    "puts cruise advance at full load and breaks pistons; " + READ_BACK,
    "Trims: each moves the timing as it says when its sensor is unplugged or warmed; " + READ_BACK,
    "Saved, switched off and on, and all of it read once more; " + READ_BACK,
)
"""What is ticked off after map and trims."""

CAUTIONS = (
    "Ignition off and coil unplugged while you type: a controller that restarts may fire the coil.",
    "Start on the late first map, not on this one; come to it step by step, with light and ear.",
    "The emission law and the licences of your place hold for every change of timing.",
)
"""Cautions of the sheet."""

WRITERS: dict[str, Writer] = {"settings.in-order": _in_order, "settings.not-yet": _not_yet}
"""How the settings are told."""
