"""Measure the workbench as people use it: first answers in a shop full of jobs, edits and changes on screen.

Run alone with ``.venv/bin/python benchmarks/web.py``, or as a part of ``make bench``. A shop of fifty people
for ten minutes, before two processes on a PostgreSQL of its own:

    .venv/bin/python benchmarks/web.py --people 50 --seconds 600 --workers 2 --postgresql
"""

from __future__ import annotations

import argparse
import asyncio
import os
import random
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx2 as httpx
import numpy as np
from playwright.sync_api import Browser, Page, Request, expect, sync_playwright

from real_workbench import CHROMIUM, Served, open_chromium, served, shop_folder
from rows import Row, show
from sparkwright.shop import open_shop

TREE = Path(__file__).resolve().parent.parent
EXAMPLE = TREE / "examples" / "pump-house-v8.toml"
JOBS, PEOPLE = 1_000, 20
"""Each person is at work on a job of their own; the other jobs were done before."""
NO_ANSWER = 0
"""Stands for the status of an answer that never came."""
THINK_S = (1.0, 5.0)
"""A person looks at a page for so long before asking for the next; a choice."""
FIRST_MEDIAN_MS, FIRST_95TH_MS, EDIT_MS, CHANGED_MS, PAGE_BYTES = 100.0, 250.0, 100.0, 1500.0, 2_000_000

MIX = (
    ("list of jobs", "/", 3),
    ("search", "/?find=pump", 2),
    ("engine", "/jobs/{key}/engine", 2),
    ("ignition", "/jobs/{key}/ignition", 2),
    ("map", "/jobs/{key}/map", 4),
    ("why a cell", "/jobs/{key}/map/why?cell={i}-{j}", 4),
    ("ribbon", "/jobs/{key}/map/ribbon?line=kpa-60", 1),
    ("cap", "/jobs/{key}/ignition/cap?advance={advance}&phase=0&base=10&number=1", 3),
    ("light", "/jobs/{key}/light", 3),
    ("hand over", "/jobs/{key}/hand-over", 1),
    ("history", "/jobs/{key}/history", 1),
)
"""What people ask for, and how often against one another; a choice."""
KEEP_A_READING, SAVE_A_FACT = 3, 1
"""How often a reading is kept and a changed fact saved, in the same measure."""

IDLE = httpx.Limits(keepalive_expiry=3.0)
"""A client lets go of an idle line before the server does, after 5 s, or a question meets a line that closes;
a browser asks such a question once more by itself."""


def job_text(name: str, phase_distributor_deg: str) -> str:
    """Write the example as another job."""
    text = EXAMPLE.read_text(encoding="utf-8").replace('name = "Pump-house V8"', f'name = "{name}"', 1)
    return text.replace("rotor_phase_deg = 0", f"rotor_phase_deg = {phase_distributor_deg}")


def fill(place: Path | str, people: int) -> list[str]:
    """Fill a store with jobs; gives the keys of those that are in work."""
    with open_shop(place) as shop:
        keys = [
            shop.jobs.create(
                job_text(f"Pump-house V8 number {number}", f"{0.1 * (number % 50):.1f}"),
                who="A. Example",
                why="engine came in",
            ).key
            for number in range(JOBS)
        ]
    return keys[-people:]


@dataclass(frozen=True)
class Answer:
    """How long one answer took to begin."""

    page: str
    first_ms: float
    status: int


class Person:
    """Somebody at work on one job, who looks, thinks and goes on."""

    def __init__(self, key: str, seed: int) -> None:
        self.key, self.draw, self.number = key, random.Random(seed), 1
        self.answers: list[Answer] = []

    async def work(self, address: str, seconds: float) -> list[Answer]:
        async with httpx.AsyncClient(base_url=address, timeout=60.0, limits=IDLE) as client:
            await asyncio.sleep(self.draw.uniform(0.0, THINK_S[1]))
            until = time.perf_counter() + seconds
            while time.perf_counter() < until:
                name, request = self._wish(client)
                begun = time.perf_counter()
                status = NO_ANSWER
                try:
                    answer = await client.send(request, stream=True)
                    first_ms = 1e3 * (time.perf_counter() - begun)
                    await answer.aread()
                    await answer.aclose()
                    status = answer.status_code
                except httpx.HTTPError:
                    first_ms = 1e3 * (time.perf_counter() - begun)
                self.answers.append(Answer(name, first_ms, status))
                await asyncio.sleep(self.draw.uniform(*THINK_S))
        return self.answers

    def _wish(self, client: httpx.AsyncClient) -> tuple[str, httpx.Request]:
        pages = {name: path for name, path, _ in MIX}
        weights = [*(weight for *_, weight in MIX), KEEP_A_READING, SAVE_A_FACT]
        name = self.draw.choices((*pages, "reading kept", "fact saved"), weights)[0]
        if name == "reading kept":
            reading = {"commanded_deg": "30", "speed_rpm": "1500", "seen_deg": "29.5", "set": "1"}
            sent = reading | {"who": "A. Example"}
            return name, client.build_request("POST", f"/jobs/{self.key}/light/readings", data=sent)
        if name == "fact saved":
            text = job_text(self.key, f"{self.draw.uniform(0.0, 9.0):.2f}")
            change = {"text": text, "who": "A. Example", "based_on": self.number}
            self.number += 1
            return name, client.build_request("PUT", f"/api/v1/jobs/{self.key}", json=change)
        path = pages[name].format(
            key=self.key,
            i=self.draw.randrange(16),
            j=self.draw.randrange(16),
            advance=self.draw.randrange(10, 46),
        )
        return name, client.build_request("GET", path)


