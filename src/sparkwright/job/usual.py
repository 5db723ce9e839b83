"""What is usual: what is taken where a key isn't stated, why, how much it matters, and how far it may be off.

What a key has as its default in the file itself stands beside it, in its section; it has a row here where it
matters, or where something settles it. Values are common practice, no source, unless they say otherwise.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from math import pi
from typing import Final

from sparkwright.cycle.shapes import SHAPES
from sparkwright.ignition.coil_kinds import UsualCoil, usual_coil
from sparkwright.job.model import Job
from sparkwright.job.site_air import air_pressure_kpa

ICE_POINT_K = 273.15
USUAL_CAP_SIZE = "medium"
USUAL_ROD_RATIO = 1.7
"""Rod length over stroke [-]."""
USUAL_HOUSING_MM = 70.0
"""Diameter of a distributor's body where it is turned [mm]."""
USUAL_LIGHT_STEP_DEG = 1.0
"""Step of a light's dial, or of the marks that it is read by [crank deg]."""


@dataclass(frozen=True)
class Usual:
    """What stands in for one key.

    Parameters
    ----------
    why : str or callable
        Why it is taken, or what says so for a job.
    value : callable, optional
        Gives it for a job, in the unit of the key, temperatures in kelvin; None where whoever takes it
        derives it from more than the job.
    said : callable
        Says it with its unit.
    matters : str
        Why it is worth measuring; "" where nothing hangs on it that a person would look for.
    settled_by : str
        What to look at, where a verdict of the ignition counts on it.
    """

    why: str | Callable[[Job], str] = ""
    value: Callable[[Job], float] | None = None
    said: Callable[[float], str] = "{:g}".format
    matters: str = ""
    settled_by: str = ""

    def why_for(self, job: Job) -> str:
        """Say why it is taken for a job.

        Parameters
        ----------
        job : Job
            The job that leaves it to assumption.
        """
        return self.why if isinstance(self.why, str) else self.why(job)


def usual_value(key: str, job: Job) -> float:
    """Give what is usual for a key.

    Parameters
    ----------
    key : str
        Section and key, such as "engine.idle_rpm"; one of ``USUAL``.
    job : Job
        The job that leaves it to assumption.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> usual_value("engine.idle_rpm", Job.from_toml(starter_text()))
    700.0
    """
    value = USUAL[key].value
    if value is None:
        raise KeyError(f"what is usual for {key} follows from more than the job")
    return value(job)


def switched_by_points(job: Job) -> bool:
    """Whether the points themselves switch the coil, rather than trigger a driver.

    Parameters
    ----------
    job : Job
        The job, for its pickup and driver.
    """
    return job.pickup.kind == "points" and not job.driver.controls_dwell


def _site_kpa(job: Job) -> float:
    return air_pressure_kpa(job.site.pressure_kpa, job.site.altitude_m)


def _intake_k(job: Job) -> float:
    """Air in the manifold, 12 K over that outside where it isn't stated; recalled, no source."""
    stated_c = job.induction.intake_temperature_c
    return job.site.air_temperature_c + ICE_POINT_K + 12.0 if stated_c is None else stated_c + ICE_POINT_K


def _charge_k(job: Job) -> float:
    """Charge at full boost, uncooled: 0.3 is a little over the 0.286 of air compressed without loss."""
    risen = 1 + (job.induction.max_boost_kpa or 0.0) / _site_kpa(job)
    return _intake_k(job) * float(risen**0.3)


def _coil(job: Job) -> UsualCoil:
    return usual_coil(job.coil.kind, capacitive=job.driver.kind == "capacitive")


def _for_coil(job: Job) -> str:
    kind = job.coil.kind
    return f"usual for a coil of kind {kind}; measure it" if kind else "usual; measure it"


def _for_cap(job: Job) -> str:
    return f"usual for a {job.distributor.cap_size or USUAL_CAP_SIZE} cap; measure it with a caliper"


def _celsius(kelvin: float) -> str:
    return f"{kelvin - ICE_POINT_K:.0f} degC"


_WIDTH = "it decides how much advance the rotor can pass on"
_RADIUS = "angles in the cap are reckoned from it"
_CALIPER = "measure tip and posts with a caliper"

_SECOND_NUMBER = "two fuels of one number knock differently in a hot engine"


def _swept_litres(job: Job) -> float:
    engine = job.engine
    return engine.cylinders * 0.25 * pi * engine.bore_mm**2 * engine.stroke_mm * 1e-6


