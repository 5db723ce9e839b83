"""Best and knock limit from few cycles.

A whole hook of a map's cell is mostly cycles that nobody looks at. Here a charge is burned only at the nodes
of a fixed lattice of advances that the answer needs: the top of the torque and its neighbours, and the
neighbours of the knock limit. What is read off depends on the nodes about the answer alone, never on how
they were come to, so that order, threads and what was asked before move nothing.

Compiled code takes the hooks of many places at once and lets go of the interpreter meanwhile.
"""

from __future__ import annotations

from math import pi, sqrt
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle import kinematics
from sparkwright.cycle.charge import CHARGE, Charge, Charges, charges_at
from sparkwright.cycle.engine import Air, Constants, Engine, Fuel
from sparkwright.cycle.hook import BLOWDOWN_SHARE, FRICTION, SLOW_BURN_SHARE, gas_exchange, step_deg
from sparkwright.cycle.jit import compiled
from sparkwright.cycle.kernel import RESULTS, burn_from, press
from sparkwright.numeric import Numeric

FloatArray = NDArray[np.float64]

MOST_DEG, LEAST_DEG, STEP_DEG = 60.0, -4.0, 4.0
LATTICE_DEG: FloatArray = np.arange(MOST_DEG, LEAST_DEG - 0.1, -STEP_DEG)
"""Advances at which cycles may be run, falling [deg]."""

KNOCK_NODES = 2
KNOCK_SPAN_DEG = KNOCK_NODES * STEP_DEG
"""How far beyond best a knock limit is looked for [deg]; what lies beyond holds no cell."""

_INTEGRAL, _OPENING, _BURNED = (
    RESULTS.index("knock_integral"),
    RESULTS.index("opening_pa"),
    RESULTS.index("burned_share"),
)
_PEAK = RESULTS.index("peak_pa")
_NODES = LATTICE_DEG.size


class _Hook(NamedTuple):
    """The hook of one charge, as far as it has been run; compiled code has it as a record of `_HOOK`."""

    charge: Charge
    step_deg: float
    line: FloatArray
    """Of `torque_line`."""
    sparks: FloatArray
    """What the spark meets at each node, see ``kernel.press``."""
    rows: FloatArray
    """`RESULTS` at each node that has been burned."""
    torque: FloatArray
    """Brake torque at each node [N m]; nan where it has not been burned."""


_HOOK = np.dtype(
    [
        ("charge", CHARGE),
        ("step_deg", np.float64),
        ("line", np.float64, (4,)),
        ("sparks", np.float64, (_NODES, 4)),
        ("rows", np.float64, (_NODES, len(RESULTS))),
        ("torque", np.float64, (_NODES,)),
    ]
)


def _ensure(hook: _Hook, node: int) -> float:
    """Burn a node unless it was, and give its torque."""
    if np.isnan(hook.torque[node]):
        row, line = hook.rows[node], hook.line
        burn_from(hook.charge, MOST_DEG - STEP_DEG * node, hook.sparks[node], hook.step_deg, row)
        hook.torque[node] = line[0] + line[1] * row[0] + line[2] * row[_OPENING] + line[3] * row[_PEAK]
    return float(hook.torque[node])


_ensure_compiled = compiled(_ensure, inline=False)


def _highest_of_every_other(hook: _Hook) -> int:
    """Burn every other node and give the one of most torque."""
    top = 0
    for node in range(0, _NODES, 2):
        if _ensure_compiled(hook, node) > hook.torque[top]:
            top = node
    return top


_highest_of_every_other_compiled = compiled(_highest_of_every_other, inline=False)


