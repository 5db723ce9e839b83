"""What a controller is told, in sentences and lines to tick off."""

from __future__ import annotations

from math import nan

from sparkwright.job import LoadTerm
from sparkwright.plan.idle_block import IdleBlock
from sparkwright.plan.load_terms import ABSOLUTE, Loads
from sparkwright.plan.result import PlanResult
from sparkwright.plan.settings import Settings
from sparkwright.plan.trims import Trim
from sparkwright.units import System
from sparkwright.words.loads import own_text, own_words
from sparkwright.words.parts import Said, Writer, in_own_units, number_of_cells, own_unit

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


def setting_lines(settings: Settings, loads: Loads = ABSOLUTE) -> tuple[str, ...]:
    """Write what stands before the map as lines to tick off, in the order of the work.

    Parameters
    ----------
    settings : Settings
        What the controller is to be set to.
    loads : Loads, optional
        In what the controller has its loads.
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
            f"{rpm[idle.columns[1]]:,.0f} rpm, {own_text(kpa[idle.rows[0]], loads)} to "
            f"{own_words(kpa[idle.rows[1]], loads)}",
        )
    )


def idle_block_line(idle: IdleBlock, loads: Loads = ABSOLUTE) -> str:
    """Name the cells of the idle block and what is typed into them.

    Parameters
    ----------
    idle : IdleBlock
        The block.
    loads : Loads, optional
        In what the controller has its loads.
    """
    spark_map, (first, last), (left, right) = idle.spark_map, idle.rows, idle.columns
    rpm = ", ".join(f"{each:,.0f}" for each in spark_map.rpm[left : right + 1])
    own = ", ".join(own_text(each, loads) for each in spark_map.kpa[first : last + 1])
    return f"{idle.advance_deg:g} deg, flat, in the cells of rpm {rpm} by {loads.unit} {own}"


def trim_line(trim: Trim, system: System = "metric", loads: Loads = ABSOLUTE) -> str:
    """Say what is typed in for a trim, in a line; one with loads of its own is left to the settings sheet.

    Parameters
    ----------
    trim : Trim
        The trim.
    system : System, optional
        Units that the person reads; loads stay in the controller's.
    loads : Loads, optional
        In what the controller has its loads.

    Examples
    --------
    >>> at, kpa = [20.0, 42.0], [30.0, 60.0, 90.0]
    >>> trim_line(Trim("air temperature", "degC", at, at, kpa, [0.0, -3.0], [0.5, 0.5, 1.0]))
    'by air temperature: add 0 at 20, -3 at 42 degC; times, by load in kPa: 0.5 up to 60, 1 up to 90'
    """
    if trim.weights is None:
        low, high = float(trim.degrees.min()), float(trim.degrees.max())
        return f"by {trim.name}: add {low:g} to {high:g} deg by its table over load, on the settings sheet"
    sensor, unit = trim.sensor.tolist(), trim.unit
    if unit == "degC":
        sensor = [in_own_units(value, "temperature", system) for value in sensor]
        unit = own_unit("temperature", system)
    pairs = zip(sensor, trim.degrees.tolist(), strict=True)
    added = ", ".join(f"{degrees:g} at {value:.0f}" for value, degrees in pairs)
    ends = [
        f"{weight:g} up to {own_text(kpa, loads)}"
        for kpa, weight, following in zip(trim.kpa, trim.weights, [*trim.weights[1:], nan], strict=True)
        if weight != following
    ]
    return f"by {trim.name}: add {added} {unit}; times, by load in {loads.unit}: {', '.join(ends)}"


def card_lines(
    settings: Settings, planned: PlanResult, system: System, loads: Loads = ABSOLUTE
) -> list[list[str]]:
    """Give what the card adds to its map: idle block and trims, each a label and its text.

    Parameters
    ----------
    settings : Settings
        What the controller is to be set to.
    planned : PlanResult
        The plan whose map stands on the card.
    system : System
        Units that the person reads.
    loads : Loads, optional
        In what the controller has its loads.
    """
    tables = () if settings.trims is None else settings.trims.trims
    lines = [
        ["Idle block", idle_block_line(settings.idle, loads)],
        *(["Trim", trim_line(trim, system, loads)] for trim in tables),
    ]
    cells, most_deg = settings.later_than(planned)
    if cells:
        stand = number_of_cells(cells, "stands", "stand")
        lines.append(
            ["Map to type in", f"that of the settings sheet: {stand} up to {most_deg:g} deg later than here"]
        )
    return lines


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

BY_THROTTLE = (
    "This controller has its loads by throttle, and this map stands over pressure: `sparkwright export "
    "--to-type` writes it by throttle. Type that one in."
)
"""What stands first among the cautions where the map can't be typed in as it is printed."""


def cautions_of(load: LoadTerm | None) -> tuple[str, ...]:
    """Give the cautions of the sheet for a controller.

    Parameters
    ----------
    load : str or None
        In what it has its loads; None where the job doesn't say.
    """
    return (BY_THROTTLE, *CAUTIONS) if load == "percent of throttle" else CAUTIONS


WRITERS: dict[str, Writer] = {"settings.in-order": _in_order, "settings.not-yet": _not_yet}
"""How the settings are told."""
