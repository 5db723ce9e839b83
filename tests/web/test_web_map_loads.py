"""The map page in a controller's own terms of load: heads, names of cells, reasons, pictures."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

import numpy as np
import pytest

from planning_jobs import BOOSTED_SIX
from sparkwright.job import Job, LoadTerm
from sparkwright.plan.axes import axes_of
from sparkwright.plan.load_terms import loads_of
from sparkwright.plan.physics import physics_of
from workbench import PUMP_HOUSE, workbench

KEY = "pump-house-v8"
MAP = f"/jobs/{KEY}/map"
INHG_KPA = 3.386389
"""NIST SP 811, appendix B.8."""


def with_loads(keys: str) -> str:
    text = PUMP_HOUSE.replace('altitude = "1450 m"', 'pressure = "90 kPa"')
    return text.replace("[controller]\n", f"[controller]\n{keys}\n")


def heads(page: str) -> list[tuple[str, str, str]]:
    """Own load, kPa beside and what is said aloud, of each row of the grid from the most load down."""
    link = r'<a [^>]*class="own-and-kpa" aria-label="([^"]*)">'
    found = re.findall(link + r'<span>([^<]*)</span><span class="kpa">([^<]*)</span>', page)
    return [(own, kpa, unescape(aloud)) for aloud, own, kpa in found]


def test_rows_are_headed_as_the_controller_has_them_with_kpa_beside(tmp_path: Path) -> None:
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(with_loads('load = "inHg vacuum"'), who="A. Example", why="started")
        client.get(f"/api/v1/jobs/{KEY}/plan")
        page = client.get(MAP).text
        assert "rpm across, inHg vacuum down, kPa beside</h2>" in page
        rows = heads(page)
        assert len(rows) == 16
        assert rows[0] == ("0", "90", "0 inHg vacuum (90 kPa)")
        for own, kpa, aloud in rows:
            assert float(kpa) == pytest.approx(90 - float(own) * INHG_KPA, abs=0.51)
            assert aloud.startswith(f"{own} inHg vacuum (")
        # Names of cells and the choice of a line say the same; so does the cell's own panel.
        assert 'aria-label="500 rpm, 0 inHg vacuum (90 kPa): ' in page
        assert ">0 inHg vacuum (90 kPa)</option>" in page
        own, _, aloud = rows[4]
        assert f"<h3>500 rpm, {aloud}: " in client.get(f"{MAP}/why?cell=11-0").text
        assert "Loads are in inHg vacuum, as the controller has them, and in kPa absolute beside." in page


def test_a_block_copied_from_the_controllers_table_goes_into_its_rows(tmp_path: Path) -> None:
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(with_loads('load = "inHg vacuum"'), who="A. Example", why="started")
        client.get(f"/api/v1/jobs/{KEY}/plan")
        page = client.get(MAP).text
        assert 'data-corner="inHg vacuum by rpm"' in page
        own = heads(page)[3][0]
        assert f'data-load="{own}"' in page
        asked = {"number": 1, "hand": [], "do": "paste", "text": f"\t500\t650\n{own}\t6\t7.5\n"}
        answer = client.post(f"{MAP}/try", json=asked).json()
        assert [(cell["row"], cell["column"], cell["deg"]) for cell in answer["cells"]] == [
            (12, 0, 6.0),
            (12, 1, 7.5),
        ]
        assert f"500 rpm, {own} inHg vacuum (" in answer["cells"][0]["label"]


def test_contours_stand_over_the_controllers_loads_with_kpa_at_the_right(tmp_path: Path) -> None:
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(with_loads('load = "inHg vacuum"'), who="A. Example", why="started")
        drawn = client.get(f"{MAP}/contours").text
        assert "over rpm and inHg vacuum, kPa at the right" in drawn
        places = {
            (anchor, text): float(y)
            for y, anchor, text in re.findall(
                r'<text x="[\d.]+" y="([\d.]+)" class="soft" text-anchor="(\w+)">(\d+)</text>', drawn
            )
        }
        # 5 and 10 inHg stand where 90 less so much is, on the scale of kPa at the right.
        px_per_kpa = (places[("start", "40")] - places[("start", "60")]) / 20
        for vacuum in (5, 10):
            at_kpa = 90 - vacuum * INHG_KPA
            expected = places[("start", "60")] + (60 - at_kpa) * px_per_kpa
            assert places[("end", f"{vacuum}")] == pytest.approx(expected, abs=0.1)


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ("", "the job does not say in what its controller has them"),
        ('load = "kPa absolute"', "Loads are in kPa absolute, as the controller has them."),
        (
            'load = "percent of throttle"\nthrottle_rpm = [500, 5000]\n'
            "throttle_kpa = [[0, 25, 25], [90, 88, 88]]",
            "since a throttle is another pressure at each speed",
        ),
    ],
)
def test_rows_in_kpa_alone_say_why(tmp_path: Path, keys: str, said: str) -> None:
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(with_loads(keys), who="A. Example", why="started")
        client.get(f"/api/v1/jobs/{KEY}/plan")
        page = client.get(MAP).text
        assert said in page
        assert "rpm across, kPa down</h2>" in page
        assert not heads(page)


STEPS: dict[LoadTerm, float] = {
    "inHg vacuum": 0.5,
    "kPa boost": 1.0,
    "psi boost": 0.25,
    "percent of full load": 1.0,
}


@pytest.mark.parametrize("term", STEPS)
@pytest.mark.parametrize("boosted", [False, True])
@pytest.mark.parametrize("site_kpa", [60.0, 83.7, 101.3])
def test_rows_that_nobody_states_stand_on_numbers_that_are_typed_into_the_controller(
    term: LoadTerm, boosted: bool, site_kpa: float
) -> None:
    job = BOOSTED_SIX if boosted else Job.from_toml(PUMP_HOUSE)
    job = job.changed("site", pressure=f"{site_kpa} kPa", altitude=None).changed("controller", load=term)
    physics = physics_of(job)
    kpa = axes_of(job, physics)[1]
    load = loads_of(job).as_typed(kpa)
    assert kpa.size == 16
    assert np.all(np.diff(kpa) > 0.0)
    steps = load[:-1] / STEPS[term]
    assert np.abs(steps - np.round(steps)).max() < 1e-9
    # The last is what site and boost give, to half a step, however that is written.
    assert kpa[-1] == pytest.approx(physics.top_kpa, abs=0.9)
    assert kpa[-1] <= physics.top_kpa
