"""Compile the engine kernel ahead of its first use: ``python -m sparkwright.cycle.compile``."""

from __future__ import annotations

import time

import numpy as np

from sparkwright.cycle.belief import PRIOR
from sparkwright.cycle.cam import ValveEvents
from sparkwright.cycle.chamber import Chamber
from sparkwright.cycle.engine import Air, Engine, Fuel
from sparkwright.cycle.hook import hook_trace
from sparkwright.cycle.sparse import SparseHooks


def compile_kernel() -> None:
    """Run one small hook whole and one sparsely, which compiles all that is not in the cache yet."""
    engine = Engine(
        Chamber("wedge", 0.1, 0.09, 9.0), 8, 0.15, ValveEvents(-5.0, 29.0, 44.0, -10.0, 1.27), 0.04, 0.034
    )
    facts = (engine, Air(100.0, 300.0), Fuel(91.0), PRIOR.constants)
    hook_trace(*facts, speed_rpm=3000.0, map_kpa=95.0, mixture_lambda=0.9, advance_deg=np.array([20.0, 30.0]))
    hook = SparseHooks(*facts, speed_rpm=3000.0, map_kpa=95.0, mixture_lambda=0.9)
    hook.best(28.0)
    hook.knock(0.0)
    hook.at(28.0)


if __name__ == "__main__":
    print("Compiling the engine kernel (once, up to half a minute)", flush=True)
    begun = time.perf_counter()
    compile_kernel()
    print(f"The kernel is ready, after {time.perf_counter() - begun:.1f} s")
