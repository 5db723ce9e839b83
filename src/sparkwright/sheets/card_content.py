"""What the hand-over card says, as plain text and numbers; paper and screen lay the same content out."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TypedDict

import numpy as np

from sparkwright import __version__
from sparkwright.check.result import HardwareResult
from sparkwright.drawing.look import advance_colour, text_colour_on
from sparkwright.drawing.svg import degrees, grouped
from sparkwright.findings import Finding, each_once
from sparkwright.job import Job
from sparkwright.light.bench import Bench, bench_of
from sparkwright.light.fit import ENOUGH_READINGS
from sparkwright.light.verdict import LightResult
from sparkwright.pictures.cap import cap_picture
from sparkwright.plan.findings import worries
from sparkwright.plan.load_terms import Loads, loads_of
from sparkwright.plan.result import PlanResult
from sparkwright.plan.settings import Settings
from sparkwright.units import System, show
from sparkwright.words.assumed import assumed_words
from sparkwright.words.hand_over import firm, still_to_prove
from sparkwright.words.light import light_lines
from sparkwright.words.loads import absolute_down_words, loads_words, own_text
from sparkwright.words.map import cell_texts, held_sentence, letter_form_sentence
from sparkwright.words.measured import NOTHING_TOLD, MeasuredTold
from sparkwright.words.parts import air_pressure, in_own_units, length, mark_words, own_unit
from sparkwright.words.plan import ABOUT, chance_words, over_list
from sparkwright.words.settings import card_lines
from sparkwright.words.told import sentences, told

MOST_OVER = 12
"""Most cells over a ceiling that the card lists one by one."""

BARE = "#ffffff"
"""Ground of a cell that isn't typed in."""

_DWELL_VOLTS = (8.0, 9.0, 10.0, 11.0, 12.0, 13.0, 14.0, 15.0, 16.0)

_LAYOUTS = {"inline": "in line", "v": "V", "flat": "flat"}


@dataclass(frozen=True)
class Signature:
    """Who handed a revision over, when, and to whom; "" where nobody was there."""

    by: str
    when: str
    revision: int
    signed_for: str = ""


class CardCell(TypedDict):
    """One cell: its text, what holds it, and its colours."""

    text: str
    held: str
    fill: str
    ink: str
    over: bool


class MapRow(TypedDict):
    """One load of the map, as the controller has it, with kPa beside where that is something else."""

    load: str
    cells: list[CardCell]


class CardContent(TypedDict):
    """All that stands on the card. Pairs are a label and its text.

    The first page is for whoever drives the engine: what is firm, and what to prove. Numbers that only a
    workshop can use stand on its sheet.
    """

    job: str
    invented: bool
    who: list[list[str]]
    made_for: str
    headline: str
    action: str
    problems: list[str]
    firm: list[str]
    to_prove: list[str]
    over: list[str]
    settings: list[list[str]]
    light_check: list[str]
    light_read: list[str]
    measured: list[str]
    map_title: str
    load_head: str
    swept_head: list[str]
    swept: list[list[str]]
    swept_more: str
    rpm: list[str]
    rows: list[MapRow]
    map_notes: list[str]
    uncertainty: str
    old: str
    facts: list[list[str]]
    coil_title: str
    coil: list[list[str]]
    dwell: list[list[str]]
    checks: list[list[str]]
    cautions: list[str]
    assumed: list[str]
    warnings: list[str]
    program: str
    fingerprint: str
    date: str
    signed: list[list[str]]
    cap_svg: str
    cap_mm: float
    cap_note: str


