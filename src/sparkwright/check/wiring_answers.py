"""Which fact of the job each point of the wiring list is kept in, and the job with points answered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, get_args

from sparkwright.errors import Refusal
from sparkwright.ignition.order import cap_order
from sparkwright.ignition.wiring import CheckState
from sparkwright.job import Job


@dataclass(frozen=True)
class Fact:
    """Where an answer is kept, as the job file writes it; None for an answer that no value says."""

    section: str
    key: str
    done: Any
    otherwise: Any = None
    may_be_open: bool = True


FACTS: dict[str, Fact] = {
    "advance-locked": Fact("distributor", "advance", "locked", "free", may_be_open=False),
    "module-inside": Fact("distributor", "module_inside", "none", "own dwell"),
    "vacuum-sealed": Fact("distributor", "vacuum_advance", "disconnected", "connected"),
    "pickup-polarity": Fact("pickup", "polarity_checked", True, False),
    "pickup-twisted": Fact("pickup", "twisted_pair", True, False),
    "pickup-away": Fact("pickup", "away_from_plug_leads", True, False),
    "no-ballast": Fact("driver", "ballast", "0 ohm"),
    "capacitive-alone": Fact("driver", "other_leads_on_coil", False, True),
    "rotor-screws": Fact("distributor", "rotor_screws_secured", True, False),
    "cap-vented": Fact("distributor", "cap_vented", True, False),
    "cap-order": Fact("distributor", "cap_order", None),
}
"""By key of the wiring item. ``cap-order`` is filled from firing order and rotation."""


def answers_possible(item: str, state: CheckState) -> tuple[CheckState, ...]:
    """Give the answers that can be kept for a point of the list, with the one it has now.

    Parameters
    ----------
    item : str
        Which point of the list.
    state : CheckState
        How it stands now.

    Examples
    --------
    >>> answers_possible("pickup-polarity", "open"), answers_possible("hall-supply", "open")
    (('done', 'look', 'open'), ())
    """
    fact = FACTS.get(item)
    if fact is None:
        return ()
    possible: set[CheckState] = {"done", state}
    if fact.otherwise is not None:
        possible.add("look")
    if fact.may_be_open:
        possible.add("open")
    order: tuple[CheckState, ...] = ("done", "look", "open")
    return tuple(each for each in order if each in possible)


def answered(job: Job, answers: Mapping[str, str], now: Mapping[str, CheckState]) -> Job:
    """Give the job with points of the wiring list answered.

    Parameters
    ----------
    job : Job
        The job as it stands.
    answers : mapping
        By key of the wiring item: "done", "look" (known otherwise) or "open" (nobody knows).
    now : mapping
        How each point stands; one that is answered as it stands keeps its fact as it was written.

    Raises
    ------
    Refusal
        For a point that isn't on the list, or an answer that it can't have.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> job = Job.from_toml(starter_text())
    >>> answered(job, {"pickup-polarity": "done"}, {"pickup-polarity": "open"}).pickup.polarity_checked
    True
    """
    for item, answer in answers.items():
        if item not in now or item not in FACTS:
            raise Refusal.at(f"wiring.{item}", answer, "must be a point of this job's wiring list")
        if answer not in get_args(CheckState) or answer not in answers_possible(item, now[item]):
            allowed = ", ".join(answers_possible(item, now[item]))
            raise Refusal.at(f"wiring.{item}", answer, f"must be one of {allowed}")
        if answer != now[item]:
            fact = FACTS[item]
            job = job.changed(fact.section, **{fact.key: _value(job, item, answer)})
    return job


def _value(job: Job, item: str, answer: str) -> Any:
    if answer == "open":
        return None
    fact = FACTS[item]
    if item == "cap-order":
        return list(cap_order(job.engine.firing_order, job.distributor.rotation, None).cylinders)
    return fact.done if answer == "done" else fact.otherwise
