"""The sheet of the first start: what comes before it, the late map, and the steps to the plan to tick off."""

from __future__ import annotations

from sparkwright.drawing.true_scale import Paper, Sheet, TextsPart, room_mm
from sparkwright.job import Job
from sparkwright.pictures.plain_map import map_part
from sparkwright.plan.first_map import FirstMap
from sparkwright.plan.load_terms import loads_of
from sparkwright.plan.on_rows import own_cells
from sparkwright.units import System
from sparkwright.words.first_map import BEFORE_THE_FIRST_START, WHILE_STEPPING
from sparkwright.words.told import sentences, told


def first_map_sheet(first: FirstMap, job: Job, paper: Paper = "a4", system: System = "metric") -> Sheet:
    """Lay the sheet of the first start out.

    Parameters
    ----------
    first : FirstMap
        The careful map for the first start.
    job : Job
        The job that it is for.
    paper : Paper, optional
        Paper that it is printed on.
    system : System, optional
        Units that the person reads.
    """
    lead, loads = told(first.headline, system), loads_of(job).over_pressure
    typed_in = own_cells(first.spark_map, loads.rows)
    return Sheet(
        kind="First start",
        title=job.name,
        invented=job.invented,
        headline=str(lead.sentence),
        action=str(lead.action or ""),
        problems=tuple(map(str, sentences((*first.problems[1:], *first.warnings), system))),
        rows=(
            (TextsPart("Before the first start", BEFORE_THE_FIRST_START, "boxes"),),
            (map_part(typed_in, "The first map", room_mm(paper)[0], loads=loads),),
            (TextsPart("At every step", WHILE_STEPPING, "cautions"),),
            *((TextsPart(title, texts, "boxes"),) for title, texts in _steps(first, system)),
        ),
        fingerprint=first.fingerprint,
        to_scale=False,
    )


def _steps(first: FirstMap, system: System) -> list[tuple[str, tuple[str, ...]]]:
    """Give the steps of each part of the map under its name, as boxes to tick; what to do stands first."""
    parts: dict[str, list[str]] = {}
    for step in first.steps:
        said = told(step.finding, system)
        boxes = parts.setdefault(step.region, [str(said.action)])
        boxes.append(str(said.sentence))
    return [(region.capitalize(), tuple(boxes)) for region, boxes in parts.items()]
