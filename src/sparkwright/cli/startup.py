"""Starting and ending sooner: what one short command need not do."""

from __future__ import annotations

import atexit
import gc

OBJECTS_BEFORE_COLLECTING = 100_000
"""A start makes nearly as many objects, which all stay; looking for garbage among them is time lost."""


def collect_seldom() -> None:
    """Look for garbage less often than Python would, and not once more when the command is done."""
    gc.set_threshold(OBJECTS_BEFORE_COLLECTING)
    atexit.register(gc.freeze)
