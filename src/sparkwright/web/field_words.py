"""What the fields of a job are called on a page, and its sentences with those words in place of keys."""

from __future__ import annotations

import re
from collections.abc import Mapping

from pydantic.fields import FieldInfo

from sparkwright.job import Job
from sparkwright.job.problems import section_of
from sparkwright.shop.compare import ChangedFact

SECTION_WORDS: dict[str, str] = {
    "engine": "Engine",
    "cam": "Camshaft",
    "induction": "Induction",
    "fuel": "Fuel and mixture",
    "site": "Air at the site",
    "distributor": "Distributor, rotor and cap",
    "pickup": "Pickup",
    "driver": "Driver",
    "coil": "Coil",
    "plugs": "Plugs and leads",
    "battery": "Battery",
    "controller": "Controller",
    "limits": "Limits",
    "light": "Timing light",
    "pegs": "Pegs",
    "old_curve": "Old mechanical and vacuum curve",
    "shop": "Shop",
    "customer": "Customer",
}

LABELS: dict[str, str] = {
    "name": "Name of the job",
    "invented": "Invented engine, an example",
    "engine.layout": "Layout of the cylinders",
    "engine.cylinders": "Number of cylinders",
    "engine.rod": "Rod length",
    "engine.rod_ratio": "Rod length over stroke",
    "engine.chamber": "Shape of the chamber",
    "engine.plug_offset": "Plug off the bore's axis",
    "engine.swirl": "Swirl",
    "engine.head": "Material of the head",
    "engine.idle_rpm": "Idle speed",
    "engine.idle_kpa": "Manifold pressure at idle",
    "engine.redline_rpm": "Redline",
    "engine.cranking_rpm": "Cranking speed",
    "engine.damper_diameter": "Diameter of the balancer's rim",
    "engine.bank_numbering": "Numbering of the banks",
    "cam.at_lift": "Lift at which the cam is stated",
    "cam.cam_advance_deg": "Advance ground into the cam",
    "cam.intake_valve": "Intake valve diameter",
    "cam.exhaust_valve": "Exhaust valve diameter",
    "induction.max_boost": "Highest boost",
    "fuel.lambda_idle": "Lambda at idle",
    "induction.kind": "Natural or boosted",
    "fuel.ron": "Research octane number (RON)",
    "fuel.mon": "Motor octane number (MON)",
    "fuel.aki": "Half the sum of both (AKI)",
    "fuel.ethanol_percent": "Ethanol",
    "fuel.lambda_full": "Lambda at full load",
    "fuel.lambda_cruise": "Lambda at part load",
    "fuel.mixture_kpa": "Pressures of a lambda table",
    "fuel.mixture_lambda": "Lambda at each of these pressures",
    "site.pressure": "Air pressure",
    "site.humidity_percent": "Relative humidity",
    "distributor.advance": "Mechanical advance",
    "distributor.base_deg": "Base",
    "distributor.cap_order": "Cylinders in the cap, where not the firing order",
    "distributor.cap_air_temperature": "Air inside the warm cap",
    "distributor.cap_vented": "Vents of the cap are open",
    "distributor.rotor_screws_secured": "Screws of the rotor are secured",
    "pickup.kind": "Kind of pickup",
    "pickup.polarity_checked": "Polarity was proved",
    "pickup.twisted_pair": "Wires are a twisted pair",
    "pickup.away_from_plug_leads": "Wires run away from plug leads",
    "driver.kind": "Kind of driver",
    "driver.controls_dwell": "Controller or driver sets the dwell",
    "driver.drop": "Voltage across the driver when on",
    "driver.max_mean_power": "Heat the driver may shed",
    "driver.energy": "Energy of one discharge",
    "driver.other_leads_on_coil": "Anything else on the coil's terminals",
    "driver.cranking_sparks": "Sparks for each firing while cranking",
    "driver.spark_spacing": "Time between those sparks",
    "coil.saturation": "Saturates at",
    "coil.warm": "Temperature of the warm winding",
    "coil.max_mean_power": "Heat the coil may shed",
    "plugs.gap": "Plug gap",
    "plugs.leads_adjacent": "Leads side by side, pairs of cylinders",
    "battery.running": "Voltage, engine running",
    "battery.cranking": "Voltage on the starter",
    "controller.step_deg": "Step of a cell",
    "controller.rpm": "Speeds of the map's columns",
    "controller.kpa": "Pressures of the map's rows",
    "controller.min_deg": "Least advance the controller takes",
    "controller.max_deg": "Most advance the controller takes",
    "limits.knock_margin_deg": "Kept below the knock limit",
    "limits.idle_reserve_deg": "Kept below best at idle",
    "limits.slope_deg_per_500rpm": "Most change over 500 rpm",
    "limits.slope_deg_per_10kpa": "Most change over 10 kPa",
    "limits.max_advance_deg": "Most advance anywhere",
    "limits.highest_rpm": "Highest speed of the plan",
    "light.kind": "Kind of timing light",
    "light.resolution_deg": "Step of its dial or marks",
    "light.mark_proved": "Mark of top dead centre was proved",
    "light.mark_error_deg": "What the mark shows at true top dead centre, before positive",
    "light.delay_set_us": "Delay that the controller makes up for",
    "pegs.rpm": "Speed",
    "pegs.kpa": "Manifold pressure",
    "old_curve.initial_deg": "Initial advance",
    "old_curve.mechanical": "Mechanical advance, a point a line: rpm, deg",
    "old_curve.vacuum": "Vacuum advance, a point a line: vacuum with its unit, deg",
    "shop.name": "Name of the shop",
    "shop.person": "Who answers for the work",
    "customer.name": "Name of the customer",
}
"""Where the key alone would not read well; the others are made from their key."""

