"""Every page that saves leaves the job file as it was typed, but for the lines of what was changed."""

from __future__ import annotations

import re
from collections.abc import Iterator
from difflib import ndiff
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from sparkwright.shop import Shop
from test_web_map import MAP
from test_web_pages import worked_out
from workbench import EXAMPLES, PUMP_HOUSE, workbench

JOB = "/jobs/pump-house-v8"
WHO = {"who": "B. Example", "based_on": "1"}


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[tuple[TestClient, Shop]]:
    """A workbench with the example's text as Windows saves it, and nothing planned."""
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(PUMP_HOUSE.replace("\n", "\r\n"), who="A. Example", why="started")
        yield client, shop


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[tuple[TestClient, Shop]]:
    """A workbench with the example, planned once for all tests."""
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(PUMP_HOUSE, who="A. Example", why="started")
        worked_out(client, MAP)
        yield client, shop


def difference(shop: Shop, key: str = "pump-house-v8") -> tuple[list[str], list[str]]:
    """Give the lines taken out of the first revision, and those put in, up to the latest."""
    old = shop.jobs.revision(key, 1).text.splitlines(keepends=True)
    new = shop.jobs.latest(key).text.splitlines(keepends=True)
    found = list(ndiff(old, new))
    return [line[2:] for line in found if line[0] == "-"], [line[2:] for line in found if line[0] == "+"]


@pytest.mark.parametrize(
    ("address", "form", "out", "put_in"),
    [
        (
            "/engine",
            {"engine.bore": "3.9 in", "fuel.ron": "95", "note": "Runs the pump."},
            [
                'note = """Runs the fire pump for hours at steady speed, then drives home.',
                'The distributor was locked with the rotor left where it stood."""',
                'bore = "3.921 in"',
            ],
            ['note = "Runs the pump."', 'bore = "3.9 in"'],
        ),
        ("/ignition", {"plugs.gap": "1 mm"}, ['gap = "0.035 in"'], ['gap = "1 mm"']),
        (
            "/ignition/cap",
            {"phase": "-5", "advance": "20"},
            ["rotor_phase_deg = 0"],
            ["rotor_phase_deg = -5"],
        ),
        (
            "/ignition/wiring",
            {"wiring.pickup-polarity": "look", "wiring.no-ballast": "done"},
            ["polarity_checked = true"],
            ["polarity_checked = false", 'ballast = "0 ohm"'],
        ),
        ("/mark/diameter", {"diameter": "7.24 in"}, [], ['damper_diameter = "7.24 in"']),
        ("/mark/right", {}, [], ["", "[light]", "mark_proved = true", "mark_error_deg = 0"]),
    ],
)
def test_a_page_that_saves_changes_its_own_lines(
    bench: tuple[TestClient, Shop], address: str, form: dict[str, str], out: list[str], put_in: list[str]
) -> None:
    client, shop = bench
    answer = client.post(JOB + address, data=WHO | form, follow_redirects=False)
    assert (answer.status_code, shop.jobs.latest("pump-house-v8").number) == (303, 2), answer.text
    assert difference(shop) == ([f"{line}\r\n" for line in out], [f"{line}\r\n" for line in put_in])


@pytest.mark.parametrize("name", ["boosted-six", "old-four", "pump-house-v8"])
def test_one_fact_saved_in_the_browser_is_one_line_of_any_example(tmp_path: Path, name: str) -> None:
    text = (EXAMPLES / f"{name}.toml").read_bytes().decode()
    with workbench(tmp_path) as (client, shop):
        key = shop.jobs.create(text, who="A. Example", why="started").key
        client.post(f"/jobs/{key}/engine", data=WHO | {"engine.bore": "3.95 in"})
        assert shop.jobs.latest(key).text == re.sub('bore = ".*"', 'bore = "3.95 in"', text)


@pytest.mark.parametrize("system", ["metric", "inch"])
@pytest.mark.parametrize("page", ["/engine", "/ignition"])
def test_a_page_read_in_other_units_and_saved_untouched_leaves_every_byte(
    bench: tuple[TestClient, Shop], page: str, system: str
) -> None:
    client, shop = bench
    text = PUMP_HOUSE.replace('"3.921 in"', '"99.59 mm"').replace(
        "idle_kpa = 38", 'idle_kpa = "14 inHg vacuum"'
    )
    shop.jobs.save("pump-house-v8", text, who="A. Example", why="measured again", based_on=1)
    client.cookies.set("units", system)
    form = untouched(client.get(JOB + page).text)
    client.post(JOB + page, data=form | WHO | {"based_on": "2", "plugs.gap": "1 mm"})
    saved = shop.jobs.latest("pump-house-v8")
    assert (saved.number, saved.text) == (3, text.replace('gap = "0.035 in"', 'gap = "1 mm"'))


def untouched(page: str) -> dict[str, str]:
    """Give what a browser posts of a page's fields as they stand."""
    fields = re.findall(r'<input id="[^"]+" name="([a-z_.0-9]+)" value="([^"]*)"', page)
    lines = re.findall(r'<textarea id="[^"]+" name="([^"]+)"[^>]*>\n(.*?)</textarea>', page, re.DOTALL)
    chosen = re.findall(
        r'<select id="[^"]+" name="([a-z_.0-9]+)"[^>]*>(?:(?!</select>).)*?value="([^"]*)" selected',
        page,
        re.DOTALL,
    )
    return {name: unescape(value) for name, value in (*fields, *lines, *chosen)}