CAUTIONS: Mapping[str, str] = {
    "voltage": (
        "High voltage: the secondary can kill. Key off and battery disconnected before a hand goes near "
        "cap, leads or coil; never hold a lead of a running engine. Take special care with a pacemaker."
    ),
    "moving-parts": (
        "Moving parts: hair, sleeves, tools and the lamp's leads stay clear of fan, belts and pulleys; the "
        "fan may start by itself. Park brake on, gearbox out of gear, wheels blocked."
    ),
    "fuel-and-exhaust": (
        "Fuel vapour burns at a spark: no open lines or spilled fuel, ventilate, keep an extinguisher at "
        "hand. Exhaust gas is poisonous: run the engine in the open or with extraction."
    ),
    "wrong-timing": (
        "Wrong timing harms the engine. At any knock, back off at once and find out why before going on. "
        "This map is a calculated start: prove it by ear, light and load, in small steps from the late "
        "side."
    ),
    "other-fuel": (
        "The fuel must be at least as good as stated here; another fuel, altitude or compression needs a "
        "new map."
    ),
    "law": (
        "On public roads the law on emissions and on changes to a vehicle comes first, and so do local "
        "codes; have work that needs a licence done by someone who holds it."
    ),
}
"""Cautions of the trade by what they are about, in our words. Common practice, no source."""


def card_content(
    plan: PlanResult,
    hardware: HardwareResult,
    job: Job,
    date: str = "",
    light: LightResult | None = None,
    signature: Signature | None = None,
    measured: MeasuredTold = NOTHING_TOLD,
    system: System = "metric",
    settings: Settings | None = None,
) -> CardContent:
    """Gather the card's content.

    Parameters
    ----------
    plan : PlanResult
        The map and its reasons.
    hardware : HardwareResult
        Whether the ignition can deliver it.
    job : Job
        The facts, shop and customer.
    date : str
        Date to print; empty leaves a line to write it on. No clock is read, so that the same job
        gives the same card.
    light : LightResult, optional
        What a timing light showed, where it was read.
    signature : Signature, optional
        How the revision was handed over; lines to sign on otherwise.
    measured : MeasuredTold, optional
        What is measured and what is foretold, and what has changed since the card was signed.
    system : {"metric", "inch"}
        Which units its reader reads; the map stays in the controller's.
    settings : Settings, optional
        What the controller is to be set to, for idle block and trims.

    Returns
    -------
    CardContent
        Plain text: nothing in it is markup, whatever a person wrote in the job.
    """
    cap = cap_picture(hardware, plan, strip=False, system=system)
    lead = told(plan.headline, system)
    loads = loads_of(job).over_pressure
    return CardContent(
        job=job.name,
        invented=job.invented,
        who=_who(job),
        made_for=_made_for(job, system),
        headline=str(lead.sentence),
        action=str(lead.action or ""),
        problems=_texts(
            (each for each in worries(plan, hardware) if each not in (plan.headline, *plan.problems[:1])),
            system,
        ),
        firm=_texts(firm(hardware, job, light), system),
        to_prove=_texts(still_to_prove(hardware, job, light), system),
        over=over_list(plan.over, MOST_OVER),
        settings=[
            *_settings(plan, hardware, job, system),
            *(card_lines(settings, plan, system, loads) if settings is not None else ()),
        ],
        light_check=_light_check(bench_of(job)),
        light_read=light_lines(light) if light is not None else [],
        measured=list(measured.lines),
        swept_head=list(measured.columns),
        swept=[list(row) for row in measured.rows],
        swept_more=measured.more,
        map_title=f"Map: degrees before top dead centre, rpm across, {absolute_down_words(loads)}",
        load_head="kPa" if loads.unit == "kPa" else f"{loads.unit}\n(kPa)",
        rpm=[grouped(rpm) for rpm in plan.cells.spark_map.rpm],
        rows=_map_rows(plan, loads),
        map_notes=[letter_form_sentence(plan), held_sentence(plan), *_loads(job, system)],
        uncertainty=_uncertainty(plan),
        old=" ".join(_texts(plan.old_curve.findings, system)) if plan.old_curve else "",
        facts=_facts(job, system),
        coil_title="Coil and dwell" if hardware.dwell is not None else "Coil and driver",
        coil=_coil(hardware),
        dwell=_dwell(hardware),
        checks=[[item.what, item.prove] for item in hardware.wiring if item.state != "done"],
        cautions=list(CAUTIONS.values()),
        assumed=assumed_words((*plan.assumed, *hardware.assumed), system),
        warnings=_texts(each_once((*plan.warnings, *hardware.warnings)), system),
        program=f"Sparkwright {__version__}",
        fingerprint=plan.fingerprint[:12],
        date=date,
        signed=_signed(signature),
        cap_svg=cap.svg("paper", caption=False),
        cap_mm=cap.width_mm,
        cap_note=cap.sentence,
    )