async def shop_at_work(address: str, keys: list[str], seconds: float) -> list[Answer]:
    people = (Person(key, seed).work(address, seconds) for seed, key in enumerate(keys))
    return [answer for answers in await asyncio.gather(*people) for answer in answers]


def first_answers(server: Served, keys: list[str], seconds: float) -> list[Row]:
    """Time from asking for a page to the first byte of its answer, with everybody at work."""
    for key in keys:
        httpx.get(f"{server.address}/api/v1/jobs/{key}/plan", timeout=60.0).raise_for_status()
        httpx.get(f"{server.address}/jobs/{key}/map", timeout=60.0).raise_for_status()
    answers = asyncio.run(shop_at_work(server.address, keys, seconds))
    wrong = Counter((answer.page, answer.status) for answer in answers if not NO_ANSWER < answer.status < 400)
    times = np.array([answer.first_ms for answer in answers])
    median, high = np.percentile(times, [50, 95])
    rows = [
        Row(
            f"{len(keys)} people, {JOBS:,} jobs, {times.size} answers: median",
            f"{median:.0f} ms",
            f"{FIRST_MEDIAN_MS:.0f} ms or less",
            bool(median <= FIRST_MEDIAN_MS),
        ),
        Row(
            "the same, 95th percentile",
            f"{high:.0f} ms",
            f"{FIRST_95TH_MS:.0f} ms or less",
            bool(high <= FIRST_95TH_MS),
        ),
        Row("the same, slowest", f"{times.max():.0f} ms"),
        Row("the same, errors", f"{wrong.total()}", "none", not wrong),
    ]
    rows += [
        Row(f"  {page}: {f'answered {status}' if status else 'no answer'}", f"{count}")
        for (page, status), count in wrong.items()
    ]
    for name in dict.fromkeys(answer.page for answer in answers):
        own = np.array([answer.first_ms for answer in answers if answer.page == name])
        rows.append(Row(f"  {name}", f"{np.median(own):.0f}, {np.percentile(own, 95):.0f} ms"))
    return rows


AFTER_KEY = """([place, text]) => {
    const cell = document.querySelector(place);
    window.shownAfter = new Promise((done) => {
        const begun = performance.now();
        const seen = () => {
            const taken = !cell.querySelector("input") && cell.classList.contains("pending");
            if (taken && cell.textContent === text)
                requestAnimationFrame(() => setTimeout(() => done(performance.now() - begun)));
            else setTimeout(seen, 1);
        };
        document.addEventListener("keydown", seen, { once: true, capture: true });
    });
}"""
"""Times from the key that takes a value to the frame in which the server's answer stands in the cell."""

AFTER_CLICK = """() => {
    window.shownAfter = new Promise((done) => {
        const begun = performance.now();
        document.addEventListener("htmx:afterSettle", (event) => {
            if (event.target.closest("#what-if") && document.querySelector("#what-if svg"))
                requestAnimationFrame(() => setTimeout(() => done(performance.now() - begun)));
        });
        document.querySelector("#what-if-form button").click();
    });
}"""


def edits(page: Page, turns: int) -> list[float]:
    """Times of cells typed over, from Enter to the new cell on screen."""
    times = []
    for turn in range(turns):
        place = f"#map-grid td[data-row='{6 + turn % 6}'][data-column='{5 + turn % 7}']"
        value = f"{10 + turn % 9}.5"  # less than any of these cells has, so that each is changed
        page.locator(place).click()
        page.keyboard.type(value)
        page.evaluate(AFTER_KEY, [place, value])
        page.keyboard.press("Enter")
        times.append(float(page.evaluate("window.shownAfter")))
    return times


