"""What people write, read at one place: numbers with and without units, lists of them, loads."""

from sparkwright.reading.loads import load_kpa
from sparkwright.reading.numbers import ENDINGS, number, number_or_none, parted, quantity, tidy

__all__ = ["ENDINGS", "load_kpa", "number", "number_or_none", "parted", "quantity", "tidy"]
