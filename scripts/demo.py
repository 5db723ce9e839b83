"""The whole main job on an invented engine: check, hook, plan, comparison, light, store, pictures, card.

Run ``make demo``. Everything goes into ``demo-out/``, or the folder given, and is
written over each time, but for the store, in which somebody may have worked.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path
from time import perf_counter

import numpy as np
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from sparkwright.check.result import HardwareResult
from sparkwright.evidence.kinds import LightReading
from sparkwright.job import Job
from sparkwright.light.readings import load_readings
from sparkwright.light.verdict import LightResult, check_light
from sparkwright.pictures.gallery import save_pictures
from sparkwright.plan.compare import Comparison, compare_map
from sparkwright.plan.exchange import FORMS, write_map
from sparkwright.plan.firmness import Mapper
from sparkwright.plan.planned_demand import check
from sparkwright.plan.planner import plan
from sparkwright.plan.point import point
from sparkwright.plan.result import Hook, PlanResult
from sparkwright.plan.spark_map import SparkMap
from sparkwright.sheets.card import card_html, card_pdf
from sparkwright.shop import Shop, open_shop
from sparkwright.words.map import held_sentence
from sparkwright.words.told import sentences, told

ROOT = Path(__file__).resolve().parent.parent
JOB_FILE = ROOT / "examples" / "pump-house-v8.toml"
READINGS_FILE = ROOT / "examples" / "pump-house-v8-light.csv"
OTHER_JOBS = (ROOT / "examples" / "boosted-six.toml", ROOT / "examples" / "old-four.toml")
OUT = ROOT / "demo-out"
WHO = "A. Example"
HOOK_RPM = 3000.0


def main(out: Path, run: Mapper) -> None:
    """Do the job, step by step, and say where its results are; ``run`` does many things side by side."""
    started = perf_counter()
    console = Console(highlight=False)
    job = Job.load(JOB_FILE)
    engine = job.engine
    said = " (invented)" if job.invented else ""
    step(
        console,
        f"{job.name}{said}",
        [
            f"{engine.cylinders} cylinders, {engine.say('bore_mm')} by {engine.say('stroke_mm')}, "
            f"{engine.compression_ratio:g}:1, at {job.site.say('altitude_m')}.",
            f"Job file: {shown(JOB_FILE)}",
        ],
    )

    result = plan(job, run=run)
    hardware = check(job, result, run=run)
    step(console, "1. Can this ignition deliver it?", hardware_told(hardware))

    full_load_kpa = float(result.cells.spark_map.kpa[-1])
    hook = point(job, HOOK_RPM, full_load_kpa, run=run)
    step(console, f"2. One hook: {HOOK_RPM:,.0f} rpm at full load, {full_load_kpa:g} kPa", hook_told(hook))

    step(console, "3. What timing does it want?", plan_told(result))

    if result.old_curve is not None:
        old = SparkMap(result.cells.spark_map.rpm, result.cells.spark_map.kpa, result.old_curve.advance_deg)
        step(
            console,
            "4. How far off was the old distributor?",
            [
                *map(str, sentences(result.old_curve.findings)),
                "Put into the controller as a map, with the distributor locked as it stands:",
                *comparison_told(compare_map(result, old)),
            ],
        )

    written = write_all(out, job, result, hardware, hook)
    if result.reach_cost is not None:
        phase_deg = job.distributor.rotor_phase_deg + result.reach_cost.phase_move_distributor_deg
        phased = plan(job.changed("distributor", rotor_phase_deg=round(phase_deg, 1)), run=run)
        step(console, "5. What would phasing the rotor bring?", phased_told(phased))
        written += save_pictures(out / "pictures-phased", phased)
    light = check_light(job, load_readings(READINGS_FILE))
    step(console, "6. Does the engine get what is commanded?", light_told(light))
    step(console, "7. Kept, with its history", [keep(out / "shop")])
    step(console, f"8. Written: {len(written)} files in {shown(out)}", files_told(out))
    step(console, "Try next", next_told(out))
    console.print(f"\nDone in {perf_counter() - started:.1f} s.")


def step(console: Console, title: str, lines: Iterable[str] | Table) -> None:
    """Print one step: its title, then its sentences or its table."""
    console.print(Text(f"\n{title}", style="bold"))
    for part in [lines] if isinstance(lines, Table) else map(Text, lines):
        console.print(Padding(part, (0, 0, 0, 3)))


def hardware_told(hardware: HardwareResult) -> list[str]:
    """Say what the check found, and the reach of the rotor as it stands and as it could stand."""
    rotor, lead = hardware.rotor, told(hardware.headline)
    return [
        str(lead.sentence),
        *map(str, sentences(each for each in hardware.problems if each != hardware.headline)),
        str(lead.action or ""),
        f"The rotor reaches {rotor.today.most_deg:.0f} deg as it stands, "
        f"{rotor.phased.most_deg:.0f} deg phased.",
    ]


def hook_told(hook: Hook) -> list[str]:
    """Say best, the span of near-best torque, and knock."""
    knock = (
        "It does not knock within the tested span."
        if hook.knock_limit_deg != hook.knock_limit_deg
        else f"Knock starts at {hook.knock_limit_deg:.1f} deg."
    )
    return [
        f"Best is {hook.best_deg:.1f} deg, {hook.best_torque_nm:.0f} N m; "
        f"99 % of it from {hook.late99_deg:.0f} to {hook.early99_deg:.0f} deg. {knock}"
    ]


def plan_told(result: PlanResult) -> list[str]:
    """Say how the plan stands, what holds its cells, and how firm they are."""
    idle, lead = result.idle, told(result.headline)
    return [
        str(lead.sentence),
        *map(str, sentences(each for each in result.problems if each != result.headline)),
        str(lead.action or ""),
        held_sentence(result),
        f"Idle at {idle.rpm:.0f} rpm is set to {idle.set_deg:.1f} deg, {idle.reserve_deg:.0f} short of best; "
        f"going to best would add {idle.authority_percent:.0f} % torque.",
        f"One standard deviation of a cell held by best or knock: {np.nanmin(result.cells.sigma_deg):.1f} to "
        f"{np.nanmax(result.cells.sigma_deg):.1f} deg. Prove it on the engine.",
    ]


def phased_told(result: PlanResult) -> list[str]:
    """Say how the plan would stand with the tip moved."""
    lead, *rest = map(str, sentences((result.headline, *result.problems[1:])))
    return [lead, held_sentence(result), *rest]


def light_told(light: LightResult) -> list[str]:
    """Say what the readings of the timing light prove, and what to do."""
    proof = [light.proof.finding] if light.proof.finding != light.headline else []
    return [
        f"{len(light.readings)} readings in {shown(READINGS_FILE)}.",
        str(told(light.headline).sentence),
        *([str(told(light.to_do).action)] if light.to_do else []),
        *map(str, sentences(proof)),
    ]


def keep(place: Path) -> str:
    """Put the demo job with its readings, and the other examples, into a store; one that is there stays."""
    there = place.exists()
    with closing(open_shop(place)) as shop:
        if not there:
            fill(shop)
        left = ", as you left them" if there else ""
        return f"{shop.jobs.count()} jobs in {shown(place)}{left}; open them with the workbench."


def fill(shop: Shop) -> None:
    """Keep the examples in an empty store, the demo job last."""
    for path in (*OTHER_JOBS, JOB_FILE):
        kept = shop.jobs.create(path.read_text(encoding="utf-8"), who=WHO, why="An invented example")
    with READINGS_FILE.open("rb") as file:
        shop.files.attach(kept.key, READINGS_FILE.name, "readings", file, who=WHO)
    for reading in load_readings(READINGS_FILE).readings:
        shop.evidence.add(kept.key, LightReading(reading), who=WHO)


def comparison_told(comparison: Comparison) -> list[str]:
    """Say what the old map was over."""
    found = (comparison.headline, *comparison.problems[1:], *comparison.warnings)
    return [*map(str, sentences(found))]


def write_all(out: Path, job: Job, result: PlanResult, hardware: HardwareResult, hook: Hook) -> list[Path]:
    """Write pictures, card and map."""
    out.mkdir(parents=True, exist_ok=True)
    written = list(save_pictures(out / "pictures", result, hardware, [hook]))
    card = out / "card.pdf", out / "card.html"
    card[0].write_bytes(card_pdf(result, hardware, job))
    card[1].write_text(card_html(result, hardware, job), encoding="utf-8")
    written += card
    for form in FORMS:
        table = out / f"map.{form}"
        table.write_text(write_map(result.cells.spark_map, form), encoding="utf-8")
        written.append(table)
    return written


def files_told(out: Path) -> Table:
    """Say what lies where and how to open it."""
    return pairs(
        {
            f"{shown(out)}/card.pdf": "the hand-over card; print it",
            f"{shown(out)}/card.html": "the same card; open it in a browser",
            f"{shown(out)}/pictures/": "every picture as SVG and PNG, its numbers as CSV",
            f"{shown(out)}/pictures-phased/": "the same with the rotor phased",
            f"{shown(out)}/shop/": "the jobs in a store; open it with the workbench",
            f"{shown(out)}/map.csv": "the map; map.tsv to paste, map.json for programs",
        }
    )


def next_told(out: Path) -> Table:
    """Name the commands that go on from here."""
    command = Path(".venv", "bin", "sparkwright")
    return pairs(
        {
            f"{command} serve --shop {shown(out / 'shop')}": "the workbench in your browser, with these jobs",
            f"{command} new my-engine.toml": "a job of your own",
            f"{command} check {shown(JOB_FILE)}": "the ignition",
            f"{command} plan {shown(JOB_FILE)}": "the map",
            f"{command} --help": "all commands",
            "docs/guide.md": "the whole work, step by step",
        }
    )


def pairs(rows: dict[str, str]) -> Table:
    """Lay out what to type or open beside what it is."""
    drawn = Table.grid(padding=(0, 3, 0, 0))
    drawn.add_column(no_wrap=True)
    drawn.add_column()
    for left, right in rows.items():
        drawn.add_row(Text(left), Text(right))
    return drawn


def shown(path: Path) -> str:
    """Give a path as a person in this folder would type it."""
    return os.path.relpath(path)


if __name__ == "__main__":
    with ThreadPoolExecutor(max_workers=os.cpu_count() or 1) as cores:
        main(Path(sys.argv[1]) if len(sys.argv) > 1 else OUT, cores.map)