def _inertia_kg_m2(job: Job) -> float:
    """Crank, flywheel and clutch grow with the engine: 0.05 kg m2 a litre; common practice, no source."""
    return 0.05 * _swept_litres(job)


def _of_the_bore(share: float, said: str) -> Usual:
    """Give what is usual for a size or lift of a valve, which follows the bore."""
    return Usual(
        "usual for the bore",
        lambda job: share * job.engine.bore_mm,
        said.format,
        matters="what flows back at idle, and the torque at speed, is reckoned from it",
    )


USUAL: Final[dict[str, Usual]] = {
    "engine.compression_ratio": Usual(
        lambda job: f"usual for a {job.engine.piston} piston; measure the chamber's volume",
        lambda job: job.engine.compression_ratio,
        matters="a unit of ratio is several degrees at full load",
    ),
    "distributor.tip_width": Usual(_for_cap, said="{:g} mm".format, matters=_WIDTH, settled_by=_CALIPER),
    "distributor.post_width": Usual(_for_cap, said="{:g} mm".format, matters=_WIDTH, settled_by=_CALIPER),
    "distributor.rotor_phase_deg": Usual(
        matters="two crank degrees of reach hang on each degree of it",
        settled_by="see where the tip stands when the engine fires at base",
    ),
    "driver.controls_dwell": Usual(settled_by="see in the driver's papers whether it sets the dwell"),
    "driver.ballast": Usual(
        matters="a resistance wire that nobody took out starves the coil",
        settled_by="look along the coil's feed for a ballast or a resistance wire",
    ),
    "battery.running": Usual(settled_by="measure the voltage at the coil with the engine running"),
    "battery.cranking": Usual(settled_by="measure the voltage at the coil on the starter"),
    "driver.cranking_sparks": Usual(
        settled_by="see in the driver's papers how many sparks it gives while cranking"
    ),
    "engine.plug_offset": Usual(
        "usual for the chamber",
        lambda job: SHAPES[job.engine.chamber].plug_offset_bores * job.engine.bore_mm,
        "{:.0f} mm".format,
        matters="a plug off the middle wants several degrees more",
    ),
    "engine.swirl": Usual(
        "an ordinary port", lambda job: 1.0, matters="a fast-burning port wants several degrees less"
    ),
    "engine.inertia_kg_m2": Usual(
        "usual for an iron flywheel and this swept volume", _inertia_kg_m2, "{:.2g}".format
    ),
    "induction.manifold_litres": Usual(
        "usual for a single carburettor: as much as is swept", _swept_litres, "{:.1f}".format
    ),
    "vehicle.mass_kg": Usual("usual for a car with its driver", lambda job: 1500.0),
    "vehicle.drag_area_m2": Usual("usual for a car with an upright front", lambda job: 0.8),
    "vehicle.rolling_resistance": Usual("usual for road tyres on asphalt", lambda job: 0.014),
    "controller.idle_delay_ms": Usual(
        "two sparks to see the speed, and a turn of the program", lambda job: 30.0
    ),
    "fuel.lambda_full": Usual(
        "usual", lambda job: 0.87, matters="weak mixtures burn slower and knock sooner"
    ),
    "induction.charge_temperature": Usual(
        "compressed without a cooler", _charge_k, _celsius, matters="hot charge knocks sooner"
    ),
    "induction.intake_temperature": Usual(
        "outside air, warmed a little on its way", _intake_k, _celsius, matters="warm air knocks sooner"
    ),
    "cam.at_lift": Usual(
        "kept from before it was asked for; advertised degrees, counted near the seat, make a far milder cam",
        lambda job: job.cam.lift_mm,
        "{:g} mm".format,
        matters="overlap at idle, and so its timing, is read from it",
    ),
    "distributor.tip_radius": Usual(_for_cap, said="{:g} mm".format, matters=_RADIUS, settled_by=_CALIPER),
    "distributor.post_radius": Usual(_for_cap, said="{:g} mm".format, matters=_RADIUS, settled_by=_CALIPER),
    "engine.redline_rpm": Usual(value=lambda job: 5500.0, matters="the map ends there"),
    "engine.idle_kpa": Usual("usual for a mild cam", lambda job: 40.0, matters="the idle cells stand there"),
    "engine.idle_rpm": Usual(
        "usual for the number of cylinders",
        lambda job: {4: 850.0, 6: 750.0, 8: 700.0}[job.engine.cylinders],
        matters="the idle cells stand there",
    ),
    "fuel.lambda_cruise": Usual("usual", lambda job: 1.0, matters="weak cruise wants more advance"),
    "driver.drop": Usual(
        "usual; measure it closed",
        lambda job: 0.2 if switched_by_points(job) else 1.5,  # recalled, no source
        "{:g} V".format,
        matters="dwell is reckoned with it",
    ),
    "coil.primary_inductance": Usual(
        _for_coil,
        lambda job: _coil(job).primary_mh,
        "{:g} mH".format,
        matters="dwell and energy are reckoned with it",
    ),
    "coil.turns_ratio": Usual(
        _for_coil, lambda job: _coil(job).turns_ratio, matters="the voltage there is hangs on it"
    ),
    "coil.primary_resistance": Usual(
        _for_coil,
        lambda job: _coil(job).primary_ohm,
        "{:g} ohm".format,
        matters="the current is reckoned with it",
    ),
    "coil.secondary_resistance": Usual(
        _for_coil,
        lambda job: 8.0 if job.coil.kind is None else _coil(job).secondary_kohm,
        "{:g} kohm".format,
        matters="the voltage there is hangs on it",
    ),
    "engine.chamber": Usual(
        "the commonest over a distributor; look into the plug's hole, or at a gasket",
        matters="where the plug stands, and how far the flame has to go, is several degrees",
    ),
    "engine.rod": Usual(
        "1.7 strokes is usual", lambda job: USUAL_ROD_RATIO * job.engine.stroke_mm, "{:.0f} mm".format
    ),
    "engine.bank_numbering": Usual(
        "the only numbering of the banks with which an even-firing crank gives this firing order"
    ),
    "cam.intake_valve": _of_the_bore(0.46, "{:.0f} mm"),
    "cam.exhaust_valve": _of_the_bore(0.38, "{:.0f} mm"),
    "cam.intake_lift": _of_the_bore(0.105, "{:.1f} mm"),
    "cam.exhaust_lift": _of_the_bore(0.105, "{:.1f} mm"),
    "fuel.lambda_idle": Usual("usual", lambda job: 0.97, matters="a weak idle burns slower"),
    "fuel.mon": Usual(matters=_SECOND_NUMBER),
    "fuel.ron": Usual(matters=_SECOND_NUMBER),
    "fuel.lambda_boost": Usual("usual", lambda job: 0.80),
    "induction.boost_from_rpm": Usual(
        "boost builds with speed; a blower that boosts from idle needs the cells below it proved too",
        lambda job: 2000.0,
    ),
    # Inside the ranges of Heywood (1988) sec. 9.5 and Denton, recalled.
    "coil.energy_wanted": Usual(
        "usual for the kind", lambda job: 30.0 if switched_by_points(job) else 60.0, "{:g} mJ".format
    ),
    "driver.spark_spacing": Usual("one charge and one spark", said="{:g} ms".format),
    "light.resolution_deg": Usual(
        "step of dial or marks; common practice, no source", lambda job: USUAL_LIGHT_STEP_DEG
    ),
    "distributor.housing_diameter": Usual(
        "diameter where the body is turned; measure it, the way at the rim grows with it",
        lambda job: USUAL_HOUSING_MM,
        "{:g} mm".format,
    ),
    "light.delay_set_us": Usual("delay set in the controller so far", lambda job: 0.0),
}
"""By key, the most worth measuring first; that order is our own, common practice, no source."""


