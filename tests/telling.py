"""What a person reads of findings, for tests of sentences."""

from collections.abc import Iterable

from sparkwright.findings import Finding
from sparkwright.units import System
from sparkwright.words.told import told


def said(finding: Finding, system: System = "metric") -> str:
    return str(told(finding, system).sentence)


def to_do(finding: Finding, system: System = "metric") -> str:
    return str(told(finding, system).action or "")


def all_said(findings: Iterable[Finding]) -> tuple[str, ...]:
    return tuple(said(each) for each in findings)
