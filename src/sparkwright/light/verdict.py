"""The fixed-advance check: what the readings prove, what to do, and what to read next."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sparkwright.check.assumed import Assumed
from sparkwright.errors import Problem, Refusal
from sparkwright.findings import WORST_FIRST, Finding, State, Value
from sparkwright.job import Job
from sparkwright.light import findings as noticed
from sparkwright.light import with_speed
from sparkwright.light.bench import Bench, assumed_of, bench_of
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


@dataclass(frozen=True)
class NextReading:
    """A reading to take: what to hold, where, and what it would settle.

    ``new_list`` where it is taken after something was changed, and so belongs to no reading before it.
    """

    speed_rpm: float
    commanded_deg: float
    why: Finding
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
    finding: Finding
    """How it stands, or what keeps it from being proved."""


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
    headline: Finding
    """What leads: the gravest finding, or the proof."""
    to_do: Finding | None
    """The one thing to do: what a finding asks, or the next reading."""
    proof: Proof
    findings: tuple[Finding, ...]
    next_readings: tuple[NextReading, ...]
    readings: tuple[Reading, ...]
    fit: LightFit | None
    hold_deg: float
    cautions: tuple[str, ...]
    warnings: tuple[Finding, ...]
    assumed: tuple[Assumed, ...]
    facts: tuple[ProvedFact, ...]
    set_delay_us: float | None

    @property
    def problems(self) -> tuple[Finding, ...]:
        """What must be put right."""
        return tuple(each for each in self.findings if each.state == "problem")

    @property
    def asks_for_change(self) -> bool:
        """Whether a finding asks for something to be done, and not only for a reading once more."""
        return any(noticed.asks(each) and each.kind not in noticed.READ_AGAIN for each in self.findings)


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
    >>> result.headline.kind, round(result.headline.numbers["within_deg"], 1)
    ('proof.agrees', 0.7)
    """
    bench = bench or bench_of(job)
    sheet = readings if isinstance(readings, ReadingSheet) else each_once(readings)
    _require(sheet.readings, bench)
    error_deg = bench.mark_error_deg or 0.0
    sheet = replace(sheet, readings=tuple(replace(each, mark_error_deg=error_deg) for each in sheet.readings))
    odd = noticed.fooled(sheet.readings, bench)
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
        to_do=_to_do(whole, proof, fit, len(sheet.readings)),
        proof=proof,
        findings=whole,
        next_readings=next_readings(fit, sheet.readings, whole, proof, bench),
        readings=sheet.readings,
        fit=fit,
        hold_deg=bench.hold_deg,
        cautions=CAUTIONS,
        warnings=(*sheet.warnings, *_warnings(sheet.readings, bench)),
        assumed=assumed_of(
            bench,
            step_assumed=any(each.resolution_deg is None for each in sheet.readings),
            housing_asked=any(each.kind == "offset.to-turn" and noticed.asks(each) for each in whole),
            delay_asked=any(each.subject == "delay" and noticed.asks(each) for each in whole),
        ),
        facts=proved_facts(fit, proof.within_deg if proof.proven else None, bench),
        set_delay_us=delay_to_set_us(whole),
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
    readings: Sequence[Reading], fit: LightFit | None, odd: noticed.Fooled | None, bench: Bench
) -> list[Finding]:
    """Give what the fit says, the gravest first; while the light is in doubt, nothing to turn or set."""
    if fit is None:
        return []
    mixed = noticed.mixed(fit)
    if mixed is not None:
        return [mixed]
    ratio = noticed.ratio_held(noticed.shown_ratio(fit.readings, bench), fit, bench)
    if ratio is not None:
        return [ratio]
    command = noticed.command(fit)
    if command is not None and command.state == "problem":
        return [command]
    one_reading = noticed.blunder(fit)
    parts = [
        noticed.light_fooled(odd, readings),
        one_reading if fit.suspects else None,
        command,
        *noticed.cylinders(fit),
        noticed.hysteresis(fit),
        with_speed.drift(fit, bench),
        with_speed.delay(fit, bench),
        with_speed.offset(fit, bench),
        with_speed.untold(fit),
        None if fit.suspects else one_reading,
        noticed.low_battery(fit, bench),
        noticed.scatter(fit),
    ]
    found = [each for each in parts if each is not None]
    if any(each.subject == "offset-or-delay" for each in found):
        found = [
            replace(each, state="open") if each.subject in ("offset", "delay") else each for each in found
        ]
    return _gravest_first(found)