def _signed(signature: Signature | None) -> list[list[str]]:
    """Give the three places to sign at, with what stands there already."""
    if signature is None:
        return [["set and proved by", ""], ["handed over to", ""], ["date", ""]]
    return [
        ["set and proved by", signature.by],
        ["handed over to", signature.signed_for],
        [f"date, of revision {signature.revision}", signature.when],
    ]


def _who(job: Job) -> list[list[str]]:
    pairs: list[tuple[str, str | None]] = []
    if job.customer is not None:
        pairs += [
            ("Customer", job.customer.name),
            ("Vehicle", job.customer.vehicle),
            ("Plate", job.customer.plate),
        ]
    if job.shop is not None:
        pairs += [("Shop", job.shop.name), ("By", job.shop.person), ("Phone", job.shop.phone)]
    return [[label, text] for label, text in pairs if text]


def _settings(plan: PlanResult, hardware: HardwareResult, job: Job, system: System) -> list[list[str]]:
    rotor = hardware.rotor
    phase = rotor.cap.phase_distributor_deg
    stands = f"{phase:+.1f} distributor deg" if phase else "0 (unphased)"
    if "rotor_phase_deg" not in job.distributor.model_fields_set:
        stands += ", assumed: nobody has looked"
    reach = f"{grouped(rotor.today.least_deg)} to {degrees(rotor.today.most_deg)}"
    authority = (
        "reserve not determined"
        if math.isnan(plan.idle.reserve_deg)
        else f"{plan.idle.authority_percent:.1f} % of torque in reserve"
        if plan.idle.reserve_deg > 0
        else "no reserve to steady it with"
    )
    return [
        ["Base", f"{plan.base_deg:g}\N{DEGREE SIGN} before top dead centre, controller adding nothing"],
        ["Mark of the balancer", _mark_shows(job)],
        *_kept_of_light(job),
        ["Mechanical advance", job.distributor.advance],
        ["Rotor phase now", f"{stands}; tip covers its post from {reach}"],
        ["Rotor phase to set", _phase_to_set(plan, hardware, system)],
        ["Idle", f"{degrees(plan.idle.set_deg, 1)} at {grouped(plan.idle.rpm)} rpm; {authority}"],
    ]


def _kept_of_light(job: Job) -> list[list[str]]:
    """Give what the light check left in the job: the delay that was set, and how well timing is known."""
    light = job.light
    found = []
    if light.delay_set_us is not None:
        found.append(["Delay set", f"{light.delay_set_us:g} us, made up for by the controller"])
    if light.timing_spread_deg is not None:
        spread = f"{light.timing_spread_deg:g}\N{DEGREE SIGN}, one standard deviation, from the light"
        found.append(["Timing known to", spread])
    return found


def _mark_shows(job: Job) -> str:
    error_deg = job.light.mark_error_deg
    if error_deg is not None:
        return f"shows {mark_words(error_deg)} at true top dead centre, proved at the piston"
    if job.light.mark_proved:
        return "proved at the piston"
    return "not proved: find true top dead centre before trusting a light"


def _phase_to_set(plan: PlanResult, hardware: HardwareResult, system: System) -> str:
    cost = plan.reach_cost
    if cost is None and any(one.subject == "rotor" for one in hardware.problems):
        return "open: the tip does not cover its post over the whole span; see above"
    if cost is None:
        return "leave it: the tip covers its post wherever the map needs it"
    way = "ahead, in" if cost.phase_move_mm > 0 else "back, against"
    return (
        f"move the tip {length(abs(cost.phase_move_mm), system)} ({abs(cost.phase_move_distributor_deg):.1f} "
        f"distributor deg, {abs(cost.phase_move_tip_fraction):.2f} of its width) {way} the direction of "
        f"rotation; it then covers its post from {degrees(cost.leaves_when_phased_deg)} to "
        f"{degrees(cost.reach_when_phased_deg)}. Then plan again."
    )