@dataclass(frozen=True)
class Spread:
    """One thing not known exactly, and how far it may be off.

    ``keys`` are those of the job that state it, or how they begin: up to a point or underscore; none where no
    job can. Where any of them is assumed, ``assumed`` is how far it may be off, else ``stated``.
    """

    name: str
    unit: str
    stated: float
    assumed: float
    origin: str
    keys: tuple[str, ...] = ()

    def is_stated(self, taken: Collection[str]) -> bool:
        """Whether a job that leaves these keys to assumption states everything that this depends on.

        Parameters
        ----------
        taken : collection of str
            Keys that the job leaves to assumption.
        """
        return not self.left(taken)

    def left(self, taken: Collection[str]) -> tuple[str, ...]:
        """Give those of these keys, left to assumption, that this depends on.

        Parameters
        ----------
        taken : collection of str
            Keys that the job leaves to assumption.

        Examples
        --------
        >>> MIXTURE.left(["fuel.lambda_full", "fuel"])
        ('fuel.lambda_full',)
        """
        return tuple(
            name
            for name in taken
            if any(name.startswith(key) if key[-1] in "._" else name == key for key in self.keys)
        )

    def amount(self, taken: Collection[str]) -> float:
        """Give how far it may be off for such a job, in ``unit``.

        Parameters
        ----------
        taken : collection of str
            Keys that the job leaves to assumption.
        """
        return self.stated if self.is_stated(taken) else self.assumed

    def said(self, taken: Collection[str]) -> str:
        """Say that with its unit.

        Parameters
        ----------
        taken : collection of str
            Keys that the job leaves to assumption.

        Examples
        --------
        >>> PLUG_OFFSET.said(()), PLUG_OFFSET.said({"engine.plug_offset"})
        ('2 % of bore', '5 % of bore')
        """
        return f"{self.amount(taken):g} {self.unit}".strip()


