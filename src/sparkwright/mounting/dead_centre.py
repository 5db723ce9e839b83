"""True top dead centre from readings on either side of it, and how wrong the balancer's own mark is.

A reading is what the balancer shows at the pointer, in crank degrees, positive before top dead centre by its
own mark. With a piston stop, or with a dial indicator at equal drop, the piston stands equally low at two
readings; true top dead centre lies midway, but for the pin offset. What the mark shows there is its error: a
timing light shows that much more advance than there is.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from sparkwright.cycle.kinematics import (
    dial_indicator_doubt_deg,
    piston_drop_m,
    piston_drop_slope_m_per_rad,
    piston_stop_top_deg,
    rim_angle_deg,
    rim_distance_m,
    top_dead_centre_deg,
)
from sparkwright.errors import Refusal
from sparkwright.job import Job
from sparkwright.mounting.lengths import length_mm
from sparkwright.numeric.quantiles import chi_square_quantile, normal_quantile, student_quantile
from sparkwright.reading import ENDINGS, SIDES, found_in, number, shown, tidy

Method = Literal["stop", "dial"]
State = Literal["good", "look", "problem"]

RIGHT_WITHIN_DEG = 0.5
"""Error of a mark that nobody needs to mend [crank deg]. Common practice, no source."""

SLIPPED_FROM_DEG = 2.0
"""Error of a mark from which a slipped ring is the first thing to look for [crank deg]. Common practice, no
source."""

WANDERS_FROM_DEG = 1.0
"""Spread between repeats from which the ring itself may be moving [crank deg]. Common practice, no source."""

USUAL_READ_TO_DEG = 0.5
"""How finely a pointer is read where nobody says [crank deg]. Common practice, no source."""

HAND_DEG = 0.25
"""What eye and hand add to each reading, as a standard deviation: looking askew, the feel of the stop [crank
deg]. Common practice, no source."""

USUAL_PIN_OFFSET_MM = 1.5
"""A large pin offset of a production piston [mm], to say what one would matter. Recalled, no source."""

SHORT_TRAVEL_DEG, LONG_TRAVEL_DEG = 8.0, 60.0
"""Half travels between which a stop works well [crank deg]. Common practice, no source."""

MOST_HALF_TRAVEL_DEG = 120.0

MOST_PAIRS = 20

CONFIDENCE = 0.95

CAUTIONS = (
    "Key off, battery disconnected, all plugs out: the engine must not fire or be cranked while a stop or a "
    "dial is in a cylinder.",
    "Turn the engine by hand at the crank's bolt, slowly, with a bar that comes off again. Never run a "
    "piston against a stop with the starter: it bends valves and breaks pistons.",
    "Hold the stop or dial clear of the valves over the whole turn, and take it out before the plugs go in.",
)
"""Cautions of the trade, in our words. Common practice, no source."""


@dataclass(frozen=True)
class CrankThrow:
    """What the pin offset and the dial's doubt are computed from [mm]; the offset None when unknown.

    The pin offset is positive towards the side to which the crank moves after top dead centre.

    Examples
    --------
    >>> round(CrankThrow(stroke_mm=91.9, rod_mm=154.0).throw_m, 5)
    0.04595
    """

    stroke_mm: float
    rod_mm: float
    pin_offset_mm: float | None = None

    def __post_init__(self) -> None:
        for name in ("stroke_mm", "rod_mm"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value > 0.0):
                raise Refusal.at(name.removesuffix("_mm"), f"{value:g} mm", "must be a length above 0")
        offset_mm = abs(self.pin_offset_mm or 0.0)
        if not (math.isfinite(offset_mm) and offset_mm <= 10.0):
            raise Refusal.at(
                "pin offset", f"{self.pin_offset_mm:g} mm", "must be -10 to 10 mm", "most are below 2 mm"
            )
        if self.rod_mm <= self.stroke_mm / 2.0 + offset_mm:
            raise Refusal.at(
                "rod",
                f"{self.rod_mm:g} mm",
                f"must be longer than half the stroke and the pin offset ({self.stroke_mm / 2 + offset_mm:g} "
                "mm)",
                "give it between centres",
            )

    @property
    def throw_m(self) -> float:
        """Half the stroke [m]."""
        return self.stroke_mm / 2000.0

    @property
    def rod_m(self) -> float:
        """Rod between centres [m]."""
        return self.rod_mm / 1000.0


def throw_of(job: Job, pin_offset_mm: float | None = None) -> CrankThrow | None:
    """Take stroke and rod from a job; None where it states neither rod nor its ratio to the stroke.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> throw_of(Job.from_toml(starter_text()).changed("engine", rod="154 mm")).rod_mm
    154.0
    """
    engine = job.engine
    rod_mm = engine.rod_mm
    if rod_mm is None and engine.rod_ratio is not None:
        rod_mm = engine.rod_ratio * engine.stroke_mm
    return None if rod_mm is None else CrankThrow(engine.stroke_mm, rod_mm, pin_offset_mm)


@dataclass(frozen=True)
class ReadPair:
    """Two readings at which the piston stands equally low: before and after the top [crank deg]."""

    before_deg: float
    after_deg: float


@dataclass(frozen=True)
class PairResult:
    """What one pair says [crank deg].

    ``middle_deg`` is the reading midway, ``half_travel_deg`` how far either lies from there,
    ``pin_error_deg`` how far after true top dead centre the middle lies for the pin offset (None: not
    determined), ``mark_error_deg`` what the mark shows at true top dead centre, ``sigma_deg`` its standard
    deviation from reading pointer and dial (None: not determined), ``drop_mm`` how low the piston stood.
    """

    before_deg: float
    after_deg: float
    middle_deg: float
    half_travel_deg: float
    pin_error_deg: float | None
    mark_error_deg: float
    sigma_deg: float
    drop_mm: float | None


@dataclass(frozen=True)
class DeadCentre:
    """Where true top dead centre is, by the balancer's mark, and what to do about the mark.

    Attributes
    ----------
    mark_error_deg : float
        What the mark shows at true top dead centre, positive before [crank deg]. True advance is the
        advance seen less this.
    half_interval_deg : float
        Half of its 95 % interval [crank deg]; ``interval_from`` says where it comes from.
    wanders : bool
        Whether the mark is somewhere else at each try, so that nothing may be set by it.
    move_mark_mm : float or None
        Along the rim, positive in the direction of rotation, from the old zero mark to the true one.
    pin_doubt_deg : float or None
        What a pin offset of 1.5 mm would change, where the offset is not known.
    flat_top_deg : float or None
        How far to either side the crank may stand with the dial's needle still, at the very top.
    """

    method: Method
    pairs: tuple[PairResult, ...]
    mark_error_deg: float
    half_interval_deg: float
    interval_from: str
    spread_deg: float | None
    wanders: bool
    move_mark_mm: float | None
    pin_offset_mm: float | None
    pin_doubt_deg: float | None
    flat_top_deg: float | None
    read_to_deg: float
    dial_step_mm: float | None
    state: State
    headline: str
    action: str
    findings: tuple[str, ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]


def mark_reading_deg(text: str, diameter_mm: float | None = None, field: str = "--stop") -> float:
    """Read what a person saw on the balancer.

    Parameters
    ----------
    text : str
        `"27 before"`, `"31 after"`, or a distance from the zero mark along the rim, `"52 mm before"`. Only 0
        stands without its side.
    diameter_mm : float, optional
        Diameter of the rim [mm], for a distance.
    field : str
        What to call it when it has to be refused.

    Returns
    -------
    float
        The reading, positive before top dead centre [crank deg], within -180 to 180.

    Raises
    ------
    Refusal
        If it can't be read, doesn't say its side, or lies outside half a turn.

    Examples
    --------
    >>> mark_reading_deg("27 before"), mark_reading_deg("31.5 after")
    (27.0, -31.5)
    >>> round(mark_reading_deg("16.07 mm before", diameter_mm=184.15), 2)
    10.0
    """
    write = 'write it as "27 before" or "31 after", or a distance along the rim as "52 mm before"'
    word, bare = _side_of(tidy(text))
    found = found_in(bare, field)
    if found is None:
        raise Refusal.at(field, shown(text), "must start with a number", write)
    if found.rest and found.rest.lower() not in ENDINGS["deg"]:
        distance_mm = length_mm(bare, field)
        if diameter_mm is None:
            raise Refusal.at(
                field, shown(text), "must come with the diameter of the rim", 'such as "7.24 in"'
            )
        value = float(rim_angle_deg(diameter_mm, distance_mm))
    else:
        value = number(bare, unit="deg", low=-180.0, high=180.0, field=field, do=write)
    if word and value < 0.0:
        raise Refusal.at(field, shown(text), "must not have both a minus and a side", write)
    if not -180.0 <= value <= 180.0:
        must = "must be within half a turn, 180 deg to either side of the mark"
        raise Refusal.at(field, shown(text), must, write)
    if not word and value != 0.0:
        without_sign = bare.lstrip("+-").strip()
        raise Refusal.at(
            field,
            shown(text),
            "must say on which side of the mark it was read, as each reading must",
            f'write "{without_sign} before" or "{without_sign} after"',
        )
    return SIDES.get(word, 0) * value


def _side_of(text: str) -> tuple[str, str]:
    """Part the side from the end of a text; "" where it names none."""
    small = text.lower()
    word = max((each for each in SIDES if small.endswith(each)), key=len, default="")
    return word, text[: len(text) - len(word)].rstrip() if word else text


def read_pairs(readings_deg: Sequence[float], field: str = "--stop") -> tuple[ReadPair, ...]:
    """Sort readings into pairs, first with second, third with fourth, before ahead of after.

    Parameters
    ----------
    readings_deg : sequence of float
        Two readings a pair, positive before top dead centre [crank deg].
    field : str
        What to call them when they have to be refused.

    Raises
    ------
    Refusal
        For an odd count, none, the same reading twice, or two that don't lie on either side.

    Examples
    --------
    >>> read_pairs([-31.0, 27.0])
    (ReadPair(before_deg=27.0, after_deg=-31.0),)
    """
    count = len(readings_deg)
    if count == 0 or count % 2:
        shown = None if count == 0 else ", ".join(f"{each:g}" for each in readings_deg)
        raise Refusal.at(
            field,
            shown,
            "must be given twice for each try, once from either side of the top",
            "turn the engine the other way against the stop and read again",
        )
    if count // 2 > MOST_PAIRS:
        raise Refusal.at(field, f"{count // 2} pairs", f"must be at most {MOST_PAIRS} pairs")
    return tuple(_pair(first, second, field) for first, second in zip(*[iter(readings_deg)] * 2, strict=True))


def _pair(first_deg: float, second_deg: float, field: str) -> ReadPair:
    shown = f"{first_deg:g} and {second_deg:g}"
    if not (math.isfinite(first_deg) and math.isfinite(second_deg)):
        raise Refusal.at(field, shown, "must be numbers of degrees")
    before_deg, after_deg = max(first_deg, second_deg), min(first_deg, second_deg)
    half_deg = (before_deg - after_deg) / 2.0
    if half_deg < 1.0:
        raise Refusal.at(
            field,
            shown,
            "must lie well apart, one on either side of the top",
            'write the one after the mark as "31 after"',
        )
    if half_deg > MOST_HALF_TRAVEL_DEG:
        raise Refusal.at(
            field,
            shown,
            f"must be less than {2 * MOST_HALF_TRAVEL_DEG:g} deg apart",
            "a stop that low is not held by the piston near its top",
        )
    return ReadPair(before_deg, after_deg)


def pin_error_deg(half_travel_deg: float, throw: CrankThrow, pin_offset_mm: float) -> float:
    """Give how far after true top dead centre the middle of two equal drops lies.

    Parameters
    ----------
    half_travel_deg : float
        Half the crank angle from one reading to the other [crank deg].
    throw : CrankThrow
        Stroke and rod.
    pin_offset_mm : float
        Pin offset, positive towards the side to which the crank moves after top dead centre [mm].

    Returns
    -------
    float
        ``asin(e/D) - asin(e/(a + l))`` with ``D = a cos(phi) + sqrt(l^2 - (a sin(phi))^2)``, the distance of
        the pin from the crank's centre [crank deg].

    Notes
    -----
    Slider-crank geometry, exact (kinematics as in Heywood, Internal Combustion Engine Fundamentals, 1988,
    section 2.2, with an offset): crank, rod and the line to the pin are the same triangle on either side, so
    the middle lies on that line; true top dead centre lies on it with crank and rod stretched.

    Examples
    --------
    >>> round(pin_error_deg(26.8309, CrankThrow(91.9, 154.0), 1.5), 4)
    0.0141
    """
    phi = math.radians(half_travel_deg)
    distance_m = throw.throw_m * math.cos(phi) + math.sqrt(
        throw.rod_m**2 - (throw.throw_m * math.sin(phi)) ** 2
    )
    lean_deg = math.degrees(math.asin(pin_offset_mm / 1000.0 / distance_m))
    return lean_deg - float(top_dead_centre_deg(throw.throw_m, throw.rod_m, pin_offset_mm / 1000.0))


def dead_centre(
    pairs: Sequence[ReadPair],
    *,
    method: Method = "stop",
    throw: CrankThrow | None = None,
    diameter_mm: float | None = None,
    read_to_deg: float = USUAL_READ_TO_DEG,
    dial_step_mm: float | None = None,
) -> DeadCentre:
    """Find true top dead centre and the error of the balancer's mark.

    Parameters
    ----------
    pairs : sequence of ReadPair
        One pair a try with a stop; with a dial, one pair a drop.
    method : {"stop", "dial"}
        How they were taken.
    throw : CrankThrow, optional
        Stroke, rod and pin offset; without it the pin offset is not counted.
    diameter_mm : float, optional
        Diameter of the rim, to say the error in mm [mm].
    read_to_deg : float
        How finely the pointer is read [crank deg].
    dial_step_mm : float, optional
        Height that the dial shows surely [mm].

    Raises
    ------
    Refusal
        For no pair, a diameter, step or fineness that can't be, or a dial without stroke and rod.

    Examples
    --------
    >>> found = dead_centre([ReadPair(27.0, -31.0)], diameter_mm=167.9)
    >>> found.mark_error_deg, round(found.move_mark_mm, 2), found.state
    (-2.0, -2.93, 'look')
    """
    _check(pairs, method, throw, diameter_mm, read_to_deg, dial_step_mm)
    results = tuple(_pair_result(pair, throw, read_to_deg, dial_step_mm) for pair in pairs)
    mark_error_deg, half_interval_deg, interval_from = _together(results)
    errors_deg = [each.mark_error_deg for each in results]
    spread_deg = max(errors_deg) - min(errors_deg) if len(results) > 1 else None
    wanders = spread_deg is not None and spread_deg > max(
        WANDERS_FROM_DEG, 4.0 * max(each.sigma_deg for each in results)
    )
    move_mm = None if diameter_mm is None else float(rim_distance_m(diameter_mm, mark_error_deg))
    state, headline, action = _words(
        mark_error_deg, half_interval_deg, spread_deg if wanders else None, move_mm
    )
    offset_mm = throw.pin_offset_mm if throw else None
    doubt_deg = None
    if throw is not None and offset_mm is None:
        doubt_deg = max(
            abs(pin_error_deg(each.half_travel_deg, throw, USUAL_PIN_OFFSET_MM)) for each in results
        )
    flat_top_deg = None
    if throw is not None and dial_step_mm is not None:
        flat_top_deg = float(dial_indicator_doubt_deg(dial_step_mm / 1000.0, throw.throw_m, throw.rod_m))
    return DeadCentre(
        method=method,
        pairs=results,
        mark_error_deg=mark_error_deg,
        half_interval_deg=half_interval_deg,
        interval_from=interval_from,
        spread_deg=spread_deg,
        wanders=wanders,
        move_mark_mm=move_mm,
        pin_offset_mm=offset_mm,
        pin_doubt_deg=doubt_deg,
        flat_top_deg=flat_top_deg,
        read_to_deg=read_to_deg,
        dial_step_mm=dial_step_mm,
        state=state,
        headline=headline,
        action=action,
        findings=tuple(_findings(mark_error_deg, wanders, results, flat_top_deg)),
        warnings=tuple(_warnings(results, throw, doubt_deg)),
        cautions=CAUTIONS,
    )


def mark_facts(found: DeadCentre) -> dict[str, bool | float]:
    """Give what a job states of the mark once this is believed, as keys of its section `light`.

    Raises
    ------
    Refusal
        Where the mark is somewhere else at each try.

    Examples
    --------
    >>> mark_facts(dead_centre([ReadPair(27.0, -31.0)]))
    {'mark_proved': True, 'mark_error_deg': -2.0}
    """
    if found.wanders:
        raise Refusal.at("mark", None, "must stay where it is before anything is kept of it", found.action)
    return {"mark_proved": True, "mark_error_deg": round(found.mark_error_deg, 2) + 0.0}


def known_error_deg(job: Job) -> float | None:
    """Give what a job's mark shows at true top dead centre; 0 where it was only said to be proved.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> job = Job.from_toml(starter_text())
    >>> known_error_deg(job.changed("light", mark_proved=True)), known_error_deg(job)
    (0.0, None)
    """
    stated = job.light.mark_error_deg
    return 0.0 if stated is None and job.light.mark_proved else stated


def mark_stands(job: Job) -> Literal["open", "right", "off"]:
    """Say how a job's mark stands: never proved, right as near as anybody needs, or known to be off.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> job = Job.from_toml(starter_text())
    >>> mark_stands(job), mark_stands(job.changed("light", mark_error_deg=-2.0))
    ('open', 'off')
    """
    error_deg = job.light.mark_error_deg
    if not (job.light.mark_proved if error_deg is None else job.light.mark_proved is not False):
        return "open"
    return "off" if abs(error_deg or 0.0) > RIGHT_WITHIN_DEG else "right"


def _check(
    pairs: Sequence[ReadPair],
    method: Method,
    throw: CrankThrow | None,
    diameter_mm: float | None,
    read_to_deg: float,
    dial_step_mm: float | None,
) -> None:
    if not pairs:
        raise Refusal.at("readings", None, "must be at least one pair", "read once from either side")
    if diameter_mm is not None and not 30.0 <= diameter_mm <= 1000.0:
        raise Refusal.at("diameter", f"{diameter_mm:g} mm", "must be 30 to 1000 mm", "measure over the marks")
    if not 0.01 <= read_to_deg <= 5.0:
        raise Refusal.at("read to", f"{read_to_deg:g} deg", "must be 0.01 to 5 deg")
    if dial_step_mm is not None and not 0.0005 <= dial_step_mm <= 1.0:
        raise Refusal.at("dial step", f"{dial_step_mm:g} mm", "must be 0.0005 to 1 mm")
    if method == "dial" and (throw is None or dial_step_mm is None):
        raise Refusal.at(
            "dial",
            None,
            "must come with stroke, rod and the dial's step",
            "how surely a dial finds the top depends on them; state the rod in the job, or give both",
        )


def _pair_result(
    pair: ReadPair, throw: CrankThrow | None, read_to_deg: float, dial_step_mm: float | None
) -> PairResult:
    middle_deg = float(piston_stop_top_deg(pair.before_deg, pair.after_deg))
    half_deg = (pair.before_deg - pair.after_deg) / 2.0
    pin_deg = None
    if throw is not None and throw.pin_offset_mm is not None:
        pin_deg = pin_error_deg(half_deg, throw, throw.pin_offset_mm)
    one_sigma_deg = math.hypot(read_to_deg / math.sqrt(12.0), HAND_DEG)
    if throw is not None and dial_step_mm is not None:
        one_sigma_deg = math.hypot(one_sigma_deg, _dial_sigma_deg(half_deg, throw, dial_step_mm))
    return PairResult(
        before_deg=pair.before_deg,
        after_deg=pair.after_deg,
        middle_deg=middle_deg,
        half_travel_deg=half_deg,
        pin_error_deg=pin_deg,
        mark_error_deg=middle_deg + (pin_deg or 0.0),
        sigma_deg=one_sigma_deg / math.sqrt(2.0),
        drop_mm=None
        if throw is None
        else 1000.0 * float(piston_drop_m(half_deg, throw.throw_m, throw.rod_m)),
    )


def _dial_sigma_deg(half_travel_deg: float, throw: CrankThrow, dial_step_mm: float) -> float:
    """Crank angle that one step of the dial is worth at this drop, as a standard deviation [crank deg]."""
    slope_mm_per_deg = (
        1000.0
        * float(piston_drop_slope_m_per_rad(half_travel_deg, throw.throw_m, throw.rod_m))
        * math.pi
        / 180.0
    )
    return dial_step_mm / math.sqrt(12.0) / slope_mm_per_deg


def _together(results: Sequence[PairResult]) -> tuple[float, float, str]:
    """Weighted mean of the pairs, half its 95 % interval, and where that comes from.

    From the readings' own fineness while the pairs agree as well as that allows (chi-square at 95 %), else
    Student's interval of their scatter.
    """
    errors = np.array([each.mark_error_deg for each in results])
    weights = np.array([each.sigma_deg for each in results]) ** -2.0
    weight = float(np.sum(weights))
    mean = float(np.sum(weights * errors)) / weight
    freedom = len(results) - 1
    chi_squared = float(np.sum(weights * (errors - mean) ** 2))
    if freedom and chi_squared > chi_square_quantile(CONFIDENCE, freedom):
        half_deg = student_quantile(CONFIDENCE, freedom) * math.sqrt(chi_squared / freedom / weight)
        return mean, half_deg, f"the scatter of {len(results)} tries"
    half_deg = normal_quantile((1.0 + CONFIDENCE) / 2.0) / math.sqrt(weight)
    return mean, half_deg, "how finely pointer and dial are read"


def _words(
    error_deg: float, half_deg: float, wander_deg: float | None, move_mm: float | None
) -> tuple[State, str, str]:
    side = "before" if error_deg > 0.0 else "after"
    if wander_deg is not None:
        return (
            "problem",
            f"The mark is somewhere else at each try, by {wander_deg:.1f} deg: it can't be trusted.",
            "Read again with more care. If it still moves, the outer ring turns on its hub: replace the "
            "damper before setting any timing by it.",
        )
    if abs(error_deg) <= RIGHT_WITHIN_DEG:
        return (
            "good",
            f"The mark is right: at true top dead centre it shows {abs(error_deg):.1f} deg {side}, "
            f"within {half_deg:.1f}.",
            "Use it as it is.",
        )
    headline = (
        f"At true top dead centre the mark shows {abs(error_deg):.1f} deg {side}, within {half_deg:.1f}."
    )
    more_or_less = "more" if error_deg > 0.0 else "less"
    way = "in the direction of rotation" if error_deg > 0.0 else "against the direction of rotation"
    how_far = f"{abs(error_deg):.1f} deg" + (f", {abs(move_mm):.1f} mm along the rim," if move_mm else "")
    action = (
        f"A light shows {abs(error_deg):.1f} deg {more_or_less} advance than there is. Put the true zero on "
        f"the balancer {how_far} from the old mark, {way}."
    )
    if abs(error_deg) > SLIPPED_FROM_DEG:
        return "problem", headline, action
    return "look", headline, action


def _findings(
    error_deg: float, wanders: bool, results: Sequence[PairResult], flat_top_deg: float | None
) -> Iterator[str]:
    if any(each.before_deg * each.after_deg > 0.0 for each in results):
        yield (
            "Both readings of a try lie on one side of the mark: see that each was given with its own side, "
            "before or after."
        )
    if wanders or abs(error_deg) > SLIPPED_FROM_DEG:
        yield (
            f"More than {SLIPPED_FROM_DEG:g} deg, or another place at each try, is how a slipped damper ring "
            "looks. Look for cracked or bulging rubber, a ring that stands proud of its hub or wobbles, and "
            "a mark that has moved since a line was painted across ring and hub. A cover, pointer or damper "
            "of another engine looks the same, but stays where it is."
        )
    if flat_top_deg is not None:
        yield (
            f"At the very top the dial stands still over {flat_top_deg:.1f} deg to either side: read at "
            "equal drops, not where the needle turns."
        )
    short = [each for each in results if each.half_travel_deg < SHORT_TRAVEL_DEG]
    if short:
        yield (
            f"The readings lie only {short[0].half_travel_deg:.1f} deg to either side: a stop so near the "
            f"top gives with the piston. Lower it until they lie 15 to 40 deg to either side."
        )
    if any(each.half_travel_deg > LONG_TRAVEL_DEG for each in results):
        yield "The stop stands very low; 15 to 40 deg to either side read best."


def _warnings(
    results: Sequence[PairResult], throw: CrankThrow | None, doubt_deg: float | None
) -> Iterator[str]:
    if doubt_deg is not None:
        yield (
            f"The pin offset is not stated and not counted; {USUAL_PIN_OFFSET_MM:g} mm would change this by "
            f"{doubt_deg:.2f} deg."
        )
    elif throw is None:
        yield (
            "Stroke, rod and pin offset are not stated: what the offset does to the middle is not "
            "determined; it is a few hundredths of a degree in ordinary engines."
        )
    if len(results) == 1:
        yield "One try only: a second one, taken from new, shows whether the ring stays where it is."
