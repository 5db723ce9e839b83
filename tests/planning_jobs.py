"""Jobs that the tests of planning share; all invented."""

from collections.abc import Sequence
from pathlib import Path

from sparkwright.job import Job

EXAMPLES = Path(__file__).parent.parent / "examples"
PUMP_HOUSE = Job.load(EXAMPLES / "pump-house-v8.toml")
BOOSTED_SIX = Job.load(EXAMPLES / "boosted-six.toml")
OLD_FOUR = Job.load(EXAMPLES / "old-four.toml")

# The ordinary V8 of scripts/reference_engines.py as a job: pump premium, air at 32 degC, a rotor that
# reaches all that is asked.
ORDINARY_V8 = (
    PUMP_HOUSE.changed(
        "engine",
        bore="99.6 mm",
        stroke="91.9 mm",
        rod="154 mm",
        compression_ratio=9.5,
        plug_offset=None,
        redline_rpm=6000,
    )
    .changed(
        "cam",
        at_lift="1.27 mm",
        intake_duration_deg=196,
        exhaust_duration_deg=203,
        intake_centreline_deg=107,
        lobe_separation_deg=112,
        intake_valve=f"{43.2 / 0.9} mm",
        exhaust_valve=f"{35.1 / 0.9} mm",
        intake_lift=None,
        exhaust_lift=None,
    )
    .changed("fuel", ron=95, mon=87, ethanol_percent=None, lambda_full=0.87, lambda_idle=0.97)
    .changed("site", altitude=None, pressure="100 kPa")
    .changed("induction", intake_temperature="32 degC")
    .changed("distributor", rotor_phase_deg=8, tip_width="14 mm")
    .changed("controller", max_deg=60)
)

RADICAL_V8 = (
    ORDINARY_V8.changed(
        "cam",
        intake_duration_deg=230,
        exhaust_duration_deg=236,
        intake_centreline_deg=106,
        lobe_separation_deg=110,
    )
    .changed("engine", idle_rpm=900, idle_kpa=48)
    .changed("fuel", lambda_idle=0.92)
)

BOOSTED_V8 = ORDINARY_V8.changed(
    "induction", kind="boosted", max_boost="80 kPa", charge_temperature="65 degC"
).changed("engine", compression_ratio=8.5)


def on_axes(job: Job, rpm: Sequence[float], kpa: Sequence[float]) -> Job:
    """The job with a map of these speeds and loads."""
    return job.changed("controller", rpm=list(rpm), kpa=list(kpa))