def _climb(hook: _Hook, start: int) -> int:
    """Burn nodes uphill from one of them until the top has a lower neighbour on each side; give the top.

    Where a charge burns slowly the hook may have two tops: then the climb begins anew, at the highest of
    every other node.
    """
    top, looked = min(max(start, 0), _NODES - 1), False
    while True:
        here = _ensure_compiled(hook, top)
        after = top if top == 0 else top - 1
        before = top if top == _NODES - 1 else top + 1
        earlier = _ensure_compiled(hook, after)
        later = _ensure_compiled(hook, before)
        slow = hook.rows[top, _BURNED] < SLOW_BURN_SHARE or hook.rows[before, _BURNED] < SLOW_BURN_SHARE
        if slow and not looked:
            top, looked = _highest_of_every_other_compiled(hook), True
        elif earlier > here:
            top = after
        elif later > here:
            top = before
        else:
            return top


def _seek_knock(hook: _Hook, top: int, level: float) -> int:
    """Give the node of least advance whose integral reaches a level; -1 where none does near the top.

    Goes later from the top while that knocks, else earlier; earlier by `KNOCK_NODES` at most, and no further
    than to where the integral turns.
    """
    node, rows = top, hook.rows
    _ensure_compiled(hook, node)
    if rows[node, _INTEGRAL] >= level:
        while node < _NODES - 1:
            _ensure_compiled(hook, node + 1)
            if rows[node + 1, _INTEGRAL] < level:
                return node
            node += 1
        return node
    while node > max(0, top - KNOCK_NODES):
        _ensure_compiled(hook, node - 1)
        if rows[node - 1, _INTEGRAL] >= level:
            return node - 1
        if rows[node - 1, _INTEGRAL] < rows[node, _INTEGRAL]:
            return -1
        node -= 1
    return -1


def _cubic(values: FloatArray, place: float) -> float:
    """Value at a place of the cubic through four evenly spaced values, at places 0 to 3."""
    a, b, c = place - 1.0, place - 2.0, place - 3.0
    value: float = (
        -values[0] * a * b * c / 6.0
        + values[1] * place * b * c / 2.0
        - values[2] * place * a * c / 2.0
        + values[3] * place * a * b / 6.0
    )
    return value


_cubic_compiled = compiled(_cubic)


def _top_of_cubic(values: FloatArray, near: float) -> tuple[float, float]:
    """Place and height of the top of the cubic through four values, within one place of ``near``.

    Where the derivative ``a x^2 + b x + c``, from the values' differences (Newton), falls through 0; else at
    the higher end. Of the root's two forms the one that loses no digits is taken.
    """
    low, high = max(near - 1.0, 0.0), min(near + 1.0, 3.0)
    place, height = low, _cubic_compiled(values, low)
    at_high = _cubic_compiled(values, high)
    if at_high > height:
        place, height = high, at_high
    second = values[2] - 2.0 * values[1] + values[0]
    third = values[3] - 3.0 * (values[2] - values[1]) - values[0]
    a, b = 0.5 * third, second - third
    c = values[1] - values[0] - 0.5 * second + third / 3.0
    square = b * b - 4.0 * a * c
    if square > 0.0:
        root = sqrt(square)
        top = 2.0 * c / (root - b) if b < 0.0 else -(b + root) / (2.0 * a)
        if low < top < high:
            at_top = _cubic_compiled(values, top)
            if at_top > height:
                place, height = top, at_top
    return place, height


def _crossing_of_cubic(values: FloatArray, level: float, knocking: float) -> float:
    """Place between ``knocking`` and the one after it at which a falling cubic passes a level."""
    low, high = knocking, knocking + 1.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        if _cubic_compiled(values, middle) >= level:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _fourth(torque: FloatArray) -> float:
    """Give the last torque of the cubic about a top, of five torques with the top in their middle.

    A cubic through the top and its neighbours needs one node more. Were that the one on the higher side, it
    would change sides where best passes a node, and best would jump there. So the cubics of both sides are
    blended, by where the parabola through the three has its top: as it moves half a step off the node, to
    where the next node becomes the top, only the cubic is left that is the same for both.
    """
    as_before = 4.0 * (torque[1] + torque[3]) - 6.0 * torque[2] - torque[0]
    bend = 2.0 * torque[2] - torque[1] - torque[3]
    share = 0.5 * (1.0 + (torque[3] - torque[1]) / bend) if bend > 0.0 else 0.5
    return float(as_before + share * (torque[4] - as_before))


