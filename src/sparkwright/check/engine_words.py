"""An engine in a few words."""

from __future__ import annotations

from sparkwright.cycle.kinematics import swept_volume_m3
from sparkwright.job import Engine

LAYOUTS = {"v": "V", "inline": "in-line ", "flat": "flat "}


def engine_in_words(engine: Engine) -> str:
    """Say an engine in a few words: displacement in litres, layout, cylinders, compression ratio.

    Parameters
    ----------
    engine : Engine
        Section `engine` of the job.

    Examples
    --------
    >>> from sparkwright.job import Job, starter_text
    >>> engine_in_words(Job.from_toml(starter_text()).engine)
    '5.7 l V8, 9:1'
    """
    litres = 1e3 * float(swept_volume_m3(1e-3 * engine.bore_mm, 1e-3 * engine.stroke_mm, engine.cylinders))
    return f"{litres:.1f} l {LAYOUTS[engine.layout]}{engine.cylinders}, {engine.compression_ratio:g}:1"