UNITS = {"deg": "deg", "rpm": "rpm", "kpa": "kPa", "percent": "percent", "us": "us"}
"""What a key's ending says of its unit."""

UNIT_WORDS = {
    "distributor.rotor_phase_deg": "distributor deg",
    "light.resolution_deg": "crank deg",
    "light.mark_error_deg": "crank deg",
    "cam.lobe_separation_deg": "camshaft deg",
    "limits.slope_deg_per_500rpm": "deg",
    "limits.slope_deg_per_10kpa": "deg",
    "fuel.mixture_kpa": "kPa",
}

OPTION_WORDS: dict[object, str] = {
    "v": "V",
    "inline": "in line",
    "two-wire": "two-wire (variable reluctance)",
    "hall": "Hall",
    "odd-even": "odd numbers in one bank, even in the other",
    "by-bank": "one bank first, then the other",
}

HINTS: dict[str, str] = {
    "name": "As the shop will look for it.",
    "engine.firing_order": "As the engine fires, from cylinder 1: 1 5 7 2 6 3 4 8 or 1-5-7-2-6-3-4-8.",
    "engine.bank_numbering": "Of a V or flat engine, from the front: 1 3 5 7 beside 2 4 6 8, or 1 2 3 4 "
    "beside 5 6 7 8. A row has none.",
    "cam.at_lift": "As the card says: 0.050 in; or of advertised degrees, counted near the seat, "
    "“advertised, hydraulic” (0.006 in) or “advertised, solid” (0.020 in).",
    "plugs.leads_adjacent": "Pairs whose leads run side by side for long: 3-4, 5-6; “none” when none do.",
    "fuel.mixture_kpa": "Manifold pressures of a lambda table, rising, instead of the three lambdas above.",
    "fuel.mixture_lambda": "One lambda for each of these pressures.",
    "old_curve.mechanical": "Above initial; speeds rising.",
    "old_curve.vacuum": "Vacuum rising.",
}
"""Where a page has to say it otherwise than the job file does."""


ABOUT = ("cam", "pegs", "old_curve", "limits")
"""Sections whose description says more than their title."""


def unit_of(name: str) -> str:
    """Give the unit that a field's key states, "" for none.

    Examples
    --------
    >>> unit_of("engine.idle_rpm"), unit_of("engine.bore")
    ('rpm', '')
    """
    return UNIT_WORDS.get(name) or UNITS.get(re.split(r"[._]", name)[-1], "")


