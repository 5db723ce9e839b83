"""Hold the program against measured engines and write the tables of docs/measured-engines.md.

Run ``.venv/bin/python scripts/measured_engines.py`` after anything in the cycle has changed. The tables are
written as they come out, however well or badly.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from pages import with_tables
from reference_engines import CFR_AIR, PREMIUM, RADICAL_CAM, REGULAR, WARM_AIR, cfr, side_valve_1923, wedge_v8
from sparkwright.cycle.belief import PRIOR
from sparkwright.cycle.chamber import Chamber
from sparkwright.cycle.engine import Air, Engine, Fuel
from sparkwright.cycle.hook import HookTrace, best_spark, hook_trace, knock_limit_deg

FloatArray = NDArray[np.float64]
PAGE = Path(__file__).parent.parent / "docs" / "measured-engines.md"
ADVANCE_DEG = np.arange(-6.0, 76.1, 1.0)
CFR_MAP_KPA = 98.0
"""Manifold pressure of the octane engine [kPa]: wide open at sea level less a little; assumed."""

UPTON = "Upton, J. SAE (Aug. 1923)"
CHOI = "Choi et al., SAE 2018-01-0848 (2018), fig. 9"
PAL = "Pal et al., SAE 2018-01-0187 (2018), fig. 1; ASTM D2699"
GUIDE = "ASTM D2699-15a, guide table"
KOLODZIEJ = "Kolodziej and Wallner, Combustion Engines 171(4) (2017), fig. 9"
RULES = "Heywood (1988), sec. 9.1 and ch. 15 (recalled)"


@dataclass(frozen=True)
class Setting:
    """One engine at one speed, load and mixture."""

    engine: Engine
    air: Air
    fuel: Fuel
    speed_rpm: float
    map_kpa: float
    mixture_lambda: float

    def hook(self, advance_deg: FloatArray = ADVANCE_DEG) -> HookTrace:
        """Its hook with the program's constants."""
        return hook_trace(
            self.engine,
            self.air,
            self.fuel,
            PRIOR.constants,
            speed_rpm=self.speed_rpm,
            map_kpa=self.map_kpa,
            mixture_lambda=self.mixture_lambda,
            advance_deg=advance_deg,
        )

    def best_deg(self) -> float:
        """Best advance [deg]."""
        trace = self.hook()
        return best_spark(trace.advance_deg, trace.torque_nm).best_deg

    def knock_deg(self) -> float:
        """Knock limit [deg]; infinite where no tested advance knocks."""
        trace = self.hook()
        limit = knock_limit_deg(trace.advance_deg, trace.knock_integral)
        return float("inf") if np.isnan(limit) else limit


def octane_engine(ratio: float, octane: float, mixture_lambda: float) -> Setting:
    """Octane-rating engine at 600 rpm, research method."""
    return Setting(cfr(ratio), CFR_AIR, Fuel(octane), 600.0, CFR_MAP_KPA, mixture_lambda)


# --- measured figures ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Row:
    """One figure: where it was measured, how much, and what the program gives."""

    number: str
    what: str
    unit: str
    wanted: float
    got: float
    source: str


def slow_engine_rows() -> list[Row]:
    """PH-16: best advance against speed."""
    rows = []
    for speed_rpm in (400.0, 800.0, 1200.0):
        wanted = 0.108 * speed_rpm / (1.0 + 0.001 * speed_rpm)
        got = Setting(side_valve_1923(), WARM_AIR, Fuel(60.0), speed_rpm, 95.0, 0.9).best_deg()
        rows.append(
            Row("PH-16", f"side valve of 1923, {speed_rpm:.0f} rpm: best", "deg BTDC", wanted, got, UPTON)
        )
    return rows


