r"""From readings of a timing light to offset, delay, scatter and whatever else moves the spark.

The model, with every sign written out once:

    seen = commanded + offset - 6 * speed * delay * 1e-6 + (what else was varied) + error

Angles are crank degrees before top dead centre, so that earlier is more. A positive ``offset`` means that the
spark comes earlier than told, alike at every speed. A positive ``delay`` [us] is time that passes between the
moment the controller means and the flash; at ``speed`` [rpm] the crank turns 6 deg in a second for each rpm,
so a delay takes 6 * speed * delay * 1e-6 deg away (definition of a revolution: 360 deg in 60 s / speed).

The error of a reading has two parts, taken as independent: the step of dial or marks, which lies anywhere
within half a step either way and so has the standard deviation step / sqrt(12) (JCGM 100:2008, 4.3.7), and
the share of eye and hand.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sparkwright.job.usual import USUAL_LIGHT_STEP_DEG
from sparkwright.light.least_squares import (
    FALSE_ALARM,
    Bars,
    GuardedFit,
    guarded_fit,
    least_squares,
    parts,
    scatter_probability,
)
from sparkwright.light.readings import Reading
from sparkwright.numeric import FloatArray
from sparkwright.numeric.quantiles import (
    chi_square_above,
    chi_square_quantile,
    normal_quantile,
    normal_two_sided,
    student_two_sided,
)

DEG_PER_RPM_US = 6e-6
"""Crank degrees turned in a microsecond at one rpm: 360 deg in 60 s."""

HAND_DEG = 0.25
"""Share of eye and hand in a reading, one standard deviation. Common practice, no source."""

CONFIDENCE = 0.95
_EACH_END = 1.0 - (1.0 - CONFIDENCE) / 2.0
"""At each end of the speeds read, so that both hold together (Bonferroni)."""

LEAST_SPEED_RATIO = 1.25
"""Speeds nearer than this can't part a delay from an offset to any use."""

ENOUGH_READINGS = 6
"""Readings asked for. Among fewer, each at its own speed, one that is wrong looks like a bend or a step of
the engine; these are looked for from here on."""

_STILL = 0.05
"""Share of lists in which errors alone may show a bend or step that is left with any one reading away; above
it, it rests on that reading."""

LEAST_COMMAND_SPREAD_DEG = 4.0
LEAST_BATTERY_SPREAD_V = 1.0
_TIE = 3.0
_MOST_EFFECTS = 3
_BAND_POINTS = 41


@dataclass(frozen=True)
class Estimate:
    """A value with its 95 % interval."""

    value: float
    low: float
    high: float

    @property
    def real(self) -> bool:
        """Whether zero lies outside the interval."""
        return self.low > 0.0 or self.high < 0.0


@dataclass(frozen=True)
class Effect:
    """Something varied between readings, and what it does to the difference of seen and commanded.

    ``kind`` is "command" [deg per deg commanded], "sweep" [deg, rising less falling], "cylinder" [deg],
    "battery" [us of delay per V that the battery falls], "bend" [deg per (1000 rpm)^2], "step" [deg] or
    "setting" [deg, later readings less earlier ones]. ``which`` names the cylinder, or the speed [rpm] of the
    step, or the reading after which the setting changed. ``probability`` of so large an effect by reading
    errors alone, corrected for how many of its kind were tried. ``accepted`` where it was taken into the fit.
    """

    kind: str
    unit: str
    estimate: Estimate
    probability: float
    accepted: bool
    which: float | None = None
    readings: int = 0