def changed_facts(page: Page, turns: int) -> list[float]:
    """Times of facts changed, from the button to what moved on screen."""
    times = []
    for turn in range(turns):
        page.select_option("#fact", "fuel.ron")
        page.fill("#value", f"{88 + 0.1 * turn:.1f}")
        page.evaluate(AFTER_CLICK)
        times.append(float(page.evaluate("window.shownAfter")))
    return times


def on_screen(server: Served, key: str, browser: Browser) -> list[Row]:
    """What a person at a browser waits for."""
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    requests: list[Request] = []
    page.on("requestfinished", lambda request: requests.append(request))
    page.goto(f"{server.address}/jobs/{key}/map")
    page.wait_for_load_state("networkidle")
    sizes = [request.sizes() for request in requests]
    weight = sum(size["responseBodySize"] + size["responseHeadersSize"] for size in sizes)
    expect(page.locator("#map-tools")).to_be_visible()
    edits(page, 3)
    edited = np.array(edits(page, 30))
    changed_facts(page, 1)
    changed = np.array(changed_facts(page, 8))
    page.close()
    median, high = np.percentile(edited, [50, 95])
    slow = np.percentile(changed, [50, 95])
    return [
        Row(
            "a cell edited, back on screen: median",
            f"{median:.0f} ms",
            f"{EDIT_MS:.0f} ms or less",
            bool(median <= EDIT_MS),
        ),
        Row("the same, 95th percentile", f"{high:.0f} ms"),
        Row(
            "a fact changed, planned and drawn: median",
            f"{slow[0]:.0f} ms",
            f"{CHANGED_MS:.0f} ms or less",
            bool(slow[0] <= CHANGED_MS),
        ),
        Row("the same, 95th percentile", f"{slow[1]:.0f} ms"),
        Row(
            "the map, everything a first visit fetches",
            f"{weight / 1e6:.2f} MB",
            "2 MB or less",
            weight <= PAGE_BYTES,
        ),
    ]


@contextmanager
def store(postgresql: bool) -> Iterator[tuple[Path | str, Path]]:
    """Give a place for a store that is gone afterwards, and a folder for the log of who serves it."""
    with shop_folder() as place:
        if not postgresql:
            yield place, place.parent
            return
        sys.path.append(str(TREE / "tests"))  # where the database for the tests is
        import databases

        programs = databases.programs()
        if programs is None:
            raise SystemExit("PostgreSQL is not installed; Debian's package is postgresql")
        with databases.postgresql(programs) as server:
            yield f"{databases.new_database(server)}&files={place}.files", place.parent


def at_work(seconds: float, people: int = PEOPLE, *, workers: int = 1, postgresql: bool = False) -> list[Row]:
    """Measure first answers over a store of its own."""
    with store(postgresql) as (place, log_in):
        keys = fill(place, people)
        with served(place, "--workers", str(workers), log_in=log_in) as server:
            return first_answers(server, keys, seconds)


def before_one_person() -> list[Row]:
    """Measure what one person sees in a browser, over a store of its own."""
    with shop_folder() as place:
        with open_shop(place) as shop:
            key = shop.jobs.create(
                EXAMPLE.read_text(encoding="utf-8"), who="A. Example", why="engine came in"
            ).key
        with served(place) as server, sync_playwright() as playwright:
            browser = open_chromium(playwright)
            try:
                return on_screen(server, key, browser)
            finally:
                browser.close()


def measurements(seconds: float = 60.0) -> tuple[tuple[str, Callable[[], list[Row]]], ...]:
    """Name what there is to measure; in a browser only where there is one."""
    first = ("The workbench: first answers, everybody at work", lambda: at_work(seconds))
    if not CHROMIUM.exists():
        return (first,)
    return first, ("The workbench on screen, one person", before_one_person)


def main() -> None:
    parser = argparse.ArgumentParser(description="Measure the workbench.")
    parser.add_argument("--seconds", type=float, default=60.0, help="how long people are at work")
    parser.add_argument("--people", type=int, help="only so many people at work, and nobody at a browser")
    parser.add_argument("--workers", type=int, default=1, help="processes that serve these people")
    parser.add_argument("--postgresql", action="store_true", help="keep their store in a PostgreSQL")
    chosen = parser.parse_args()
    print(f"Load of the machine before the run: {os.getloadavg()[0]:.1f}")
    if chosen.people is not None:
        rows = at_work(chosen.seconds, chosen.people, workers=chosen.workers, postgresql=chosen.postgresql)
        show(f"{chosen.people} people at work for {chosen.seconds:.0f} s", rows)
        return
    for title, measure in measurements(chosen.seconds):
        show(title, measure())


if __name__ == "__main__":
    main()
