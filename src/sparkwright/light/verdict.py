"""The fixed-advance check: what the readings prove, what to do, and what to read next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sparkwright.check.assumed import Assumed
from sparkwright.errors import Problem, Refusal
from sparkwright.job import Job
from sparkwright.light import findings as said
from sparkwright.light.bench import Bench, assumed_of, bench_of
from sparkwright.light.findings import Finding, State
from sparkwright.light.fit import ENOUGH_READINGS, LightFit, fit_readings
from sparkwright.light.proved import ProvedFact, delay_to_set_us, proved_facts
from sparkwright.light.readings import MOST_READINGS, Reading, ReadingSheet, each_once, first_of

LEAST_READINGS = 3
"""Two readings can't check one another."""

MANY_READINGS = 20
"""From here on one more reading moves little, and what it would bring is no longer tried."""

CAUTIONS = (
    "Hair, sleeves, lamp and the light's leads clear of fan, belts and pulleys; an electric fan may start by "
    "itself. Nobody stands in line with the fan or the pulley.",
    "Wheels chocked, parking brake on, gearbox out of gear.",
    "Exhaust gas is poisonous: led outside, or the engine in the open.",
    "Leads are handled only by insulated pliers made for them, and better not at all while the engine runs. "
    "Take special care with a pacemaker.",
    "Stop the engine, key off, before a hand goes to clamp bolt, cap, leads or pickup wires.",
    "No more speed than the engine stands without load, and only as long as the reading takes; back off at "
    "any knock.",
    "Local codes, emission law and licences of the place come first.",
)
"""Cautions of the trade, in our words. Common practice, no source."""

DONE = "Leave body and delay as they are; give the map back to the controller and read base once more."

UNSURE = (
    "Among so few readings one that is wrong could make this: read on to six before a hand goes to anything."
)

_ORDER: dict[State, int] = {"problem": 0, "look": 1, "open": 2, "good": 3}


@dataclass(frozen=True)
class NextReading:
    """A reading to take: what to hold, where, and what it would settle.

    ``new_list`` where it is taken after something was changed, and so belongs to no reading before it.
    """

    speed_rpm: float
    commanded_deg: float
    why: str
    new_list: bool = False


@dataclass(frozen=True)
class Proof:
    """Whether commanded and seen agree.

    ``within_deg`` is the most that they may differ from ``lowest_rpm`` to ``highest_rpm`` with 95 %
    confidence; None where that is not determined. ``wanted_deg`` is what counts as proved.
    """

    proven: bool
    within_deg: float | None
    wanted_deg: float
    lowest_rpm: float | None
    highest_rpm: float | None
    sentence: str


@dataclass(frozen=True)
class LightResult:
    """The fixed-advance check of one list of readings.

    ``state``: "good" (proved, nothing to do), "look", "problem", or "open" (fewer readings than six, and
    nothing seen in them). ``fit`` is None without readings, and where readings must not be fitted together.
    ``readings`` are all that were given; the fit holds those that it used. ``facts`` are what the job may
    state from now on, since it is proved; ``set_delay_us`` is the whole delay that the controller is to be
    set to, None where none is.
    """

    job_name: str
    fingerprint: str
    state: State
    headline: str
    action: str
    proof: Proof
    findings: tuple[Finding, ...]
    next_readings: tuple[NextReading, ...]
    readings: tuple[Reading, ...]
    fit: LightFit | None
    hold_deg: float
    cautions: tuple[str, ...]
    problems: tuple[str, ...]
    warnings: tuple[str, ...]
    assumed: tuple[Assumed, ...]
    facts: tuple[ProvedFact, ...]
    set_delay_us: float | None


