"""What is usual: that it stands for keys that there are, within what they take, and what is said of it.

Values are common practice without a source; what is checked is that a person could state them.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from sparkwright.check.assumed import Taken
from sparkwright.job import Job, usual
from sparkwright.job.field_kind import Quantity
from sparkwright.job.fields import FIELDS
from sparkwright.job.usual import ICE_POINT_K, USUAL, Spread, usual_value
from sparkwright.plan import uncertainty
from sparkwright.web.form_names import field_kind_for

EXAMPLES = Path(__file__).parents[2] / "examples"
JOBS = [Job.load(path) for path in sorted(EXAMPLES.glob("*.toml"))]
SPREADS = [each for each in vars(usual).values() if isinstance(each, Spread)]


def test_what_is_usual_stands_for_keys_that_a_job_has() -> None:
    assert set(USUAL) <= set(FIELDS)
    assert all(each.why or each.matters or each.settled_by for each in USUAL.values())


def test_a_spread_depends_on_keys_that_a_job_has() -> None:
    for spread in SPREADS:
        for key in spread.keys:
            begins = key if key[-1] in "._" else f"{key}."
            assert key in FIELDS or any(name.startswith(begins) for name in FIELDS), key


@pytest.mark.parametrize("job", JOBS, ids=lambda job: job.name)
@pytest.mark.parametrize("key", [key for key, row in USUAL.items() if row.value is not None])
def test_what_is_usual_is_a_value_that_its_field_takes(key: str, job: Job) -> None:
    """As it is said to a person it can be typed, and is read as what was taken, to what was said of it."""
    said = USUAL[key].said(value := usual_value(key, job))
    door = field_kind_for(key)
    kept = door.read(said if isinstance(door, Quantity) else float(said))
    inside = value - ICE_POINT_K if said.endswith("degC") else value
    assert kept == pytest.approx(inside, abs=0.5)


def test_what_is_stated_is_not_said_to_be_assumed() -> None:
    taken = Taken(JOBS[0])
    assert taken.take("engine.swirl", 1.4) == 1.4
    assert taken.found == []
    assert taken.take("driver.spark_spacing", None, 6.0) == 6.0
    assert (taken.found[0].field, taken.found[0].value) == ("driver.spark_spacing", "6 ms")


def test_what_follows_from_more_than_the_job_is_asked_of_whoever_knows_it() -> None:
    with pytest.raises(KeyError, match=r"driver\.spark_spacing follows from more than the job"):
        usual_value("driver.spark_spacing", JOBS[0])


def test_leaving_a_key_out_widens_what_hangs_on_it() -> None:
    assert usual.MIXTURE.amount({"fuel.lambda_full"}) > usual.MIXTURE.amount({"engine.swirl"})
    assert usual.INTAKE_AIR.is_stated({"fuel"})
    assert not usual.INTAKE_AIR.is_stated({"induction.intake_temperature"})
    assert usual.BALLAST.said({"driver.ballast"}) == "15 %"


@pytest.mark.parametrize(
    "spread", [spread for spread, _ in uncertainty.SPREADS], ids=lambda spread: spread.name
)
def test_the_documents_tell_how_far_a_fact_may_be_off(spread: Spread) -> None:
    document = (EXAMPLES.parent / "docs" / "how-it-computes-plan.md").read_text(encoding="utf-8")
    told = document.partition("## Uncertainty")[2]
    (row,) = (line for line in told.splitlines() if line.startswith(f"| {spread.name.partition(',')[0]}"))
    _, _, stated, assumed, *_ = (cell.strip() for cell in row.split("|"))
    assert stated.startswith(f"{spread.stated:g}")
    assert assumed.startswith(f"{spread.assumed:g}")
