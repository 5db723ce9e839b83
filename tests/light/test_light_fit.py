"""The fit of light readings against statsmodels, against known truth, and what it calls an effect."""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest
import statsmodels.api as sm

from sparkwright.light.fit import (
    LightFit,
    delay_angle_deg,
    fit_readings,
    reading_sigma_deg,
)
from sparkwright.light.readings import Reading

SPEEDS = (1000.0, 1500.0, 2000.0, 2500.0, 3000.0, 3500.0, 4000.0)


def readings(
    seen: Callable[[float], float], speeds: Sequence[float] = SPEEDS, seed: int = 0, noise_deg: float = 0.25
) -> list[Reading]:
    """Readings of a known truth with a light of half degrees, unsteady by an eye's share."""
    draw = np.random.default_rng(seed)
    return [
        Reading(30, rpm, round(2.0 * (seen(rpm) + draw.normal(0.0, noise_deg))) / 2.0, 0.5) for rpm in speeds
    ]


# Against something outside


@pytest.mark.parametrize(("speed_rpm", "lost_deg"), [(3000.0, 0.9), (6000.0, 1.8)])
def test_a_delay_takes_six_degrees_a_second_for_each_rpm(speed_rpm: float, lost_deg: float) -> None:
    """50 us; the definition of a revolution: 360 deg in 60 s / speed."""
    assert delay_angle_deg(speed_rpm, 50.0) == pytest.approx(lost_deg, rel=1e-12)


def test_the_error_of_a_reading_is_that_of_an_even_spread() -> None:
    """A value anywhere within half a step either way: the variance of draws from NumPy's uniform."""
    draws = np.random.default_rng(1).uniform(-0.5, 0.5, 400_000)
    assert reading_sigma_deg(1.0, 0.0) == pytest.approx(draws.std(), rel=0.005)
    assert reading_sigma_deg(0.0, 0.25) == 0.25


@pytest.mark.parametrize("seed", range(4))
def test_offset_and_delay_are_as_statsmodels_has_them(seed: int) -> None:
    draw = np.random.default_rng(seed)
    taken = [
        Reading(30, float(rpm), 31.0 - 6e-6 * rpm * 70.0 + draw.normal(0, 0.2), float(step))
        for rpm, step in zip(draw.uniform(900, 4200, 8), draw.choice([0.5, 1.0, 2.0], 8), strict=True)
    ]
    fit = fit_readings(taken)
    speeds = np.array([each.speed_rpm for each in taken])
    sigma = np.array([math.sqrt((each.resolution_deg or 1.0) ** 2 / 12.0 + 0.25**2) for each in taken])
    found = sm.WLS(
        [each.seen_deg - each.commanded_deg for each in taken],
        np.column_stack((np.ones(8), -6e-6 * speeds)),
        weights=1.0 / sigma**2,
    ).fit(cov_type="fixed scale", use_t=False)
    assert fit.offset_deg is not None
    assert fit.delay_us is not None
    assert (fit.bars, fit.left_out, fit.suspects) == ("stated", None, ())
    assert [fit.offset_deg.value, fit.delay_us.value] == pytest.approx(found.params, rel=1e-8)
    ends = [[each.low, each.high] for each in (fit.offset_deg, fit.delay_us)]
    assert np.array(ends) == pytest.approx(found.conf_int(), rel=1e-7)


def test_a_sweep_of_commands_gives_the_line_of_a_hand_calculation() -> None:
    """Seven commands at one speed: slope 1.004464, worked outside the program from constructed readings."""
    commanded = (10, 14, 18, 22, 26, 30, 34)
    seen = (10.5, 14.0, 18.5, 22.5, 26.0, 30.5, 34.5)
    taken = [Reading(each, 2000, shown, 0.5) for each, shown in zip(commanded, seen, strict=True)]
    fit = fit_readings(taken)
    (command,) = [each for each in fit.effects if each.kind == "command"]
    assert 1.0 + command.estimate.value == pytest.approx(1.004464, abs=5e-7)
    assert not command.accepted
    # The line at its middle, 0.258929 + 1.004464 * 22 less 22 commanded.
    assert fit.at_lowest.value == pytest.approx(0.258929 + 1.004464 * 22.0 - 22.0, abs=2e-5)
    assert fit.offset_deg is None
    assert fit.delay_us is None