def pressure_rows() -> list[Row]:
    """PH-18 and PH-19: mean and peak pressure of the octane engine at two sparks."""
    sparks = np.array([-5.0, 12.7])
    trace = octane_engine(7.55, 100.0, 0.89).hook(sparks)
    at_top = octane_engine(7.55, 100.0, 0.89).hook(np.array([0.0]))
    late, usual = "octane engine, spark 5 deg late", "octane engine, spark 12.7 deg"
    return [
        Row("PH-18", f"{usual}: gross mean pressure", "bar", 8.137, float(trace.imep_bar[1]), CHOI),
        Row("PH-18", f"{late}: gross mean pressure", "bar", 7.892, float(trace.imep_bar[0]), CHOI),
        Row("PH-19", f"{usual}: peak", "bar", 47.9, float(trace.peak_bar[1]), CHOI),
        Row("PH-19", f"{usual}: angle of peak", "deg ATDC", 13.0, float(trace.peak_atdc_deg[1]), CHOI),
        Row("PH-19", f"{late}: peak", "bar", 26.5, float(trace.peak_bar[0]), CHOI),
        Row("PH-19", f"{late}: angle of peak", "deg ATDC", 37.3, float(trace.peak_atdc_deg[0]), CHOI),
        Row(
            "PH-19",
            "octane engine, unfired: at top dead centre",
            "bar",
            13.87,
            float(at_top.spark_bar[0]),
            CHOI,
        ),
    ]


def knock_integral(ratio: float, octane: float, mixture_lambda: float, advance_deg: float) -> float:
    """Knock integral of the octane engine [-]."""
    trace = octane_engine(ratio, octane, mixture_lambda).hook(np.array([advance_deg]))
    return float(trace.knock_integral[0])


def ratio_at_knock(octane: float, mixture_lambda: float) -> float:
    """Compression ratio at which the octane engine just knocks at 13 deg [-]."""
    return float(
        brentq(lambda r: np.log(knock_integral(r, octane, mixture_lambda, 13.0)), 4.0, 12.0, xtol=1e-3)
    )


def octane_wanted(advance_deg: float) -> float:
    """Octane number at which the octane engine, 7.55 to 1, just knocks at an advance [-]."""
    return float(
        brentq(lambda on: np.log(knock_integral(7.55, on, 0.9, advance_deg)), 60.0, 140.0, xtol=1e-3)
    )


def knock_rows() -> list[Row]:
    """KN-11, KN-12 and KN-14: knock of the octane engine."""
    slope = (octane_wanted(14.0) - octane_wanted(11.0)) / 3.0
    rows = [Row("KN-11", "octane engine: octane numbers for a degree of spark", "ON/deg", 1.0, slope, PAL)]
    for octane, wanted in ((80.0, 5.94), (90.0, 6.43), (100.0, 7.49)):
        got = ratio_at_knock(octane, 0.9)
        rows.append(
            Row("KN-12", f"octane engine, {octane:.0f} octane: ratio at knock", "-", wanted, got, GUIDE)
        )
    ratio = ratio_at_knock(98.0, 0.886)
    trace = octane_engine(ratio, 98.0, 0.886).hook(np.array([13.0]))
    knocking = "octane engine at knock, 98 octane, spark 13 deg"
    rows.append(
        Row("KN-14", f"{knocking}: 10 % burned", "deg ATDC", 0.5, float(trace.ca10_atdc_deg[0]), KOLODZIEJ)
    )
    rows.append(
        Row("KN-14", f"{knocking}: 50 % burned", "deg ATDC", 8.8, float(trace.ca50_atdc_deg[0]), KOLODZIEJ)
    )
    return rows


def measured_rows() -> list[Row]:
    """All measured figures."""
    return slow_engine_rows() + pressure_rows() + knock_rows()


# --- rules for a middling engine ----------------------------------------------------------------------


@dataclass(frozen=True)
class Band:
    """One rule of the books on the reference V8: its band, and the model at four places."""

    number: str
    what: str
    unit: str
    lowest: float
    highest: float
    got: tuple[float, ...]
    source: str