# One standard deviation of what the cycle computes with. What a job leaves to assumption may be off by more
# than what it states.
OCTANE = Spread(
    "octane number",
    "",
    1,
    1.5,
    "tolerance of pump fuel and its second number, recalled",
    ("fuel.ron", "fuel.mon"),
)
INTAKE_AIR = Spread(
    "intake air",
    "K",
    8,
    12,
    "where a sensor stands, and how it was warmed, recalled",
    ("induction.intake_temperature", "induction.charge_temperature"),
)
COMPRESSION = Spread(
    "compression ratio", "%", 3, 8, "casting and gasket, recalled", ("engine.compression_ratio",)
)
CHAMBER = Spread(
    "shape of the chamber",
    "other shape",
    0,
    1,
    "an open chamber where a wedge is taken; common practice, no source",
    ("engine.chamber",),
)
OVERLAP = Spread(
    "valve overlap",
    "%",
    30,
    40,
    "lift flanks estimated from the cam's events",
    ("cam.intake_valve", "cam.exhaust_valve", "cam.intake_lift", "cam.exhaust_lift"),
)
MIXTURE = Spread("mixture, lambda", "", 0.03, 0.05, "carburettor and gauge, recalled", ("fuel.lambda_",))
PLUG_OFFSET = Spread(
    "plug offset", "% of bore", 2, 5, "a ruler on the head, recalled", ("engine.plug_offset",)
)

# Half the band that each gives a voltage.
PLUG_VOLTAGE = Spread(
    "voltage of the plug", "%", 30, 30, "wear, deposits, mixture, hot electrodes; recalled, no source"
)
ROTOR_GAP = Spread(
    "voltage of the rotor gap",
    "%",
    10,
    35,
    "the formula and a worn gap, from two thirds to four thirds of what is assumed; recalled, no source",
    ("distributor.tip_radius", "distributor.post_radius"),
)
COIL_LOSSES = Spread(
    "losses of the coil", "%", 10, 10, "coupling, iron and a dirty plug; recalled, no source"
)
SECONDARY_CAPACITANCE = Spread(
    "capacitance of secondary, lead and plug",
    "%",
    3,
    15,
    "the peak goes with its root, and 60 to 110 pF are usual; recalled, no source",
    ("coil.secondary_capacitance",),
)
KIND_OF_COIL = Spread(
    "what coil it is",
    "%",
    0,
    20,
    "coils of one kind differ in turns and inductance; recalled, no source",
    ("coil.primary_resistance", "coil.primary_inductance", "coil.turns_ratio"),
)
SECONDARY_RESISTANCE = Spread(
    "resistance of the secondary",
    "%",
    0,
    3,
    "6 to 12 kohm are usual; recalled, no source",
    ("coil.secondary_resistance",),
)
BALLAST = Spread(
    "ballast in the coil's feed",
    "%",
    0,
    15,
    "one that nobody has seen keeps current away; recalled, no source",
    ("driver.ballast",),
)
BATTERY = Spread(
    "voltage of the battery and of the driver",
    "%",
    2,
    5,
    "half a volt or so; common practice, no source",
    ("battery.running", "battery.cranking", "driver.drop"),
)
ENERGY = Spread(
    "energy in the coil",
    "%",
    5,
    10,
    "the dwell set may be another; common practice, no source",
    ("coil.energy_wanted",),
)

TIP_SPREAD_MM = 0.3
"""A caliper on a worn or curved edge, one standard deviation [mm]; a choice."""

PHASE_SPREAD_DEG = {True: 0.5, False: 2.0}
"""Rotor phase where stated, and where the rotor is taken to stand unphased [distributor deg]; a choice."""

TIMING_SPREAD_DEG = {True: 1.0, False: 2.0}
"""Base, mark and scatter of the spark together, with the mark proved and without [crank deg], until a light
check has measured them; common practice, no source."""