def share_of(inside: Sequence[bool]) -> float:
    return float(np.mean(inside))


def test_the_whole_fit_holds_the_truth_as_often_as_it_says() -> None:
    """With the search for bends, steps and blunders on: 800 draws, standard error 0.8 %."""
    draw = np.random.default_rng(11)
    speeds = np.linspace(1000.0, 4000.0, 6)
    offset, delay, within, drift = [], [], [], []
    sigma = reading_sigma_deg(1.0, 0.25)
    for _ in range(800):
        seen = 31.5 - 6e-6 * speeds * 60.0 + draw.normal(0.0, sigma, 6)
        fit = fit_readings([Reading(30, rpm, each) for rpm, each in zip(speeds.tolist(), seen, strict=True)])
        drift.append(fit.delay_us is None)
        if fit.offset_deg is not None and fit.delay_us is not None:
            offset.append(fit.offset_deg.low <= 1.5 <= fit.offset_deg.high)
            delay.append(fit.delay_us.low <= 60.0 <= fit.delay_us.high)
        within.append(fit.within_deg >= 1.5 - 6e-6 * 1000.0 * 60.0)
    assert 0.93 <= share_of(offset) <= 0.97
    assert 0.93 <= share_of(delay) <= 0.97
    assert share_of(within) >= 0.95
    assert share_of(drift) <= 0.015


# What is called an effect, from known truth


def accepted(fit: LightFit) -> list[tuple[str, float | None]]:
    return [(each.kind, each.which) for each in fit.effects if each.accepted]


def varied(**several: Sequence[object]) -> list[Reading]:
    """True readings of 30 deg at all speeds, once for each value of what is varied."""
    ((name, values),) = several.items()
    return [
        replace(each, **{name: value})  # type: ignore[arg-type]
        for place, value in enumerate(values)
        for each in readings(lambda rpm: 30.0, seed=place)
    ]


def moved(taken: list[Reading], by: Callable[[Reading], float]) -> list[Reading]:
    return [replace(each, seen_deg=each.seen_deg + by(each)) for each in taken]


@pytest.mark.parametrize("seed", range(6))
def test_nothing_is_found_where_nothing_is(seed: int) -> None:
    fit = fit_readings(readings(lambda rpm: 30.0, seed=seed + 20))
    assert accepted(fit) == []
    assert (fit.left_out, fit.suspects, fit.bars) == (None, (), "stated")


def test_rising_and_falling() -> None:
    taken = moved(varied(sweep=["rising", "falling"]), lambda each: 1.0 if each.sweep == "rising" else -1.0)
    fit = fit_readings(taken)
    assert accepted(fit) == [("sweep", None)]
    (effect,) = [each for each in fit.effects if each.accepted]
    assert effect.estimate.low < 2.0 < effect.estimate.high
    assert fit.offset_deg is not None
    assert fit.offset_deg.low < 0.0 < fit.offset_deg.high


def test_one_cylinder_that_is_off() -> None:
    fit = fit_readings(moved(varied(cylinder=[1, 3, 5]), lambda each: 3.0 * (each.cylinder == 5)))
    assert accepted(fit) == [("cylinder", 5.0)]
    assert fit.effects[0].estimate.low < 3.0 < fit.effects[0].estimate.high


def test_two_cylinders_that_are_off() -> None:
    off = {2: -2.0, 6: 3.0}
    fit = fit_readings(moved(varied(cylinder=[1, 2, 5, 6, 7]), lambda each: off.get(each.cylinder or 0, 0.0)))
    assert sorted(accepted(fit), key=str) == [("cylinder", 2.0), ("cylinder", 6.0)]


