"""Learn invented engines from five sweeps each and print how far off it comes out.

Run ``PYTHONPATH=tests .venv/bin/python scripts/learning_errors.py [ENGINES [FIRST]]``; 24 engines take half
an hour, most of it for the sweeps that the program chooses. docs/learning.md has these figures.
"""

from __future__ import annotations

import sys

from invented_engines import invented_engine
from learning_trial import Trial, pooled, rms, trial


def main(engines: int, first: int) -> None:
    """Print a row for each engine, and the pooled figures."""
    print("| engine | untaught | baseline | learned | knock limit | four chosen |")
    print("|---|---|---|---|---|---|")
    found: list[Trial] = []
    for seed in range(first, first + engines):
        one = trial(invented_engine(seed), chosen=4)
        found.append(one)
        figures = pooled([one])
        print(
            f"| {seed} | {rms(one.untaught):.2f} | {rms(one.baseline):.2f} | {rms(one.learned):.2f} "
            f"| {figures['knock']:.1f} | {figures['four chosen']:.2f} |",
            flush=True,
        )
    print()
    for name, value in pooled(found).items():
        print(f"{name}: {value:.3f}")


if __name__ == "__main__":
    given = [int(each) for each in sys.argv[1:]]
    main(*(given + [24, 300][len(given) :]))