BAND_PLACES = ((1500.0, 95.0), (2000.0, 95.0), (2500.0, 95.0), (2500.0, 60.0))
LOSS_BANDS = {5.0: (0.5, 2.0), 10.0: (2.5, 6.0), 15.0: (5.5, 12.0), 20.0: (9.0, 20.0)}


def _shape_of_hook(trace: HookTrace) -> list[float]:
    """Half burned, peak, flame development, rapid burn, and torque lost by 5, 10, 15 and 20 deg of retard."""
    best = best_spark(trace.advance_deg, trace.torque_nm)

    def at(values: FloatArray, advance_deg: float) -> float:
        return float(np.interp(advance_deg, trace.advance_deg, values))

    ca10, ca50, ca90, peak = (
        at(values, best.best_deg)
        for values in (trace.ca10_atdc_deg, trace.ca50_atdc_deg, trace.ca90_atdc_deg, trace.peak_atdc_deg)
    )
    lost = [
        100.0 * (1.0 - at(trace.torque_nm, best.best_deg - late) / best.best_torque_nm) for late in LOSS_BANDS
    ]
    return [ca50, peak, best.best_deg + ca10, ca90 - ca10, *lost]


def bands() -> list[Band]:
    """PH-11 to PH-14 on the reference V8 at best torque, lambda 1."""
    columns = [
        _shape_of_hook(Setting(wedge_v8(), WARM_AIR, PREMIUM, rpm, kpa, 1.0).hook())
        for rpm, kpa in BAND_PLACES
    ]
    rules = [
        ("PH-11", "half burned", "deg ATDC", 5.0, 12.0, RULES),
        ("PH-12", "peak pressure", "deg ATDC", 11.0, 18.0, RULES),
        ("PH-13", "spark to 10 % burned", "deg", 15.0, 35.0, RULES),
        ("PH-13", "10 to 90 % burned", "deg", 20.0, 40.0, RULES),
    ] + [
        (
            "PH-14",
            f"torque lost {late:.0f} deg late",
            "%",
            lowest,
            highest,
            "Heywood (1988), ch. 15 (recalled)",
        )
        for late, (lowest, highest) in LOSS_BANDS.items()
    ]
    return [
        Band(number, what, unit, lowest, highest, got, source)
        for (number, what, unit, lowest, highest, source), got in zip(
            rules, zip(*columns, strict=True), strict=True
        )
    ]


# --- what moves timing --------------------------------------------------------------------------------

BASE = Setting(wedge_v8(), WARM_AIR, PREMIUM, 2000.0, 95.0, 0.87)
CRUISE = replace(BASE, speed_rpm=2500.0, map_kpa=45.0, mixture_lambda=1.0)
PRACTICE = "common practice, no source"
HEYWOOD = "Heywood (1988), ch. 9 and 15 (recalled)"


@dataclass(frozen=True)
class Direction:
    """One change of an engine; signs of its moves: +1 earlier, -1 later, 0 not said."""

    what: str
    before: Setting
    after: Setting
    best_sign: int
    knock_sign: int
    said: str
    source: str

    def moved_deg(self) -> tuple[float, float]:
        """How far best and the knock limit move [deg], + earlier; nan where neither knocks."""
        before, after = self.before.knock_deg(), self.after.knock_deg()
        both_free = np.isinf(before) and np.isinf(after)
        return (
            self.after.best_deg() - self.before.best_deg(),
            float("nan") if both_free else after - before,
        )


