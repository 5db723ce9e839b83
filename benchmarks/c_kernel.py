"""The same cycle in C, built with the machine's own compiler, behind the interface of ``run_hook``."""

from __future__ import annotations

import ctypes
import subprocess
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sparkwright.cycle import kernel, turbulence

FloatArray = NDArray[np.float64]
RunHook = Callable[[kernel.Charge, FloatArray, float], FloatArray]

SOURCE = Path(__file__).with_name("kernel.c")
FLAGS = ("-O3", "-march=native", "-std=gnu11", "-Wall", "-Wextra", "-fPIC", "-shared")

NUMBERS = [
    "crank_radius_m",
    "rod_m",
    "piston_m2",
    "clearance_m3",
    "displaced_m3",
    "bore_m",
    "fixed_wall_m2",
    "wall_k",
    "end_gas_walls",
    "intake_closes_rad",
    "exhaust_opens_rad",
    "speed_rad_s",
    "mass_kg",
    "gas_constant_j_kgk",
    "closing_k",
    "h_middle_j_kg",
    "h_half_j_kg",
    "lnp_middle",
    "lnp_half",
    "flame_alpha",
    "flame_beta",
    "length",
    "burn_up",
    "closing_intensity_m_s",
    "gas_velocity_m_s",
    "top_velocity_m_s",
    "velocity_per_rise",
    "ln_mass_r",
    "ln_gas_constant",
    "ln_closing_density",
    "ln_flame_speed",
    "ln_woschni",
    "ln_induction",
]
CONSTANTS = {
    "sutherland_factor": turbulence.SUTHERLAND_FACTOR,
    "sutherland_k": turbulence.SUTHERLAND_TEMPERATURE_K,
    "spark_radius_m": kernel.KERNEL_RADIUS_M,
    "end_gas_share": kernel.END_GAS_SHARE,
    "motored_exponent": kernel.MOTORED_EXPONENT,
    "growth_in_a_step": kernel.GROWTH_IN_A_STEP,
    "tail_share": kernel.TAIL_SHARE,
    "velocity_rounding": kernel.VELOCITY_ROUNDING,
    "least_room": kernel.LEAST_ROOM,
}
TABLES = ("unburned", "pv_surface", "temperature_surface", "flame_table")
SIZES = ("surface_rows", "surface_columns", "table_rows", "table_columns")


class CCharge(ctypes.Structure):
    """``charge_t`` of kernel.c, field for field."""

    _fields_ = (
        [(name, ctypes.c_double) for name in (*NUMBERS, *CONSTANTS)]
        + [(name, ctypes.c_void_p) for name in TABLES]
        + [(name, ctypes.c_long) for name in SIZES]
    )


def _c_charge(charge: kernel.Charge) -> CCharge:
    record = CCharge()
    for name in NUMBERS:
        setattr(record, name, getattr(charge, name))
    for name, value in CONSTANTS.items():
        setattr(record, name, value)
    for name in TABLES:
        table = getattr(charge, name)
        assert table.flags.c_contiguous, name
        setattr(record, name, table.ctypes.data)
    record.surface_rows, record.surface_columns = charge.pv_surface.shape
    record.table_rows, record.table_columns = charge.flame_table.shape
    return record


def build_c_kernel() -> RunHook:
    """Compile kernel.c in a temporary folder and load it."""
    with tempfile.TemporaryDirectory() as folder:
        library_file = Path(folder) / "kernel.so"
        subprocess.run(["gcc", *FLAGS, str(SOURCE), "-o", str(library_file), "-lm"], check=True)
        library = ctypes.CDLL(str(library_file))
    pointer = ctypes.POINTER(ctypes.c_double)
    library.run_hook.argtypes = [
        ctypes.POINTER(CCharge),
        pointer,
        ctypes.c_long,
        ctypes.c_double,
        pointer,
    ]
    library.run_hook.restype = None

    def run_hook(charge: kernel.Charge, advance_deg: FloatArray, step_deg: float) -> FloatArray:
        out = np.empty((advance_deg.size, len(kernel.RESULTS)))
        library.run_hook(
            _c_charge(charge),
            advance_deg.ctypes.data_as(pointer),
            advance_deg.size,
            step_deg,
            out.ctypes.data_as(pointer),
        )
        return out

    return run_hook