def test_a_vacuum_stands_in_the_job_as_the_gauge_showed_it(bench: tuple[TestClient, Shop]) -> None:
    client, shop = bench
    form = WHO | {"engine.idle_kpa": "13 inHg vacuum"}
    client.post(f"{JOB}/engine", data=form)
    out, put_in = difference(shop)
    assert put_in == ['idle_kpa = "13 inHg vacuum"\r\n']
    assert len(out) == 1
    page = client.get(f"{JOB}/engine").text
    assert 'name="engine.idle_kpa" value="13 inHg vacuum"' in page
    # Another height gives the gauge another air to count from, and its words stay.
    client.post(f"{JOB}/engine", data={"who": "B. Example", "based_on": "2", "site.altitude": "1200 m"})
    saved = shop.jobs.latest("pump-house-v8")
    assert saved.number == 3
    assert 'idle_kpa = "13 inHg vacuum"\r\n' in saved.text
    before = shop.jobs.revision("pump-house-v8", 2).job.engine.idle_kpa
    assert before is not None
    assert saved.job.engine.idle_kpa is not None
    assert saved.job.engine.idle_kpa > before + 2


def test_a_firing_order_written_in_one_can_be_changed_on_the_page(bench: tuple[TestClient, Shop]) -> None:
    client, shop = bench
    order = "firing_order = [1, 5, 7, 2, 6, 3, 4, 8]"
    text = PUMP_HOUSE.replace(order, 'firing_order = "1-5-7-2-6-3-4-8"')
    assert text != PUMP_HOUSE
    shop.jobs.save("pump-house-v8", text, who="A. Example", why="as stamped", based_on=1)
    form = {"who": "B. Example", "based_on": "2", "engine.firing_order": "1 8 4 3 6 5 7 2"}
    answer = client.post(f"{JOB}/engine", data=form | {"engine.bank_numbering": ""}, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    assert "firing_order = [1, 8, 4, 3, 6, 5, 7, 2]\n" in shop.jobs.latest("pump-house-v8").text


def test_cells_saved_on_the_map_touch_their_own_list_and_the_axes(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    form = {"number": "1", "hand": '[[0, 3, 20, ""], [0, 4, 21, "heard \\"nothing\\""]]', "who": "B. Example"}
    assert client.post(f"{JOB}/map/save", data=form, follow_redirects=False).status_code == 303
    first = shop.jobs.latest("pump-house-v8").text
    typed = first.replace("  { rpm = 1100,", "  # the idle hunts here\n  {rpm  =  1100,")
    shop.jobs.save("pump-house-v8", typed, who="A. Example", why="a word on it", based_on=2)
    form = {"number": "3", "hand": '[[0, 3, 20, ""], [0, 4, 22, ""]]', "who": "B. Example"}
    assert client.post(f"{JOB}/map/save", data=form, follow_redirects=False).status_code == 303
    second = shop.jobs.latest("pump-house-v8").text
    old, new = typed.splitlines(), second.splitlines()
    assert [place for place, line in enumerate(old) if new[place] != line] == [
        place for place, line in enumerate(old) if "heard" in line
    ]
    answer = client.post(f"{JOB}/map/give-back", data={"number": "4", "who": "B"}, follow_redirects=False)
    assert answer.status_code == 303
    axes = re.compile(r"^(rpm|kpa) = \[.*\]\n", re.MULTILINE)
    assert axes.sub("", shop.jobs.latest("pump-house-v8").text) == PUMP_HOUSE


def test_a_fact_tried_on_the_map_is_kept_in_the_unit_that_was_typed(bench: tuple[TestClient, Shop]) -> None:
    client, shop = bench
    form = {"number": "1", "fact": "site.altitude", "value": "3000 ft", "who": "B. Example"}
    assert client.post(f"{JOB}/map/what-if", data=form, follow_redirects=False).status_code == 303
    assert difference(shop) == (['altitude = "1450 m"\r\n'], ['altitude = "3000 ft"\r\n'])


def test_a_copy_of_a_job_has_the_units_of_the_first(bench: tuple[TestClient, Shop]) -> None:
    client, shop = bench
    form: dict[str, Any] = {"copy": "pump-house-v8", "name": "Second V8", "who": "B", "engine.bore": "4 in"}
    answer = client.post("/new", data=form, follow_redirects=False)
    assert answer.headers["location"] == "/jobs/second-v8/engine"
    text = shop.jobs.latest("second-v8").text
    assert '\nbore = "4 in"\nstroke = "3.618 in"\n' in text
    assert '\nvacuum = [["5 inHg", 0], ["12 inHg", 14]]\n' in text
    assert "volunteer" not in text, "what belongs to one job alone is not copied"


def test_the_comparison_shows_the_lines_that_a_person_changed(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    typed = PUMP_HOUSE.replace('bore = "3.921 in"', '# <b>measured</b> & again\nbore = "3.922 in"')
    shop.jobs.save("pump-house-v8", typed, who="B. Example", why="measured", based_on=1)
    page = client.get(f"{JOB}/compare?old=1&new=2").text
    assert "<h2>The job file, line by line</h2>" in page
    lines = page.split('aria-label="The job file, line by line">')[1].split("</pre>")[0]
    assert lines == (
        '\n<span class="soft">...</span>\n'
        "  firing_order = [1, 5, 7, 2, 6, 3, 4, 8]\n  bank_numbering = &#34;by-bank&#34;\n"
        "<del>- bore = &#34;3.921 in&#34;</del>\n"
        "<ins>+ # &lt;b&gt;measured&lt;/b&gt; &amp; again</ins>\n"
        "<ins>+ bore = &#34;3.922 in&#34;</ins>\n"
        "  stroke = &#34;3.618 in&#34;\n  rod = &#34;6.063 in&#34;\n"
        '<span class="soft">...</span>\n'
    )
