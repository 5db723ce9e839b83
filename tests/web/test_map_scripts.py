"""The scripts of the map without a page: what is pending, undone, selected and copied; run by node."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from sparkwright.web.view import STATIC
from test_web_map import MAP
from workbench import HOST, PUMP_HOUSE, workbench

TESTS = Path(__file__).parent / "map_scripts"
MOST_LINES = 250


def test_the_scripts_keep_count_as_their_tests_say(tmp_path: Path) -> None:
    node = shutil.which("node")
    if node is None:
        pytest.skip("node is not installed; Debian's package is nodejs")
    shutil.copytree(STATIC / "map", tmp_path / "map")
    for script in TESTS.glob("*.js"):
        shutil.copy(script, tmp_path)
    (tmp_path / "package.json").write_text('{"type": "module"}')
    done = subprocess.run(
        [node, "--test", tmp_path], capture_output=True, text=True, timeout=120, check=False
    )
    assert done.returncode == 0, done.stdout
    assert int(re.search(r"# pass (\d+)", done.stdout)[1]) >= 10  # type: ignore[index]


def test_each_script_is_short() -> None:
    for script in (STATIC / "map").glob("*.js"):
        assert len(script.read_text(encoding="utf-8").splitlines()) <= MOST_LINES, script.name


def test_scripts_that_import_each_other_are_kept_by_browsers_until_one_changes(tmp_path: Path) -> None:
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(PUMP_HOUSE, who="A. Example", why="started")
        page = client.get(MAP).text
        (address,) = re.findall(r'src="(/static/map/[^"]+)" type="module"', page)
        main = client.get(address)
        assert "immutable" in main.headers["cache-control"]
        assert main.headers["content-type"].startswith("text/javascript")
        for imported in re.findall(r'from "\./(.+?)"', main.text):
            other = client.get(address.replace("main.js", imported))
            assert other.status_code == 200
            assert "immutable" in other.headers["cache-control"]
        for wrong in (
            f"http://{HOST}/static/map/x/none.js",
            "/static/fonts/x/main.js",
            "/static/../x/main.js",
        ):
            assert client.get(wrong).status_code == 404