def check_light(
    job: Job, readings: ReadingSheet | Sequence[Reading] = (), bench: Bench | None = None
) -> LightResult:
    """Judge readings of a timing light, taken with one setting of distributor and controller.

    Parameters
    ----------
    job : Job
        The engine.
    readings : ReadingSheet or sequence of Reading
        In the order in which they were taken; none, one or many.
    bench : Bench, optional
        What else is known; from the job alone when not given.

    Raises
    ------
    Refusal
        For a cylinder that the engine doesn't have, or more readings than are taken.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> job = Job.from_toml(starter_text())
    >>> result = check_light(job, [Reading(30, rpm, 30) for rpm in (1000, 2000, 3000, 4000, 4400)])
    >>> print(result.headline)
    Commanded and seen agree within 0.7 deg over 1,000 to 4,400 rpm with 95 % confidence.
    """
    bench = bench or bench_of(job)
    sheet = readings if isinstance(readings, ReadingSheet) else each_once(readings)
    _require(sheet.readings, bench)
    error_deg = bench.mark_error_deg or 0.0
    sheet = replace(sheet, readings=tuple(replace(each, mark_error_deg=error_deg) for each in sheet.readings))
    odd = said.fooled(sheet.readings, bench)
    out = odd.indices if odd else ()
    used = [each for place, each in enumerate(sheet.readings) if place not in out]
    fit = _fitted(used, bench) if used else None
    whole = tuple(_sure(_findings(sheet.readings, fit, odd, bench), used, bench))
    if fit is not None and fit.effect("setting") is not None:
        fit = None
    proof = _proof(fit, whole, bench)
    if proof.proven:
        whole = _let_be(whole)
    state = _state(whole, proof, len(used))
    return LightResult(
        job_name=job.name,
        fingerprint=job.fingerprint,
        state=state,
        headline=_headline(whole, proof, sheet.readings),
        action=_action(whole, proof, fit, len(sheet.readings)),
        proof=proof,
        findings=whole,
        next_readings=next_readings(fit, sheet.readings, whole, proof, bench),
        readings=sheet.readings,
        fit=fit,
        hold_deg=bench.hold_deg,
        cautions=CAUTIONS,
        problems=tuple(each.sentence for each in whole if each.state == "problem"),
        warnings=(*sheet.warnings, *_warnings(sheet.readings, bench)),
        assumed=assumed_of(
            bench,
            step_assumed=any(each.resolution_deg is None for each in sheet.readings),
            housing_asked=any("its rim" in each.action for each in whole),
            delay_asked=any(each.topic == "delay" and each.action for each in whole),
        ),
        facts=proved_facts(fit, proof.within_deg if proof.proven else None, bench),
        set_delay_us=delay_to_set_us(fit, whole, bench),
    )


def _require(readings: Sequence[Reading], bench: Bench) -> None:
    if len(readings) > MOST_READINGS:
        raise Refusal.at("readings", len(readings), f"must be at most {MOST_READINGS}")
    problems = [
        Problem(
            f"readings, line {each.line}, cylinder",
            each.cylinder,
            f"must be 1 to {bench.cylinders}",
            "the engine of this job has no other",
        )
        for each in readings
        if each.cylinder is not None and each.cylinder > bench.cylinders
    ]
    if problems:
        raise Refusal(first_of(problems))


def _fitted(readings: Sequence[Reading], bench: Bench) -> LightFit:
    return fit_readings(readings, resolution_deg=bench.step_deg, hand_deg=bench.eye_deg)


def _findings(
    readings: Sequence[Reading], fit: LightFit | None, odd: said.Fooled | None, bench: Bench
) -> list[Finding]:
    """Give what the fit says, the gravest first; while the light is in doubt, nothing to turn or set."""
    if fit is None:
        return []
    mixed = said.mixed(fit)
    if mixed is not None:
        return [mixed]
    ratio = said.ratio_held(said.shown_ratio(fit.readings, bench), fit, bench)
    if ratio is not None:
        return [ratio]
    command = said.command(fit)
    if command is not None and command.state == "problem":
        return [command]
    one_reading = said.blunder(fit)
    parts = [
        said.light_fooled(odd, readings, bench),
        one_reading if fit.suspects else None,
        command,
        *said.cylinders(fit),
        said.hysteresis(fit),
        said.drift(fit, bench),
        said.delay(fit, bench),
        said.offset(fit, bench),
        said.untold(fit),
        None if fit.suspects else one_reading,
        said.low_battery(fit, bench),
        said.scatter(fit),
    ]
    found = [each for each in parts if each is not None]
    if any(each.topic == "offset or delay" for each in found):
        found = [replace(each, state="open") if each.topic in ("offset", "delay") else each for each in found]
    return sorted(found, key=lambda each: _ORDER[each.state])


def _sure(found: Sequence[Finding], used: Sequence[Reading], bench: Bench) -> list[Finding]:
    """Keep hands off body and delay while, of few readings, one that is wrong could be all there is to it."""
    if len(used) >= ENOUGH_READINGS or not any(_sets_right(each) for each in found):
        return list(found)
    fits = [
        _fitted([*used[:place], *used[place + 1 :]], bench) for place in range(len(used)) if len(used) > 1
    ]
    unsure = {
        topic
        for topic, finding in (("offset", said.offset), ("delay", said.delay))
        if not fits or not all(_stands(finding(fit, bench)) for fit in fits)
    }
    kept = [
        replace(each, state="look", sentence=f"{each.sentence} {UNSURE}", action="")
        if _sets_right(each) and each.topic in unsure
        else each
        for each in found
    ]
    return sorted(kept, key=lambda each: _ORDER[each.state])


def _sets_right(finding: Finding) -> bool:
    return finding.topic in ("offset", "delay") and bool(finding.action)


def _stands(finding: Finding | None) -> bool:
    return finding is not None and finding.state in ("problem", "look")


