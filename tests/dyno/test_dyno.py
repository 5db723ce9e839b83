"""Sweeps from a bench: read, sorted out, and each given its top."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import curve_fit

from planning_jobs import PUMP_HOUSE
from sparkwright.dyno.checks import sort_out
from sparkwright.dyno.fits import dyno_of, fit_of
from sparkwright.dyno.hook_fit import fit_sweep
from sparkwright.dyno.sweep import Sweep, SweepPoint
from sparkwright.dyno.table import load_sweeps, read_sweeps
from sparkwright.errors import Refusal
from sparkwright.plan.hooks import one_hook_at
from sparkwright.plan.physics import physics_of
from telling import action_of, sentence_of, sentences_of

HEAD = "speed_rpm,map_kpa,advance_deg,torque_nm"
SHAPE_DEG = np.linspace(0.0, 60.0, 31)
ADVANCES = (10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0)


def top(advance: np.ndarray, best: float) -> np.ndarray:
    """A hook of 200 N m that loses 0.03 % a squared degree."""
    return 200.0 * (1.0 - 3e-4 * (advance - best) ** 2)


def measured(torque: np.ndarray, advance: tuple[float, ...] = ADVANCES, name: str = "one") -> Sweep:
    return Sweep(
        name, tuple(SweepPoint(2500.0, 70.0, a, float(t)) for a, t in zip(advance, torque, strict=True))
    )


def fitted(sweep: Sweep) -> float:
    return fit_sweep(sweep, SHAPE_DEG, top(SHAPE_DEG, 33.0)).best_deg


# Reading.


def test_torque_in_pound_feet_and_vacuum_free_loads_are_read_in_their_units() -> None:
    """1 lbf ft = 1.3558179483 N m exactly to these figures (international pound and foot); 20 inHg = 67.73
    kPa."""
    (sweep,) = read_sweeps("rpm,map (inHg),advance,torque (lb-ft)\n2500,20,20,100\n2500,20,28,104\n")
    assert sweep.torque_nm == pytest.approx([135.58179483, 141.00506662])
    assert sweep.kpa == pytest.approx(67.728, abs=0.001)


def test_what_was_heard_and_measured_beside_torque_is_kept() -> None:
    text = (
        f"{HEAD},knock,lambda,intake_f,coolant_c,time_s,sweep\n2500,70,20,150,none,0.98,86,88,0,a\n"
        "2500,70,28,152,Trace,0.98,86,88,40,a\n"
    )
    (sweep,) = read_sweeps(text)
    last = sweep.points[-1]
    assert (last.knock, last.mixture_lambda, last.time_s) == ("trace", 0.98, 40.0)
    assert last.intake_c == pytest.approx(30.0)


def test_points_without_names_are_parted_by_speed_and_load() -> None:
    text = f"{HEAD}\n2500,70,20,150\n2510,70.5,28,152\n4000,70,20,150\n4000,90,20,190\n"
    assert [len(each.points) for each in read_sweeps(text)] == [2, 1, 1]


def test_decimal_commas_are_read_where_semicolons_part_the_columns() -> None:
    (sweep,) = read_sweeps("speed_rpm;map_kpa;advance_deg;torque_nm\n2500;70;20,5;150,25\n")
    assert (sweep.points[0].advance_deg, sweep.points[0].torque_nm) == (20.5, 150.25)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            "speed_rpm,map_kpa,advance_deg,torque_kgm\n2500,70,20,15\n",
            'sweeps, line 1, column = "torque_kgm": has no known unit of torque; known are N m, lb-ft, lb-in',
        ),
        (
            "speed_rpm,map_kpa,advance_deg,torque\n2500,70,20,15\n",
            'sweeps, line 1, column = "torque": must say its unit; write torque_nm or torque_lb-ft',
        ),
        (
            "speed_rpm,map_kpa,torque_nm\n2500,70,150\n",
            "sweeps, line 1: must name advance_deg too; "
            "start with a line `speed_rpm,map_kpa,advance_deg,torque_nm`",
        ),
        (f"{HEAD}\n2500,70,x,150\n", 'sweeps, line 2, advance = "x": must be a number'),
        (
            f"{HEAD}\n2500,7,20,150\n",
            'sweeps, line 2, map = "7": must be 10 to 400 kPa; it is the absolute manifold pressure',
        ),
        (
            f"{HEAD},knock\n2500,70,20,150,loud\n",
            'sweeps, line 2, knock = "loud": must be none, trace or heavy; or left empty',
        ),
        (
            f"{HEAD}\n2500,70,20\n",
            "sweeps, line 2, torque (not given): must be given; it is brake torque",
        ),
        (
            "",
            "sweeps = nothing: must hold a table of measured points; "
            "start with a line `speed_rpm,map_kpa,advance_deg,torque_nm`",
        ),
        (HEAD, "sweeps = a line of names: must hold measured points under it"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_with_its_line(text: str, told: str) -> None:
    with pytest.raises(Refusal) as refusal:
        read_sweeps(text)
    assert str(refusal.value) == told


def test_a_misspelt_column_is_named_with_what_was_perhaps_meant() -> None:
    with pytest.raises(Refusal, match="perhaps advance; known are speed_rpm"):
        read_sweeps("speed_rpm,map_kpa,advence_deg,torque_nm\n2500,70,20,150\n")


def test_a_file_names_its_sweeps(tmp_path: Path) -> None:
    path = tmp_path / "monday.csv"
    path.write_text(f"{HEAD},sweep\n2500,70,20,150,a\n", encoding="utf-8")
    assert [each.name for each in load_sweeps(path)] == ["monday.csv a"]


# Sorting out.


@pytest.mark.parametrize(
    ("points", "kind", "told"),
    [
        (
            [SweepPoint(2500, 70, 20, 150)],
            "sweep.no-top",
            "Sweep odd has one point: its torque can't place a top, so it is set aside.",
        ),
        (
            [SweepPoint(2500, 70, 20, t) for t in (150.0, 151.0, 149.0)],
            "sweep.no-top",
            "Sweep odd has all its points at 20 deg: its torque can't place a top, so it is set aside.",
        ),
        (
            [SweepPoint(2500, 70, -a, 150 - 0.1 * (a - 25) ** 2) for a in (15.0, 20.0, 25.0, 30.0)],
            "sweep.sign-reversed",
            "Sweep odd has advances of -30 to -15 deg: its sign seems reversed.",
        ),
        (
            [SweepPoint(2500, 70, a, -150 + 0.1 * (a - 25) ** 2) for a in (15.0, 20.0, 25.0, 30.0)],
            "sweep.torque-reversed",
            "Sweep odd has no torque above 0: the brake's sign seems reversed, or the engine was dragged.",
        ),
        (
            [SweepPoint(2500 + 20 * a, 70, a, 150) for a in (15.0, 20.0, 25.0, 30.0)],
            "sweep.unsteady-speed",
            "Sweep odd ran from 2,800 to 3,100 rpm: unsteady speed.",
        ),
        (
            [SweepPoint(2500, 70 + a, a, 150) for a in (15.0, 20.0, 25.0, 30.0)],
            "sweep.unsteady-load",
            "Sweep odd ran from 85 to 100 kPa: unsteady load.",
        ),
        (
            [SweepPoint(2500, 70, a, 150.0) for a in (15.0, 20.0, 25.0, 30.0)],
            "sweep.stuck-sensor",
            "Sweep odd has the same torque, 150 N m, at every advance: the sensor seems stuck.",
        ),
    ],
)
def test_a_sweep_that_cannot_be_is_set_aside_and_the_rest_goes_on(
    points: list[SweepPoint], kind: str, told: str
) -> None:
    good = measured(top(np.array(ADVANCES), 27.0))
    found = sort_out([Sweep("odd", tuple(points)), good])
    assert found.used == (good,)
    assert [(each.kind, each.state) for each in found.findings] == [(kind, "problem")]
    assert sentences_of(found.findings) == (told,)


def test_the_same_file_twice_counts_once() -> None:
    once = measured(top(np.array(ADVANCES), 27.0))
    again = Sweep("two", tuple(reversed(once.points)))
    found = sort_out([once, again])
    assert found.used == (once,)
    assert sentence_of(found.findings[0]) == "Sweep two holds the same points as one; it counts once."


def test_one_point_with_a_mark_of_knock_stays_for_the_mark() -> None:
    found = sort_out([Sweep("odd", (SweepPoint(2500, 70, 20, 150, "trace"),))])
    assert len(found.used) == 1
    assert sentence_of(found.findings[0]).endswith("so only what was heard of knock is used.")


# The fit.


def test_the_top_of_a_clean_hook_is_found_where_it_was_put() -> None:
    for best in (22.0, 27.0, 33.0, 38.0):
        assert fitted(measured(top(np.array(ADVANCES), best))) == pytest.approx(best, abs=0.15)


def test_the_fit_of_a_parabola_is_that_of_scipy() -> None:
    """A parabola as the shape, clean points on one of another width: SciPy's least squares of a free
    parabola."""
    advance = np.array(ADVANCES)
    torque = 180.0 * (1.0 - 3.3e-4 * (advance - 26.3) ** 2)
    free, _ = curve_fit(lambda a, h, c, b: h * (1 - c * (a - b) ** 2), advance, torque, p0=(170, 3e-4, 30))
    assert fitted(measured(torque)) == pytest.approx(free[2], abs=0.3)


def test_the_90_percent_interval_holds_the_top_in_nine_draws_of_ten() -> None:
    """Binomial: of 200 draws 180 are expected, and fewer than 165 or more than 196 come once in a
    thousand."""
    draw, advance = np.random.default_rng(7), np.array(ADVANCES)
    held = 0
    for _ in range(200):
        noise = 1.0 + 0.005 * draw.standard_normal(advance.size)
        best = draw.uniform(22.0, 34.0)
        fit = fit_sweep(measured(top(advance, best) * noise), SHAPE_DEG, top(SHAPE_DEG, 30.0))
        held += fit.best_low_deg <= best <= fit.best_high_deg
    assert 165 <= held <= 200


def test_one_bad_point_moves_the_top_by_less_than_a_degree() -> None:
    torque = top(np.array(ADVANCES), 27.0)
    torque[5] *= 0.93
    assert fitted(measured(torque)) == pytest.approx(27.0, abs=1.0)


def test_a_sweep_that_never_crossed_its_top_says_so() -> None:
    advance = (5.0, 10.0, 15.0, 20.0)
    fit = fit_sweep(measured(top(np.array(advance), 33.0), advance), SHAPE_DEG, top(SHAPE_DEG, 33.0))
    assert not fit.crossed_top
    assert sentences_of(fit.findings) == ("Sweep one never crossed the top: torque still rises at 20 deg.",)
    assert action_of(fit.findings[0]) == "Measure two or three earlier advances, 5 deg apart."


def test_a_sweep_cut_short_by_knock_says_so() -> None:
    points = tuple(
        SweepPoint(2500, 70, a, float(top(np.array(a), 33.0)), "heavy" if a == 20 else "none")
        for a in (5.0, 10.0, 15.0, 20.0)
    )
    fit = fit_sweep(Sweep("one", points), SHAPE_DEG, top(SHAPE_DEG, 33.0))
    assert (fit.knock_from_deg, fit.knock_to_deg) == (15.0, 20.0)
    assert fit.findings[0].kind == "sweep.cut-short-by-knock"


def test_a_repeated_point_tells_drift_from_timing() -> None:
    """Torque falls by 2 % over the sweep; the first advance is measured again at the end."""
    advance = (*ADVANCES, ADVANCES[0])
    torque = top(np.array(advance), 27.0) * np.linspace(1.0, 0.98, len(advance))
    fit = fit_sweep(measured(torque, advance), SHAPE_DEG, top(SHAPE_DEG, 33.0))
    assert fit.drift_percent == pytest.approx(-2.0, abs=0.4)
    assert fit.best_deg == pytest.approx(27.0, abs=0.5)
    assert {"sweep.drift", "sweep.repeat-differs"} <= {each.kind for each in fit.findings}


def test_a_warming_engine_is_told() -> None:
    points = tuple(
        SweepPoint(2500, 70, a, float(top(np.array(a), 27.0)), coolant_c=70.0 + a) for a in ADVANCES
    )
    found = fit_sweep(Sweep("one", points), SHAPE_DEG, top(SHAPE_DEG, 33.0)).findings
    assert sentences_of(found) == ("The coolant of sweep one ran from 80 to 110 degC.",)
    assert sentence_of(found[0], "inch") == "The coolant of sweep one ran from 176 to 230 degF."


def test_a_sweep_of_the_cycle_itself_is_given_the_cycles_own_top() -> None:
    physics = physics_of(PUMP_HOUSE)
    hook = one_hook_at(physics, 3000.0, 70.0)
    best, torque = hook.best(28.0)
    points = tuple(
        SweepPoint(3000.0, 70.0, a, hook.at(a)[0]) for a in np.arange(best - 18.0, best + 13.0, 5.0).tolist()
    )
    fit = fit_of(physics, Sweep("one", points))
    assert fit.from_cycle_deg == pytest.approx(0.0, abs=0.1)
    assert fit.torque_ratio == pytest.approx(1.0, abs=0.002)
    assert fit.best_torque_nm == pytest.approx(torque, rel=0.002)


def test_every_sweep_of_a_file_is_fitted_or_named() -> None:
    good = measured(top(np.array(ADVANCES), 27.0))
    result = dyno_of(PUMP_HOUSE, [good, Sweep("odd", (SweepPoint(2500, 70, 20, 150),))])
    assert [each.sweep for each in result.sweeps] == ["one"]
    assert result.set_aside == ("odd",)
    assert sentence_of(result.headline).startswith("1 sweep; 1 set aside: best is known to")
