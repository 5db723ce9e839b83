"""What a person reads of sweeps, of what was learned and of pulls; the numbers are made up, told by head."""

from __future__ import annotations

import pytest

from sparkwright.findings import Finding, State, Value
from telling import action_of, sentence_of


@pytest.mark.parametrize(
    ("kind", "state", "numbers", "told"),
    [
        ("dyno.no-top", "open", {"aside": 1}, "No sweep places a top; 1 set aside."),
        (
            "sweep.other-best",
            "problem",
            {"sweep": "one", "others": False, "off_deg": -25.4},
            "Sweep one seems to be of another engine: its best lies 25 deg from where the job would have it.",
        ),
        (
            "learned.no-best",
            "open",
            {"sweeps": 1, "pulls": 0, "aside": 0},
            "Learned from 1 sweep; best is not determined in any cell.",
        ),
        (
            "learned.best",
            "look",
            {"sweeps": 2, "pulls": 3, "aside": 1, "half_deg": 1.25},
            "Learned from 2 sweeps and 3 pulls; 1 set aside: best is known to +-1.2 deg (90 %) in the middle "
            "cell.",
        ),
        (
            "pulls.not-real",
            "good",
            {"first": "30", "second": "34", "mean_nm": -1.25},
            "34 less 30: no difference that is real; -1.2 N m in the mean lies within the noise.",
        ),
    ],
)
def test_sweeps_and_pulls_are_told(kind: str, state: State, numbers: dict[str, Value], told: str) -> None:
    assert sentence_of(Finding(kind, state, numbers)) == told


def test_what_a_sweep_is_worth_is_told_in_the_persons_units() -> None:
    """1 lb-ft is 1.3558 N m (NIST SP 811, table of factors): 4.07 N m are 3.00 lb-ft, 13.56 are 10.00."""
    numbers: dict[str, Value] = {
        "rpm": 2500.0,
        "kpa": 90.0,
        "advances_deg": (12.0, 17.0),
        "worth_nm": 4.07,
        "lost_nm": 13.56,
    }
    found = Finding("next.sweep", "look", numbers)
    assert "worth 4.07 N m over the map, of 13.56 lost" in sentence_of(found)
    assert "worth 3.00 lb-ft over the map, of 10.00 lost" in sentence_of(found, "inch")
    assert action_of(found).startswith("Measure torque at 12, 17 deg, in this order")


def test_pulls_too_few_say_how_many_more() -> None:
    found = Finding("pulls.too-few", "look", {"more": 3, "needed": 5})
    assert action_of(found) == "To see 1 % at a speed run 3 more at each timing, 5 in all."
