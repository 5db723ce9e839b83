"""Pulls at full throttle: read, smoothed, corrected, and held against each other."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.stats import ttest_ind
from statsmodels.nonparametric.kernel_regression import KernelReg

from sparkwright.air.humidity import OutsideAir
from sparkwright.cli import GOOD, REFUSED, SEE, main
from sparkwright.dyno.pull_result import pulls_of
from sparkwright.dyno.pull_table import Drum, read_pulls
from sparkwright.dyno.pulls import (
    RPM_TO_RAD_S,
    Pull,
    coasting_of,
    compared,
    local_line,
    smoothed,
    torque_of_drum,
    torque_of_power,
)
from sparkwright.errors import Refusal
from sparkwright.numeric import FloatArray
from telling import action_of, sentence_of, sentences_of

RPM = np.linspace(2000.0, 6000.0, 401)


def curve(rpm: FloatArray) -> FloatArray:
    return np.asarray(300.0 - 4e-6 * (rpm - 4000.0) ** 2)


def drawn(draw: np.random.Generator, timing: str, more: float, level: float = 0.01) -> Pull:
    """A pull whose level is off by some share as a whole, and whose readings scatter by half a percent."""
    torque = (curve(RPM) + more) * (1.0 + level * draw.standard_normal())
    return Pull(f"{timing}{draw.integers(10**9)}", timing, RPM, torque + 1.5 * draw.standard_normal(RPM.size))


# Against others' arithmetic.


@pytest.mark.filterwarnings("ignore::FutureWarning")  # of statsmodels, about its own drawing
def test_a_pull_is_smoothed_as_statsmodels_smooths_it() -> None:
    """Local linear regression with a normal kernel of fixed bandwidth, by statsmodels' KernelReg."""
    draw = np.random.default_rng(1)
    pull = Pull("a", "30", RPM, curve(RPM) + 3.0 * draw.standard_normal(RPM.size))
    at = np.linspace(2000.0, 6000.0, 41)
    theirs, _ = KernelReg(pull.torque_nm, RPM, "c", reg_type="ll", bw=[100.0]).fit(at)
    np.testing.assert_allclose(smoothed(pull, at, 100.0), theirs, rtol=1e-9)


def test_a_line_without_weights_is_the_one_that_nist_certifies() -> None:
    """NIST StRD, linear regression, Norris: intercept -0.262323073774029, slope 1.00211681802045."""
    y, x = np.loadtxt(Path(__file__).parents[1] / "data" / "nist" / "Norris.dat", skiprows=60).T
    value, slope = local_line(x, y, np.zeros(1), 1e9)
    assert value[0] == pytest.approx(-0.262323073774029, rel=1e-8)
    assert slope[0] == pytest.approx(1.00211681802045, rel=1e-10)


def test_a_difference_has_the_interval_of_students_test() -> None:
    """SciPy's two-sample test on one number a pull: over so short a span that it is one stretch of speed."""
    rpm = np.linspace(3000.0, 3100.0, 11)
    levels = {"30": [300.0, 303.0, 298.0], "34": [306.0, 309.0, 305.0, 307.0]}
    pulls = [
        Pull(f"{timing} {k}", timing, rpm, np.full(rpm.size, each) + 1e-9 * rpm)
        for timing, some in levels.items()
        for k, each in enumerate(some)
    ]
    found = compared(pulls, "30", "34", 100.0)
    theirs = ttest_ind(levels["34"], levels["30"]).confidence_interval(0.9)
    assert found.low_nm[0] == pytest.approx(theirs.low, rel=1e-6)
    assert found.high_nm[0] == pytest.approx(theirs.high, rel=1e-6)


def test_so_many_pulls_as_are_asked_for_bring_the_interval_within_a_percent() -> None:
    """SciPy's interval of two samples of that many pulls, and of one fewer, with the noise that was found."""
    draw = np.random.default_rng(4)
    found = compared([drawn(draw, each, 0.0) for each in ("30", "34") * 3], "30", "34")
    assert found.needed is not None

    def half_percent(count: int) -> float:
        # Two samples whose own standard deviation is the noise, exactly.
        base = np.linspace(-1.0, 1.0, count)
        sample = 100.0 + found.noise_percent * base / base.std(ddof=1)
        interval = ttest_ind(sample, sample).confidence_interval(0.9)
        return float(interval.high)

    assert half_percent(found.needed) <= 1.0 < half_percent(found.needed - 1)


