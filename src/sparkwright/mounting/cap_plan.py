"""The cap with its leads: what stands at each post, where the rotor points at each spark, which leads part.

Bearings are seen from above, clockwise from the middle of the post of cylinder 1 [distributor deg].
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise, permutations

from sparkwright.check.result import HardwareResult
from sparkwright.findings import Finding, Value
from sparkwright.ignition.crank import NUMBERINGS, banks, numbering_of
from sparkwright.ignition.order import LeadPair, fires_after
from sparkwright.ignition.rotor import Rotation, RotorCap, tip_bearing_deg
from sparkwright.job import Job
from sparkwright.plan.result import PlanResult


@dataclass(frozen=True)
class Post:
    """A post of the cap: the cylinder whose lead goes there, and where it stands."""

    cylinder: int
    bearing_deg: float


@dataclass(frozen=True)
class Station:
    """Where the tip stands at one spark that matters, for the post of cylinder 1.

    ``ahead_deg`` is counted from the middle of the post, positive in rotation [distributor deg],
    ``ahead_mm`` the same along the tip's circle, ``gap_mm`` the air from tip to post.
    """

    name: str
    advance_deg: float
    ahead_deg: float
    ahead_mm: float
    bearing_deg: float
    covers: bool
    gap_mm: float


@dataclass(frozen=True)
class Loom:
    """Leads that run together, in an order that parts those that fire one after the other.

    ``still_together`` are pairs that no order of these leads can part: give them air or let them cross.
    """

    name: str
    leads: tuple[int, ...]
    still_together: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class Part:
    """A dimension of rotor or cap [mm], and whether somebody measured it or a size class stands in."""

    name: str
    size_mm: float
    measured: bool


@dataclass(frozen=True)
class CapPlan:
    """Cap, rotor and leads of one job, computed and not yet drawn."""

    rotation: Rotation
    cap: RotorCap
    parts: tuple[Part, ...]
    posts: tuple[Post, ...]
    stations: tuple[Station, ...]
    kept_apart: tuple[LeadPair, ...] | None
    looms: tuple[Loom, ...]
    stated_order_agrees: bool | None
    headline: Finding
    warnings: tuple[Finding, ...]


def cap_plan(job: Job, hardware: HardwareResult, plan: PlanResult) -> CapPlan:
    """Gather what the cap plan shows.

    Parameters
    ----------
    job : Job
        Firing order and layout.
    hardware : HardwareResult
        Rotor, cap order, cranking sparks.
    plan : PlanResult
        Idle, cruise and full load.

    Examples
    --------
    >>> from sparkwright.check.hardware import check_hardware
    >>> from sparkwright.job import starter_text
    >>> from sparkwright.plan.planner import plan
    >>> job = Job.from_toml(starter_text()).changed("controller", rpm=[800, 2400], kpa=[40, 90])
    >>> [post.cylinder for post in cap_plan(job, check_hardware(job), plan(job)).posts]
    [1, 5, 7, 2, 6, 3, 4, 8]
    """
    cap, rotation = hardware.rotor.cap, hardware.rotor.rotation
    sparks = stations(cap, rotation, sparks_that_matter(hardware, plan))
    return CapPlan(
        rotation=rotation,
        cap=cap,
        parts=parts(job, cap),
        posts=tuple(
            Post(cylinder, bearing)
            for cylinder, bearing in zip(
                hardware.cap_order.cylinders, hardware.cap_order.bearings_deg, strict=True
            )
        ),
        stations=sparks,
        kept_apart=hardware.kept_apart,
        looms=looms(job),
        stated_order_agrees=hardware.cap_order.agrees,
        headline=_headline(hardware, sparks),
        warnings=tuple(rotor_warnings(job, hardware)),
    )


def _headline(hardware: HardwareResult, sparks: Sequence[Station]) -> Finding:
    order = hardware.cap_order
    left = tuple((each.name, each.advance_deg) for each in sparks if not each.covers)
    numbers: dict[str, Value] = {
        "rotation": hardware.rotor.rotation,
        "order": order.cylinders,
        "left_at": left,
    }
    if order.agrees is False:
        return Finding("cap-plan.leads-wrong", "problem", numbers)
    if left:
        return Finding("cap-plan.tip-left", "look", numbers)
    return Finding("cap-plan.tip-covers", "good", numbers)


def parts(job: Job, cap: RotorCap) -> tuple[Part, ...]:
    """List the dimensions that the drawings stand on.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    cap : RotorCap
        The rotor in its cap.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> job = Job.from_toml(starter_text())
    >>> cap = RotorCap(8, 29.2, 6.0, 30.0, 2.5, base_deg=10.0)
    >>> parts(job.changed("distributor", tip_width="6 mm"), cap)[1]
    Part(name='tip width', size_mm=6.0, measured=True)
    """
    names = ("tip_radius", "tip_width", "post_radius", "post_width")
    return tuple(
        Part(
            name.replace("_", " "),
            getattr(cap, f"{name}_mm"),
            getattr(job.distributor, f"{name}_mm") is not None,
        )
        for name in names
    )


def rotor_warnings(job: Job, hardware: HardwareResult) -> Iterator[Finding]:
    """Give what keeps a drawing of the rotor from being the real one.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.
    hardware : HardwareResult
        Its check.
    """
    if job.distributor.advance == "free":
        yield Finding("rotor-drawn.advance-free", "look")
    if job.distributor.advance == "not lockable":
        yield Finding("rotor-drawn.not-lockable", "problem")
    if job.distributor.vacuum_advance == "connected":
        yield Finding("rotor-drawn.vacuum-connected", "look")
    assumed = tuple(part.name for part in parts(job, hardware.rotor.cap) if not part.measured)
    if assumed:
        numbers: dict[str, Value] = {"parts": assumed, "reach_spread_deg": hardware.rotor.reach_spread_deg}
        yield Finding("rotor-drawn.not-measured", "open", numbers)


def sparks_that_matter(hardware: HardwareResult, plan: PlanResult) -> tuple[tuple[str, float], ...]:
    """Name the sparks at which to look at the rotor, with their advance [crank deg].

    Cruise is the middle of its row, full load the most that the plan gives there; the most that the engine
    would take is added where it is more than the plan reaches.

    Parameters
    ----------
    hardware : HardwareResult
        Its check.
    plan : PlanResult
        The sparks at which to look.
    """
    cruise, full_load = plan.cruise.plan_deg, plan.full_load.plan_deg
    sparks = [("cranking", spark.advance_deg) for spark in hardware.cranking[:1]]
    sparks += [
        ("base", hardware.rotor.cap.base_deg),
        ("idle", plan.idle.set_deg),
        ("cruise", float(cruise[cruise.size // 2])),
        ("full load", float(full_load.max())),
    ]
    wanted_deg = hardware.rotor.most_deg
    if wanted_deg > max(advance for _, advance in sparks) + 0.5:
        sparks.append(("most wanted", wanted_deg))
    return tuple(sparks)


def stations(cap: RotorCap, rotation: Rotation, sparks: Sequence[tuple[str, float]]) -> tuple[Station, ...]:
    """Give where the tip stands at each of some sparks.

    Parameters
    ----------
    cap : RotorCap
        The rotor in its cap.
    rotation : {"clockwise", "anticlockwise"}
        Seen from above.
    sparks : sequence of (name, advance)
        Sparks to look at [crank deg].

    Examples
    --------
    >>> cap = RotorCap(8, 29.2, 6.0, 30.0, 2.5, base_deg=10.0)
    >>> (spark,) = stations(cap, "anticlockwise", [("cruise", 30.0)])
    >>> spark.ahead_deg, spark.bearing_deg, spark.covers, round(spark.ahead_mm, 2)
    (-10.0, 10.0, False, -5.1)
    """
    found = []
    for name, advance_deg in sparks:
        ahead_deg = float(cap.offset_distributor_deg(advance_deg))
        found.append(
            Station(
                name=name,
                advance_deg=advance_deg,
                ahead_deg=ahead_deg,
                ahead_mm=cap.tip_arc_mm(ahead_deg),
                bearing_deg=tip_bearing_deg(cap, advance_deg, rotation),
                covers=cap.covers(advance_deg),
                gap_mm=float(cap.right_gap_mm(advance_deg)),
            )
        )
    return tuple(found)


def looms(job: Job) -> tuple[Loom, ...]:
    """Order the leads of each row of cylinders so that successive sparks don't lie side by side.

    V and flat engines are numbered either bank by bank or with odd numbers in one bank; where neither the job
    nor its firing order tells which, nor the pairs that were seen to lie side by side, both are given.

    Parameters
    ----------
    job : Job
        What the shop states of the engine.

    Examples
    --------
    >>> from sparkwright.job import starter_text
    >>> [(loom.name, loom.leads) for loom in looms(Job.from_toml(starter_text()))]
    [('bank 1 to 4', (1, 3, 2, 4)), ('bank 5 to 8', (5, 6, 7, 8))]
    """
    return tuple(loom(name, leads, job.engine.firing_order) for name, leads in _rows(job))


def _rows(job: Job) -> list[tuple[str, tuple[int, ...]]]:
    count, half = job.engine.cylinders, job.engine.cylinders // 2
    if job.engine.layout == "inline":
        return [("the row", tuple(range(1, count + 1)))]
    names = {
        "odd-even": ("odd bank", "even bank"),
        "by-bank": (f"bank 1 to {half}", f"bank {half + 1} to {count}"),
    }
    odd_and_even, bank_by_bank = (
        list(zip(names[numbering], banks(count, numbering), strict=True)) for numbering in NUMBERINGS
    )
    told = numbering_of(job.engine.firing_order, job.engine.layout, job.engine.bank_numbering)
    if told is not None:
        return odd_and_even if told == "odd-even" else bank_by_bank
    seen = job.plugs.leads_adjacent or ()
    fitting = [
        rows
        for rows in (odd_and_even, bank_by_bank)
        if seen and all(any(set(pair) <= set(leads) for _, leads in rows) for pair in seen)
    ]
    return fitting[0] if len(fitting) == 1 else odd_and_even + bank_by_bank


def loom(name: str, leads: Sequence[int], firing_order: Sequence[int]) -> Loom:
    """Order some leads so that as few as can be lie beside the one that fires next.

    Among the orders that part them best, the one nearest to the natural order is taken; of two as near, the
    first in reading order.

    Parameters
    ----------
    name : str
        What to call the loom.
    leads : sequence of int
        Cylinders, in natural order; at most 8.
    firing_order : sequence of int
        Each cylinder once.

    Examples
    --------
    >>> loom("bank 1 to 4", [1, 2, 3, 4], [1, 5, 7, 2, 6, 3, 4, 8])
    Loom(name='bank 1 to 4', leads=(1, 3, 2, 4), still_together=())
    """
    successive = {frozenset(pair) for pair in fires_after(firing_order)}

    def together(order: tuple[int, ...]) -> list[tuple[int, int]]:
        return [(one, other) for one, other in pairwise(order) if frozenset((one, other)) in successive]

    def moved(order: tuple[int, ...]) -> int:
        return sum(abs(place - leads.index(lead)) for place, lead in enumerate(order))

    best = min(permutations(leads), key=lambda order: (len(together(order)), moved(order), order))
    return Loom(name, best, tuple(together(best)))
