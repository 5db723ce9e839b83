"""Starting sooner: what one short command need not do."""

from __future__ import annotations

import gc

OBJECTS_BEFORE_COLLECTING = 100_000
"""A start makes some hundred thousand objects that all stay; looking for garbage among them is time lost."""


def collect_seldom() -> None:
    """Look for garbage less often than Python would."""
    gc.set_threshold(OBJECTS_BEFORE_COLLECTING)
