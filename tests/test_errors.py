"""What is refused is data: who shows it reads a place and a value, never a sentence."""

import pytest

from sparkwright.errors import WHOLE, Problem, Refusal
from sparkwright.light.readings import read_readings


@pytest.mark.parametrize(
    ("problem", "sentence"),
    [
        (
            Problem("engine.bore", '"0 mm"', "must be above 0", "measure it"),
            'engine.bore = "0 mm": must be above 0; measure it',
        ),
        (Problem("engine.bore", None, "must be given"), "engine.bore (not given): must be given"),
        (Problem("bench.toml", WHOLE, "is a folder"), "bench.toml: is a folder"),
        (Problem("", WHOLE, "7 more lines can't be used either"), "7 more lines can't be used either"),
        (Problem("name", "a\nb\x1b[2J", "must print"), "name = a\\nb\\x1b[2J: must print"),
    ],
)
def test_a_problem_says_where_what_and_what_to_do(problem: Problem, sentence: str) -> None:
    assert str(problem) == sentence


def test_each_bad_reading_is_a_problem_of_its_own() -> None:
    with pytest.raises(Refusal) as refused:
        read_readings("commanded_deg,speed_rpm,seen_deg\n30,2000,300\n99,2000,29\n30,2000,29\n30,,29\n")
    assert [(problem.place, problem.value) for problem in refused.value.problems] == [
        ("readings, line 2, seen_deg", "300"),
        ("readings, line 3, commanded_deg", "99"),
        ("readings, line 5, speed_rpm", None),
    ]
