"""Starting sooner: what a short command leaves unloaded, and that nothing else misses it."""

import subprocess
import sys

SHORT = """
import sys
from sparkwright.cli.waking import wake_kernel
wake_kernel()
from sparkwright.job import Job
from sparkwright.plan.point import point
from sparkwright.job import starter_text
best_deg = point(Job.from_toml(starter_text()), 3000.0, 90.0).best_deg
loaded = "scipy.linalg" in sys.modules
from scipy.linalg import blas
import scipy.linalg.cython_blas
wake_kernel()
print(best_deg, loaded, "scipy.linalg.cython_blas" in sys.modules)
"""

PLAIN = """
from sparkwright.job import Job, starter_text
from sparkwright.plan.point import point
print(point(Job.from_toml(starter_text()), 3000.0, 90.0).best_deg)
"""


def printed(program: str) -> list[str]:
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert run.stderr == ""
    return run.stdout.split()


def test_the_kernel_wakes_without_linear_algebra_and_gives_the_same() -> None:
    best_deg, loaded, there = printed(SHORT)
    assert (loaded, there) == ("False", "True"), (
        "not loaded for the kernel, and there for who asks afterwards"
    )
    assert printed(PLAIN) == [best_deg]
