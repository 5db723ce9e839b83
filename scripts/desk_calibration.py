"""How well the desk's probabilities hold: cases drawn by chance, played as the desk asks, and counted.

    .venv/bin/python scripts/desk_calibration.py

prints the table of docs/desk.md and draws docs/pictures/desk-reliability.svg.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sparkwright.desk.inference import next_test, priors, probabilities, weighed
from sparkwright.desk.knowledge import Given, Knowledge, Question
from sparkwright.desk.knowledge_files import shipped_knowledge
from sparkwright.drawing.look import TOKENS

BINS = (0.0, 0.2, 0.4, 0.6, 0.7, 0.8, 0.9, 1.0)
MOST_TESTS = 8
PSEUDO_CASES = 20.0
"""In a world that differs from the files, each share is as if learned from so many engines; a choice."""
PICTURE = Path(__file__).parents[1] / "docs" / "pictures" / "desk-reliability.svg"


@dataclass(frozen=True)
class Outcome:
    """One case: how sure the first was, whether it was right, the squared errors of all, tests done."""

    said: float
    right: bool
    squared: float
    tests: int


@dataclass(frozen=True)
class Row:
    """Cases whose first cause was said to be so sure: how sure on average, and how many were right."""

    low: float
    high: float
    cases: int
    said: float
    right: float
    spread: float


World = dict[str, dict[str, tuple[float, ...]]]


def played_by_chance(
    knowledge: Knowledge, *, many: int, seed: int, world: World | None = None
) -> list[Outcome]:
    """Draw causes by their priors and answers by their shares, and play each case to its end."""
    draw = random.Random(seed)
    return [_played(knowledge, world or knowledge.likelihoods, draw) for _ in range(many)]


def another_world(knowledge: Knowledge, seed: int) -> World:
    """Draw every share anew, from a Dirichlet distribution about that of the files."""
    draw = random.Random(seed)
    world: World = {}
    for question, answers in knowledge.likelihoods.items():
        columns = [
            _dirichlet([PSEUDO_CASES * share for share in column], draw)
            for column in zip(*answers.values(), strict=True)
        ]
        world[question] = dict(zip(answers, zip(*columns, strict=True), strict=True))
    return world


def _dirichlet(weights: Sequence[float], draw: random.Random) -> list[float]:
    drawn = [max(draw.gammavariate(each, 1.0), 1e-12) for each in weights]
    return [each / sum(drawn) for each in drawn]


def _played(knowledge: Knowledge, world: World, draw: random.Random) -> Outcome:
    prior = priors(knowledge)
    (true,) = draw.choices(range(len(prior)), prior)

    def answer(question: Question) -> Given:
        shares = [each[true] for each in world[question.id].values()]
        (found,) = draw.choices([*world[question.id]], shares)
        return Given(question=question.id, answer=found)

    given = [answer(each) for each in knowledge.questions]
    done: list[str] = []
    now = probabilities(knowledge, prior, given)
    while len(done) < MOST_TESTS and (test := next_test(weighed(knowledge, now, done), now)):
        done.append(test.test)
        given.append(answer(knowledge.askable[test.test]))
        now = probabilities(knowledge, prior, given)
    squared = sum((each - (place == true)) ** 2 for place, each in enumerate(now))
    return Outcome(max(now), now.index(max(now)) == true, squared, len(done))


def brier(outcomes: Sequence[Outcome]) -> float:
    """Give the mean of the squared errors over all causes (Brier 1950); 0 is perfect, 2 the worst."""
    return sum(each.squared for each in outcomes) / len(outcomes)


def reliability(outcomes: Sequence[Outcome]) -> list[Row]:
    """Count, for each span of what was said, how many were right; spans without a case are left out."""
    rows = []
    for low, high in itertools.pairwise(BINS):
        within = [each for each in outcomes if low < each.said <= high]
        if within:
            right = sum(each.right for each in within) / len(within)
            said = sum(each.said for each in within) / len(within)
            spread = (said * (1.0 - said) / len(within)) ** 0.5
            rows.append(Row(low, high, len(within), said, right, spread))
    return rows


def drawn(own: Sequence[Row], other: Sequence[Row]) -> str:
    """Draw how many were right against how sure it was said; the line is what holds what it says."""
    ink, soft, accent = (TOKENS["light"][name] for name in ("ink", "soft", "accent"))

    def at(said: float, right: float) -> tuple[float, float]:
        return 60 + 300 * said, 330 - 300 * right

    ticks = "".join(
        f'<text x="{60 + 300 * each:g}" y="352" text-anchor="middle">{each * 100:.0f}</text>'
        f'<text x="50" y="{335 - 300 * each:g}" text-anchor="end">{each * 100:.0f}</text>'
        for each in (0.0, 0.25, 0.5, 0.75, 1.0)
    )
    dots = "".join(
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5" fill="{fill}" stroke="{accent}" stroke-width="2"/>'
        for rows, fill in ((own, accent), (other, "none"))
        for x, y in (at(row.said, row.right) for row in rows)
    )
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 560 400" font-family="sans-serif" '
        f'font-size="14" fill="{soft}" role="img"><title>Right against said, in percent</title>'
        f'<rect width="560" height="400" fill="{TOKENS["light"]["paper"]}"/>'
        f'<path d="M60 30V330H360" fill="none" stroke="{soft}"/>'
        f'<path d="M60 330L360 30" stroke="{ink}" stroke-dasharray="4 4"/>{ticks}{dots}'
        f'<text x="60" y="20" fill="{ink}">right, %</text>'
        f'<text x="360" y="384" text-anchor="end" fill="{ink}">said of the first cause, %</text>'
        f'<text x="375" y="90">filled: cases drawn</text><text x="375" y="108">from the files</text>'
        f'<text x="375" y="140">open: from a world</text><text x="375" y="158">that differs</text></svg>\n'
    )


def main() -> None:
    """Print the table and draw the picture."""
    known = shipped_knowledge()
    own = played_by_chance(known, many=1500, seed=1)
    other = [
        outcome
        for seed in range(10)
        for outcome in played_by_chance(known, many=150, seed=seed, world=another_world(known, seed))
    ]
    for name, outcomes in (("from the files", own), ("from worlds that differ", other)):
        right = sum(each.right for each in outcomes) / len(outcomes)
        tests = sum(each.tests for each in outcomes) / len(outcomes)
        print(f"\n{name}: Brier {brier(outcomes):.3f}, right {100 * right:.0f} %, {tests:.1f} tests\n")
        print("| said of the first cause | cases | said on average | right |\n|---|---|---|---|")
        for row in reliability(outcomes):
            span = f"{100 * row.low:.0f} to {100 * row.high:.0f} %"
            print(f"| {span} | {row.cases} | {100 * row.said:.0f} % | {100 * row.right:.0f} % |")
    PICTURE.write_text(drawn(reliability(own), reliability(other)), encoding="utf-8")


if __name__ == "__main__":
    main()