def _loads(job: Job, system: System) -> list[str]:
    """Say in what the map has its loads, where that isn't what the person or the controller reads."""
    load = job.controller.load
    return [loads_words(load)] if system == "inch" or load not in (None, "kPa absolute") else []


def _texts(findings: Iterable[Finding], system: System) -> list[str]:
    return [str(each) for each in sentences(findings, system)]


def _light_check(bench: Bench) -> list[str]:
    speeds = f"{grouped(bench.low_rpm)} to {grouped(bench.high_rpm)} rpm"
    held_deg = bench.hold_deg
    return [
        "Hair, sleeves, lamp and leads clear of fan and belts; brake on, out of gear; "
        "nobody in line with the fan.",
        f"Make the controller hold one advance, {degrees(held_deg)}, at every speed.",
        f"Read it with a timing light, without load, at {ENOUGH_READINGS} speeds from {speeds} where the "
        "engine may turn so fast.",
        f"All must read {degrees(held_deg)}, the same within a degree. A reading that falls with speed: "
        "pickup polarity or delay. All off alike: base or the mark. Unsteady: shaft play, loose pickup.",
        "Then give the map back to the controller, and read base and idle once more.",
    ]


def _map_rows(plan: PlanResult, loads: Loads) -> list[MapRow]:
    texts = cell_texts(plan)
    rows = []
    for i in reversed(range(plan.cells.spark_map.kpa.size)):
        cells = []
        for j, text in enumerate(texts[i]):
            held, over = plan.cells.held_by[i][j], bool(plan.cells.over_ceiling[i, j])
            value_deg = float(plan.cells.spark_map.advance_deg[i, j])
            fill = BARE if held == "rows" else advance_colour(value_deg)
            cells.append(CardCell(text=text, held=held, fill=fill, ink=text_colour_on(fill), over=over))
        kpa = float(plan.cells.spark_map.kpa[i])
        beside = "" if loads.unit == "kPa" else f" ({kpa:.0f})"
        rows.append(MapRow(load=own_text(kpa, loads) + beside, cells=cells))
    return rows


def _uncertainty(plan: PlanResult) -> str:
    known = plan.cells.sigma_deg[np.isfinite(plan.cells.sigma_deg)]
    if known.size == 0:
        return "Uncertainty: not determined."
    at_top = plan.full_load.best_sigma_deg[-1]
    return (
        f"Standard deviation of what holds a cell: {known.min():.1f} to {known.max():.1f} deg; "
        f"at full load and {grouped(plan.full_load.rpm[-1])} rpm "
        f"best is {'not determined' if math.isnan(at_top) else f'known to {at_top:.1f} deg'}."
    )


def _made_for(job: Job, system: System) -> str:
    """Say for which fuel and height the map holds."""
    return f"Made for this fuel, or better: {_fuel(job)}. Site: {_height(job, system)}."


def _fuel(job: Job) -> str:
    fuel = job.fuel
    octane = [
        f"{name.upper()} {value:g}"
        for name, value in (("ron", fuel.ron), ("mon", fuel.mon), ("aki", fuel.aki))
        if value
    ]
    return f"{', '.join(octane)}, ethanol {fuel.ethanol_percent:g} %"


def _height(job: Job, system: System) -> str:
    site = job.site
    if site.altitude_m is None:
        return _pressure(site.pressure_kpa, system)
    return f"{grouped(in_own_units(site.altitude_m, 'altitude', system))} {own_unit('altitude', system)}"