def directions() -> list[Direction]:
    """List changes whose direction the literature or the trade knows."""
    engine, chamber = BASE.engine, BASE.engine.chamber

    def with_chamber(changed: Chamber) -> Setting:
        return replace(BASE, engine=replace(engine, chamber=changed))

    small = replace(chamber, bore_m=0.0847)
    return [
        Direction("speed 1500 to 3000 rpm", replace(BASE, speed_rpm=1500.0), replace(BASE, speed_rpm=3000.0),
                  +1, +1, "both earlier; best by 6 to 12 deg", HEYWOOD),
        Direction("load 95 to 45 kPa, lambda 1", replace(BASE, mixture_lambda=1.0),
                  replace(BASE, map_kpa=45.0, mixture_lambda=1.0), +1, +1,
                  "best earlier by 8 to 15 deg; knock goes", HEYWOOD),
        Direction("compression 9.5 to 8", BASE, with_chamber(replace(chamber, compression_ratio=8.0)),
                  +1, +1, "both earlier; best by 1 to 3 deg a ratio", PRACTICE),
        Direction("bore 99.6 to 84.7 mm", BASE, with_chamber(small), -1, 0,
                  "best later, as the flame has less way", HEYWOOD),
        Direction("plug moved to the bore axis", BASE, with_chamber(replace(chamber, plug_offset_m=0.0)),
                  -1, 0, "best later, less prone to knock", HEYWOOD),
        Direction("85 % ethanol, same octane", BASE,
                  replace(BASE, fuel=replace(PREMIUM, ethanol_share_volume=0.85)),
                  -1, +1, "best later by 1 to 3 deg; knock limit earlier, as it cools the charge", PRACTICE),
        Direction("altitude: 76 kPa outside 80, for 95 outside 100", BASE,
                  replace(BASE, air=replace(WARM_AIR, ambient_kpa=80.0), map_kpa=76.0), +1, +1,
                  "both earlier; knock limit by several degrees", PRACTICE),
        Direction("intake air 30 K hotter", BASE, replace(BASE, air=replace(WARM_AIR, intake_k=335.0)),
                  0, -1, "knock limit later by 2 to 5 deg", PRACTICE),
        Direction("pump octane 91 to 87", BASE, replace(BASE, fuel=REGULAR), 0, -1,
                  "best unmoved; knock limit later by about 1 deg an octane number", PAL),
        Direction("longer overlap at part load", CRUISE, replace(CRUISE, engine=wedge_v8(RADICAL_CAM)),
                  +1, 0, "best earlier by 4 to 10 deg, as more residual stays", PRACTICE),
        Direction("lambda 1.0 to 1.15 at part load", CRUISE, replace(CRUISE, mixture_lambda=1.15),
                  +1, 0, "best earlier by 3 to 8 deg", HEYWOOD),
    ]  # fmt: skip


# --- the page -----------------------------------------------------------------------------------------


def _figure(value: float) -> str:
    return f"{value:.2f}" if abs(value) < 10.0 else f"{value:.1f}"


def _moved(value: float) -> str:
    if np.isnan(value):
        return "no knock in either"
    return "no longer knocks" if np.isinf(value) else f"{value:+.1f}"


def _table(head: list[str], rows: list[list[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def tables() -> dict[str, str]:
    """Work out the three tables of the page, by name."""
    places = [f"{rpm:.0f} rpm, {kpa:.0f} kPa" for rpm, kpa in BAND_PLACES]
    moved = [(each, *each.moved_deg()) for each in directions()]
    return {
        "measured": _table(
            ["row", "what", "unit", "measured", "program", "off", "source"],
            [
                [
                    r.number,
                    r.what,
                    r.unit,
                    _figure(r.wanted),
                    _figure(r.got),
                    f"{r.got - r.wanted:+.2f}",
                    r.source,
                ]
                for r in measured_rows()
            ],
        ),
        "bands": _table(
            ["row", "at best torque", "unit", "band", *places, "source"],
            [
                [b.number, b.what, b.unit, f"{b.lowest:g} to {b.highest:g}", *map(_figure, b.got), b.source]
                for b in bands()
            ],
        ),
        "directions": _table(
            ["change", "what is said of it", "program: best", "program: knock limit", "source"],
            [[d.what, d.said, _moved(best), _moved(knock), d.source] for d, best, knock in moved],
        ),
    }


if __name__ == "__main__":
    PAGE.write_text(with_tables(PAGE.read_text(encoding="utf-8"), tables()), encoding="utf-8")
    print(f"{PAGE} written")
