"""Best and knock limit from few cycles.

A whole hook of a map's cell is mostly cycles that nobody looks at. Here a charge is burned only at the nodes
of a fixed lattice of advances that the answer needs: the top of the torque and its neighbours, and the
neighbours of the knock limit. What is read off depends on the nodes about the answer alone, never on how
they were come to, so that order, threads and what was asked before move nothing.
"""

from __future__ import annotations

from math import pi

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle import kinematics
from sparkwright.cycle.engine import Air, Constants, Engine, Fuel, charge_at
from sparkwright.cycle.hook import (
    BLOWDOWN_SHARE,
    FRICTION,
    SLOW_BURN_SHARE,
    burn_state,
    gas_exchange,
    step_deg,
)
from sparkwright.cycle.jit import compiled
from sparkwright.cycle.kernel import RESULTS, Charge, burn_from, press

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


def _ensure(
    charge: Charge,
    step: float,
    line: FloatArray,
    sparks: FloatArray,
    node: int,
    rows: FloatArray,
    torque: FloatArray,
) -> float:
    """Burn a node unless it was, and give its torque."""
    if np.isnan(torque[node]):
        burn_from(charge, MOST_DEG - STEP_DEG * node, sparks[node], step, rows[node])
        torque[node] = (
            line[0] + line[1] * rows[node, 0] + line[2] * rows[node, _OPENING] + line[3] * rows[node, _PEAK]
        )
    return float(torque[node])


_ensure_compiled = compiled(_ensure)


def _climb(
    charge: Charge,
    step: float,
    line: FloatArray,
    sparks: FloatArray,
    start: int,
    rows: FloatArray,
    torque: FloatArray,
) -> int:
    """Burn nodes uphill from one of them until the top has a lower neighbour on each side; give the top.

    Where a charge burns slowly the hook may have two tops: then every node is burned.
    """
    top = min(max(start, 0), _NODES - 1)
    while True:
        here = _ensure_compiled(charge, step, line, sparks, top, rows, torque)
        after = top if top == 0 else top - 1
        before = top if top == _NODES - 1 else top + 1
        earlier = _ensure_compiled(charge, step, line, sparks, after, rows, torque)
        later = _ensure_compiled(charge, step, line, sparks, before, rows, torque)
        if rows[top, _BURNED] < SLOW_BURN_SHARE or rows[before, _BURNED] < SLOW_BURN_SHARE:
            for node in range(_NODES):
                _ensure_compiled(charge, step, line, sparks, node, rows, torque)
            return int(np.argmax(torque))
        if earlier > here:
            top = after
        elif later > here:
            top = before
        else:
            return top


_climb_compiled = compiled(_climb)


def _seek_knock(
    charge: Charge,
    step: float,
    line: FloatArray,
    sparks: FloatArray,
    top: int,
    most: int,
    level: float,
    rows: FloatArray,
    torque: FloatArray,
) -> int:
    """Give the node of least advance whose integral reaches a level; -1 where none does up to ``most``.

    Goes later from the top while that knocks, else earlier; earlier no further than to where the integral
    turns.
    """
    node = top
    _ensure_compiled(charge, step, line, sparks, node, rows, torque)
    if rows[node, _INTEGRAL] >= level:
        while node < _NODES - 1:
            _ensure_compiled(charge, step, line, sparks, node + 1, rows, torque)
            if rows[node + 1, _INTEGRAL] < level:
                return node
            node += 1
        return node
    while node > most:
        _ensure_compiled(charge, step, line, sparks, node - 1, rows, torque)
        if rows[node - 1, _INTEGRAL] >= level:
            return node - 1
        if rows[node - 1, _INTEGRAL] < rows[node, _INTEGRAL]:
            return -1
        node -= 1
    return -1


_seek_knock_compiled = compiled(_seek_knock)


def _read_best(
    charge: Charge,
    step: float,
    line: FloatArray,
    sparks: FloatArray,
    start: int,
    rows: FloatArray,
    torque: FloatArray,
    found: FloatArray,
) -> int:
    """Read best and its torque into ``found`` and give the top node; see `SparseHook.best`."""
    top = _climb_compiled(charge, step, line, sparks, start, rows, torque)
    # A cubic through the top, its neighbours, and the next one on the higher side.
    first = top - 1 if top < _NODES - 1 and torque[top + 1] > torque[max(top - 1, 0)] else top - 2
    first = min(max(first, 0), _NODES - 4)
    for node in range(first, first + 4):
        _ensure_compiled(charge, step, line, sparks, node, rows, torque)
    place, height = _top_of_cubic_compiled(torque[first : first + 4], float(top - first))
    if 0.01 < place + first < _NODES - 1.01:
        found[0], found[1] = MOST_DEG - STEP_DEG * (first + place), height
    else:
        found[0], found[1] = MOST_DEG - STEP_DEG * top, torque[top]
    return top