def _facts(job: Job, system: System) -> list[list[str]]:
    engine, site, distributor = job.engine, job.site, job.distributor
    return [
        [
            "Engine",
            f"{engine.cylinders} cylinders, {_LAYOUTS[engine.layout]}, "
            f"{_bore_by_stroke(engine.bore_mm, engine.stroke_mm, system)}, "
            f"{engine.compression_ratio:g}:1, {engine.chamber}, {engine.head} head",
        ],
        ["Firing order", "-".join(str(cylinder) for cylinder in engine.firing_order)],
        ["Fuel", _fuel(job)],
        [
            "Site",
            f"{_height(job, system)}, {_temperature(site.air_temperature_c, system)}, "
            f"humidity {site.humidity_percent:g} %",
        ],
        ["Induction", _induction(job, system)],
        ["Distributor", f"turns {distributor.rotation} seen from above"],
        ["Pickup and driver", f"{job.pickup.kind}; {job.driver.kind}"],
        ["Plug gap", length(job.plugs.gap_mm, system, ".2f")],
        ["Controller", f"step {job.controller.step_deg:g} deg, most {job.controller.max_deg:g} deg"],
        ["Chance of knock", _chance_kept(job)],
        ["Kept at idle", f"{job.limits.idle_reserve_deg:g} deg below best"],
    ]


def _chance_kept(job: Job) -> str:
    limits = job.limits
    allowed = f"up to {chance_words(limits.knock_chance_percent).removeprefix(ABOUT)}"
    if job.induction.max_boost_kpa:
        allowed += f", under boost {chance_words(limits.boost_knock_chance_percent).removeprefix(ABOUT)}"
    on_top = f", and {limits.knock_margin_deg:g} deg on top" if limits.knock_margin_deg else ""
    return f"{allowed}{on_top}"


def _bore_by_stroke(bore_mm: float, stroke_mm: float, system: System) -> str:
    if system == "inch":
        return f"{length(bore_mm, system).removesuffix(' in')} x {length(stroke_mm, system)}"
    return f"{bore_mm:.1f} x {stroke_mm:.1f} mm"


def _temperature(value_c: float, system: System) -> str:
    letter = own_unit("temperature", system).removeprefix("deg")
    return f"{in_own_units(value_c, 'temperature', system):.0f} \N{DEGREE SIGN}{letter}"


def _pressure(pressure_kpa: float | None, system: System) -> str:
    return "sea level (assumed)" if pressure_kpa is None else air_pressure(pressure_kpa, system)


def _induction(job: Job, system: System) -> str:
    if job.induction.max_boost_kpa is None:
        return job.induction.kind
    return f"{job.induction.kind}, up to {_boost(job.induction.max_boost_kpa, system)} above the air outside"


def _boost(boost_kpa: float, system: System) -> str:
    return show(boost_kpa, "pressure", system) if system == "inch" else f"{boost_kpa:.0f} kPa"


def _dwell(hardware: HardwareResult) -> list[list[str]]:
    """Give dwell over the battery's voltage; nothing where the coil isn't charged by a current."""
    if hardware.dwell is None:
        return []
    over = zip(hardware.dwell.battery_v, hardware.dwell.dwell_ms, strict=True)
    return [
        [f"{volts:.0f} V", "not reached" if math.isnan(dwell_ms) else f"{dwell_ms:.2f} ms"]
        for volts, dwell_ms in over
        if any(abs(volts - shown) < 1e-6 for shown in _DWELL_VOLTS)
    ]


def _coil(hardware: HardwareResult) -> list[list[str]]:
    pairs: list[list[str]] = []
    if hardware.dwell is not None:
        pairs.append(["Wanted", f"{hardware.dwell.energy_mj:.0f} mJ, {hardware.dwell.current_a:.1f} A"])
    if hardware.coil is not None and hardware.coil.highest_full_energy_rpm is not None:
        pairs.append(["Full energy up to", f"{grouped(hardware.coil.highest_full_energy_rpm)} rpm"])
    if hardware.capacitive is not None:
        driver = hardware.capacitive
        pairs += [
            ["Energy", f"{driver.energy_mj:.0f} mJ"],
            ["Stored at", f"{driver.primary_v:.0f} V in {driver.capacitance_uf:.3g} uF"],
            ["Rise time", f"{driver.rise_us:.0f} us"],
            ["Dwell", "none: the driver fires when told"],
        ]
    least = hardware.demand.least_ratio
    pairs.append(
        [
            "Voltage there / asked",
            "not determined" if math.isnan(least) else f"about {least:.1f} at the hardest",
        ]
    )
    return pairs
