"""Runs the circuits under tests/data/circuits in ngspice, an independent circuit solver.

The figures of ngspice 39 are kept beside the circuits, so that the comparison holds on a machine
without ngspice too; where it is installed, each circuit is also solved anew.
"""

import json
import re
import shutil
import subprocess
from pathlib import Path

FOLDER = Path(__file__).parent / "data" / "circuits"
SOLVERS = ("recorded", "live") if shutil.which("ngspice") else ("recorded",)


def solve(circuit: str, solver: str) -> dict[str, float]:
    """Measured values of a circuit, by name."""
    if solver == "recorded":
        recorded: dict[str, dict[str, float]] = json.loads((FOLDER / "recorded.json").read_text())
        return recorded[circuit]
    run = subprocess.run(
        ["ngspice", "-b", str(FOLDER / f"{circuit}.cir")],
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    return {name: float(value) for name, value in re.findall(r"^([a-z_]+)\s*=\s*(\S+)", run.stdout, re.M)}
