"""What the results at balancer and distributor say in sentences, beside their numbers for `--json`."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from sparkwright.findings import Finding
from sparkwright.mounting.before_it_goes_in import BeforeItGoesIn
from sparkwright.mounting.cap_plan import CapPlan
from sparkwright.mounting.dead_centre import DeadCentre
from sparkwright.mounting.phasing import RotorPhasing
from sparkwright.mounting.static_setting import StaticSetting
from sparkwright.mounting.tape import DegreeRing, Tape
from sparkwright.words import bench, dead_centre, rotor_phasing, static_setting
from sparkwright.words.told import sentences, told


def said_of_mounting(result: Any) -> dict[str, Any]:
    """Give the sentences of one result; nothing where it has none.

    Parameters
    ----------
    result : object
        Result of a sheet, a mark or a cap.

    Examples
    --------
    >>> from sparkwright.mounting.before_it_goes_in import before_it_goes_in
    >>> said_of_mounting(before_it_goes_in("hall", "clockwise"))["headline"]
    'One spark for one signal, and nothing that moves.'
    """
    match result:
        case DeadCentre():
            return {
                "state": result.state,
                **_lead(result.headline),
                "interval_from": dead_centre.interval_words(result),
                "findings": _texts(result.findings),
                "cautions": list(dead_centre.CAUTIONS),
            }
        case Tape() | DegreeRing():
            return {"warnings": _texts(result.warnings)}
        case BeforeItGoesIn():
            return {
                **_lead(result.headline),
                "troubles": _texts(result.troubles),
                "tasks": [
                    vars(task) | {"boxes": [str(each) for each in task.boxes]} for task in bench.tasks(result)
                ],
                "cautions": list(bench.CAUTIONS),
            }
        case CapPlan():
            return {**_lead(result.headline), "warnings": _texts(result.warnings)}
        case RotorPhasing():
            return {
                "state": result.state,
                **_lead(result.headline),
                "steps": list(map(str, rotor_phasing.steps(result))),
                "proof": list(map(str, rotor_phasing.proof(result))),
                "warnings": _texts(result.warnings),
                "cautions": list(rotor_phasing.CAUTIONS),
            }
        case StaticSetting():
            return {
                **_lead(result.headline),
                "steps": list(static_setting.steps(result)),
                "warnings": _texts(result.warnings),
                "cautions": list(static_setting.CAUTIONS),
            }
        case _:
            return {}


def _lead(headline: Finding) -> dict[str, str]:
    said = told(headline)
    return {"headline": str(said.sentence), "action": str(said.action or "")}


def _texts(findings: Iterable[Finding]) -> list[str]:
    return list(map(str, sentences(findings)))
