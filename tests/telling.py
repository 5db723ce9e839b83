"""What a person reads of findings, for tests of sentences."""

from collections.abc import Iterable

from sparkwright.findings import Finding
from sparkwright.light.verdict import LightResult
from sparkwright.units import System
from sparkwright.words.told import told


def sentence_of(finding: Finding, system: System = "metric") -> str:
    return str(told(finding, system).sentence)


def action_of(finding: Finding, system: System = "metric") -> str:
    return str(told(finding, system).action or "")


def sentences_of(findings: Iterable[Finding]) -> tuple[str, ...]:
    return tuple(sentence_of(each) for each in findings)


def topic_of(finding: Finding) -> str:
    return told(finding).topic


def first_act(result: LightResult) -> str:
    """What a light check asks to be done first."""
    return "" if result.to_do is None else action_of(result.to_do)
