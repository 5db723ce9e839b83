"""Compile the loops over a drive ahead of their first use: ``python -m sparkwright.drive.compile``."""

from __future__ import annotations

import time

import numpy as np

from sparkwright.drive import kernel


def compile_loops() -> None:
    """Run each loop on a few rows, of the types that reading gives them."""
    rows = np.linspace(800.0, 1600.0, 8)
    borders, cells = np.array([1000.0, 1200.0]), np.zeros(rows.size, dtype=np.int32)
    counts, sums, bins = np.zeros(9, dtype=np.int64), np.zeros(9), np.zeros((9, 4), dtype=np.uint32)
    kernel.place_rows(rows, rows, 400.0, borders, borders, cells)
    kernel.count_and_sum(cells, rows, counts, sums)
    kernel.count_sum_and_bin(cells, rows, 0.0, 1.0, counts, sums, bins)
    kernel.clean(rows.copy(), 1.0, 0.0, 0.0, 9000.0)
    kernel.carry(rows.copy(), rows, 800.0, 0.0, 3.0)
    kernel.window_values(rows, np.array([0, 4]), *np.empty((3, 2)))
    kernel.speed_events(rows, 9.0, 0.01, 0.3, *np.zeros((3, rows.size), dtype=bool))


if __name__ == "__main__":
    begun = time.perf_counter()
    compile_loops()
    print(f"The loops over drives are ready, after {time.perf_counter() - begun:.1f} s")