def _gravest_first(found: Sequence[Finding]) -> list[Finding]:
    return sorted(found, key=lambda each: WORST_FIRST.index(each.state))


def _sure(found: Sequence[Finding], used: Sequence[Reading], bench: Bench) -> list[Finding]:
    """Keep hands off body and delay while, of few readings, one that is wrong could be all there is to it."""
    if len(used) >= ENOUGH_READINGS or not any(_sets_right(each) for each in found):
        return list(found)
    fits = [
        _fitted([*used[:place], *used[place + 1 :]], bench) for place in range(len(used)) if len(used) > 1
    ]
    unsure = {
        subject
        for subject, finding in (("offset", with_speed.offset), ("delay", with_speed.delay))
        if not fits or not all(_stands(finding(fit, bench)) for fit in fits)
    }
    kept = [
        replace(each, state="look", numbers={**each.numbers, "unsure": True})
        if _sets_right(each) and each.subject in unsure
        else each
        for each in found
    ]
    return _gravest_first(kept)


def _sets_right(finding: Finding) -> bool:
    return finding.subject in ("offset", "delay") and noticed.asks(finding)


def _stands(finding: Finding | None) -> bool:
    return finding is not None and finding.state in ("problem", "look")


def _let_be(found: Sequence[Finding]) -> tuple[Finding, ...]:
    """Ask for no hand on body or delay for what is real but within the agreement that is wanted."""
    settled = [
        replace(each, state="good", numbers={**each.numbers, "settled": True})
        if each.subject in ("offset", "delay", "offset-or-delay") and each.state == "look"
        else each
        for each in found
    ]
    return tuple(_gravest_first(settled))


def _proof(fit: LightFit | None, found: Sequence[Finding], bench: Bench) -> Proof:
    wanted = bench.agreement_deg
    if fit is None:
        why = "proof.not-fitted" if found else "proof.nothing-read"
        return Proof(False, None, wanted, None, None, Finding(why, "open"))
    within = fit.within_deg + noticed.most_effect_deg(fit)
    used = len(fit.readings) - (fit.left_out is not None)
    numbers: dict[str, Value] = {
        "within_deg": within,
        "lowest_rpm": fit.lowest_rpm,
        "highest_rpm": fit.highest_rpm,
    }

    def told(finding: Finding, within_deg: float | None = within) -> Proof:
        return Proof(finding.state == "good", within_deg, wanted, fit.lowest_rpm, fit.highest_rpm, finding)

    doubt = _doubted_first(found)
    if doubt is not None:
        return told(doubt, None)
    if fit.highest_rpm == fit.lowest_rpm:
        return told(Finding("proof.one-speed", "open", numbers))
    if used < LEAST_READINGS:
        return told(Finding("proof.too-few", "open", {**numbers, "readings": used}))
    if within > wanted:
        return told(Finding("proof.too-far-apart", "look", {**numbers, "wanted_deg": wanted}))
    return told(Finding("proof.agrees", "good", numbers))


def _doubted_first(found: Sequence[Finding]) -> Finding | None:
    """Give what keeps everything else from being judged: the light, or what the spark does with a command."""
    for each in found:
        if each.subject in ("light", "light-or-offset", "command") and each.state == "problem":
            return Finding("proof.in-doubt", "open", {"subject": each.subject})
    return None


def _state(found: Sequence[Finding], proof: Proof, used: int) -> State:
    states = [each.state for each in found]
    if "problem" in states:
        return "problem"
    if "look" in states:
        return "look"
    if proof.proven:
        return "good"
    return "open" if used < ENOUGH_READINGS else "look"


def _headline(found: Sequence[Finding], proof: Proof, readings: Sequence[Reading]) -> Finding:
    if not readings:
        return Finding("readings.none", "open")
    if len(readings) == 1:
        only = readings[0]
        return Finding(
            "readings.one",
            "open",
            {
                "speed_rpm": only.speed_rpm,
                "seen_deg": only.seen_deg,
                "true_deg": only.true_deg if only.mark_error_deg else None,
                "commanded_deg": only.commanded_deg,
            },
        )
    grave = [each for each in found if each.state in ("problem", "look")]
    if grave and (grave[0].state == "problem" or not proof.proven):
        return next((each for each in grave if noticed.asks(each)), grave[0])
    return proof.finding