def label_of(name: str) -> str:
    """Give the words for a field, with the unit of a plain number.

    Examples
    --------
    >>> label_of("engine.compression_ratio"), label_of("pegs.advance_deg"), label_of("engine.idle_rpm")
    ('Compression ratio', 'Advance, deg', 'Idle speed, rpm')
    """
    unit = unit_of(name)
    plain = name.rpartition(".")[2]
    if unit and plain.endswith(tuple(f"_{ending}" for ending in UNITS)):
        plain = plain.rpartition("_")[0]
    words = LABELS.get(name) or plain.replace("_", " ").capitalize()
    return f"{words}, {unit}" if unit else words


def label_of_fact(fact: ChangedFact) -> str:
    """Give the words for a fact that changed: those of its field, or its own where it stands in the map.

    Examples
    --------
    >>> label_of_fact(ChangedFact("engine", "bore", "engine bore", "100 mm", "101 mm"))
    'Bore'
    """
    if fact.section in ("pegs", "hand") or not fact.section:
        return fact.label[:1].upper() + fact.label[1:]
    return label_of(f"{fact.section}.{fact.key}")


def hint_of(name: str, info: FieldInfo) -> str:
    """Give what stands under a field's label: its description without what the label or a mark says already.

    Examples
    --------
    >>> fields = fields_by_name()
    >>> hint_of("engine.stroke", fields["engine.stroke"])
    'Piston stroke.'
    >>> hint_of("coil.secondary_capacitance", fields["coil.secondary_capacitance"])
    'Capacitance of secondary, lead and plug.'
    >>> hint_of("engine.cylinders", fields["engine.cylinders"])
    ''
    """
    if name in HINTS:
        return HINTS[name]
    parts = re.split(r"(?<=\.)\s+", info.description or "")
    stands_in = not info.is_required() and info.default is not None
    if stands_in:
        parts = [part for part in parts if not _ASSUMED.fullmatch(part)]
    hint = in_words(" ".join(parts), name.partition(".")[0])
    same = hint.rstrip(".").lower() == label_of(name).partition(",")[0].lower()
    return "" if same else hint


_ASSUMED = re.compile(r"(?!Only )[^;]+ is assumed(: .*)?\.")


def practice(info: FieldInfo) -> bool:
    """Whether what is assumed in a field's place is common practice without a source."""
    return "common practice, no source" in (info.description or "")


def fields_by_name() -> dict[str, FieldInfo]:
    """Give every field of a job by ``section.key``; those before the first section by their key alone."""
    found: dict[str, FieldInfo] = {}
    for section, info in Job.model_fields.items():
        model = section_of(info)
        if model is None:
            found[section] = info
            continue
        for attribute, field in model.model_fields.items():
            found[f"{section}.{field.alias or attribute}"] = field
    return found


_KEY_IN_TEXT = re.compile(r"\b(?:([a-z_]+)\.)?([a-z]+(?:_[a-z0-9]+)+)(?!\w)")


def _homes() -> Mapping[str, list[str]]:
    homes: dict[str, list[str]] = {}
    for name in fields_by_name():
        homes.setdefault(name.rpartition(".")[2], []).append(name)
    return homes


_HOMES = _homes()


def in_words(text: str, section: str = "") -> str:
    """Put a field's words where a sentence of the job file has its key.

    Examples
    --------
    >>> in_words("this or rod_ratio", "engine")
    'this or “Rod length over stroke”'
    >>> in_words("must be below redline_rpm")
    'must be below “Redline”'
    """

    def words(match: re.Match[str]) -> str:
        homes = _HOMES.get(match[2], [])
        wanted = f"{match[1] or section}.{match[2]}"
        name = wanted if wanted in homes else homes[0] if len(homes) == 1 else ""
        return f"“{LABELS.get(name) or label_of(name).partition(',')[0]}”" if name else match[0]

    plain = re.sub(r'for example [a-z_]+ = "?([^"]*)"?', r"for example \1", text)
    plain = re.sub(
        r'\bkind = "([a-z-]+)"', lambda found: f"“{label_of(f'{section}.kind')}” is {found[1]}", plain
    )
    return _KEY_IN_TEXT.sub(words, plain)
