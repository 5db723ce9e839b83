"""What people write, read at one place: numbers with and without units, lists of them, loads, tables."""

from sparkwright.reading.loads import load_kpa
from sparkwright.reading.numbers import (
    ENDINGS,
    SIDES,
    found_in,
    number,
    number_or_none,
    parted,
    quantity,
    shown,
    tidy,
)

__all__ = [
    "ENDINGS",
    "SIDES",
    "found_in",
    "load_kpa",
    "number",
    "number_or_none",
    "parted",
    "quantity",
    "shown",
    "tidy",
]
