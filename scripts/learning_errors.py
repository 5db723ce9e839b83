"""Learn invented engines from five sweeps each and print how far off it comes out.

Run ``PYTHONPATH=tests .venv/bin/python scripts/learning_errors.py [ENGINES]``; 24 engines take some minutes.
The table of docs/learning.md is this.
"""

from __future__ import annotations

import sys

from invented_engines import invented_engine
from learning_trial import Trial, pooled, rms, trial


def main(engines: int) -> None:
    """Print a row for each engine, and the pooled figures."""
    print("| engine | untaught | baseline | learned | within 4 deg, % | inside 90 %, % | four chosen |")
    print("|---|---|---|---|---|---|---|")
    found: list[Trial] = []
    for seed in range(engines):
        one = trial(invented_engine(seed), chosen=4)
        found.append(one)
        figures = pooled([one])
        print(
            f"| {seed} | {rms(one.untaught):.2f} | {rms(one.baseline):.2f} | {rms(one.learned):.2f} "
            f"| {100 * figures['within 4']:.0f} | {100 * figures['inside 90 %']:.0f} "
            f"| {figures['four chosen']:.2f} |",
            flush=True,
        )
    print()
    for name, value in pooled(found).items():
        print(f"{name}: {value:.3f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 24)