def _let_be(found: Sequence[Finding]) -> tuple[Finding, ...]:
    """Ask for no hand on body or delay for what is real but within the agreement that is wanted."""
    settled = [
        replace(each, state="good", sentence=f"{each.sentence} It is within what is wanted.", action="")
        if each.topic in ("offset", "delay", "offset or delay") and each.state == "look"
        else each
        for each in found
    ]
    return tuple(sorted(settled, key=lambda each: _ORDER[each.state]))


def _proof(fit: LightFit | None, found: Sequence[Finding], bench: Bench) -> Proof:
    wanted = bench.agreement_deg
    if fit is None:
        why = "no reading was taken" if not found else "these readings must not be fitted together"
        return Proof(False, None, wanted, None, None, f"Not proved: {why}.")
    span = (
        f"over {fit.lowest_rpm:,.0f} to {fit.highest_rpm:,.0f} rpm"
        if fit.highest_rpm > fit.lowest_rpm
        else f"at {fit.lowest_rpm:,.0f} rpm"
    )
    doubt = next(
        (
            each.topic
            for each in found
            if each.topic in ("light", "light or offset", "command") and each.state == "problem"
        ),
        "",
    )
    within = fit.within_deg + said.most_effect_deg(fit)
    used = len(fit.readings) - (fit.left_out is not None)

    def told(proven: bool, sentence: str, within_deg: float | None = within) -> Proof:
        return Proof(proven, within_deg, wanted, fit.lowest_rpm, fit.highest_rpm, sentence)

    if doubt:
        what = "what the spark does with a command" if doubt == "command" else "the light"
        return told(False, f"Not proved: {what} is in doubt first.", None)
    if fit.highest_rpm == fit.lowest_rpm:
        return told(
            False,
            f"Not proved: commanded and seen agree within {within:.1f} deg {span} with 95 % confidence, "
            "and it was read at no other speed.",
        )
    if used < LEAST_READINGS:
        return told(
            False,
            f"Not proved: {used} readings can't check one another. If both are good, commanded and seen "
            f"agree within {within:.1f} deg {span} with 95 % confidence.",
        )
    if within > wanted:
        return told(
            False,
            f"Not proved: commanded and seen may differ by {_over(within, wanted)} deg {span} with 95 % "
            f"confidence; {wanted:g} is wanted.",
        )
    return told(True, f"Commanded and seen agree within {within:.1f} deg {span} with 95 % confidence.")


def _over(value: float, limit: float) -> str:
    """Write a value above a limit with as many decimals as show it to be above.

    Examples
    --------
    >>> _over(1.34, 1.0), _over(1.04, 1.0), _over(1.0004, 1.0)
    ('1.3', '1.04', '1.0004')
    """
    written = (f"{value:.{decimals}f}" for decimals in range(1, 9))
    return next((each for each in written if float(each) > limit), repr(value))


def _state(found: Sequence[Finding], proof: Proof, used: int) -> State:
    states = [each.state for each in found]
    if "problem" in states:
        return "problem"
    if "look" in states:
        return "look"
    if proof.proven:
        return "good"
    return "open" if used < ENOUGH_READINGS else "look"


def _headline(found: Sequence[Finding], proof: Proof, readings: Sequence[Reading]) -> str:
    if not readings:
        return "Nothing has been read yet."
    if len(readings) == 1:
        only = readings[0]
        return (
            f"At {only.speed_rpm:,.0f} rpm the light shows {only.seen_deg:g} deg"
            f"{_counted(only)} where "
            f"{only.commanded_deg:g} is commanded. One reading can't say why; offset and delay are not "
            "determined."
        )
    grave = [each for each in found if each.state in ("problem", "look")]
    if grave and (grave[0].state == "problem" or not proof.proven):
        return next((each for each in grave if each.action), grave[0]).sentence
    return proof.sentence


def _action(found: Sequence[Finding], proof: Proof, fit: LightFit | None, taken: int) -> str:
    """Give the one thing to do."""
    grave = next((each for each in found if each.action and each.state in ("problem", "look")), None)
    if grave is not None:
        return grave.action
    if proof.proven:
        return DONE
    if fit is None and found:
        return ""
    if taken < ENOUGH_READINGS:
        return f"Take reading {taken + 1} of {ENOUGH_READINGS}."
    return "Take the next reading."


def _warnings(readings: Sequence[Reading], bench: Bench) -> list[str]:
    told = []
    if bench.mark_error_deg and readings:
        told.append(_mark_counted(bench.mark_error_deg))
    if bench.driver == "capacitive" and bench.light != "plain":
        told.append(
            "A capacitive driver may fire several sparks at low speed, and a dial-back light counts each: "
            "set its dial to zero and read against a timing tape."
        )
    asked_deg = max([bench.hold_deg, *(each.commanded_deg for each in readings)])
    if asked_deg > bench.most_deg + 0.5:
        told.append(
            f"{asked_deg:g} deg is more than the {bench.most_deg:g} that rotor, knock, controller and "
            "practice allow to be held without load: beyond its reach the rotor's tip has left the post."
        )
    return told


