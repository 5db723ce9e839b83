"""All pictures of a job at once, written into a folder."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from sparkwright.check.result import HardwareResult
from sparkwright.drawing.look import Theme
from sparkwright.drawing.picture import Picture
from sparkwright.pictures.cap import cap_picture
from sparkwright.pictures.dwell import dwell_picture
from sparkwright.pictures.hook import hook_name, hook_picture
from sparkwright.pictures.map_grid import map_grid_picture
from sparkwright.pictures.map_old import old_map_picture
from sparkwright.pictures.map_picture import map_picture
from sparkwright.pictures.ribbon import ribbon_picture
from sparkwright.plan.load_terms import ABSOLUTE, Loads
from sparkwright.plan.result import Hook, PlanResult


def pictures(
    plan: PlanResult | None = None,
    hardware: HardwareResult | None = None,
    hooks: Iterable[Hook] = (),
    width_px: float = 720.0,
    loads: Loads = ABSOLUTE,
) -> tuple[Picture, ...]:
    """Draw every picture that the given results allow.

    Parameters
    ----------
    plan : PlanResult, optional
        Gives the map, its grid, the full-load and cruise ribbons and, where the job states the old curves,
        the old system against it.
    hardware : HardwareResult, optional
        Gives the cap and, for an inductive ignition, dwell.
    hooks : iterable of Hook
        Each gives one picture, with the plan's value where there is a plan.
    width_px : float
        Width of the drawings; 360 suits a phone [px]. The cap keeps its true size.
    loads : Loads, optional
        In what the map and its grid have their loads.

    Returns
    -------
    tuple of Picture
        Named ``map``, ``map-grid``, ``full-load``, ``cruise``, ``old-map``, ``cap``, ``dwell``,
        ``hook-3000-95``.

    Examples
    --------
    >>> pictures()
    ()
    """
    drawn: list[Picture] = []
    if plan is not None:
        drawn += [
            map_picture(plan, width_px=width_px, loads=loads),
            map_grid_picture(plan, width_px=width_px, loads=loads),
            ribbon_picture(plan.full_load, "full-load", width_px),
            ribbon_picture(plan.cruise, "cruise", width_px),
        ]
        if plan.old_curve is not None:
            drawn.append(old_map_picture(plan, plan.old_curve, width_px=width_px))
    if hardware is not None:
        drawn.append(cap_picture(hardware, plan))
        if hardware.dwell is not None:
            drawn.append(dwell_picture(hardware, width_px=width_px))
    for hook in hooks:
        plan_deg = None if plan is None else plan.cells.spark_map.at(hook.rpm, hook.kpa)
        drawn.append(hook_picture(hook, plan_deg, hook_name(hook), width_px))
    return tuple(drawn)


def save_pictures(
    folder: Path,
    plan: PlanResult | None = None,
    hardware: HardwareResult | None = None,
    hooks: Iterable[Hook] = (),
    theme: Theme = "light",
    ppi: float = 192.0,
) -> tuple[Path, ...]:
    """Write every picture as SVG and PNG with the CSV of its numbers; the folder is made if need be.

    Parameters
    ----------
    folder : Path
        Where to.
    plan : PlanResult, optional
        The map.
    hardware : HardwareResult, optional
        The check.
    hooks : iterable of Hook
        Points of the map.
    theme : {"light", "dark", "paper", "auto"}
        Colours; with ``auto`` the SVG follows the reader's screen and the PNG is light.
    ppi : float
        Pixels per inch of the PNG, 36 to 1200.

    Returns
    -------
    tuple of Path
        The files written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    return tuple(
        path for picture in pictures(plan, hardware, hooks) for path in picture.save(folder, theme, ppi)
    )