def test_delay_that_grows_as_the_battery_falls() -> None:
    taken = moved(
        varied(battery_v=[14.0, 12.0, 10.0]),
        lambda each: -6e-6 * each.speed_rpm * 30.0 * (14.0 - (each.battery_v or 0.0)),
    )
    fit = fit_readings(taken)
    assert accepted(fit) == [("battery", None)]
    assert fit.effects[0].estimate.low < 30.0 < fit.effects[0].estimate.high


def test_a_command_that_is_not_followed() -> None:
    taken = [
        Reading(command, rpm, 0.5 * command, 0.5) for command in (10, 20, 30) for rpm in (1500.0, 3000.0)
    ]
    fit = fit_readings(taken)
    assert accepted(fit) == [("command", None)]
    assert fit.effects[0].estimate.value == pytest.approx(-0.5, abs=1e-9)


def test_a_step_is_not_a_delay() -> None:
    fit = fit_readings(readings(lambda rpm: 30.0 + 3.0 * (rpm > 2200)))
    assert accepted(fit) == [("step", 2250.0)]
    assert fit.delay_us is None
    assert fit.offset_deg is None


def test_a_bend_is_not_a_delay() -> None:
    fit = fit_readings(readings(lambda rpm: 30.0 + 2.0 * ((rpm - 2500.0) / 1000.0) ** 2))
    assert accepted(fit) == [("bend", None)]
    assert fit.delay_us is None


def test_two_settings_in_one_list() -> None:
    taken = readings(lambda rpm: 30.0) + readings(lambda rpm: 34.0, seed=1)
    assert accepted(fit_readings(taken)) == [("setting", 7.0)]


def test_a_blunder_is_a_blunder_and_no_bend() -> None:
    taken = readings(lambda rpm: 30.0)
    taken[3] = replace(taken[3], seen_deg=taken[3].seen_deg + 5.0)
    fit = fit_readings(taken)
    assert fit.left_out == 3
    assert accepted(fit) == []
    assert fit.within_deg < 1.0


def test_scatter_beyond_the_light_is_said() -> None:
    fit = fit_readings(readings(lambda rpm: 30.0, speeds=SPEEDS * 3, noise_deg=1.5, seed=4))
    assert fit.bars == "rescaled"
    assert fit.scatter_ratio == pytest.approx(1.5 / reading_sigma_deg(0.5, 0.25), rel=0.35)


# Few readings


def test_one_reading_determines_neither_offset_nor_delay() -> None:
    fit = fit_readings([Reading(30, 2000, 29)])
    assert (fit.offset_deg, fit.delay_us, fit.scatter_ratio, fit.scatter_probability) == (None,) * 4
    assert fit.at_lowest.value == -1.0


def test_speeds_too_near_one_another_part_nothing() -> None:
    fit = fit_readings([Reading(30, 2000, 29), Reading(30, 2100, 29), Reading(30, 2200, 29.5)])
    assert (fit.offset_deg, fit.delay_us) == (None, None)


def test_two_readings_give_both_with_stated_errors_only() -> None:
    """By hand: slope -1 deg over 2,000 rpm is 83.3 us; its error is sigma * sqrt(2) / (6e-6 * 2000)."""
    fit = fit_readings([Reading(30, 2000, 30), Reading(30, 4000, 29)])
    assert fit.delay_us is not None
    assert fit.delay_us.value == pytest.approx(1.0 / (6e-6 * 2000.0))
    half = 1.959964 * reading_sigma_deg(1.0, 0.25) * math.sqrt(2.0) / (6e-6 * 2000.0)
    assert fit.delay_us.high - fit.delay_us.value == pytest.approx(half, rel=1e-6)
    assert fit.scatter_ratio is None


def test_the_bound_is_that_of_both_ends_together() -> None:
    """Ends at 97.5 % each, by Bonferroni; at an end of two readings the error is that of one reading."""
    fit = fit_readings([Reading(30, 2000, 30), Reading(30, 4000, 30)])
    assert fit.within_deg == pytest.approx(2.241403 * reading_sigma_deg(1.0, 0.25), rel=1e-6)
    assert fit.within_deg == max(abs(fit.at_lowest.low), abs(fit.at_highest.high))
