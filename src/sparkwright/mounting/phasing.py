"""Phasing the rotor: how far to move its tip, what that gains, and how a drilled cap proves it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sparkwright.check.result import HardwareResult
from sparkwright.findings import Length, Sentence, State
from sparkwright.ignition.rotor import Reach, Rotation, RotorCap
from sparkwright.job import Job
from sparkwright.mounting.cap_plan import Part, Station, parts, rotor_warnings, sparks_that_matter, stations
from sparkwright.mounting.ways import way_of
from sparkwright.plan.result import LEAST_MOVE_MM, PlanResult

LEAST_MOVE_DEG = 0.5
"""Move of the tip below which nobody need start [distributor deg]. Common practice, no source."""

HOLE_MM = 10.0
"""Hole through which to see tip and post [mm]. Common practice, no source."""

CAUTIONS = (
    "Battery disconnected before the cap comes off: the voltage can kill.",
    "A drilled cap is for this check only. It lets spark, damp and dust through: keep face, hands and the "
    "light's body a hand's breadth from the hole, no fuel vapour about, and take it off before the engine "
    "is driven.",
    "Wear eye protection, drill the cap off the engine and clean out every chip. Sleeves, leads and light "
    "clear of fan and belts, wheels blocked, exhaust led away.",
    "Secure the rotor: a tip that comes loose, or sparks that reach the wrong post, break engines.",
)
"""Cautions of the trade, in our words. Common practice, no source."""


@dataclass(frozen=True)
class RotorPhasing:
    """How to phase a rotor, computed and not yet drawn.

    Moves are positive in the direction of rotation; where none is ``advised`` there are no ``steps``, and the
    ``proof`` is for the tip as it stands. ``missing_deg`` is what even the phased rotor can't
    reach of what the engine asks, ``reach_spread_deg`` how far either end of the reach may lie off where
    dimensions were assumed [crank deg]. ``before`` and ``after`` are what the drilled cap shows.
    """

    rotation: Rotation
    state: State
    advised: bool
    move_mm: float
    move_distributor_deg: float
    move_crank_deg: float
    move_tip_fraction: float
    phase_distributor_deg: float
    least_deg: float
    most_deg: float
    moves: bool
    """Whether there is a move to show, advised or not; less than half a millimetre is none."""
    reach_before: Reach
    reach_after: Reach
    missing_deg: float
    reach_spread_deg: float
    parts: tuple[Part, ...]
    cap_before: RotorCap
    cap_after: RotorCap
    before: tuple[Station, ...]
    after: tuple[Station, ...]
    headline: Sentence
    action: Sentence
    steps: tuple[Sentence, ...]
    proof: tuple[Sentence, ...]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]


def rotor_phasing(job: Job, hardware: HardwareResult, plan: PlanResult) -> RotorPhasing:
    """Gather what the phasing sheet shows, from the advice of the hardware check.

    Parameters
    ----------
    job : Job
        What was measured, and what is still free to move.
    hardware : HardwareResult
        Rotor, its reach and the advice for its phase.
    plan : PlanResult
        The sparks at which to look.
    """
    rotor, advice = hardware.rotor, hardware.rotor.advice
    after = replace(rotor.cap, phase_distributor_deg=advice.phase_distributor_deg)
    sparks = sparks_that_matter(hardware, plan)
    covered = rotor.today.least_deg <= rotor.least_deg and rotor.most_deg <= rotor.today.most_deg
    needed = not covered and abs(advice.move_distributor_deg) >= LEAST_MOVE_DEG
    seen_before, seen_after = (stations(cap, rotor.rotation, sparks) for cap in (rotor.cap, after))
    return RotorPhasing(
        rotation=rotor.rotation,
        advised=needed,
        state="problem" if needed else "good" if covered else "look",
        move_mm=advice.move_mm,
        move_distributor_deg=advice.move_distributor_deg,
        move_crank_deg=2.0 * advice.move_distributor_deg,
        move_tip_fraction=advice.move_tip_fraction,
        phase_distributor_deg=advice.phase_distributor_deg,
        least_deg=rotor.least_deg,
        most_deg=rotor.most_deg,
        moves=needed or abs(advice.move_mm) >= LEAST_MOVE_MM,
        reach_before=rotor.today,
        reach_after=rotor.phased,
        missing_deg=max(0.0, rotor.most_deg - rotor.phased.most_deg),
        reach_spread_deg=rotor.reach_spread_deg,
        parts=parts(job, rotor.cap),
        cap_before=rotor.cap,
        cap_after=after,
        before=seen_before,
        after=seen_after,
        headline=_headline(hardware, covered, needed),
        action=_action(hardware, covered, needed),
        steps=_steps(hardware) if needed else (),
        proof=_proof(seen_after if needed else seen_before),
        warnings=tuple(rotor_warnings(job, hardware)),
        cautions=CAUTIONS,
    )


def _move(hardware: HardwareResult) -> tuple[str, tuple[Length]]:
    """Say which way to move the tip, and how far, for the place ``{0}`` in it."""
    advice, rotation = hardware.rotor.advice, hardware.rotor.rotation
    return f"{{0}} {way_of(rotation, advice.move_distributor_deg)}", (Length(abs(advice.move_mm)),)


def _headline(hardware: HardwareResult, covered: bool, needed: bool) -> Sentence:
    rotor = hardware.rotor
    asked = f"{rotor.least_deg:.0f} to {rotor.most_deg:.0f} deg"
    if covered:
        return Sentence(f"Leave the tip: it covers its post over all that is asked, {asked}.")
    if needed:
        move, lengths = _move(hardware)
        return Sentence(f"Move the tip {move}.", lengths)
    return Sentence(f"The tip stands as well as it can, and does not cover all that is asked, {asked}.")


def _action(hardware: HardwareResult, covered: bool, needed: bool) -> Sentence:
    rotor, advice = hardware.rotor, hardware.rotor.advice
    if covered and abs(advice.move_mm) < LEAST_MOVE_MM:
        return Sentence(f"It reaches {_span(rotor.today)}, and stands in the middle of that.")
    if covered:
        move, lengths = _move(hardware)
        return Sentence(f"It reaches {_span(rotor.today)}. Centred it would stand {move}.", lengths)
    gain = (
        f"It then covers {_span(rotor.phased)} instead of {_span(rotor.today)}. "
        f"The move is {abs(advice.move_distributor_deg):.1f} deg at the distributor, "
        f"{2 * abs(advice.move_distributor_deg):.1f} at the crank, "
        f"{abs(advice.move_tip_fraction):.2f} of the tip's width."
        if needed
        else f"It covers {_span(rotor.today)}."
    )
    missing_deg = rotor.most_deg - rotor.phased.most_deg
    if missing_deg >= LEAST_MOVE_DEG:
        gain += f" {missing_deg:.0f} deg stay out of reach: fit a wider tip, or accept less advance."
    return Sentence(gain)


def _span(reach: Reach) -> str:
    return f"{reach.least_deg:.0f} to {reach.most_deg:.0f} deg"


def _steps(hardware: HardwareResult) -> tuple[Sentence, ...]:
    base_deg = hardware.rotor.cap.base_deg
    move, lengths = _move(hardware)
    return (
        Sentence(
            f"Turn the engine by hand to base, {base_deg:g} deg, on the compression stroke of cylinder 1, "
            "coming up in the direction it runs. Battery disconnected, cap off."
        ),
        Sentence(
            "Mark on the body where the middle of post 1 stands and where the middle of the tip stands now."
        ),
        Sentence(
            f"Move the tip on the shaft, not the body: {move}, measured along the circle of its end. "
            "The body stays, so base stays.",
            lengths,
        ),
        Sentence(
            "Secure it so that it can't creep: both screws with locking compound, or a pin. A rotor that "
            "nobody can move takes a re-drilled plate, or one made to be set."
        ),
        Sentence(
            "Turn the shaft against its drive by hand: play moves the tip as well; a worn gear or bush takes "
            "from the reach what it moves."
        ),
        Sentence("Write the new rotor phase into the job and plan again."),
    )


def _proof(seen: Sequence[Station]) -> tuple[Sentence, ...]:
    return (
        Sentence(
            "Take an old cap of the same kind. Drill a {0} hole in its roof just inside post 1, "
            "where the tip's end passes; smooth the edge. Scratch the middle of the post beside the hole.",
            (Length(HOLE_MM, "g"),),
        ),
        Sentence("Paint the middle of the tip's end with a white line."),
        Sentence(
            "Light on the lead of cylinder 1, engine running, the light shone into the hole: line and "
            "scratch stand still at the spark."
        ),
        _places([each for each in seen if each.covers]),
        Sentence(
            "At each the post must still have tip beside it. If the picture jitters, look for play in shaft "
            "and gear."
        ),
    )


def _places(seen: Sequence[Station]) -> Sentence:
    """Say where the line must stand at each spark; one so near the middle stands there."""
    looks: list[str] = []
    lengths: list[Length] = []
    for each in seen:
        place = "in the middle"
        if abs(each.ahead_mm) >= 0.05:
            place = f"{{{len(lengths)}}} {'past it' if each.ahead_mm > 0.0 else 'short of it'}"
            lengths.append(Length(abs(each.ahead_mm)))
        looks.append(f"{each.name} ({each.advance_deg:.0f} deg): {place}")
    return Sentence(
        f"From the middle of the post the line must stand, at {'; '.join(looks)}.", tuple(lengths)
    )
