"""Starting sooner: what one short command need not load."""

from __future__ import annotations

import gc
import sys
from typing import Any, cast

OBJECTS_BEFORE_COLLECTING = 100_000
"""A start makes some hundred thousand objects that all stay; looking for garbage among them is time lost."""

_PROBE = "scipy.linalg.cython_blas"


def collect_seldom() -> None:
    """Look for garbage less often than Python would."""
    gc.set_threshold(OBJECTS_BEFORE_COLLECTING)


def wake_kernel() -> None:
    """Load the library that runs the compiled kernel, without the linear algebra that the kernel doesn't use.

    On its first call Numba looks whether SciPy's linear algebra is there, which loads a hundred modules: a
    fifth of a second. Here it finds none; afterwards everything else does. In this process compiled
    functions then can't multiply matrices, and none of ours does.
    """
    if _PROBE in sys.modules or "numba.np.arraymath" in sys.modules:
        return
    modules = cast(dict[str, Any], sys.modules)
    modules[_PROBE] = None  # Python takes this for "not there", without looking
    try:
        import numba.np.arraymath  # noqa: F401
    finally:
        del modules[_PROBE]
