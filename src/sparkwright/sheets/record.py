"""One result as plain data for `--json`: the same names as in Python, arrays as lists, unknown as null."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable
from dataclasses import fields, is_dataclass
from datetime import datetime
from typing import Any

import numpy as np

from sparkwright import __version__
from sparkwright.check.result import HardwareResult
from sparkwright.desk.advice import Advice, TestNow
from sparkwright.drive.result import DriveResult
from sparkwright.dyno.fits import DynoResult
from sparkwright.dyno.pull_result import PullResult
from sparkwright.edit.difference import Moved
from sparkwright.findings import Finding, Sentence, each_once
from sparkwright.job import Job
from sparkwright.learn.next_runs import NextResult
from sparkwright.learn.result import LearnResult
from sparkwright.light.verdict import LightResult, NextReading, Proof
from sparkwright.plan.commanded import Commanded
from sparkwright.plan.compare import Comparison
from sparkwright.plan.driven import Driven
from sparkwright.plan.first_map import FirstMap
from sparkwright.plan.idle_block import IdleBlock
from sparkwright.plan.mine import Mine
from sparkwright.plan.result import Hook, OldCurve, PlanResult
from sparkwright.plan.rules_of_the_trade import SecondOpinion
from sparkwright.plan.settings import Settings
from sparkwright.plan.trims import Trims
from sparkwright.sheets.record_mounting import said_of_mounting
from sparkwright.words.desk import caution_texts
from sparkwright.words.told import sentences, told

SCHEMA_NUMBERS = {"plan": 2, "compare": 2, "card": 2, "dyno": 2, "learn": 2, "next": 2}
"""Commands whose keys or values have changed their meaning, and how often they did plus one."""

BESIDE_RESULTS = ("assumed", "warnings", "job_name", "fingerprint")
"""What a result object carries and the record holds beside `results`, once for every command."""


def plain(value: Any) -> Any:
    """Turn results into what JSON can hold.

    nan becomes null, for unknown is never zero. An infinite limit keeps its meaning as text: a knock
    limit of "-inf" is a charge that knocks at any advance, which null would hide.

    Parameters
    ----------
    value : object
        A result, or any part of one.

    Examples
    --------
    >>> plain({"advance_deg": np.array([[10.0, np.nan]])})
    {'advance_deg': [[10.0, None]]}
    """
    if isinstance(value, Sentence):
        return str(value)
    if isinstance(value, Finding):
        return _finding(value)
    if is_dataclass(value) and not isinstance(value, type):
        return _fields(value) | _said(value)
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, np.generic):
        return plain(value.item())
    if isinstance(value, dict):
        return {str(key): plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(each) for each in value]
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, float):
        return None if math.isnan(value) else value if math.isfinite(value) else str(value)
    return value


def _fields(value: Any) -> dict[str, Any]:
    """Give what a result holds by name; what a plan's cells hold stands beside what is said of them."""
    recorded = (each.name for each in fields(value) if each.metadata.get("record", True))
    held = {name: plain(getattr(value, name)) for name in recorded}
    return held.pop("cells") | held if isinstance(value, PlanResult) else held


def _finding(finding: Finding) -> dict[str, Any]:
    """Give a finding as data, with its sentence and action as a person reads them."""
    said = told(finding)
    return {
        "kind": finding.kind,
        "state": finding.state,
        "topic": said.topic,
        "sentence": str(said.sentence),
        "action": str(said.action or ""),
        "numbers": plain(finding.numbers),
    }


def _said(result: Any) -> dict[str, Any]:
    """Give what a result says in sentences, and as data what else stands in sentences only."""
    match result:
        case HardwareResult():
            return {"state": result.state} | _told(result.headline, result.problems, result.warnings)
        case (
            PlanResult()
            | Comparison()
            | FirstMap()
            | SecondOpinion()
            | Trims()
            | Driven()
            | Commanded()
            | IdleBlock()
            | Settings()
            | Mine()
        ):
            found = each_once((result.headline, *result.problems, *result.warnings))
            return _told(result.headline, result.problems, result.warnings) | {"noted": plain(found)}
        case Advice():
            return _told(result.headline, (), result.contradictions)
        case TestNow():
            return {"caution_texts": list(caution_texts(result.cautions))}
        case LightResult():
            to_do = result.to_do and told(result.to_do).action
            return _told(result.headline, result.problems, result.warnings) | {"action": str(to_do or "")}
        case DriveResult():
            return _lead(result.headline)
        case DynoResult():
            to_do = told(result.to_do).action
            return _lead(result.headline) | {"action": str(to_do or ""), "noted": plain((result.headline,))}
        case LearnResult() | NextResult():
            return _lead(result.headline) | {"noted": plain((result.headline,))}
        case PullResult():
            headline = " ".join(map(str, sentences(result.findings)))
            return {"headline": headline, "action": str(told(result.to_do).action or "")}
        case Proof():
            return {"sentence": str(told(result.finding).sentence)}
        case NextReading():
            return {"why": str(told(result.why).sentence)}
        case Hook():
            return {"outside": plain(sentences(result.outside))}
        case OldCurve():
            return {"sentences": plain(sentences(result.findings))}
        case Moved():
            lead = {"headline": str(told(result.headline).sentence), "noted": plain((result.headline,))}
            return lead | {"sentences": plain(sentences(result.findings))}
        case _:
            return said_of_mounting(result)


def _lead(headline: Finding) -> dict[str, Any]:
    lead = told(headline)
    return {"headline": str(lead.sentence), "action": str(lead.action or "")}


def _told(headline: Finding, problems: tuple[Finding, ...], warnings: tuple[Finding, ...]) -> dict[str, Any]:
    return {
        **_lead(headline),
        "problems": plain(sentences(problems)),
        "warnings": plain(sentences(warnings)),
        "noted": plain(each_once((headline, *warnings))),
    }


def record(
    kind: str,
    job: Job | None,
    results: Any,
    *,
    assumed: Iterable[Any] = (),
    warnings: Iterable[Finding | Sentence | str] = (),
) -> dict[str, Any]:
    """Build what a command prints with `--json`.

    Parameters
    ----------
    kind : str
        The command: `check`, `point`, `plan`, `compare`, `card`.
    job : Job or None
        The job that was computed; None where a command needs none.
    results : dataclass
        The result object.
    assumed : iterable
        What was taken where nothing was stated; each has ``field``, ``value`` and ``why``.
    warnings : iterable of Finding, Sentence or str
        What is said beside the results.

    Returns
    -------
    dict
        Keys ``schema``, ``version``, ``job``, ``results``, ``assumed``, ``warnings``.
    """
    body = {key: value for key, value in plain(results).items() if key not in BESIDE_RESULTS}
    return {
        "schema": f"urn:sparkwright:{kind}:{SCHEMA_NUMBERS.get(kind, 1)}",
        "version": __version__,
        "job": None
        if job is None
        else {
            "name": job.name,
            "invented": job.invented,
            "fingerprint": job.fingerprint,
            "facts": job.facts(),
        },
        "results": body,
        "assumed": plain(list(assumed)),
        "warnings": [str(told(each).sentence if isinstance(each, Finding) else each) for each in warnings],
    }


def json_text(whole: dict[str, Any]) -> str:
    """Write a record; refuses to write a number that JSON doesn't have.

    Parameters
    ----------
    whole : dict
        The record as `plain` leaves it.
    """
    return json.dumps(whole, ensure_ascii=False, allow_nan=False, indent=1) + "\n"