def _read_knock(
    charge: Charge,
    step: float,
    line: FloatArray,
    sparks: FloatArray,
    top: int,
    ln_level: float,
    rows: FloatArray,
    torque: FloatArray,
) -> float:
    """Give the advance at which ln of the knock integral reaches a level; see `SparseHook.knock`."""
    most = max(0, top - KNOCK_NODES)
    node = _seek_knock_compiled(charge, step, line, sparks, top, most, np.exp(ln_level), rows, torque)
    if node < 0:
        return float(np.nan)
    if node == _NODES - 1:
        return float(-np.inf)
    first = min(max(node - 1, 0), _NODES - 4)
    for each in range(first, first + 4):
        _ensure_compiled(charge, step, line, sparks, each, rows, torque)
    logarithms = np.log(rows[first : first + 4, _INTEGRAL])
    return float(
        MOST_DEG - STEP_DEG * (first + _crossing_of_cubic_compiled(logarithms, ln_level, float(node - first)))
    )


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
    """Place and height of the top of the cubic through four values, within one place of ``near``."""
    low, high = max(near - 1.0, 0.0), min(near + 1.0, 3.0)
    golden = 0.6180339887498949
    left, right = high - golden * (high - low), low + golden * (high - low)
    left_value, right_value = _cubic_compiled(values, left), _cubic_compiled(values, right)
    for _ in range(40):
        if left_value < right_value:
            low, left, left_value = left, right, right_value
            right = low + golden * (high - low)
            right_value = _cubic_compiled(values, right)
        else:
            high, right, right_value = right, left, left_value
            left = high - golden * (high - low)
            left_value = _cubic_compiled(values, left)
    place = 0.5 * (low + high)
    return place, _cubic_compiled(values, place)


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


_top_of_cubic_compiled = compiled(_top_of_cubic)
_crossing_of_cubic_compiled = compiled(_crossing_of_cubic)
_read_best_compiled = compiled(_read_best)
_read_knock_compiled = compiled(_read_knock)


def _at(
    charge: Charge,
    step: float,
    line: FloatArray,
    sparks: FloatArray,
    advance_deg: float,
    rows: FloatArray,
    torque: FloatArray,
    found: FloatArray,
) -> None:
    """Read torque, ln of the knock integral and burned share at one advance into ``found``."""
    place = (MOST_DEG - advance_deg) / STEP_DEG
    first = min(max(int(np.floor(place)) - 1, 0), _NODES - 4)
    for node in range(first, first + 4):
        _ensure_compiled(charge, step, line, sparks, node, rows, torque)
    found[0] = _cubic_compiled(torque[first : first + 4], place - first)
    found[1] = _cubic_compiled(np.log(rows[first : first + 4, _INTEGRAL]), place - first)
    low = min(max(int(np.floor(place)), 0), _NODES - 2)
    part = place - low
    found[2] = (1.0 - part) * rows[low, _BURNED] + part * rows[low + 1, _BURNED]


_at_compiled = compiled(_at)