@dataclass(frozen=True)
class LightFit:
    """What the readings tell.

    ``offset_deg`` and ``delay_us`` are None where the readings can't part them or no single value is true.
    ``at_lowest`` and ``at_highest``: seen less commanded at the ends of the speeds read [crank deg]; both
    intervals hold together with 95 %, and, for a straight line, so does all between them. ``within_deg``: the
    most that seen may differ from commanded over those speeds, with 95 %. ``bars``: "stated" where intervals
    come from the stated reading errors, "rescaled" where the readings scatter more and widened them.
    ``scatter_ratio``: scatter found over scatter stated; None with nothing left to find it from.
    ``left_out``: index of the one reading that is a blunder; ``suspects``: indices one of which must be,
    while none can be told. ``band_*``: the line of the picture.
    """

    readings: tuple[Reading, ...]
    sigma_deg: FloatArray
    offset_deg: Estimate | None
    delay_us: Estimate | None
    lowest_rpm: float
    highest_rpm: float
    at_lowest: Estimate
    at_highest: Estimate
    within_deg: float
    bars: Bars
    degrees_of_freedom: int
    chi_square: float
    scatter_ratio: float | None
    scatter_probability: float | None
    left_out: int | None
    suspects: tuple[int, ...]
    fitted_difference_deg: FloatArray
    effects: tuple[Effect, ...]
    band_rpm: FloatArray
    band_deg: FloatArray
    band_low_deg: FloatArray
    band_high_deg: FloatArray

    def effect(self, kind: str) -> Effect | None:
        """Give the accepted effect of a kind, or None.

        Parameters
        ----------
        kind : str
            Which of the effects.
        """
        return next((each for each in self.effects if each.kind == kind and each.accepted), None)


def reading_sigma_deg(resolution_deg: float, hand_deg: float) -> float:
    """Give the standard deviation of one reading [crank deg].

    Parameters
    ----------
    resolution_deg : float
        Step of the light's dial or of the marks [crank deg].
    hand_deg : float
        Share of eye and hand, one standard deviation [crank deg].

    Examples
    --------
    >>> round(reading_sigma_deg(1.0, 0.25), 3)
    0.382
    """
    return math.hypot(resolution_deg / math.sqrt(12.0), hand_deg)


def delay_angle_deg(speed_rpm: float, delay_us: float) -> float:
    """Crank degrees that a delay takes away, `6 N t` with t in seconds.

    Parameters
    ----------
    speed_rpm : float
        Engine speed [rpm].
    delay_us : float
        Delay of the spark [us].

    Examples
    --------
    >>> delay_angle_deg(6000.0, 50.0)
    1.8
    """
    return round(DEG_PER_RPM_US * speed_rpm * delay_us, 12)


@dataclass(frozen=True)
class _Column:
    """One column of the design, and its value at a speed with everything else as in the reference."""

    kind: str
    unit: str
    values: FloatArray
    at: Callable[[float], float]
    which: float | None = None
    tries: int = 1


def fit_readings(
    readings: Sequence[Reading], *, resolution_deg: float = USUAL_LIGHT_STEP_DEG, hand_deg: float = HAND_DEG
) -> LightFit:
    """Fit readings of one setting.

    Parameters
    ----------
    readings : sequence of Reading
        At least one, in the order in which they were taken.
    resolution_deg : float
        For readings that don't state theirs [crank deg].
    hand_deg : float
        Share of eye and hand, one standard deviation [crank deg].

    Returns
    -------
    LightFit
        What else was varied (commands, cylinders, battery, direction of speed) is tested, and taken into the
        fit where it is real; so are a bend and a step against speed, which no delay makes.

    Examples
    --------
    >>> fit = fit_readings([Reading(30, 1000, 30.7), Reading(30, 2500, 30.25), Reading(30, 4000, 29.8)])
    >>> round(fit.delay_us.value, 3), round(fit.offset_deg.value, 6), fit.degrees_of_freedom
    (50.0, 1.0, 1)
    """
    readings = tuple(readings)
    speeds = np.array([each.speed_rpm for each in readings])
    difference = np.array([each.difference_deg for each in readings])
    sigma = np.array(
        [reading_sigma_deg(each.resolution_deg or resolution_deg, hand_deg) for each in readings]
    )
    base = [_Column("offset", "deg", np.ones(speeds.size), lambda rpm: 1.0)]
    apart = speeds.max() >= LEAST_SPEED_RATIO * speeds.min()
    if apart:
        base.append(_Column("delay", "us", -DEG_PER_RPM_US * speeds, lambda rpm: -DEG_PER_RPM_US * rpm))
    candidates = [each for each in _candidates(readings, speeds) if parts(_design([*base, each]))]
    columns = _explained(base, candidates, difference, sigma)
    return _told(readings, speeds, difference, sigma, columns, len(base), candidates)


