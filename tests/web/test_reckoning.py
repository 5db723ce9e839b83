"""What the workbench keeps of results: each belongs to the facts of a job and to a belief."""

from __future__ import annotations

from dataclasses import replace

from planning_jobs import PUMP_HOUSE, on_axes
from sparkwright.cycle.belief import PRIOR
from sparkwright.web.reckoning import Reckoner

JOB = on_axes(PUMP_HOUSE, [700, 2000], [40, 85])
FIRMER = replace(PRIOR, engine_best_deg=0.5)


def test_another_belief_of_the_engine_has_a_plan_of_its_own() -> None:
    reckoner = Reckoner()
    try:
        usual = reckoner.begin(JOB).future.result(timeout=120.0)
        assert reckoner.kept(JOB.fingerprint, FIRMER) is None
        firmer = reckoner.begin(JOB, FIRMER).future.result(timeout=120.0)
        assert (firmer.plan.cells.best_sigma_deg < usual.plan.cells.best_sigma_deg).all()
        assert reckoner.kept(JOB.fingerprint) is usual
        assert reckoner.kept(JOB.fingerprint, FIRMER) is firmer
    finally:
        reckoner.close()


def test_a_cell_set_by_hand_is_put_into_the_plan_of_its_own_belief() -> None:
    changed = JOB.with_hand([{"rpm": 2000, "kpa": 40, "advance_deg": 20}])
    reckoner = Reckoner()
    try:
        reckoner.begin(JOB).future.result(timeout=120.0)
        firmer = reckoner.begin(JOB, FIRMER).future.result(timeout=120.0)
        found = reckoner.begin(changed, FIRMER).future.result(timeout=120.0)
        assert found.without_hand is firmer.without_hand
    finally:
        reckoner.close()
