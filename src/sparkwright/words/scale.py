"""What is noticed of a timing tape or degree ring, in sentences."""

from __future__ import annotations

from sparkwright.units import System
from sparkwright.words.parts import Said, Writer, length


def _crowded(system: System, *, apart_mm: float, better_deg: float) -> Said:
    return (
        f"The marks stand {length(apart_mm, system, '.2f')} apart and run together in print; every "
        f"{better_deg:g} deg can be read.",
        "",
    )


WRITERS: dict[str, Writer] = {"scale.crowded": _crowded}
