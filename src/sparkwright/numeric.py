"""The one type that the plain formulas speak: a number, or an array of numbers."""

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Numeric: TypeAlias = float | NDArray[np.float64]
"""A number or an array of any shape; formulas answer in the broadcast shape of what they were given."""
