"""Why a cell has its value: its ceilings, what holds it, what it costs, and who changed it."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite, isinf, isnan

from sparkwright.job import HandCell, Job, Peg
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.hand import SAME_CELL
from sparkwright.plan.plan_words import CEILING_WORDS, OVER_MEANS, chance_words
from sparkwright.plan.result import OverCeiling, PlanResult

CEILINGS = ("best", "knock", "reach", "hand")


@dataclass(frozen=True)
class CeilingHere:
    """One ceiling of one cell.

    ``ceiling_deg`` is nan where there is none within the tested span, -inf where the charge knocks at any
    advance; ``margin_deg`` is what is left below it, negative where the value stands over it; ``sigma_deg``
    nan where it isn't determined.
    """

    name: str
    ceiling_deg: float
    sigma_deg: float
    margin_deg: float
    holds: bool


@dataclass(frozen=True)
class CellReasons:
    """Why one cell has its value."""

    rpm: float
    kpa: float
    advance_deg: float
    held_by: str
    by_hand: bool
    ceilings: tuple[CeilingHere, ...]
    sentences: tuple[str, ...]
    peg: Peg | None
    hand: HandCell | None


def why(plan: PlanResult, job: Job, row: int, column: int) -> CellReasons:
    """Say why one cell of a plan has its value.

    Parameters
    ----------
    plan : PlanResult
        The plan.
    job : Job
        Its job, for who set what.
    row, column : int
        The cell, counted from the least load and the least speed.
    """
    rpm, kpa = float(plan.spark_map.rpm[column]), float(plan.spark_map.kpa[row])
    held = plan.held_by[row][column]
    by_hand = bool(plan.by_hand[row, column])
    sigma = {
        "best": float(plan.best_sigma_deg[row, column]),
        "knock": float(plan.knock_sigma_deg[row, column]),
        held: float(plan.sigma_deg[row, column]),
    }
    ceilings = tuple(
        CeilingHere(
            name=name,
            ceiling_deg=float(getattr(plan.ceilings, f"{name}_deg")[row, column]),
            sigma_deg=sigma.get(name, float("nan")),
            margin_deg=float(getattr(plan.margins, f"{name}_deg")[row, column]),
            holds=held == name and not by_hand,
        )
        for name in CEILINGS
    )
    return CellReasons(
        rpm=rpm,
        kpa=kpa,
        advance_deg=float(plan.spark_map.advance_deg[row, column]),
        held_by=held,
        by_hand=by_hand,
        ceilings=ceilings,
        sentences=(
            *(_over(each) for each in plan.over if (each.rpm, each.kpa) == (rpm, kpa)),
            _holds(plan, job, row, column),
            *_lowered(plan, job, row, column),
            *_short_of_best(plan, row, column),
            *_best_firmness(plan, row, column),
            f"Chance of knock at this value: {chance_words(float(plan.knock_chance_percent[row, column]))}.",
            *_burns(plan, row, column),
        ),
        peg=next((peg for peg in job.pegs if (peg.rpm, peg.kpa) == (rpm, kpa)), None),
        hand=next(
            (
                cell
                for cell in job.hand
                if abs(cell.rpm - rpm) <= SAME_CELL and abs(cell.kpa - kpa) <= SAME_CELL
            ),
            None,
        ),
    )


def _holds(plan: PlanResult, job: Job, row: int, column: int) -> str:
    if plan.by_hand[row, column]:
        return "A person set this value; the plan left it alone."
    ceilings = plan.ceilings
    match plan.held_by[row][column]:
        case "reach":
            reach_deg = ceilings.reach_deg[row, column]
            return f"Reach holds: beyond {reach_deg:.1f} deg the rotor tip leaves its post."
        case "knock":
            return _knock_holds(plan, job, row, column)
        case "hand":
            return "A limit or peg holds: the job allows no more here."
        case "reserve":
            return (
                f"The idle reserve holds: up to {job.limits.idle_reserve_deg:g} deg below best, "
                "so that timing can steady the idle."
            )
        case _:
            return "Best holds: more advance would give no more torque."


def _knock_holds(plan: PlanResult, job: Job, row: int, column: int) -> str:
    limits, allowed = job.limits, float(plan.knock_allowed_percent[row, column])
    on_top = f", less {limits.knock_margin_deg:g} deg" if limits.knock_margin_deg else ""
    return f"Knock holds: its ceiling is where knock has a chance of {chance_words(allowed)}{on_top}."


def _over(each: OverCeiling) -> str:
    if isinf(each.over_deg):
        return "This fuel knocks here at any advance."
    return (
        f"It stands {each.over_deg:.1f} deg over {CEILING_WORDS[each.ceiling]} ({each.ceiling_deg:.1f}); "
        f"{OVER_MEANS[each.ceiling]}."
    )


def _lowered(plan: PlanResult, job: Job, row: int, column: int) -> list[str]:
    """Say what smoothing took, where it is more than the controller's step alone would."""
    lowered = float(plan.smoothed_deg[row, column])
    if isnan(lowered) or lowered <= job.controller.step_deg:
        return []
    limits = job.limits
    return [
        f"It stands {lowered:.1f} deg below the lowest of them, since the map may rise no faster than "
        f"{limits.slope_deg_per_500rpm:g} deg in 500 rpm and {limits.slope_deg_per_10kpa:g} deg in 10 kPa."
    ]


def _short_of_best(plan: PlanResult, row: int, column: int) -> list[str]:
    if plan.over_ceiling[row, column]:  # what it costs in torque is not what matters there
        return []
    short = float(plan.margins.best_deg[row, column])
    lost = float(plan.torque_lost_percent[row, column])
    if not isfinite(short):
        return ["Best is not determined here."]
    if abs(short) <= TELLABLE_DEG:
        return ["That is best for torque."]
    where = "short of" if short > 0 else "past"
    if isnan(lost):
        return [f"{abs(short):.1f} deg {where} best; what that costs is not determined here."]
    if lost < 0.05:
        return [f"{abs(short):.1f} deg {where} best costs less than 0.1 % of torque here."]
    return [f"{abs(short):.1f} deg {where} best costs about {lost:.1f} % of torque here."]


def _best_firmness(plan: PlanResult, row: int, column: int) -> list[str]:
    """Say how firm best is in what counts: degrees, and the torque that being so far off costs."""
    sigma_deg = float(plan.best_sigma_deg[row, column])
    cost = float(plan.best_sigma_cost_percent[row, column])
    if isnan(sigma_deg) or isnan(cost):
        return []
    return [f"Best is known to {sigma_deg:.0f} deg; to be so far off costs {cost:.1f} % of torque."]


def _burns(plan: PlanResult, row: int, column: int) -> list[str]:
    found = []
    if plan.burn_state[row][column] == "misfire":
        found.append("Too little of the charge burns here to run (misfire).")
    if plan.burn_state[row][column] == "slow burn":
        found.append("It burns slowly here: not all of the charge before the exhaust opens.")
    if plan.outside_range[row, column]:
        found.append("A formula is used here outside the range it was measured in; its hook names it.")
    if not plan.met[row, column]:
        found.append("A running engine does not come here.")
    return found
