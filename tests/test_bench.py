"""The yardstick of benchmarks/, SciPy's LSODA on the kernel's equations, finds the same cycle as the kernel.

LSODA: Petzold, SIAM J. Sci. Stat. Comput. 4 (1983) 136, as SciPy has it.
"""

import numpy as np
import pytest

from lsoda import Sides, by_odeint, compiled_sides, plain_sides, run_lsoda
from reference_engines import PREMIUM, WARM_AIR, side_valve_1923, wedge_v8
from sparkwright.cycle.belief import PRIOR
from sparkwright.cycle.charge import charge_at
from sparkwright.cycle.engine import Engine
from sparkwright.cycle.hook import step_deg
from sparkwright.cycle.kernel import RESULTS, run_hook


@pytest.mark.parametrize("sides", [compiled_sides(), plain_sides()], ids=["compiled", "plain"])
@pytest.mark.parametrize("engine", [wedge_v8(), side_valve_1923()], ids=["wedge", "side-valve"])
@pytest.mark.parametrize(("speed_rpm", "map_kpa"), [(700.0, 40.0), (2400.0, 95.0)])
def test_lsoda_and_the_kernel_agree(sides: Sides, engine: Engine, speed_rpm: float, map_kpa: float) -> None:
    """Mean pressure within 0.2 %, half burned within 0.2 deg, as is asked of the kernel."""
    charge, _ = charge_at(
        engine,
        WARM_AIR,
        PREMIUM,
        PRIOR.constants,
        speed_rpm=speed_rpm,
        map_kpa=map_kpa,
        mixture_lambda=0.95,
    )
    falling = np.array([40.0, 24.0])
    ours = dict(zip(RESULTS, run_hook(charge, falling, step_deg(speed_rpm)).T, strict=True))
    theirs = run_lsoda(charge, falling, sides, by_odeint, 1e-6)
    np.testing.assert_allclose(ours["work_j"] / charge.displaced_m3, theirs.mean_pa, rtol=0.002)
    np.testing.assert_allclose(ours["ca50_deg"], theirs.ca50_deg, atol=0.2)