def _design(columns: Sequence[_Column]) -> FloatArray:
    return np.column_stack([each.values for each in columns])


def _candidates(readings: tuple[Reading, ...], speeds: FloatArray) -> Iterator[_Column]:
    """Give what else may move the spark, as far as the readings vary it."""
    commands = np.array([each.commanded_deg for each in readings])
    if np.ptp(commands) >= LEAST_COMMAND_SPREAD_DEG:
        yield _Column("command", "deg/deg", commands - commands.mean(), lambda rpm: 0.0)
    sweep = np.array([{"rising": 0.5, "falling": -0.5, None: 0.0}[each.sweep] for each in readings])
    if np.ptp(sweep) == 1.0:
        yield _Column("sweep", "deg", sweep, lambda rpm: 0.0)
    yield from _cylinder_columns(readings)
    volts = np.array([np.nan if each.battery_v is None else each.battery_v for each in readings])
    if np.isfinite(volts).sum() >= 2 and np.nanmax(volts) - np.nanmin(volts) >= LEAST_BATTERY_SPREAD_V:
        fallen = np.nan_to_num(np.nanmax(volts) - volts)
        yield _Column("battery", "us/V", -DEG_PER_RPM_US * speeds * fallen, lambda rpm: 0.0)
    yield from _speed_columns(speeds)
    yield from _setting_columns(speeds)


def _cylinder_columns(readings: tuple[Reading, ...]) -> Iterator[_Column]:
    named = sorted({each.cylinder for each in readings if each.cylinder is not None})
    unnamed = any(each.cylinder is None for each in readings)
    odd = named if len(named) + unnamed > 2 else named[-1:] if len(named) + unnamed == 2 else []
    for cylinder in odd:
        marked = np.array([float(each.cylinder == cylinder) for each in readings])
        yield _Column("cylinder", "deg", marked, lambda rpm: 0.0, float(cylinder), len(odd))


def _speed_columns(speeds: FloatArray) -> Iterator[_Column]:
    """Bend and steps against speed; a step needs two readings on either side, a bend three speeds.

    Neither is looked for among fewer than six readings, unless a speed was read again.
    """
    distinct = np.unique(speeds)
    if speeds.size < ENOUGH_READINGS and distinct.size == speeds.size:
        return
    if distinct.size >= 3 and speeds.size >= 4:
        middle = float(speeds.mean())

        def bent(rpm: float) -> float:
            return ((rpm - middle) / 1000.0) ** 2

        yield _Column("bend", "deg/(1000 rpm)^2", np.asarray(((speeds - middle) / 1000.0) ** 2), bent)
    gaps = [
        float(0.5 * (low + high))
        for low, high in pairwise(distinct.tolist())
        if min((speeds <= low).sum(), (speeds >= high).sum()) >= 2
    ]
    for gap in gaps:
        yield _Column(
            "step", "deg", np.asarray(speeds > gap, dtype=np.float64), _step_at(gap), gap, len(gaps)
        )


def _step_at(gap: float) -> Callable[[float], float]:
    return lambda rpm: float(rpm > gap)


def _setting_columns(speeds: FloatArray) -> Iterator[_Column]:
    """Part readings before and after some moment, where both cover the same speeds."""
    places = [split for split in range(2, speeds.size - 1) if _overlap(speeds[:split], speeds[split:])]
    for split in places:
        after = np.asarray(np.arange(speeds.size) >= split, dtype=np.float64)
        yield _Column("setting", "deg", after, lambda rpm: 0.0, float(split), len(places))