_climb_compiled = compiled(_climb, inline=False)
_fourth_compiled = compiled(_fourth)
_seek_knock_compiled = compiled(_seek_knock, inline=False)
_top_of_cubic_compiled = compiled(_top_of_cubic, inline=False)
_crossing_of_cubic_compiled = compiled(_crossing_of_cubic, inline=False)


def _best(hook: _Hook, start: int) -> tuple[int, float, float]:
    """Give the top node, best and its torque; see `SparseHooks.best`."""
    top, torque = _climb_compiled(hook, start), hook.torque
    first = min(max(top - 1, 0), _NODES - 4)
    for node in range(first, first + 4):
        _ensure_compiled(hook, node)
    values = torque[first : first + 4].copy()
    if 2 <= top <= _NODES - 3:
        _ensure_compiled(hook, top - 2)
        values[3] = _fourth_compiled(torque[top - 2 : top + 3])
    place, height = _top_of_cubic_compiled(values, float(top - first))
    if 0.01 < place + first < _NODES - 1.01:
        return top, MOST_DEG - STEP_DEG * (first + place), height
    return top, MOST_DEG - STEP_DEG * top, float(torque[top])


def _knock(hook: _Hook, top: int, ln_level: float) -> float:
    """Give the advance at which ln of the knock integral reaches a level; see `SparseHooks.knock`."""
    node = _seek_knock_compiled(hook, top, np.exp(ln_level))
    if node < 0:
        return float(np.nan)
    if node == _NODES - 1:
        return float(-np.inf)
    first = min(max(node - 1, 0), _NODES - 4)
    for each in range(first, first + 4):
        _ensure_compiled(hook, each)
    logarithms = np.log(hook.rows[first : first + 4, _INTEGRAL])
    return float(
        MOST_DEG - STEP_DEG * (first + _crossing_of_cubic_compiled(logarithms, ln_level, float(node - first)))
    )


def _at(hook: _Hook, advance_deg: float) -> tuple[float, float, float]:
    """Give torque, ln of the knock integral and burned share at one advance; see `SparseHooks.at`."""
    if not LEAST_DEG <= advance_deg <= MOST_DEG:
        return np.nan, np.nan, np.nan
    place = (MOST_DEG - advance_deg) / STEP_DEG
    first = min(max(int(np.floor(place)) - 1, 0), _NODES - 4)
    for node in range(first, first + 4):
        _ensure_compiled(hook, node)
    logarithms = np.log(hook.rows[first : first + 4, _INTEGRAL])
    low = min(max(int(np.floor(place)), 0), _NODES - 2)
    part = place - low
    return (
        _cubic_compiled(hook.torque[first : first + 4], place - first),
        _cubic_compiled(logarithms, place - first),
        (1.0 - part) * hook.rows[low, _BURNED] + part * hook.rows[low + 1, _BURNED],
    )


_best_compiled = compiled(_best, inline=False)
_knock_compiled = compiled(_knock, inline=False)
_at_compiled = compiled(_at, inline=False)


def _press_each(hooks: Any, lattice_deg: FloatArray) -> None:
    """Compress every charge to each spark."""
    for i in range(hooks.size):
        hook = hooks[i]
        press(hook.charge, lattice_deg, hook.step_deg, hook.sparks)


def _best_each(hooks: Any, start: NDArray[np.int64], top: NDArray[np.int64], found: FloatArray) -> None:
    """Read the top node, best and its torque off every hook.

    Neighbours stand in a row, so each begins as far off its guess as the one before was found.
    """
    off = 0
    for i in range(hooks.size):
        top[i], found[0, i], found[1, i] = _best_compiled(hooks[i], start[i] + off)
        off = top[i] - start[i]