def _to_do(found: Sequence[Finding], proof: Proof, fit: LightFit | None, taken: int) -> Finding | None:
    """Give the one thing to do."""
    grave = next((each for each in found if noticed.asks(each) and each.state in ("problem", "look")), None)
    if grave is not None:
        return grave
    if proof.proven:
        return Finding("do.leave-it", "good")
    if fit is None and found:
        return None
    if taken < ENOUGH_READINGS:
        return Finding("do.take-reading", "open", {"reading": taken + 1, "of_readings": ENOUGH_READINGS})
    return Finding("do.take-the-next", "open")


def _warnings(readings: Sequence[Reading], bench: Bench) -> Iterator[Finding]:
    if bench.mark_error_deg and readings:
        yield Finding("mark.counted", "look", {"mark_error_deg": bench.mark_error_deg})
    if bench.driver == "capacitive" and bench.light != "plain":
        yield Finding("light.counts-each-spark", "look")
    asked_deg = max([bench.hold_deg, *(each.commanded_deg for each in readings)])
    if asked_deg > bench.most_deg + 0.5:
        yield Finding(
            "advance.too-much-to-hold", "look", {"asked_deg": asked_deg, "most_deg": bench.most_deg}
        )


def next_readings(
    fit: LightFit | None,
    readings: Sequence[Reading],
    found: Sequence[Finding],
    proof: Proof,
    bench: Bench,
) -> tuple[NextReading, ...]:
    """Say which readings would settle what is open, the most useful first.

    Parameters
    ----------
    fit : LightFit or None
        What was fitted; None where it could not be.
    readings : sequence of Reading
        What was read with the light.
    found : sequence of Finding
        What was noticed.
    proof : Proof
        What the readings prove.
    bench : Bench
        How it was read, and what is wanted.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> job = Job.from_toml(starter_text())
    >>> [(each.speed_rpm, each.commanded_deg) for each in check_light(job).next_readings]
    [(2000.0, 26.0), (4000.0, 26.0), (2800.0, 26.0), (2400.0, 26.0), (3200.0, 26.0), (3600.0, 26.0)]
    """
    low, high, hold = bench.low_rpm, bench.high_rpm, bench.hold_deg
    wrong = {each.subject for each in found if each.state == "problem"}
    if not readings or "two-settings" in wrong:
        return _to_six((), bench)
    if "light-or-offset" in wrong:
        return (_reading(low, hold - 10.0, "tells-light-from-offset"),)
    if "command" in wrong or "light" in wrong or fit is None:
        return (_reading(low, hold, "dial-at-zero"),)
    if any(noticed.asks(each) and each.subject in ("offset", "delay", "drift") for each in found):
        ends = (_reading(low, hold, "after-the-change"), _reading(high, hold, "after-the-change-other-end"))
        return tuple(replace(each, new_list=True) for each in ends)
    doubtful = [fit.left_out] if fit.left_out is not None else list(fit.suspects)
    if doubtful:
        again = [fit.readings[index] for index in doubtful]
        return tuple(
            _reading(each.speed_rpm, each.commanded_deg, "again", reading=noticed.place(each))
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
        following.append(_reading(rpm, bench.hold_deg, _why(taken)))
        left.remove(rpm)
        taken.append(rpm)
    return tuple(following)


def _reading(speed_rpm: float, commanded_deg: float, why: str, **numbers: Value) -> NextReading:
    return NextReading(speed_rpm, commanded_deg, Finding(f"read-next.{why}", "open", numbers))


def _why(taken: Sequence[float]) -> str:
    if not taken:
        return "first"
    if len(set(taken)) == 1:
        return "other-end"
    return "checks-the-others" if len(taken) < LEAST_READINGS else "shows-one-that-is-wrong"


def _most_useful(fit: LightFit, bench: Bench) -> NextReading:
    """Try one more reading, as the fit expects it, at low, middle and high speed."""
    middle = 100.0 * round((bench.low_rpm + bench.high_rpm) / 200.0)
    if len(fit.readings) >= MANY_READINGS:
        return _reading(bench.high_rpm, bench.hold_deg, "finer-light")
    tried = [(_within_with(fit, rpm, bench), rpm) for rpm in (bench.high_rpm, bench.low_rpm, middle)]
    within, rpm = min(tried, key=lambda each: each[0])
    return _reading(rpm, bench.hold_deg, "as-expected", within_deg=within)


def _within_with(fit: LightFit, rpm: float, bench: Bench) -> float:
    expected = float(np.interp(rpm, fit.band_rpm, fit.band_deg))
    like = fit.readings[0]
    seen_deg = like.commanded_deg + expected + like.mark_error_deg
    more = replace(like, speed_rpm=rpm, seen_deg=seen_deg)
    return _fitted([*fit.readings, more], bench).within_deg