class SparseHook:
    """The hook of one charge, of which only what is asked for is run.

    Parameters
    ----------
    engine, air, fuel, constants : records
        The facts, see ``sparkwright.cycle.engine``.
    speed_rpm : float
        Engine speed [rpm].
    map_kpa : float
        Manifold pressure, absolute [kPa].
    mixture_lambda : float
        Air over stoichiometric air [-].
    """

    def __init__(
        self,
        engine: Engine,
        air: Air,
        fuel: Fuel,
        constants: Constants,
        *,
        speed_rpm: float,
        map_kpa: float,
        mixture_lambda: float,
    ) -> None:
        self.charge, self.residual_share = charge_at(
            engine, air, fuel, constants, speed_rpm=speed_rpm, map_kpa=map_kpa, mixture_lambda=mixture_lambda
        )
        self.mixture_lambda = mixture_lambda
        self._step = step_deg(speed_rpm)
        self._line = torque_line(engine, air, self.charge, map_kpa)
        self._sparks = np.empty((_NODES, 4))
        self._rows = np.full((_NODES, len(RESULTS)), np.nan)
        self._torque = np.full(_NODES, np.nan)
        self._top = -1
        press(self.charge, LATTICE_DEG, self._step, self._sparks)

    @property
    def cycles(self) -> int:
        """How many cycles have been run."""
        return int(np.count_nonzero(~np.isnan(self._torque)))

    def best(self, guess_deg: float) -> tuple[float, float]:
        """Give best [deg] and its torque [N m].

        Parameters
        ----------
        guess_deg : float
            Where best may lie; it decides only which cycles are left out.

        Returns
        -------
        tuple of 2 floats
            Best, 60 or -4 where torque still rises there; its torque.
        """
        found = np.empty(2)
        start = round((MOST_DEG - guess_deg) / STEP_DEG)
        self._top = _read_best_compiled(
            self.charge, self._step, self._line, self._sparks, start, self._rows, self._torque, found
        )
        return float(found[0]), float(found[1])

    def knock(self, ln_level: float) -> float:
        """Give the advance at which ln of the knock integral reaches a level; 0 is knock itself [deg].

        Only after `best`. nan where the level is not reached up to `KNOCK_SPAN_DEG` beyond the node of best,
        -inf where the least advance of the lattice is past it.
        """
        return float(
            _read_knock_compiled(
                self.charge,
                self._step,
                self._line,
                self._sparks,
                self._top,
                ln_level,
                self._rows,
                self._torque,
            )
        )

    def at(self, advance_deg: float) -> tuple[float, float, float]:
        """Give torque [N m], ln of the knock integral and the burned share at an advance within -4 to 60 deg.

        Nothing is known beyond.
        """
        found = np.empty(3)
        _at_compiled(
            self.charge, self._step, self._line, self._sparks, advance_deg, self._rows, self._torque, found
        )
        return float(found[0]), float(found[1]), float(found[2])

    def spark_at(self, advance_deg: float) -> tuple[float, float]:
        """Temperature [K] and pressure [Pa] that the spark meets at an advance within -4 to 60 deg."""
        rising = LATTICE_DEG[::-1]
        spark_k = float(np.interp(advance_deg, rising, self._sparks[::-1, 0]))
        charge = self.charge
        drop_m = float(kinematics.piston_drop_m(-advance_deg, charge.crank_radius_m, charge.rod_m))
        room_m3 = (
            charge.clearance_m3 + charge.piston_m2 * drop_m + charge.crevice_m3 * spark_k / charge.wall_k
        )
        return spark_k, charge.mass_kg * charge.gas_constant_j_kgk * spark_k / room_m3

    def burn_state(self, best_deg: float) -> str:
        """How far the charge burns at best, in the trade's words."""
        return burn_state(self.at(best_deg)[2])


def torque_line(engine: Engine, air: Air, charge: Charge, map_kpa: float) -> FloatArray:
    """Give the four coefficients of brake torque in the closed cycle's work, pressure at opening and peak.

    Gas exchange and friction are straight lines in these, so that compiled code can tell torque from a row of
    the kernel's results.

    Returns
    -------
    array, shape (4,)
        ``torque = c0 + c1 work_j + c2 opening_pa + c3 peak_pa`` [N m].
    """
    exchange = gas_exchange(engine, air, charge, map_kpa)
    nm_per_pa = engine.displacement_m3 / (4.0 * pi)
    # Friction is a straight line in the peak, the blowdown's work one in the pressure at opening.
    fixed, by_peak, *by_speed = FRICTION
    speed = charge.mean_piston_speed_m_s
    fmep_pa = 1e5 * (fixed + by_speed[0] * speed + by_speed[1] * speed**2)
    open_j = (1.0 - BLOWDOWN_SHARE) * exchange.port_pa * exchange.blowdown_m3 - exchange.filling_j
    swept = 1.0 / charge.displaced_m3
    return nm_per_pa * np.array(
        [
            swept * open_j - 1e5 * exchange.pumping_bar - fmep_pa,
            swept,
            swept * BLOWDOWN_SHARE * exchange.blowdown_m3,
            -by_peak,
        ]
    )
