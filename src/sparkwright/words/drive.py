"""What a drive shows, in sentences."""

from __future__ import annotations

from sparkwright.units import System
from sparkwright.words.log import time_words
from sparkwright.words.parts import Said, Writer


def _read(
    _: System, *, rows: int, running_rows: int, seconds: float, cells: int, of_cells: int, above_rpm: float
) -> Said:
    how_long = "" if seconds != seconds else f" over {time_words(seconds)}"
    return (
        f"{rows:,} rows{how_long}, {running_rows:,} of them with the engine running; "
        f"{cells} of {of_cells} cells were met.",
        "",
    )


def _never_ran(_: System, *, rows: int, above_rpm: float, **__: object) -> Said:
    return (
        f"In none of {rows:,} rows does the engine turn faster than {above_rpm:g} rpm.",
        "Look whether the right column was taken for engine speed; name it with --channel.",
    )


WRITERS: dict[str, Writer] = {
    "drive.read": _read,
    "drive.never-ran": _never_ran,
}