def _knock_each(hooks: Any, top: NDArray[np.int64], ln_level: FloatArray, found: FloatArray) -> None:
    """Read the advance of a level of knock off every hook."""
    for i in range(hooks.size):
        found[i] = _knock_compiled(hooks[i], top[i], ln_level[i])


def _at_each(hooks: Any, advance_deg: FloatArray, found: FloatArray) -> None:
    """Read every hook at an advance of its own."""
    for i in range(hooks.size):
        found[0, i], found[1, i], found[2, i] = _at_compiled(hooks[i], advance_deg[i])


_press_each_compiled = compiled(_press_each, inline=False)
_best_each_compiled = compiled(_best_each, inline=False)
_knock_each_compiled = compiled(_knock_each, inline=False)
_at_each_compiled = compiled(_at_each, inline=False)


class SparseHooks:
    """The hooks of charges, of which only what is asked for is run.

    What is asked is a number for all of them or an array; what is given has the shape of the places, which
    are one or stand in a row.

    Parameters
    ----------
    engine, air, fuel, constants : records
        The facts, see ``sparkwright.cycle.engine``.
    speed_rpm : float or array, shape (n,)
        Engine speed [rpm]; it, pressure and mixture are broadcast to the shape of the places.
    map_kpa : float or array
        Manifold pressure, absolute [kPa].
    mixture_lambda : float or array
        Air over stoichiometric air [-].
    """

    def __init__(
        self,
        engine: Engine,
        air: Air,
        fuel: Fuel,
        constants: Constants,
        *,
        speed_rpm: Numeric,
        map_kpa: Numeric,
        mixture_lambda: Numeric,
    ) -> None:
        self.shape = np.broadcast(speed_rpm, map_kpa, mixture_lambda).shape
        speed, pressure, mixture = map(self._flat, (speed_rpm, map_kpa, mixture_lambda))
        charges, residual_share = charges_at(
            engine,
            air,
            fuel,
            constants,
            speed_rpm=speed,
            map_kpa=pressure,
            mixture_lambda=mixture,
        )
        self.residual_share = residual_share.reshape(self.shape)
        self.mixture_lambda = mixture.reshape(self.shape)
        self._hooks = np.empty(speed.size, _HOOK)
        self._hooks["charge"] = charges
        self._hooks["step_deg"] = [step_deg(each) for each in speed.tolist()]
        self._hooks["line"] = torque_line(engine, air, charges, pressure)
        self._hooks["torque"] = np.nan
        self._top = np.full(speed.size, -1)
        _press_each_compiled(self._hooks, LATTICE_DEG)

    def _flat(self, value: Numeric) -> FloatArray:
        """Give a value for each place, one after the other."""
        return np.full(self.shape, value, dtype=np.float64).reshape(-1)

    @property
    def cycles(self) -> NDArray[np.int64]:
        """How many cycles have been run."""
        run: NDArray[np.int64] = np.count_nonzero(~np.isnan(self._hooks["torque"]), axis=1)
        return run.reshape(self.shape)

    def best(self, guess_deg: Numeric) -> tuple[FloatArray, FloatArray]:
        """Give best [deg] and its torque [N m].

        Parameters
        ----------
        guess_deg : float or array
            Where best may lie; it decides only which cycles are left out.

        Returns
        -------
        tuple of 2 arrays
            Best, 60 or -4 where torque still rises there; its torque.
        """
        start = np.rint((MOST_DEG - self._flat(guess_deg)) / STEP_DEG).astype(np.int64)
        found = np.empty((2, start.size))
        _best_each_compiled(self._hooks, start, self._top, found)
        best_deg, torque_nm = found.reshape(2, *self.shape)
        return best_deg, torque_nm

    def knock(self, ln_level: Numeric) -> FloatArray:
        """Give the advance at which ln of the knock integral reaches a level; 0 is knock itself [deg].

        Only after `best`. nan where the level is not reached up to `KNOCK_SPAN_DEG` beyond the node of best,
        -inf where the least advance of the lattice is past it.

        Parameters
        ----------
        ln_level : float or array
            Logarithm of the level [-].
        """
        found = np.empty(self._top.size)
        _knock_each_compiled(self._hooks, self._top, self._flat(ln_level), found)
        return found.reshape(self.shape)

    def at(self, advance_deg: Numeric) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Give torque [N m], ln of the knock integral and the burned share at an advance.

        Each is nan where the advance is, or lies outside -4 to 60 deg: nothing is known there.

        Parameters
        ----------
        advance_deg : float or array
            Advance at each place [crank deg].
        """
        found = np.empty((3, self._top.size))
        _at_each_compiled(self._hooks, self._flat(advance_deg), found)
        torque_nm, ln_integral, burned_share = found.reshape(3, *self.shape)
        return torque_nm, ln_integral, burned_share

    def spark_at(self, advance_deg: Numeric) -> tuple[FloatArray, FloatArray]:
        """Temperature [K] and pressure [Pa] that the spark meets at an advance within -4 to 60 deg.

        Parameters
        ----------
        advance_deg : float or array
            Advance at each place [crank deg].
        """
        advance, charge = self._flat(advance_deg), self._hooks["charge"]
        place = (MOST_DEG - advance) / STEP_DEG
        low = np.clip(place.astype(np.int64), 0, _NODES - 2)
        met_k = self._hooks["sparks"][np.arange(low.size)[:, None], low[:, None] + (0, 1), 0]
        spark_k = met_k[:, 0] + (place - low) * (met_k[:, 1] - met_k[:, 0])
        drop_m = kinematics.piston_drop_m(-advance, charge["crank_radius_m"], charge["rod_m"])
        room_m3 = (
            charge["clearance_m3"]
            + charge["piston_m2"] * drop_m
            + charge["crevice_m3"] * spark_k / charge["wall_k"]
        )
        spark_pa = charge["mass_kg"] * charge["gas_constant_j_kgk"] * spark_k / room_m3
        return spark_k.reshape(self.shape), spark_pa.reshape(self.shape)


def torque_line(engine: Engine, air: Air, charges: Charges, map_kpa: FloatArray) -> FloatArray:
    """Give the four coefficients of brake torque in the closed cycle's work, pressure at opening and peak.

    Gas exchange and friction are straight lines in these, so that compiled code can tell torque from a row of
    the kernel's results.

    Parameters
    ----------
    engine : Engine
        Volumes, valve events, number of cylinders.
    air : Air
        The air outside.
    charges : Charges
        The charge of each place.
    map_kpa : array, shape (n,)
        Manifold pressure of each [kPa].

    Returns
    -------
    array, shape (n, 4)
        For each charge, ``torque = c0 + c1 work_j + c2 opening_pa + c3 peak_pa`` [N m].

    Notes
    -----
    Algebra of `gas_exchange` and of Chen and Flynn's friction (1965).
    """
    speed = charges["mean_piston_speed_m_s"]
    exchange = gas_exchange(engine, air, map_kpa, speed, charges["closing_pa"])
    nm_per_pa = engine.displacement_m3 / (4.0 * pi)
    # Friction is a straight line in the peak, the blowdown's work one in the pressure at opening.
    fixed, by_peak, *by_speed = FRICTION
    fmep_pa = 1e5 * (fixed + by_speed[0] * speed + by_speed[1] * speed**2)
    open_j = (1.0 - BLOWDOWN_SHARE) * exchange.port_pa * exchange.blowdown_m3 - exchange.filling_j
    swept = 1.0 / engine.displaced_m3
    line = np.empty((charges.size, 4))
    line[:, 0] = swept * open_j - 1e5 * exchange.pumping_bar - fmep_pa
    line[:, 1:] = swept, swept * BLOWDOWN_SHARE * exchange.blowdown_m3, -by_peak
    return nm_per_pa * line