def test_power_is_torque_times_speed() -> None:
    """550 ft lbf/s a horsepower: horsepower = lb-ft x rpm / 5252.113, by hand from these definitions."""
    (pull,) = read_pulls(
        "speed_rpm,power_hp\n"
        + "".join(f"{rpm},{200 * rpm / 5252.113122}\n" for rpm in range(2000, 6000, 50)),
        "a",
        None,
        100.0,
    )
    np.testing.assert_allclose(pull.torque_nm, 200.0 * 1.3558179483, rtol=1e-8)
    assert torque_of_power(np.array([3000.0]), np.array([100_000.0]))[0] == pytest.approx(318.3099)


def test_a_drum_that_is_sped_up_evenly_gives_inertia_times_acceleration() -> None:
    """Newton: 40 kg m2 at 5 rad/s2 is 200 N m at the drum, 50 at an engine four times as fast."""
    time = np.linspace(0.0, 20.0, 401)
    drum_rpm = (20.0 + 5.0 * time) / RPM_TO_RAD_S
    found = torque_of_drum(time, 4.0 * drum_rpm, drum_rpm, 40.0, 100.0)
    np.testing.assert_allclose(found, 50.0, rtol=1e-6)


def test_what_a_drum_loses_is_read_while_it_coasts() -> None:
    """SciPy's integration of a drum slowed by 6 + 0.05 w + 0.0008 w^2 newton-metres."""

    def loss(speed: FloatArray) -> FloatArray:
        return np.asarray(6.0 + 0.05 * speed + 0.0008 * speed**2)

    time = np.linspace(0.0, 120.0, 600)
    ran = solve_ivp(lambda _, w: -loss(w) / 40.0, (0.0, 120.0), [120.0], t_eval=time, rtol=1e-10, atol=1e-10)
    found = coasting_of(time, ran.y[0] / RPM_TO_RAD_S, 40.0)
    speed = np.linspace(ran.y[0][-1] + 2.0, 118.0, 20)
    np.testing.assert_allclose(found.torque_nm(speed), loss(speed), rtol=0.03)


def test_a_straight_line_stays_one_whatever_the_bandwidth() -> None:
    value, slope = local_line(RPM, 2.0 + 0.05 * RPM, RPM[::40], 250.0)
    np.testing.assert_allclose(value, 2.0 + 0.05 * RPM[::40])
    np.testing.assert_allclose(slope, 0.05)


def test_the_air_of_the_day_is_corrected_by_both_standards_and_named_outside_their_window() -> None:
    """SAE J1349 (June 1990) and ISO 1585 as in tests/air; 84 kPa is under J1349's 90 kPa."""
    draw = np.random.default_rng(2)
    low = pulls_of([drawn(draw, "30", 0.0)], 100.0, OutsideAir(85.0, 20.0, 40.0))
    assert [each.standard for each in low.corrections] == ["SAE J1349", "ISO 1585"]
    assert (
        sentence_of(low.warnings[0])
        == "SAE J1349 holds for 90 to 105 kPa of dry air pressure; here it is 84.1 kPa."
    )
    plain = pulls_of([drawn(draw, "30", 0.0)], 100.0, OutsideAir(100.0, 30.0, 60.0))
    assert plain.corrections[0].factor == pytest.approx(1.02876, abs=0.0005)


# What a person would notice.


def test_no_difference_is_called_real_more_often_than_one_time_in_ten() -> None:
    draw = np.random.default_rng(7)
    trials = 200
    wrong = sum(
        bool(compared([drawn(draw, each, 0.0) for each in ("30", "34") * 3], "30", "34").real)
        for _ in range(trials)
    )
    # 10 % is promised; three standard deviations of a count of 200 above it are 6 % more.
    assert wrong / trials <= 0.16


