"""The engines of a fleet: job files, whole folders of them, or one job with some of its facts over ranges."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import floor, prod
from pathlib import Path
from typing import Any

from sparkwright.errors import WHOLE, Problem, Refusal
from sparkwright.job import Job

MOST_ENGINES = 1_000_000
"""Engines that one grid may ask for; a choice: they take two days on two cores."""

STEP_KEYS = {"from", "to", "step"}


@dataclass(frozen=True)
class Member:
    """One engine of a fleet.

    Parameters
    ----------
    source : str
        Where its job comes from, as a person finds it again.
    text : str
        The job file it starts from.
    changed : tuple of (str, object)
        Keys of the job (`engine.compression_ratio`) and what they are in this engine.
    unread : str
        Why its file can't be read; "" where it was.
    """

    source: str
    text: str
    changed: tuple[tuple[str, Any], ...] = ()
    unread: str = ""

    def job(self) -> Job:
        """Read its job.

        Raises
        ------
        Refusal
            If it states something that can't be used.
        """
        if self.unread:
            raise Refusal.at(self.source, WHOLE, self.unread)
        if not self.changed:
            return Job.from_toml(self.text, self.source)
        facts = dict(_stated(self.text))
        for key, value in self.changed:
            section, _, name = key.partition(".")
            facts[section] = {**facts.get(section, {}), name: value}
        return Job.from_facts(facts)


@lru_cache(maxsize=2)
def _stated(text: str) -> dict[str, Any]:
    """Give what a job's text states; every engine of a grid begins with the same one."""
    return Job.from_toml(text).facts()


@dataclass(frozen=True)
class Files:
    """Engines that stand in job files, each read when its turn comes."""

    paths: tuple[Path, ...]

    def __len__(self) -> int:
        return len(self.paths)

    def member(self, number: int) -> Member:
        """Give one engine; a file that can't be read gives one whose job is refused.

        Parameters
        ----------
        number : int
            Which file, from 0, in the order of their names.
        """
        path = self.paths[number]
        try:
            return Member(str(path), path.read_bytes().decode("utf-8-sig"))
        except (OSError, UnicodeDecodeError) as problem:
            reason = problem.strerror if isinstance(problem, OSError) else "it is no text in UTF-8"
            return Member(str(path), "", unread=f"can't be read ({reason})")

    def asked(self) -> str:
        """Give the SHA-256 of what is asked, the text of every job in its order."""
        digest = hashlib.sha256()
        for number in range(len(self)):
            digest.update(f"{self.paths[number]}\0{self.member(number).text}\0".encode())
        return digest.hexdigest()


@dataclass(frozen=True)
class Grid:
    """One job with some of its facts over ranges: every value of each with every value of the others."""

    base: Member
    over: tuple[tuple[str, tuple[Any, ...]], ...]

    def __len__(self) -> int:
        return prod(len(values) for _, values in self.over)

    def member(self, number: int) -> Member:
        """Give one engine; the last range runs fastest.

        Parameters
        ----------
        number : int
            Which point of the grid, from 0.
        """
        changed = []
        for key, values in reversed(self.over):
            number, place = divmod(number, len(values))
            changed.append((key, values[place]))
        changed.reverse()
        named = ", ".join(f"{key} = {value}" for key, value in changed)
        return Member(f"{self.base.source}: {named}", self.base.text, tuple(changed))

    def asked(self) -> str:
        """Give the SHA-256 of what is asked: the job's text and the ranges."""
        return hashlib.sha256(repr((self.base.text, self.over)).encode()).hexdigest()


Members = Files | Grid


def files_of(paths: Sequence[Path]) -> Files:
    """Collect job files; a folder stands for every `.toml` in it and below, by name.

    Parameters
    ----------
    paths : sequence of Path
        Job files, and folders of them.

    Raises
    ------
    Refusal
        If a path is not there, or there is no job file at all.
    """
    found: list[Path] = []
    problems = []
    for path in paths:
        if path.is_dir():
            inside = sorted(each for each in path.rglob("*.toml") if each.is_file())
            if not inside:
                problems.append(
                    Problem(str(path), WHOLE, "has no job file in it", "a job file ends in .toml")
                )
            found += inside
        elif path.is_file():
            found.append(path)
        else:
            problems.append(Problem(str(path), WHOLE, "is not there", "name a job file or a folder of them"))
    if problems:
        raise Refusal(problems)
    return Files(tuple(dict.fromkeys(found)))


def grid_of(path: Path) -> Grid:
    """Read a grid file: a `base`, and under `over` the keys of the job with a list or a range each.

    Parameters
    ----------
    path : Path
        The file, TOML.

    Raises
    ------
    Refusal
        If the file, its base or a range can't be used: each value is tried on the base by itself.
    """
    try:
        tables = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except FileNotFoundError:
        raise Refusal.at(str(path), WHOLE, "is not there", "give the grid file") from None
    except OSError as problem:
        raise Refusal.at(str(path), WHOLE, f"can't be read ({problem.strerror})") from None
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as problem:
        raise Refusal.at(str(path), WHOLE, f"is no TOML ({problem})", "mend it in a text editor") from None
    unknown = sorted(set(tables) - {"base", "over"})
    if unknown:
        raise Refusal.at(unknown[0], WHOLE, "is not known in a grid file", "known are base and over")
    if not isinstance(tables.get("base"), str):
        raise Refusal.at("base", tables.get("base"), "must name the job file that the grid starts from")
    beside = path.parent / tables["base"]
    base = Files((beside,)).member(0)
    base.job()
    over = tuple((key, _values(key, given)) for key, given in _keys(tables.get("over")))
    if not over:
        raise Refusal.at("over", None, "must give at least one key of the job with its values")
    grid = Grid(base, over)
    if len(grid) > MOST_ENGINES:
        raise Refusal.at("over", f"{len(grid):,} engines", f"must be at most {MOST_ENGINES:,}")
    _try_each(grid)
    return grid


def _keys(over: Any) -> Iterable[tuple[str, Any]]:
    """Give every key with what it was given, whether written `"engine.bore"` or `engine.bore`."""
    for section, given in (over if isinstance(over, dict) else {}).items():
        if "." in section or not isinstance(given, dict) or set(given) <= STEP_KEYS:
            yield section, given
        else:
            yield from ((f"{section}.{key}", value) for key, value in given.items())


def _values(key: str, given: Any) -> tuple[Any, ...]:
    if isinstance(given, list) and given:
        if len(set(map(repr, given))) != len(given):
            raise Refusal.at(key, given, "must name each value once")
        return tuple(given)
    if isinstance(given, dict) and set(given) == STEP_KEYS:
        first, last, step = (given[name] for name in ("from", "to", "step"))
        if all(isinstance(each, int | float) for each in (first, last, step)) and step > 0 and last >= first:
            steps = floor((last - first) / step + 1e-9)
            return tuple(round(first + step * i, 9) for i in range(min(steps, MOST_ENGINES) + 1))
        raise Refusal.at(
            key, f"from {first} to {last} by {step}", "must rise from a number to a number by a step above 0"
        )
    raise Refusal.at(
        key, given, "must be a list of values or a range", "write [91, 95] or {from = 8, to = 10, step = 0.5}"
    )


def _try_each(grid: Grid) -> None:
    """Refuse a value that the base can't take by itself: it would spoil a whole share of the fleet."""
    problems: list[Problem] = []
    for key, values in grid.over:
        for value in values:
            try:
                Member(grid.base.source, grid.base.text, ((key, value),)).job()
            except Refusal as refusal:
                problems += refusal.problems
    if problems:
        raise Refusal(tuple(dict.fromkeys(problems)))
