"""The page on threats names tests that there are, for each of its subjects, and says what is not held."""

import re
from pathlib import Path

import pytest

TESTS = Path(__file__).parent
PAGE = (TESTS.parent / "docs" / "threats.md").read_text(encoding="utf-8")
SUBJECTS = PAGE.split("\n## ")[1:]
NAMED = re.compile(r"`(test_\w+)`")
FILE = re.compile(r"`(test_\w+\.py)`")


@pytest.mark.parametrize("subject", SUBJECTS, ids=[each.partition("\n")[0] for each in SUBJECTS])
def test_each_subject_says_what_is_held_by_which_test_and_what_is_not(subject: str) -> None:
    rows = [line for line in subject.splitlines() if line.startswith("| ")][1:]
    assert rows
    assert "**Not held.**" in subject
    for row in rows:
        files = [next(TESTS.rglob(name)) for name in FILE.findall(row)]
        text = "".join(file.read_text(encoding="utf-8") for file in files)
        assert text
        for name in NAMED.findall(row):
            assert f"def {name}(" in text, name