def test_a_difference_well_above_the_noise_is_found_and_where() -> None:
    draw = np.random.default_rng(3)
    pulls = [drawn(draw, each, more, 0.002) for each, more in (("30", 0.0), ("34", 12.0)) * 4]
    result = pulls_of(pulls, 100.0)
    ((low, high),) = result.compared[0].real
    assert (low, high) == (2000.0, 6000.0)
    (told,) = sentences_of(result.findings)
    assert told.startswith("34 less 30: +1")
    assert "real at 2,000 to 6,000 rpm (90 % over all)" in told


def test_without_a_repeat_nothing_is_called_real() -> None:
    draw = np.random.default_rng(3)
    result = pulls_of([drawn(draw, "30", 0.0), drawn(draw, "34", 30.0)], 100.0)
    assert result.compared[0].real == ()
    assert [each.state for each in result.findings] == ["open"]
    assert "isn't determined without a repeat" in sentence_of(result.findings[0])
    assert action_of(result.to_do) == "Run each timing again: only repeats tell the noise."


def table(column: str = "torque_nm", rows: int = 40) -> str:
    return f"speed_rpm,{column}\n" + "".join(f"{2000 + 50 * k},{250 + k % 7}\n" for k in range(rows))


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (table("torque"), 'pulls, column = "torque": is not known; known are speed_rpm, drum_rpm, time_s, '),
        (
            "rpm,torque_nm\n1,2\n",
            'pulls, column = "rpm": is not known; known are speed_rpm, drum_rpm, time_s, ',
        ),
        ("torque_nm\n2\n", "pulls: must name speed_rpm too"),
        (table(rows=1), "pull a = 1 readings over 0 rpm: must have 10 or more over 500 rpm"),
        (table().replace(",25", ",-25"), "pull a = torque under 0: must be what the engine makes; turn "),
        (
            "speed_rpm,torque_nm\n" + "".join(f"{2000 + 50 * k},250\n" for k in range(40)),
            "pull a = torque 250 N m throughout: must change; the sensor seems stuck",
        ),
        (
            table("drum_rpm"),
            "pull a = drum_rpm: must come with time_s and the drum's inertia; add --inertia, in kg m2",
        ),
        (table().replace("250\n", "much\n", 1), 'pulls, line 2, torque_nm = "much": must be a number'),
    ],
)
def test_what_is_no_pull_is_refused(text: str, told: str) -> None:
    with pytest.raises(Refusal) as refusal:
        read_pulls(text, "a", None, 100.0)
    assert refusal.value.sentences[0].startswith(told)


def test_the_command_prints_what_it_found_and_refuses_in_sentences(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    draw = np.random.default_rng(5)
    lines = ["pull,timing,speed_rpm,torque_nm"]
    for k, timing in enumerate(("30", "34") * 2):
        pull = drawn(draw, timing, 0.0)
        lines += [f"{k},{timing},{a:.1f},{b:.2f}" for a, b in zip(RPM, pull.torque_nm, strict=True)]
    file = tmp_path / "day.csv"
    file.write_text("\n".join(lines), encoding="utf-8")
    assert main(["pulls", str(file), "--json"]) == GOOD
    results = json.loads(capsys.readouterr().out)["results"]
    assert len(results["pulls"]) == 4
    assert results["compared"][0]["pulls"] == [2, 2]
    assert main(["pulls", str(file), "--pressure", "85", "--air", "20"]) == SEE
    out = capsys.readouterr().out
    assert "34 less 30" in out
    assert "SAE J1349" in out
    assert main(["pulls", str(file), str(file)]) == REFUSED
    assert capsys.readouterr().err.startswith("pulls = 0: must have a name each; name them in the column")
    assert main(["pulls", str(file), "--pressure", "85"]) == REFUSED
    assert "must be given together" in capsys.readouterr().err


def test_a_drum_is_read_from_its_file() -> None:
    rows = "".join(f"{t},{1000 + 100 * t},{250 + 25 * t}\n" for t in range(40))
    (pull,) = read_pulls("time_s,speed_rpm,drum_rpm\n" + rows, "a", Drum(40.0), 100.0)
    # Even acceleration of 25 rpm/s on 40 kg m2, at an engine four times as fast.
    assert np.median(pull.torque_nm) == pytest.approx(40.0 * 25.0 * RPM_TO_RAD_S / 4.0)
