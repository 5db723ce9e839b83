"""What a controller has on one axis of its map, as a person types it, and where its nodes may stand.

Speeds are typed in rpm, loads in the controller's own terms; inside, an axis stands in rpm or kPa absolute.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil, floor
from typing import Literal

import numpy as np

from sparkwright.errors import Refusal
from sparkwright.job import MOST_NODES, SPEED_SPAN_RPM
from sparkwright.numeric import FloatArray
from sparkwright.plan.load_terms import Loads

MOST_PLACES = 61
"""Most places on one axis among which nodes are chosen; finer steps than that gain nothing that counts."""

MOST_STEPS = 100_000
"""Most steps that an axis is counted in [-]: far more than a controller has."""

AxisName = Literal["rpm", "load"]
"""What an axis is called where something is refused."""


@dataclass(frozen=True)
class Nodes:
    """What a controller has on one axis: how many nodes, the step they stand on, and those that are fixed.

    Speeds in rpm; loads in the controller's own terms, as they are typed into it.
    """

    count: int
    step: float
    fixed: tuple[float, ...] = ()


@dataclass(frozen=True)
class Axis:
    """One axis in rpm or kPa absolute: how many nodes, where they may stand, which are fixed or kept.

    ``own`` are the nodes that the job states, where these are kept.
    """

    count: int
    places: FloatArray
    fixed: FloatArray
    own: FloatArray | None = None

    def even(self) -> FloatArray:
        """Give nodes as evenly spaced as places allow, the fixed ones among them; kept ones as they stand."""
        if self.own is not None:
            return self.own
        wanted = np.linspace(self.places[0], self.places[-1], self.count)
        taken = self.fixed.tolist()
        for each in sorted(
            wanted.tolist(), key=lambda value: min([abs(value - at) for at in taken], default=0.0)
        ):
            # The wanted nodes that lie nearest to fixed ones are those that these stand for.
            if len(taken) == self.count:
                break
            if np.sum(np.abs(each - self.fixed) < 0.5 * (wanted[1] - wanted[0])):
                continue
            free = self.places[~np.isin(self.places, taken)]
            taken.append(float(free[np.argmin(np.abs(free - each))]))
        while len(taken) < self.count:
            free = self.places[~np.isin(self.places, taken)]
            gaps = np.array([min(abs(place - at) for at in taken) for place in free])
            taken.append(float(free[int(np.argmax(gaps))]))
        return np.array(sorted(taken))


@dataclass(frozen=True)
class Terms:
    """In what the nodes of an axis are typed; ``loads`` is None for speeds."""

    loads: Loads | None = None

    @property
    def name(self) -> AxisName:
        """What the axis is called where something is refused."""
        return "rpm" if self.loads is None else "load"

    @property
    def unit(self) -> str:
        """What stands after a node."""
        return "rpm" if self.loads is None else self.loads.unit

    @property
    def span(self) -> tuple[float, float]:
        """Least and most that a node may be, as it is typed."""
        return SPEED_SPAN_RPM if self.loads is None else self.loads.span

    def typed(self, nodes: FloatArray) -> FloatArray:
        """Give nodes as they are typed.

        Parameters
        ----------
        nodes : array
            Nodes [rpm or kPa absolute].
        """
        return nodes if self.loads is None else self.loads.as_typed(nodes)

    def inside(self, typed: Sequence[float] | FloatArray, ends: tuple[float, float]) -> FloatArray:
        """Give what is typed in rpm or kPa absolute, rising, within the ends of its axis.

        Parameters
        ----------
        typed : sequence of float
            Nodes as they are typed.
        ends : tuple of float
            First and last of the axis [rpm or kPa absolute].
        """
        nodes = np.array(typed, dtype=float)
        return np.sort(np.clip(nodes if self.loads is None else self.loads.to_kpa(nodes), *ends))


def axis_asked(terms: Terms, nodes: Nodes, ends: tuple[float, float]) -> Axis:
    """Read what is asked of an axis whose nodes are to be chosen.

    Parameters
    ----------
    terms : Terms
        In what its nodes are typed.
    nodes : Nodes
        What the controller has.
    ends : tuple of float
        First and last that the engine meets [rpm or kPa absolute].

    Raises
    ------
    Refusal
        If there is no room for so many nodes, or a fixed one can't be had.
    """
    fixed = _rising(nodes.fixed, terms)
    _require(replace(nodes, fixed=fixed), terms)
    places = np.union1d(_places(nodes, terms, ends), terms.inside(fixed, ends))
    if places.size < nodes.count:
        raise Refusal.at(
            f"axes.{terms.name}",
            f"{nodes.count} nodes",
            f"must fit between {_range(terms, ends, ' and ')} in steps of {nodes.step:g}",
            "take fewer, or a finer step",
        )
    return Axis(nodes.count, places, terms.inside(fixed, ends))


def axis_of_own_ends(terms: Terms, nodes: Nodes, own: FloatArray) -> Axis:
    """Read what is asked of an axis that the job states, where only its ends stay.

    Parameters
    ----------
    terms : Terms
        In what its nodes are typed.
    nodes : Nodes
        What the controller has.
    own : array
        The nodes that the job states [rpm or kPa absolute].
    """
    ends = float(own[0]), float(own[-1])
    asked = axis_asked(terms, nodes, ends)
    return replace(asked, places=np.union1d(asked.places, ends))


def axis_kept(terms: Terms, step: float, own: FloatArray) -> Axis:
    """Give an axis that is kept as the job states it, with the places where its nodes might have stood.

    Parameters
    ----------
    terms : Terms
        In what its nodes are typed.
    step : float
        Step of the controller, in these terms.
    own : array
        The nodes that the job states [rpm or kPa absolute].
    """
    try:
        return replace(axis_of_own_ends(terms, Nodes(own.size, step), own), own=own)
    except Refusal:
        # A step that leaves no room for as many nodes, or is none, leaves nothing to choose.
        return Axis(own.size, own, own, own)


def _rising(fixed: tuple[float, ...], terms: Terms) -> tuple[float, ...]:
    """Give fixed nodes rising; vacuum is typed either way round, since it falls where pressure rises."""
    either_way = terms.loads is not None and terms.loads.term == "inHg vacuum"
    return fixed[::-1] if either_way and len(fixed) > 1 and fixed[0] > fixed[-1] else fixed


def _range(terms: Terms, ends: tuple[float, float], between: str) -> str:
    """Write the ends of an axis as its nodes are typed, to two decimals within it."""
    low, high = sorted(terms.typed(np.array(ends)).tolist())
    return f"{ceil(100 * low - 1e-6) / 100:g}{between}{floor(100 * high + 1e-6) / 100:g} {terms.unit}"


def _require(nodes: Nodes, terms: Terms) -> None:
    name, span = terms.name, terms.span
    if not 2 <= nodes.count <= MOST_NODES:
        raise Refusal.at(f"axes.{name}", nodes.count, f"must be 2 to {MOST_NODES} nodes")
    if not nodes.step > 0.0:
        raise Refusal.at(f"axes.{name}_step", f"{nodes.step:g}", "must be above 0")
    if (span[1] - span[0]) / nodes.step > MOST_STEPS:
        least = (span[1] - span[0]) / MOST_STEPS
        raise Refusal.at(f"axes.{name}_step", f"{nodes.step:g}", f"must be at least {least:.2g}")
    for before, after in pairwise(nodes.fixed):
        if after <= before:
            said = "stands twice" if after == before else f"falls after {before:g}"
            raise Refusal.at(f"axes.fixed_{name}", f"{after:g} {said}", "must rise", "give each node once")
    for each in nodes.fixed:
        if not span[0] <= each <= span[1]:
            allowed = f"must be {ceil(100 * span[0]) / 100:g} to {floor(100 * span[1]) / 100:g} {terms.unit}"
            raise Refusal.at(f"axes.fixed_{name}", f"{each:g}", allowed)
    if len(nodes.fixed) > nodes.count:
        raise Refusal.at(
            f"axes.fixed_{name}", f"{len(nodes.fixed)} nodes", f"must be at most {nodes.count}, what there is"
        )


def _places(nodes: Nodes, terms: Terms, ends: tuple[float, float]) -> FloatArray:
    """Give the places on the controller's step that a node may have, from end to end of the map."""
    low, high = sorted(terms.typed(np.array(ends)).tolist())
    outside = [each for each in nodes.fixed if not low - 1e-6 <= each <= high + 1e-6]
    if outside:
        raise Refusal.at(
            f"axes.fixed_{terms.name}",
            f"{outside[0]:g}",
            f"must be {_range(terms, ends, ' to ')}, what this engine meets",
            "leave it out",
        )
    steps = np.arange(ceil(low / nodes.step - 1e-9), floor(high / nodes.step + 1e-9) + 1)
    every = max(1, ceil(steps.size / MOST_PLACES))
    thinned = np.union1d(steps[::every], steps[-1:]) if steps.size else steps
    return terms.inside(thinned * nodes.step, ends)
