"""Write the parts of docs/ that follow from the job model: the JSON Schema and the tables of keys."""

from __future__ import annotations

import json
from pathlib import Path

from sparkwright.job import job_schema, key_tables

DOCS = Path(__file__).parents[1] / "docs"
FIRST_TABLE = "## Before the first section"


def main() -> None:
    """Write both files; what a hand wrote above the first table stays."""
    schema = json.dumps(job_schema(), indent=2, ensure_ascii=False)
    (DOCS / "job.schema.json").write_text(f"{schema}\n", encoding="utf-8")
    page = DOCS / "job-file.md"
    by_hand = page.read_text(encoding="utf-8").split(FIRST_TABLE)[0]
    page.write_text(by_hand + key_tables(), encoding="utf-8")


if __name__ == "__main__":
    main()