def _overlap(one: FloatArray, other: FloatArray) -> bool:
    """Whether the shorter of two spans of speed lies at least half within the other."""
    shared = min(one.max(), other.max()) - max(one.min(), other.min())
    least = min(np.ptp(one), np.ptp(other))
    return bool(shared >= 0.5 * least and least > 0.0)


def _probability(columns: Sequence[_Column], added: _Column, values: FloatArray, sigma: FloatArray) -> float:
    """Probability that errors alone would make an effect so large, times the number of its kind tried."""
    fit = least_squares(_design([*columns, added]), values, sigma, "stated")
    size = abs(float(fit.coefficients[-1] / fit.standard_error[-1]))
    freedom, scale = fit.degrees_of_freedom, fit.scale
    trusted = scale is None or chi_square_above(fit.chi_square, freedom) > FALSE_ALARM
    single = normal_two_sided(size) if trusted or scale is None else student_two_sided(size / scale, freedom)
    return min(1.0, single * added.tries)


def _blunder_probability(columns: Sequence[_Column], values: FloatArray, sigma: FloatArray) -> float:
    """Give the same for the best choice of one reading as a blunder."""
    n = values.size
    single = []
    for i in range(n):
        marked = _Column("reading", "deg", (np.arange(n) == i) * 1.0, lambda rpm: 0.0, float(i), n)
        if parts(_design([*columns, marked])):
            single.append(_probability(columns, marked, values, sigma))
    return min(single, default=1.0)


def _chance(columns: Sequence[_Column], added: _Column, values: FloatArray, sigma: FloatArray) -> float:
    """Give its probability by errors alone; certain for a bend or a step that one reading makes."""
    chance = _probability(columns, added, values, sigma)
    shape = added.kind in ("bend", "step")
    if shape and chance < FALSE_ALARM and _rests_on_one(columns, added, values, sigma):
        return 1.0
    return chance


def _rests_on_one(columns: Sequence[_Column], added: _Column, values: FloatArray, sigma: FloatArray) -> bool:
    """Whether a bend or a step is no longer seen, or not told from the rest, without some one reading."""
    for i in range(values.size):
        kept = np.arange(values.size) != i
        rest = [_kept(each, kept) for each in (*columns, added)]
        if not parts(_design(rest)):
            return True
        if _probability(rest[:-1], rest[-1], values[kept], sigma[kept]) > _STILL:
            return True
    return False


def _explained(
    base: list[_Column], candidates: list[_Column], values: FloatArray, sigma: FloatArray
) -> list[_Column]:
    """Take in what is real, the surest first, until a blunder explains as much or nothing is left."""
    columns = list(base)
    for _ in range(_MOST_EFFECTS):
        taken = {each.kind for each in columns} - {"cylinder"}
        open_ones = [
            each
            for each in candidates
            if each.kind not in taken
            and not any(each is column for column in columns)
            and parts(_design([*columns, each]))
        ]
        if not open_ones:
            break
        chances = [_chance(columns, each, values, sigma) for each in open_ones]
        best = min(chances)
        # What was varied on purpose goes before what merely fits as well.
        place = next(
            index
            for index, chance in enumerate(chances)
            if chance <= max(_TIE * best, 1e-12) or chance == best
        )
        kinds = len({each.kind for each in open_ones})
        if best * kinds >= FALSE_ALARM or chances[place] > _TIE * _blunder_probability(
            columns, values, sigma
        ):
            break
        columns.append(open_ones[place])
    return columns


