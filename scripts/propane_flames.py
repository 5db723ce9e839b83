"""Compute how burned gas slows a flame, with an independent library, for ``tests/cycle/test_laminar.py``.

Run ``.venv/bin/python scripts/propane_flames.py > tests/data/propane_dilution.csv`` (some minutes). Free
flames of propane in air, correct mixture, diluted with their own cooled products: Cantera, GRI-Mech 3.0,
mixture-averaged transport. Propane stands for gasoline: what burned gas takes from a flame is mostly its
heat.
"""

from __future__ import annotations

import cantera as ct

PLACES = ((300.0, 1.0), (450.0, 1.0), (450.0, 5.0), (700.0, 10.0), (750.0, 20.0))
"""Unburned temperature [K] and pressure [atm]."""

BURNED_MOLE_FRACTIONS = (0.05, 0.1, 0.2, 0.3, 0.4)


def flame_m_s(burned_mole_fraction: float, temperature_k: float, pressure_atm: float) -> float:
    """Laminar speed of the diluted mixture [m/s]."""
    pressure_pa = pressure_atm * ct.one_atm
    fresh, products = ct.Solution("gri30.yaml"), ct.Solution("gri30.yaml")
    fresh.set_equivalence_ratio(1.0, "C3H8", "O2:1, N2:3.76")
    products.TPX = 1000.0, pressure_pa, fresh.X
    products.equilibrate("TP")
    diluted = (1.0 - burned_mole_fraction) * fresh.X + burned_mole_fraction * products.X
    fresh.TPX = temperature_k, pressure_pa, diluted
    flame = ct.FreeFlame(fresh, width=0.02 if pressure_atm < 3.0 else 0.004)
    flame.transport_model = "mixture-averaged"
    flame.set_refine_criteria(ratio=3.0, slope=0.1, curve=0.15)
    flame.solve(loglevel=0, auto=True)
    return float(flame.velocity[0])


if __name__ == "__main__":
    print(f"# Speed over that of the undiluted flame; Cantera {ct.__version__}, GRI-Mech 3.0, propane")
    print("temperature_k,pressure_atm,burned_mole_fraction,speed_share")
    for kelvin, atmospheres in PLACES:
        undiluted_m_s = flame_m_s(0.0, kelvin, atmospheres)
        for burned in BURNED_MOLE_FRACTIONS:
            share = flame_m_s(burned, kelvin, atmospheres) / undiluted_m_s
            print(f"{kelvin:.0f},{atmospheres:.0f},{burned},{share:.3f}", flush=True)