def _counted(reading: Reading) -> str:
    return f", {reading.true_deg:.3g} by the true zero," if reading.mark_error_deg else ""


def _mark_counted(error_deg: float) -> str:
    side, done = ("before", "taken off") if error_deg > 0.0 else ("after", "added to")
    shown = f"{abs(error_deg):.3g} deg"
    return (
        f"At true top dead centre the mark shows {shown} {side}: {shown} were {done} everything seen before "
        "it was judged. How well the mark's error is known comes on top of the intervals here."
    )


def next_readings(
    fit: LightFit | None,
    readings: Sequence[Reading],
    found: Sequence[Finding],
    proof: Proof,
    bench: Bench,
) -> tuple[NextReading, ...]:
    """Say which readings would settle what is open, the most useful first.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> job = Job.from_toml(starter_text())
    >>> [(each.speed_rpm, each.commanded_deg) for each in check_light(job).next_readings]
    [(2000.0, 26.0), (4000.0, 26.0), (2800.0, 26.0), (2400.0, 26.0), (3200.0, 26.0), (3600.0, 26.0)]
    """
    low, high, hold = bench.low_rpm, bench.high_rpm, bench.hold_deg
    topics = {each.topic for each in found if each.state == "problem"}
    if not readings or "two settings" in topics:
        return _to_six((), bench)
    if "light or offset" in topics:
        return (NextReading(low, hold - 10.0, "tells a fooled light from a spark that is off"),)
    if "command" in topics or "light" in topics or fit is None:
        return (NextReading(low, hold, "with the dial at zero, against a timing tape"),)
    if any(each.action and each.topic in ("offset", "delay", "drift") for each in found):
        return (
            NextReading(low, hold, "after the change: starts a new list", new_list=True),
            NextReading(high, hold, "after the change: the other end", new_list=True),
        )
    doubtful = [fit.left_out] if fit.left_out is not None else list(fit.suspects)
    if doubtful:
        again = [fit.readings[index] for index in doubtful]
        return tuple(
            NextReading(each.speed_rpm, each.commanded_deg, f"again, in place of {said.where(each)}")
            for each in again[:3]
        )
    if proof.proven:
        return ()
    if len(readings) < ENOUGH_READINGS:
        return _to_six([each.speed_rpm for each in readings], bench)
    return (_most_useful(fit, bench),)


def _to_six(read_rpm: Sequence[float], bench: Bench) -> tuple[NextReading, ...]:
    """Give what is left of six readings, each as far as can be from those before."""
    taken, left = list(read_rpm), list(bench.speeds_rpm)
    following = []
    while len(taken) < ENOUGH_READINGS:
        rpm = max(left, key=lambda each: min((abs(each - other) for other in taken), default=0.0))
        following.append(NextReading(rpm, bench.hold_deg, _why(taken)))
        left.remove(rpm)
        taken.append(rpm)
    return tuple(following)


def _why(taken: Sequence[float]) -> str:
    if not taken:
        return "the first of the two speeds that are always read"
    if len(set(taken)) == 1:
        return "the other end: parts a delay from an offset"
    if len(taken) < LEAST_READINGS:
        return "lets the readings check one another"
    return f"of {ENOUGH_READINGS}, one that is wrong stands out"


def _most_useful(fit: LightFit, bench: Bench) -> NextReading:
    """Try one more reading, as the fit expects it, at low, middle and high speed."""
    middle = 100.0 * round((bench.low_rpm + bench.high_rpm) / 200.0)
    if len(fit.readings) >= MANY_READINGS:
        return NextReading(
            bench.high_rpm, bench.hold_deg, "with a finer light or marks: more of the same moves little"
        )
    tried = [(_within_with(fit, rpm, bench), rpm) for rpm in (bench.high_rpm, bench.low_rpm, middle)]
    within, rpm = min(tried, key=lambda each: each[0])
    return NextReading(
        rpm,
        bench.hold_deg,
        f"if it shows what these readings expect, the agreement is known to {within:.1f} deg",
    )


def _within_with(fit: LightFit, rpm: float, bench: Bench) -> float:
    expected = float(np.interp(rpm, fit.band_rpm, fit.band_deg))
    like = fit.readings[0]
    seen_deg = like.commanded_deg + expected + like.mark_error_deg
    more = replace(like, speed_rpm=rpm, seen_deg=seen_deg)
    return _fitted([*fit.readings, more], bench).within_deg
