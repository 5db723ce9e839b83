"""The air an engine breathes: the standard atmosphere, moisture, and dynamometer corrections.

Pressures are absolute. Below the freezing point the vapour formulas speak of supercooled water, not of ice;
the difference is without weight for an engine.
"""

from sparkwright.air.atmosphere import (
    EARTH_RADIUS_M,
    PRESSURE_EXPONENT,
    SEA_LEVEL_PRESSURE_KPA,
    SEA_LEVEL_TEMPERATURE_K,
    TEMPERATURE_LAPSE_K_PER_M,
    geometric_height_m,
    geopotential_height_m,
    iso2533_height_m,
    iso2533_pressure_kpa,
    iso2533_temperature_k,
)
from sparkwright.air.correction import (
    DYNO_STANDARDS,
    KPA_PER_INCH_OF_MERCURY,
    DynoCorrection,
    dyno_correction,
    iso_1585_factor,
    iso_1585_outside_range,
    sae_j607_factor,
    sae_j607_outside_range,
    sae_j1349_factor,
    sae_j1349_outside_range,
)
from sparkwright.air.humidity import (
    DRY_AIR_GAS_CONSTANT_J_KG_K,
    VAPOUR_TO_DRY_AIR_MASS_RATIO,
    OutsideAir,
    buck_1981_saturation_hpa,
    buck_1996_saturation_hpa,
    humidity_ratio,
    magnus_saturation_hpa,
    moist_air_density_kg_m3,
)

__all__ = [
    "DRY_AIR_GAS_CONSTANT_J_KG_K",
    "DYNO_STANDARDS",
    "EARTH_RADIUS_M",
    "KPA_PER_INCH_OF_MERCURY",
    "PRESSURE_EXPONENT",
    "SEA_LEVEL_PRESSURE_KPA",
    "SEA_LEVEL_TEMPERATURE_K",
    "TEMPERATURE_LAPSE_K_PER_M",
    "VAPOUR_TO_DRY_AIR_MASS_RATIO",
    "DynoCorrection",
    "OutsideAir",
    "buck_1981_saturation_hpa",
    "buck_1996_saturation_hpa",
    "dyno_correction",
    "geometric_height_m",
    "geopotential_height_m",
    "humidity_ratio",
    "iso2533_height_m",
    "iso2533_pressure_kpa",
    "iso2533_temperature_k",
    "iso_1585_factor",
    "iso_1585_outside_range",
    "magnus_saturation_hpa",
    "moist_air_density_kg_m3",
    "sae_j607_factor",
    "sae_j607_outside_range",
    "sae_j1349_factor",
    "sae_j1349_outside_range",
]
