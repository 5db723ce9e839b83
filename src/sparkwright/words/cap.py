"""Where the arc goes at one spark, in sentences."""

from __future__ import annotations

from sparkwright.check.cap_now import NOTICEABLE, CapNow
from sparkwright.findings import Sentence
from sparkwright.units import System, show
from sparkwright.words.check import NEIGHBOUR_WORDS
from sparkwright.words.parts import load


def said_first(now: CapNow) -> Sentence:
    """Say in one sentence where the arc goes.

    Parameters
    ----------
    now : CapNow
        What a cap that is there does at each advance.

    Examples
    --------
    >>> from sparkwright.check.cap_now import cap_now
    >>> from sparkwright.job import Job, starter_text
    >>> print(said_first(cap_now(Job.from_toml(starter_text()), 20.0)))
    At 20.0 deg the arc goes to its own post.
    """
    return Sentence(f"At {now.advance_deg:.1f} deg {_goes(now)}.")


def _goes(now: CapNow) -> str:
    if now.ways.state == "problem":
        return "the spark can go to the wrong cylinder"
    if not now.covers:
        return "the tip has left its post"
    if now.ways.state == "look":
        return "the arc goes to its own post, with little margin to the neighbour's"
    return "the arc goes to its own post"


def said(now: CapNow, system: System = "metric") -> tuple[Sentence, ...]:
    """Say the numbers of one spark: where the tip stands, the span reached, the neighbour, the move.

    Parameters
    ----------
    now : CapNow
        The spark.
    system : {"metric", "inch"}
        Which lengths the person reads.
    """
    parts = (_where(now, system), _span(now), _beside(now, system), _move(now, system))
    return tuple(Sentence(each) for each in parts)


def _where(now: CapNow, system: System) -> str:
    gap = show(now.right_gap_mm, "length", system)
    stays = "covers the post" if now.covers else "has left the post"
    return f"The middle of the tip stands {_offset(now, system)}: it {stays}, and the arc has {gap} to jump."


def _offset(now: CapNow, system: System) -> str:
    if abs(now.offset_distributor_deg) < NOTICEABLE:
        return "over the middle of its post"
    side = "past" if now.offset_distributor_deg > 0 else "short of"
    along = show(abs(now.offset_mm), "length", system)
    return f"{abs(now.offset_distributor_deg):.1f} distributor deg ({along}) {side} the middle of its post"


def _span(now: CapNow) -> str:
    who = "The plan asks" if now.asked.by_plan else "Usual advances ask"
    said = (
        f"With this phase and base the tip covers its post from {now.reach.least_deg:.1f} to "
        f"{now.reach.most_deg:.1f} deg, {now.reach.above_base_deg:.1f} above base. "
        f"{who} for {now.asked.least_deg:.1f} to {now.asked.most_deg:.1f}"
    )
    cranked = abs(now.asked.least_deg - now.cap.base_deg) < NOTICEABLE
    lower_end = "at the lower end, where the engine is cranked" if cranked else "at the lower end"
    lacking = [
        f"{missing_deg:.1f} deg are missing {where}"
        for missing_deg, where in (
            (now.missing_above_deg, "at the top"),
            (now.missing_below_deg, lower_end),
        )
        if missing_deg > NOTICEABLE
    ]
    if lacking:
        return f"{said}: {' and '.join(lacking)}."
    left_deg = max(0.0, -max(now.missing_above_deg, now.missing_below_deg))
    return f"{said}: all of it is reached, with {left_deg:.1f} deg left over at the nearer end."


def _beside(now: CapNow, system: System) -> str:
    ways = now.ways
    hand = "in hand" if ways.margin_kv >= 0.0 else "short"
    return (
        f"The nearer danger is {NEIGHBOUR_WORDS[now.neighbour]}, "
        f"{show(now.neighbour_gap_mm, 'length', system)} from the tip. At full load, "
        f"{load(now.kpa, now.site_kpa, system)} by "
        f"plain compression, the right way asks {ways.right_kv:.1f} kV and the way over that post "
        f"{ways.wrong_low_kv:.1f} to {ways.wrong_high_kv:.1f} kV: {abs(ways.margin_kv):.1f} kV {hand} by the "
        "careful count."
    )


def _move(now: CapNow, system: System) -> str:
    moves = []
    if abs(now.move_distributor_deg) >= NOTICEABLE:
        way = "with rotation" if now.move_distributor_deg > 0 else "against rotation"
        moves.append(
            f"move the tip {show(abs(now.move_mm), 'length', system)} {way} "
            f"({abs(now.move_distributor_deg):.1f} distributor deg, {abs(now.move_tip_fraction):.2f} of its "
            "width)"
        )
    if abs(now.base_change_deg) >= NOTICEABLE:
        side = "earlier" if now.base_change_deg > 0 else "later"
        moves.append(
            f"turn the distributor until base is {abs(now.base_change_deg):.1f} crank deg {side}, at "
            f"{now.cap.base_deg:.1f} deg"
        )
    if not moves:
        return "This is how rotor and base stand in the job: nothing to move."
    words = " and ".join(moves)
    return f"To get there {words}."
