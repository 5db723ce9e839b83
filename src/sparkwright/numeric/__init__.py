"""The types that the plain formulas speak: a number, an array of numbers, or either."""

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

FloatArray: TypeAlias = NDArray[np.float64]

Numeric: TypeAlias = float | FloatArray
"""A number or an array of any shape; formulas answer in the broadcast shape of what they were given."""
