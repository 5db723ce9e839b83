"""The linear programme of the trims: the highest tables that stay within the room at every place at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from sparkwright.errors import Refusal
from sparkwright.numeric import FloatArray
from sparkwright.plan.conditions import Name, Place, Way

MOST_ADDED_DEG = 8.0
"""Most that a trim adds [deg]: a sensor that reads wrong must not add more; a choice."""

SPARED: dict[Name, float] = {
    "air temperature": 1.3,
    "fuel": 1.2,
    "air pressure": 1.1,
    "engine temperature": 1.0,
}
"""How much a degree of each trim counts: what corners ask beyond the single conditions goes to the last,
which is seldom at its end under load; a choice."""


@dataclass(frozen=True)
class Room:
    """What trims may add at one place of the conditions, along the load.

    Parameters
    ----------
    made : array, shape (points, loads)
        With which shares the trims at the map's loads make the one at each point: first those loads
        themselves, in their order, then any between them.
    most_deg : array, shape (points,)
        What the sum of trims may be there [deg]; inf or nan binds none.
    """

    made: FloatArray
    most_deg: FloatArray

    @property
    def by_load_deg(self) -> FloatArray:
        """Give the least room at each load; a point between counts at the load that it is most made of."""
        nearest = self.made.argmax(axis=1)
        least = np.full(self.made.shape[1], np.inf)
        np.minimum.at(least, nearest, self.most_deg)
        return least


def highest_trims(
    ways: Sequence[Way],
    places: Sequence[Place],
    rooms: Sequence[Room],
    weights: Mapping[int, FloatArray | None],
    loads: int,
) -> dict[int, FloatArray]:
    """Give the highest trims under all ceilings at once, each as degrees over values and loads.

    Each trim has a number for each of its values other than the job's own: one, shared by all loads through
    the weights, or one for each load. At every place the trims' sum stays within the room of each load, and
    between loads.

    Parameters
    ----------
    ways : sequence of Way
        Conditions of the job.
    places : sequence of Place
        Places at which the map was planned, each the number of a value for each of ``ways``.
    rooms : sequence of Room
        What the sum of trims may add at each place.
    weights : mapping
        For each trim, by the number of its condition: its share at each load, or None for a table over load.
    loads : int
        How many loads the map has.
    """
    from scipy.optimize import linprog

    column: dict[tuple[int, int, int], int] = {}
    for number, weight in weights.items():
        for at in range(len(ways[number].values)):
            if at != ways[number].own:
                for load in range(1 if weight is not None else loads):
                    column[number, at, load] = len(column)
    if not column:
        return {}
    gain = np.zeros(len(column))
    rows: list[tuple[int, int, float]] = []
    most: list[float] = []
    for at_place, room in zip(places, rooms, strict=True):
        moved = [number for number in weights if at_place[number] != ways[number].own]
        if not moved:
            continue
        for point in np.flatnonzero(np.isfinite(room.most_deg)).tolist():
            made = room.made[point]
            for number in moved:
                shares_of = weights[number]
                at = at_place[number]
                if shares_of is not None:
                    shares = {column[number, at, 0]: float(made @ shares_of)}
                else:
                    shares = {column[number, at, load]: made[load] for load in np.flatnonzero(made).tolist()}
                for place, share in shares.items():
                    rows.append((len(most), place, float(share)))
                    # Each of the map's own loads counts once, however many points lie between them.
                    if len(moved) == 1 and point < loads:
                        gain[place] += share * SPARED[ways[number].name]
            most.append(float(room.most_deg[point]))
    # What no place asks for stays at nought, and is added to nowhere.
    asked = {place for _, place, share in rows if share > 0.0}
    bounds = [(-90.0, MOST_ADDED_DEG if place in asked else 0.0) for place in range(len(column))]
    if not most:
        found = np.zeros(len(column))
    else:
        numbers, columns, shared = zip(*rows, strict=True)
        bound = np.zeros((len(most), len(column)))
        bound[list(numbers), list(columns)] = shared
        solved = linprog(-(gain + 1e-3), A_ub=bound, b_ub=most, bounds=bounds, method="highs").x
        if solved is None:
            raise Refusal.at(
                "conditions", None, "must leave the trims something to follow", "state narrower conditions"
            )
        found = np.asarray(solved)
    return {
        number: _spread(ways[number], weight, found, column, number, loads)
        for number, weight in weights.items()
    }


def _spread(
    way: Way,
    weight: FloatArray | None,
    found: FloatArray,
    column: dict[tuple[int, int, int], int],
    number: int,
    loads: int,
) -> FloatArray:
    """Lay a solution out over values and loads [deg]."""
    degrees = np.zeros((len(way.values), loads))
    for at in range(len(way.values)):
        if at != way.own:
            degrees[at] = (
                [found[column[number, at, load]] for load in range(loads)]
                if weight is None
                else found[column[number, at, 0]] * weight
            )
    return degrees
