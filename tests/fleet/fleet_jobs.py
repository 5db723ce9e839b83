"""Job files for tests of a fleet: small maps of an invented engine, quickly planned."""

from __future__ import annotations

from concurrent.futures import Executor, ThreadPoolExecutor
from pathlib import Path

from planning_jobs import EXAMPLES
from sparkwright.job import Job

FOUR = (EXAMPLES / "old-four.toml").read_text()


def fleet_of(folder: Path, count: int) -> Path:
    """Write job files of an invented engine, each with a name of its own."""
    folder.mkdir()
    for number in range(count):
        text = small_job().replace("{name}", f"Engine {number}").replace("{ron}", str(90 + number % 8))
        (folder / f"engine-{number:03}.toml").write_text(text)
    return folder


def small_job() -> str:
    facts = Job.from_toml(FOUR).facts()
    facts["name"] = "{name}"
    facts["fuel"] = {"ron": 91}
    facts["controller"] = {**facts.get("controller", {}), "rpm": [800, 2000, 4000], "kpa": [40, 70, 100]}
    return Job.from_facts(facts).to_toml().replace("ron = 91", "ron = {ron}")


class InThisProcess:
    """Who works one piece after another in this very process, so that no other has to begin."""

    count = 1

    def start(self) -> Executor:
        return ThreadPoolExecutor(1)

    def require_alive(self) -> None:
        """Be alive."""