def _told(
    readings: tuple[Reading, ...],
    speeds: FloatArray,
    difference: FloatArray,
    sigma: FloatArray,
    columns: list[_Column],
    base: int,
    candidates: list[_Column],
) -> LightFit:
    lowest, highest = float(speeds.min()), float(speeds.max())
    band_rpm = np.linspace(lowest, highest, _BAND_POINTS)
    own = np.eye(len(columns))
    along = np.array([[each.at(rpm) for each in columns] for rpm in band_rpm.tolist()])
    straight = not any(each.kind in ("bend", "step") for each in columns)
    together = _EACH_END if straight else _scheffe_confidence(len(columns))
    confidence = np.concatenate((np.full(len(columns), CONFIDENCE), np.full(_BAND_POINTS, together)))
    design = _design(columns)
    fit = guarded_fit(design, difference[None, :], sigma, np.vstack((own, along)), confidence)
    estimates = [Estimate(*each) for each in zip(fit.value[0], fit.low[0], fit.high[0], strict=True)]
    estimates = [Estimate(float(each.value), float(each.low), float(each.high)) for each in estimates]
    low, high = fit.low[0, len(columns) :], fit.high[0, len(columns) :]
    parted = base == 2 and straight and not any(each.kind == "setting" for each in columns)
    freedom = int(fit.degrees_of_freedom[0])
    return LightFit(
        readings=readings,
        sigma_deg=sigma,
        offset_deg=estimates[0] if parted else None,
        delay_us=estimates[1] if parted else None,
        lowest_rpm=lowest,
        highest_rpm=highest,
        at_lowest=estimates[len(columns)],
        at_highest=estimates[-1],
        within_deg=float(np.maximum(np.abs(low), np.abs(high)).max()),
        bars="rescaled" if fit.rescaled[0] else "stated",
        degrees_of_freedom=freedom,
        chi_square=float(fit.chi_square[0]),
        scatter_ratio=math.sqrt(fit.chi_square[0] / freedom) if freedom else None,
        scatter_probability=scatter_probability(float(fit.chi_square[0]), freedom),
        left_out=int(fit.left_out[0]) if fit.left_out[0] >= 0 else None,
        suspects=tuple(np.flatnonzero(fit.suspect[0]).tolist()),
        fitted_difference_deg=design @ fit.coefficients[0],
        effects=_effects(columns, base, candidates, estimates, difference, sigma, fit),
        band_rpm=band_rpm,
        band_deg=fit.value[0, len(columns) :],
        band_low_deg=low,
        band_high_deg=high,
    )


def _scheffe_confidence(parameters: int) -> float:
    """Confidence of one interval so that all along a curve hold together with 95 % (Scheffe 1953)."""
    return 1.0 - normal_two_sided(math.sqrt(chi_square_quantile(CONFIDENCE, parameters)))


def _effects(
    columns: list[_Column],
    base: int,
    candidates: list[_Column],
    estimates: list[Estimate],
    difference: FloatArray,
    sigma: FloatArray,
    fit: GuardedFit,
) -> tuple[Effect, ...]:
    """Give what was taken in, and of each kind not taken in the one that stands out most."""
    told = []
    for place, column in enumerate(columns[base:], start=base):
        others = [each for each in columns if each is not column]
        chance = _probability(others, column, difference, sigma)
        told.append(_effect(column, estimates[place], chance, accepted=True))
    kept = np.arange(difference.size) != fit.left_out[0]
    quiet: dict[str, Effect] = {}
    for column in candidates:
        if any(column is each for each in columns):
            continue
        trimmed = [_kept(each, kept) for each in [*columns, column]]
        if not parts(_design(trimmed)):
            continue
        plain = least_squares(_design(trimmed), difference[kept], sigma[kept], "stated")
        half = normal_quantile(0.5 + CONFIDENCE / 2.0) * float(plain.standard_error[-1]) * float(fit.scale[0])
        value = float(plain.coefficients[-1])
        chance = _probability(trimmed[:-1], trimmed[-1], difference[kept], sigma[kept])
        effect = _effect(column, Estimate(value, value - half, value + half), chance, accepted=False)
        if column.kind not in quiet or chance < quiet[column.kind].probability:
            quiet[column.kind] = effect
    return (*told, *quiet.values())


def _kept(column: _Column, kept: FloatArray) -> _Column:
    return _Column(column.kind, column.unit, column.values[kept], column.at, column.which, column.tries)


def _effect(column: _Column, estimate: Estimate, probability: float, *, accepted: bool) -> Effect:
    varied = int(min((column.values == each).sum() for each in np.unique(column.values)))
    return Effect(column.kind, column.unit, estimate, probability, accepted, column.which, varied)
