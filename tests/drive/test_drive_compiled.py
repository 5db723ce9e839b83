"""What `make setup` compiles for drives is all that reading one needs, so that no command stalls."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from invented_drives import EXAMPLES, csv_file, short_drive

COUNTED = """
import sys
from pathlib import Path
from sparkwright.drive import kernel
from sparkwright.drive.compile import compile_loops
from sparkwright.drive.drives import drive_of
from sparkwright.job import Job

LOOPS = [each for each in vars(kernel).values() if hasattr(each, "py_func")]
compile_loops()
before = [len(each._dispatcher.signatures) for each in LOOPS]
drive_of(Job.load(Path(sys.argv[1])), [Path(sys.argv[2])])
print(before, [len(each._dispatcher.signatures) for each in LOOPS])
"""


def test_a_drive_that_is_read_after_setup_compiles_nothing_more(tmp_path: Path) -> None:
    path = csv_file(tmp_path / "road.csv", short_drive(400))
    job = str(EXAMPLES / "pump-house-v8.toml")
    done = subprocess.run(
        [sys.executable, "-c", COUNTED, job, str(path)],
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    assert done.stdout.strip() == f"{[1] * 7} {[1] * 7}"
